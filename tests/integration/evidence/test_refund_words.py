"""A person says what a refund gave back and what came back with it, over HTTP."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Any

import pytest
from tests.database import Clone
from tests.desk import Desk, Json, open_desk

from stallkeep.store.ids import new_id

JACKET = "2026-09-11,10:13:00,p-1,32.00,WNF-7TT"
BACK = "2026-09-11,14:00:00,r-1,-32.00,"


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def a_refunded_jacket(desk: Desk, *more: str) -> None:
    await desk.cards(JACKET, BACK, *more)
    await desk.run()
    assert await desk.pieces("p-1") == ["WNF7TT"]


async def said(desk: Desk, payment: str = "p-1", *came_back: str) -> Json:
    body = {"payment_id": (await desk.line(payment))["id"], "came_back": list(came_back)}
    return await desk.say("r-1", "refunded-payment", body)


async def left(desk: Desk) -> int:
    query = "select quantity - sold as left from item where shop_id = $1 and tag_code = 'WNF7TT'"
    number: int = (await desk.world.rows(query))[0]["left"]
    return number


async def questions(desk: Desk) -> list[Json]:
    found = await desk.client.get(f"/v1/events/{desk.world.event}/questions")
    return [one for one in found["data"] if one["kind"] == "given_back"]


async def test_it_is_asked_answered_and_not_asked_again(desk: Desk) -> None:
    await a_refunded_jacket(desk)
    (question,) = await questions(desk)
    assert question["transaction_id"] == (await desk.line("r-1"))["id"]
    assert question["related_transaction_id"] == (await desk.line("p-1"))["id"]
    told = await said(desk)
    assert (told["match_state"], told["matches"][0]["decided_by"]) == ("matched", "Ada")
    assert told["matches"][0]["explanation"] == "refund_of"
    assert await questions(desk) == []
    assert await left(desk) == 0
    await desk.run()
    assert (await desk.line("r-1"))["match_reason"] == "Ada said which payment it gives back"


async def test_a_piece_that_came_back_is_in_stock_and_stays_so(desk: Desk) -> None:
    await a_refunded_jacket(desk)
    await said(desk, "p-1", "wnf 7tt")
    assert await left(desk) == 1
    await said(desk, "p-1", "WNF-7TT")
    await desk.run()
    assert await left(desk) == 1
    assert await desk.pieces("p-1") == ["WNF7TT"]
    assert await questions(desk) == []
    found = await desk.client.get(f"/v1/events/{desk.world.event}/findings")
    assert found["data"] == []


async def test_a_piece_that_came_back_is_sold_to_the_next(desk: Desk) -> None:
    await a_refunded_jacket(desk, "2026-09-11,16:00:00,p-2,32.00,WNF-7TT")
    await said(desk, "p-1", "WNF7TT")
    await desk.run()
    assert await desk.pieces("p-1") == await desk.pieces("p-2") == ["WNF7TT"]
    assert (await desk.line("p-2"))["match_state"] == "matched"
    assert await left(desk) == 0


async def test_the_result_takes_the_refund_off_and_counts_the_piece_as_unsold(desk: Desk) -> None:
    await a_refunded_jacket(desk)
    await said(desk, "p-1", "WNF7TT")
    result = await desk.client.get(f"/v1/events/{desk.world.event}/result")
    assert (result["whole"]["takings"], result["whole"]["refunds"]) == ("32.00", "32.00")
    assert result["whole"]["cost_of_goods"]["expected"] == "0.00"
    assert result["whole"]["pieces"]["known"] == 0
    assert result["adds_up"] is True


async def test_a_word_about_the_payment_opens_its_refund_again(desk: Desk) -> None:
    await a_refunded_jacket(desk)
    await said(desk, "p-1", "WNF7TT")
    await desk.client.ask("DELETE", await desk.place("p-1", "match"))
    assert (await desk.line("r-1"))["match_state"] == "unmatched"
    rulings = (await desk.client.get(f"/v1/transactions/{(await desk.line('r-1'))['id']}"))[
        "rulings"
    ]
    assert [ruling["withdrawn_at"] is None for ruling in rulings] == [False]


async def test_a_word_about_a_refund_taken_back_leaves_its_payment_alone(desk: Desk) -> None:
    await a_refunded_jacket(desk)
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "WNF7TT"}]})
    await said(desk)
    await desk.client.ask("DELETE", await desk.place("r-1", "match"))
    assert (await desk.line("p-1"))["matches"][0]["decided_by"] == "Ada"
    assert (await desk.line("r-1"))["match_state"] == "unmatched"


@pytest.mark.parametrize(
    ("refund", "payment", "came_back", "code"),
    [
        ("p-2", "p-1", [], "not-a-refund"),
        ("r-1", "r-1", [], "not-a-sale"),
        ("r-1", "p-2", [], "not-its-payment"),
        ("r-1", "p-3", [], "not-its-payment"),
        ("r-1", "p-1", ["996AAD"], "not-of-this-sale"),
        ("r-1", "p-1", ["WNF7TT", "WNF7TT"], "not-of-this-sale"),
        ("r-1", None, [], "transaction-not-found"),
    ],
)
async def test_what_does_not_fit_is_refused_and_changes_nothing(
    desk: Desk, refund: str, payment: str | None, came_back: list[str], code: str
) -> None:
    await a_refunded_jacket(
        desk, "2026-09-11,11:00:00,p-2,15.00,", "2026-09-12,11:00:00,p-3,40.00,"
    )
    payment_id = (await desk.line(payment))["id"] if payment else str(new_id())
    body: dict[str, Any] = {"payment_id": payment_id, "came_back": came_back}
    before = await desk.line(refund)
    answer = await desk.client.ask("PUT", await desk.place(refund, "refunded-payment"), body)
    assert answer.json()["type"].endswith(f"/{code}")
    assert await desk.line(refund) == before
    assert await left(desk) == 0


async def test_a_channels_refund_keeps_its_word_and_its_piece(desk: Desk) -> None:
    online = desk.world.online
    rows = "2026-09-14,10:13:00,o-1,35.00,\n2026-09-15,10:13:00,r-1,-35.00,\n"
    text = f"Date,Time,Transaction ID,Amount,Note\n{rows}"
    await desk.world.take_in(text, channel=online, importer="card-reader-payments")
    await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})
    await desk.say("o-1", "match", {"pieces": [{"tag_code": "WNF7TT"}]})
    assert await left(desk) == 0
    await said(desk, "o-1", "WNF7TT")
    for _ in range(2):
        await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})
        refund = await desk.line("r-1")
        assert refund["match_state"] == "matched"
        assert refund["matches"][0]["decided_by"] == "Ada"
        assert await left(desk) == 1


@pytest.mark.parametrize("what", ["taken back", "set aside", "said anew"])
async def test_a_piece_is_sold_after_all_once_the_word_that_brought_it_back_is_gone(
    desk: Desk, what: str
) -> None:
    await a_refunded_jacket(desk)
    await said(desk, "p-1", "WNF7TT")
    assert await left(desk) == 1
    if what == "taken back":
        await desk.client.ask("DELETE", await desk.place("r-1", "match"))
    elif what == "set aside":
        await desk.say("r-1", "set-aside", {"reason": "a test of the reader"})
    else:
        await said(desk, "p-1")
    assert await left(desk) == 0
    await desk.run()
    assert await left(desk) == 0
    assert await desk.pieces("p-1") == ["WNF7TT"]
    result = await desk.client.get(f"/v1/events/{desk.world.event}/result")
    assert result["whole"]["cost_of_goods"]["expected"] == "11.00"


async def test_a_piece_sold_after_all_leaves_a_payment_that_only_a_run_gave_it_to(
    desk: Desk,
) -> None:
    await a_refunded_jacket(desk, "2026-09-11,16:00:00,p-2,32.00,WNF-7TT")
    await said(desk, "p-1", "WNF7TT")
    await desk.run()
    assert await desk.pieces("p-2") == ["WNF7TT"]
    await desk.client.ask("DELETE", await desk.place("r-1", "match"))
    assert (await desk.line("p-2"))["match_state"] == "unmatched"
    assert await left(desk) == 0


async def test_a_piece_that_somebody_else_has_by_now_is_not_sold_after_all(desk: Desk) -> None:
    await a_refunded_jacket(desk)
    await said(desk, "p-1", "WNF7TT")
    await desk.ring_up("WNF7TT", "30.00", method="cash")
    answer = await desk.client.ask("DELETE", await desk.place("r-1", "match"))
    assert answer.status_code == 409
    assert answer.json()["type"].endswith("/piece-spoken-for")
    assert (await desk.line("r-1"))["match_state"] == "matched"
    assert await left(desk) == 0


async def test_a_channels_payment_that_is_given_back_is_offered_to_no_other_refund(
    desk: Desk,
) -> None:
    online = desk.world.online
    rows = "".join(
        f"2026-09-{day},10:13:00,{name},{amount},\n"
        for day, name, amount in (
            ("14", "o-1", "35.00"),
            ("15", "o-2", "35.00"),
            ("16", "r-1", "-20.00"),
            ("17", "r-2", "-35.00"),
        )
    )
    text = f"Date,Time,Transaction ID,Amount,Note\n{rows}"
    await desk.world.take_in(text, channel=online, importer="card-reader-payments")

    async def offered() -> list[str]:
        await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})
        found = (await desk.line("r-2"))["matches"]
        return sorted(match["related_transaction_id"] for match in found)

    one, other = (await desk.line("o-1"))["id"], (await desk.line("o-2"))["id"]
    assert await offered() == sorted([one, other])
    await said(desk, "o-1")
    assert await offered() == [other]
    assert (await desk.line("r-1"))["matches"][0]["decided_by"] == "Ada"
    await desk.client.ask("DELETE", await desk.place("r-1", "match"))
    assert await offered() == sorted([one, other])
