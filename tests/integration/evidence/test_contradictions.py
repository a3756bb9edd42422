"""Contradictions stop nothing and do not vanish: findings and conflicts, over HTTP."""

from __future__ import annotations

from collections.abc import AsyncIterator

import pytest
from tests.database import Clone
from tests.desk import Desk, Json, open_desk

from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.work.hand_out_token import hand_out_token


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    async with open_desk(database) as opened:
        yield opened


async def conflicts(desk: Desk, state: str = "open") -> list[tuple[str, str]]:
    found = (await desk.client.get(f"/v1/conflicts?state={state}"))["data"]
    return sorted((one["kind"], one["detail"]) for one in found)


def look(desk: Desk, code: str) -> str:
    return f"/v1/events/{desk.world.event}/pieces/{desk.world.items[code]}/seen"


async def seen(desk: Desk, code: str, number: int) -> None:
    answer = await desk.client.ask("PUT", look(desk, code), {"still_here": number})
    assert answer.status_code == 204, answer.text


async def beside(desk: Desk) -> Desk:
    """The same shop, asked by Bo."""
    async with scope(desk.world.pool, desk.world.shop.shop_id) as con:
        _, token = await hand_out_token(con, desk.world.shop.shop_id, "Bo", "helper")
    return Desk(desk.world, desk.client.with_token(token))


async def findings(desk: Desk) -> Json:
    found: Json = await desk.client.get(f"/v1/events/{desk.world.event}/findings")
    return found


async def test_findings_are_listed_by_event_with_money_as_text(desk: Desk) -> None:
    assert await findings(desk) == {"data": [], "reconciliation_id": None, "created_at": None}
    await desk.cards("2026-09-11,10:13:00,p-1,0.00,")
    done = await desk.run()
    listed = await findings(desk)
    assert listed["reconciliation_id"] == done["id"]
    assert listed["data"] == done["findings"]
    (finding,) = listed["data"]
    assert (finding["code"], finding["amount"]) == ("amount-not-positive", "0.00")
    assert "findings" not in done["report"]
    again = await desk.client.get(f"/v1/reconciliations/{done['id']}")
    assert again["findings"] == done["findings"]


async def test_findings_of_an_unknown_event_are_not_found(desk: Desk) -> None:
    answer = await desk.client.ask("GET", f"/v1/events/{new_id()}/findings")
    assert answer.status_code == 404


async def test_a_line_of_a_day_outside_the_event_is_told(desk: Desk) -> None:
    text = "Date,Time,Transaction ID,Amount\n2026-09-19,10:00:00,p-1,22.00\n"
    await desk.world.take_in(text, event_id=desk.world.event)
    (finding,) = (await desk.run())["findings"]
    assert finding["code"] == "day-outside-event"
    assert finding["sentence"].startswith("22.00 of 2026-09-19 at 10:00 came with a file")
    assert finding["transaction_ids"] == [(await desk.line("p-1"))["id"]]


async def test_words_that_contradict_are_a_conflict_until_one_changes(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,")
    await seen(desk, "996AAD", 1)
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "996AAD"}]})
    await desk.run()
    ((kind, detail),) = await conflicts(desk)
    assert kind == "confirmed-but-still-here"
    assert "Navy wool coat (996-AAD)" in detail
    await desk.run()
    assert len(await conflicts(desk)) == 1
    await seen(desk, "996AAD", 0)
    await desk.run()
    assert await conflicts(desk) == []


async def test_a_number_and_pieces_that_differ_are_a_conflict(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,")
    await desk.say("p-1", "piece-count", {"pieces": 2})
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "996AAD"}]})
    await desk.run()
    assert [kind for kind, _ in await conflicts(desk)] == ["number-and-pieces-disagree"]


async def test_a_conflict_that_a_person_settled_is_not_shown_again(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,")
    await seen(desk, "996AAD", 1)
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "996AAD"}]})
    await desk.run()
    (one,) = (await desk.client.get("/v1/conflicts?state=open"))["data"]
    await desk.client.post(f"/v1/conflicts/{one['id']}/settle")
    await desk.run()
    assert await conflicts(desk) == []
    assert len(await conflicts(desk, "settled")) == 1


