"""Dates, times of day and moments as files write them."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import BERLIN, asked, days_of, read, table


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["2025-05-03", "2025/05/03", "20250503", "2025.05.03"], ["2025-05-03"] * 4),
        (["03.05.2025", "3.5.2025", "3. 5. 2025", "03.05.25"], ["2025-05-03"] * 4),
        (["13/05/2025", "03/05/2025"], ["2025-05-13", "2025-05-03"]),
        (["05/13/2025", "05/03/2025"], ["2025-05-13", "2025-05-03"]),
        (["13-05-2025", "03-05-2025"], ["2025-05-13", "2025-05-03"]),
        (
            ["3 May 2025", "May 3, 2025", "3-May-2025", "03 May 25", "Sat 3 May 2025"],
            ["2025-05-03"] * 5,
        ),
        (["3rd May 2025", "May 3rd, 2025", "the 3rd of May 2025"], ["2025-05-03"] * 3),
        (["04/04/2025"], ["2025-04-04"]),
        (["2025年5月3日", "２０２５年５月３日"], ["2025-05-03"] * 2),
        (['="2025-05-03"', "2025-05-03"], ["2025-05-03"] * 2),
    ],
)
def test_days_are_read_in_every_common_style(texts: list[str], expected: list[str]) -> None:
    assert days_of(texts) == expected


@pytest.mark.parametrize(
    ("text", "month"),
    [
        ("3 March 2025", 3),
        ("3. März 2025", 3),
        ("3. Mrz. 2025", 3),
        ("le 3 août 2025", 8),
        ("3 de marzo de 2025", 3),
        ("3 dic. 2025", 12),
        ("3 marzo 2025", 3),
        ("3 gennaio 2025", 1),
        ("3 maart 2025", 3),
        ("3 mrt. 2025", 3),
        ("3 de março de 2025", 3),
        ("3 mars 2025", 3),
        ("3. marts 2025", 3),
        ("3 marca 2025", 3),
        ("3 sierpnia 2025 r.", 8),
        ("3. března 2025", 3),
        ("3. září 2025", 9),
        ("2025年3月3日", 3),
    ],
)
def test_month_names_of_the_twelve_languages_are_known(text: str, month: int) -> None:
    """Names: Unicode CLDR 48, through babel; all of them are checked in test_data_files."""
    assert days_of([text]) == [f"2025-{month:02}-03"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2025-05-03 14:22", "14:22:00"),
        ("2025-05-03T14:22:07", "14:22:07"),
        ("2025-05-03 14:22:07.250", "14:22:07.250000"),
        ("03.05.2025 14:22", "14:22:00"),
        ("03.05.2025, 14:22 Uhr", "14:22:00"),
        ("03.05.2025 14.22", "14:22:00"),
        ("3 May 2025 2:22 PM", "14:22:00"),
        ("3 May 2025 at 2:22 pm", "14:22:00"),
        ("3 mai 2025 à 14h22", "14:22:00"),
        ("3 de mayo de 2025, 2:22 p. m.", "14:22:00"),
        ("2025年5月3日 午後2:22", "14:22:00"),
        ("2025/5/3 14時22分", "14:22:00"),
        ("May 3, 2025 12:05 AM", "00:05:00"),
        ("May 3, 2025 12:05 PM", "12:05:00"),
        ("May 3, 2025, 2 PM", "14:00:00"),
    ],
)
def test_local_times_get_the_shops_offset(text: str, expected: str) -> None:
    assert days_of([text], **BERLIN) == [f"2025-05-03T{expected}+02:00"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2025-05-03T23:30:00Z", "2025-05-03T23:30:00+00:00"),
        ("2025-05-03T23:30:00+00:00", "2025-05-03T23:30:00+00:00"),
        ("2025-05-03 23:30 UTC", "2025-05-03T23:30:00+00:00"),
        ("2025-05-03 19:30:00 -0400", "2025-05-03T19:30:00-04:00"),
        ("2025-05-03 19:30 UTC-4", "2025-05-03T19:30:00-04:00"),
        ("2025-05-03 14:22 CEST", "2025-05-03T14:22:00+02:00"),
        ("2025-05-03 14:22 Europe/London", "2025-05-03T14:22:00+01:00"),
        ("1996-12-19T16:39:57-08:00", "1996-12-19T16:39:57-08:00"),
    ],
)
def test_an_offset_in_the_file_is_kept(text: str, expected: str) -> None:
    """The last one is RFC 3339's second example (section 5.8)."""
    assert days_of([text], **BERLIN) == [expected]


