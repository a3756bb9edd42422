"""What a piece brought: without tip, postage, tax on top, and what was given back of it."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from tests.database import Clone
from tests.desk import Desk, open_desk

COAT, CARDIGAN, JUG = "996AAD", "A17AH1", "DE87TR"
LISTED = "Listing,Title,Own code,Price,Status\nL-1,Navy wool coat,996AAD,70.00,live\n"
SOLD = (
    "Order,Listing,Title,Sold on,Item price,Postage charged,Order total,Channel fee,Label cost,"
    "Refunded,Order status\n"
)
WITH_POSTAGE = "SO-1,L-1,Navy wool coat,2026-08-06 15:57,70.00,4.90,74.90,7.00,4.55,{},paid\n"
TIPPED = (
    "Date,Time,Transaction ID,Amount before tip,Tip,Total paid,Note\n"
    "2026-09-11,10:12:00,p-1,24.00,2.00,26.00,A17-AH1\n"
)


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def _brought(desk: Desk, external_id: str) -> list[str]:
    (match,) = (await desk.line(external_id))["matches"]
    assert match["state"] == "matched"
    sale = await desk.client.get(f"/v1/sales/{match['sale_id']}")
    told = [piece["price"] for piece in match["pieces"]]
    assert told == [line["price"] for line in sale["lines"]]
    return told


async def _sold_online(desk: Desk, refunded: str = "0.00") -> None:
    online = desk.world.online
    await desk.world.take_in(LISTED, channel=online, importer="resale-listings")
    await desk.world.take_in(SOLD + WITH_POSTAGE.format(refunded), channel=online)
    await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})


async def test_postage_is_no_part_of_what_a_piece_brought(desk: Desk) -> None:
    await _sold_online(desk)
    assert await _brought(desk, "SO-1") == ["70.00"]
    await desk.say("SO-1", "match", {"pieces": [{"tag_code": COAT}]})
    assert await _brought(desk, "SO-1") == ["70.00"]


@pytest.mark.parametrize(("refunded", "over_cost"), [("0.00", "42.35"), ("5.00", "37.35")])
async def test_a_channel_earns_price_fee_and_postage_once(
    desk: Desk, refunded: str, over_cost: str
) -> None:
    await _sold_online(desk, refunded)
    await desk.ring_up(CARDIGAN, "24.00", method="cash")
    found = await desk.client.get(f"/v1/events/{desk.world.event}/comparison")
    earned = [one for one in found["channels"] if one["channel"] == "Tidelist"]
    # 70 - 7 fee + 4.90 postage - 4.55 label - 21 cost, less what was given back
    assert [one["over_cost"] for one in earned if one["category"] is None] == [over_cost]


async def test_a_tip_is_no_part_of_what_a_piece_brought(desk: Desk) -> None:
    await desk.world.take_in(TIPPED)
    await desk.run()
    assert await _brought(desk, "p-1") == ["24.00"]


@pytest.mark.parametrize("by_hand", [False, True])
async def test_tax_on_top_is_no_part_of_what_a_piece_brought(desk: Desk, by_hand: bool) -> None:
    city = {"tax_mode": "added", "tax_rates": [{"name": "City", "percent": "8"}]}
    await desk.client.patch("/v1/shop", city)
    await desk.cards("2026-09-11,10:12:00,p-1,25.92," + ("" if by_hand else "A17-AH1"))
    if by_hand:
        await desk.say("p-1", "match", {"pieces": [{"tag_code": CARDIGAN}]})
    await desk.run()
    assert await _brought(desk, "p-1") == ["24.00"]


async def test_what_was_given_back_of_a_kept_piece_is_no_earning_of_the_event(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:12:00,p-1,24.00,A17-AH1")
    await desk.world.take_in(
        "Date,Time,Transaction ID,Type,Amount,Original transaction\n"
        "2026-09-11,15:00:00,r-1,Refund,-4.00,p-1\n"
    )
    await desk.run()
    found = await desk.client.get(f"/v1/events/{desk.world.event}/comparison")
    assert found["over_cost"] == "11.00"  # 24 - 4 - 9
