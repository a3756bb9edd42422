"""What every table is made of. Tables, keys and indexes begin with ``shop_id`` by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    UniqueConstraint,
    Uuid,
    text,
)
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.schema import SchemaItem
from sqlalchemy.types import TypeEngine

metadata = MetaData(
    naming_convention={
        "ix": "%(table_name)s_%(column_0_N_name)s_ix",
        "uq": "%(table_name)s_%(column_0_N_name)s_key",
        "ck": "%(table_name)s_%(constraint_name)s",
        "fk": "%(table_name)s_%(column_0_N_name)s_fkey",
        "pk": "%(table_name)s_pkey",
    }
)


def table(name: str, *parts: SchemaItem) -> Table:
    """Describe a table of the shops' rows."""
    return Table(name, metadata, uuid("shop_id"), *parts)


def column(
    name: str, kind: TypeEngine[Any], *, null: bool = False, default: str | None = None
) -> Column[Any]:
    """Describe a column; *default* is an SQL expression."""
    return Column(
        name, kind, nullable=null, server_default=None if default is None else text(default)
    )


def uuid(name: str, *, null: bool = False) -> Column[Any]:
    """Describe an id."""
    return column(name, Uuid(), null=null)


def string(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    """Describe a text."""
    return column(name, Text(), null=null, default=default)


def bigint(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    """Describe an amount of money in minor units, or a large number."""
    return column(name, BigInteger(), null=null, default=default)


def integer(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    """Describe a number of pieces, a place in an order and the like."""
    return column(name, Integer(), null=null, default=default)


def moment(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    """Describe a moment, in UTC."""
    return column(name, DateTime(timezone=True), null=null, default=default)


def day(name: str, *, null: bool = False) -> Column[Any]:
    """Describe a day in the shop's zone."""
    return column(name, Date(), null=null)


def json(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    """Describe a value of several parts."""
    return column(name, JSONB(), null=null, default=default)


def created_at() -> Column[Any]:
    """Describe the moment a row was made."""
    return moment("created_at", default="now()")


def version() -> Column[Any]:
    """Describe the number that every change of a row counts up."""
    return integer("version", default="1")


def primary_key(*columns: str) -> PrimaryKeyConstraint:
    """Tell the shop's rows apart by these columns."""
    return PrimaryKeyConstraint("shop_id", *columns)


def unique(*columns: str) -> UniqueConstraint:
    """Let these values stand in one row of the shop only."""
    return UniqueConstraint("shop_id", *columns)


def index(
    *columns: str, name: str | None = None, where: str | None = None, is_unique: bool = False
) -> Index:
    """Find the shop's rows by these columns; with *where*, a part of them."""
    return Index(
        name,
        "shop_id",
        *columns,
        unique=is_unique,
        postgresql_where=None if where is None else text(where),
    )


def one_of(name: str, words: Sequence[str]) -> CheckConstraint:
    """Hold the column of this name to these words."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{name} in ({listed})", name=name)


def refers_to(table: str, column_name: str, *, cascade: bool = False) -> ForeignKeyConstraint:
    """Point a row to one of the same shop; with *cascade* it goes with that one."""
    return ForeignKeyConstraint(
        ["shop_id", column_name],
        [f"{table}.shop_id", f"{table}.id"],
        ondelete="CASCADE" if cascade else None,
    )


def of_shop() -> ForeignKeyConstraint:
    """Point a row to its shop."""
    return ForeignKeyConstraint(["shop_id"], ["shop.shop_id"])
