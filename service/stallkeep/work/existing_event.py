"""Read an event that must be there."""

from __future__ import annotations

from uuid import UUID

from stallkeep.store import events
from stallkeep.store.connection import Connection
from stallkeep.work.event_errors import EventNotFoundError


async def existing_event(
    con: Connection, shop_id: UUID, event_id: UUID, *, lock: bool = False
) -> events.Event:
    """Read one event; with *lock*, nobody changes it until the transaction ends.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    read = events.lock_event if lock else events.find_event
    event = await read(con, shop_id, event_id)
    if event is None:
        raise EventNotFoundError(f"There is no event {event_id}")
    return event
