"""Reading a file a slice ahead of the database: a thread parses while the one before is stored."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import AsyncIterator, Callable, Iterator
from itertools import islice
from typing import Final, TypeAlias, TypeVar

from stallkeep.store.intake import Slice
from stallkeep.work.as_told import as_told
from stallkeep.work.import_errors import ImporterFailedError
from stallkeep.work.pace import hurrying
from stallkeep.work.stage_rows import RowStager
from stallkeep.work.take_event_rows import EventRow
from stallkeep_importers.contract import (
    Importer,
    ImportStop,
    Layout,
    Listing,
    Notice,
    Outcome,
    Reject,
    Skip,
    Transaction,
)

SLICE_ROWS: Final = 16384
FIRST_SLICE_ROWS: Final = 1024
"""The database has nothing to do until the first slice is laid out; the next ones are twice as long
each, up to SLICE_ROWS."""

Reading: TypeAlias = Iterator[Layout | Notice | Outcome]
_Other: TypeAlias = Layout | Notice | Listing | EventRow | Reject | Skip
_T = TypeVar("_T")


class Parts:
    """A slice of a file, by where its parts go.

    Attributes:
        rows_read: Outcomes in it.
        transactions: Laid out for staging; None without any.
        skips: Rows left out, by code.
    """

    def __init__(self) -> None:
        self.rows_read = 0
        self.layout: Layout | None = None
        self.notices: list[Notice] = []
        self.transactions: Slice | None = None
        self.listings: list[Listing] = []
        self.event_rows: list[EventRow] = []
        self.rejects: list[Reject] = []
        self.skips: Counter[str] = Counter()


async def first_of(reading: Reading, importer: Importer) -> Layout | Notice | Outcome | None:
    """Read what an importer hands back first; questions and refusals mostly come here."""
    return await asyncio.to_thread(_guarded, importer, lambda: next(reading, None))


async def read_ahead(
    reading: Reading, importer: Importer, stager: RowStager, currency: str
) -> AsyncIterator[Parts]:
    """Parse, sort and lay out the next slice in a thread while the caller stores the one before.

    Args:
        reading: What the importer hands back.
        importer: Who reads.
        stager: Lays out the transactions.
        currency: The shop's; listings and event rows in another one become rejects.
    """
    lengths = _slice_lengths()

    def next_parts() -> Parts | None:
        length = next(lengths)
        outcomes = _guarded(importer, lambda: list(islice(reading, length)))
        return _sorted(outcomes, stager, currency) if outcomes else None

    ahead = asyncio.create_task(asyncio.to_thread(next_parts))
    try:
        with hurrying():
            while parts := await ahead:
                ahead = asyncio.create_task(asyncio.to_thread(next_parts))
                yield parts
    finally:
        if not ahead.cancel() and not ahead.cancelled():
            ahead.exception()  # the caller has failed already; this one must not surface later


def _slice_lengths() -> Iterator[int]:
    length = min(FIRST_SLICE_ROWS, SLICE_ROWS)
    while True:
        yield length
        length = min(2 * length, SLICE_ROWS)


def _guarded(importer: Importer, work: Callable[[], _T]) -> _T:
    """Let an importer's stops through, and call everything else a fault of it."""
    try:
        return work()
    except ImportStop:
        raise
    except Exception as error:
        raise ImporterFailedError(
            f"The importer {importer.name} broke on this file ({type(error).__name__}); nothing "
            "was taken. Tell whoever wrote it.",
            importer=importer.name,
        ) from error


def _sorted(outcomes: list[Layout | Notice | Outcome], stager: RowStager, currency: str) -> Parts:
    parts = Parts()
    transactions: list[Transaction] = []
    for outcome in outcomes:
        if isinstance(outcome, Transaction):
            transactions.append(outcome)
        else:
            _sort_other(outcome, parts, currency)
    parts.rows_read += len(transactions)
    if transactions:
        parts.transactions = stager.lay_out(transactions)
    return parts


def _sort_other(outcome: _Other, parts: Parts, currency: str) -> None:
    match outcome:
        case Layout():
            parts.layout = outcome
            return
        case Notice():
            parts.notices.append(outcome)
            return
        case Reject():
            parts.rejects.append(outcome)
        case Skip():
            parts.skips[outcome.code] += 1
        case _ if wrong := _wrong_currency(outcome, currency):
            parts.rejects.append(wrong)
        case Listing():
            parts.listings.append(outcome)
        case _:
            parts.event_rows.append(outcome)
    parts.rows_read += 1


def _wrong_currency(outcome: Listing | EventRow, currency: str) -> Reject | None:
    given = getattr(outcome, "currency", None)
    if given is None or given == currency:
        return None
    return Reject(
        record=outcome.record,
        line=outcome.line,
        code="other-currency",
        reason=f"The amount is in {given}; the shop keeps its books in {currency}.",
        advice=f"Enter it by hand in {currency}.",
        value=given,
        cells=as_told(outcome),
    )
