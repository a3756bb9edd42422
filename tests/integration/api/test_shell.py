"""What every request has in common: tokens, roles, methods, versions, the service's own pages."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

import httpx
import pytest
import structlog
from litestar import Litestar, get
from tests.api_client import Client
from tests.factories import DAY, an_event, an_item, line

from stallkeep.api.app import framework
from stallkeep.api.auth import FOR_ANYBODY
from stallkeep.config import Settings
from stallkeep.store.engine import read_scope


async def test_health_needs_no_token_and_says_the_database_answers(
    nobody: httpx.AsyncClient,
) -> None:
    answer = await nobody.get("/health")
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})


async def test_a_missing_token_is_401_with_a_bearer_challenge(nobody: httpx.AsyncClient) -> None:
    # RFC 6750, section 3: without credentials the challenge carries no error code.
    answer = await nobody.get("/v1/shop")
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == 'Bearer realm="stallkeep"'
    assert answer.headers["content-type"] == "application/problem+json"


CHANGES: list[Callable[[str], str]] = [
    lambda text: text[:-1],
    lambda text: text[:-8] + "A" * 8,
    lambda text: "sk_" + "A" * 64,
    lambda text: text + "\u00e9",
    lambda _: "x",
]


@pytest.mark.parametrize("change", CHANGES)
async def test_a_wrong_token_is_401_invalid_token(
    api: Client, change: Callable[[str], str]
) -> None:
    headers = {b"Authorization": f"Bearer {change(api.token)}".encode()}
    async with api.without_token() as http:
        answer = await http.get("/v1/shop", headers=headers)
    assert answer.status_code == 401
    # RFC 6750, section 3.1.
    assert 'error="invalid_token"' in answer.headers["www-authenticate"]


async def test_a_token_is_asked_for_before_the_body_is_read(nobody: httpx.AsyncClient) -> None:
    assert (await nobody.post("/v1/items", content=b"{")).status_code == 401


async def test_the_owner_reads_the_shop(api: Client) -> None:
    shop = await api.get("/v1/shop")
    assert (shop["name"], shop["currency"]) == ("Harbour Mending", "EUR")


async def test_a_change_needs_the_version_that_was_read(api: Client) -> None:
    read = await api.ask("GET", "/v1/shop")
    tag = read.headers["etag"]
    changed = await api.ask("PATCH", "/v1/shop", {"name": "Quay Mending"}, If_Match=tag)
    assert (changed.status_code, changed.json()["name"]) == (200, "Quay Mending")
    stale = await api.ask("PATCH", "/v1/shop", {"name": "Pier Mending"}, If_Match=tag)
    assert stale.status_code == 412
    assert (await api.get("/v1/shop"))["name"] == "Quay Mending"


async def test_a_revoked_token_opens_nothing(api: Client) -> None:
    made = await api.post("/v1/tokens", {"name": "Saturday helper"})
    helper = api.with_token(made["text"])
    async with helper.http:
        assert (await helper.ask("GET", "/v1/shop")).status_code == 200
        assert (await api.ask("DELETE", f"/v1/tokens/{made['id']}")).status_code == 204
        assert (await helper.ask("GET", "/v1/shop")).status_code == 401
    listed = (await api.get("/v1/tokens"))["data"]
    assert [one["revoked_at"] is None for one in listed] == [True, False]


async def test_the_last_owners_token_cannot_be_revoked(api: Client) -> None:
    [own] = (await api.get("/v1/tokens"))["data"]
    answer = await api.ask("DELETE", f"/v1/tokens/{own['id']}")
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (409, "last-owner")


async def test_owners_who_revoke_each_other_at_once_wait_and_one_is_left(api: Client) -> None:
    for number in range(5):
        await api.post("/v1/tokens", {"name": f"Owner {number}", "role": "owner"})
    listed = (await api.get("/v1/tokens"))["data"]
    asked = [api.ask("DELETE", f"/v1/tokens/{one['id']}") for one in listed]
    answers = [answer.status_code for answer in await asyncio.gather(*asked)]
    # Whoever asks after the asker's own token has gone is not known any more.
    assert set(answers) <= {204, 401, 409}, answers
    left = "select count(*) from token where revoked_at is null and role = 'owner'"
    async with read_scope(api.pool, api.shop.shop_id) as con:
        assert await con.fetchval(left) == max(1, 6 - answers.count(204))


async def test_no_secret_is_ever_shown_again(api: Client) -> None:
    made = await api.post("/v1/tokens", {"name": "Second", "role": "owner"})
    listed = (await api.ask("GET", "/v1/tokens")).text
    assert made["text"] not in listed
    assert "secret" not in listed


async def test_a_helper_rings_up_and_counts_but_changes_no_stock(api: Client) -> None:
    item, event = await an_item(api), await an_event(api)
    made = await api.post("/v1/tokens", {"name": "Saturday helper"})
    helper = api.with_token(made["text"])
    async with helper.http:
        body = {"event_id": event["id"], "method": "cash", "lines": [line(item)], "sold_on": DAY}
        assert (await helper.ask("POST", "/v1/sales", body)).status_code == 201
        count = await helper.ask("PUT", f"/v1/events/{event['id']}/count", {"codes": []})
        assert count.status_code == 200
        denied: list[tuple[str, str, object]] = [
            ("POST", "/v1/items", {"title": "Mine"}),
            ("PATCH", "/v1/shop", {"name": "Mine"}),
            ("GET", "/v1/tokens", None),
            ("GET", "/v1/costs", None),
            ("PUT", f"/v1/events/{event['id']}/rail", {"pieces": []}),
        ]
        for method, path, sent in denied:
            refused = await helper.ask(method, path, sent, If_Match="*")
            assert refused.status_code == 403, path
            assert refused.json()["type"].endswith("/not-allowed")


async def test_head_is_get_without_the_body(api: Client) -> None:
    # RFC 9110, 9.3.2.
    head, whole = await api.ask("HEAD", "/v1/shop"), await api.ask("GET", "/v1/shop")
    assert (head.status_code, head.content) == (200, b"")
    assert head.headers["content-length"] == whole.headers["content-length"]
    assert head.headers["etag"] == whole.headers["etag"]


async def test_options_names_every_method_of_a_path(nobody: httpx.AsyncClient) -> None:
    answer = await nobody.options("/v1/items/019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f")
    assert (answer.status_code, answer.content) == (204, b"")
    assert answer.headers["allow"] == "DELETE, GET, HEAD, OPTIONS, PATCH"
    assert (await nobody.options("/nowhere")).status_code == 404


async def test_the_documents_and_problem_pages_need_no_token(nobody: httpx.AsyncClient) -> None:
    page = await nobody.get("/docs")
    assert page.headers["content-type"].startswith("text/html")
    assert "Harbour fair" in page.text
    assert (await nobody.get("/openapi.json")).json()["openapi"].startswith("3.1")
    meaning = await nobody.get("/problems/item-already-sold")
    assert (meaning.status_code, "More pieces would be sold" in meaning.text) == (200, True)
    assert (await nobody.get("/problems/nonsense")).status_code == 404


async def test_a_problem_leads_to_its_page(api: Client) -> None:
    answer = await api.ask("GET", "/v1/items/019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f")
    assert answer.headers["link"] == '</problems/item-not-found>; rel="help"'


async def test_a_fault_of_ours_is_500_and_shows_nothing_of_the_inside() -> None:
    @get("/fault", opt=FOR_ANYBODY)
    async def fault() -> None:
        raise RuntimeError("the password is swordfish")

    app: Litestar = framework([fault], settings=Settings())
    transport = httpx.ASGITransport(app=app)  # type: ignore[arg-type]
    async with httpx.AsyncClient(transport=transport, base_url="http://stallkeep.test") as http:
        with structlog.testing.capture_logs() as log:
            answer = await http.get("/fault")
    assert (answer.status_code, answer.json()["title"]) == (500, "Internal Server Error")
    assert "swordfish" not in answer.text
    assert [line["event"] for line in log] == ["request_failed"]


async def test_a_lost_database_is_503(api: Client) -> None:
    pool: Any = api.pool  # asyncpg's own can do more than the store asks of it
    await pool.close()
    answer = await api.ask("GET", "/v1/shop")
    assert answer.status_code == 503
    assert answer.json()["type"].endswith("/database-unavailable")
    assert (await api.ask("GET", "/health")).status_code == 503


async def test_one_log_line_tells_of_a_request_and_of_nobody(api: Client) -> None:
    with structlog.testing.capture_logs(
        processors=[structlog.contextvars.merge_contextvars]
    ) as log:
        await api.ask("GET", "/v1/items?category=secret-coats")
    [line] = [one for one in log if one["event"] == "request_answered"]
    assert (line["method"], line["path"], line["status"]) == ("GET", "/v1/items", 200)
    assert line["shop_id"] == str(api.shop.shop_id)
    assert line["request_id"]
    assert api.token not in str(log)
    assert "secret-coats" not in str(log)
