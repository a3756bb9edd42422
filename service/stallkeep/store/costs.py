"""Costs: of an event, shared by several, or of the shop in general."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec
from sqlalchemy import Date, Uuid, bindparam, cast, select, union_all

from stallkeep.store.connection import Connection
from stallkeep.store.lists import KeysetList
from stallkeep.store.query import Query
from stallkeep.store.rows import Rows
from stallkeep.store.statements import columns_of, here
from stallkeep.store.tables import cost, cost_part


class Cost(msgspec.Struct, frozen=True, gc=False):
    """Money spent, tax included; minus is money given back. `tax_minor` is the part that is tax.

    `trip` is a `domain.mileage.Trip` as plain values, where the cost was given as a distance.
    With `split_by` it has no event of its own, but parts.
    """

    id: UUID
    event_id: UUID | None
    kind: str
    amount_minor: int
    tax_minor: int | None
    spent_on: dt.date | None
    note: str | None
    trip: dict[str, Any] | None
    split_by: str | None
    import_id: UUID | None
    created_at: dt.datetime
    version: int


class CostPart(msgspec.Struct, frozen=True, gc=False):
    """What one event bears of a shared cost."""

    cost_id: UUID
    event_id: UUID
    share: int
    amount_minor: int
    tax_minor: int | None


_EVENT: Final = bindparam("event_id", type_=Uuid())
# Two look-ups and not one condition with an "or", which no index serves.
_OF_EVENT: Final = union_all(
    select(cost.c.id).where(here(cost), cost.c.event_id == _EVENT),
    select(cost_part.c.cost_id).where(here(cost_part), cost_part.c.event_id == _EVENT),
)
_DROP_PARTS: Final = Query(
    cost_part.delete().where(here(cost_part), cost_part.c.cost_id == bindparam("of_cost"))
)
_ADD_PART: Final = Query(
    cost_part.insert().values({column.name: bindparam(column.name) for column in cost_part.c})
)
_PARTS: Final = """
select cost_id, event_id, share, amount_minor, tax_minor from cost_part
 where shop_id = $1 and cost_id = any($2::uuid[]) order by cost_id, position
"""
_FOLLOWING: Final = """
select c.id from cost c
 where c.shop_id = $1 and (c.split_by = 'days' or c.trip is not null and c.spent_on is null)
   and (c.event_id = $2 or exists (
     select from cost_part p where p.shop_id = $1 and p.cost_id = c.id and p.event_id = $2))
 order by c.id for update
"""
_TRIPS: Final = Query(
    select(*columns_of(cost, Cost))
    .where(
        here(cost),
        cost.c.trip["published"].astext == bindparam("published"),
        cost.c.trip["unit"].astext == bindparam("unit"),
        cast(cost.c.trip["driven_on"].astext, Date()).between(
            bindparam("first_on", type_=Date()), bindparam("last_on", type_=Date())
        ),
    )
    .order_by(cast(cost.c.trip["driven_on"].astext, Date()), cost.c.id)
    .with_for_update(),
    Cost,
)

_COSTS: Final = Rows(cost, Cost)
find_cost = _COSTS.find
lock_cost = _COSTS.lock
add_cost = _COSTS.add
change_cost = _COSTS.change
remove_cost = _COSTS.remove
"""Its parts go with it."""

_LIST: Final = KeysetList(
    cost,
    Cost,
    (cost.c.id,),
    {
        "event_id": cost.c.id.in_(_OF_EVENT),
        "kind": cost.c.kind == bindparam("kind"),
    },
)
list_costs = _LIST.read
"""Read the costs entered last first; filters are event_id (also of a part) and kind."""


async def parts_of(
    con: Connection, shop_id: UUID, cost_ids: Sequence[UUID]
) -> dict[UUID, list[CostPart]]:
    """Read the parts of these costs, each cost's in the order its events were named."""
    found: dict[UUID, list[CostPart]] = {cost_id: [] for cost_id in cost_ids}
    for row in await con.fetch(_PARTS, shop_id, list(cost_ids)):
        found[row["cost_id"]].append(CostPart(*row))
    return found


async def set_parts(con: Connection, shop_id: UUID, cost_id: UUID, parts: list[CostPart]) -> None:
    """Write the parts of a cost in place of those it had."""
    await _DROP_PARTS.execute(con, shop_id=shop_id, of_cost=cost_id)
    rows = [
        {"shop_id": shop_id, "position": place, **msgspec.structs.asdict(part)}
        for place, part in enumerate(parts)
    ]
    await _ADD_PART.execute_many(con, rows)


async def following(con: Connection, shop_id: UUID, event_id: UUID) -> list[UUID]:
    """List the costs of an event that depend on its days; they stay locked.

    They are those shared by days, and trips without a day of their own.
    """
    return [row["id"] for row in await con.fetch(_FOLLOWING, shop_id, event_id)]


async def trips_at(
    con: Connection, shop_id: UUID, rate: tuple[str, str], days: tuple[dt.date, dt.date]
) -> list[Cost]:
    """Read the costs that are trips at a published rate (name, unit) by day; they stay locked.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        rate: Name and unit.
        days: The first and the last that count.
    """
    (published, unit), (first, last) = rate, days
    return await _TRIPS.all(
        con, shop_id=shop_id, published=published, unit=unit, first_on=first, last_on=last
    )
