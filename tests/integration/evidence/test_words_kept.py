"""What a person said holds against whatever else the evidence says, run after run."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from tests.database import Clone
from tests.desk import Desk, open_desk

LISTING = "Listing ID,Title,Price,Status,Code\nL-1,Grey cardigan,26.00,live,A17AH1\n"
ORDER = (
    "Order,Listing,Title,Sold on,Item price,Order total,Order status\n"
    "O-1,L-1,Grey cardigan,2026-09-10 15:00,26.00,26.00,paid\n"
)


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def test_a_refusal_outweighs_a_listings_reference(desk: Desk) -> None:
    online = desk.world.online
    await desk.world.take_in(LISTING, channel=online, importer="resale-listings")
    await desk.world.take_in(ORDER, channel=online, importer="resale-sales")
    await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})
    assert (await desk.line("O-1"))["match_state"] == "matched"
    await desk.say("O-1", "refusal", {"tag_codes": ["A17AH1"]})
    await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})
    assert (await desk.line("O-1"))["match_state"] != "matched"


async def test_a_refusal_outweighs_a_sale_rung_up_at_that_minute(desk: Desk) -> None:
    await desk.ring_up("WNF7TT", "30.00", method="card")
    await desk.cards("2026-09-11,10:13:00,p-1,30.00,")
    await desk.run()
    assert await desk.pieces("p-1") == ["WNF7TT"]
    await desk.say("p-1", "refusal", {"tag_codes": ["WNF7TT"]})
    await desk.run()
    assert await desk.pieces("p-1") != ["WNF7TT"]


async def several_bowls(desk: Desk, number: int) -> None:
    query = "update item set quantity = $2 where shop_id = $1 and tag_code = 'GG15K0' returning 1"
    await desk.world.rows(query, number)
    query = "update rail set quantity = $2 where shop_id = $1 and item_id = $3 returning 1"
    await desk.world.rows(query, number, desk.world.items["GG15K0"])


async def test_two_alike_are_refused_as_two(desk: Desk) -> None:
    await several_bowls(desk, 6)
    await desk.cards("2026-09-11,10:13:00,p-1,30.00,bowl bowl")
    await desk.run()
    two = ["GG15K0", "GG15K0"]
    offered = [m["pieces"] for m in (await desk.line("p-1"))["matches"]]
    assert any([p["tag_code"] for p in own] == ["GG15K0"] and own[0]["quantity"] == 2
               for own in offered)  # fmt: skip
    await desk.say("p-1", "refusal", {"tag_codes": two})
    await desk.run()
    for match in (await desk.line("p-1"))["matches"]:
        assert {p["tag_code"]: p["quantity"] for p in match["pieces"]} != {"GG15K0": 2}


async def test_a_confirmed_number_alike_is_taken_as_that_number(desk: Desk) -> None:
    await several_bowls(desk, 3)
    await desk.cards("2026-09-11,10:13:00,p-1,40.00,", "2026-09-11,12:13:00,p-2,30.00,")
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "GG15K0", "quantity": 3}]})
    await desk.run()
    left = [m["pieces"] for m in (await desk.line("p-2"))["matches"]]
    assert "GG15K0" not in {piece["tag_code"] for pieces in left for piece in pieces}


async def test_nothing_is_said_of_a_refund_as_if_it_were_a_sale(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,24.00,", "2026-09-11,12:13:00,p-2,-24.00,")
    for what, body in (("refusal", {"tag_codes": ["A17AH1"]}), ("piece-count", {"pieces": 1})):
        answer = await desk.client.ask("PUT", await desk.place("p-2", what), body)
        assert answer.status_code == 422
        assert answer.json()["type"].endswith("/not-a-sale")
