"""Shapes of the public suites, written anew: RFC 4180, csv-spectrum, CSVW."""

from __future__ import annotations

import io

import pytest
from tests.unit.importers.reading import read, table

from stallkeep_importers.tables.dialects import Dialect, find_dialect
from stallkeep_importers.tables.records import RecordReader

Case = tuple[str, list[list[str]]]
RFC_4180: list[Case] = [
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    ("name,name,name\r\naaa,bbb,ccc\r\n", [["name"] * 3, ["aaa", "bbb", "ccc"]]),
    ("aaa, bbb ,ccc\r\n", [["aaa", " bbb ", "ccc"]]),
    ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    (
        '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
]
# Source: csv-spectrum (BSD-2-Clause), the eleven pairs of version 1 and what came later: line
# ends of CR alone, words that some readers take for nothing, quotes in the middle of a cell.
CSV_SPECTRUM: list[Case] = [
    ('a,b\n1,"x, y"\n', [["a", "b"], ["1", "x, y"]]),
    ('a,b\n1,""\n2,3\n', [["a", "b"], ["1", ""], ["2", "3"]]),
    ('a,b\r\n1,""\r\n2,3\r\n', [["a", "b"], ["1", ""], ["2", "3"]]),
    ('a,b\n1,"ha ""ha"" ha"\n', [["a", "b"], ["1", 'ha "ha" ha']]),
    ('a,b\n1,"{""k"": ""v""}"\n', [["a", "b"], ["1", '{"k": "v"}']]),
    ('a,b\n"x\ny",2\n', [["a", "b"], ["x\ny", "2"]]),
    ('a,b\r\n"x\r\ny",2\r\n', [["a", "b"], ["x\r\ny", "2"]]),
    ('a,b\n"say ""x\ny""",2\n', [["a", "b"], ['say "x\ny"', "2"]]),
    ("a,b,c\n1,2,3\n", [["a", "b", "c"], ["1", "2", "3"]]),
    ("a,b,c\r\n1,2,3\r\n", [["a", "b", "c"], ["1", "2", "3"]]),
    ("a,b\n1,ʤ\n2,湯\n", [["a", "b"], ["1", "ʤ"], ["2", "湯"]]),
]
LATER: list[Case] = [
    (
        'a,b,c\r1,2,3\r"Far ""away""",5,6\r',
        [["a", "b", "c"], ["1", "2", "3"], ['Far "away"', "5", "6"]],
    ),
    ('a,b\n1,\n2,"NULL"\n3,NULL\n', [["a", "b"], ["1", ""], ["2", "NULL"], ["3", "NULL"]]),
    ("a,b\n48°12'30.1\"N,x\n2,y\n", [["a", "b"], ["48°12'30.1\"N", "x"], ["2", "y"]]),
]


def records(text: str, dialect: Dialect | None = None) -> list[list[str]]:
    """Part a text into records, in a dialect found in it unless one is given."""
    found = dialect or find_dialect(text)
    batches = RecordReader(io.StringIO(text, newline=""), found).batches(100)
    return [row for batch in batches for row in batch.rows]


@pytest.mark.parametrize(("text", "expected"), RFC_4180)
def test_the_seven_rules_of_rfc_4180(text: str, expected: list[list[str]]) -> None:
    """RFC 4180, section 2, rules 1 to 7 and their examples."""
    assert records(text, Dialect(",")) == expected


@pytest.mark.parametrize(("text", "expected"), CSV_SPECTRUM)
def test_the_eleven_shapes_of_csv_spectrum(text: str, expected: list[list[str]]) -> None:
    assert records(text, Dialect(",")) == expected


@pytest.mark.parametrize(("text", "expected"), LATER)
def test_later_shapes_of_csv_spectrum(text: str, expected: list[list[str]]) -> None:
    assert records(text, Dialect(",")) == expected


@pytest.mark.parametrize(("text", "expected"), [*RFC_4180, *CSV_SPECTRUM, *LATER])
def test_nobody_has_to_say_how_the_suites_are_parted(text: str, expected: list[list[str]]) -> None:
    assert records(text) == expected


def test_latin_1_is_read_where_it_is_no_utf_8() -> None:
    """The shape of csv-spectrum's latin1.csv: one sign beyond ASCII, in one byte."""
    data = "Date,Amount,Note\n2025-05-03,1.00,a\n2025-05-04,2.00,©\n".encode("latin-1")
    assert [each.note for each in read(data).transactions] == ["a", "©"]


def test_the_tree_ops_example_of_csvw() -> None:
    """W3C "Model for Tabular Data", example tree-ops.csv: its header and both dates."""
    text = (
        "GID,On Street,Species,Trim Cycle,Inventory Date\n"
        "1,ADDISON AV,Celtis australis,Large Tree Routine Prune,10/18/2010\n"
        "2,EMERSON ST,Liquidambar styraciflua,Large Tree Routine Prune,6/2/2010\n"
    )
    rows = records(text)
    assert rows[0] == ["GID", "On Street", "Species", "Trim Cycle", "Inventory Date"]
    dates = [(row[4], "1.00", row[0]) for row in rows[1:]]
    days = [str(each.occurred_on) for each in read(table(dates)).transactions]
    assert days == ["2010-10-18", "2010-06-02"]


def test_the_events_listing_of_csvw() -> None:
    """The shape of events-listing.csv of the CSVW examples: blanks in its header, no zone."""
    text = (
        "Date, Amount, Note\n"
        "2014-04-12T19:30,1.00,Old hall; Fernby; FB\n"
        "2014-04-13T20:00,2.00,Fernby; FB; 01901\n\n"
    )
    found = read(text, time_zone="America/New_York")
    assert [each.occurred_at and each.occurred_at.isoformat() for each in found.transactions] == [
        "2014-04-12T19:30:00-04:00",
        "2014-04-13T20:00:00-04:00",
    ]
    assert [each.note for each in found.transactions] == [
        "Old hall; Fernby; FB",
        "Fernby; FB; 01901",
    ]
