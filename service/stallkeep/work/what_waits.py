"""What waits beside the result of an event and keeps it from being final, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from stallkeep.domain.money import to_text
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.store.waiting_facts import waiting


async def what_waits(con: Connection, shop: Shop, event_id: UUID) -> tuple[str, ...]:
    """Say what is known of an event and not in its result; empty when there is nothing."""
    rows = await waiting(con, shop.shop_id, event_id, shop.currency)
    return tuple(_sentence(row, shop.currency) for row in _found(rows))


def _found(rows: list[Row]) -> Iterator[Row]:
    for kind in ("ring-ups", "of-no-event", "foreign", "contradictions"):
        yield from (row for row in rows if row["kind"] == kind and row["number"])


def _sentence(row: Row, own_currency: str) -> str:
    number, kind = row["number"], row["kind"]
    if kind == "contradictions":
        return f"{number} contradiction(s) wait for a look under conflicts."
    currency = row["currency"] or own_currency
    total = f"{to_text(row['total_minor'], currency)} {currency} in all"
    if kind == "ring-ups":
        return (
            f"{number} sale(s) of {total}, entered at the stall, wait for their payment from the "
            "card reader's export and are not counted yet."
        )
    if kind == "of-no-event":
        return (
            f"{number} payment(s) of {total} on these days belong to no event: another event is "
            "held on the same channel and day."
        )
    return (
        f"{number} payment(s) of {total} are not counted: the shop keeps its books in "
        f"{own_currency}."
    )
