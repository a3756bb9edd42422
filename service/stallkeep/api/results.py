"""What an event earned."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

from litestar import get
from litestar.di import NamedDependency
from litestar.params import FromPath, QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.money_views import money_view, to_view
from stallkeep.domain import results
from stallkeep.work.event_result import event_result

if TYPE_CHECKING:
    EventResult = Any
else:
    EventResult = money_view(results.EventResult)


@get(
    "/v1/events/{event_id:uuid}/result",
    operation_id="readResult",
    tags=["events"],
    opt=FOR_HELPERS,
)
async def get_result(
    event_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    explain: Annotated[
        bool, QueryParameter(description="Also give the lines each figure came from")
    ] = False,
) -> EventResult:
    """Read what an event earned, whole and by day; for one that is not over, the result so far.

    Arithmetic on what was entered, not tax or accounting advice.
    """
    async with caller.read_scope() as con:
        result = await event_result(con, caller.shop, event_id, explain=explain)
    return to_view(result, caller.shop.currency)


ROUTES = (get_result,)
