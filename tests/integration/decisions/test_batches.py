"""Pieces held in number: bought or made in batches, sold at their moving average."""

from __future__ import annotations

import asyncio
import datetime as dt
from random import Random
from typing import Any

import pytest
from tests.api_client import Client
from tests.database import Clone
from tests.factories import a_sale, an_event, an_item, line
from tests.random_events import add

from stallkeep.domain.batches import Batch, SoldOff, stock_card
from stallkeep.store.engine import read_scope, scope
from stallkeep.store.ids import new_id
from stallkeep.work.open_shop import open_shop

NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"


async def held(api: Client, *batches: tuple[int, str, str | None], **fields: object) -> Any:  # noqa: ANN401
    """An item whose batches are (pieces, cost of all, day)."""
    item = await an_item(api, "Clay mug", quantity=0, price="60.00", **fields)
    for quantity, cost, day in batches:
        body = {"quantity": quantity, "cost": cost, "acquired_on": day}
        await api.post(f"/v1/items/{item['id']}/batches", body)
    return await api.get(f"/v1/items/{item['id']}")


# OpenStax Principles of Accounting Vol. 1, inventory (m67890): 150 at 21, 225 at 27, 210 at 33.
LOTS = ((150, "3150.00", "2026-01-05"), (225, "6075.00", "2026-02-05"), (210, "6930.00", None))


async def goods(api: Client, event: Any) -> tuple[str, list[tuple[str, str]]]:  # noqa: ANN401
    """Cost of goods of an event, and the lines it came from."""
    result = await api.get(f"/v1/events/{event['id']}/result?explain=true")
    plain = await api.get(f"/v1/events/{event['id']}/result")
    assert plain["whole"] == result["whole"]
    lines = [
        (one["amount"], one["text"])
        for figure in result["explained"]
        if figure["figure"] == "cost_of_goods"
        for one in figure["lines"]
    ]
    return plain["whole"]["cost_of_goods"]["expected"], lines


async def test_the_result_and_the_year_use_the_weighted_average(api: Client) -> None:
    # The book rounds the average to 27.62 first; unrounded it costs 8,284.62, leaving 7,870.38.
    event = await an_event(api)
    item = await held(api, *LOTS)
    assert (item["quantity"], item["cost"]) == (585, "27.62")
    await a_sale(api, event, line(item, "11340.00", quantity=300))
    code = item["tag_code"]
    assert await goods(api, event) == (
        "8284.62",
        [("-8284.62", f"300 pieces {code}, at average cost")],
    )
    card = await api.get(f"/v1/items/{item['id']}/batches")
    assert (card["left"], card["left_cost"], card["average_cost"]) == (285, "7870.38", "27.62")
    shown = ("quantity", "cost", "left", "left_cost")
    assert [tuple(move[name] for name in shown) for move in card["moves"]] == [
        (210, "6930.00", 210, "6930.00"),
        (150, "3150.00", 360, "10080.00"),
        (225, "6075.00", 585, "16155.00"),
        (-300, "-8284.62", 285, "7870.38"),
    ]
    year = await api.get("/v1/years/2026?stock_on=2026-12-31")
    assert year["totals"]["whole"]["cost_of_goods"] == "-8284.62"
    assert (year["stock"]["pieces"], year["stock"]["cost"]) == (285, "7870.38")
    before = (await api.get("/v1/years/2026?stock_on=2026-01-31"))["stock"]
    assert (before["pieces"], before["cost"]) == (360, "10080.00")


async def test_specific_identification_stays_for_pieces_with_a_cost_of_their_own(
    api: Client,
) -> None:
    # The same lots (OpenStax): 140 sold at 21 and 160 at 27 cost 7,260; 8,895 are left.
    event = await an_event(api)
    lots = [(150, "21.00"), (225, "27.00"), (210, "33.00")]
    items = [await an_item(api, quantity=count, cost=cost) for count, cost in lots]
    await a_sale(api, event, line(items[0], "1.00", quantity=140))
    await a_sale(api, event, line(items[1], "1.00", quantity=160))
    assert (await goods(api, event))[0] == "7260.00"
    stock = (await api.get("/v1/years/2026?stock_on=2026-12-31"))["stock"]
    assert (stock["pieces"], stock["cost"]) == (285, "8895.00")


