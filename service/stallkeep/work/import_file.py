"""Take one file in: all of it or nothing, exactly once, every row accounted for."""

from __future__ import annotations

import asyncio
import datetime as dt
import hashlib
from collections.abc import AsyncIterator, Iterator, Mapping
from contextlib import asynccontextmanager
from itertools import islice
from typing import Any, BinaryIO, Final
from uuid import UUID
from weakref import WeakKeyDictionary
from zoneinfo import ZoneInfo

import msgspec

from stallkeep.domain.errors import StallkeepError
from stallkeep.domain.row_identity import content_key, row_key
from stallkeep.store import imports, intake
from stallkeep.store.column_maps import ColumnMap, find_column_map, keep_column_map
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.shops import Shop
from stallkeep.work.choose_importer import choose_importer
from stallkeep.work.import_errors import (
    ImporterFailedError,
    ImportQuestionError,
    ImportRefusedError,
    PlaceNeededError,
)
from stallkeep.work.intake_tally import Tally
from stallkeep.work.notice_changes import layout_notices, vanished_notices
from stallkeep.work.release_changed import release_changed
from stallkeep.work.take_event_rows import EventIntake, EventRow
from stallkeep.work.take_listings import ListingIntake
from stallkeep_importers.contract import (
    Importer,
    ImportStop,
    Layout,
    Listing,
    Notice,
    Options,
    Outcome,
    QuestionError,
    Reject,
    Skip,
    Transaction,
)

BATCH_ROWS: Final = 8192
SAMPLE_BYTES: Final = 65536
AT_ONCE: Final = 3
"""Files taken in at the same time by one process; each holds two connections."""

_NEEDS_NO_MATCH: Final = frozenset({"fee", "payout", "adjustment"})
_slots: WeakKeyDictionary[asyncio.AbstractEventLoop, asyncio.Semaphore] = WeakKeyDictionary()


class Upload(msgspec.Struct, frozen=True):
    """A file as it arrived: seekable, at position 0."""

    file: BinaryIO
    name: str
    size: int


class ImportOrder(msgspec.Struct, frozen=True, kw_only=True):
    """What a person said about a file.

    Attributes:
        importer: Name of the importer; None has the file recognised.
        channel_id: Channel the rows belong to.
        event_id: Event the rows belong to.
        answers: Option → value, as the importers' contract names them.
        by: Who said it.
    """

    importer: str | None = None
    channel_id: UUID | None = None
    event_id: UUID | None = None
    answers: Mapping[str, Any] = {}
    by: str = ""


async def import_file(pool: Pool, shop: Shop, upload: Upload, order: ImportOrder) -> imports.Import:
    """Take a file in, in one database transaction.

    Returns:
        The import with its counts: rows read = taken + known + rejected + skipped.

    Raises:
        ImportQuestionError: The file can be read in two ways; nothing was taken.
        ImportRefusedError: The file is not one that can be taken in; nothing was taken.
        ImporterFailedError: The importer broke; nothing was taken.
        PlaceNeededError: Rows belong to a channel, and none was named.
    """
    slot = _slots.setdefault(asyncio.get_running_loop(), asyncio.Semaphore(AT_ONCE))
    async with slot:
        options = options_for(shop, upload.name, order.answers)
        importer = choose_importer(order.importer, sample_of(upload.file), options)
        async with _recorded(pool, shop, upload, order, importer) as (con, record):
            work = _Intake(pool, con, shop, record, order)
            try:
                await work.run(importer, upload, options)
            except ImportStop as stop:
                raise told(stop, record.id) from stop
            return await work.finish()


def options_for(shop: Shop, file_name: str, answers: Mapping[str, Any]) -> Options:
    """Join what the shop knows with what was answered.

    Raises:
        ImportRefusedError: An answer is none that the importers know.
    """
    known: dict[str, Any] = {
        "currency": shop.currency,
        "time_zone": shop.time_zone,
        "languages": tuple(shop.languages),
        "file_name": file_name,
    }
    if unknown := sorted(answers.keys() - set(Options.__struct_fields__)):
        raise ImportRefusedError(
            f"Nothing asks for {', '.join(unknown)}; answers are "
            f"{', '.join(sorted(set(Options.__struct_fields__) - known.keys()))}",
            reason_code="answer-unknown",
        )
    try:
        return msgspec.convert({**known, **answers}, Options, strict=True)
    except msgspec.ValidationError as error:
        raise ImportRefusedError(
            f"An answer is not one of those possible: {error}", reason_code="answer-unknown"
        ) from error


