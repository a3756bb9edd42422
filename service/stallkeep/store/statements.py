"""Statements that only depend on a table and on which of its columns are meant."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Generic, TypeVar

import msgspec
from sqlalchemy import ClauseElement, Column, ColumnElement, Delete, Table, bindparam, select

from stallkeep.store.connection import Connection
from stallkeep.store.constraints import naming_constraints
from stallkeep.store.query import Query

RowT = TypeVar("RowT", bound=msgspec.Struct)


def columns_of(table: Table, into: type[msgspec.Struct]) -> list[Column[Any]]:
    """List the columns that a struct holds, in the order of its fields."""
    return [table.c[name] for name in into.__struct_fields__]


def here(table: Table) -> ColumnElement[bool]:
    """Say "in this shop", which leads every index; the policy says so a second time."""
    return table.c.shop_id == bindparam("shop_id")


def this(table: Table) -> ColumnElement[bool]:
    """Say "in this shop, the row with this id"."""
    return here(table) & (table.c.id == bindparam("id"))


def find_by_id(table: Table, into: type[RowT], *, lock: bool = False) -> Query[RowT]:
    """Read one row of the shop; with *lock*, nobody changes it until the transaction ends."""
    found = select(*columns_of(table, into)).where(this(table))
    return Query(found.with_for_update() if lock else found, into)


def remove_by_id(table: Table) -> Query[dict[str, Any]]:
    """Delete one row of the shop."""
    removal: Delete = table.delete().where(this(table))
    return Query(removal)


def add_row(table: Table, into: type[RowT]) -> Writer[RowT]:
    """Write one row, its columns being whatever is given, and hand it back as it stands."""

    def statement(columns: frozenset[str]) -> ClauseElement:
        values: dict[str, Any] = {name: bindparam(f"new_{name}") for name in sorted(columns)}
        return table.insert().values(values).returning(*columns_of(table, into))

    return Writer(statement, into)


def change_row(
    table: Table, into: type[RowT], where: ColumnElement[bool] | None = None
) -> Writer[RowT]:
    """Change the given columns of the row with this id (or *where*) and count its version up."""
    which = this(table) if where is None else where

    def statement(columns: frozenset[str]) -> ClauseElement:
        values: dict[str, Any] = {name: bindparam(f"new_{name}") for name in sorted(columns)}
        counted = {"version": table.c.version + 1}
        changed = table.update().where(which).values(values | counted)
        return changed.returning(*columns_of(table, into))

    return Writer(statement, into)


class Writer(Generic[RowT]):
    """A statement that differs by the columns it writes; each choice is compiled once."""

    def __init__(
        self, statement: Callable[[frozenset[str]], ClauseElement], into: type[RowT]
    ) -> None:
        self._statement = statement
        self._into = into
        self._compiled: dict[frozenset[str], Query[RowT]] = {}

    async def one(self, con: Connection, values: Mapping[str, object], **keys: object) -> RowT:
        """Run it with *values* for the columns and *keys* for the row.

        Raises:
            StallkeepError: A constraint forbids it, as `NAMED` has it.
        """
        columns = frozenset(values)
        if columns not in self._compiled:
            self._compiled[columns] = Query(self._statement(columns), self._into)
        new = {f"new_{name}": value for name, value in values.items()}
        with naming_constraints():
            return await self._compiled[columns].one(con, **keys, **new)