async def test_a_batch_moves_the_average_of_later_sales_only(api: Client) -> None:
    # By hand: 375 pieces cost 9,225, so 120 cost 2,952; with 210 more, 180 cost 5,110.84.
    early = await an_event(api, starts_on="2026-03-07", ends_on="2026-03-07")
    late = await an_event(api, {"id": early["channel_id"]})
    item = await held(api, LOTS[0], LOTS[1])
    sold = {"sold_at": "2026-03-07T10:00:00+00:00"}
    await a_sale(api, early, line(item, "4320.00", quantity=120), **sold)
    await a_sale(api, late, line(item, "7020.00", quantity=180))
    assert (await goods(api, early))[0] == "2952.00"
    body = {"quantity": 210, "cost": "6930.00", "acquired_on": "2026-04-01"}
    added = await api.post(f"/v1/items/{item['id']}/batches", body)
    assert [(await goods(api, event))[0] for event in (early, late)] == ["2952.00", "5110.84"]
    path = f"/v1/items/{item['id']}/batches/{added['id']}"
    assert await api.get(path) == added
    await api.patch(path, {"acquired_on": "2026-01-01"})
    assert [(await goods(api, event))[0] for event in (early, late)] == ["3313.85", "4970.77"]
    assert (await api.ask("DELETE", path, If_Match="*")).status_code == 204
    assert [(await goods(api, event))[0] for event in (early, late)] == ["2952.00", "4428.00"]


async def test_a_returned_piece_is_back_at_what_the_rest_cost(api: Client) -> None:
    event = await an_event(api)
    item = await held(api, (3, "10.00", None))
    sales = [await a_sale(api, event, line(item)) for _ in range(3)]
    assert [text for text, _ in (await goods(api, event))[1]] == ["-3.33", "-3.34", "-3.33"]
    sale = sales[0]["sale"]
    back = await api.ask("POST", f"/v1/sales/{sale['id']}/returns", {"lines": [1]}, If_Match="*")
    assert back.status_code == 200, back.text
    assert (await goods(api, event))[0] == "6.67"  # 3.33 and 3.34
    path = f"/v1/sales/{sales[1]['sale']['id']}/void"
    assert (await api.ask("POST", path, If_Match="*")).status_code == 200
    assert (await goods(api, event))[0] == "3.33"
    card = await api.get(f"/v1/items/{item['id']}/batches")
    assert (card["left"], card["left_cost"]) == (2, "6.67")


async def test_what_was_there_becomes_the_first_batch(api: Client) -> None:
    item = await an_item(api, quantity=4, cost="2.50", acquired_on="2026-01-02")
    path = f"/v1/items/{item['id']}/batches"
    assert await api.get(path) == {
        "batches": [], "moves": [], "left": 0, "left_cost": "0.00", "average_cost": None,
    }  # fmt: skip
    await api.post(path, {"quantity": 6, "cost": "30.00", "acquired_on": "2026-02-01"})
    card = await api.get(path)
    batches = [(one["quantity"], one["cost"], one["acquired_on"]) for one in card["batches"]]
    assert batches == [(4, "10.00", "2026-01-02"), (6, "30.00", "2026-02-01")]
    now = await api.get(f"/v1/items/{item['id']}")
    assert (now["quantity"], now["cost"]) == (10, "4.00")


