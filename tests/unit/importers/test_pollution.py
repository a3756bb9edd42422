"""One clean table, polluted in one way at a time.

The idea, not the files, of the Pollock benchmark (PVLDB 16(8), 1870-1882, 2023): what can be read
one way only must come out as the clean table does; of the rest no row may come out different.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable

import pytest
from tests.unit.importers.reading import Read, read

from stallkeep_importers.contract import ImportStop, Transaction

HEADER = ["Payment ID", "Date", "Amount", "Fee", "Currency", "Description"]
ROWS = [
    [
        f"P-{number:03}",
        f"2025-05-{1 + number % 28:02}",
        f"{3 + number * 7 % 90}.{number % 4}5",
        *("0.15", "EUR", note),
    ]
    for number, note in enumerate(
        ["mug", "bowl, chipped", 'a "fine" plate', "scarf", "", "two\nlines", "wool; grey", "hat"]
        * 6
    )
]
Pollution = Callable[[str], "str | bytes"]


def clean(
    delimiter: str = ",", quote: str = '"', end: str = "\n", quoting: int = csv.QUOTE_MINIMAL
) -> str:
    """Write the clean table."""
    out = io.StringIO(newline="")
    writer = csv.writer(
        out,
        delimiter=delimiter,
        quotechar=quote,
        lineterminator=end,
        quoting=quoting,  # type: ignore[arg-type]
    )
    writer.writerows([HEADER, *ROWS])
    return out.getvalue()


def lines_changed(place: int, change: Callable[[str], str]) -> Pollution:
    """Change one line of the clean table."""

    def pollute(text: str) -> str:
        lines = text.split("\n")
        lines[place] = change(lines[place])
        return "\n".join(lines)

    return pollute


READ_ONE_WAY: dict[str, Pollution] = {
    "nothing": lambda text: text,
    "no last line end": lambda text: text.rstrip("\n"),
    "several line ends at the end": lambda text: text + "\n\n\n",
    "delimiter ;": lambda _: clean(";"),
    "delimiter tab": lambda _: clean("\t"),
    "delimiter |": lambda _: clean("|"),
    "everything quoted": lambda _: clean(quoting=csv.QUOTE_ALL),
    "text quoted": lambda _: clean(quoting=csv.QUOTE_NONNUMERIC),
    "single quotes": lambda _: clean(quote="'", quoting=csv.QUOTE_ALL),
    "CRLF": lambda _: clean(end="\r\n").replace("two\nlines", "two\nlines"),
    "byte-order mark": lambda text: text.encode("utf-8-sig"),
    "UTF-16 little-endian with mark": lambda text: text.encode("utf-16"),
    "UTF-16 big-endian without mark": lambda text: text.encode("utf-16-be"),
    "UTF-32": lambda text: text.encode("utf-32"),
    "a title above": lambda text: "Payments of May\n" + text,
    "five lines above": lambda text: "a\nb\nc\nd\ne\n" + text,
    "lines with delimiters above": lambda text: "Account,123,,,,\nPeriod,May,,,,\n" + text,
    "a blank line above": lambda text: "\n" + text,
    "a blank line below the header": lines_changed(0, lambda line: line + "\n"),
    "a blank line in the middle": lines_changed(20, lambda line: line + "\n"),
    "a line of delimiters in the middle": lines_changed(20, lambda line: line + "\n,,,,,"),
    "the header twice": lambda text: text.split("\n", 1)[0] + "\n" + text,
    "the header again in the middle": lines_changed(
        30, lambda line: line + "\n" + ",".join(HEADER)
    ),
    "a trailing delimiter in every row": lambda text: re.sub(
        r"(?<!two)\n", ",\n", text.rstrip("\n") + "\n"
    ),
    "an empty last column": lambda _: (
        clean().replace("Description", "Description,").replace("two\nlines", "two lines")
    ),
    "a remark below": lambda text: text + "\nend of the report\n",
    "a totals line below": lambda text: text + f"Total,,{total()},,,\n",
    "a comment in the middle": lines_changed(20, lambda line: line + "\n# checked"),
    "headings in capitals": lambda text: text.replace(",".join(HEADER), ",".join(HEADER).upper()),
    "headings with underscores": lambda text: text.replace("Payment ID", "payment_id"),
    "headings with blanks around": lambda text: text.replace("Amount,Fee", " Amount , Fee "),
    "blanks around cells": lambda text: re.sub(r"(\d+\.\d5),", r" \1 ,", text),
    "a hint for spreadsheets": lambda text: "sep=,\n" + text,
    "backslashes before quotes": lambda text: clean(quoting=csv.QUOTE_ALL).replace(
        '""fine""', '\\"fine\\"'
    ),
    "columns in another order": lambda _: reordered(),
    "a column more": lambda _: widened(),
    "a unit row": lines_changed(0, lambda line: line + "\n,,EUR,EUR,,"),
}

NEVER_DIFFERENT: dict[str, Pollution] = {
    "a row with a cell less": lines_changed(10, lambda line: line.rsplit(",", 1)[0]),
    "a row with a cell more": lines_changed(10, lambda line: line + ",x"),
    "a row with a cell missing in the middle": lines_changed(
        10, lambda line: ",".join(line.split(",")[:2] + line.split(",")[3:])
    ),
    "a row shifted by one": lines_changed(10, lambda line: "," + line),
    "a stray quote": lines_changed(10, lambda line: line.replace(",EUR,", ',EUR,"', 1)),
    "a quote in an id": lines_changed(10, lambda line: '"' + line),
    "two rows glued": lines_changed(10, lambda line: line + ",P-999,2025-05-01,1.00,0.15,EUR,"),
    "one row broken in two": lines_changed(10, lambda line: line.replace(",EUR", "\n,EUR", 1)),
    "an amount with another mark": lines_changed(
        10, lambda line: re.sub(r"(\d)\.(\d5),0", r'"\1,\2",0', line)
    ),
    "an amount of text": lines_changed(10, lambda line: re.sub(r"\d+\.\d5,0", "n/a,0", line)),
    "a date of text": lines_changed(10, lambda line: re.sub(r"2025-05-\d\d", "Monday", line)),
    "a NUL": lines_changed(10, lambda line: line.replace("EUR", "EU\0R", 1)),
    "the header missing": lambda text: text.split("\n", 1)[1],
    "a header of two lines": lambda text: "Payment,Payment,Amount,Amount,,\n" + text,
    "a second table": lambda text: text + "\nPayout,Net amount\nX,1.00\n",
    "a delimiter of its own in one row": lines_changed(10, lambda line: line.replace(",", ";")),
    "half of the file": lambda text: text[: len(text) // 2],
    "all but the last byte": lambda text: text.rstrip("\n")[:-2],
    "a carriage return in a cell": lines_changed(10, lambda line: line.replace("EUR", "E\rUR", 1)),
    "the file twice": lambda text: text + text,
    "delimiter space": lambda text: text.replace(",", " "),
    "delimiter of two signs": lambda text: text.replace(",", ";;"),
    "delimiter :": lambda text: text.replace(",", ":"),
    "escaped line ends": lambda text: text.replace('"two\nlines"', "two\\\nlines"),
    "no quotes at all": lambda text: text.replace('"', ""),
    "an unknown heading for the amount": lambda text: text.replace("Amount", "Blorp"),
}


def total() -> str:
    """Add up the clean table's amounts."""
    cents = sum(int(row[2].replace(".", "")) for row in ROWS)
    return f"{cents // 100}.{cents % 100:02}"


