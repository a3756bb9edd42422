"""The evidence routes over HTTP: imports, transactions, matches, take-downs, results."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any
from uuid import uuid4

import httpx
import msgspec
import pytest
from tests.api_client import Client
from tests.database import Clone
from tests.desk import owner_client
from tests.evidence_world import World, make_world

from stallkeep.api.app import create_app
from stallkeep.config import Settings

HEADER = "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
CODE = "2026-09-11,10:12:00,p-1,24.00,EUR,0.65,A17-AH1\n"
ONE_PRICE = "2026-09-11,11:40:00,p-2,68.00,EUR,1.70,\n"
TWO_FIT = "2026-09-11,12:05:00,p-3,15.00,EUR,0.43,\n"
FILE = HEADER + CODE + ONE_PRICE + TWO_FIT


class Desk(msgspec.Struct):
    """A world and the owner's client of its API."""

    world: World
    client: Client

    async def upload(self, data: str | bytes, **query: str) -> httpx.Response:
        content = data.encode() if isinstance(data, str) else data
        given = {"channel": str(self.world.stall), **query}
        return await self.client.http.post(
            "/v1/imports",
            content=content,
            params={name: value for name, value in given.items() if value},
            headers={"Content-Type": "text/csv"},
        )

    async def transactions(self, **query: str) -> list[dict[str, Any]]:
        answer = await self.client.http.get("/v1/transactions", params=query)
        assert answer.status_code == 200, answer.text
        found: list[dict[str, Any]] = answer.json()["data"]
        return found

    async def of(self, external_id: str) -> dict[str, Any]:
        return next(t for t in await self.transactions() if t["external_id"] == external_id)


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    world = await make_world(database.pool)
    client = await owner_client(world)
    async with client.http:
        yield Desk(world, client)


async def reconciled(desk: Desk) -> dict[str, Any]:
    assert (await desk.upload(FILE)).status_code == 201
    done: dict[str, Any] = await desk.client.post(
        "/v1/reconciliations", {"event_id": str(desk.world.event)}
    )
    return done


async def test_an_upload_answers_with_counts_that_add_up(desk: Desk) -> None:
    answer = await desk.upload(FILE, file_name="friday.csv")
    assert answer.status_code == 201, answer.text
    done = answer.json()
    assert done["rows_read"] == sum(done[k] for k in ("taken", "known", "rejected", "skipped"))
    assert (done["taken"], done["file_name"], done["state"]) == (3, "friday.csv", "done")
    assert answer.headers["location"] == f"/v1/imports/{done['id']}"
    again = await desk.client.get(f"/v1/imports/{done['id']}")
    assert again["taken"] == 3


async def test_an_upload_nobody_can_read_is_a_problem_that_says_what_to_do(desk: Desk) -> None:
    answer = await desk.upload(b"%PDF-1.7\nnonsense")
    assert answer.status_code == 422
    problem = answer.json()
    assert problem["type"].endswith("/import-refused")
    assert problem["advice"]
    assert answer.headers["content-type"] == "application/problem+json"


async def test_an_oversized_upload_is_413(desk: Desk) -> None:
    small = Settings(max_upload_bytes=100)
    desk.client.app = create_app(small, desk.world.pool)
    async with desk.client.with_token(desk.client.token).http as http:
        answer = await http.post("/v1/imports", content=b"x" * 200)
    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ({"channel": "not-an-id"}, 400),
        ({"columns": "amount=Betrag"}, 400),
        ({"columns": "[1]"}, 400),
        ({"answers": '{"date_order":"sideways"}'}, 422),
        ({"answers": '{"nonsense":"x"}'}, 422),
        ({"importer": "nobody"}, 404),
        ({"colour": "blue"}, 400),
        ({"channel": str(uuid4())}, 422),
    ],
)
async def test_each_wrong_parameter_has_its_own_problem(
    desk: Desk, query: dict[str, str], status: int
) -> None:
    answer = await desk.upload(FILE, **query)
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"]


async def test_rows_without_a_channel_are_asked_about(desk: Desk) -> None:
    answer = await desk.upload(FILE, channel="")
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("/place-needed")


async def test_rejects_are_listed_with_line_reason_and_advice(desk: Desk) -> None:
    done = (await desk.upload(FILE + "2026-09-11,12:30:00,p-9,lots,EUR,,\n")).json()
    rejects = (await desk.client.get(f"/v1/imports/{done['id']}/rejects"))["data"]
    assert [(r["line"], r["column"], r["value"]) for r in rejects] == [(5, "Amount", "lots")]


