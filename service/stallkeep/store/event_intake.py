"""What an export tells about an event: counts, stubs, the cash box, costs."""

from __future__ import annotations

import datetime as dt
from typing import Final
from uuid import UUID

from stallkeep.store.connection import Connection

_EVENTS_NEAR: Final = """
select id, starts_on, ends_on from event
 where shop_id = $1 and starts_on <= $2 and ends_on >= $2 - $3::integer
 order by starts_on, id
"""
_RAIL_CODES: Final = """
select i.tag_code, r.item_id, r.quantity, r.counted_home from rail r
  join item i on i.shop_id = r.shop_id and i.id = r.item_id
 where r.shop_id = $1 and r.event_id = $2
"""
_SET_COUNTED: Final = """
update rail set counted_home = $4 where shop_id = $1 and event_id = $2 and item_id = $3
"""
_COUNT_STARTED: Final = """
update rail set counted_home = 0
 where shop_id = $1 and event_id = $2 and counted_home is null
"""
_STUBS: Final = """
select day, position, tag_code, price_minor from stub where shop_id = $1 and event_id = $2
"""
_ADD_STUB: Final = """
insert into stub (shop_id, event_id, day, position, tag_code, price_minor, ordered)
values ($1, $2, $3, $4, $5, $6, true)
"""
_CHANGE_STUB: Final = """
update stub set tag_code = $5, price_minor = $6
 where shop_id = $1 and event_id = $2 and day = $3 and position = $4
"""
_DAY: Final = """
select float_minor, counted_cash_minor, taken_out_minor from event_day
 where shop_id = $1 and event_id = $2 and day = $3
"""
_SET_DAY: Final = """
update event_day set float_minor = $4, counted_cash_minor = $5, taken_out_minor = $6
 where shop_id = $1 and event_id = $2 and day = $3
"""
_COST: Final = """
select amount_minor, tax_minor, kind, spent_on, note from cost
 where shop_id = $1 and row_key = $2
"""
_ADD_COST: Final = """
insert into cost (shop_id, id, event_id, kind, amount_minor, tax_minor, spent_on, note, row_key,
                  import_id)
values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
"""
_CHANGE_COST: Final = """
update cost set kind = $3, amount_minor = $4, tax_minor = $5, spent_on = $6, note = $7,
       trip = null, version = version + 1
 where shop_id = $1 and row_key = $2
returning id
"""


async def events_near(
    con: Connection, shop_id: UUID, day: dt.date, days_after: int
) -> list[tuple[UUID, dt.date, dt.date]]:
    """List events held on *day* or ended at most *days_after* days before it."""
    rows = await con.fetch(_EVENTS_NEAR, shop_id, day, days_after)
    return [(row["id"], row["starts_on"], row["ends_on"]) for row in rows]


async def rail_codes(
    con: Connection, shop_id: UUID, event_id: UUID
) -> dict[str, tuple[UUID, int, int | None]]:
    """Read the rail as code → item, pieces taken, pieces counted home."""
    rows = await con.fetch(_RAIL_CODES, shop_id, event_id)
    return {r["tag_code"]: (r["item_id"], r["quantity"], r["counted_home"]) for r in rows}


async def set_counted(
    con: Connection, shop_id: UUID, event_id: UUID, item_id: UUID, quantity: int
) -> None:
    """Write how many of an item came home."""
    await con.execute(_SET_COUNTED, shop_id, event_id, item_id, quantity)


async def start_count(con: Connection, shop_id: UUID, event_id: UUID) -> None:
    """Say that the event was counted: what no line names did not come home."""
    await con.execute(_COUNT_STARTED, shop_id, event_id)


async def stubs_of(
    con: Connection, shop_id: UUID, event_id: UUID
) -> dict[tuple[dt.date, int], tuple[str, int | None]]:
    """Read the kept stubs as day and position → code and price."""
    rows = await con.fetch(_STUBS, shop_id, event_id)
    return {(r["day"], r["position"]): (r["tag_code"], r["price_minor"]) for r in rows}


async def put_stub(
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    place: tuple[dt.date, int],
    content: tuple[str, int | None],
    *,
    is_new: bool,
) -> None:
    """Write one stub at its day and position."""
    statement = _ADD_STUB if is_new else _CHANGE_STUB
    await con.execute(statement, shop_id, event_id, *place, *content)


async def cash_box(
    con: Connection, shop_id: UUID, event_id: UUID, day: dt.date
) -> tuple[int | None, int | None, int] | None:
    """Read float, counted cash and what was taken out of one day; None where there is no day."""
    row = await con.fetchrow(_DAY, shop_id, event_id, day)
    if row is None:
        return None
    return row["float_minor"], row["counted_cash_minor"], row["taken_out_minor"]


async def set_cash_box(
    con: Connection,
    shop_id: UUID,
    event_id: UUID,
    day: dt.date,
    box: tuple[int | None, int | None, int],
) -> None:
    """Write float, counted cash and what was taken out of one day."""
    await con.execute(_SET_DAY, shop_id, event_id, day, *box)


async def cost_by_key(
    con: Connection, shop_id: UUID, row_key: str
) -> tuple[str, int, int | None, dt.date | None, str | None] | None:
    """Read kind, amount, tax, day and note of the cost an export brought under this key."""
    row = await con.fetchrow(_COST, shop_id, row_key)
    if row is None:
        return None
    return row["kind"], row["amount_minor"], row["tax_minor"], row["spent_on"], row["note"]


async def add_cost(con: Connection, shop_id: UUID, values: tuple[object, ...]) -> None:
    """Write a cost: id, event, kind, amount, tax, day, note, key, import."""
    await con.execute(_ADD_COST, shop_id, *values)


async def change_cost(
    con: Connection, shop_id: UUID, row_key: str, values: tuple[object, ...]
) -> UUID:
    """Change a cost: kind, amount, tax, day, note; gives its id."""
    cost_id: UUID = await con.fetchval(_CHANGE_COST, shop_id, row_key, *values)
    return cost_id
