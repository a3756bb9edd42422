"""How statements run: one asyncpg pool, a transaction per shop scope, statements compiled once.

SQLAlchemy Core describes a statement, asyncpg runs it. Session state (a plain ``set``, session
advisory locks, ``listen``) survives the pool's cheap reset: use a connection of your own for it.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import AsyncExitStack, asynccontextmanager, contextmanager, suppress
from typing import Any, Final, Literal, TypeAlias
from uuid import UUID

import asyncpg
import msgspec

from stallkeep.domain.errors import UnavailableError
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.roles import refuse_strong_role

__all__ = ["Connection", "DatabaseUnavailableError", "NoRoomError", "Pool", "constraint_of"]
__all__ += [
    "ending_with",
    "is_gone",
    "open_pool",
    "read_scope",
    "scope",
    "telling_loss",
    "telling_refusals",
]

Isolation: TypeAlias = Literal["read committed", "repeatable read", "serializable"]

LOST = (
    asyncpg.PostgresConnectionError,
    asyncpg.AdminShutdownError,
    asyncpg.CrashShutdownError,
    asyncpg.CannotConnectNowError,
    asyncpg.TooManyConnectionsError,
    asyncpg.InternalClientError,  # a connection used at the very moment at which it ends
)


NOT_REACHED: Final = "It cannot be reached at the moment; try again shortly"
GONE_MEANWHILE: Final = "It went away meanwhile and nothing was changed; try again shortly"
GONE_AT_THE_END: Final = (
    "It went away at the last moment, and whether the change was made is not known: look before "
    "asking again, or ask again with the same Idempotency-Key"
)


NO_ROOM: Final = "Nothing was changed; make room for the database, then try again"


class DatabaseUnavailableError(UnavailableError):
    """The database does not answer."""

    code = "database-unavailable"
    title = "The database does not answer"


class NoRoomError(UnavailableError):
    """The database's disk or memory is full, or a limit of its settings is reached."""

    code = "database-has-no-room"
    title = "The database has no room left"


@asynccontextmanager
async def open_pool(
    url: str, *, role: str | None = None, max_size: int = 10
) -> AsyncIterator[Pool]:
    """Open the pool and close it again.

    Args:
        url: ``postgresql://`` address.
        role: Role to take on from the first moment; None to stay whom *url* names.
        max_size: Connections at most; further askers wait for one.

    Raises:
        DatabaseUnavailableError: The database does not answer, or does not let us in.
        StrongRoleError: The role could see over the walls between shops.
    """
    settings = {"application_name": "stallkeep", **({"role": role} if role else {})}
    with telling_refusals():
        pool = await asyncpg.create_pool(
            url,
            min_size=0,  # where some are to be held open, the pool logs a traceback at each outage
            max_size=max_size,
            init=_teach_json,
            reset=_reset,
            server_settings=settings,
        )
    try:
        with telling_refusals():
            async with pool.acquire() as con:
                await refuse_strong_role(con)
        yield pool
    finally:
        await pool.close()


@asynccontextmanager
async def scope(
    pool: Pool, shop_id: UUID, *, isolation: Isolation = "read committed"
) -> AsyncIterator[Connection]:
    """One transaction that sees and changes one shop's rows; left by an error, nothing stays.

    Raises:
        DatabaseUnavailableError: The database is not there or goes away meanwhile.
    """
    async with _transaction(pool, f"isolation level {isolation}", shop_id) as con:
        yield con


@asynccontextmanager
async def read_scope(pool: Pool, shop_id: UUID) -> AsyncIterator[Connection]:
    """One transaction that only reads one shop's rows, all as they stood at the same moment.

    Raises:
        DatabaseUnavailableError: The database is not there or goes away meanwhile.
    """
    mode = "isolation level repeatable read, read only"
    async with _transaction(pool, mode, shop_id, NOT_REACHED) as con:
        yield con


