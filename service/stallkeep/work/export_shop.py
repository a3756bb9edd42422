"""Take everything away: a table as CSV, or all of them as a frictionless data package.

Source:
    Data Package and Table Schema of the Frictionless Data project, tabular data package profile;
    the words of the descriptor are from memory of that standard.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import io
import zipfile
from collections.abc import Iterable
from typing import Any, Final

import msgspec

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.errors import NotFoundError
from stallkeep.domain.money import to_text
from stallkeep.domain.safe_csv import csv_text
from stallkeep.store.connection import Connection, Row
from stallkeep.store.export_tables import EXPORTS, ExportColumn, ExportTable, exported_rows
from stallkeep.store.shops import Shop

PACKAGE: Final = "package.zip"
FILES: Final = (*(f"{name}.csv" for name in EXPORTS), PACKAGE)
_TYPES: Final = {
    "money": {"type": "number"},
    "integer": {"type": "integer"},
    "number": {"type": "number"},
    "boolean": {"type": "boolean"},
    "date": {"type": "date"},
    "moment": {"type": "datetime"},
    "time": {"type": "time"},
    "uuid": {"type": "string", "format": "uuid"},
    "json": {"type": "any"},
    "text": {"type": "string"},
}
_ABOUT: Final = (
    "Everything the shop has. Amounts are decimals of the shop's currency, moments are in UTC. "
    "Columns of type any hold JSON, where amounts are whole minor units. A cell that a spreadsheet "
    "would run as a formula has an apostrophe before it. "
)


class ExportNotFoundError(NotFoundError):
    """There is no export of this name."""

    code = "export-not-found"
    title = "No such export"


class Export(msgspec.Struct, frozen=True):
    """A file to take away."""

    name: str
    media_type: str
    content: bytes


async def export_file(con: Connection, shop: Shop, name: str, now: dt.datetime) -> Export:
    """Make one of `FILES`.

    Raises:
        ExportNotFoundError: *name* is none of them.
    """
    if name == PACKAGE:
        return await _package(con, shop, now)
    table = EXPORTS.get(name.removesuffix(".csv"))
    if table is None or not name.endswith(".csv"):
        raise ExportNotFoundError(f"There is no export {name!r}; there are {', '.join(FILES)}")
    rows = await exported_rows(con, shop.shop_id, table)
    content = await asyncio.to_thread(_csv, table, rows, shop.currency)
    return Export(name, "text/csv", content)


async def _package(con: Connection, shop: Shop, now: dt.datetime) -> Export:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as package:
        package.writestr(_entry("datapackage.json", now), _descriptor(shop, now))
        for table in EXPORTS.values():
            rows = await exported_rows(con, shop.shop_id, table)
            await asyncio.to_thread(_add, package, table, rows, shop.currency, now)
    return Export(PACKAGE, "application/zip", stream.getvalue())


def _add(
    package: zipfile.ZipFile,
    table: ExportTable,
    rows: Iterable[Row],
    currency: str,
    now: dt.datetime,
) -> None:
    package.writestr(_entry(f"{table.name}.csv", now), _csv(table, rows, currency))


def _entry(name: str, now: dt.datetime) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, now.timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


def _csv(table: ExportTable, rows: Iterable[Row], currency: str) -> bytes:
    """Write a table; money of a row that names a currency has that one's decimals."""
    names = [column.name for column in table.columns]
    own = names.index("currency") if "currency" in names else None
    is_money = [column.kind == "money" for column in table.columns]
    cells = (
        [
            ""
            if value is None
            else to_text(value, currency if own is None else row[own])
            if money
            else value
            for value, money in zip(row, is_money, strict=True)
        ]
        for row in rows
    )
    return csv_text(names, cells).encode()


def _descriptor(shop: Shop, now: dt.datetime) -> bytes:
    package = {
        "profile": "tabular-data-package",
        "name": "stallkeep-shop",
        "title": shop.name,
        "description": _ABOUT + CAUTION,
        "created": now.isoformat(),
        "currency": shop.currency,
        "resources": [_resource(table) for table in EXPORTS.values()],
    }
    return msgspec.json.format(msgspec.json.encode(package), indent=1)


def _resource(table: ExportTable) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "fields": [_field(column) for column in table.columns],
        "missingValues": [""],
    }
    if table.key:
        schema["primaryKey"] = list(table.key)
    if table.links:
        schema["foreignKeys"] = [
            {
                "fields": list(link.columns),
                "reference": {"resource": link.table, "fields": list(link.target)},
            }
            for link in table.links
        ]
    return {
        "profile": "tabular-data-resource",
        "name": table.name,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": schema,
    }


def _field(column: ExportColumn) -> dict[str, Any]:
    # Text that must be there may still be empty, which reads as missing.
    required = column.required and column.kind != "text"
    constraints = {"constraints": {"required": True}} if required else {}
    return {"name": column.name, **_TYPES[column.kind], **constraints}
