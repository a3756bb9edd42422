"""Rows that have an id: what is asked of every kind of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Generic, TypeVar
from uuid import UUID

import msgspec
from sqlalchemy import Table

from stallkeep.store.connection import Connection
from stallkeep.store.constraints import naming_constraints
from stallkeep.store.statements import add_row, change_row, find_by_id, remove_by_id

RowT = TypeVar("RowT", bound=msgspec.Struct)


class Rows(Generic[RowT]):
    """The rows of one table, each handed out as a struct."""

    def __init__(self, table: Table, into: type[RowT]) -> None:
        self._find = find_by_id(table, into)
        self._lock = find_by_id(table, into, lock=True)
        self._add = add_row(table, into)
        self._change = change_row(table, into)
        self._remove = remove_by_id(table)

    async def find(self, con: Connection, shop_id: UUID, row_id: UUID) -> RowT | None:
        """Read one row."""
        return await self._find.first(con, shop_id=shop_id, id=row_id)

    async def lock(self, con: Connection, shop_id: UUID, row_id: UUID) -> RowT | None:
        """Read one row; nobody changes it until the transaction ends."""
        return await self._lock.first(con, shop_id=shop_id, id=row_id)

    async def add(self, con: Connection, values: Mapping[str, object]) -> RowT:
        """Write a new row: *values* name its columns, shop and id among them."""
        return await self._add.one(con, values)

    async def change(
        self, con: Connection, shop_id: UUID, row_id: UUID, values: Mapping[str, object]
    ) -> RowT:
        """Change the columns named in *values*; none only counts the version up."""
        return await self._change.one(con, values, shop_id=shop_id, id=row_id)

    async def remove(self, con: Connection, shop_id: UUID, row_id: UUID) -> None:
        """Delete a row, and what goes with it.

        Raises:
            StallkeepError: Something refers to it, as `constraints.NAMED` has it.
        """
        with naming_constraints():
            await self._remove.execute(con, shop_id=shop_id, id=row_id)
