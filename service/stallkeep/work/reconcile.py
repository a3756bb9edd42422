"""Work out what the payments of an event were for."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from uuid import UUID

from stallkeep.domain.matching import Reconciliation
from stallkeep.domain.matching.engine import reconcile as run_engine
from stallkeep.domain.matching.habits import gains_of
from stallkeep.store import evidence as store
from stallkeep.store import matches
from stallkeep.store.connection import Connection, Pool, Row
from stallkeep.store.engine import scope
from stallkeep.store.shops import Shop
from stallkeep.store.transactions import attach_to_event
from stallkeep.store.turns import matching_turn
from stallkeep.work.existing_event import existing_event
from stallkeep.work.gather_evidence import Gathered, gather_event
from stallkeep.work.reconcile_channel import reconcile_channel
from stallkeep.work.stable_names import backwards, renamed
from stallkeep.work.store_answer import AnswerStore, Reconciled

__all__ = ["answer_event", "reconcile_channel", "reconcile_event"]


async def reconcile_event(pool: Pool, shop: Shop, event_id: UUID) -> Reconciled:
    """Match the lines of an event, replacing what the last run said.

    What a person decided stays. All or nothing, under a lock for the shop's matching.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    async with scope(pool, shop.shop_id) as con:
        await matching_turn(con, shop.shop_id)
        await existing_event(con, shop.shop_id, event_id)
        await attach_to_event(con, shop.shop_id, event_id)
        lines = await store.lines_of_event(con, shop.shop_id, event_id)
        await _forget(con, shop.shop_id, lines)
        gathered = await gather_event(con, shop, event_id)
        answer = await asyncio.to_thread(answer_event, gathered, shop.match_threshold)
        done = await AnswerStore(con, shop, gathered, answer, event_id).store()
        await _keep_learned(con, shop.shop_id, event_id, gathered, answer)
        return done


def answer_event(gathered: Gathered, threshold: float) -> Reconciliation:
    """Run the engine on an event; the same evidence gives the same answer in every database."""
    shown = renamed(gathered.evidence, gathered.names)
    answer = run_engine(shown, threshold=threshold)
    return renamed(answer, backwards(gathered.names))


async def _forget(con: Connection, shop_id: UUID, lines: Sequence[Row]) -> None:
    await matches.release(con, shop_id, [row["id"] for row in lines], also_decided=False)


async def _keep_learned(
    con: Connection, shop_id: UUID, event_id: UUID, gathered: Gathered, answer: Reconciliation
) -> None:
    """Keep what this event alone has taught, so that running it again does not count twice."""
    learned = gains_of(gathered.evidence.habits, answer.habits)
    await con.execute(
        "update event set learned = $3 where shop_id = $1 and id = $2", shop_id, event_id, learned
    )
