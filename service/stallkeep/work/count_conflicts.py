"""Codes of a stock count that cannot have come home: kept as conflicts, so that a person looks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.store import conflicts
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.store.items import Item

NOT_TAKEN: Final = "counted-not-taken"
UNKNOWN: Final = "counted-unknown-code"

_DROP: Final = """
delete from conflict
 where shop_id = $1 and event_id = $2 and state = 'open' and kind = any($3)
"""


async def drop_count_conflicts(con: Connection, shop_id: UUID, event_id: UUID) -> None:
    """Take back what an earlier count raised and nobody has settled."""
    await con.execute(_DROP, shop_id, event_id, [NOT_TAKEN, UNKNOWN])


async def show_count_conflicts(
    con: Connection, shop_id: UUID, event_id: UUID, counted: Sequence[tuple[str, Item | None]]
) -> None:
    """Raise a conflict for each code that was counted and not taken along, instead of older ones.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        event_id: The event.
        counted: Codes as typed, each with its piece if any has it.
    """
    await drop_count_conflicts(con, shop_id, event_id)
    for code, item in dict(counted).items():
        told = f"The code {code} was counted home, and no piece has it. Look at the tag."
        if item is not None:
            told = f"{item.title} ({code}) was counted home, and was not taken along. Look for it."
        values = {
            "shop_id": shop_id,
            "id": new_id(),
            "kind": UNKNOWN if item is None else NOT_TAKEN,
            "item_id": None if item is None else item.id,
            "transaction_id": None,
            "event_id": event_id,
            "detail": told,
        }
        await conflicts.add_conflict(con, values)
