"""Everything a shop has, table by table, as texts: for taking it away."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, Literal, TypeAlias
from uuid import UUID

import msgspec
from sqlalchemy import (
    ARRAY,
    BigInteger,
    Boolean,
    Column,
    Date,
    DateTime,
    Double,
    Integer,
    LargeBinary,
    Table,
    Time,
    Uuid,
)
from sqlalchemy.dialects.postgresql import JSONB

from stallkeep.store import tables
from stallkeep.store.connection import Connection, Row

ColumnKind: TypeAlias = Literal[
    "money", "integer", "number", "boolean", "date", "moment", "time", "uuid", "json", "text"
]

_TABLES: Final[Mapping[str, Table]] = {
    "shop": tables.shop,
    "channels": tables.channel,
    "fee_schedules": tables.fee_schedule,
    "items": tables.item,
    "batches": tables.batch,
    "listings": tables.listing,
    "events": tables.event,
    "event_days": tables.event_day,
    "rails": tables.rail,
    "stubs": tables.stub,
    "costs": tables.cost,
    "cost_parts": tables.cost_part,
    "imports": tables.import_,
    "rejects": tables.reject,
    "transactions": tables.transaction,
    "transaction_versions": tables.transaction_version,
    "reconciliations": tables.reconciliation,
    "sales": tables.sale,
    "sale_lines": tables.sale_line,
    "matches": tables.match,
    "match_items": tables.match_item,
    "rulings": tables.ruling,
    "piece_rulings": tables.piece_ruling,
    "conflicts": tables.conflict,
    "column_maps": tables.column_map,
}
"""All but tokens, which are secrets, and what can be made again: answers kept, progress,
and what the matching of channels remembers."""

_KINDS: Final[tuple[tuple[type, ColumnKind], ...]] = (
    (Boolean, "boolean"),
    (BigInteger, "integer"),
    (Integer, "integer"),
    (Double, "number"),
    (DateTime, "moment"),
    (Date, "date"),
    (Time, "time"),
    (Uuid, "uuid"),
    (JSONB, "json"),
    (ARRAY, "json"),
)
_MINOR: Final = "_minor"


class ExportColumn(msgspec.Struct, frozen=True):
    """A column: its name in the export, and what its texts are."""

    name: str
    kind: ColumnKind
    required: bool


class ForeignKey(msgspec.Struct, frozen=True):
    """Columns whose values stand in another table's columns."""

    columns: tuple[str, ...]
    table: str
    target: tuple[str, ...]


class ExportTable(msgspec.Struct, frozen=True):
    """A table as it is exported, without the shop's own id on every row.

    Attributes:
        name: In the plural.
        columns: In the order of the rows.
        key: Columns that tell rows apart; empty for the shop itself.
        links: To other exported tables.
        sql: Statement that reads it, the shop being its only parameter.
    """

    name: str
    columns: tuple[ExportColumn, ...]
    key: tuple[str, ...]
    links: tuple[ForeignKey, ...]
    sql: str


def _kind(column: Column[Any]) -> ColumnKind:
    if column.name.endswith(_MINOR):
        return "money"
    return next((kind for of, kind in _KINDS if isinstance(column.type, of)), "text")


def _text(column: Column[Any]) -> str:
    """Write the expression that gives a column's text; money stays a number of minor units."""
    name = f'"{column.name}"'
    if column.name.endswith(_MINOR):
        return name
    if isinstance(column.type, DateTime):
        return f"to_char({name} at time zone 'UTC', 'YYYY-MM-DD\"T\"HH24:MI:SS.US\"Z\"')"
    if isinstance(column.type, LargeBinary):
        return f"encode({name}, 'hex')"
    if isinstance(column.type, ARRAY):
        return f"array_to_json({name})::text"
    return f"{name}::text"


def _short(name: str) -> str:
    return str(name).removesuffix(_MINOR)


def _export(name: str, table: Table) -> ExportTable:
    columns = [column for column in table.columns if column.name != "shop_id"]
    listed = ", ".join(_text(column) for column in columns)
    key = [str(column.name) for column in table.primary_key if column.name != "shop_id"]
    order = ", ".join(f'"{one}"' for one in key) or "shop_id"
    return ExportTable(
        name=name,
        columns=tuple(ExportColumn(_short(c.name), _kind(c), not c.nullable) for c in columns),
        key=tuple(key),
        links=_links(table),
        sql=f'select {listed} from "{table.name}" where shop_id = $1 order by {order}',  # noqa: S608 - names of our own tables
    )


def _links(table: Table) -> tuple[ForeignKey, ...]:
    names = {of.name: name for name, of in _TABLES.items()}
    found = []
    for constraint in table.foreign_key_constraints:
        pairs = [
            (str(element.parent.name), str(element.column.name))
            for element in constraint.elements
            if element.parent.name != "shop_id"
        ]
        target = names.get(constraint.referred_table.name)
        if pairs and target:
            own, theirs = zip(*pairs, strict=True)
            found.append(ForeignKey(own, target, theirs))
    return tuple(sorted(found, key=lambda link: link.columns))


EXPORTS: Final[Mapping[str, ExportTable]] = {
    name: _export(name, table) for name, table in _TABLES.items()
}


async def exported_rows(con: Connection, shop_id: UUID, table: ExportTable) -> list[Row]:
    """Read a table in the order of its key: texts, None, and money in minor units."""
    return await con.fetch(table.sql, shop_id)
