"""Keyset lists: filters that may be left out, and going on after the last row seen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Generic, TypeVar

import msgspec
from sqlalchemy import Column, ColumnElement, Table, bindparam, select, tuple_

from stallkeep.store.connection import Connection
from stallkeep.store.query import Query
from stallkeep.store.statements import columns_of, here

RowT = TypeVar("RowT", bound=msgspec.Struct)

Words = Mapping[str, ColumnElement[bool]]
Condition = ColumnElement[bool] | Words


class KeysetList(Generic[RowT]):
    """A list of one table, newest first; each choice of filters is compiled once."""

    def __init__(
        self,
        table: Table,
        into: type[RowT],
        order: Sequence[Column[Any]],
        filters: Mapping[str, Condition],
    ) -> None:
        """Describe the list.

        Args:
            table: Where the rows are.
            into: What a row becomes.
            order: Columns of the sort key, the last one unique; the highest come first.
            filters: Name → condition with a ``bindparam`` of that name, or name → word →
                condition without one, written out so that a partial index can serve it.
        """
        self._table = table
        self._into = into
        self._order = order
        self._filters = filters
        self._compiled: dict[tuple[object, ...], Query[RowT]] = {}

    async def read(
        self,
        con: Connection,
        shop_id: object,
        filters: Mapping[str, object],
        *,
        after: Sequence[object] | None,
        limit: int,
    ) -> list[RowT]:
        """Read *limit* rows and one more, if there is one.

        Args:
            con: In the shop's scope.
            shop_id: The shop.
            filters: Values by name; None does not filter.
            after: Sort key of the last row seen, None from the start.
            limit: Rows wanted.
        """
        used = {name: value for name, value in filters.items() if value is not None}
        words = {n: v for n, v in used.items() if isinstance(self._filters[n], Mapping)}
        values = {n: v for n, v in used.items() if n not in words}
        choice = (tuple(sorted(words.items())), tuple(sorted(values)), after is not None)
        if choice not in self._compiled:
            self._compiled[choice] = self._compile(words, list(values), goes_on=after is not None)
        place = {f"after_{i}": value for i, value in enumerate(after or ())}
        query = self._compiled[choice]
        return await query.all(con, shop_id=shop_id, rows=limit + 1, **values, **place)

    def _compile(
        self, words: Mapping[str, object], names: Sequence[str], *, goes_on: bool
    ) -> Query[RowT]:
        found = select(*columns_of(self._table, self._into)).where(here(self._table))
        for name in [*words, *names]:
            condition = self._filters[name]
            if isinstance(condition, Mapping):
                condition = condition[str(words[name])]
            found = found.where(condition)
        if goes_on:
            last = [bindparam(f"after_{i}", type_=c.type) for i, c in enumerate(self._order)]
            found = found.where(tuple_(*self._order) < tuple_(*last))
        ordered = found.order_by(*(column.desc() for column in self._order))
        return Query(ordered.limit(bindparam("rows")), self._into)