async def test_what_cannot_be_is_refused_in_words(api: Client) -> None:
    event = await an_event(api)
    item = await held(api, (3, "10.00", None))
    await a_sale(api, event, line(item, quantity=2))
    [batch] = (await api.get(f"/v1/items/{item['id']}/batches"))["batches"]
    unknown = await an_item(api)
    here, there = f"/v1/items/{item['id']}", f"/v1/items/{unknown['id']}/batches"
    new = {"quantity": 1, "cost": "1.00"}
    wrong: list[tuple[str, str, Any, int, str]] = [
        ("PATCH", here, {"quantity": 9}, 409, "item-in-batches"),
        ("PATCH", here, {"cost": "1.00"}, 409, "item-in-batches"),
        ("PATCH", f"{here}/batches/{batch['id']}", {"quantity": 1}, 409, "quantity-below-sold"),
        ("DELETE", f"{here}/batches/{batch['id']}", None, 409, "quantity-below-sold"),
        ("PATCH", f"{here}/batches/{NOBODY}", {"quantity": 1}, 404, "batch-not-found"),
        ("GET", f"{there}/{batch['id']}", None, 404, "batch-not-found"),
        ("POST", there, new, 409, "item-cost-unknown"),
        ("POST", f"/v1/items/{NOBODY}/batches", new, 404, "item-not-found"),
        ("GET", f"/v1/items/{NOBODY}/batches", None, 404, "item-not-found"),
        ("POST", f"{here}/batches", {**new, "quantity": 0}, 422, "invalid-input"),
        ("POST", f"{here}/batches", {**new, "cost": "-1.00"}, 422, "invalid-input"),
        ("POST", f"{here}/batches", {"quantity": 1}, 422, "invalid-input"),
        ("POST", f"{here}/batches", {**new, "quantity": 999_999}, 422, "quantity-too-large"),
    ]
    for method, path, body, status, kind in wrong:
        answer = await api.ask(method, path, body, If_Match="*")
        assert answer.status_code == status, (method, path, body, answer.text)
        assert answer.json()["type"].rpartition("/")[2] == kind
    again = {"quantity": item["quantity"], "cost": item["cost"], "title": "Mug"}
    assert (await api.patch(here, again))["title"] == "Mug"
    stale = await api.ask("PATCH", f"{here}/batches/{batch['id']}", {"note": "x"}, If_Match='"9"')
    assert stale.status_code == 412


@pytest.mark.parametrize("batch", range(4))
async def test_the_database_reckons_as_the_stock_card_does(database: Clone, batch: int) -> None:
    """Two ways of reckoning that share nothing: the trigger's and the domain's."""
    shop, _ = await open_shop(database.pool, "Quay", "EUR", "Europe/Berlin", ["en"])
    for seed in range(batch, 40, 4):
        async with scope(database.pool, shop.shop_id) as con:
            item = await _random_stock(con, shop.shop_id, Random(seed))  # noqa: S311
        async with read_scope(database.pool, shop.shop_id) as con:
            came = await con.fetch(
                "select quantity, cost_minor, acquired_on from batch where item_id = $1 "
                "order by acquired_on nulls first, id",
                item,
            )
            sold = await con.fetch(
                "select l.quantity, l.cost_minor, s.sold_on from sale_line l "
                "join sale s on s.id = l.sale_id where l.item_id = $1 and l.state = 'sold' "
                "order by s.sold_on, l.sale_id",
                item,
            )
            stored = await con.fetchrow("select sold, cost_minor from item where id = $1", item)
        moves = stock_card(
            [Batch(quantity=q, cost_minor=cost, acquired_on=on) for q, cost, on in came],
            [SoldOff(quantity=q, sold_on=on) for q, _, on in sold],
        )
        taken = [-move.cost_minor for move in moves if move.quantity < 0]
        assert [row["cost_minor"] for row in sold] == taken, f"seed {seed}"
        assert stored is not None
        assert stored["sold"] == sum(row["quantity"] for row in sold)
        left = moves[-1]
        assert sum(row["cost_minor"] for row in came) == sum(taken) + left.left_cost_minor
        if left.left:
            doubled = 2 * left.left_cost_minor + left.left
            assert stored["cost_minor"] == doubled // (2 * left.left)


async def _random_stock(con: Any, shop_id: Any, rng: Random) -> Any:  # noqa: ANN401
    """An item in batches; sold, returned, and a batch more on a day gone by, in any order."""
    first = dt.date(2026, 1, 1)
    item, channel = new_id(), new_id()
    keys = {"shop_id": shop_id}
    name = str(item)
    await add(con, "channel", **keys, id=channel, name=name, kind="stall")
    await add(con, "item", **keys, id=item, tag_code=name[-12:], title="Mug", quantity=400)

    async def come() -> int:
        quantity = rng.randint(1, 40)
        day = rng.choice([None, first + dt.timedelta(days=rng.randint(0, 60))])
        values = {"item_id": item, "quantity": quantity, "cost_minor": rng.randint(0, 9999)}
        await add(con, "batch", **keys, id=new_id(), **values, acquired_on=day)
        return quantity

    left = sum([await come() for _ in range(rng.randint(1, 4))])
    for _ in range(rng.randint(0, 12)):
        quantity = rng.randint(1, 5)
        if quantity > left:
            left += await come()
            continue
        sale, day = new_id(), first + dt.timedelta(days=rng.randint(0, 60))
        await add(
            con, "sale", **keys, id=sale, channel_id=channel, origin="typed", total_minor=1,
            sold_on=day,
        )  # fmt: skip
        await add(
            con, "sale_line", **keys, sale_id=sale, line_no=1, item_id=item, quantity=quantity,
            price_minor=1,
        )  # fmt: skip
        left -= quantity
        if rng.random() < 0.2:
            await con.execute("update sale_line set state = 'returned' where sale_id = $1", sale)
            left += quantity
    await con.execute("select average_costs($1, $2)", shop_id, item)
    return item


