"""The best next questions about an event, and the answer "it is still here"."""

from __future__ import annotations

from typing import Annotated, Final, Literal
from uuid import UUID

from litestar import delete, get, put
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody, QueryParameter
from msgspec import Meta

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.schemas import Body, Moment, View, shown
from stallkeep.domain import matching
from stallkeep.domain.money import to_text
from stallkeep.work.event_questions import (
    event_questions,
    looks_at,
    say_what_is_here,
    take_look_back,
)

TAGS: Final = ["reconciliations"]


class Question(View):
    """A check worth making. `bits` is the information it is expected to bring.

    `item_ids` are the pieces of one price that one look at the rail can tell (`which_here`), or
    those that may have come back with a refund (`given_back`). `related_transaction_id` is the
    payment that the refund most likely gives back.
    """

    kind: Literal["still_here", "which_here", "how_many", "given_back"]
    sentence: str
    bits: float
    probability: float
    item_id: UUID | None
    item_ids: list[UUID]
    transaction_id: UUID | None
    related_transaction_id: UUID | None


class Habit(View):
    """Which habit would have helped most: takings settled now, and expected with it."""

    habit: str
    sentence: str
    settled_now: str
    settled_then: str


class Questions(View):
    """What to look at next, what settles most takings first; asked anew after each answer."""

    data: list[Question]
    habit: Habit


class Look(View):
    """What somebody saw of a piece; of several the one that was not withdrawn counts."""

    still_here: int
    said_by: str
    said_at: Moment
    withdrawn_at: Moment | None


class Seen(Body):
    """How many of the piece are still there (0 or 1 for a single piece)."""

    still_here: Annotated[int, Meta(ge=0, le=1_000_000)]


@get(
    "/v1/events/{event_id:uuid}/questions", operation_id="listQuestions", tags=TAGS, opt=FOR_HELPERS
)
async def list_questions(
    event_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    most: Annotated[int, QueryParameter(ge=1, le=50, description="Most questions")] = 10,
) -> Questions:
    """List the few checks that would settle most of an event, best first.

    Answer "still here" with PUT …/pieces/{item_id}/seen, "which are here" with one for each piece,
    "how many" with PUT /v1/transactions/{id}/piece-count (or …/match with no pieces, where it was
    for something without a tag) and "given back" with PUT
    /v1/transactions/{id}/refunded-payment, then ask again.
    """
    advice = await event_questions(caller.pool, caller.shop, event_id, most)
    currency = caller.shop.currency
    return Questions(
        data=[_question(question) for question in advice.questions],
        habit=Habit(
            habit=advice.habit.habit,
            sentence=advice.habit.sentence,
            settled_now=to_text(advice.habit.settled_now_minor, currency),
            settled_then=to_text(advice.habit.settled_then_minor, currency),
        ),
    )


def _question(question: matching.Question) -> Question:
    return Question(
        kind=question.kind,
        sentence=question.sentence,
        bits=question.bits,
        probability=question.probability,
        item_id=UUID(question.item_id) if question.item_id else None,
        item_ids=[UUID(item_id) for item_id in question.item_ids],
        transaction_id=UUID(question.transaction_id) if question.transaction_id else None,
        related_transaction_id=UUID(question.related_id) if question.related_id else None,
    )


@put(
    "/v1/events/{event_id:uuid}/pieces/{item_id:uuid}/seen",
    operation_id="sayWhatIsHere",
    tags=TAGS,
    status_code=204,
    opt=FOR_HELPERS,
)
async def put_seen(
    event_id: FromPath[UUID],
    item_id: FromPath[UUID],
    data: JSONBody[Seen],
    caller: NamedDependency[Caller],
) -> None:
    """Say how many of a piece are still there after the event."""
    await say_what_is_here(
        caller.pool, caller.shop, event_id, item_id, data.still_here, by=caller.name
    )


@get(
    "/v1/events/{event_id:uuid}/pieces/{item_id:uuid}/seen",
    operation_id="listLooks",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def list_looks(
    event_id: FromPath[UUID], item_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> list[Look]:
    """List what was ever seen of a piece after the event, by whom and when, the latest first."""
    async with caller.read_scope() as con:
        rows = await looks_at(con, caller.shop, event_id, item_id)
    return [shown(Look, row, caller.shop.currency) for row in rows]


@delete(
    "/v1/events/{event_id:uuid}/pieces/{item_id:uuid}/seen",
    operation_id="takeLookBack",
    tags=TAGS,
    status_code=204,
    opt=FOR_HELPERS,
)
async def delete_seen(
    event_id: FromPath[UUID], item_id: FromPath[UUID], caller: NamedDependency[Caller]
) -> None:
    """Take the last look at a piece back: nobody knows; it may be asked again."""
    await take_look_back(caller.pool, caller.shop, event_id, item_id)


ROUTES = (list_questions, put_seen, list_looks, delete_seen)
