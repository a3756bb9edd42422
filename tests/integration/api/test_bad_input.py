"""Everything a client can send wrong has its own clear problem, and nothing is half-written."""

from __future__ import annotations

from typing import Any, NamedTuple
from uuid import uuid4

import httpx
import pytest
from tests.api_client import Client
from tests.factories import a_channel, a_sale, an_event, an_item, line

from stallkeep.api.pages import write_cursor
from stallkeep.domain.errors import UnknownCurrencyError
from stallkeep.work.open_shop import open_shop

JSON = "application/json"
NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"


class Wrong(NamedTuple):
    method: str
    path: str
    body: Any
    status: int
    kind: str
    pointer: str | None = None


def _check(answer: httpx.Response, status: int, kind: str) -> dict[str, Any]:
    """Any refusal is a problem document whose status is that of the answer (RFC 9457, 3.1.2)."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    said: dict[str, Any] = answer.json()
    assert said["status"] == status
    assert said["type"] == "about:blank" or said["type"].startswith("https://")
    assert said["type"].rpartition("/")[2] == kind
    assert said["title"]
    assert said["detail"]
    assert said["instance"].startswith("urn:uuid:")
    return said


ITEM = {"title": "Coat"}
FIELDS = [
    Wrong("POST", "/v1/items", {**ITEM, "quantity": -1}, 422, "invalid-input", "#/quantity"),
    Wrong("POST", "/v1/items", {**ITEM, "quantity": "3"}, 422, "invalid-input", "#/quantity"),
    Wrong("POST", "/v1/items", {**ITEM, "quantity": 1.5}, 422, "invalid-input", "#/quantity"),
    Wrong("POST", "/v1/items", {**ITEM, "price": "-1.00"}, 422, "invalid-input", "#/price"),
    Wrong("POST", "/v1/items", {**ITEM, "price": 12.5}, 422, "invalid-input", "#/price"),
    Wrong("POST", "/v1/items", {**ITEM, "price": "12,50"}, 422, "invalid-input", "#/price"),
    Wrong("POST", "/v1/items", {**ITEM, "price": "12.505"}, 422, "invalid-input", "#/price"),
    Wrong("POST", "/v1/items", {**ITEM, "price": "12.50\n"}, 422, "invalid-input", "#/price"),
    Wrong(
        "POST", "/v1/items", {**ITEM, "price": "\u0661\u0662.50"}, 422, "invalid-input", "#/price"
    ),
    Wrong("POST", "/v1/items", {**ITEM, "price": "9" * 17}, 422, "invalid-input", "#/price"),
    Wrong("POST", "/v1/items", {**ITEM, "colour": "blue"}, 422, "invalid-input", "#/colour"),
    Wrong("POST", "/v1/items", {**ITEM, "acquired_on": "9 May"}, 422, "invalid-input"),
    Wrong("POST", "/v1/items", {"title": ""}, 422, "invalid-input", "#/title"),
    Wrong("POST", "/v1/items", {"title": "a\0b"}, 422, "invalid-input", "#/title"),
    Wrong("POST", "/v1/items", {"title": None}, 422, "invalid-input", "#/title"),
    Wrong("POST", "/v1/items", {}, 422, "invalid-input", "#/title"),
    Wrong("POST", "/v1/items", [], 422, "invalid-input", "#"),
    Wrong("POST", "/v1/channels", {"name": "X", "kind": "shop"}, 422, "invalid-input", "#/kind"),
    Wrong("POST", "/v1/tokens", {"name": "X", "role": "king"}, 422, "invalid-input", "#/role"),
    Wrong("POST", "/v1/sales", {"lines": []}, 422, "invalid-input", "#/lines"),
    Wrong(
        "POST", "/v1/sales", {"lines": [{"price": "x"}]}, 422, "invalid-input", "#/lines/0/price"
    ),
    Wrong("POST", "/v1/sales", {"lines": [line()]}, 422, "unknown-reference", "#/channel_id"),
    Wrong(
        "POST",
        "/v1/sales",
        {"lines": [line()], "channel_id": NOBODY},
        422,
        "unknown-reference",
        "#/channel_id",
    ),
    Wrong(
        "POST",
        "/v1/sales",
        {"lines": [line()], "channel_id": NOBODY, "sold_at": "2026-05-09T10:00:00"},
        422,
        "invalid-input",
        "#/sold_at",
    ),
    Wrong(
        "POST",
        "/v1/costs",
        {"kind": "food", "amount": "1.00", "event_id": NOBODY},
        422,
        "unknown-reference",
        "#/event_id",
    ),
    Wrong(
        "POST",
        "/v1/listings",
        {"channel_id": NOBODY, "item_id": NOBODY, "reference": "A"},
        422,
        "unknown-reference",
        "#/channel_id",
    ),
    Wrong("PATCH", "/v1/shop", {"currency": "USD"}, 422, "invalid-input", "#/currency"),
    Wrong("PATCH", "/v1/shop", {"time_zone": "Middle/Earth"}, 422, "unknown-time-zone"),
    Wrong("PATCH", "/v1/shop", {"languages": ["english"]}, 422, "invalid-input", "#/languages/0"),
    Wrong("PATCH", "/v1/shop", {"match_threshold": 0.4}, 422, "invalid-input"),
]


async def test_a_wrong_field_is_named_and_nothing_is_written(
    api: Client, subtests: pytest.Subtests
) -> None:
    for wrong in FIELDS:
        with subtests.test(f"{wrong.path} {wrong.body}"[:70]):
            answer = await api.ask(wrong.method, wrong.path, wrong.body, If_Match="*")
            said = _check(answer, wrong.status, wrong.kind)
            if wrong.pointer is not None:
                assert [error["pointer"] for error in said["errors"]] == [wrong.pointer]
                assert said["errors"][0]["detail"]
            if wrong.method == "POST" and wrong.path != "/v1/tokens":
                assert (await api.get(wrong.path))["data"] == []


async def test_a_wrong_field_says_what_was_expected(api: Client) -> None:
    wrong: list[tuple[dict[str, Any], str]] = [
        ({"price": "1,5"}, '"12.50"'),
        ({"price": "1.5"}, "'12.50'"),
        ({"quantity": "one"}, "a whole number"),
        ({"acquired_on": 3}, "a date such as"),
        ({"colour": "blue"}, "category"),
    ]
    for field, words in wrong:
        answer = await api.ask("POST", "/v1/items", {"title": "x", **field})
        assert words in answer.json()["errors"][0]["detail"]


async def test_a_wrong_word_says_which_words_there_are(api: Client) -> None:
    answer = await api.ask("POST", "/v1/channels", {"name": "X", "kind": "shop"})
    said = answer.json()["errors"]
    assert said == [{"detail": "Expected direct or online or stall", "pointer": "#/kind"}]


RAW = [b"", b"{", b"nonsense", b'{"title": "\xff"}', b'{"title": "\\ud800"}']


async def test_a_body_that_is_no_json_is_400(api: Client) -> None:
    for raw in RAW:
        answer = await api.http.post("/v1/items", content=raw, headers={"content-type": JSON})
        _check(answer, 400, "about:blank")


async def test_brackets_without_end_are_refused_at_the_first(api: Client) -> None:
    raw = b"[" * 100_000
    answer = await api.http.post("/v1/items", content=raw, headers={"content-type": JSON})
    _check(answer, 422, "invalid-input")  # a list where an object belongs


async def test_a_body_of_another_media_type_is_415(api: Client) -> None:
    for media_type in ["text/plain", "application/xml", "", "multipart/form-data"]:
        headers = {"content-type": media_type} if media_type else {}
        answer = await api.http.post("/v1/items", content=b'{"title": "x"}', headers=headers)
        _check(answer, 415, "about:blank")
        assert answer.headers["accept"] == JSON


async def test_a_patch_may_be_a_merge_patch(api: Client) -> None:
    answer = await api.http.patch(
        "/v1/shop",
        content=b'{"name": "Quay Mending"}',
        headers={"content-type": "application/merge-patch+json; charset=utf-8", "if-match": "*"},
    )
    assert answer.json()["name"] == "Quay Mending"


async def test_a_body_too_large_is_413(api: Client) -> None:
    raw = b'{"title": "' + b"x" * 1_000_000 + b'"}'
    answer = await api.http.post("/v1/items", content=raw, headers={"content-type": JSON})
    _check(answer, 413, "about:blank")


QUERIES = [
    ("/v1/items?colour=blue", "colour"),
    ("/v1/items?state=gone", "state"),
    ("/v1/items?limit=0", "limit"),
    ("/v1/items?limit=201", "limit"),
    ("/v1/items?limit=ten", "limit"),
    ("/v1/items?limit=", "limit"),
    ("/v1/items?limit=1&limit=2", "limit"),
    ("/v1/items?state=null", "state"),
    ("/v1/items?category=a%00b", "category"),
    ("/v1/items?cursor=nonsense", "cursor"),
    ("/v1/items?cursor=%00", "cursor"),
    ("/v1/items?cursor=W10", "cursor"),  # base64url of []
    ("/v1/listings?item=5", "item"),
    ("/v1/sales?from=yesterday", "from"),
    ("/v1/shop?x=1", "x"),
    ("/health?x=1", "x"),
]


async def test_a_wrong_parameter_is_400_and_named(api: Client, subtests: pytest.Subtests) -> None:
    for path, parameter in QUERIES:
        with subtests.test(path):
            said = _check(await api.ask("GET", path), 400, "about:blank")
            assert [error["parameter"] for error in said["errors"]] == [parameter]


async def test_what_is_not_there_is_404(api: Client) -> None:
    for path in ["items", "listings", "channels", "events", "costs", "sales", "conflicts"]:
        singular = path.removesuffix("s")
        _check(await api.ask("GET", f"/v1/{path}/{uuid4()}"), 404, f"{singular}-not-found")
        _check(await api.ask("GET", f"/v1/{path}/no-id"), 404, "about:blank")


async def test_an_unknown_path_or_method_is_a_problem_too(api: Client) -> None:
    _check(await api.ask("GET", "/v1/unicorns"), 404, "about:blank")
    answer = await api.ask("PUT", "/v1/items", {})
    _check(answer, 405, "about:blank")
    assert answer.headers["allow"] == "GET, HEAD, OPTIONS, POST"


async def test_an_if_match_that_is_no_tag_is_400(api: Client) -> None:
    for tag in ["", "3", '"3', "W/3", '"3" "4"']:
        answer = await api.ask("PATCH", "/v1/shop", {}, If_Match=tag)
        _check(answer, 400, "about:blank")


async def test_a_tag_nobody_gave_is_412(api: Client) -> None:
    # RFC 9110, 13.1.1: If-Match compares strongly, so a weak tag never matches.
    for tag in ['"99"', 'W/"1"', '"x"', '"99", "98"']:
        answer = await api.ask("PATCH", "/v1/shop", {"name": "X"}, If_Match=tag)
        said = _check(answer, 412, "stale-version")
        assert said["current_version"] == 1


async def test_one_matching_tag_of_several_is_enough(api: Client) -> None:
    answer = await api.ask("PATCH", "/v1/shop", {"name": "X"}, If_Match='"99", "1"')
    assert answer.status_code == 200


async def test_every_change_and_removal_needs_if_match(api: Client) -> None:
    item, event = await an_item(api), await an_event(api)
    channel = (await api.get("/v1/channels"))["data"][0]
    sale = await a_sale(api, event, line())
    changes: list[tuple[str, str, object]] = [
        ("PATCH", f"/v1/items/{item['id']}", {}),
        ("DELETE", f"/v1/items/{item['id']}", None),
        ("PATCH", f"/v1/events/{event['id']}", {}),
        ("DELETE", f"/v1/events/{event['id']}", None),
        ("PATCH", f"/v1/events/{event['id']}/days/2026-05-09", {}),
        ("PATCH", f"/v1/channels/{channel['id']}", {}),
        ("DELETE", f"/v1/channels/{channel['id']}", None),
        ("POST", f"/v1/sales/{sale['sale']['id']}/void", None),
    ]
    for method, path, body in changes:
        _check(await api.ask(method, path, body), 428, "about:blank")


async def test_a_moment_that_no_seller_means_is_422_and_named(api: Client) -> None:
    event = await an_event(api)
    moments = ["0001-01-01T00:00:00+10:00", "9999-12-31T23:59:59-10:00", "1899-12-31T23:59:59Z"]
    for moment in [*moments, "2200-01-01T00:00:00Z"]:
        body = {"event_id": event["id"], "lines": [line()], "sold_at": moment}
        said = _check(await api.ask("POST", "/v1/sales", body), 422, "invalid-input")
        assert [error["pointer"] for error in said["errors"]] == ["#/sold_at"]


async def test_a_day_that_no_seller_means_is_422_and_named(api: Client) -> None:
    # The driver stores the first and the last day of the calendar as minus infinity and infinity.
    channel = await a_channel(api)
    for day in ["0001-01-01", "1899-12-31", "2200-01-01", "9999-12-31"]:
        event = {"channel_id": channel["id"], "name": "Fair", "starts_on": day, "ends_on": day}
        said = _check(await api.ask("POST", "/v1/events", event), 422, "invalid-input")
        assert said["errors"][0]["detail"] == "Expected a day in the years 1900 to 2199"
        assert said["errors"][0]["pointer"] in {"#/starts_on", "#/ends_on"}
        cost = {"kind": "other", "amount": "1.00", "spent_on": day}
        _check(await api.ask("POST", "/v1/costs", cost), 422, "invalid-input")
        item = {"title": "Coat", "acquired_on": day}
        _check(await api.ask("POST", "/v1/items", item), 422, "invalid-input")


async def test_a_time_zone_that_another_machine_reads_otherwise_is_none(api: Client) -> None:
    for zone in ["localtime", "Factory", "../UTC", "europe/lisbon", "UTC "]:
        answer = await api.ask("PATCH", "/v1/shop", {"time_zone": zone}, If_Match="*")
        _check(answer, 422, "unknown-time-zone")


async def test_a_cursor_with_a_moment_beyond_every_calendar_is_422(api: Client) -> None:
    cursor = write_cursor(["0001-01-01T00:00:00+10:00", NOBODY])
    _check(await api.ask("GET", f"/v1/items?cursor={cursor}"), 422, "unstorable-value")


async def test_a_shop_needs_a_real_currency(api: Client) -> None:
    with pytest.raises(UnknownCurrencyError):
        await open_shop(api.pool, "Doubtful", "XQX", "Europe/Lisbon")


async def test_a_name_taken_is_409(api: Client) -> None:
    await a_channel(api)
    answer = await api.ask("POST", "/v1/channels", {"name": "Harbour stall", "kind": "stall"})
    _check(answer, 409, "name-taken")