def told(stop: ImportStop, import_id: UUID | None = None) -> StallkeepError:
    """Say an importer's stop as an error of ours."""
    facts: dict[str, Any] = {"reason_code": stop.code, "advice": stop.advice, **stop.facts}
    if import_id is not None:
        facts["import_id"] = str(import_id)
    if isinstance(stop, QuestionError):
        facts["question"] = {
            "parameter": stop.parameter,
            "choices": [msgspec.to_builtins(choice) for choice in stop.choices],
        }
        return ImportQuestionError(stop.detail, **facts)
    return ImportRefusedError(stop.detail, **facts)


def sample_of(file: BinaryIO) -> bytes:
    """Read the beginning of a file, as importers are shown it to recognise it."""
    file.seek(0)
    sample = file.read(SAMPLE_BYTES)
    file.seek(0)
    return sample


def _digest(file: BinaryIO) -> bytes:
    file.seek(0)
    digest = hashlib.file_digest(file, "sha256").digest()  # type: ignore[arg-type]  # has readinto
    file.seek(0)
    return digest


@asynccontextmanager
async def _recorded(
    pool: Pool, shop: Shop, upload: Upload, order: ImportOrder, importer: Importer
) -> AsyncIterator[tuple[Connection, imports.Import]]:
    """Open the import's transaction and keep a record of the attempt, whatever becomes of it.

    The transaction holds a lock named after the import while it lives; a record that says
    "running" and whose lock is free belongs to a process that died (`settle_dead_imports`).
    """
    import_id = new_id()
    values = {
        "shop_id": shop.shop_id,
        "id": import_id,
        "importer": importer.name,
        "channel_id": order.channel_id,
        "event_id": order.event_id,
        "file_name": upload.name,
        "file_sha256": await asyncio.to_thread(_digest, upload.file),
        "file_bytes": upload.size,
        "state": "running",
        "options": dict(order.answers),
    }
    try:
        async with scope(pool, shop.shop_id) as con:
            await con.execute(LOCK_IMPORT, f"import/{import_id}")
            async with scope(pool, shop.shop_id) as other:
                record = await imports.start_import(other, values)
            yield con, record
    except BaseException as error:
        await asyncio.shield(_note_failure(pool, shop, import_id, error))
        raise


LOCK_IMPORT: Final = "select pg_advisory_xact_lock(hashtextextended($1, 0))"


async def _note_failure(pool: Pool, shop: Shop, import_id: UUID, error: BaseException) -> None:
    problem: dict[str, Any] = {"code": "interrupted", "detail": "It was interrupted; nothing taken"}
    if isinstance(error, StallkeepError):
        facts = {key: value for key, value in error.facts.items() if key != "import_id"}
        problem = {"code": error.code, "title": error.title, "detail": error.detail, **facts}
    values = {"state": "failed", "problem": problem, "finished_at": dt.datetime.now(dt.UTC)}
    async with scope(pool, shop.shop_id) as con:
        if await imports.find_import(con, shop.shop_id, import_id) is not None:
            await imports.change_import(con, shop.shop_id, import_id, values)


