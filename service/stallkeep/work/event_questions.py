"""Which few checks would settle most of an event, and which habit would have helped."""

from __future__ import annotations

import asyncio
from uuid import UUID

import msgspec

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.matching import HabitNote, Question
from stallkeep.domain.matching.advice import habit_note
from stallkeep.domain.matching.engine import reconcile
from stallkeep.domain.matching.questions import questions
from stallkeep.store import rulings
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.shops import Shop
from stallkeep.work.contradicting_words import show_contradicting_looks
from stallkeep.work.existing_event import existing_event
from stallkeep.work.gather_evidence import Gathered, gather_event
from stallkeep.work.stable_names import backwards, renamed


class PieceNotOnRailError(RejectedInputError):
    """The piece was not taken to the event."""

    code = "piece-not-on-rail"
    title = "The piece was not on this rail"


class Advice(msgspec.Struct, frozen=True, kw_only=True):
    """What to look at next, best first, and which habit would have helped most."""

    questions: list[Question]
    habit: HabitNote


async def event_questions(pool: Pool, shop: Shop, event_id: UUID, most: int) -> Advice:
    """Rank the checks worth making, with every word said so far taken into account.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    async with read_scope(pool, shop.shop_id) as con:
        await existing_event(con, shop.shop_id, event_id)
        gathered = await gather_event(con, shop, event_id)
    return await asyncio.to_thread(_advice, gathered, shop.match_threshold, most)


def _advice(gathered: Gathered, threshold: float, most: int) -> Advice:
    evidence = renamed(gathered.evidence, gathered.names)
    done = reconcile(evidence, threshold=threshold)
    advice = Advice(
        questions=questions(evidence, done, most), habit=habit_note(evidence, done, threshold)
    )
    return renamed(advice, backwards(gathered.names))


async def say_what_is_here(
    pool: Pool, shop: Shop, event_id: UUID, item_id: UUID, still_here: int, *, by: str
) -> None:
    """Write down how many of a piece somebody saw after the event; a later look counts.

    Raises:
        EventNotFoundError: The shop has no such event.
        PieceNotOnRailError: The piece was not taken there, or fewer of it were.
    """
    async with scope(pool, shop.shop_id) as con:
        await existing_event(con, shop.shop_id, event_id)
        taken = await con.fetchval(
            "select quantity from rail where shop_id = $1 and event_id = $2 and item_id = $3",
            shop.shop_id,
            event_id,
            item_id,
        )
        if taken is None:
            raise PieceNotOnRailError("This piece was not taken to the event")
        if still_here > taken:
            raise PieceNotOnRailError(f"Only {taken} of this piece was taken to the event")
        await rulings.rule_on_piece(
            con, shop.shop_id, event_id, item_id, still_here=still_here, said_by=by
        )
        await show_contradicting_looks(con, shop.shop_id, event_id, item_id, by)


async def looks_at(
    con: Connection, shop: Shop, event_id: UUID, item_id: UUID
) -> list[rulings.PieceLook]:
    """Read what was ever seen of a piece of an event, the latest first.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    await existing_event(con, shop.shop_id, event_id)
    return await rulings.looks_at_piece(con, shop.shop_id, event_id, item_id)


async def take_look_back(pool: Pool, shop: Shop, event_id: UUID, item_id: UUID) -> None:
    """Say that nobody knows after all how many of a piece are still there.

    Raises:
        EventNotFoundError: The shop has no such event.
    """
    async with scope(pool, shop.shop_id) as con:
        await existing_event(con, shop.shop_id, event_id)
        await rulings.withdraw_look(con, shop.shop_id, event_id, item_id)
