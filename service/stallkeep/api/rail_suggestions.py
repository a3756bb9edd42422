"""What to take to an event: the stock ranked for a rail, each choice explained."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from litestar import post
from litestar.di import NamedDependency
from litestar.params import JSONBody
from msgspec import Meta

from stallkeep.api.auth import Caller
from stallkeep.api.money_views import money_view, to_view
from stallkeep.api.schemas import Body
from stallkeep.work import suggest_rail as work

if TYPE_CHECKING:
    RailSuggestion = Any
else:
    RailSuggestion = money_view(work.RailSuggestion)


class NewRailSuggestion(Body):
    """For which event, and how many pieces the rail holds."""

    event_id: UUID
    size: Annotated[int, Meta(ge=1, le=5000)]
    include_reserved: bool = False


@post("/v1/rail-suggestions", operation_id="suggestRail", tags=["events"], status_code=200)
async def suggest_rail(
    data: JSONBody[NewRailSuggestion], caller: NamedDependency[Caller]
) -> RailSuggestion:
    """Rank the stock for a rail by chance to sell, margin and time held.

    Pieces reserved for an online date are left out unless asked for. Nothing is stored: put the
    rail to take the suggestion, edited as you like.
    """
    wish = work.RailWish(
        event_id=data.event_id, size=data.size, include_reserved=data.include_reserved
    )
    async with caller.read_scope() as con:
        found = await work.suggest_rail(con, caller.shop, wish, caller.today())
    return to_view(found, caller.shop.currency)


ROUTES = (suggest_rail,)