class _Intake:
    """One file on its way in, inside its own transaction."""

    def __init__(
        self, pool: Pool, con: Connection, shop: Shop, record: imports.Import, order: ImportOrder
    ) -> None:
        self._pool = pool
        self._con = con
        self._shop = shop
        self._record = record
        self._order = order
        self._zone = ZoneInfo(shop.time_zone)
        self._midnights: dict[dt.date, dt.datetime] = {}
        self._seq = 0

    async def run(self, importer: Importer, upload: Upload, options: Options) -> None:
        """Read the file into the staging tables and the stock; one retry with kept answers."""
        await intake.lock_channel(self._con, self._shop.shop_id, self._record.channel_id)
        await intake.open_staging(self._con)
        outcomes = await self._open(importer, upload, options)
        self._reset()
        async for batch in self._batches(outcomes, importer):
            await self._store(batch)
            await self._show_progress(upload.file)
        await self._events.finish()

    async def _open(
        self, importer: Importer, upload: Upload, options: Options
    ) -> Iterator[Layout | Notice | Outcome]:
        """Start reading; a layout met before is read as it was answered then."""
        upload.file.seek(0)
        reading = iter(importer.read(upload.file, options))
        fingerprint: object
        try:
            first = await asyncio.to_thread(_next, reading, importer)
        except QuestionError as question:
            fingerprint = question.facts.get("fingerprint")
            kept = await self._kept(importer, fingerprint)
            if kept is None:
                raise
        else:
            kept = None
            if isinstance(first, Layout):
                kept = await self._kept(importer, first.fingerprint)
            if kept is None:
                return _chain(first, reading)
        upload.file.seek(0)
        remembered = options_for(self._shop, upload.name, {**kept, **self._order.answers})
        return iter(importer.read(upload.file, remembered))

    async def _kept(self, importer: Importer, fingerprint: object) -> dict[str, Any] | None:
        if not isinstance(fingerprint, str):
            return None
        kept = await find_column_map(self._con, self._shop.shop_id, importer.name, fingerprint)
        if kept is None or not kept.options or kept.options.items() <= self._order.answers.items():
            return None
        return kept.options

    def _reset(self) -> None:
        record, shop_id = self._record, self._shop.shop_id
        self.tally = Tally()
        self._events = EventIntake(self._con, shop_id, record.event_id, record.id, self.tally)
        self._listings = (
            None
            if record.channel_id is None
            else ListingIntake(self._con, shop_id, record.channel_id, record.id, self.tally)
        )

    async def _batches(
        self, outcomes: Iterator[Layout | Notice | Outcome], importer: Importer
    ) -> AsyncIterator[list[Layout | Notice | Outcome]]:
        """Parse the next batch in a thread while the database takes the one before."""
        ahead = asyncio.create_task(asyncio.to_thread(_batch, outcomes, importer))
        try:
            while batch := await ahead:
                ahead = asyncio.create_task(asyncio.to_thread(_batch, outcomes, importer))
                yield batch
        finally:
            if not ahead.done():
                ahead.cancel()

    async def _store(self, batch: list[Layout | Notice | Outcome]) -> None:
        parts = _sorted(batch, self.tally, self._shop.currency)
        if (parts.transactions or parts.listings) and self._listings is None:
            raise PlaceNeededError("These rows belong to a channel; say which", parameter="channel")
        if parts.transactions:
            await intake.stage(self._con, [self._staged(row) for row in parts.transactions])
        if parts.listings and self._listings is not None:
            await self._listings.take(parts.listings)
        for row in parts.event_rows:
            refused = await self._events.take(row)
            if refused is not None:
                parts.rejects.append(refused)
        if parts.rejects:
            self.tally.rejected += len(parts.rejects)
            await intake.stage_rejects(self._con, parts.rejects)

    def _staged(self, row: Transaction) -> tuple[Any, ...]:
        self._seq += 1
        return intake.staged_row(
            seq=self._seq,
            row_id=new_id(),
            row_key=row_key(row),
            content_key=content_key(row),
            match_state="not_needed" if row.kind in _NEEDS_NO_MATCH else "unmatched",
            ordered_at=row.occurred_at or self._midnight(row.occurred_on),
            row=row,
        )

    def _midnight(self, day: dt.date) -> dt.datetime:
        if day not in self._midnights:
            self._midnights[day] = dt.datetime.combine(day, dt.time(), self._zone)
        return self._midnights[day]

    async def _show_progress(self, file: BinaryIO) -> None:
        position = 0 if file.closed else file.tell()
        async with scope(self._pool, self._shop.shop_id) as other:
            await imports.note_progress(
                other, self._shop.shop_id, self._record.id, self.tally.rows_read, position
            )

    async def finish(self) -> imports.Import:
        """Decide on the staged rows, write the counts, and leave the rest to the commit."""
        shop_id, record, tally = self._shop.shop_id, self._record, self.tally
        if self._seq and record.channel_id is not None:
            taken = await intake.merge(
                self._con, shop_id, record.channel_id, record.id, record.event_id
            )
            tally.taken += taken.new + len(taken.changed_ids)
            tally.changed += len(taken.changed_ids)
            tally.known += taken.known
            await release_changed(self._con, shop_id, taken.changed_ids)
        await intake.store_rejects(self._con, shop_id, record.id)
        await self._notice_changes()
        await self._remember()
        return await imports.change_import(self._con, shop_id, record.id, self._counts())

    async def _notice_changes(self) -> None:
        layout, record = self.tally.layout, self._record
        if layout is None or record.channel_id is None:
            return
        place = (self._con, self._shop.shop_id, record.importer, record.channel_id)
        self.tally.notices += await layout_notices(*place, layout)
        if self._seq:
            self.tally.notices += await vanished_notices(*place, record.id)

    async def _remember(self) -> None:
        layout, record = self.tally.layout, self._record
        if layout is None or record.channel_id is None:
            return
        column_map = ColumnMap(
            importer=record.importer,
            fingerprint=layout.fingerprint,
            options=dict(self._order.answers),
            headers=[column.header for column in layout.columns],
            channel_id=record.channel_id,
        )
        kept = await find_column_map(
            self._con, self._shop.shop_id, record.importer, layout.fingerprint
        )
        if kept is None or self._order.answers:
            await keep_column_map(self._con, self._shop.shop_id, column_map, self._order.by)

    def _counts(self) -> dict[str, Any]:
        tally = self.tally
        return {
            "state": "done",
            "layout": None if tally.layout is None else msgspec.to_builtins(tally.layout),
            "notices": [msgspec.to_builtins(notice) for notice in tally.notices],
            "skips": dict(tally.skips),
            "rows_read": tally.rows_read,
            "taken": tally.taken,
            "changed": tally.changed,
            "known": tally.known,
            "rejected": tally.rejected,
            "skipped": tally.skipped,
            "bytes_read": self._record.file_bytes,
            "finished_at": dt.datetime.now(dt.UTC),
        }


