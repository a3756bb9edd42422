"""The result of an event: read its facts, compute."""

from __future__ import annotations

from uuid import UUID

import msgspec

from stallkeep.domain.results import EventResult, result_of_sums
from stallkeep.domain.results import event_result as compute
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.event_facts import event_facts, event_sums
from stallkeep.work.what_waits import what_waits


async def event_result(
    con: Connection, shop: Shop, event_id: UUID, *, explain: bool = False
) -> EventResult:
    """Say what an event earned; one that is not over gives the result so far.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    if explain:
        result = compute(await event_facts(con, shop, event_id), explain=True)
    else:
        result = result_of_sums(*await event_sums(con, shop, event_id))
    waits = await what_waits(con, shop, event_id)
    if not waits:
        return result
    told = (*result.missing, *waits)
    return msgspec.structs.replace(result, is_final=False, missing=told)
