"""A channel answered step by step stands as if it had been answered whole."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from tests.channel_world import ChannelWorld
from tests.database import Clone
from tests.evidence_world import make_world

from stallkeep.domain.matching import Evidence
from stallkeep.domain.matching.engine import reconcile
from stallkeep.store import evidence as store
from stallkeep.store.engine import scope
from stallkeep.work import channel_stock
from stallkeep.work.channel_stock import Place
from stallkeep.work.gather_evidence import gather_lines
from stallkeep.work.named_pieces import PiecePrice
from stallkeep.work.partial_stock import pieces_of
from stallkeep.work.reconcile_channel import reconcile_channel, reconcile_news
from stallkeep.work.rule_on_transaction import refuse

STEPS = 60
STOCK = """
select item_id, term from stock_term where shop_id = $1 order by item_id, term
"""
PIECES = """
select item_id, terms from stock_piece where shop_id = $1 order by item_id
"""
LOOKED_AT = """
select transaction_id, unnest(terms) as term from match_line where shop_id = $1
 order by transaction_id, term
"""
FOUND_BY = """
select transaction_id, term from match_term where shop_id = $1 order by transaction_id, term
"""
NUMBERS = """
select term, items_now from stock_count where shop_id = $1 and items_now <> 0 order by term
"""


async def a_world(
    database: Clone, monkeypatch: pytest.MonkeyPatch, seed: int, *, small: bool
) -> ChannelWorld:
    """A shop; *small* makes common words of words that few items have, and parts of few lines."""
    if small:
        monkeypatch.setattr("stallkeep.work.channel_stock.PART", 7)
        monkeypatch.setattr("stallkeep.work.answer_channel.PART", 3)
        monkeypatch.setattr("stallkeep.domain.matching.channel_stock.LARGEST_BLOCK", 3)
        monkeypatch.setattr("stallkeep.domain.matching.channel_stock.LARGEST_SCAN", 12)
    return ChannelWorld(await make_world(database.pool), seed)


async def open_shop(made: ChannelWorld) -> None:
    """A stock whose words are common enough before it is measured, and first sales."""
    for _ in range(12):
        await made.list_items()
    for _ in range(4):
        await made.bring_sales()
    await answer_news(made)


async def answer_news(made: ChannelWorld) -> Any:  # noqa: ANN401 - a run or None
    return await reconcile_news(made.world.pool, made.world.shop, made.world.online)


@pytest.mark.parametrize("small", [False, True], ids=["rare words", "common words"])
@pytest.mark.parametrize("seed", range(6))
async def test_steps_end_where_a_run_over_everything_ends(
    database: Clone, monkeypatch: pytest.MonkeyPatch, seed: int, *, small: bool
) -> None:
    made = await a_world(database, monkeypatch, seed, small=small)
    monkeypatch.setattr(channel_stock, "MAY_GROW", 1000.0)
    monkeypatch.setattr(channel_stock, "MAY_SPREAD", 1000)
    await open_shop(made)
    done = []
    for number in range(STEPS):
        done.append(await made.step())
        if number % 3 != 1:
            await answer_news(made)
    await answer_news(made)
    assert await answer_news(made) is None
    by_steps = await made.stored()
    assert by_steps["matches"]
    await made.forget()
    days = (dt.date(2000, 1, 1), dt.date(2100, 1, 1))
    await reconcile_channel(made.world.pool, made.world.shop, made.world.online, *days)
    whole = await made.stored()
    for part, rows in whole.items():
        differing = [pair for pair in zip(by_steps[part], rows, strict=False) if pair[0] != pair[1]]
        assert not differing, (part, len(differing), differing[0], done)
        assert len(rows) == len(by_steps[part]), (part, done)


@pytest.mark.parametrize("seed", range(4))
async def test_the_stock_kept_by_steps_is_the_stock_counted_anew(
    database: Clone, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    made = await a_world(database, monkeypatch, 100 + seed, small=False)
    for _ in range(STEPS):
        await made.step()
        await answer_news(made)
    assert await made.world.rows(LOOKED_AT) == await made.world.rows(FOUND_BY)
    kept = [await made.world.rows(query) for query in (STOCK, PIECES, NUMBERS)]
    await made.run("delete from stock_term where shop_id = $1")
    await made.run("delete from stock_piece where shop_id = $1")
    await made.run("delete from stock_count where shop_id = $1")
    await reconcile_channel(made.world.pool, made.world.shop, made.world.online)
    assert kept == [await made.world.rows(query) for query in (STOCK, PIECES, NUMBERS)]


@pytest.mark.parametrize("small", [False, True], ids=["rare words", "common words"])
@pytest.mark.parametrize("seed", range(4))
async def test_a_run_in_parts_says_what_the_engine_says_of_everything_at_once(
    database: Clone, monkeypatch: pytest.MonkeyPatch, seed: int, *, small: bool
) -> None:
    made = await a_world(database, monkeypatch, 200 + seed, small=small)
    monkeypatch.setattr("stallkeep.work.channel_stock.PART", 3)
    monkeypatch.setattr("stallkeep.work.answer_channel.PART", 3)
    for _ in range(STEPS):
        happened = made.dice.choice((made.list_items, made.bring_sales, made.bring_refunds))
        await happened()
    await answer_news(made)
    world = made.world
    async with scope(world.pool, made.shop_id) as con:
        place = Place(con, world.shop, world.online)
        stock = await store.channel_stock(con, made.shop_id, world.online)
        ids = await store.line_ids_of_channel(con, made.shop_id, world.online, None, None)
        rows = await store.lines_of_channel(con, made.shop_id, world.online, ids)
        pieces = await pieces_of(place, stock)
        gathered = await gather_lines(con, world.shop, pieces, rows, {"scope": "channel"})
    told: Evidence = gathered.evidence
    said = {a.transaction_id: a for a in reconcile(told).answers}
    states = {str(row["id"]): row for row in (await made.stored())["states"]}
    for key, answer in said.items():
        state = "unmatched" if answer.state == "conflict" else answer.state
        assert states[key]["match_state"] == state, (answer, states[key])
    best = {
        str(m["transaction_id"]): m["probability"]
        for m in (await made.stored())["matches"]
        if m["rank"] == 1
    }
    expected = {
        key: answer.candidates[0].probability
        for key, answer in said.items()
        if answer.candidates and answer.state in ("matched", "proposed")
    }
    assert best == pytest.approx(expected, abs=1e-12)


async def test_a_piece_that_one_sale_leaves_is_there_for_another(
    database: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Though the two are answered in parts of their own, and share nothing any more."""
    monkeypatch.setattr("stallkeep.work.answer_channel.PART", 1)
    made = ChannelWorld(await make_world(database.pool), seed=1)
    await made.list_items()
    (first, *_) = await made.world.rows("select item_id, reference from listing where shop_id = $1")
    await made.run("update item set quantity = 1 where shop_id = $1")
    await made.bring([("sale", 1500, first["reference"], None, None)])
    await made.run("update transaction set currency = 'EUR' where shop_id = $1")
    await answer_news(made)
    await made.run(
        "update listing set reference = 'new' where shop_id = $1 and item_id = $2", first["item_id"]
    )
    await made.bring([("sale", 1500, "new", None, None)])
    await made.run("update transaction set currency = 'EUR' where shop_id = $1")
    await answer_news(made)
    states = [row["match_state"] for row in (await made.stored())["states"]]
    assert states == ["unmatched", "matched"]
    assert not await made.world.rows("select from conflict where shop_id = $1")


async def test_a_refused_reference_leaves_a_sale_to_its_title(database: Clone) -> None:
    made = ChannelWorld(await make_world(database.pool), seed=3)
    await made.list_items()
    await made.list_items()
    query = "select i.id, i.title, i.price_minor, l.reference from item i join listing l "
    query += "on l.shop_id = i.shop_id and l.item_id = i.id where i.shop_id = $1 order by i.id"
    one, other = (await made.world.rows(query))[:2]
    await made.run(
        "update item set title = 'waxed wool harp' where shop_id = $1 and id = $2", other["id"]
    )
    await made.bring([("sale", other["price_minor"], one["reference"], "waxed wool harp", None)])
    (line,) = await made.world.rows("select id from transaction where shop_id = $1")
    piece = PiecePrice(item_id=one["id"])
    await refuse(made.world.pool, made.world.shop, line["id"], [piece], by="Ada")
    await answer_news(made)
    (match,) = (await made.stored())["matches"]
    assert [row[0] for row in match["pieces"]] == [str(other["id"])]