async def test_a_preview_shows_the_layout_and_takes_nothing(desk: Desk) -> None:
    answer = await desk.client.http.post("/v1/imports/preview", content=FILE.encode())
    assert answer.status_code == 200, answer.text
    shown = answer.json()
    assert shown["importer"] == "card-reader-payments"
    assert shown["counts"]["transaction"] == 3
    assert {c["field"] for c in shown["layout"]["columns"]} >= {"date", "amount", "note"}
    assert await desk.transactions() == []


async def test_a_preview_takes_what_an_import_takes_and_checks_it(desk: Desk) -> None:
    world, data = desk.world, FILE.encode()
    url, http = "/v1/imports/preview", desk.client.http
    for place in ({"channel": str(world.stall)}, {"event": str(world.event)}):
        shown = await http.post(url, content=data, params=place)
        assert shown.status_code == 200, shown.text
    unknown = await http.post(url, content=data, params={"channel": str(world.event)})
    assert "channel" in unknown.json()["detail"]
    await desk.upload(FILE)
    again = await http.post(url, content=data, params={"channel": str(world.stall)})
    assert again.status_code == 200
    elsewhere = await http.post(url, content=data, params={"channel": str(world.online)})
    assert elsewhere.json()["detail"].startswith("This very file was taken in for the channel")


async def test_unmatched_payments_of_an_event_are_listed(desk: Desk) -> None:
    await desk.upload(FILE)
    event = str(desk.world.event)
    found = await desk.transactions(state="unmatched", event=event)
    assert [t["amount"] for t in found] == ["24.00", "68.00", "15.00"]
    assert await desk.transactions(state="matched", event=event) == []
    day = {"from": "2026-09-12", "to": "2026-09-13"}
    assert await desk.transactions(**day) == []


async def test_pages_go_on_where_the_last_one_ended(desk: Desk) -> None:
    await desk.upload(FILE)
    seen: list[str] = []
    path = "/v1/transactions?limit=2"
    while path:
        answer = await desk.client.http.get(path)
        seen += [t["external_id"] for t in answer.json()["data"]]
        path = answer.links["next"]["url"] if "next" in answer.links else ""
    assert seen == ["p-1", "p-2", "p-3"]


async def test_a_run_matches_what_is_certain_and_proposes_what_is_not(desk: Desk) -> None:
    done = await reconciled(desk)
    assert sum(done["counts"].values()) == 3
    sure = await desk.of("p-1")
    assert sure["match_state"] == "matched"
    assert sure["matches"][0]["pieces"][0]["tag_code"] == "A17AH1"
    assert sure["matches"][0]["reason"]
    open_line = await desk.of("p-3")
    assert open_line["match_state"] == "proposed"
    candidates = await desk.client.get(f"/v1/transactions/{open_line['id']}/candidates")
    assert {p["tag_code"] for c in candidates[:2] for p in c["pieces"]} == {"DE87TR", "GG15K0"}
    again = await desk.client.get(f"/v1/reconciliations/{done['id']}")
    assert again["counts"] == done["counts"]


async def test_a_persons_words_go_over_http(desk: Desk) -> None:
    await reconciled(desk)
    path = f"/v1/transactions/{(await desk.of('p-3'))['id']}"
    chosen = await desk.client.put(f"{path}/match", {"pieces": [{"tag_code": "gg1-5k0"}]})
    assert (chosen["match_state"], chosen["matches"][0]["decided_by"]) == ("matched", "Ada")
    whole = await desk.client.get(path)
    assert [r["kind"] for r in whole["rulings"]] == ["confirmed"]
    back = await desk.client.ask("DELETE", f"{path}/match")
    assert back.json()["match_state"] == "unmatched"
    refused = await desk.client.put(f"{path}/refusal", {"tag_codes": ["DE87TR"]})
    assert refused["match_state"] == "unmatched"
    counted = await desk.client.put(f"{path}/piece-count", {"pieces": 1})
    assert counted["match_state"] == "unmatched"
    aside = await desk.client.put(f"{path}/set-aside", {"reason": "a test of the reader"})
    assert (aside["match_state"], aside["match_reason"]) == ("set_aside", "a test of the reader")


