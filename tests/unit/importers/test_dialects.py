"""Text → records: delimiters, quotes, line ends and their breakage."""

from __future__ import annotations

import io

import pytest
from tests.unit.importers.reading import read, table

from stallkeep_importers.tables.dialects import Dialect, find_dialect
from stallkeep_importers.tables.records import RecordReader

ROWS = [("2025-05-03", "1.50", "a cup"), ("2025-05-04", "12.75", "a rug")]


def records(text: str, dialect: Dialect | None = None, size: int = 3) -> list[list[str]]:
    """Part a text into records."""
    reader = RecordReader(io.StringIO(text, newline=""), dialect or find_dialect(text))
    return [row for batch in reader.batches(size) for row in batch.rows]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_each_delimiter_and_line_end_is_found(delimiter: str, end: str) -> None:
    found = read(table(ROWS, delimiter=delimiter, end=end))
    assert found.layout.delimiter == delimiter
    assert [each.note for each in found.transactions] == ["a cup", "a rug"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_each_delimiter_is_found_in_busy_text(delimiter: str) -> None:
    busy = "a, b; c | d: [1, 2]; 'x'"
    text = "".join(
        delimiter.join(f'"{cell}"' for cell in row) + "\n"
        for row in (
            ("Date", "Amount", "Note"),
            ("2025-05-03", "1.50", busy),
            ("2025-05-04", "2.50", busy),
        )
    )
    found = read(text)
    assert [each.note for each in found.transactions] == [busy, busy]


def test_decimal_commas_in_a_semicolon_file_are_no_delimiters() -> None:
    found = read(
        table([("03.05.2025", "1,50", "a, b"), ("04.05.2025", "2,50", "c, d")], delimiter=";")
    )
    assert found.amounts == [150, 250]


def test_single_quotes_and_backslashes_are_read_where_the_file_uses_them() -> None:
    text = "Date,Amount,Note\n'2025-05-03','1.50','a, b'\n'2025-05-04','2.50','it''s'\n"
    assert [each.note for each in read(text).transactions] == ["a, b", "it's"]
    text = 'Date,Amount,Note\n"2025-05-03","1.50","a \\"big\\" cup"\n"2025-05-04","2.50","b, c"\n'
    assert [each.note for each in read(text).transactions] == ['a "big" cup', "b, c"]


def test_blanks_behind_delimiters_may_stand_before_quotes() -> None:
    text = 'Date, Amount, Note\n2025-05-03, 1.50, "a, b"\n2025-05-04, 2.50, "c, d"\n'
    assert [each.note for each in read(text).transactions] == ["a, b", "c, d"]


def test_padded_cells_are_read() -> None:
    text = "Date       | Amount | Note \n2025-05-03 |  1.50  | a \n2025-05-04 |  2.50  | b \n"
    assert read(text).amounts == [150, 250]


def test_a_stray_quote_inside_a_cell_is_read_as_it_stands_and_said_so() -> None:
    text = 'Date,Amount,Note\n2025-05-03,1.50,"12" rug\n2025-05-04,2.50,b\n'
    found = read(text)
    assert found.amounts == [150, 250]
    assert [notice.code for notice in found.notices] == ["stray-quotes"]


def test_quotes_in_the_middle_of_cells_are_just_text() -> None:
    text = 'Date,Amount,Note\n2025-05-03,1.50,a 12" rug\n2025-05-04,2.50,b\n'
    assert [each.note for each in read(text).transactions] == ['a 12" rug', "b"]


@pytest.mark.parametrize("place", [0, 1, 500, 998])
def test_an_open_quote_costs_its_own_row_only(place: int) -> None:
    rows = [[f"2025-05-{1 + number % 28:02}", "1.50", f"n{number}"] for number in range(1000)]
    rows[place][2] = '"open'
    found = read(table(rows))
    assert len(found.amounts) == 999
    assert [(each.code, each.line) for each in found.rejects] == [("quotes-broken", place + 2)]


def test_an_open_quote_before_quoted_rows_costs_its_own_row_only() -> None:
    text = 'Date,Amount,Note\n2025-05-03,1.50,"open\n2025-05-04,2.50,"x, y"\n2025-05-05,3.50,z\n'
    found = read(text)
    assert found.amounts == [250, 350]
    assert found.codes == ["header", "quotes-broken"]


def test_rows_of_open_quotes_are_each_rejected() -> None:
    rows = [("2025-05-03", "1.50", f'"open {number}') for number in range(6000)]
    found = read(table([*rows, ("2025-05-04", "2.50", "x")]))
    assert found.amounts == [250]
    assert len(found.rejects) == 6000


def test_two_stray_quotes_do_not_swallow_the_rows_between_them() -> None:
    rows = [
        [f"2025-05-{1 + number % 28:02}", f"{number}.50", f"n{number}"] for number in range(100)
    ]
    rows[10][2] = '"open'
    rows[20][2] = 'close"'
    found = read(table(rows))
    assert len(found.amounts) == 99
    assert found.codes == ["header", "quotes-broken"]


def test_a_note_of_several_lines_is_no_swallowed_row() -> None:
    note = "thanks, dear\n- 2 cups, 1 bowl\n- 12.50, paid"
    rows = [("2025-05-03", "1.50", f'"{note}"')] * 3
    assert [each.note for each in read(table(rows)).transactions] == [note] * 3


def test_records_and_lines_are_numbered_as_promised() -> None:
    text = 'Date,Amount,Note\n\n2025-05-03,1.50,"a\nb\nc"\n2025-05-04,2.50,x\n'
    found = [(each.record, each.line) for each in read(text).outcomes]
    assert found == [(1, 1), (2, 2), (3, 3), (4, 6)]


def test_lines_stay_right_across_batches_and_broken_quotes() -> None:
    rows = []
    for number in range(5000):
        note = '"two\nlines"' if number % 7 == 0 else '"x" y' if number % 500 == 3 else "z"
        rows.append(("2025-05-03", f"{number}.50", note))
    text = table(rows)
    found = read(text)
    physical = text.split("\n")
    for each in found.transactions:
        assert f",{each.amount_minor // 100}.50," in physical[each.line - 1]


@pytest.mark.parametrize("end", ["\r\r\n", "\n\r\n"])
def test_doubled_line_ends_are_blank_lines(end: str) -> None:
    found = read(table(ROWS, end=end))
    assert found.amounts == [150, 1275]
    assert {each.code for each in found.skips} == {"header", "blank"}


def test_mixed_line_ends_are_read() -> None:
    text = "Date,Amount,Note\r\n2025-05-03,1.50,a\n2025-05-04,2.50,b\r2025-05-05,3.50,c"
    assert read(text).amounts == [150, 250, 350]


def test_lines_wrapped_in_quotes_as_a_whole_are_unwrapped() -> None:
    text = (
        'Date,Amount,Note\n"2025-05-03,1.50,""a, b"""\n"2025-05-04,2.50,c"\n"2025-05-05,3.50,d"\n'
    )
    assert [each.note for each in read(text).transactions] == ["a, b", "c", "d"]


@pytest.mark.parametrize("character", ["\u2028", "\u0085", "\x0b", "\x0c", "\x1c"])
def test_odd_separators_break_no_lines(character: str) -> None:
    found = read(table([("2025-05-03", "1.50", f"a{character}b")]))
    assert [each.note for each in found.transactions] == [f"a{character}b"]


def test_the_hint_of_a_spreadsheet_is_no_row() -> None:
    found = read("sep=;\nDate;Amount;Note\n2025-05-03;1,50;a\n")
    assert found.amounts == [150]
    assert found.codes == ["above-header", "header"]


def test_the_answer_names_the_delimiter() -> None:
    text = "Date;Amount;Note\n2025-05-03;1,50;a\n"
    assert read(text, delimiter=";").amounts == [150]


def test_glued_files_are_read_as_one() -> None:
    one = table(ROWS)
    found = read(one + "\ufeff" + one)
    assert found.amounts == [150, 1275, 150, 1275]
    assert found.codes == ["header", "repeated-heading"]
