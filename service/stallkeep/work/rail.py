"""What goes to an event and what comes home: the rail, the stock count, the stubs."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.errors import RejectedInputError
from stallkeep.store import events, items, rail
from stallkeep.store.connection import Connection
from stallkeep.work.count_conflicts import drop_count_conflicts, show_count_conflicts
from stallkeep.work.existing_event import existing_event
from stallkeep.work.references import Named, match_items
from stallkeep.work.stock_errors import UnknownReferenceError
from stallkeep.work.take_listings import stored_code


class RailAboveStockError(RejectedInputError):
    """More pieces of an item would be taken along than the shop ever had."""

    code = "rail-above-stock"
    title = "More on the rail than there ever were"

    def __init__(self, item: items.Item, wanted: int, pointer: str) -> None:
        detail = (
            f"The shop has {item.quantity} of {item.tag_code}, those sold included, and {wanted} "
            "would be on the rail; if there are more, correct the quantity in stock first"
        )
        errors = [{"detail": detail, "pointer": pointer}]
        super().__init__(detail, errors=errors, tag_code=item.tag_code, quantity=item.quantity)


class Packed(msgspec.Struct, frozen=True, kw_only=True):
    """One piece to take along; `price_minor` None for its usual price."""

    named: Named
    quantity: int = 1
    price_minor: int | None = None
    put_out_at: dt.datetime | None = None


class Count(msgspec.Struct, frozen=True, kw_only=True):
    """What a stock count came to; the codes are as they were typed."""

    pieces: list[rail.RailPiece]
    unknown: list[str]
    not_on_rail: list[str]


async def read_rail(con: Connection, shop_id: UUID, event_id: UUID) -> list[rail.RailPiece]:
    """Read the rail in the order of tag codes.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop_id, event_id)
    return await rail.rail_of(con, shop_id, event_id)


async def put_rail(
    con: Connection, shop_id: UUID, event_id: UUID, packed: Sequence[Packed]
) -> list[rail.RailPiece]:
    """Make the rail exactly these pieces; nothing is changed when one is not in stock.

    Raises:
        EventNotFoundError: The shop has no such event.
        UnknownReferenceError: A piece is none of the shop's.
        RailAboveStockError: More of a piece than the shop has, those sold included: the rail of
            a past event holds pieces that are gone since.
        RejectedInputError: A piece stands twice.
    """
    await existing_event(con, shop_id, event_id, lock=True)
    found = await match_items(con, shop_id, [one.named for one in packed])
    rows: dict[UUID, dict[str, object]] = {}
    for place, (one, item) in enumerate(zip(packed, found, strict=True)):
        known = _known(one, item, place)
        if known.id in rows:
            raise RejectedInputError(
                f"{known.tag_code} stands twice; give its quantity instead",
                tag_code=known.tag_code,
            )
        if one.quantity > known.quantity:
            raise RailAboveStockError(known, one.quantity, f"#/pieces/{place}/quantity")
        rows[known.id] = {
            "item_id": known.id,
            "quantity": one.quantity,
            "price_minor": one.price_minor,
            "put_out_at": one.put_out_at,
        }
    await rail.put_rail(con, shop_id, event_id, rows.values())
    return await rail.rail_of(con, shop_id, event_id)


async def put_count(
    con: Connection, shop_id: UUID, event_id: UUID, typed: Sequence[tuple[str, int]]
) -> Count:
    """Write down what came home: codes with how many of each; what is not named did not come.

    A code nobody knows, or of a piece that was not taken, is handed back and shown as a conflict;
    nothing is refused.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop_id, event_id, lock=True)
    pieces = await rail.rail_of(con, shop_id, event_id)
    on_rail = {piece.tag_code: piece.item_id for piece in pieces}
    others = [code for code, _ in typed if stored_code(code) not in on_rail]
    found = await match_items(con, shop_id, [Named(tag_code=code) for code in others])
    counted: Counter[UUID] = Counter({piece.item_id: 0 for piece in pieces})
    for code, quantity in typed:
        if (item_id := on_rail.get(stored_code(code))) is not None:
            counted[item_id] += quantity
    await rail.put_count(con, shop_id, event_id, counted)
    pairs = list(zip(others, found, strict=True))
    await show_count_conflicts(con, shop_id, event_id, pairs)
    return Count(
        pieces=await rail.rail_of(con, shop_id, event_id),
        unknown=[code for code, item in pairs if item is None],
        not_on_rail=[code for code, item in pairs if item is not None],
    )


async def take_count_back(con: Connection, shop_id: UUID, event_id: UUID) -> None:
    """Say that nothing was counted after all.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop_id, event_id, lock=True)
    await rail.put_count(con, shop_id, event_id, None)
    await drop_count_conflicts(con, shop_id, event_id)


async def read_stubs(con: Connection, shop_id: UUID, event_id: UUID) -> list[rail.Stub]:
    """Read the kept stubs by day and position.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop_id, event_id)
    return await rail.stubs_of(con, shop_id, event_id)


async def put_stubs(
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    days: Sequence[dt.date],
    stubs: Sequence[rail.Stub],
) -> list[rail.Stub]:
    """Make the event's stubs these. A code is kept as read: a slip is evidence too.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        event_id: The event.
        days: Every day that was named, with stubs or without.
        stubs: Of those days.

    Raises:
        EventNotFoundError: The shop has no such event.
        RejectedInputError: Days are none of the event's; it names every one.
    """
    await existing_event(con, shop_id, event_id, lock=True)
    if outside := await days_outside(con, shop_id, event_id, days):
        wrong = [days[place] for place in outside]
        errors = [
            {"detail": told, "pointer": f"#/days/{place}/day"} for place, told in outside.items()
        ]
        raise RejectedInputError(
            "; ".join(outside.values()), errors=errors, day=wrong[0], days=wrong
        )
    kept = [msgspec.structs.replace(one, tag_code=stored_code(one.tag_code)) for one in stubs]
    await rail.put_stubs(con, shop_id, event_id, kept)
    return await rail.stubs_of(con, shop_id, event_id)


async def days_outside(
    con: Connection, shop_id: UUID, event_id: UUID, days: Sequence[dt.date]
) -> dict[int, str]:
    """Say of each of these days that is no day of the event, by its place, that it is none.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop_id, event_id)
    own = {day.day for day in (await events.days_of(con, shop_id, [event_id]))[event_id]}
    return {
        place: f"{day} is no day of the event" for place, day in enumerate(days) if day not in own
    }


def _known(packed: Packed, item: items.Item | None, place: int) -> items.Item:
    if item is None:
        name = packed.named.tag_code or packed.named.item_id
        raise UnknownReferenceError(f"The shop has no piece {name}", f"#/pieces/{place}")
    return item