def test_the_day_is_the_shops_day() -> None:
    found = read(table([("2025-05-03T23:30:00Z", "1.50", "x")]), **BERLIN).transactions
    assert [each.occurred_on.isoformat() for each in found] == ["2025-05-04"]


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["31.02.2025", "01.02.2025"], ["date-impossible", "2025-02-01"]),
        (["2025-13-01", "2025-12-01"], ["date-impossible", "2025-12-01"]),
        (["32/05/2025", "31/05/2025"], ["date-impossible", "2025-05-31"]),
        (["yesterday", "2025-12-01"], ["date-unreadable", "2025-12-01"]),
        (["", "2025-12-01"], ["date-missing", "2025-12-01"]),
        (["2025-12-01", "1725-12-01"], ["2025-12-01", "date-impossible"]),
        (["2025-12-01", "5", "2025-12-01"], ["2025-12-01", "date-unreadable", "2025-12-01"]),
        (["2025-12-01", "12 Foo 2025"], ["2025-12-01", "date-unreadable"]),
        (["2025-12-01", "31 Feb 2025"], ["2025-12-01", "date-impossible"]),
        (
            ["2025-12-01 25:00", "2025-12-01 10:00"],
            ["time-impossible", "2025-12-01T10:00:00+00:00"],
        ),
        (
            ["2025-12-01 14:05 PM", "2025-12-01 10:00 AM"],
            ["time-impossible", "2025-12-01T10:00:00+00:00"],
        ),
        (
            ["2025-12-01 10:xx", "2025-12-01 10:00"],
            ["time-unreadable", "2025-12-01T10:00:00+00:00"],
        ),
        (
            ["2025-12-01 10:00 QQT", "2025-12-01 10:00"],
            ["zone-unknown", "2025-12-01T10:00:00+00:00"],
        ),
        (
            ["2025-12-01 23:59:60", "2025-12-01 10:00"],
            ["time-impossible", "2025-12-01T10:00:00+00:00"],
        ),
    ],
)
def test_what_never_was_is_rejected(texts: list[str], expected: list[str]) -> None:
    """A leap second is a moment in RFC 3339 and none in Python: it is rejected, not moved."""
    assert days_of(texts) == expected


@pytest.mark.parametrize("text", ["04/05/2025", "4/5/2025", "04-05-2025", "04/05/2025 14:00"])
def test_an_order_nothing_settles_is_asked_with_two_values_both_ways(text: str) -> None:
    question = asked(table([(text, "1.50", "x"), ("06/07/2025", "1.50", "x")]))
    assert question.parameter == "date_order"
    assert [choice.value for choice in question.choices] == ["dmy", "mdy"]
    assert "4 May 2025" in question.choices[0].meaning
    assert "5 April 2025" in question.choices[1].meaning
    assert question.choices[0].meaning.count(";") == 1


def test_the_answer_settles_the_order() -> None:
    assert days_of(["04/05/2025"], date_order="dmy") == ["2025-05-04"]
    assert days_of(["04/05/2025"], date_order="mdy") == ["2025-04-05"]
    assert days_of(["04/13/2025"], date_order="dmy") == ["date-impossible"]


def test_a_row_far_below_settles_the_order() -> None:
    rows = [("04/05/2025", "1.50", "x")] * 30_000 + [("13/05/2025", "1.50", "x")]
    found = read(table(rows)).transactions
    assert {each.occurred_on.isoformat() for each in found} == {"2025-05-04", "2025-05-13"}


@pytest.mark.parametrize("far", [0, 30_000])
def test_orders_that_contradict_each_other_are_a_question(far: int) -> None:
    rows = [("13/05/2025", "1.50", "x")] * (far + 1) + [("05/13/2025", "1.50", "x")]
    assert asked(table(rows)).parameter == "date_order"


