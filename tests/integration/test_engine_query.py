"""Statements compiled once: what goes in, what comes out."""

from __future__ import annotations

import datetime as dt
from collections.abc import AsyncIterator
from uuid import UUID, uuid4

import msgspec
import pytest
import sqlalchemy as sa
from sqlalchemy import bindparam, func, literal, select
from sqlalchemy.dialects.postgresql import JSONB
from tests.database import Clone

from stallkeep.store.engine import Connection
from stallkeep.store.query import Query, only

pieces = sa.Table(
    "piece",
    sa.MetaData(),
    sa.Column("id", sa.Uuid, primary_key=True),
    sa.Column("title", sa.Text),
    sa.Column("price_minor", sa.BigInteger),
    sa.Column("facts", JSONB),
    sa.Column("added_at", sa.DateTime(timezone=True)),
)


class Piece(msgspec.Struct, frozen=True):
    id: UUID
    title: str
    price_minor: int


class Label(msgspec.Struct, frozen=True, kw_only=True):
    price_minor: int
    title: str


ADD = Query(
    pieces.insert().values(
        {c.name: bindparam(f"new_{c.name}") for c in pieces.c if c.name != "added_at"}
    )
)
ALL = Query(select(*pieces.c["id", "title", "price_minor"]).order_by(pieces.c.title), Piece)


@pytest.fixture
async def con(database: Clone) -> AsyncIterator[Connection]:
    async with database.pool.acquire() as made:
        await made.execute(
            "create temp table piece (id uuid primary key, title text, price_minor bigint,"
            " facts jsonb, added_at timestamptz default '2026-05-01T09:30:00+02:00')"
        )
        for title, price in (("bowl", 900), ("coat", 4000), ("jug", 900)):
            await ADD.execute(
                made, new_id=uuid4(), new_title=title, new_price_minor=price, new_facts={}
            )
        yield made


async def test_rows_become_structs(con: Connection) -> None:
    rows = await ALL.all(con)
    assert [(row.title, row.price_minor) for row in rows] == [
        ("bowl", 900),
        ("coat", 4000),
        ("jug", 900),
    ]
    assert isinstance(rows[0], Piece)


async def test_columns_find_their_fields_by_name(con: Connection) -> None:
    turned = Query(select(pieces.c.title, pieces.c.price_minor).limit(1), Label)
    assert await turned.one(con) == Label(title="bowl", price_minor=900)


async def test_without_a_target_a_row_is_a_dict(con: Connection) -> None:
    assert await Query(select(pieces.c.title).limit(1)).one(con) == {"title": "bowl"}


async def test_a_single_column_can_be_had_bare(con: Connection) -> None:
    dear = Query(
        select(func.count()).select_from(pieces).where(pieces.c.price_minor > bindparam("least")),
        only(int),
    )
    assert await dear.one(con, least=1000) == 1


async def test_constants_of_a_statement_need_no_value_and_can_be_replaced(con: Connection) -> None:
    cheap = Query(
        select(pieces.c.title)
        .where(pieces.c.price_minor == 900, pieces.c.title > bindparam("after", ""))
        .order_by("title"),
        only(str),
    )
    assert await cheap.all(con) == ["bowl", "jug"]
    assert await cheap.all(con, after="bowl") == ["jug"]


async def test_one_of_many_by_an_array(con: Connection) -> None:
    titles = bindparam("titles", type_=sa.ARRAY(sa.Text))
    found = Query(select(pieces.c.title).where(pieces.c.title == sa.any_(titles)), only(str))
    assert set(await found.all(con, titles=["jug", "coat", "none"])) == {"jug", "coat"}


async def test_first_is_none_where_there_is_none(con: Connection) -> None:
    nothing = Query(select(pieces.c.title).where(sa.false()), only(str))
    assert await nothing.first(con) is None
    with pytest.raises(LookupError, match="0 rows"):
        await nothing.one(con)
    with pytest.raises(LookupError, match="3 rows"):
        await ALL.one(con)


async def test_an_effect_is_counted(con: Connection) -> None:
    cheaper = Query(
        pieces.update()
        .where(pieces.c.price_minor == bindparam("old"))
        .values(price_minor=bindparam("new"))
    )
    assert await cheaper.execute(con, old=900, new=800) == 2
    assert await cheaper.execute(con, old=900, new=800) == 0


async def test_many_at_once(con: Connection) -> None:
    row = {"new_price_minor": 1, "new_facts": None}
    await ADD.execute_many(con, [row | {"new_id": uuid4(), "new_title": str(n)} for n in range(5)])
    assert len(await ALL.all(con)) == 8


async def test_missing_and_unknown_values_are_named(con: Connection) -> None:
    with pytest.raises(KeyError, match="new_id"):
        await ADD.execute(con, new_title="x")
    with pytest.raises(TypeError, match="sort"):
        await ALL.all(con, sort="title")


@pytest.mark.parametrize("value", [{"a": [1, "zwölf", None]}, [], "text", 3, None, True])
async def test_json_goes_in_and_comes_out(con: Connection, value: object) -> None:
    await con.execute("truncate piece")
    await ADD.execute(con, new_id=uuid4(), new_title="x", new_price_minor=1, new_facts=value)
    assert await Query(select(pieces.c.facts), only(object)).one(con) == value


async def test_json_travels_by_copy(con: Connection) -> None:
    record = (uuid4(), "copied", {"size": "M"})
    await con.copy_records_to_table(
        "piece", records=[record], columns=("id", "title", "facts"), schema_name=None
    )
    found = Query(select(pieces.c.facts).where(pieces.c.title == "copied"), only(object))
    assert await found.one(con) == {"size": "M"}


async def test_moments_carry_their_zone(con: Connection) -> None:
    moment = await Query(select(pieces.c.added_at).limit(1), only(dt.datetime)).one(con)
    assert moment == dt.datetime(2026, 5, 1, 7, 30, tzinfo=dt.UTC)


def test_a_statement_is_compiled_once_for_the_driver() -> None:
    assert Query(select(literal(1)).where(literal(2) == bindparam("n"))).sql.count("$") == 3