async def test_a_doubtful_double_sale_goes_when_it_proves_none(desk: Desk) -> None:
    online = desk.world.online
    listing = "Listing ID,Title,Price,Status,Code\nL-1,Grey cardigan,26.00,live,A17AH1\n"
    order = "Order,Listing,Title,Sold on,Item price,Order total,Order status\n"
    order += "O-1,L-1,Grey cardigan,2026-09-11 15:00,26.00,26.00,paid\n"
    await desk.world.take_in(listing, channel=online, importer="resale-listings")
    await desk.world.take_in(order, channel=online, importer="resale-sales")
    await desk.client.post("/v1/reconciliations", {"channel_id": str(online)})
    await desk.cards("2026-09-11,10:13:00,p-1,24.00,A17-AH1")
    await desk.run()
    assert "probably-sold-twice" in {kind for kind, _ in await conflicts(desk)}
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "WNF7TT"}]})
    await desk.run()
    assert "probably-sold-twice" not in {kind for kind, _ in await conflicts(desk)}


async def test_a_count_of_what_was_not_taken_is_shown_until_it_is_put_right(desk: Desk) -> None:
    scarf = await desk.client.post("/v1/items", {"title": "Silk scarf", "price": "9.00"})
    path = f"/v1/events/{desk.world.event}/count"
    wrong = {"codes": ["996AAD", scarf["tag_code"], "QQ9-Q9Q"]}
    counted = await desk.client.put(path, wrong)
    assert (counted["unknown"], counted["not_on_rail"]) == (["QQ9-Q9Q"], [scarf["tag_code"]])
    shown = await conflicts(desk)
    assert [kind for kind, _ in shown] == ["counted-not-taken", "counted-unknown-code"]
    assert "Silk scarf" in shown[0][1]
    assert "QQ9-Q9Q" in shown[1][1]
    await desk.client.put(path, wrong)
    assert len(await conflicts(desk)) == 2
    await desk.client.put(path, {"codes": ["996AAD"]})
    assert await conflicts(desk) == []


@pytest.mark.parametrize(
    ("what", "body"),
    [
        ("match", {"pieces": [{"tag_code": "WNF7TT"}]}),
        ("match", {"pieces": []}),
        ("refusal", {"tag_codes": ["996AAD"]}),
        ("set-aside", {"reason": "a test of the reader"}),
    ],
)
async def test_another_persons_word_is_replaced_in_plain_sight(
    desk: Desk, what: str, body: Json
) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,")
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "996AAD"}]})
    await (await beside(desk)).say("p-1", what, body)
    ((kind, detail),) = await conflicts(desk)
    assert kind == "words-contradict"
    assert detail.startswith("Bo said something else about this payment than Ada did before")
    assert (await desk.client.get("/v1/conflicts"))["data"][0]["transaction_id"] == (
        await desk.line("p-1")
    )["id"]


async def test_who_agrees_or_changes_their_mind_contradicts_nobody(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,", "2026-09-11,11:13:00,p-2,15.00,")
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "996AAD"}]})
    await (await beside(desk)).say("p-1", "match", {"pieces": [{"tag_code": "996AAD"}]})
    await desk.say("p-2", "piece-count", {"pieces": 2})
    await desk.say("p-2", "piece-count", {"pieces": 1})
    await seen(desk, "WNF7TT", 1)
    await seen(desk, "WNF7TT", 0)
    assert await conflicts(desk) == []


async def test_two_numbers_and_two_looks_contradict(desk: Desk) -> None:
    await desk.cards("2026-09-11,11:13:00,p-2,15.00,")
    other = await beside(desk)
    await desk.say("p-2", "piece-count", {"pieces": 2})
    await other.say("p-2", "piece-count", {"pieces": 1})
    await seen(desk, "WNF7TT", 1)
    await seen(other, "WNF7TT", 0)
    (looks, words) = await conflicts(desk)
    assert looks[0] == "looks-contradict"
    assert "Bo saw 0 still there, and Ada saw 1 before" in looks[1]
    assert words[0] == "words-contradict"


async def test_looks_are_kept_with_who_and_when_and_can_be_taken_back(desk: Desk) -> None:
    await seen(desk, "WNF7TT", 1)
    await seen(await beside(desk), "WNF7TT", 0)
    answer = await desk.client.ask("DELETE", look(desk, "WNF7TT"))
    assert answer.status_code == 204
    kept = await desk.client.get(look(desk, "WNF7TT"))
    assert [(one["said_by"], one["still_here"]) for one in kept] == [("Bo", 0), ("Ada", 1)]
    assert all(one["said_at"] and one["withdrawn_at"] for one in kept)


