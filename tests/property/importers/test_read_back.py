"""What is written in any style is read back equal, or asked about, never different."""

from __future__ import annotations

import csv
import gzip
import io

import pytest
from hypothesis import assume, event, example, given, settings
from hypothesis import strategies as st
from tests.property.importers.strategies import STYLES, TRUTHS, Style, Truth, written_table

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import (
    ImportStop,
    Layout,
    Notice,
    Options,
    Outcome,
    QuestionError,
    Reject,
    Skip,
    Transaction,
)
from stallkeep_importers.finder import load_importers
from stallkeep_importers.tables.dialects import Dialect
from stallkeep_importers.tables.records import RecordReader
from stallkeep_importers.testing import check_outcome

IMPORTERS = load_importers().importers


@settings(max_examples=300, deadline=None)
@given(TRUTHS, STYLES)
def test_a_table_is_read_back_equal_or_asked_about(truths: list[Truth], style: Style) -> None:
    data = written_table(truths, style)
    options = Options(languages=("en",))
    try:
        found = list(CardReaderPayments().read(io.BytesIO(data), options))
    except QuestionError as question:
        event(f"asked: {question.parameter}")
        asked = question.parameter
    else:
        asked = ""
    assert asked in ("", "date_order", "decimal_mark", "columns")
    if asked:
        return
    event("read")
    outcomes = [each for each in found if not isinstance(each, (Layout, Notice))]
    rows = [each for each in outcomes if not isinstance(each, Skip)]
    assert len(rows) == len(truths)
    for truth, row in zip(truths, rows, strict=True):
        if isinstance(row, Reject):
            event(f"rejected: {row.code}")
            continue
        assert isinstance(row, Transaction)
        assert (row.occurred_on, row.amount_minor) == (truth.on, truth.minor)
        if style.quote == '"' or "'" not in truth.note:
            # a single quoted cell among bare ones cannot be told from an apostrophe
            assert (row.note or "").strip() == truth.note


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=5), max_size=30),
    st.sampled_from(",;\t|"),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.integers(1, 7),
)
@example([["a\r\nb", "c"], ["d"]], ",", csv.QUOTE_ALL, "\r\n", 1)
def test_any_records_a_writer_writes_come_back_equal(
    rows: list[list[str]], delimiter: str, quoting: int, end: str, size: int
) -> None:
    # Python's writer leaves some line ends unquoted, which RFC 4180 does not allow
    has_line_ends = any(end in cell for row in rows for cell in row for end in "\r\n")
    assume(quoting == csv.QUOTE_ALL or not has_line_ends)
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end)  # type: ignore[arg-type]
    writer.writerows(rows)
    text = out.getvalue()
    reader = RecordReader(io.StringIO(text, newline=""), Dialect(delimiter))
    batches = list(reader.batches(size))
    assert [row for batch in batches for row in batch.rows] == rows
    lines = [line for batch in batches for line in batch.lines]
    physical = list(io.StringIO(text, newline=""))
    assert len(lines) == len(set(lines))
    assert all(1 <= line <= len(physical) for line in lines)


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
@pytest.mark.parametrize("name", sorted(IMPORTERS))
def test_any_bytes_end_in_outcomes_a_question_or_a_refusal(name: str, data: bytes) -> None:
    _read_to_the_end(name, data)


@settings(max_examples=150, deadline=None)
@given(TRUTHS, STYLES, st.data())
def test_a_table_spoilt_anywhere_ends_in_outcomes_or_a_stop(
    truths: list[Truth], style: Style, draw: st.DataObject
) -> None:
    whole = written_table(truths, style)
    at = draw.draw(st.integers(0, len(whole)))
    until = draw.draw(st.integers(at, min(len(whole), at + 20)))
    spoilt = whole[:at] + draw.draw(st.binary(max_size=20)) + whole[until:]
    _read_to_the_end("card-reader-payments", spoilt)
    _read_to_the_end("resale-sales", gzip.compress(spoilt, 1))


@settings(max_examples=100, deadline=None)
@given(TRUTHS, STYLES, st.integers(1, 60))
def test_a_table_cut_short_gives_no_row_that_was_not_there(
    truths: list[Truth], style: Style, cut: int
) -> None:
    whole = written_table(truths, style)
    try:
        before = _transactions(whole)
        after = _transactions(whole[: max(0, len(whole) - cut)])
    except ImportStop:
        return
    event("read")
    rows = {(each.occurred_on, each.amount_minor) for each in before}
    assert {(each.occurred_on, each.amount_minor) for each in after} <= rows


def _transactions(data: bytes) -> list[Transaction]:
    found = CardReaderPayments().read(io.BytesIO(data), Options())
    return [each for each in found if isinstance(each, Transaction)]


def _read_to_the_end(name: str, data: bytes) -> None:
    records: list[int] = []
    try:
        for each in IMPORTERS[name].read(io.BytesIO(data), Options()):
            if isinstance(each, (Layout, Notice)):
                continue
            outcome: Outcome = each
            check_outcome(outcome)
            records.append(outcome.record)
    except ImportStop as stop:
        event(stop.code)
        return
    event("read")
    assert records == list(range(1, len(records) + 1))
