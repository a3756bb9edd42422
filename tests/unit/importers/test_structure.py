"""Records → rows of one table: headers, totals, remarks, ragged rows, several tables."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import BERLIN, asked, read, refused, table

ROWS = [("2025-05-03", "10.00", "a"), ("2025-05-03", "20.50", "b"), ("2025-05-04", "5.25", "c")]


@pytest.mark.parametrize(
    "above",
    [
        "Payments export\n",
        "Payments export,,\n\n",
        "Account,12345\nPeriod,01.05.2025 - 31.05.2025\n\n",
        "Shop: Invented Wool\nCurrency: EUR\nPrinted 2025-06-01 12:00\n\n\n",
        "# export of 2025-06-01\n# all times local\n",
    ],
)
def test_lines_above_the_header_are_skips(above: str) -> None:
    found = read(above + table(ROWS))
    assert found.amounts == [1000, 2050, 525]
    assert set(found.codes) == {"above-header", "header"}
    assert found.layout.header_record == above.count("\n") + 1


@pytest.mark.parametrize(
    "last",
    [
        *("Total,35.75,", "TOTAL:,35.75,", ",35.75,Total", "Summe,35.75,", "Sum of 3 rows,35.75,"),
        *("Total,35.75,\n\nPrinted on 2025-06-01,,\n", "Total,,\n", "合計,35.75,"),
    ],
)
def test_a_totals_line_is_a_skip_and_adds_up(last: str) -> None:
    found = read(table(ROWS) + last)
    assert found.amounts == [1000, 2050, 525]
    assert "totals" in found.codes
    assert not found.rejects


def test_a_totals_line_that_does_not_add_up_is_said() -> None:
    found = read(table(ROWS) + "Total,99.00,\n")
    assert [notice.code for notice in found.notices] == ["totals-differ"]
    assert "says 99.00" in found.notices[0].text
    assert "add up to 35.75" in found.notices[0].text


def test_subtotals_by_day_are_skips() -> None:
    rows = [*ROWS[:2], ("Subtotal", "30.50", ""), ROWS[2], ("Subtotal", "5.25", "")]
    found = read(table([*rows, ("Total", "35.75", "")]))
    assert found.amounts == [1000, 2050, 525]
    assert found.codes == ["header", "totals", "totals", "totals"]
    assert not found.notices


def test_a_subtotal_with_a_date_and_an_amount_is_no_payment() -> None:
    header = ("Date", "Type", "Amount")
    rows = [("2025-05-03", "Payment", "10.00"), ("2025-05-03", "Payment", "20.50")]
    found = read(table([*rows, ("2025-05-03", "Subtotal Saturday", "30.50")], header))
    assert found.amounts == [1000, 2050]


def test_a_payment_that_happens_to_be_the_sum_of_others_is_a_payment() -> None:
    rows = [("2025-05-03", amount, "x") for amount in ("5.00", "5.00", "10.00", "20.00")]
    assert read(table(rows)).amounts == [500, 500, 1000, 2000]


def test_a_helpers_note_that_says_total_is_a_payment_when_it_adds_up_to_nothing() -> None:
    rows = [*ROWS, ("2025-05-04", "12.00", "total")]
    assert read(table(rows)).amounts == [1000, 2050, 525, 1200]


@pytest.mark.parametrize(
    "below",
    [
        "\nPrinted on 2025-06-01\n",
        "\n* fees are estimates\n",
        ",,\nPage 1 of 1,,\n",
        "End of report\n",
    ],
)
def test_remarks_below_the_table_are_skips(below: str) -> None:
    found = read(table(ROWS) + below)
    assert found.amounts == [1000, 2050, 525]
    assert found.codes[-1] == "below-table"
    assert not found.rejects


def test_a_remark_in_the_middle_is_rejected_and_kept() -> None:
    found = read(table(ROWS[:2]) + "what is this\n" + "2025-05-04,5.25,c\n")
    assert found.amounts == [1000, 2050, 525]
    assert [(each.code, each.line) for each in found.rejects] == [("ragged-record", 4)]


def test_a_heading_repeated_on_each_page_is_a_skip() -> None:
    page = "Date,Amount,Note\n2025-05-03,10.00,a\n"
    found = read(f"{page}Page 1,,\n{page}Page 2,,\n{page}")
    assert found.amounts == [1000] * 3
    assert not found.rejects
    assert found.codes.count("repeated-heading") == 2
    assert found.codes.count("between-pages") == 2


def test_a_row_of_units_below_the_header_is_a_skip() -> None:
    found = read("Date,Amount,Note\ndd.mm.yyyy,EUR,\n03.05.2025,10.00,a\n")
    assert found.amounts == [1000]
    assert found.codes == ["header", "units"]


def test_a_group_line_above_the_header_is_a_skip() -> None:
    found = read("Payment,,,Costs\nDate,Amount,Note,Fee\n2025-05-03,10.00,a,0.30\n")
    assert found.amounts == [1000]
    assert found.layout.header_record == 2


@pytest.mark.parametrize(
    "second",
    [
        "\nPayout number,Paid out on,Net amount\nP1,2025-05-05,35.75\n",
        "Payout number,Paid out on,Net amount\nP1,2025-05-05,35.75\n",
        "\n\nItem,Price\ncup,5.00\n",
    ],
)
def test_a_second_table_is_refused_and_its_line_named(second: str) -> None:
    refusal = refused(table(ROWS) + second)
    assert refusal.code == "two-tables"
    assert refusal.facts["line"] == 5 + len(second) - len(second.lstrip("\n"))


def test_a_table_above_the_table_is_refused_too() -> None:
    first = "Item,Price\ncup,5.00\n\n"
    assert refused(first + table(ROWS)).code == "two-tables"


def test_blank_lines_are_counted_skips() -> None:
    found = read("Date,Amount,Note\n\n2025-05-03,10.00,a\n,,\n\n2025-05-03,20.50,b\n\n")
    assert found.amounts == [1000, 2050]
    assert found.codes == ["header", "blank", "blank", "blank", "blank"]


def test_blank_and_doubled_headings_are_kept_apart() -> None:
    data = "Date,Amount,,Extra,Extra,\n2025-05-03,10.00,p,q,r,s\n"
    found = read(data)
    assert found.transactions[0].more == {"#3": "p", "Extra": "q", "Extra #5": "r", "#6": "s"}


def test_a_trailing_delimiter_shifts_nothing() -> None:
    found = read("Date,Amount,Note,\n2025-05-03,10.00,a,\n2025-05-03,20.50,b,\n")
    assert found.amounts == [1000, 2050]
    found = read("Date,Amount,Note\n2025-05-03,10.00,a,\n2025-05-03,20.50,b,\n")
    assert found.amounts == [1000, 2050]


@pytest.mark.parametrize(
    "row", ["2025-05-03,10.00", "2025-05-03,10.00,a,b", "2025-05-03,,10.00,a", "10.00,a"]
)
def test_ragged_rows_are_rejected_whole(row: str) -> None:
    found = read(table(ROWS) + row + "\n" + "2025-05-04,1.00,z\n")
    assert found.amounts == [1000, 2050, 525, 100]
    assert [each.code for each in found.rejects] == ["ragged-record"]
    assert list(found.rejects[0].cells) == row.split(",")


def test_empty_cells_left_out_at_the_end_are_a_habit_some_files_have() -> None:
    header = ("Date", "Amount", "Fee", "Note")
    rows = [("2025-05-03", "10.00", "0.30", "x"), ("2025-05-03", "20.00", "0.30")] * 4
    found = read(table(rows, header))
    assert found.amounts == [1000, 2000] * 4


def test_an_unquoted_decimal_comma_in_a_comma_file_is_never_taken() -> None:
    found = read("Date,Amount,Note\n2025-05-03,10,50,a\n2025-05-03,20.50,b\n")
    assert found.amounts == [2050]
    assert [each.code for each in found.rejects] == ["ragged-record"]


def test_a_wide_file_is_read() -> None:
    header = ("Date", "Amount", *(f"Extra {number}" for number in range(300)))
    found = read(table([("2025-05-03", "1.00", *("x" for _ in range(300)))], header))
    assert found.amounts == [100]


def test_a_file_without_a_header_is_asked_for_its_columns() -> None:
    data = "2025-05-03,10.00,a\n2025-05-04,20.50,b\n"
    question = asked(data)
    assert question.parameter == "columns"
    found = read(data, header_record=0, columns={"date": "#1", "amount": "#2", "note": "#3"})
    assert found.amounts == [1000, 2050]
    assert found.codes == []
    assert read(data, columns={"date": "#1", "amount": "#2"}).amounts == [1000, 2050]


def test_the_header_record_can_be_said() -> None:
    data = "Date,Amount,Note\nDate,Amount,Note\n2025-05-03,10.00,a\n"
    assert read(data, header_record=2).codes == ["above-header", "header"]
    assert refused(data, header_record=99).code == "header-missing"


def test_a_confirmed_column_that_is_gone_is_asked_about() -> None:
    question = asked(table(ROWS), columns={"amount": "Betrag"})
    assert question.code == "column-missing"


def test_a_header_deep_below_is_found() -> None:
    above = "".join(f"remark {number}\n" for number in range(40))
    assert read(above + table(ROWS)).amounts == [1000, 2050, 525]


def test_comments_between_rows_are_skips() -> None:
    found = read("Date,Amount,Note\n2025-05-03,10.00,a\n# checked\n2025-05-03,20.50,b\n")
    assert found.codes == ["header", "comment"]


def test_the_fingerprint_is_the_same_for_the_same_layout_only() -> None:
    one = read(table(ROWS)).layout.fingerprint
    assert read(table(ROWS[:1]), **BERLIN).layout.fingerprint == one
    assert read(table(ROWS, delimiter=";")).layout.fingerprint != one
    assert read(table(ROWS, ("Date", "Amount", "Remark"))).layout.fingerprint != one


def test_a_total_may_leave_out_what_was_declined() -> None:
    header = ("ID", "Date", "Amount", "Status")
    rows = [("T1", "2025-05-03", "10.00", "paid"), ("T2", "2025-05-03", "99.00", "declined")]
    rows += [("T3", "2025-05-03", "5.50", "paid")]
    found = read(table(rows, header) + "Total,,15.50,\n")
    assert found.codes == ["header", "not-completed", "totals"]
    assert not found.notices
    found = read(table(rows, header) + "Total,,114.50,\n")
    assert not found.notices


def test_a_whole_row_that_says_total_and_adds_up_to_nothing_is_rejected() -> None:
    header = ("ID", "Date", "Amount")
    rows = [("T1", "2025-05-03", "10.00"), ("T2", "2025-05-03", "5.50")]
    found = read(table([*rows, ("Total", "2025-05-03", "99.00")], header))
    assert found.amounts == [1000, 550]
    assert [each.code for each in found.rejects] == ["totals-unclear"]
    found = read(table([*rows, ("Total", "2025-05-03", "15.50")], header))
    assert found.codes == ["header", "totals"]
