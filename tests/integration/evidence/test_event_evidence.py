"""What is known of an event from outside its rail and its lines, over HTTP."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from tests.database import Clone
from tests.desk import Desk, open_desk

SALES = "Order,Listing,Title,Sold on,Item price,Order total,Order status\n"
LISTING = "Listing ID,Title,Price,Status,Code\n"


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def sold_online(desk: Desk, listings: str, orders: str) -> None:
    online = desk.world.online
    if listings:
        await desk.world.take_in(LISTING + listings, channel=online, importer="resale-listings")
    await desk.world.take_in(SALES + orders, channel=online, importer="resale-sales")
    await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})


async def test_earlier_sales_of_many_alike_say_nothing_of_those_on_the_rail(desk: Desk) -> None:
    bowl = desk.world.items["GG15K0"]
    await desk.world.rows("update item set quantity = 30 where shop_id = $1 and id = $2", bowl)
    await desk.world.rows("update rail set quantity = 6 where shop_id = $1 and item_id = $2", bowl)
    orders = [
        f"O-{n},L-1,Speckled mixing bowl,2026-08-{n:02} 15:00,15.00,15.00,paid\n"
        for n in range(1, 13)
    ]
    await sold_online(desk, "L-1,Speckled mixing bowl,15.00,live,GG15K0\n", "".join(orders))
    await desk.cards("2026-09-11,10:13:00,p-1,15.00,GG1-5K0")
    found = await desk.run()
    assert "probably-sold-twice" not in {f["code"] for f in found["findings"]}
    weights = (await desk.line("p-1"))["matches"][0]["evidence"]
    assert "it was sold on another channel" not in {weight["sentence"] for weight in weights}


async def test_more_sold_elsewhere_than_there_are_is_a_double_sale(desk: Desk) -> None:
    await sold_online(
        desk,
        "L-1,Grey cardigan,26.00,live,A17AH1\n",
        "O-1,L-1,Grey cardigan,2026-09-11 15:00,26.00,26.00,paid\n",
    )
    await desk.cards("2026-09-11,10:13:00,p-1,24.00,A17-AH1")
    found = await desk.run()
    assert "probably-sold-twice" in {f["code"] for f in found["findings"]}


async def test_a_sale_that_a_channel_only_proposes_may_be_a_double_sale(desk: Desk) -> None:
    orders = "O-1,,Waxed work jacket,2026-09-11 15:00,32.00,32.00,paid\n"
    await sold_online(desk, "L-1,Waxed work jacket,32.00,live,WNF7TT\n", orders)
    proposed = await desk.line("O-1")
    assert proposed["match_state"] == "proposed"
    await desk.cards("2026-09-11,10:13:00,p-1,32.00,WNF-7TT")
    found = await desk.run()
    (twice,) = (f for f in found["findings"] if f["code"] == "probably-sold-twice")
    assert "Waxed work jacket" in twice["sentence"]
    assert twice["probability"] <= proposed["matches"][0]["probability"] + 1e-9


async def test_a_piece_that_came_back_may_be_sold_again(desk: Desk) -> None:
    await brought_back(desk, await rung_up(desk, "30.00"))
    await desk.cards("2026-09-11,15:13:00,p-1,32.00,WNF-7TT")
    found = await desk.run()
    assert (await desk.line("p-1"))["match_state"] == "matched"
    assert await desk.pieces("p-1") == ["WNF7TT"]
    assert "confirmed-beyond-quantity" not in {f["code"] for f in found["findings"]}


async def test_a_piece_rung_up_again_after_it_came_back_is_no_contradiction(desk: Desk) -> None:
    await brought_back(desk, await rung_up(desk, "30.00"))
    await rung_up(desk, "28.00")
    found = await desk.run()
    assert found["findings"] == []


async def test_cash_given_back_is_not_missing_from_the_box(desk: Desk) -> None:
    await brought_back(desk, await rung_up(desk, "30.00"))
    await rung_up(desk, "28.00")
    await desk.world.rows(
        "update event_day set float_minor = 5000, counted_cash_minor = 7800 where shop_id = $1"
    )
    found = await desk.run()
    assert found["findings"] == []


async def rung_up(desk: Desk, price: str) -> str:
    told = await desk.ring_up("WNF7TT", price, method="cash")
    assert told["conflicts"] == []
    sale: str = told["sale"]["id"]
    return sale


async def brought_back(desk: Desk, sale: str) -> None:
    body = {"lines": [1], "returned_on": "2026-09-11"}
    answer = await desk.client.ask("POST", f"/v1/sales/{sale}/returns", body, if_match="*")
    assert answer.status_code == 200, answer.text


async def test_the_same_words_said_once_more_give_the_same_answer(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,15.00,", "2026-09-11,11:13:00,p-2,30.00,")
    answers = []
    for _ in range(2):
        await desk.say("p-2", "piece-count", {"pieces": 2})
        await desk.run()
        answers.append([m["probability"] for m in (await desk.line("p-1"))["matches"]])
    assert answers[0] == answers[1]
