"""Imports: see what became of files, undo one; and the importers installed here."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Final
from uuid import UUID

from litestar import Request, Response, delete, get
from litestar.di import NamedDependency
from litestar.params import FromPath, QueryParameter

from stallkeep.api.auth import FOR_HELPERS, Caller
from stallkeep.api.pages import Cursor, Limit, Page, page, read_cursor
from stallkeep.api.schemas import Moment, View
from stallkeep.store import imports as store
from stallkeep.work.choose_importer import KnownImporter, known_importers
from stallkeep.work.read_import import list_imports as known_imports
from stallkeep.work.read_import import read_import
from stallkeep.work.undo_import import undo_import

TAGS: Final = ["imports"]


class Import(View):
    """One file and what became of it: rows_read = taken + known + rejected + skipped."""

    id: UUID
    importer: str
    channel_id: UUID | None
    event_id: UUID | None
    file_name: str
    file_bytes: int
    state: str
    rows_read: int
    taken: int
    changed: int
    known: int
    rejected: int
    skipped: int
    skips: dict[str, int]
    bytes_read: int
    layout: dict[str, Any] | None
    notices: list[dict[str, Any]]
    problem: dict[str, Any] | None
    started_at: Moment
    finished_at: Moment | None


def import_view(row: store.Import) -> Import:
    """Show an import."""
    return Import(**{name: getattr(row, name) for name in Import.__struct_fields__})


@get("/v1/imports", operation_id="listImports", tags=TAGS, opt=FOR_HELPERS)
async def list_imports(
    request: Request[Any, Any, Any],
    caller: NamedDependency[Caller],
    limit: Limit = 50,
    cursor: Cursor = None,
) -> Response[Page[Import]]:
    """List imports, newest first."""
    after = read_cursor(cursor, tuple[dt.datetime, UUID])
    rows = await known_imports(caller.pool, caller.shop.shop_id, limit, after)
    return page(request, rows, limit, import_view, lambda row: (row.started_at, row.id))


@get("/v1/imports/{import_id:uuid}", operation_id="readImport", tags=TAGS, opt=FOR_HELPERS)
async def get_import(import_id: FromPath[UUID], caller: NamedDependency[Caller]) -> Import:
    """Read one import; while it runs, how far it has come."""
    return import_view(await read_import(caller.pool, caller.shop.shop_id, import_id))


@delete("/v1/imports/{import_id:uuid}", operation_id="undoImport", tags=TAGS, status_code=200)
async def delete_import(
    import_id: FromPath[UUID],
    caller: NamedDependency[Caller],
    release: Annotated[
        bool, QueryParameter(description="Also release matches of its rows")
    ] = False,
) -> Import:
    """Undo an import as a whole: what it brought goes, what it changed is as before."""
    done = await undo_import(caller.pool, caller.shop, import_id, release=release)
    return import_view(done)


@get("/v1/importers", operation_id="listImporters", tags=TAGS, opt=FOR_HELPERS)
async def list_importers() -> list[KnownImporter]:
    """List the importers installed here, and those that failed to load."""
    return known_importers()


ROUTES = (list_imports, get_import, delete_import, list_importers)