@pytest.mark.parametrize(
    ("way", "body", "status", "code"),
    [
        ("match", {"pieces": [{"tag_code": "NOSUCH"}]}, 422, "code-not-in-stock"),
        ("match", {"pieces": [{"tag_code": "996AAD", "quantity": -1}]}, 422, "invalid-input"),
        ("match", {"pieces": [{"tag_code": "996AAD", "price": "12.5"}]}, 422, "invalid-input"),
        ("match", {"piece": []}, 422, "invalid-input"),
        ("refusal", {"tag_codes": []}, 422, "invalid-input"),
        ("set-aside", {"reason": ""}, 422, "invalid-input"),
        ("piece-count", {"pieces": 0}, 422, "invalid-input"),
    ],
)
async def test_each_wrong_word_has_its_own_problem(
    desk: Desk, way: str, body: object, status: int, code: str
) -> None:
    await desk.upload(FILE)
    path = f"/v1/transactions/{(await desk.of('p-1'))['id']}/{way}"
    answer = await desk.client.ask("PUT", path, body)
    assert answer.status_code == status, answer.text
    assert answer.json()["type"].endswith(f"/{code}")


async def test_another_shops_things_are_not_found(desk: Desk, database: Clone) -> None:
    await desk.upload(FILE)
    theirs = await make_world(database.pool)
    await theirs.take_in(FILE)
    (row, *_) = await theirs.rows("select id from transaction where shop_id = $1")
    (imported,) = await theirs.rows("select id from import where shop_id = $1")
    for path in (
        f"/v1/transactions/{row['id']}",
        f"/v1/transactions/{row['id']}/candidates",
        f"/v1/imports/{imported['id']}",
        f"/v1/imports/{imported['id']}/rejects",
        f"/v1/events/{theirs.event}/result",
        f"/v1/reconciliations/{uuid4()}",
    ):
        answer = await desk.client.ask("GET", path)
        assert answer.status_code == 404, path
    answer = await desk.client.ask("POST", "/v1/reconciliations", {"event_id": str(theirs.event)})
    assert answer.status_code == 404


async def test_an_import_with_matched_rows_is_undone_only_when_said_so(desk: Desk) -> None:
    await reconciled(desk)
    imported = (await desk.client.get("/v1/imports"))["data"][0]["id"]
    asked = await desk.client.ask("DELETE", f"/v1/imports/{imported}")
    assert (asked.status_code, asked.json()["matched"]) == (409, 2)
    done = await desk.client.ask("DELETE", f"/v1/imports/{imported}?release=true")
    assert done.json()["state"] == "undone"
    assert await desk.transactions() == []
    sold = await desk.world.rows("select 1 from item where shop_id = $1 and sold > 0")
    assert sold == []


async def test_a_result_adds_up_and_explains_itself(desk: Desk) -> None:
    await reconciled(desk)
    result = await desk.client.get(f"/v1/events/{desk.world.event}/result?explain=true")
    (card,) = result["methods"]
    assert card["takings"] == "107.00"
    assert result["adds_up"] is True
    assert result["whole"]["takings"] == "107.00"
    assert result["whole"]["fees"] == "2.78"
    assert result["explained"]
    assert "professional" in result["caution"]


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"event_id": str(uuid4()), "channel_id": str(uuid4())},
        {"channel_id": str(uuid4()), "from_on": "2026-09-12", "to_on": "2026-09-11"},
        {"event_id": "x"},
    ],
)
async def test_a_reconciliation_of_nothing_in_particular_is_refused(
    desk: Desk, body: object
) -> None:
    answer = await desk.client.ask("POST", "/v1/reconciliations", body)
    assert answer.status_code == 422, answer.text


async def test_importers_are_listed_with_what_they_give(desk: Desk) -> None:
    found = await desk.client.get("/v1/importers")
    names = {importer["name"] for importer in found if importer["problem"] is None}
    assert {"card-reader-payments", "resale-sales", "resale-listings"} <= names


async def test_the_best_question_is_asked_and_its_answer_counts(desk: Desk) -> None:
    await reconciled(desk)
    event = desk.world.event
    asked = await desk.client.get(f"/v1/events/{event}/questions")
    twins = {str(desk.world.items[code]): code for code in ("DE87TR", "GG15K0")}
    question = next(q for q in asked["data"] if q["item_id"] in twins)
    path = f"/v1/events/{event}/pieces/{question['item_id']}/seen"
    answer = await desk.client.ask("PUT", path, {"still_here": 1})
    assert answer.status_code == 204
    await desk.client.post("/v1/reconciliations", {"event_id": str(event)})
    best = (await desk.of("p-3"))["matches"][0]
    (other,) = set(twins.values()) - {twins[question["item_id"]]}
    assert [piece["tag_code"] for piece in best["pieces"]] == [other]
    left = await desk.client.get(f"/v1/events/{event}/questions")
    assert question["item_id"] not in {q["item_id"] for q in left["data"]}


