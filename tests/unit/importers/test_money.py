"""Amounts as files write them."""

# ruff: noqa: RUF001 - the odd signs are the subject

from __future__ import annotations

import pytest
from tests.unit.importers.reading import amounts_of, asked, read, table


@pytest.mark.parametrize(
    ("texts", "expected"),
    [
        (["1,234.50", "0.05"], [123450, 5]),
        (["1.234,50", "0,05"], [123450, 5]),
        (["1 234,50", "12,00"], [123450, 1200]),
        (["1\u00a0234,50", "1\u202f234,50", "1\u2009234,50"], [123450] * 3),
        (["1'234.50", "1’234.50"], [123450] * 2),
        (["12,34,567.50"], [123456750]),
        (["1.234.567,00"], [123456700]),
        (["1,234,567"], [123456700]),
        (["€12.50", "12.50 €", "€ 12.50", "12.50€"], [1250] * 4),
        (["EUR 12.50", "12.50 EUR", "12.50EUR", "eur 12.50"], [1250] * 4),
        (["-12.50", "−12.50", "–12.50", "12.50-", "- 12.50", "(12.50)", "12.50 -"], [-1250] * 7),
        (["+12.50", "12.50+"], [1250] * 2),
        (["-€12.50", "€-12.50", "(€12.50)", "-12.50 €", "€12.50-"], [-1250] * 5),
        (["12.50 CR", "12.50CR", "12.50 Cr"], [1250] * 3),
        (["12.50 DR", "12.50DR", "12.50 Dr"], [-1250] * 3),
        (["12.–", "12,-", "12.--"], [1200] * 3),
        (["１２.５０", "12.50"], [1250] * 2),
        (["12.5", "12.50"], [1250, 1250]),
        (["12.5000", "0.0500"], [1250, 5]),
        ([".50", "1.50"], [50, 150]),
        (["12", "7"], [1200, 700]),
        (['="12.50"'], [1250]),
        (["٣", "१२.५०", "١٢٫٥٠"], [300, 1250, 1250]),
        (["€(12.50)", "EUR (3.00)", "(€ 4.00)"], [-1250, -300, -400]),
    ],
)
def test_amounts_are_read_in_every_common_style(texts: list[str], expected: list[int]) -> None:
    assert amounts_of(texts) == expected


@pytest.mark.parametrize(
    "text",
    [
        *("nan", "inf", "1_000", "1e3", "12.50%", "12.5O", "1,2,3", "11,11.11", "12 50", "--5"),
        *("5.", "1.23.45", "12²", "0x10", "12.50.", "12 .50 x", "12/3", "€", "1,23.50"),
        *("(-5)", "#REF!"),
    ],
)
def test_what_is_no_amount_is_rejected(text: str) -> None:
    assert amounts_of([text, "1.50", "2.50"]) in (
        ["money-unreadable", 150, 250],
        ["currency-unknown", 150, 250],
    )