async def test_a_claim_in_vain_is_settled_by_what_is_said_next(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,", "2026-09-11,11:13:00,p-2,68.00,")
    coat = {"pieces": [{"tag_code": "996AAD"}]}
    await desk.say("p-1", "match", coat)
    answer = await desk.client.ask("PUT", await desk.place("p-2", "match"), coat)
    assert answer.status_code == 409
    assert [kind for kind, _ in await conflicts(desk)] == ["second-claim"]
    await desk.client.ask("DELETE", await desk.place("p-1", "match"))
    await desk.say("p-2", "match", coat)
    assert await conflicts(desk) == []
    (settled,) = (await desk.client.get("/v1/conflicts?state=settled"))["data"]
    assert (settled["kind"], settled["settled_by"]) == ("second-claim", "Ada")


async def test_money_that_may_stand_twice_is_settled_by_setting_it_aside(desk: Desk) -> None:
    await desk.ring_up("WNF7TT", "30.00", method="cash")
    tally = "Date,Time,Amount,Method,Transaction ID\n2026-09-11,10:13:00,30.00,cash,k-1\n"
    await desk.world.take_in(tally, name="tally.csv")
    await desk.run()
    assert [kind for kind, _ in await conflicts(desk)] == ["perhaps-entered-twice"]
    await desk.say("k-1", "set-aside", {"reason": "entered at the stall", "is_income": False})
    assert await conflicts(desk) == []
    await desk.run()
    assert await conflicts(desk) == []


async def test_the_conflicts_of_an_event_are_listed_by_themselves(desk: Desk) -> None:
    await desk.ring_up("WNF7TT", "30.00", method="cash")
    await desk.ring_up("WNF7TT", "31.00", method="cash")
    here = await desk.client.get(f"/v1/conflicts?event={desk.world.event}&state=open")
    assert [one["kind"] for one in here["data"]] == ["second-claim"]
    elsewhere = await desk.client.get(f"/v1/conflicts?event={new_id()}")
    assert elsewhere["data"] == []


async def test_a_claim_in_vain_is_settled_by_saying_that_it_was_not_that_piece(desk: Desk) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,", "2026-09-11,11:13:00,p-2,68.00,")
    coat = {"pieces": [{"tag_code": "996AAD"}]}
    await desk.say("p-1", "match", coat)
    answer = await desk.client.ask("PUT", await desk.place("p-2", "match"), coat)
    assert answer.status_code == 409
    await desk.say("p-2", "refusal", {"tag_codes": ["WNF7TT"]})
    assert [kind for kind, _ in await conflicts(desk)] == ["second-claim"]
    await desk.say("p-2", "refusal", {"tag_codes": ["996AAD"]})
    assert await conflicts(desk) == []


@pytest.mark.parametrize(
    ("first", "then", "last", "left"),
    [
        ("match 996AAD", "refusal 996AAD", "Ada match WNF7TT", []),
        ("match 996AAD", "refusal 996AAD", "Ada match 996AAD", ["words-contradict"]),
        ("match 996AAD", "match WNF7TT", "Ada match WNF7TT", []),
        ("match 996AAD", "match WNF7TT", "Bo match 996AAD", []),
        ("match 996AAD", "match WNF7TT", "Bo match A17AH1", ["words-contradict"]),
        ("count ii", "count i", "Ada count i", []),
    ],
)
async def test_words_that_contradicted_are_settled_once_all_agree(
    desk: Desk, first: str, then: str, last: str, left: list[str]
) -> None:
    await desk.cards("2026-09-11,10:13:00,p-1,68.00,")
    people = {"Ada": desk, "Bo": await beside(desk)}

    async def say(who: str, what: str, named: str) -> None:
        bodies: Json = {
            "match": {"pieces": [{"tag_code": named}]},
            "refusal": {"tag_codes": [named]},
            "count": {"pieces": len(named)},
        }
        place = "piece-count" if what == "count" else what
        await people[who].say("p-1", place, bodies[what])

    for who, said in (("Ada", first), ("Bo", then)):
        await say(who, *said.split())
    assert [kind for kind, _ in await conflicts(desk)] == ["words-contradict"]
    who, what, named = last.split()
    await say(who, what, named)
    assert [kind for kind, _ in await conflicts(desk)] == left


async def test_a_claim_in_vain_is_settled_once_a_run_meets_it(desk: Desk) -> None:
    """The word that stood in its way was put right, and nobody had to say the other one again."""
    await desk.cards("2026-09-11,10:13:00,p-1,32.00,", "2026-09-11,11:13:00,p-2,68.00,996-AAD")
    coat = {"pieces": [{"tag_code": "996AAD"}]}
    await desk.say("p-1", "match", coat)
    answer = await desk.client.ask("PUT", await desk.place("p-2", "match"), coat)
    assert answer.status_code == 409
    await desk.run()
    assert "second-claim" in {kind for kind, _ in await conflicts(desk)}
    await desk.say("p-1", "match", {"pieces": [{"tag_code": "WNF7TT"}]})
    await desk.run()
    assert await desk.pieces("p-2") == ["996AAD"]
    assert await conflicts(desk) == []
