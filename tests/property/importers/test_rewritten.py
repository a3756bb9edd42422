"""Messy exports written anew in another way: what they say stays the same, or is asked about."""

from __future__ import annotations

import csv
import gzip
import io
from collections.abc import Callable, Sequence

import pytest
from tests.unit.importers.ledger import Messy, messy_files

from stallkeep_importers.tables.dialects import find_dialect
from stallkeep_importers.tables.records import RecordReader

Rows = list[list[str]]
TABLES = [
    file
    for file in messy_files()
    if not file.importer.name.startswith("bank") and not file.says.strip().startswith("refuse")
]
# files that are about their own quotes, width or delimiter cannot be written another way
TIED = ("nobody quoted", "broken row", "cut at their decimal comma")


def _records(file: Messy) -> Rows:
    text = file.data.lstrip("\n")
    reader = RecordReader(io.StringIO(text, newline=""), find_dialect(text))
    return [row for batch in reader.batches(1000) for row in batch.rows]


def _written(rows: Rows, delimiter: str = ",", end: str = "\n", *, all_quoted: bool = False) -> str:
    out = io.StringIO(newline="")
    csv.writer(
        out,
        delimiter=delimiter,
        lineterminator=end,
        quoting=csv.QUOTE_ALL if all_quoted else csv.QUOTE_MINIMAL,
    ).writerows(rows)
    return out.getvalue()


def _reversed_columns(rows: Rows) -> Rows:
    """Turn the order of columns around in rows of the usual width."""
    width = max(map(len, rows))
    return [row[::-1] if len(row) == width else row for row in rows]


def _one_more_column(rows: Rows) -> Rows:
    """Add a column nobody has a use for, empty where a row is not data through and through."""
    width = max(map(len, rows))
    header = next(row for row in rows if len(row) == width)
    cells = ("Shelf" if row == header else "blue" * all(row) for row in rows)
    return [
        [*row, cell] if len(row) == width else row for row, cell in zip(rows, cells, strict=True)
    ]


WAYS: dict[str, Callable[[Rows], bytes]] = {
    "commas": lambda rows: _written(rows).encode(),
    "semicolons, all quoted": lambda rows: _written(rows, ";", all_quoted=True).encode(),
    "tabs, CRLF": lambda rows: _written(rows, "\t", "\r\n").encode(),
    "bars, marked UTF-8": lambda rows: _written(rows, "|").encode("utf-8-sig"),
    "UTF-16": lambda rows: _written(rows, ";").encode("utf-16"),
    "gzip": lambda rows: gzip.compress(_written(rows, ";", all_quoted=True).encode(), 1, mtime=0),
    "blank lines at the end": lambda rows: _written([*rows, [], [], []], ";").encode(),
    "no last line end": lambda rows: _written(rows, ";", all_quoted=True).encode().rstrip(b"\n"),
    "columns reversed": lambda rows: _written(_reversed_columns(rows), ";").encode(),
    "a column more": lambda rows: _written(_one_more_column(rows), ";").encode(),
}


class _Bytes(Messy, kw_only=True):
    raw: bytes

    @property
    def bytes(self) -> bytes:
        return self.raw


def _is_equal_or_asked(got: Sequence[str], said: Sequence[str]) -> bool:
    return list(got) == list(said) or (len(got) == 1 and got[0].startswith("ask "))


@pytest.mark.parametrize("way", WAYS)
def test_a_messy_export_says_the_same_however_it_is_written(way: str) -> None:
    asked, different = [], []
    for file in TABLES:
        if any(word in file.name for word in TIED):
            continue
        raw = WAYS[way](_records(file))
        facts = {name: getattr(file, name) for name in Messy.__struct_fields__}
        got = _Bytes(raw=raw, **facts).found()
        said = [line.strip() for line in file.says.strip().splitlines()]
        if not _is_equal_or_asked(got, said):
            different.append((file.name, [line for line in got if line not in said]))
        if got != said:
            asked.append(file.name)
    assert different == []
    assert len(asked) <= len(TABLES) // 20, asked
