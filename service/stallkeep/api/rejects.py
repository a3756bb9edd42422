"""Rows that an import could not take: see them, take them in corrected, dismiss them."""

from __future__ import annotations

from typing import Annotated, Any
from uuid import UUID

from litestar import Request, Response, delete, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Meta

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.imports import TAGS, Import, import_view
from stallkeep.api.pages import Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Body, View
from stallkeep.store import imports as store
from stallkeep.work.read_import import read_import
from stallkeep.work.retry_reject import dismiss_reject, retry_reject

Cell = Annotated[str, Meta(max_length=10_000, pattern=r"^[^\x00]*$")]


class Reject(View):
    """A row that could not be taken, as it stood, and what to do about it."""

    record: int
    line: int
    code: str
    column: str | None
    value: str | None
    reason: str
    advice: str
    cells: list[str]
    state: str


class CorrectedRow(Body):
    """The whole row, corrected, cell by cell in the order of the table's columns."""

    cells: Annotated[list[Cell], Meta(min_length=1, max_length=500)]


def _reject(row: store.StoredReject) -> Reject:
    names = (name for name in Reject.__struct_fields__ if name != "column")
    return Reject(column=row.column_name, **{name: getattr(row, name) for name in names})


@get(
    "/v1/imports/{import_id:uuid}/rejects",
    operation_id="listRejects",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def list_rejects(
    request: Request[Any, Any, Any],
    import_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response[Page[Reject]]:
    """List the rows an import could not take, in file order, each with its reason."""
    after = read_cursor(cursor, tuple[int])
    await read_import(caller.pool, caller.shop.shop_id, import_id)
    async with caller.read_scope() as con:
        last = 0 if after is None else after[0]
        rows = await store.list_rejects(con, caller.shop.shop_id, import_id, limit, last)
    return page(request, rows, limit, _reject, lambda row: (row.record,))


@post(
    "/v1/imports/{import_id:uuid}/rejects/{record:int}/corrected",
    operation_id="retryReject",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def post_corrected(
    import_id: FromPath[UUID],
    record: FromPath[int],
    data: JSONBody[CorrectedRow],
    caller: NamedDependency[Caller],
) -> Response[Import]:
    """Take a rejected row in after all, corrected, without the whole file."""
    done = await retry_reject(caller.pool, caller.shop, import_id, record, data.cells, caller.name)
    return Response(import_view(done), headers={"Location": f"/v1/imports/{done.id}"})


@delete(
    "/v1/imports/{import_id:uuid}/rejects/{record:int}",
    operation_id="dismissReject",
    tags=TAGS,
    opt=FOR_HELPERS,
)
async def delete_reject(
    import_id: FromPath[UUID], record: FromPath[int], caller: NamedDependency[Caller]
) -> None:
    """Say that a rejected row is not wanted; it stays readable."""
    await dismiss_reject(caller.pool, caller.shop, import_id, record)


ROUTES = (list_rejects, post_corrected, delete_reject)
