"""The page behind each problem's type."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from litestar import MediaType, Response, get
from litestar.params import FromPath

from stallkeep.api.auth import FOR_ANYBODY
from stallkeep.api.page_frame import frame
from stallkeep.api.problems import PREFIX, status_of
from stallkeep.domain.errors import ProblemNotFoundError, StallkeepError


def kinds(base: type[StallkeepError] = StallkeepError) -> Iterator[type[StallkeepError]]:
    """Yield every class of error there is, the base apart."""
    for kind in base.__subclasses__():
        yield kind
        yield from kinds(kind)


@get(
    "/problems/{code:str}",
    media_type=MediaType.HTML,
    opt=FOR_ANYBODY,
    include_in_schema=False,
)
async def read_problem_page(code: FromPath[str]) -> Response[str]:
    """Say in words what a kind of problem means."""
    for kind in kinds():
        if kind.code == code:
            return Response(_page(kind), media_type=MediaType.HTML)
    raise ProblemNotFoundError(f"No problem is called {code[:60]!r}")


def _page(kind: type[StallkeepError]) -> str:
    meaning = " ".join((kind.__doc__ or "").split())
    return frame(
        kind.title,
        f"<h1>{escape(kind.title)}</h1><p>{escape(meaning)}</p>"
        f"<p>Status {status_of(kind)}, type <code>{escape(PREFIX + kind.code)}</code></p>"
        '<p><a href="/docs">All requests</a></p>',
    )


ROUTES = (read_problem_page,)