async def test_a_card_payment_matched_and_refused_again_costs_the_average(api: Client) -> None:
    event = await an_event(api)
    item = await held(api, (10, "25.00", "2026-01-05"), (10, "40.00", "2026-06-01"))
    file = "Date,Time,Transaction ID,Amount,Currency,Fee\n2026-05-09,10:12:00,p-1,180.00,EUR,0.65\n"
    taken = await api.http.post(
        "/v1/imports",
        content=file.encode(),
        params={"channel": event["channel_id"]},
        headers={"Content-Type": "text/csv"},
    )
    assert taken.status_code == 201, taken.text
    [payment] = (await api.get(f"/v1/transactions?event={event['id']}"))["data"]
    path = f"/v1/transactions/{payment['id']}"
    pieces = {"pieces": [{"tag_code": item["tag_code"], "quantity": 3}]}
    await api.put(f"{path}/match", pieces)
    assert (await goods(api, event))[0] == "7.50"  # the June batch had not come yet
    refused = await api.ask("PUT", f"{path}/refusal", {"tag_codes": [item["tag_code"]] * 3})
    assert refused.status_code == 200, refused.text
    card = await api.get(f"/v1/items/{item['id']}/batches")
    assert (card["left"], card["left_cost"]) == (20, "65.00")


async def test_two_tills_selling_one_item_leave_every_cent_accounted_for(api: Client) -> None:
    event = await an_event(api)
    item = await held(api, (7, "10.00", None))
    await asyncio.gather(*(a_sale(api, event, line(item)) for _ in range(7)))
    assert (await goods(api, event))[0] == "10.00"
    card = await api.get(f"/v1/items/{item['id']}/batches")
    assert (card["left"], card["left_cost"], card["average_cost"]) == (0, "0.00", None)


async def test_batches_change_while_sales_are_taken_back(api: Client) -> None:
    event = await an_event(api)
    item = await held(api, (9, "10.00", None))
    sales = [(await a_sale(api, event, line(item)))["sale"]["id"] for _ in range(6)]
    [batch] = (await api.get(f"/v1/items/{item['id']}/batches"))["batches"]
    path = f"/v1/items/{item['id']}/batches/{batch['id']}"
    answers = await asyncio.gather(
        *(api.ask("POST", f"/v1/sales/{sale}/void", If_Match="*") for sale in sales[:4]),
        *(api.ask("PATCH", path, {"cost": f"{n}0.01"}, If_Match="*") for n in range(1, 5)),
    )
    assert {answer.status_code for answer in answers} == {200}
    card = await api.get(f"/v1/items/{item['id']}/batches")
    assert [card["left"], len(card["moves"])] == [7, 3]
    bought = card["moves"][0]["cost"]
    sold = (await goods(api, event))[0]
    assert float(sold) + float(card["left_cost"]) == pytest.approx(float(bought))


async def test_a_piece_missing_from_the_rail_costs_the_average_in_result_and_stock(
    api: Client,
) -> None:
    event = await an_event(api)
    item = await held(api, (4, "10.00", None))
    await api.put(
        f"/v1/events/{event['id']}/rail", {"pieces": [{"item_id": item["id"], "quantity": 4}]}
    )
    counted = await api.ask(
        "PUT", f"/v1/events/{event['id']}/count", {"codes": [item["tag_code"]] * 3}
    )
    assert counted.status_code == 200, counted.text
    assert (await goods(api, event))[0] == "2.50"
    stock = (await api.get("/v1/years/2026?stock_on=2026-12-31"))["stock"]
    assert (stock["pieces"], stock["cost"]) == (3, "7.50")
    await an_item(api, quantity=2, cost="2.50")  # of the same cost, and not in batches
    stock = (await api.get("/v1/years/2026?stock_on=2026-12-31"))["stock"]
    assert (stock["pieces"], stock["cost"]) == (5, "12.50")
