"""An event beside the shop's other events, and its pieces beside other channels."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from uuid import UUID

from litestar import get
from litestar.di import NamedDependency
from litestar.params import FromPath

from stallkeep.api.auth import Caller
from stallkeep.api.money_views import money_view, to_view
from stallkeep.work import compare_event as work

if TYPE_CHECKING:
    Comparison = Any
else:
    Comparison = money_view(work.Comparison)


@get("/v1/events/{event_id:uuid}/comparison", operation_id="compareEvent", tags=["events"])
async def compare_event(event_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Comparison:
    """Compare an event with the shop's others per day, and its pieces with other channels.

    The last 30 events that are over and the offers of the last two years are looked at. With at
    least two others of the same kind only those are compared. Arithmetic on what was entered, not
    tax or accounting advice.
    """
    async with caller.read_scope() as con:
        found = await work.compare_event(con, caller.shop, event_id, caller.today())
    return to_view(found, caller.shop.currency)


ROUTES = (compare_event,)
