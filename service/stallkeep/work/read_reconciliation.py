"""Read a run of the past."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

from stallkeep.domain.errors import NotFoundError
from stallkeep.store.connection import Connection
from stallkeep.work.existing_event import existing_event

_FIND: Final = """
select id, event_id, channel_id, from_on, to_on, counts, report, engine, created_at
  from reconciliation where shop_id = $1 and id = $2
"""
_LATEST: Final = """
select id, event_id, channel_id, from_on, to_on, counts, report, engine, created_at
  from reconciliation where shop_id = $1 and event_id = $2 order by created_at desc, id desc limit 1
"""


class ReconciliationNotFoundError(NotFoundError):
    """There is no such reconciliation."""

    code = "reconciliation-not-found"
    title = "No such reconciliation"


async def read_reconciliation(
    con: Connection, shop_id: UUID, reconciliation_id: UUID
) -> dict[str, Any]:
    """Read one run, by column name.

    Raises:
        ReconciliationNotFoundError: The shop has no such run.
    """
    row = await con.fetchrow(_FIND, shop_id, reconciliation_id)
    if row is None:
        raise ReconciliationNotFoundError("There is no such reconciliation in this shop")
    return {name: row[name] for name in row.keys()}  # noqa: SIM118 - a row iterates over values


async def latest_of_event(con: Connection, shop_id: UUID, event_id: UUID) -> dict[str, Any] | None:
    """Read the last run of an event, by column name; None where there was none yet.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop_id, event_id)
    row = await con.fetchrow(_LATEST, shop_id, event_id)
    return None if row is None else {name: row[name] for name in row.keys()}  # noqa: SIM118 - a row iterates over values
