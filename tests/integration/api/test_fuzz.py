"""Whatever is sent to whichever route, the service has an answer of its own and never fails.

Requests are drawn from the OpenAPI document by a seeded generator: bodies that fit, bodies with
one place spoilt, real ids and ids of nothing, parameters that fit and that do not.
"""

from __future__ import annotations

import copy
import json
import random
from collections import Counter
from collections.abc import Iterator
from typing import Any, Final
from urllib.parse import quote, urlencode

from tests.api_client import Client
from tests.factories import a_sale, an_event, an_item, line

from stallkeep.api.examples import example
from stallkeep.api.openapi import document

SEED: Final = 20260509
REQUESTS_PER_OPERATION: Final = 20
LONG: Final = "x" * 5000
DEEP: Final = json.loads("[" * 40 + "]" * 40)
JUNK: Final[tuple[Any, ...]] = (
    None,
    True,
    -1,
    0,
    1.5,
    10**18,
    -(10**18),
    1e308,
    "",
    "null",
    "\0",
    "\u0663",
    "a\nb",
    LONG,
    "-0.00",
    "0.001",
    "999999999999999.99",
    "2026-13-45",
    "0001-01-01",
    "9999-12-31",
    "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:59.999999-23:59",
    "24:00:00",
    "../../etc/passwd",
    "'; drop table item; --",
    [],
    {},
    DEEP,
    {"$ref": "#"},
)


def _operations() -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in document()["paths"].items():
        for method, operation in methods.items():
            if operation["operationId"] != "revokeToken":  # it would lock the fuzz itself out
                yield path, method.upper(), operation


class Fuzz:
    """Draws requests; the same seed draws the same."""

    def __init__(self, ids: list[str]) -> None:
        self.random = random.Random(SEED)  # noqa: S311 - chance, not secrets
        self.ids = ids
        self.schemas = document()["components"]["schemas"]

    def path(self, path: str, operation: dict[str, Any]) -> str:
        for one in operation["parameters"]:
            if one["in"] == "path":
                value = str(self.value(one["schema"]))
                path = path.replace("{" + one["name"] + "}", quote(value, safe="") or "x")
        query = {
            one["name"]: self.value(one["schema"])
            for one in operation["parameters"]
            if one["in"] == "query" and self.random.random() < 0.4
        }
        return f"{path}?{urlencode(query)}" if query else path

    def value(self, schema: dict[str, Any]) -> Any:  # noqa: ANN401 - JSON
        if self.random.random() < 0.2:
            return self.random.choice(JUNK)
        if schema.get("format") == "uuid" and self.random.random() < 0.9:
            return self.random.choice(self.ids)
        return example(schema, self.schemas)

    def body(self, operation: dict[str, Any]) -> Any:  # noqa: ANN401 - JSON
        content = operation.get("requestBody", {}).get("content", {})
        if not content or "text/csv" in content:
            return self.random.choice(JUNK) if content else None
        body = copy.deepcopy(example(next(iter(content.values()))["schema"], self.schemas))
        for container, key in [*self._places(body)]:
            if isinstance(container[key], str) and len(container[key]) == 36:
                container[key] = self.random.choice(self.ids)
        places = [*self._places(body)]
        if places and self.random.random() < 0.6:
            container, key = self.random.choice(places)
            container[key] = self.random.choice(JUNK)
        return self.random.choice(JUNK) if self.random.random() < 0.1 else body

    def _places(self, body: Any) -> Iterator[tuple[Any, Any]]:  # noqa: ANN401 - JSON
        inside = body.items() if isinstance(body, dict) else enumerate(body)
        for key, value in [*inside]:
            yield body, key
            if isinstance(value, dict | list):
                yield from self._places(value)

    def headers(self) -> dict[str, str]:
        tags = ["*", '"1"', '"2"', 'W/"1"', "junk", '"' + "9" * 40 + '"']
        given = {"If-Match": self.random.choice(tags)} if self.random.random() < 0.9 else {}
        if self.random.random() < 0.2:
            given["Idempotency-Key"] = self.random.choice(["one", '"two"', '""', LONG])
        return given


async def test_no_request_makes_the_service_fail(api: Client) -> None:
    event, item = await an_event(api), await an_item(api)
    await api.put(f"/v1/events/{event['id']}/rail", {"pieces": [{"item_id": item["id"]}]})
    sale = (await a_sale(api, event, line(item)))["sale"]
    ids = [event["id"], event["channel_id"], item["id"], sale["id"], sale["transaction_id"]]
    fuzz = Fuzz(ids)
    seen: Counter[int] = Counter()
    for path, method, operation in _operations():
        for _ in range(REQUESTS_PER_OPERATION):
            address = fuzz.path(path, operation)
            body = fuzz.body(operation)
            content = None if body is None else json.dumps(body).encode()
            kind = {"Content-Type": "application/json"} if content is not None else {}
            answer = await api.http.request(
                method, address, content=content, headers={**fuzz.headers(), **kind}
            )
            sent = f"{method} {address} {body!r:.300}"
            assert answer.status_code < 500, (sent, answer.text)
            if answer.status_code >= 400:
                assert answer.headers["content-type"] == "application/problem+json", sent
            seen[answer.status_code] += 1
    assert {200, 201, 204, 400, 404, 409, 412, 422, 428} <= seen.keys(), seen
