"""Imports and their rejects."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final
from uuid import UUID

import msgspec
from sqlalchemy import and_, bindparam, func, select, tuple_
from sqlalchemy.dialects.postgresql import insert

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.statements import add_row, columns_of, find_by_id, here, this
from stallkeep.store.tables import import_, import_progress, reject


class Import(msgspec.Struct, frozen=True, gc=False):
    """One file taken in, or refused. The counts always add up once it is done."""

    id: UUID
    importer: str
    channel_id: UUID | None
    event_id: UUID | None
    file_name: str
    file_bytes: int
    state: str
    options: dict[str, Any]
    layout: dict[str, Any] | None
    notices: list[dict[str, Any]]
    skips: dict[str, int]
    problem: dict[str, Any] | None
    rows_read: int
    taken: int
    changed: int
    known: int
    rejected: int
    skipped: int
    bytes_read: int
    started_at: dt.datetime
    finished_at: dt.datetime | None


class StoredReject(msgspec.Struct, frozen=True, gc=False):
    """A row an import could not take, kept whole."""

    import_id: UUID
    record: int
    line: int
    code: str
    column_name: str | None
    value: str | None
    reason: str
    advice: str
    cells: list[str]
    state: str


_ADD: Final = add_row(import_, Import)
_LOCK: Final = find_by_id(import_, Import, lock=True)
_NOTED: Final = {
    name: func.greatest(import_.c[name], import_progress.c[name]).label(name)
    for name in ("rows_read", "bytes_read")
}
_ALL: Final = (
    select(*(_NOTED.get(column.name, column) for column in columns_of(import_, Import)))
    .select_from(import_)
    .outerjoin(
        import_progress,
        and_(
            import_progress.c.shop_id == import_.c.shop_id,
            import_progress.c.import_id == import_.c.id,
        ),
    )
    .where(here(import_))
)
_FIND: Final = Query(_ALL.where(import_.c.id == bindparam("id")), Import)
_BY_AGE: Final = (import_.c.started_at.desc(), import_.c.id.desc())
_FIRST_PAGE: Final = Query(_ALL.order_by(*_BY_AGE).limit(bindparam("limit")), Import)
_NEXT_PAGE: Final = Query(
    _ALL.where(
        tuple_(import_.c.started_at, import_.c.id)
        < tuple_(bindparam("at", type_=import_.c.started_at.type), bindparam("last_id"))
    )
    .order_by(*_BY_AGE)
    .limit(bindparam("limit")),
    Import,
)
_REJECTS: Final = Query(
    select(*columns_of(reject, StoredReject))
    .where(
        here(reject),
        reject.c.import_id == bindparam("import_id"),
        reject.c.record > bindparam("after"),
    )
    .order_by(reject.c.record)
    .limit(bindparam("limit")),
    StoredReject,
)
_noted = insert(import_progress).values(
    {column.name: bindparam(column.name) for column in import_progress.columns}
)
_PROGRESS: Final = Query(
    _noted.on_conflict_do_update(
        index_elements=list(import_progress.primary_key),
        set_={name: _noted.excluded[name] for name in _NOTED},
    )
)
_RUNNING: Final = Query(
    select(*columns_of(import_, Import)).where(here(import_), import_.c.state == "running"), Import
)


CORRECTED: Final = "corrected-row"
_CORRECTED: Final = """
select id from import where shop_id = $1 and state = 'done' and notices @> $2::jsonb
 order by started_at, id for update
"""


async def start_import(con: Connection, values: Mapping[str, object]) -> Import:
    """Write down that a file is being taken in."""
    return await _ADD.one(con, values)


async def find_import(con: Connection, shop_id: UUID, import_id: UUID) -> Import | None:
    """Read one import."""
    return await _FIND.first(con, shop_id=shop_id, id=import_id)


async def lock_import(con: Connection, shop_id: UUID, import_id: UUID) -> Import | None:
    """Read one import; nobody changes it until the transaction ends."""
    return await _LOCK.first(con, shop_id=shop_id, id=import_id)


async def change_import(
    con: Connection, shop_id: UUID, import_id: UUID, values: Mapping[str, object]
) -> Import:
    """Set columns of an import."""
    new: dict[str, Any] = {name: bindparam(f"new_{name}") for name in values}
    query: Query[Import] = Query(
        import_.update().where(this(import_)).values(new).returning(*columns_of(import_, Import)),
        Import,
    )
    given = {f"new_{name}": value for name, value in values.items()}
    return await query.one(con, shop_id=shop_id, id=import_id, **given)


async def note_progress(
    con: Connection, shop_id: UUID, import_id: UUID, rows: int, bytes_read: int
) -> None:
    """Write how far a running import has come."""
    await _PROGRESS.execute(
        con, shop_id=shop_id, import_id=import_id, rows_read=rows, bytes_read=bytes_read
    )


async def running_imports(con: Connection, shop_id: UUID) -> list[Import]:
    """List imports that say they are running."""
    return await _RUNNING.all(con, shop_id=shop_id)


async def list_imports(
    con: Connection, shop_id: UUID, limit: int, after: tuple[dt.datetime, UUID] | None
) -> list[Import]:
    """List imports, newest first, one more than *limit* if there are."""
    if after is None:
        return await _FIRST_PAGE.all(con, shop_id=shop_id, limit=limit + 1)
    return await _NEXT_PAGE.all(
        con, shop_id=shop_id, at=after[0], last_id=after[1], limit=limit + 1
    )


async def list_rejects(
    con: Connection, shop_id: UUID, import_id: UUID, limit: int, after: int
) -> list[StoredReject]:
    """List rejects by record number, one more than *limit* if there are."""
    return await _REJECTS.all(
        con, shop_id=shop_id, import_id=import_id, after=after, limit=limit + 1
    )


def corrected_note(import_id: UUID, record: int, file_name: str) -> dict[str, str]:
    """Note on the import of one row that it is a row of another import, corrected."""
    text = f"Record {record} of {file_name}, corrected by hand; it is undone with that import."
    return {"code": CORRECTED, "text": text, "import_id": str(import_id)}


async def corrected_rows_of(con: Connection, shop_id: UUID, import_id: UUID) -> list[UUID]:
    """List the imports of single rows that were rejected by this one, not undone, and lock them."""
    note = [{"code": CORRECTED, "import_id": str(import_id)}]
    rows = await con.fetch(_CORRECTED, shop_id, note)
    return [row["id"] for row in rows]
