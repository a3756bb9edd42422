"""Keep the costs."""

from __future__ import annotations

from collections.abc import Mapping
from uuid import UUID

from stallkeep.store import costs
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.references import need_event
from stallkeep.work.stock_errors import CostNotFoundError
from stallkeep.work.versions import Expected


async def read_cost(con: Connection, shop_id: UUID, cost_id: UUID) -> costs.Cost:
    """Read one cost.

    Raises:
        CostNotFoundError: The shop has none with this id.
    """
    return _found(await costs.find_cost(con, shop_id, cost_id), cost_id)


async def add_cost(con: Connection, shop_id: UUID, values: Mapping[str, object]) -> costs.Cost:
    """Enter a cost.

    Raises:
        UnknownReferenceError: The shop has no such event.
    """
    await _check_event(con, shop_id, values)
    return await costs.add_cost(con, {**values, "shop_id": shop_id, "id": new_id()})


async def change_cost(
    con: Connection,
    shop_id: UUID,
    cost_id: UUID,
    values: Mapping[str, object],
    expected: Expected,
) -> costs.Cost:
    """Change the columns named in *values*.

    Raises:
        CostNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
        UnknownReferenceError: The shop has no such event.
    """
    cost = _found(await costs.lock_cost(con, shop_id, cost_id), cost_id)
    expected.check(cost.version)
    await _check_event(con, shop_id, values)
    return await costs.change_cost(con, shop_id, cost_id, values)


async def remove_cost(con: Connection, shop_id: UUID, cost_id: UUID, expected: Expected) -> None:
    """Remove a cost.

    Raises:
        CostNotFoundError: The shop has none with this id.
        StaleVersionError: It has changed since it was read.
    """
    cost = _found(await costs.lock_cost(con, shop_id, cost_id), cost_id)
    expected.check(cost.version)
    await costs.remove_cost(con, shop_id, cost_id)


async def _check_event(con: Connection, shop_id: UUID, values: Mapping[str, object]) -> None:
    if values.get("event_id") is not None:
        await need_event(con, shop_id, UUID(str(values["event_id"])))


def _found(cost: costs.Cost | None, cost_id: UUID) -> costs.Cost:
    if cost is None:
        raise CostNotFoundError(f"There is no cost {cost_id}")
    return cost