@pytest.mark.parametrize(
    ("currency", "texts", "expected"),
    [
        ("JPY", ["1,234", "500"], [1234, 500]),
        ("JPY", ["￥1,234", "1,234円"], [1234, 1234]),
        ("JPY", ["\\1,234", "-\\500"], [1234, -500]),  # the yen sign of Japanese code pages
        ("JPY", ["500.00"], [500]),
        ("JPY", ["12.50"], ["money-too-many-digits"]),
        ("KWD", ["1.250", "0.005"], [1250, 5]),
        ("KWD", ["1,234.500"], [1234500]),
        ("EUR", ["12.505", "1.50"], ["money-too-many-digits", 150]),
        ("EUR", ["0.125", "1.50"], ["money-too-many-digits", 150]),
        ("EUR", ["12.500", "1.50"], ["money-too-many-digits", 150]),
        ("CLF", ["1.2345"], [12345]),
        ("ISK", ["1.234", "12"], [1234, 1200 // 100]),
    ],
)
def test_minor_units_are_those_of_iso_4217(
    currency: str, texts: list[str], expected: list[int | str]
) -> None:
    """JPY 0, ISK 0, EUR 2, KWD 3, CLF 4: ISO 4217 list one (published check values, section 1)."""
    assert amounts_of(texts, currency=currency) == expected


@pytest.mark.parametrize("text", ["1.234", "1,234", "12.345", "999.999"])
def test_three_digits_behind_one_mark_alone_are_a_question(text: str) -> None:
    question = asked(table([("2025-05-03", text, "x")], delimiter="\t"))
    assert question.parameter == "decimal_mark"
    assert [choice.value for choice in question.choices] == [".", ","]
    assert all(text in choice.meaning for choice in question.choices)


def test_the_question_shows_two_values_both_ways() -> None:
    rows = [("2025-05-03", text, "x") for text in ("1.234", "5.678")]
    question = asked(table(rows, delimiter="\t"))
    meanings = [choice.meaning for choice in question.choices]
    assert meanings == [
        "1.234 is 1.234 EUR; 5.678 is 5.678 EUR",
        "1.234 is 1234 EUR; 5.678 is 5678 EUR",
    ]


def test_the_answer_settles_it() -> None:
    assert amounts_of(["1.234"], decimal_mark=",") == [123400]
    assert amounts_of(["1.234"], decimal_mark=".") == ["money-too-many-digits"]


@pytest.mark.parametrize("other", ["12,50", "1.234.567", "1.234,5", "0,5"])
def test_another_row_of_the_column_settles_it(other: str) -> None:
    assert amounts_of(["1.234", other])[0] == 123400


def test_a_row_far_below_settles_it() -> None:
    rows = [("2025-05-03", "1.234", "x")] * 30_000 + [("2025-05-03", "0,50", "x")]
    assert sum(read(table(rows, delimiter="\t")).amounts) == 30_000 * 123400 + 50


def test_another_column_of_the_file_settles_it() -> None:
    header = ("Date", "Amount", "Fee")
    assert read(table([("2025-05-03", "1.234", "0,35")], header, ";")).amounts == [123400]


def test_a_column_in_both_styles_is_a_question_when_any_row_depends_on_it() -> None:
    rows = [("2025-05-03", text, "x") for text in ("12.50", "12,50", "1.234")]
    assert asked(table(rows, delimiter="\t")).parameter == "decimal_mark"


def test_late_contradictions_stop_the_import_too() -> None:
    rows = [("2025-05-03", "12.50", "x")] * 20_000
    rows += [("2025-05-03", "1,250", "x"), ("2025-05-03", "12,50", "x")]
    assert asked(table(rows, delimiter="\t")).parameter == "decimal_mark"


def test_one_row_in_another_style_is_rejected_where_nothing_depends_on_it() -> None:
    assert amounts_of(["12.50", "13.75", "12,50"]) == [1250, 1375, "money-other-style"]


@pytest.mark.parametrize(
    ("currency", "text", "expected"),
    [
        ("USD", "$12.50", 1250),
        ("CAD", "$12.50", 1250),
        ("SEK", "12.50 kr", 1250),
        ("DKK", "kr. 12.50", 1250),
        ("JPY", "¥1200", 1200),
        ("CNY", "¥12.50", 1250),
    ],
)
def test_a_bare_sign_is_the_shops_own_currency_if_it_fits(
    currency: str, text: str, expected: int
) -> None:
    found = read(table([("2025-05-03", text, "x")], delimiter="\t"), currency=currency)
    assert [(each.amount_minor, each.currency) for each in found.transactions] == [
        (expected, currency)
    ]


@pytest.mark.parametrize("text", ["$12.50", "12.50 kr", "¥12.50"])
def test_a_bare_sign_of_several_currencies_is_else_a_question(text: str) -> None:
    question = asked(table([("2025-05-03", text, "x")], delimiter="\t"), currency="EUR")
    assert question.parameter == "file_currency"
    value = question.choices[0].value
    found = read(table([("2025-05-03", text, "x")], delimiter="\t"), file_currency=value)
    assert found.transactions[0].currency == value


def test_a_clear_sign_of_another_currency_is_that_currency() -> None:
    found = read(table([("2025-05-03", "12,50 zł", "x")], delimiter="\t"), currency="EUR")
    assert [(each.amount_minor, each.currency) for each in found.transactions] == [(1250, "PLN")]


def test_a_currency_column_gives_each_rows_currency_and_its_digits() -> None:
    header = ("Date", "Amount", "Currency")
    rows = [
        ("2025-05-03", "12.50", "EUR"),
        ("2025-05-03", "1250", "JPY"),
        ("2025-05-03", "1", "XYZ"),
    ]
    found = read(table(rows, header))
    assert [(each.amount_minor, each.currency) for each in found.transactions] == [
        (1250, "EUR"),
        (1250, "JPY"),
    ]
    assert [each.code for each in found.rejects] == ["currency-unknown"]


def test_a_cell_that_contradicts_the_currency_column_is_rejected() -> None:
    found = read(table([("2025-05-03", "€12.50", "PLN")], ("Date", "Amount", "Currency")))
    assert [each.code for each in found.rejects] == ["currency-differs"]


@pytest.mark.parametrize("heading", ["Amount (USD)", "Amount USD", "Amount in USD", "Amount [USD]"])
def test_the_heading_may_name_the_currency(heading: str) -> None:
    found = read(table([("2025-05-03", "12.50", "x")], ("Date", heading, "Note")))
    assert [(each.amount_minor, each.currency) for each in found.transactions] == [(1250, "USD")]


@pytest.mark.parametrize("heading", ["Amount (cents)", "Amount in cents", "Betrag (ct)"])
def test_the_heading_may_say_that_amounts_are_in_minor_units(heading: str) -> None:
    found = read(table([("2025-05-03", "1250", "x")], ("Date", heading, "Note")))
    assert found.amounts == [1250]


def test_decimals_in_a_column_of_minor_units_are_rejected() -> None:
    found = read(table([("2025-05-03", "12.5", "x")], ("Date", "Amount (cents)", "Note")))
    assert found.codes == ["header", "money-too-many-digits"]


@pytest.mark.parametrize("text", ["", " ", "-", "–"])
def test_a_row_without_an_amount_is_rejected(text: str) -> None:
    assert amounts_of([text, "1.50"]) == ["money-missing", 150]


def test_an_amount_out_of_range_is_rejected() -> None:
    assert amounts_of(["99999999999999999999.00"]) == ["money-out-of-range"]
    assert amounts_of(["999999999999.00"]) == ["money-out-of-range"]
    assert amounts_of(["99999999999.00"]) == [9_999_999_999_900]


def test_balance_and_percent_columns_are_no_amounts() -> None:
    header = ("Date", "Amount", "Balance", "Fee", "Note")
    found = read(table([("2025-05-03", "12.50", "812.50", "1.69%", "x")], header))
    assert found.amounts == [1250]
    assert [each.fee_minor for each in found.transactions] == [None]


def test_a_sign_of_a_currency_that_is_no_more_is_unknown_and_breaks_nothing() -> None:
    """The lev left ISO 4217's list of active codes when Bulgaria took the euro in 2026."""
    assert amounts_of(["45,00 лв", "20,00 лв."]) == ["currency-unknown"] * 2
