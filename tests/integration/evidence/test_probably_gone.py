"""Live listings of pieces that are probably gone, over HTTP."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from tests.database import Clone
from tests.desk import Desk, open_desk

LISTING = "Listing ID,Title,Price,Status,Code\n"


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def listed(desk: Desk, *rows: str) -> None:
    text = LISTING + "".join(f"{row}\n" for row in rows)
    await desk.world.take_in(text, channel=desk.world.online, importer="resale-listings")


async def take_downs(desk: Desk, at_least: float = 0.5) -> dict[str, float]:
    found = await desk.client.get(f"/v1/take-downs?at_least={at_least}")
    return {one["reference"]: one["probability"] for one in found["data"]}


async def test_a_piece_missing_at_the_count_is_probably_gone(desk: Desk) -> None:
    await listed(desk, "L-1,Waxed work jacket,35.00,live,WNF7TT", "L-2,Navy coat,70.00,live,996AAD")
    home = {"codes": ["996AAD", "A17AH1", "DE87TR", "GG15K0"]}
    await desk.client.put(f"/v1/events/{desk.world.event}/count", home)
    await desk.run()
    found = await take_downs(desk)
    assert found.keys() == {"L-1"}
    assert 0.5 <= found["L-1"] < 0.999


async def test_a_piece_seen_gone_is_told_until_it_is_on_a_later_rail(desk: Desk) -> None:
    await listed(desk, "L-1,Waxed work jacket,35.00,live,WNF7TT")
    path = f"/v1/events/{desk.world.event}/pieces/{desk.world.items['WNF7TT']}/seen"
    await desk.client.ask("PUT", path, {"still_here": 0})
    await desk.run()
    assert (await take_downs(desk))["L-1"] == pytest.approx(0.999)
    later = await desk.client.post(
        "/v1/events",
        {
            "channel_id": str(desk.world.stall),
            "name": "Mill fair",
            "starts_on": "2026-10-03",
            "ends_on": "2026-10-03",
        },
    )
    await desk.client.put(f"/v1/events/{later['id']}/rail", {"pieces": [{"tag_code": "WNF7TT"}]})
    assert await take_downs(desk) == {}


async def test_of_many_alike_one_that_may_be_sold_ends_no_listing(desk: Desk) -> None:
    bowl = desk.world.items["GG15K0"]
    await desk.world.rows("update item set quantity = 9 where shop_id = $1 and id = $2", bowl)
    await desk.world.rows("update rail set quantity = 9 where shop_id = $1 and item_id = $2", bowl)
    await listed(desk, "L-1,Speckled mixing bowl,16.00,live,GG15K0")
    await desk.cards("2026-09-11,10:13:00,p-1,15.00,bowl", "2026-09-11,10:33:00,p-2,30.00,")
    await desk.run()
    assert await take_downs(desk, 0.01) == {}


async def test_claims_of_a_channel_and_of_an_event_do_not_add_up_beyond_both(desk: Desk) -> None:
    await listed(desk, "L-1,Blue stoneware jug,16.00,live,DE87TR")
    await desk.cards("2026-09-11,10:13:00,p-1,15.00,")
    await desk.run()
    (jug,) = (
        match["probability"]
        for match in (await desk.line("p-1"))["matches"]
        if [piece["tag_code"] for piece in match["pieces"]] == ["DE87TR"]
    )
    assert (await take_downs(desk, 0.05))["L-1"] == pytest.approx(jug, abs=0.06)
    order = "Order,Listing,Title,Sold on,Item price,Order total,Order status\n"
    order += "O-1,,Blue stoneware jug,2026-09-10 15:00,15.00,15.00,paid\n"
    await desk.world.take_in(order, channel=desk.world.online, importer="resale-sales")
    await desk.client.post("/v1/reconciliations", {"channel_id": str(desk.world.online)})
    online = (await desk.line("O-1"))["matches"][0]["probability"]
    assert online < 0.99
    found = (await take_downs(desk, 0.05))["L-1"]
    assert max(jug, online) <= found <= 1 - (1 - jug) * (1 - online) + 0.05
