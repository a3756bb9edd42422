"""What the store needs of asyncpg's connection and pool, as types; asyncpg ships none."""

from __future__ import annotations

from collections.abc import AsyncIterable, Iterable, Iterator, Sequence
from contextlib import AbstractAsyncContextManager
from typing import Any, Protocol


class Row(Protocol):
    """One row of an answer: by place, by name, or spread with ``*`` and ``**``."""

    def __getitem__(self, key: Any) -> Any: ...  # noqa: ANN401 - a column may hold anything
    def __iter__(self) -> Iterator[Any]: ...
    def __len__(self) -> int: ...
    def keys(self) -> Iterable[str]: ...


class Connection(Protocol):
    """A connection inside a transaction, as ``scope`` hands it out."""

    async def execute(self, query: str, *args: object) -> str: ...
    async def executemany(self, command: str, args: Iterable[Sequence[object]]) -> None: ...
    async def fetch(self, query: str, *args: object) -> list[Row]: ...
    async def fetchrow(self, query: str, *args: object) -> Row | None: ...
    async def fetchval(self, query: str, *args: object) -> Any: ...  # noqa: ANN401 - likewise
    async def copy_records_to_table(
        self,
        table_name: str,
        *,
        records: Iterable[Sequence[object]],
        columns: Sequence[str] | None = None,
        schema_name: str | None = None,
    ) -> str: ...
    async def copy_to_table(
        self, table_name: str, *, source: AsyncIterable[bytes], columns: Sequence[str]
    ) -> str: ...
    def is_in_transaction(self) -> bool: ...
    def is_closed(self) -> bool: ...


class Pool(Protocol):
    """A pool of connections, as ``open_pool`` hands it out."""

    def acquire(
        self, *, timeout: float | None = None
    ) -> AbstractAsyncContextManager[Connection]: ...
    def get_size(self) -> int: ...
    def get_idle_size(self) -> int: ...