async def test_what_was_never_on_the_rail_cannot_be_seen(desk: Desk) -> None:
    path = f"/v1/events/{desk.world.event}/pieces/{uuid4()}/seen"
    answer = await desk.client.ask("PUT", path, {"still_here": 1})
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("/piece-not-on-rail")


async def test_a_rejected_row_is_corrected_without_the_whole_file(desk: Desk) -> None:
    bad = "2026-09-11,12:30:00,p-9,lots,EUR,0.30,\n"
    done = (await desk.upload(FILE + bad)).json()
    path = f"/v1/imports/{done['id']}/rejects"
    (reject,) = (await desk.client.get(path))["data"]
    wrong = [*reject["cells"]]
    still = await desk.client.ask("POST", f"{path}/{reject['record']}/corrected", {"cells": wrong})
    assert still.status_code == 422
    assert still.json()["type"].endswith("/still-rejected")
    right = ["19.00" if cell == "lots" else cell for cell in reject["cells"]]
    taken = await desk.client.post(f"{path}/{reject['record']}/corrected", {"cells": right})
    assert (taken["taken"], taken["rejected"]) == (1, 0)
    assert (await desk.of("p-9"))["amount"] == "19.00"
    again = await desk.client.ask("POST", f"{path}/{reject['record']}/corrected", {"cells": right})
    assert again.status_code == 409
    assert (await desk.client.get(path))["data"][0]["state"] == "taken"


async def test_of_two_corrections_at_once_one_is_taken(desk: Desk) -> None:
    done = (await desk.upload(FILE + "2026-09-11,12:30:00,p-9,lots,EUR,0.30,\n")).json()
    path = f"/v1/imports/{done['id']}/rejects"
    (reject,) = (await desk.client.get(path))["data"]
    stored = len(await desk.transactions())
    asked = [
        desk.client.ask(
            "POST",
            f"{path}/{reject['record']}/corrected",
            {"cells": [{"lots": "19.00", "p-9": name}.get(cell, cell) for cell in reject["cells"]]},
        )
        for name in ("p-9", "p-90", "p-900", "p-9000")
    ]
    answers = [answer.status_code for answer in await asyncio.gather(*asked)]
    assert sorted(answers) == [201, 409, 409, 409]
    assert len(await desk.transactions()) == stored + 1


async def test_a_rejected_row_nobody_wants_is_dismissed_and_kept(desk: Desk) -> None:
    done = (await desk.upload(FILE + "2026-09-11,12:30:00,p-9,lots,EUR,,\n")).json()
    path = f"/v1/imports/{done['id']}/rejects"
    record = (await desk.client.get(path))["data"][0]["record"]
    assert (await desk.client.ask("DELETE", f"{path}/{record}")).status_code == 204
    assert (await desk.client.get(path))["data"][0]["state"] == "dismissed"
    assert (await desk.client.ask("DELETE", f"{path}/999")).status_code == 404


async def ring_up(desk: Desk, at: str, *lines: dict[str, Any], method: str = "card") -> Any:  # noqa: ANN401
    body = {
        "channel_id": str(desk.world.stall),
        "event_id": str(desk.world.event),
        "entered": "stall",
        "method": method,
        "sold_at": f"2026-09-11T{at}+02:00",
        "lines": list(lines),
    }
    return (await desk.client.post("/v1/sales", body))["sale"]


JUG = {"tag_code": "DE87TR", "price": "13.00"}
BOWL = {"tag_code": "GG15K0", "price": "10.00"}