@asynccontextmanager
async def _transaction(
    pool: Pool, mode: str, shop_id: UUID, gone_at_the_end: str = GONE_AT_THE_END
) -> AsyncIterator[Connection]:
    # Both statements travel in one trip; a UUID's text holds nothing that needs quoting.
    begin = f"begin {mode}; set local app.shop_id = '{UUID(str(shop_id))}'"
    async with AsyncExitStack() as held:
        with telling_loss():
            con = await held.enter_async_context(pool.acquire())
            await con.execute(begin)
        try:
            yield con
        except BaseException as error:
            with suppress(asyncpg.PostgresError, asyncpg.InterfaceError, OSError):
                await con.execute("rollback")
            if isinstance(error, asyncpg.InsufficientResourcesError):
                raise NoRoomError(NO_ROOM) from error
            if _is_told(error) or not is_gone(con):
                raise
            raise DatabaseUnavailableError(GONE_MEANWHILE) from error
        with telling_loss(gone_at_the_end):
            await con.execute("commit")


@asynccontextmanager
async def ending_with(con: Connection) -> AsyncIterator[None]:
    """End what is done on a connection soon after it is lost, inside its scope.

    Statements end by themselves. A COPY that waits for the server to take more bytes does not: the
    driver (asyncpg 0.32) waits for ever then.
    """
    loop = asyncio.get_running_loop()
    async with asyncio.timeout(None) as limit:

        def lost(_: object) -> None:
            limit.reschedule(loop.time() + GRACE_SECONDS)

        con.add_termination_listener(lost)
        try:
            yield
        finally:
            with suppress(asyncpg.InterfaceError):  # the pool has taken a lost one back already
                con.remove_termination_listener(lost)


GRACE_SECONDS: Final = 1.0


def is_gone(con: Connection) -> bool:
    """Whether a connection is lost; nothing asks the server."""
    try:
        return con.is_closed()
    except asyncpg.InterfaceError:  # the pool has taken it back, as it does with lost ones
        return True


def _is_told(error: BaseException) -> bool:
    return isinstance(error, DatabaseUnavailableError) or not isinstance(error, Exception)


@contextmanager
def telling_loss(detail: str = NOT_REACHED) -> Iterator[None]:
    """Around the driver's calls alone: turn a lost connection into the error answered with 503.

    The driver's own words name hosts and ports; they are kept as its cause, for the log.
    """
    try:
        yield
    except (OSError, *LOST) as error:
        raise DatabaseUnavailableError(detail) from error
    except asyncpg.InterfaceError as error:
        if isinstance(error, asyncpg.DataError):
            raise
        raise DatabaseUnavailableError(detail) from error


def constraint_of(error: BaseException) -> str | None:
    """Name of the constraint that a statement broke, None where it was no constraint."""
    name: str | None = getattr(error, "constraint_name", None)
    return name if isinstance(error, asyncpg.IntegrityConstraintViolationError) else None


@contextmanager
def telling_refusals() -> Iterator[None]:
    """Likewise while the service starts, for whoever started it: with the driver's words."""
    try:
        with telling_loss():
            yield
    except DatabaseUnavailableError as error:
        raise DatabaseUnavailableError(f"It cannot be reached: {error.__cause__}") from error
    except asyncpg.PostgresError as error:
        raise DatabaseUnavailableError(f"It does not let us in: {error}") from error


async def _teach_json(con: Any) -> None:  # noqa: ANN401 - the driver's own connection
    """Carry json and jsonb as Python values; binary, because COPY takes no other codec."""
    for name, mark in (("json", b""), ("jsonb", b"\x01")):  # jsonb's format has a version byte

        def encode(value: object, mark: bytes = mark) -> bytes:
            return mark + msgspec.json.encode(value)

        def decode(data: bytes, mark: bytes = mark) -> object:
            return msgspec.json.decode(data[len(mark) :])

        await con.set_type_codec(
            name, schema="pg_catalog", encoder=encode, decoder=decode, format="binary"
        )


async def _reset(con: Connection) -> None:
    """Leave no transaction open; the driver's own reset costs a further trip each time."""
    if con.is_in_transaction():
        await con.execute("rollback")
