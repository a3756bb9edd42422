"""Idempotency-Key: the outcomes that the IETF draft of 2025-02 lists."""

from __future__ import annotations

import asyncio

from tests.api_client import Client
from tests.factories import a_channel

from stallkeep.domain.errors import KeyInUseError
from stallkeep.store.connection import Connection
from stallkeep.work.answer_once import Answer, answer_once

KEY = '"8e03978e-40d5-43e8-bc93-6894a57f9324"'  # the draft's own example


async def test_the_same_request_again_gets_the_same_answer_and_does_nothing(api: Client) -> None:
    first = await api.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key=KEY)
    again = await api.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key=KEY)
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()
    for name in ("location", "etag", "content-type"):
        assert again.headers[name] == first.headers[name]
    assert len((await api.get("/v1/items"))["data"]) == 1


async def test_quotes_around_a_key_may_be_left_out(api: Client) -> None:
    await api.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key=KEY)
    await api.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key=KEY.strip('"'))
    assert len((await api.get("/v1/items"))["data"]) == 1


async def test_a_key_with_another_request_is_422(api: Client) -> None:
    await api.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key=KEY)
    for path, body in [("/v1/items", {"title": "Hat"}), ("/v1/costs", {"title": "Coat"})]:
        other = await api.ask("POST", path, body, Idempotency_Key=KEY)
        assert other.status_code == 422
    assert len((await api.get("/v1/items"))["data"]) == 1


async def test_a_refusal_is_repeated_too(api: Client) -> None:
    await a_channel(api)
    body = {"name": "Harbour stall", "kind": "stall"}
    first = await api.ask("POST", "/v1/channels", body, Idempotency_Key=KEY)
    again = await api.ask("POST", "/v1/channels", body, Idempotency_Key=KEY)
    assert (first.status_code, again.status_code) == (409, 409)
    assert again.json() == first.json()
    assert again.headers["content-type"] == "application/problem+json"


async def test_another_shop_may_use_the_same_key(api: Client, stranger: Client) -> None:
    for client in (api, stranger):
        await client.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key=KEY)
        assert len((await client.get("/v1/items"))["data"]) == 1


async def test_an_empty_key_is_400(api: Client) -> None:
    answer = await api.ask("POST", "/v1/items", {"title": "Coat"}, Idempotency_Key='""')
    assert answer.status_code == 400


async def test_while_the_first_runs_the_second_is_409(api: Client) -> None:
    started, go_on = asyncio.Event(), asyncio.Event()

    async def slow(_: Connection) -> Answer:
        started.set()
        await go_on.wait()
        return Answer(status=201, headers={"content-type": "text/plain"}, body=b"done")

    def once() -> asyncio.Task[Answer]:
        shop_id = api.shop.shop_id
        work = answer_once(api.pool, shop_id, "key", b"hash", do=slow, refuse=_refuse)
        return asyncio.create_task(work)

    first = once()
    await started.wait()
    second = await asyncio.gather(once(), return_exceptions=True)
    assert isinstance(second[0], KeyInUseError)
    go_on.set()
    assert (await first).body == b"done"
    assert (await once()).body == b"done"


def _refuse(error: Exception) -> Answer:
    raise error