def reordered() -> str:
    """Write the clean table with its columns the other way round."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows([row[::-1] for row in (HEADER, *ROWS)])
    return out.getvalue()


def widened() -> str:
    """Write the clean table with a column nobody knows."""
    out = io.StringIO(newline="")
    rows = [["Weather", *HEADER], *(["rain", *row] for row in ROWS)]
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def facts(found: Read) -> list[tuple[object, ...]]:
    """Give what every row says, without its place in the file."""
    return [
        (each.external_id, each.occurred_on, each.amount_minor, each.fee_minor, each.note)
        for each in found.transactions
    ]


@pytest.fixture(scope="module")
def truth() -> list[tuple[object, ...]]:
    """What the clean table says, taken from the rows it was written from."""
    found = facts(read(clean()))
    assert [each[0] for each in found] == [row[0] for row in ROWS]
    assert [each[2] for each in found] == [int(row[2].replace(".", "")) for row in ROWS]
    assert [each[4] for each in found] == [row[5] or None for row in ROWS]
    return found


@pytest.mark.parametrize("name", READ_ONE_WAY)
def test_what_can_be_read_one_way_is_read_that_way(
    name: str, truth: list[tuple[object, ...]]
) -> None:
    found = read(READ_ONE_WAY[name](clean()))
    expected = truth
    if name == "an empty last column":
        expected = [
            (*each[:4], str(each[4]).replace("\n", " ") if each[4] else None) for each in truth
        ]
    assert facts(found) == expected
    assert not found.rejects


@pytest.mark.parametrize("name", NEVER_DIFFERENT)
def test_no_row_comes_out_different(name: str, truth: list[tuple[object, ...]]) -> None:
    try:
        found = read(NEVER_DIFFERENT[name](clean()))
    except ImportStop:
        return
    known = {each[:4]: each[4] for each in truth}
    for each in facts(found):
        assert each[:4] in known, each
    lost = len(truth) - len({each[0] for each in facts(found)})
    assert lost <= len(found.rejects) + len(found.notices)


def test_the_share_of_pollutions_that_cost_nothing(truth: list[tuple[object, ...]]) -> None:
    """A report more than a test: how many of all pollutions leave every row as it was."""
    untouched = 0
    pollutions = READ_ONE_WAY | NEVER_DIFFERENT
    for pollute in pollutions.values():
        try:
            found = read(pollute(clean())).transactions
        except ImportStop:
            continue
        untouched += sum(isinstance(each, Transaction) for each in found) >= len(truth)
    assert untouched >= len(READ_ONE_WAY)
