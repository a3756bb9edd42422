"""Take in what an export tells about an event: stock count, stubs, cash box, costs."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.store import event_intake as store
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.as_told import as_told
from stallkeep.work.intake_tally import Tally
from stallkeep.work.split_cost import share_anew
from stallkeep.work.take_listings import stored_code
from stallkeep_importers.contract import CashCount, Counted, Expense, Reject, Stub

DAYS_AFTER = 7
"""How long after its last day a count or a receipt is still taken for an event."""

EventRow = Counted | Stub | CashCount | Expense


class KeptStubs:
    """The stubs of one day before an import.

    Attributes:
        unmet: Code → position and price of each stub that no row of the import has named yet.
        last: Position of the last one.
    """

    def __init__(self) -> None:
        self.unmet: dict[str, list[tuple[int, int | None]]] = {}
        self.last = 0


class EventIntake:
    """Takes the event rows of one import, one by one, in the import's transaction."""

    def __init__(
        self, con: Connection, shop_id: UUID, event_id: UUID | None, import_id: UUID, tally: Tally
    ) -> None:
        self._con = con
        self._shop_id = shop_id
        self._event_id = event_id
        self._import_id = import_id
        self._tally = tally
        self._rail: dict[UUID, dict[str, tuple[UUID, int, int | None]]] = {}
        self._counted: Counter[tuple[UUID, UUID]] = Counter()
        self._keys: Counter[str] = Counter()
        self._boxes: dict[tuple[UUID, dt.date], list[CashCount]] = {}
        self._stubs: dict[tuple[UUID, dt.date], KeptStubs] = {}
        self.events: set[UUID] = set()

    async def take(self, row: EventRow) -> Reject | None:
        """Store one row, or say why not."""
        if isinstance(row, Expense):
            return await self._expense(row)
        day = row.day if isinstance(row, Stub) else row.counted_on
        event_id = await self._event(day)
        if event_id is None:
            return _reject(
                row,
                "event-unknown",
                "It is not clear which market this line belongs to.",
                "Name the market when importing, or give the list a date column.",
            )
        self.events.add(event_id)
        if isinstance(row, Counted):
            return await self._count(row, event_id)
        if isinstance(row, Stub):
            return await self._stub(row, event_id)
        return await self._cash(row, event_id)

    async def _event(self, day: dt.date | None) -> UUID | None:
        if self._event_id is not None or day is None:
            return self._event_id
        near = await store.events_near(self._con, self._shop_id, day, DAYS_AFTER)
        return near[0][0] if len(near) == 1 else None

    async def _count(self, row: Counted, event_id: UUID) -> Reject | None:
        if event_id not in self._rail:
            self._rail[event_id] = await store.rail_codes(self._con, self._shop_id, event_id)
            await store.start_count(self._con, self._shop_id, event_id)
        found = self._rail[event_id].get(stored_code(row.tag_code))
        if found is None:
            return _reject(
                row,
                "not-on-rail",
                f"No piece with the code {row.tag_code} was taken to this market.",
                "Check the code on the tag; add the piece to the rail if it was taken.",
                row.tag_code,
            )
        item_id, taken, before = found
        self._counted[event_id, item_id] += row.quantity
        counted = self._counted[event_id, item_id]
        if counted > taken:
            self._counted[event_id, item_id] -= row.quantity
            return _reject(
                row,
                "counted-more-than-taken",
                f"{row.tag_code} was counted {counted} times, but {taken} taken.",
                "Check whether a tag was counted twice.",
                row.tag_code,
            )
        if before == counted:
            self._tally.known += 1
            return None
        await store.set_counted(self._con, self._shop_id, event_id, item_id, counted)
        self._tally.taken += 1
        self._tally.changed += int(bool(before))
        return None

    async def _stub(self, row: Stub, event_id: UUID) -> Reject | None:
        day = row.day or await self._only_day(event_id)
        if day is None:
            return _reject(
                row,
                "day-unknown",
                "The list does not say on which day this stub was kept.",
                "Add a date column, or keep one list a day and name it so.",
                row.tag_code,
            )
        if not await self._is_day(event_id, day):
            return _reject(
                row,
                "day-unknown",
                f"{day} is not a day of the market.",
                "Check the date, and that the list was sent with the right market.",
                row.tag_code,
            )
        await self._keep_stub(row, event_id, day)
        return None

    async def _keep_stub(self, row: Stub, event_id: UUID, day: dt.date) -> None:
        """Keep a stub once: the same code a second time in a list is a second stub of it."""
        code = stored_code(row.tag_code)
        kept = await self._stubs_of(event_id, day)
        waiting = kept.unmet.get(code)
        if not waiting:
            kept.last += 1
            content = (code, row.price_minor)
            await store.put_stub(
                self._con, self._shop_id, event_id, (day, kept.last), content, is_new=True
            )
            self._tally.taken += 1
            return
        position, price_minor = waiting.pop(0)
        if row.price_minor is None or row.price_minor == price_minor:
            self._tally.known += 1
            return
        content = (code, row.price_minor)
        await store.put_stub(
            self._con, self._shop_id, event_id, (day, position), content, is_new=False
        )
        self._tally.taken += 1
        self._tally.changed += 1

    async def _stubs_of(self, event_id: UUID, day: dt.date) -> KeptStubs:
        """Read once what was kept of a day before this import."""
        if (event_id, day) not in self._stubs:
            kept = KeptStubs()
            stored = await store.stubs_of(self._con, self._shop_id, event_id)
            for (of_day, position), (code, price_minor) in sorted(stored.items()):
                if of_day == day:
                    kept.unmet.setdefault(code, []).append((position, price_minor))
                    kept.last = position
            self._stubs[event_id, day] = kept
        return self._stubs[event_id, day]

    async def _is_day(self, event_id: UUID, day: dt.date) -> bool:
        return await store.cash_box(self._con, self._shop_id, event_id, day) is not None

    async def _only_day(self, event_id: UUID) -> dt.date | None:
        days = await self._con.fetch(
            "select day from event_day where shop_id = $1 and event_id = $2",
            self._shop_id,
            event_id,
        )
        return days[0]["day"] if len(days) == 1 else None

    async def _cash(self, row: CashCount, event_id: UUID) -> Reject | None:
        day = row.counted_on or await self._only_day(event_id)
        if day is None or not await self._is_day(event_id, day):
            return _reject(
                row,
                "day-unknown",
                "This line's day is not a day of the market.",
                "Check the date; the market's days are entered with the market.",
            )
        self._boxes.setdefault((event_id, day), []).append(row)
        return None

    async def finish(self) -> None:
        """Write the cash boxes: a day's lines are one statement of its box and count as one."""
        for (event_id, day), rows in self._boxes.items():
            stored = await store.cash_box(self._con, self._shop_id, event_id, day)
            box = stored or (None, None, 0)
            told = _box_of(rows, box)
            if told == box:
                self._tally.known += len(rows)
                continue
            await store.set_cash_box(self._con, self._shop_id, event_id, day, told)
            self._tally.taken += len(rows)

    async def _expense(self, row: Expense) -> Reject | None:
        event_id = await self._event(row.spent_on)
        if event_id is not None:
            self.events.add(event_id)
        digest = hashlib.blake2b(
            msgspec.json.encode((row.kind, row.amount_minor, row.spent_on, row.note)),
            digest_size=16,
        ).hexdigest()
        name = f"i:{row.external_id}" if row.external_id else f"c:{digest}"
        # Receipts are often numbered anew for each market: a number is one of its day.
        base = f"{name}@{row.spent_on or event_id or ''}"
        self._keys[base] += 1
        key = f"{base}#{self._keys[base]}"
        content = (row.kind, row.amount_minor, row.tax_minor, row.spent_on, row.note)
        stored = await store.cost_by_key(self._con, self._shop_id, key)
        if stored == content:
            self._tally.known += 1
            return None
        self._tally.taken += 1
        if stored is not None:
            self._tally.changed += 1
            cost_id = await store.change_cost(self._con, self._shop_id, key, content)
            await share_anew(self._con, self._shop_id, cost_id)
            return None
        await store.add_cost(
            self._con, self._shop_id, (new_id(), event_id, *content, key, self._import_id)
        )
        return None


def _box_of(
    rows: Sequence[CashCount], before: tuple[int | None, int | None, int]
) -> tuple[int | None, int | None, int]:
    in_box, counted, taken_out = before
    moved = [row for row in rows if row.what in ("paid_in", "paid_out")]
    for row in rows:
        if row.what == "float":
            in_box = row.amount_minor
        elif row.what == "counted":
            counted = row.amount_minor
    if moved:
        taken_out = sum(r.amount_minor if r.what == "paid_out" else -r.amount_minor for r in moved)
    return in_box, counted, taken_out


def _reject(row: EventRow, code: str, reason: str, advice: str, value: str | None = None) -> Reject:
    return Reject(
        record=row.record,
        line=row.line,
        code=code,
        reason=reason,
        advice=advice,
        value=value,
        cells=as_told(row),
    )
