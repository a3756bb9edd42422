"""A SQLAlchemy Core statement, compiled once and run by asyncpg.

Values go to the driver as they are, without SQLAlchemy's type processing: give and get the
driver's own Python values (UUID, int, str, date, zoned datetime; dict and list for jsonb). An
``in`` would need its values when it is compiled: write ``column == any_(bindparam("ids"))``.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Generic, TypeVar, cast, overload

from sqlalchemy import ClauseElement
from sqlalchemy.dialects.postgresql import asyncpg as dialect
from sqlalchemy.sql.compiler import SQLCompiler

from stallkeep.store.connection import Connection, Row

DIALECT = dialect.dialect()  # type: ignore[no-untyped-call]

T = TypeVar("T")
V = TypeVar("V")


class only(Generic[V]):  # noqa: N801 - reads as a word: Query(statement, only(int))
    """For a statement of one column: hand out its bare value, typed as *kind*, not converted."""

    def __init__(self, kind: Callable[..., V]) -> None:
        self.kind = kind

    def __call__(self, value: object) -> V:
        return cast("V", value)


class Query(Generic[T]):
    """A statement whose ``bindparam`` names are the keyword arguments of each run.

    Args:
        statement: Select, insert, update, delete or ``text``.
        into: What a row becomes: a struct or callable that is given the columns by name;
            ``only(int)`` for the value of a single column; a dict when left out.
    """

    @overload
    def __init__(self: Query[dict[str, Any]], statement: ClauseElement) -> None: ...
    @overload
    def __init__(self, statement: ClauseElement, into: Callable[..., T]) -> None: ...
    def __init__(self, statement: ClauseElement, into: Callable[..., Any] = dict) -> None:
        compiled = cast(
            "SQLCompiler",
            statement.compile(dialect=DIALECT, compile_kwargs={"render_postcompile": True}),
        )
        names = compiled.positiontup or []
        self.sql = str(compiled)
        self._names = list(names)
        self._fixed = {
            name: compiled.binds[name].effective_value
            for name in names
            if not compiled.binds[name].required
        }
        self._into = into
        self._make: Callable[[Row], T] | None = None  # known once a row shows the column names

    async def all(self, con: Connection, **values: object) -> list[T]:
        """Run it and make every row."""
        rows = await con.fetch(self.sql, *self._values(values))
        if not rows:
            return []
        make = self._maker(rows[0])
        return [make(row) for row in rows]

    async def first(self, con: Connection, **values: object) -> T | None:
        """Run it and make the first row, None where there is none."""
        row = await con.fetchrow(self.sql, *self._values(values))
        return None if row is None else self._maker(row)(row)

    async def one(self, con: Connection, **values: object) -> T:
        """Run it and make its only row; anything else is a fault of ours (LookupError)."""
        rows = await con.fetch(self.sql, *self._values(values))
        if len(rows) != 1:
            raise LookupError(f"{len(rows)} rows where one was expected: {self.sql}")
        return self._maker(rows[0])(rows[0])

    async def execute(self, con: Connection, **values: object) -> int:
        """Run it for its effect; returns the number of rows touched."""
        status = await con.execute(self.sql, *self._values(values))
        count = status.rpartition(" ")[2]
        return int(count) if count.isdigit() else 0

    async def execute_many(self, con: Connection, rows: Iterable[Mapping[str, object]]) -> None:
        """Run it once for each mapping of values, in one batch, all or nothing."""
        await con.executemany(self.sql, [self._values(row) for row in rows])

    def _values(self, given: Mapping[str, object]) -> list[object]:
        values = {**self._fixed, **given}
        if len(values) != len(self._names):
            unknown = values.keys() - set(self._names)
            if unknown:
                raise TypeError(f"no such parameters {sorted(unknown)} in: {self.sql}")
        return [values[name] for name in self._names]

    def _maker(self, row: Row) -> Callable[[Row], T]:
        if self._make is None:
            self._make = _maker(self._into, list(row.keys()))
        return self._make


def _maker(into: Callable[..., T], columns: list[str]) -> Callable[[Row], T]:
    """By place where the columns stand in the order of the parameters, else by name."""
    if isinstance(into, only) or _leading_parameters(into, len(columns)) == columns:
        return lambda row: into(*row)
    return lambda row: into(**row)


def _leading_parameters(into: Callable[..., object], count: int) -> list[str]:
    try:
        parameters = list(inspect.signature(into).parameters.values())[:count]
    except ValueError:  # a built-in without a signature
        return []
    places = (inspect.Parameter.POSITIONAL_ONLY, inspect.Parameter.POSITIONAL_OR_KEYWORD)
    return [p.name for p in parameters if p.kind in places]