async def test_a_ring_up_meets_the_one_payment_that_fits_it(desk: Desk) -> None:
    sale = await ring_up(desk, "11:30:00", JUG, BOWL)
    untagged = await ring_up(desk, "12:30:00", {"title": "Button tin", "price": "3.00"})
    await desk.upload(
        HEADER
        + "2026-09-11,11:31:00,p-1,23.00,EUR,0.60,\n"
        + "2026-09-11,12:30:30,p-2,3.00,EUR,0.10,\n"
    )
    await desk.client.post("/v1/reconciliations", {"event_id": str(desk.world.event)})
    both = await desk.of("p-1")
    assert both["match_state"] == "matched"
    (match,) = both["matches"]
    assert match["sale_id"] == sale["id"]
    assert {p["tag_code"]: p["price"] for p in match["pieces"]} == {
        "DE87TR": "13.00",
        "GG15K0": "10.00",
    }
    tin = await desk.of("p-2")
    assert (tin["match_state"], tin["matches"][0]["sale_id"]) == ("matched", untagged["id"])
    result = await desk.client.get(f"/v1/events/{desk.world.event}/result")
    assert not [sentence for sentence in result["missing"] if "wait" in sentence]
    sold = await desk.world.rows("select sold from item where shop_id = $1 and sold <> 0")
    assert [row["sold"] for row in sold] == [1, 1]


async def test_a_person_confirms_a_payment_for_what_was_rung_up(desk: Desk) -> None:
    sale = await ring_up(desk, "11:30:00", JUG, BOWL)
    await desk.upload(HEADER + "2026-09-11,17:31:00,p-1,23.00,EUR,0.60,\n")
    path = f"/v1/transactions/{(await desk.of('p-1'))['id']}/match"
    pieces = [{"tag_code": "DE87TR"}, {"tag_code": "GG15K0"}]
    said = await desk.client.put(path, {"pieces": pieces})
    assert (said["match_state"], said["matches"][0]["sale_id"]) == ("matched", sale["id"])
    assert (await desk.client.get("/v1/conflicts"))["data"] == []
    back = await desk.client.ask("DELETE", path)
    assert back.json()["match_state"] == "unmatched"
    assert (await desk.client.get(f"/v1/sales/{sale['id']}"))["state"] == "done"


async def test_a_price_said_for_one_piece_is_kept(desk: Desk) -> None:
    await desk.upload(HEADER + "2026-09-11,17:31:00,p-1,99.00,EUR,0.60,\n")
    path = f"/v1/transactions/{(await desk.of('p-1'))['id']}/match"
    pieces = [{"tag_code": "996AAD", "price": "50.00"}, {"tag_code": "WNF7TT"}]
    said = await desk.client.put(path, {"pieces": pieces})
    prices = {p["tag_code"]: p["price"] for p in said["matches"][0]["pieces"]}
    assert prices == {"996AAD": "50.00", "WNF7TT": "49.00"}


async def test_the_payment_of_a_cash_sale_is_changed_through_its_sale_only(desk: Desk) -> None:
    await ring_up(desk, "11:30:00", JUG, method="cash")
    (own,) = await desk.transactions()
    for way, body in (
        ("refusal", {"tag_codes": ["DE87TR"]}),
        ("set-aside", {"reason": "no"}),
        ("match", {"pieces": []}),
    ):
        answer = await desk.client.ask("PUT", f"/v1/transactions/{own['id']}/{way}", body)
        assert answer.status_code == 409, way
    assert (await desk.transactions())[0]["match_state"] == "matched"


async def test_a_payment_in_another_currency_is_not_made_the_shops(desk: Desk) -> None:
    await desk.upload(HEADER + "2026-09-11,17:31:00,p-1,4000,JPY,,\n")
    path = f"/v1/transactions/{(await desk.of('p-1'))['id']}/match"
    answer = await desk.client.ask("PUT", path, {"pieces": [{"tag_code": "996AAD"}]})
    assert answer.status_code == 422
    result = await desk.client.get(f"/v1/events/{desk.world.event}/result")
    assert [sentence for sentence in result["missing"] if "JPY" in sentence]


async def test_cash_entered_at_the_stall_and_again_in_a_tally_is_shown_to_a_person(
    desk: Desk,
) -> None:
    await ring_up(desk, "14:00:00", JUG, method="cash")
    tally = "Date,Time,Amount,Currency,Method\n2026-09-11,14:00,13.00,EUR,cash\n"
    event = str(desk.world.event)
    taken = await desk.upload(tally, importer="cash-tally", event=event)
    assert taken.json()["taken"] == 1, taken.text
    for _ in range(2):
        await desk.client.post("/v1/reconciliations", {"event_id": event})
    (conflict,) = (await desk.client.get("/v1/conflicts"))["data"]
    assert conflict["kind"] == "perhaps-entered-twice"
    result = await desk.client.get(f"/v1/events/{event}/result")
    assert [sentence for sentence in result["missing"] if "contradiction" in sentence]
    line = conflict["transaction_id"]
    aside = {"reason": "the same money", "is_income": False}
    await desk.client.put(f"/v1/transactions/{line}/set-aside", aside)
    whole = (await desk.client.get(f"/v1/events/{event}/result"))["whole"]
    assert (whole["takings"], whole["not_income"]) == ("26.00", "13.00")


