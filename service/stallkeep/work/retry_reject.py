"""Take a rejected row in after all, corrected, without the whole file."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.domain.errors import ConflictError, NotFoundError, RejectedInputError
from stallkeep.store import imports
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.shops import Shop
from stallkeep.work.choose_importer import choose_importer
from stallkeep.work.import_file import ImportOrder, Upload, import_file, options_for, told
from stallkeep.work.read_import import read_import
from stallkeep_importers.contract import ImportStop, Layout, Notice, Reject, Skip

_MARK: Final = """
update reject set state = $4
 where shop_id = $1 and import_id = $2 and record = $3 and state = 'open' returning true
"""


class RejectNotFoundError(NotFoundError):
    """The import has no such reject."""

    code = "reject-not-found"
    title = "No such rejected row"


class RejectSettledError(ConflictError):
    """The rejected row was taken or dismissed already."""

    code = "reject-settled"
    title = "The rejected row is settled already"


class StillRejectedError(RejectedInputError):
    """The corrected row cannot be taken either."""

    code = "still-rejected"
    title = "The row cannot be taken either"


async def retry_reject(  # noqa: PLR0917 - the row is named by three of them
    pool: Pool, shop: Shop, import_id: UUID, record: int, cells: Sequence[str], by: str
) -> imports.Import:
    """Read one corrected row as its file was read, and take it in.

    Args:
        pool: The service's pool.
        shop: The shop.
        import_id: The import that rejected the row.
        record: Record number of the row there.
        cells: The whole row, corrected.
        by: Who corrected it.

    Returns:
        The import of that one row.

    Raises:
        ImportNotFoundError: The shop has no such import.
        RejectNotFoundError: It rejected no such row.
        RejectSettledError: The row is taken or dismissed.
        StillRejectedError: It cannot be taken as corrected; the reason says why.
    """
    record_of = await read_import(pool, shop.shop_id, import_id)
    await _open_reject(pool, shop, import_id, record)
    file, answers = _as_file(record_of, cells)
    name = f"{record_of.file_name}, record {record}"
    _check(shop, record_of.importer, name, file, answers)
    order = ImportOrder(
        importer=record_of.importer,
        channel_id=record_of.channel_id,
        event_id=record_of.event_id,
        answers=answers,
        by=by,
        remember=False,
    )

    async def settle(con: Connection, done: imports.Import) -> None:
        if done.rejected:
            raise StillRejectedError("The corrected row belongs nowhere yet")
        await _mark(con, shop, import_id, record, "taken")
        note = imports.corrected_note(import_id, record, record_of.file_name)
        values = {"notices": [*done.notices, note]}
        await imports.change_import(con, shop.shop_id, done.id, values)

    upload = Upload(io.BytesIO(file), name, len(file))
    return await import_file(pool, shop, upload, order, seal=settle)


async def dismiss_reject(pool: Pool, shop: Shop, import_id: UUID, record: int) -> None:
    """Say that a rejected row is not wanted; it stays readable.

    Raises:
        RejectNotFoundError: The import rejected no such row.
        RejectSettledError: The row is taken or dismissed.
    """
    await read_import(pool, shop.shop_id, import_id)
    await _open_reject(pool, shop, import_id, record)
    async with scope(pool, shop.shop_id) as con:
        await _mark(con, shop, import_id, record, "dismissed")


async def _open_reject(pool: Pool, shop: Shop, import_id: UUID, record: int) -> None:
    async with read_scope(pool, shop.shop_id) as con:
        found = await imports.list_rejects(con, shop.shop_id, import_id, 1, record - 1)
    if not found or found[0].record != record:
        raise RejectNotFoundError(f"The import rejected no record {record}")
    if found[0].state != "open":
        raise RejectSettledError(f"Record {record} is {found[0].state}", state=found[0].state)


async def _mark(con: Connection, shop: Shop, import_id: UUID, record: int, state: str) -> None:
    """Settle it unless somebody was quicker."""
    if await con.fetchval(_MARK, shop.shop_id, import_id, record, state) is None:
        raise RejectSettledError(f"Record {record} has been settled meanwhile")


def _as_file(record: imports.Import, cells: Sequence[str]) -> tuple[bytes, dict[str, Any]]:
    """Write a table of the headings and the one row, and how it is to be read."""
    if record.layout is None or not record.layout.get("columns"):
        raise StillRejectedError("Only rows of tables can be corrected one by one")
    layout = msgspec.convert(record.layout, Layout)
    if len(cells) != len(layout.columns):
        raise StillRejectedError(
            f"The row has {len(cells)} cells, the table {len(layout.columns)} columns",
            columns=[column.header for column in layout.columns],
        )
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow([column.header for column in layout.columns])
    writer.writerow(cells)
    columns = {c.field: f"#{c.index + 1}" for c in layout.columns if c.field and not c.personal}
    settled = {"decimal_mark": layout.decimal_mark, "date_order": layout.date_order}
    answers = {
        **{name: value for name, value in settled.items() if value is not None},
        **record.options,
        "columns": columns,
        "delimiter": ",",
        "encoding": "utf-8",
        "header_record": 1,
    }
    return out.getvalue().encode(), answers


def _check(shop: Shop, importer: str, name: str, file: bytes, answers: dict[str, Any]) -> None:
    """Read it once without taking anything in.

    Raises:
        StillRejectedError: The row would be rejected or skipped again.
    """
    options = options_for(shop, name, answers)
    reading = choose_importer(importer, file, options).read(io.BytesIO(file), options)
    try:
        outcomes = [one for one in reading if not isinstance(one, Layout | Notice)]
    except ImportStop as stop:
        raise told(stop) from stop
    for outcome in outcomes:
        if isinstance(outcome, Reject):
            raise StillRejectedError(
                outcome.reason, advice=outcome.advice, column=outcome.column, value=outcome.value
            )
    if all(isinstance(outcome, Skip) for outcome in outcomes):
        raise StillRejectedError("Corrected like this, the row would be skipped")
