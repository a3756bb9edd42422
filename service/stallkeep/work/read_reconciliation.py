"""Read a run of the past."""

from __future__ import annotations

from typing import Any, Final
from uuid import UUID

from stallkeep.domain.errors import NotFoundError
from stallkeep.store.connection import Connection

_FIND: Final = """
select id, event_id, channel_id, from_on, to_on, counts, report, engine, created_at
  from reconciliation where shop_id = $1 and id = $2
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