async def test_a_sale_id_sent_again_with_another_piece_is_refused(desk: Desk) -> None:
    sale = await ring_up(desk, "14:00:00", JUG, method="cash")
    body = {
        "id": sale["id"],
        "event_id": str(desk.world.event),
        "entered": "stall",
        "method": "cash",
        "sold_at": "2026-09-11T14:00:00+02:00",
    }
    again = await desk.client.ask("POST", "/v1/sales", {**body, "lines": [JUG]})
    assert again.status_code in {200, 201}
    other = {**JUG, "tag_code": "GG15K0"}
    answer = await desk.client.ask("POST", "/v1/sales", {**body, "lines": [other]})
    assert answer.status_code == 409
    assert answer.json()["type"].endswith("/id-taken")


async def test_a_sale_with_pieces_back_is_not_voided_as_a_whole(desk: Desk) -> None:
    sale = await ring_up(desk, "14:00:00", JUG, BOWL, method="cash")
    path = f"/v1/sales/{sale['id']}"
    back = await desk.client.ask("POST", f"{path}/returns", {"lines": [1]}, If_Match="*")
    assert back.status_code == 200, back.text
    void = await desk.client.ask("POST", f"{path}/void", {}, If_Match="*")
    assert void.status_code == 409


async def test_an_event_moved_to_other_days_lets_go_of_its_payments(desk: Desk) -> None:
    await reconciled(desk)
    event = str(desk.world.event)
    assert len(await desk.transactions(event=event)) == 3
    day = {"pitch_fee": "0.00"}
    await desk.client.patch(f"/v1/events/{event}/days/2026-09-11", day)
    await desk.client.patch(
        f"/v1/events/{event}", {"starts_on": "2026-09-18", "ends_on": "2026-09-18"}
    )
    assert await desk.transactions(event=event) == []
    assert len(await desk.transactions()) == 3


async def test_two_payments_are_said_to_be_two_sales_over_http(desk: Desk) -> None:
    await reconciled(desk)
    first, second = await desk.of("p-2"), await desk.of("p-3")
    path = f"/v1/transactions/{first['id']}/other-sale"
    answer = await desk.client.http.put(path, json={"transaction_id": second["id"]})
    assert answer.status_code == 200, answer.text
    whole = await desk.client.get(f"/v1/transactions/{first['id']}")
    (said,) = whole["rulings"]
    assert (said["kind"], said["related_transaction_id"]) == ("apart", second["id"])
    assert answer.json()["match_state"] == first["match_state"]
    unknown = await desk.client.http.put(path, json={"transaction_id": str(uuid4())})
    assert unknown.status_code == 404


async def test_two_payments_are_said_to_be_one_sale_over_http(desk: Desk) -> None:
    await reconciled(desk)
    first, second = await desk.of("p-2"), await desk.of("p-3")
    path = f"/v1/transactions/{first['id']}/joined-sale"
    coat = {"tag_code": "996-AAD", "price": "83.00"}
    body = {"transaction_ids": [second["id"]], "pieces": [coat]}
    answer = await desk.client.http.put(path, json=body)
    assert answer.status_code == 200, answer.text
    told = answer.json()
    assert [piece["price"] for piece in told["matches"][0]["pieces"]] == ["83.00"]
    part = await desk.of("p-3")
    assert part["match_state"] == "matched"
    assert part["matches"][0]["explanation"] == "part_of_sale"
    assert part["matches"][0]["related_transaction_id"] == first["id"]
    whole = await desk.client.get(f"/v1/transactions/{second['id']}")
    assert whole["rulings"][-1]["related_transaction_id"] == first["id"]
    too_much = {"transaction_ids": [second["id"]], "pieces": [{**coat, "price": "83.01"}]}
    assert (await desk.client.http.put(path, json=too_much)).status_code == 422
    taken_back = await desk.client.http.delete(f"/v1/transactions/{second['id']}/match")
    assert taken_back.status_code == 200
    assert (await desk.of("p-2"))["match_state"] == "unmatched"
