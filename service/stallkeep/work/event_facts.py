"""Read what the results of events are made from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from stallkeep.domain.event_facts import EventFacts
from stallkeep.domain.sell_through import band_starts
from stallkeep.domain.settled import Settled
from stallkeep.domain.settled_lines import unsettled
from stallkeep.store import result_facts as store
from stallkeep.store import settled_facts
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.event_errors import EventNotFoundError
from stallkeep.work.fact_rows import facts_told, piece_told, possibility_told
from stallkeep.work.shop_tax import ever_taxed


async def event_sums(con: Connection, shop: Shop, event_id: UUID) -> tuple[EventFacts, Settled]:
    """Read what an event's result is made from, its settled payments and its rail added up.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    found = await _read(con, shop, [event_id], settled=False)
    if event_id not in found:
        raise EventNotFoundError("There is no such event in this shop")
    facts = unsettled(found[event_id])
    settled = await settled_facts.settled(
        con,
        shop.shop_id,
        event_id,
        currency=facts.currency,
        tax=facts.tax,
        asks_sales=ever_taxed(shop),
        fee_methods=[*facts.fee_schedules],
        band_starts_minor=band_starts(facts.currency, facts.price_bands_minor),
    )
    return facts, settled


async def event_facts(con: Connection, shop: Shop, event_id: UUID) -> EventFacts:
    """Read everything that the result of an event is made from.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    found = await events_facts(con, shop, [event_id])
    if event_id not in found:
        raise EventNotFoundError("There is no such event in this shop")
    return found[event_id]


async def events_facts(
    con: Connection, shop: Shop, event_ids: Sequence[UUID]
) -> dict[UUID, EventFacts]:
    """Read what the results of many events are made from, in as many statements as for one.

    An id that is none of the shop's events is left out.
    """
    return await _read(con, shop, event_ids, settled=True)


async def _read(
    con: Connection, shop: Shop, event_ids: Sequence[UUID], *, settled: bool
) -> dict[UUID, EventFacts]:
    """Read facts; without settled ones the lines of those payments and the rail are left out."""
    asked = (con, shop.shop_id, event_ids)
    money = await store.money(*asked, settled=settled, asks_sales=ever_taxed(shop))
    of_event = {
        "money": _by(money, "event_id"),
        "days": _by(await store.days(*asked), "event_id"),
        "costs": _by(await store.costs(*asked), "event_id"),
        "rail": _by(await store.rail(*asked) if settled else [], "event_id"),
    }
    pieces = _grouped(await store.sold_pieces(*asked) if settled else [], piece_told)
    possible = _grouped(await store.possibilities(*asked), possibility_told)
    return {
        event["id"]: facts_told(
            shop,
            event,
            {name: rows.get(event["id"], []) for name, rows in of_event.items()},
            pieces,
            possible,
        )
        for event in await store.events(*asked)
    }


def _grouped(rows: Iterable[Row], make: Any) -> dict[UUID, tuple[Any, ...]]:  # noqa: ANN401
    groups = _by(rows, "transaction_id")
    return {key: tuple(make(row) for row in listed) for key, listed in groups.items()}


def _by(rows: Iterable[Row], column: str) -> dict[UUID, list[Row]]:
    groups: dict[UUID, list[Row]] = defaultdict(list)
    for row in rows:
        groups[row[column]].append(row)
    return groups
