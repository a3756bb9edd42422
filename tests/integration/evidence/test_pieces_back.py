"""Pieces that come back, and sales taken back: what a refund alone does not say."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Any

import pytest
from tests.database import Clone
from tests.desk import Desk, open_desk

COAT, CARDIGAN = "996AAD", "A17AH1"
PAID = "2026-09-11,10:12:00,p-1,24.00,A17-AH1"
REFUND = "Date,Time,Transaction ID,Type,Amount,Original transaction\n"
GIVEN_BACK = "2026-09-11,15:00:00,r-1,Refund,-24.00,p-1\n"


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def _sale_of(desk: Desk, external_id: str) -> Any:  # noqa: ANN401
    (match,) = (await desk.line(external_id))["matches"]
    return await desk.client.get(f"/v1/sales/{match['sale_id']}")


async def _whole(desk: Desk) -> Any:  # noqa: ANN401
    return (await desk.client.get(f"/v1/events/{desk.world.event}/result"))["whole"]


async def _bring_back(desk: Desk, sale: Any, **more: object) -> Any:  # noqa: ANN401
    path = f"/v1/sales/{sale['id']}/returns"
    return await desk.client.ask("POST", path, {"lines": [1], **more}, If_Match="*")


async def test_a_piece_paid_by_card_and_brought_back_can_be_sold_again(desk: Desk) -> None:
    await desk.cards(PAID)
    await desk.world.take_in(REFUND + GIVEN_BACK)
    await desk.run()
    assert (await _whole(desk))["cost_of_goods"]["expected"] == "9.00"

    back = await _bring_back(desk, await _sale_of(desk, "p-1"))

    assert back.status_code == 200, back.text
    assert [line["state"] for line in back.json()["lines"]] == ["returned"]
    whole = await _whole(desk)
    # The export tells of the money; the piece is here again, so it cost nothing.
    assert (whole["takings"], whole["refunds"]) == ("24.00", "24.00")
    assert (whole["net_sales"], whole["cost_of_goods"]["expected"]) == ("0.00", "0.00")
    assert whole["pieces"]["known"] == 0
    again = await desk.ring_up(CARDIGAN, "22.00", method="cash")
    assert again["conflicts"] == []


async def test_a_return_keeps_the_match_through_later_runs(desk: Desk) -> None:
    await desk.cards(PAID)
    await desk.run()
    await _bring_back(desk, await _sale_of(desk, "p-1"))
    await desk.run()
    await desk.run()
    assert await desk.pieces("p-1") == [CARDIGAN]
    assert [line["state"] for line in (await _sale_of(desk, "p-1"))["lines"]] == ["returned"]
    told = await desk.client.get(await desk.place("p-1", ""))
    assert [ruling["kind"] for ruling in told["rulings"]] == ["confirmed"]


async def test_cash_given_back_for_a_noted_sale_is_written_only_where_it_is_named(
    desk: Desk,
) -> None:
    tally = "Date,Time,Amount,Note\n2026-09-11,10:12,24.00,A17-AH1\n"
    await desk.world.take_in(tally, importer="cash-tally")
    await desk.run()
    (line,) = (await desk.client.get("/v1/transactions"))["data"]
    (match,) = line["matches"]
    sale = await desk.client.get(f"/v1/sales/{match['sale_id']}")
    too_much = await _bring_back(desk, sale, refund="24.01")
    assert (too_much.status_code, "24.00 was paid" in too_much.text) == (422, True)
    back = await _bring_back(desk, sale, refund="20.00", returned_on="2026-09-11")
    assert back.status_code == 200, back.text
    result = await desk.client.get(f"/v1/events/{desk.world.event}/result")
    assert result["whole"]["refunds"] == "20.00"
    assert result["cash_boxes"][0]["refunded"] == "20.00"


async def test_a_return_entered_later_stands_on_its_own_day(desk: Desk) -> None:
    sale = (await desk.ring_up(COAT, "68.00", method="cash"))["sale"]
    early = await _bring_back(desk, sale, returned_on="2026-09-10")
    assert (early.status_code, "was sold on 2026-09-11" in early.text) == (422, True)
    later = await _bring_back(desk, sale, returned_on="2999-01-01")
    assert later.status_code == 422
    back = await _bring_back(desk, sale, returned_on="2026-09-11")
    assert back.status_code == 200, back.text
    refund = next(
        line
        for line in (await desk.client.get("/v1/transactions"))["data"]
        if line["kind"] == "refund"
    )
    assert (refund["occurred_on"], refund["amount"]) == ("2026-09-11", "-68.00")
    assert (await _whole(desk))["net_sales"] == "0.00"


async def test_money_given_back_for_a_piece_that_is_kept(desk: Desk) -> None:
    sale = (await desk.ring_up(COAT, "68.00", method="cash"))["sale"]
    path = f"/v1/sales/{sale['id']}/returns"
    for body, words in (
        ({"lines": []}, "Say which lines came back"),
        ({"lines": [], "refund": "0.00"}, "Say which lines came back"),
        ({"lines": [], "refund": "68.01"}, "68.00 is left of what was paid"),
    ):
        wrong = await desk.client.ask("POST", path, body, If_Match="*")
        assert (wrong.status_code, words in wrong.text) == (422, True)
    flaw = {"lines": [], "refund": "8.00", "returned_on": "2026-09-11"}
    given = await desk.client.ask("POST", path, flaw, If_Match="*")
    assert given.status_code == 200, given.text
    assert [line["state"] for line in given.json()["lines"]] == ["sold"]
    whole = await _whole(desk)
    assert (whole["refunds"], whole["net_sales"], whole["pieces"]["known"]) == ("8.00", "60.00", 1)
    again = await desk.client.ask("POST", path, {"lines": [], "refund": "60.01"}, If_Match="*")
    assert "60.00 is left of what was paid" in again.json()["detail"]
    back = await _bring_back(desk, sale, returned_on="2026-09-11")
    assert back.status_code == 200, back.text
    whole = await _whole(desk)
    assert (whole["refunds"], whole["net_sales"], whole["pieces"]["known"]) == ("68.00", "0.00", 0)


async def test_money_given_back_to_a_card_is_left_to_the_export(desk: Desk) -> None:
    sale = (await desk.ring_up(COAT, "68.00", method="card"))["sale"]
    path = f"/v1/sales/{sale['id']}/returns"
    answer = await desk.client.ask("POST", path, {"lines": [], "refund": "8.00"}, If_Match="*")
    assert (answer.status_code, "comes with the export" in answer.text) == (422, True)


async def test_a_sale_that_contradicted_something_can_be_voided(desk: Desk) -> None:
    await desk.ring_up(COAT, "68.00", method="cash")
    second = await desk.ring_up(COAT, "60.00", method="cash")
    assert [conflict["kind"] for conflict in second["conflicts"]] == ["second-claim"]
    path = f"/v1/sales/{second['sale']['id']}/void"
    voided = await desk.client.ask("POST", path, If_Match="*")
    assert (voided.status_code, voided.json()["state"]) == (200, "void")
    assert (await desk.client.get("/v1/conflicts"))["data"] == []
    assert (await _whole(desk))["takings"] == "68.00"


async def test_a_refund_of_a_sale_that_is_voided_is_open_again(desk: Desk) -> None:
    sale = (await desk.ring_up(COAT, "68.00", method="cash"))["sale"]
    tally = "Date,Time,Amount,Note\n2026-09-11,16:00,-68.00,brought back\n"
    await desk.world.take_in(tally, importer="cash-tally")
    await desk.run()
    refunds = (await desk.client.get("/v1/transactions?kind=refund"))["data"]
    assert [match["related_transaction_id"] for match in refunds[0]["matches"]] == [
        sale["transaction_id"]
    ]
    voided = await desk.client.ask("POST", f"/v1/sales/{sale['id']}/void", If_Match="*")
    assert voided.status_code == 200, voided.text
    (line,) = (await desk.client.get("/v1/transactions"))["data"]
    assert (line["kind"], line["match_state"], line["matches"]) == ("refund", "unmatched", [])


async def test_a_sale_made_from_a_match_says_how_it_is_taken_back(desk: Desk) -> None:
    await desk.cards(PAID)
    await desk.run()
    sale = await _sale_of(desk, "p-1")
    answer = await desk.client.ask("POST", f"/v1/sales/{sale['id']}/void", If_Match="*")
    assert answer.status_code == 409
    assert sale["transaction_id"] in answer.json()["detail"]
