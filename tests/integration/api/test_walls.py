"""The walls between shops are the database's, and no route leads through them."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

import asyncpg
from tests.api_client import Client
from tests.database import Clone
from tests.factories import a_channel, a_sale, an_event, an_item, line

from stallkeep.api.examples import example
from stallkeep.api.openapi import document

# Common practice for multi-tenant PostgreSQL; the catalog is described in the manual, chapter 52.
_TABLES = """
select c.relname, c.relrowsecurity, c.relforcerowsecurity,
       (select count(*) from pg_policy p where p.polrelid = c.oid and p.polpermissive) as policies,
       (select a.attname from pg_index i
          join pg_attribute a on a.attrelid = c.oid and a.attnum = i.indkey[0]
         where i.indrelid = c.oid and i.indisprimary) as leads_key
  from pg_class c join pg_namespace n on n.oid = c.relnamespace
 where n.nspname = 'public' and c.relkind in ('r', 'p')
   and exists (select from pg_attribute a where a.attrelid = c.oid and a.attname = 'shop_id'
                and not a.attisdropped)
"""
_UNIQUE = """
select c.relname || '.' || x.relname as name, a.attname as first
  from pg_index i join pg_class c on c.oid = i.indrelid join pg_class x on x.oid = i.indexrelid
  join pg_namespace n on n.oid = c.relnamespace and n.nspname = 'public'
  left join pg_attribute a on a.attrelid = c.oid and a.attnum = i.indkey[0]
 where i.indisunique and c.relname <> 'alembic_version'
"""
_FOREIGN = """
select k.conname, a.attname as first from pg_constraint k
  join pg_attribute a on a.attrelid = k.conrelid and a.attnum = k.conkey[1]
 where k.contype = 'f'
"""
_WITHOUT = """
select c.relname from pg_class c join pg_namespace n on n.oid = c.relnamespace
 where n.nspname = 'public' and c.relkind in ('r', 'p') and c.relname <> 'alembic_version'
   and not exists (select from pg_attribute a where a.attrelid = c.oid and a.attname = 'shop_id')
