from __future__ import annotations

import httpx
import pytest
from tests.api_client import Client


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


@pytest.mark.parametrize("change", [lambda t: t[:-1], lambda t: t[:-8] + "A" * 8, lambda _: "x"])
async def test_a_wrong_token_is_401_invalid_token(api: Client, change: object) -> None:
    assert callable(change)
    async with api.with_token(change(api.token)).http as http:
        answer = await http.get("/v1/shop")
    assert answer.status_code == 401
    assert 'error="invalid_token"' in answer.headers["www-authenticate"]


async def test_the_owner_reads_the_shop(api: Client) -> None:
    shop = await api.get("/v1/shop")
    assert (shop["name"], shop["currency"]) == ("Harbour Mending", "EUR")


async def test_a_change_needs_if_match_and_the_version_that_was_read(api: Client) -> None:
    read = await api.ask("GET", "/v1/shop")
    missing = await api.ask("PATCH", "/v1/shop", {"name": "Quay Mending"})
    assert missing.status_code == 428
    tag = read.headers["etag"]
    changed = await api.ask("PATCH", "/v1/shop", {"name": "Quay Mending"}, If_Match=tag)
    assert (changed.status_code, changed.json()["name"]) == (200, "Quay Mending")
    stale = await api.ask("PATCH", "/v1/shop", {"name": "Pier Mending"}, If_Match=tag)
    assert stale.status_code == 412
    assert stale.json()["type"].endswith("/stale-version")
    assert (await api.get("/v1/shop"))["name"] == "Quay Mending"
