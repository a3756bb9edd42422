"""One file on its way in, inside its own transaction."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterator
from typing import Any, BinaryIO, Final
from zoneinfo import ZoneInfo

import msgspec

from stallkeep.store import imports, intake, intake_verdict
from stallkeep.store.column_maps import ColumnMap, find_column_map, keep_column_map
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.shops import Shop
from stallkeep.store.transactions import attach_refunds
from stallkeep.work.import_errors import PlaceNeededError
from stallkeep.work.import_order import HowFar, ImportOrder, Upload, options_for, unseen
from stallkeep.work.intake_tally import Tally
from stallkeep.work.notice_changes import layout_notices, left_out_notices, vanished_notices
from stallkeep.work.notice_days import day_notices
from stallkeep.work.read_ahead import Parts, Reading, first_of, read_ahead
from stallkeep.work.release_changed import release_changed
from stallkeep.work.stage_rows import RowStager
from stallkeep.work.take_event_rows import EventIntake
from stallkeep.work.take_listings import ListingIntake
from stallkeep_importers.contract import Importer, Layout, Notice, Options, Outcome, QuestionError

PROGRESS_SECONDS: Final = 0.5
"""How often a running import says how far it has come, at most."""


class IntakeRun:
    """Takes one file in.

    Args:
        pool: For the progress, which others see while the import's transaction is open.
        con: The import's own transaction.
        shop: The shop.
        record: The import as it was written down.
        order: What a person said about the file.
        show: Told how far it has come, after each slice.
    """

    def __init__(  # noqa: PLR0917 - all of it is one import
        self,
        pool: Pool,
        con: Connection,
        shop: Shop,
        record: imports.Import,
        order: ImportOrder,
        show: Callable[[HowFar], None] = unseen,
    ) -> None:
        self._pool = pool
        self._con = con
        self._shop = shop
        self._record = record
        self._order = order
        self._show = show
        self._target: intake.Target | None = None
        self._listings: ListingIntake | None = None
        self.tally = Tally()
        if record.channel_id is not None:
            place = (shop.shop_id, record.channel_id, record.id)
            self._target = intake.Target(*place, record.event_id)
            self._listings = ListingIntake(con, *place, self.tally)
        self._events = EventIntake(con, shop.shop_id, record.event_id, record.id, self.tally)
        self._taken = intake.SliceTaken()
        self._shown_at = time.monotonic()

    async def run(self, importer: Importer, upload: Upload, options: Options) -> None:
        """Read the file into the database; one retry with kept answers."""
        await intake.lock_channel(self._con, self._shop.shop_id, self._record.channel_id)
        await intake.open_staging(self._con)
        reading = await self._open(importer, upload, options)
        self._stager = RowStager(ZoneInfo(self._shop.time_zone), await self._event_days())
        async for parts in read_ahead(reading, importer, self._stager, self._shop.currency):
            await self._store(parts)
            await self._show_progress(upload.file)
        await self._events.finish()
        if self._listings is not None:
            self._listings.finish()

    async def _open(self, importer: Importer, upload: Upload, options: Options) -> Reading:
        """Start reading; a layout met before is read as it was answered then."""
        upload.file.seek(0)
        reading = iter(importer.read(upload.file, options))
        fingerprint: object
        try:
            first = await first_of(reading, importer)
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

    async def _event_days(self) -> dict[dt.date, Any]:
        return {} if self._target is None else await intake.event_days(self._con, self._target)

    async def _store(self, parts: Parts) -> None:
        self._count(parts)
        if parts.transactions:
            if self._target is None:
                raise _place_needed()
            taken = await intake.take_slice(self._con, self._target, parts.transactions)
            self._taken = self._taken + taken
        if parts.listings:
            if self._listings is None:
                raise _place_needed()
            await self._listings.take(parts.listings)
        for row in parts.event_rows:
            refused = await self._events.take(row)
            if refused is not None:
                parts.rejects.append(refused)
        if parts.rejects:
            self.tally.rejected += len(parts.rejects)
            await intake.stage_rejects(self._con, parts.rejects)

    def _count(self, parts: Parts) -> None:
        self.tally.rows_read += parts.rows_read
        self.tally.skips += parts.skips
        self.tally.notices += parts.notices
        self.tally.layout = parts.layout or self.tally.layout

    async def _show_progress(self, file: BinaryIO) -> None:
        position = 0 if file.closed else file.tell()
        self._show(HowFar(self._record.id, self.tally.rows_read, position, self._record.file_bytes))
        if time.monotonic() < self._shown_at + PROGRESS_SECONDS:
            return
        async with scope(self._pool, self._shop.shop_id) as other:
            await imports.note_progress(
                other, self._shop.shop_id, self._record.id, self.tally.rows_read, position
            )
        self._shown_at = time.monotonic()

    async def finish(self) -> imports.Import:
        """Decide on the rows held back, write the counts, and leave the rest to the commit."""
        shop_id, record, tally = self._shop.shop_id, self._record, self.tally
        if self._target is not None:
            taken = await intake_verdict.decide(self._con, self._target, self._taken)
            tally.taken += taken.new + len(taken.changed_ids)
            tally.changed += len(taken.changed_ids)
            tally.known += taken.known
            await release_changed(self._con, shop_id, taken.changed_ids)
            await attach_refunds(self._con, shop_id, self._target.channel_id, record.id)
        await intake.store_rejects(self._con, shop_id, record.id)
        await self._notice_changes()
        await self._remember()
        return await imports.change_import(self._con, shop_id, record.id, self._counts())

    async def _notice_changes(self) -> None:
        layout, record = self.tally.layout, self._record
        if layout is None:
            return
        self.tally.notices += left_out_notices(layout)
        if record.event_id is not None:
            own = (self._shop.shop_id, record.id, record.event_id)
            self.tally.notices += await day_notices(self._con, *own)
        if record.channel_id is None:
            return
        place = (self._con, self._shop.shop_id, record.importer, record.channel_id)
        self.tally.notices += await layout_notices(*place, layout)
        if days := self._stager.days:
            self.tally.notices += await vanished_notices(*place, record.id, min(days), max(days))

    async def _remember(self) -> None:
        layout, record = self.tally.layout, self._record
        if layout is None or not self._order.remember:
            return
        kept = await find_column_map(
            self._con, self._shop.shop_id, record.importer, layout.fingerprint
        )
        if kept is not None and not self._order.importer and not self._order.answers:
            return
        column_map = ColumnMap(
            importer=record.importer,
            fingerprint=layout.fingerprint,
            options={**(kept.options if kept else {}), **self._order.answers},
            headers=[column.header for column in layout.columns],
            channel_id=record.channel_id,
        )
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


def _place_needed() -> PlaceNeededError:
    return PlaceNeededError("These rows belong to a channel; say which", parameter="channel")


def _chain(
    first: Layout | Notice | Outcome | None, rest: Iterator[Layout | Notice | Outcome]
) -> Reading:
    if first is not None:
        yield first
    yield from rest
