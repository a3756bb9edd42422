"""Share a cost among events, and share it anew when it or one of them changes."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.cost_split import SplitBy, split_cost, weights_of
from stallkeep.domain.errors import CostSplitError
from stallkeep.store import costs as store
from stallkeep.store import events
from stallkeep.store.connection import Connection
from stallkeep.work.references import need_event

FEWEST_EVENTS, MOST_EVENTS = 2, 50


class EventShare(msgspec.Struct, frozen=True, kw_only=True):
    """An event that bears a part; its share only where a cost is split by shares."""

    event_id: UUID
    share: int | None = None


class NewSplit(msgspec.Struct, frozen=True, kw_only=True):
    """How a cost is shared, as entered."""

    by: SplitBy
    events: Sequence[EventShare]


def split_again(cost: store.Cost, parts: Sequence[store.CostPart]) -> NewSplit | None:
    """Make of stored parts what would have to be entered to get them; None of a cost without."""
    if cost.split_by is None:
        return None
    by: SplitBy = msgspec.convert(cost.split_by, SplitBy)
    return NewSplit(
        by=by,
        events=[
            EventShare(event_id=part.event_id, share=part.share if by == "shares" else None)
            for part in parts
        ],
    )


async def events_of(con: Connection, shop_id: UUID, split: NewSplit) -> list[events.Event]:
    """Read the events that share a cost, in the order they are named.

    Raises:
        CostSplitError: They are fewer than two, too many, or one is named twice.
        UnknownReferenceError: The shop has no such event.
    """
    ids = [one.event_id for one in split.events]
    if not FEWEST_EVENTS <= len(ids) <= MOST_EVENTS:
        raise CostSplitError(
            f"A cost is shared by {FEWEST_EVENTS} to {MOST_EVENTS} events, not {len(ids)}"
        )
    if len(set(ids)) != len(ids):
        raise CostSplitError("An event is named twice")
    return [
        await need_event(con, shop_id, one, f"#/split/events/{place}/event_id")
        for place, one in enumerate(ids)
    ]


async def write_parts(
    con: Connection,
    shop_id: UUID,
    cost: store.Cost,
    split: NewSplit | None,
    sharers: Sequence[events.Event],
) -> list[store.CostPart]:
    """Write what each event bears of a cost in place of what it bore before.

    Args:
        con: In the shop's scope.
        shop_id: The shop.
        cost: As it stands now.
        split: How; None leaves it without parts.
        sharers: The events of *split*, in its order.

    Raises:
        CostSplitError: Shares are given where they do not count, or are not where they do.
    """
    parts = [] if split is None else _parts(cost, split, sharers)
    await store.set_parts(con, shop_id, cost.id, parts)
    return parts


async def share_anew(con: Connection, shop_id: UUID, cost_id: UUID) -> None:
    """Share a cost whose amount was changed; one without parts stays as it is."""
    cost = await store.lock_cost(con, shop_id, cost_id)
    if cost is None or cost.split_by is None:
        return
    parts = (await store.parts_of(con, shop_id, [cost_id]))[cost_id]
    split = split_again(cost, parts)
    if split is not None:
        await write_parts(con, shop_id, cost, split, await events_of(con, shop_id, split))


def _parts(
    cost: store.Cost, split: NewSplit, sharers: Sequence[events.Event]
) -> list[store.CostPart]:
    days = [(event.ends_on - event.starts_on).days + 1 for event in sharers]
    weights = weights_of(split.by, days, [one.share for one in split.events])
    amounts = split_cost(cost.amount_minor, cost.tax_minor, weights)
    return [
        store.CostPart(cost.id, event.id, weight, amount, tax)
        for event, weight, (amount, tax) in zip(sharers, weights, amounts, strict=True)
    ]