def test_a_short_year_may_stand_first_or_last() -> None:
    question = asked(table([("04/05/06", "1.50", "x")]))
    assert [choice.value for choice in question.choices] == ["dmy", "mdy", "ymd"]


def test_days_of_one_month_settle_where_the_short_year_stands() -> None:
    texts = [f"25-05-{day:02}" for day in (3, 4, 5, 13, 14, 30)]
    assert days_of(texts)[0] == "2025-05-03"


def test_separate_columns_of_date_time_and_zone_are_put_together() -> None:
    header = ("Date", "Time", "Amount", "Time zone")
    rows = [("03.05.2025", "2:22 PM", "1.50", ""), ("03.05.2025", "14:22", "1.50", "+01:00")]
    found = read(table(rows, header), **BERLIN).transactions
    assert [str(each.occurred_at) for each in found] == [
        "2025-05-03 14:22:00+02:00",
        "2025-05-03 14:22:00+01:00",
    ]


def test_a_row_without_a_time_of_day_has_only_its_day() -> None:
    found = read(table([("03.05.2025", "", "1.50")], ("Date", "Time", "Amount"))).transactions
    assert [(str(each.occurred_on), each.occurred_at) for each in found] == [("2025-05-03", None)]


@pytest.mark.parametrize(
    "text", ["2025-05-03 00:00:00", "2025-05-03T00:00:00Z", "2025-05-03 00:00"]
)
def test_a_file_with_midnights_only_has_no_times_of_day(text: str) -> None:
    found = read(table([(text, "1.50", "x")]), time_zone="America/New_York")
    assert [(str(each.occurred_on), each.occurred_at) for each in found.transactions] == [
        ("2025-05-03", None)
    ]
    assert any("midnight" in text for text in found.layout.notices)


def test_one_other_time_far_below_makes_midnight_a_time() -> None:
    rows = [("2025-05-03 00:00:00", "1.50", "x")] * 30_000 + [("2025-05-03 10:00:00", "1.50", "x")]
    assert all(each.occurred_at for each in read(table(rows)).transactions)


def test_the_hour_that_comes_twice_is_a_question() -> None:
    data = table([("2025-10-26 02:30", "1.50", "x")])
    question = asked(data, **BERLIN)
    assert question.parameter == "clock_change"
    assert [choice.meaning for choice in question.choices] == [
        "2025-10-26T02:30:00+02:00",
        "2025-10-26T02:30:00+01:00",
    ]
    earlier = read(data, clock_change="earlier", **BERLIN).transactions[0].occurred_at
    later = read(data, clock_change="later", **BERLIN).transactions[0].occurred_at
    assert earlier is not None
    assert later is not None
    assert (later - earlier).total_seconds() == 3600


def test_the_hour_that_comes_twice_is_clear_with_an_offset_or_a_zone_name() -> None:
    assert days_of(["2025-10-26 02:30 CET", "2025-10-26 02:30 CEST"], **BERLIN) == [
        "2025-10-26T02:30:00+01:00",
        "2025-10-26T02:30:00+02:00",
    ]


def test_the_hour_that_never_was_is_rejected() -> None:
    texts = ["2025-03-30 01:59", "2025-03-30 02:30", "2025-03-30 03:00"]
    assert days_of(texts, **BERLIN) == [
        "2025-03-30T01:59:00+01:00",
        "time-never-was",
        "2025-03-30T03:00:00+02:00",
    ]


def test_spreadsheet_serial_numbers_are_never_taken_for_dates() -> None:
    assert asked(table([("45780", "1.50", "x"), ("45781.5", "1.50", "x")])).parameter == "columns"


def test_points_are_read_day_first_and_said_so() -> None:
    """No locale of CLDR 48 writes numbers month-first with points (see test_data_files)."""
    found = read(table([("04.05.2025", "1.50", "x")]))
    assert [str(each.occurred_on) for each in found.transactions] == ["2025-05-04"]
    assert any("day first" in text for text in found.layout.notices)