"""


async def _ask(database: Clone, query: str) -> list[Any]:
    con = await asyncpg.connect(database.admin_url)
    try:
        rows: list[Any] = await con.fetch(query)
        return rows
    finally:
        await con.close()


async def test_every_table_of_a_shop_has_its_wall_and_leads_its_key_with_the_shop(
    database: Clone,
) -> None:
    tables = await _ask(database, _TABLES)
    assert len(tables) > 20
    for table in tables:
        name = table["relname"]
        assert table["relrowsecurity"], name
        assert table["relforcerowsecurity"], name
        assert table["policies"] >= 1, name
        assert table["leads_key"] == "shop_id", name


async def test_every_table_belongs_to_a_shop(database: Clone) -> None:
    assert await _ask(database, _WITHOUT) == []


async def test_no_unique_index_or_foreign_key_reaches_over_shops(database: Clone) -> None:
    for row in [*await _ask(database, _UNIQUE), *await _ask(database, _FOREIGN)]:
        assert row["first"] == "shop_id", row[0]


async def test_without_a_shop_nothing_is_seen(api: Client) -> None:
    await an_item(api)
    async with api.pool.acquire() as con:
        for table in ["shop", "token", "item"]:
            assert await con.fetchval(f"select count(*) from {table}") == 0  # noqa: S608


async def _everything(api: Client) -> dict[str, str]:
    """Make one of each thing; its ids by the names of path parameters."""
    channel, item = await a_channel(api), await an_item(api)
    event = await an_event(api, channel)
    listing = await api.post(
        "/v1/listings",
        {"channel_id": channel["id"], "item_id": item["id"], "reference": "A-1"},
    )
    cost = await api.post("/v1/costs", {"kind": "food", "amount": "5.00", "event_id": event["id"]})
    other = await an_event(api, {"id": channel["id"]}, name="Quay fair")
    split = {"by": "equal", "events": [{"event_id": e["id"]} for e in (event, other)]}
    await api.post("/v1/costs", {"kind": "lodging", "amount": "9.01", "split": split})
    several = await an_item(api, "Clay mug", quantity=0)
    new = {"quantity": 3, "cost": "9.00"}
    batch = await api.post(f"/v1/items/{several['id']}/batches", new)
    await api.put(f"/v1/events/{event['id']}/rail", {"pieces": [{"item_id": item["id"]}]})
    await api.put(f"/v1/channels/{channel['id']}/fees/2026-01-01", {})
    sale = await a_sale(api, event, line(item))
    second = await a_sale(api, event, line(item))
    [token] = (await api.get("/v1/tokens"))["data"]
    return {
        "channel_id": channel["id"],
        "item_id": item["id"],
        "event_id": event["id"],
        "listing_id": listing["id"],
        "cost_id": cost["id"],
        "batch_id": batch["id"],
        "sale_id": sale["sale"]["id"],
        "conflict_id": second["conflicts"][0]["id"],
        "transaction_id": sale["sale"]["transaction_id"],
        "token_id": token["id"],
        "valid_from": "2026-01-01",
        "day": "2026-05-09",
        "code": "not-found",
    }


def _operations() -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (path, method.upper(), operation)
        for path, methods in document()["paths"].items()
        for method, operation in methods.items()
        if path.startswith("/v1")
    ]


def _body(operation: dict[str, Any]) -> Any:  # noqa: ANN401 - JSON
    content = operation.get("requestBody", {}).get("content", {})
    if not content:
        return None
    schema = next(iter(content.values())).get("schema", {})
    named = document()["components"]["schemas"].get(schema.get("$ref", "").rpartition("/")[2], {})
    return named.get("examples", [{}])[0]


async def test_no_route_shows_or_changes_another_shops_things(
    api: Client, stranger: Client
) -> None:
    theirs = await _everything(stranger)
    before = await _seen(stranger)
    reached = 0
    for path, method, operation in _operations():
        names = [one["name"] for one in operation["parameters"] if one["in"] == "path"]
        if not names:
            continue
        address = path.format_map({**dict.fromkeys(names, str(uuid4())), **theirs})
        address += _needed(operation, theirs)
        answer = await api.ask(method, address, _body(operation), If_Match="*")
        assert answer.status_code in {404, 422}, (method, address, answer.text)
        reached += answer.status_code == 404
    assert reached > 20
    assert await _seen(stranger) == before


async def test_lists_hold_only_ones_own(api: Client, stranger: Client) -> None:
    theirs = await _everything(stranger)
    for path, method, operation in _operations():
        if method == "GET" and "{" not in path:
            needed = _needed(operation, theirs)
            answer = await api.ask("GET", path + needed)
            assert answer.status_code in ({200, 404, 422} if needed else {200}), path
            if answer.status_code != 200:
                continue
            for an_id in [i for name, i in theirs.items() if name.endswith("_id")]:
                assert an_id not in answer.text, (path, an_id)


async def test_a_body_cannot_name_another_shops_things(api: Client, stranger: Client) -> None:
    theirs = await _everything(stranger)
    own = await an_event(api)
    bodies: list[tuple[str, str, object]] = [
        ("POST", "/v1/sales", {"event_id": theirs["event_id"], "lines": [line()]}),
        ("POST", "/v1/sales", {"channel_id": theirs["channel_id"], "lines": [line()]}),
        ("POST", "/v1/costs", {"kind": "food", "amount": "1.00", "event_id": theirs["event_id"]}),
        (
            "POST",
            "/v1/events",
            {
                "channel_id": theirs["channel_id"],
                "name": "X",
                "starts_on": "2026-05-09",
                "ends_on": "2026-05-09",
            },
        ),
        (
            "PUT",
            f"/v1/events/{own['id']}/rail",
            {"pieces": [{"item_id": theirs["item_id"]}]},
        ),
        (
            "POST",
            "/v1/sales",
            {
                "channel_id": own["channel_id"],
                "lines": [{"price": "1.00", "item_id": theirs["item_id"]}],
            },
        ),
    ]
    for method, path, body in bodies:
        answer = await api.ask(method, path, body)
        assert answer.status_code == 422, answer.text
        assert answer.json()["type"].endswith("/unknown-reference")


async def test_a_token_with_another_shops_id_in_it_opens_nothing(
    api: Client, stranger: Client
) -> None:
    from stallkeep.work.token_text import TokenText, read_token  # noqa: PLC0415

    own, other = read_token(api.token), read_token(stranger.token)
    assert own is not None
    assert other is not None
    forged = TokenText(other.shop_id, own.token_id, own.secret)
    client = api.with_token(str(forged))
    async with client.http:
        assert (await client.ask("GET", "/v1/shop")).status_code == 401


def _needed(operation: dict[str, Any], theirs: dict[str, str]) -> str:
    """Give the parameters that must be there: another shop's ids, or examples."""
    schemas = document()["components"]["schemas"]
    query = {
        one["name"]: theirs.get(f"{one['name']}_id") or example(one["schema"], schemas)
        for one in operation["parameters"]
        if one["in"] == "query" and one["required"]
    }
    return f"?{urlencode(query)}" if query else ""


async def _seen(api: Client) -> dict[str, Any]:
    return {
        path: await api.get(path)
        for path, method, operation in _operations()
        if method == "GET" and "{" not in path and not _needed(operation, {})
    }
