"""What has happened to a channel's sales and stock since its last run.

Triggers write it (``news_triggers``), a run takes it: what is committed later stays for the next.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterable
from contextlib import asynccontextmanager
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.store.connection import Connection

_TAKE: Final = """
delete from match_news where shop_id = $1 and channel_id = $2 returning kind, subject, term
"""
_STRIKE: Final = "delete from match_news where shop_id = $1 and channel_id = $2"
# Every statement of a run starts from a few ids and joins in the order it is written. Without
# statistics, or with old ones, the server might read whole tables instead; and a plan it made while
# a table was empty would go on when the run has filled it.
_BEGIN: Final = """
set local app.matching = '{}';
set local enable_seqscan = off; set local enable_hashjoin = off; set local enable_mergejoin = off;
set local join_collapse_limit = 1; set local jit = off;
set local plan_cache_mode = force_custom_plan
"""
_END: Final = """
set local app.matching = '';
set local enable_seqscan = on; set local enable_hashjoin = on; set local enable_mergejoin = on;
set local join_collapse_limit = 8; set local jit = on;
set local plan_cache_mode = auto
"""


_WRITE: Final = "set local plan_cache_mode = auto"
_READ: Final = "set local plan_cache_mode = force_custom_plan"


class News(msgspec.Struct, frozen=True):
    """What is to be looked at.

    Attributes:
        everything: What all answers rest on has changed.
        imports: Imports whose rows came or changed.
        lines: Transactions that changed, went, or of which somebody said something.
        items: Items that changed, came on offer, or were sold or given back elsewhere.
        terms: Of sales that are gone.
    """

    everything: bool = False
    imports: frozenset[UUID] = frozenset()
    lines: frozenset[UUID] = frozenset()
    items: frozenset[UUID] = frozenset()
    terms: frozenset[int] = frozenset()

    def __bool__(self) -> bool:
        """True when there is any."""
        return self.everything or any((self.imports, self.lines, self.items, self.terms))


async def begin_run(con: Connection, channel_id: UUID) -> None:
    """Tell the triggers whose run this transaction is, and the planner to use indexes."""
    await con.execute(_BEGIN.format(channel_id))


async def end_run(con: Connection) -> None:
    """Put the transaction's settings back."""
    await con.execute(_END)


@asynccontextmanager
async def writing(con: Connection) -> AsyncIterator[None]:
    """Keep plans meanwhile: the checks of foreign keys, row by row, would each be planned anew."""
    await con.execute(_WRITE)
    yield
    await con.execute(_READ)


async def take_news(con: Connection, shop_id: UUID, channel_id: UUID) -> News:
    """Read the channel's news and strike it out."""
    rows = await con.fetch(_TAKE, shop_id, channel_id)

    def of(kind: str) -> Iterable[UUID]:
        return (row["subject"] for row in rows if row["kind"] == kind)

    return News(
        everything=any(row["kind"] == "all" for row in rows),
        imports=frozenset(of("import")),
        lines=frozenset(of("line")),
        items=frozenset(of("item")),
        terms=frozenset(row["term"] for row in rows if row["kind"] == "term"),
    )


async def strike_news(con: Connection, shop_id: UUID, channel_id: UUID) -> None:
    """Strike the channel's news out unread, where everything is looked at anyway."""
    await con.execute(_STRIKE, shop_id, channel_id)