class _Parts:
    """The rows of a batch, by where they go."""

    def __init__(self) -> None:
        self.transactions: list[Transaction] = []
        self.listings: list[Listing] = []
        self.event_rows: list[EventRow] = []
        self.rejects: list[Reject] = []


def _sorted(batch: list[Layout | Notice | Outcome], tally: Tally, currency: str) -> _Parts:
    parts = _Parts()
    for outcome in batch:
        match outcome:
            case Layout():
                tally.layout = outcome
                continue
            case Notice():
                tally.notices.append(outcome)
                continue
            case Transaction():
                parts.transactions.append(outcome)
            case Reject():
                parts.rejects.append(outcome)
            case Skip():
                tally.skips[outcome.code] += 1
            case _ if wrong := _wrong_currency(outcome, currency):
                parts.rejects.append(wrong)
            case Listing():
                parts.listings.append(outcome)
            case _:
                parts.event_rows.append(outcome)
        tally.rows_read += 1
    return parts


def _batch(
    outcomes: Iterator[Layout | Notice | Outcome], importer: Importer
) -> list[Layout | Notice | Outcome]:
    try:
        return list(islice(outcomes, BATCH_ROWS))
    except ImportStop:
        raise
    except Exception as error:
        raise _broken(importer, error) from error


def _next(
    reading: Iterator[Layout | Notice | Outcome], importer: Importer
) -> Layout | Notice | Outcome | None:
    try:
        return next(reading, None)
    except ImportStop:
        raise
    except Exception as error:
        raise _broken(importer, error) from error


def _broken(importer: Importer, error: Exception) -> ImporterFailedError:
    return ImporterFailedError(
        f"The importer {importer.name} broke on this file ({type(error).__name__}); nothing was "
        "taken. Tell whoever wrote it.",
        importer=importer.name,
    )


def _chain(
    first: Layout | Notice | Outcome | None, rest: Iterator[Layout | Notice | Outcome]
) -> Iterator[Layout | Notice | Outcome]:
    if first is not None:
        yield first
    yield from rest


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
    )
