from __future__ import annotations

import asyncio
import datetime as dt

import asyncpg
from tests.api_client import Client
from tests.database import Clone
from tests.factories import a_channel, a_sale, an_event, an_item, line

from stallkeep.domain.tag_codes import is_valid
from stallkeep.store import items
from stallkeep.store.engine import read_scope


async def test_a_new_item_gets_a_tag_code_with_a_right_check_symbol(api: Client) -> None:
    answer = await api.ask("POST", "/v1/items", {"title": "Navy wool coat", "price": "40.00"})
    assert answer.status_code == 201
    item = answer.json()
    assert is_valid(item["tag_code"])
    assert (item["price"], item["quantity"], item["state"]) == ("40.00", 1, "in_stock")
    read = await api.ask("GET", answer.headers["location"])
    assert (read.json(), read.headers["etag"]) == (item, answer.headers["etag"])


async def test_an_id_is_a_uuid_of_version_7(api: Client) -> None:
    assert (await an_item(api))["id"][14] == "7"


async def test_a_code_as_typed_is_kept_in_its_canonical_form(api: Client) -> None:
    assert (await an_item(api, tag_code="m4r 7he"))["tag_code"] == "M4R7HE"


async def test_a_tag_code_belongs_to_one_piece(api: Client) -> None:
    await an_item(api, tag_code="M4R-7HE")
    taken = await api.ask("POST", "/v1/items", {"title": "Hat", "tag_code": "M4R7HE"})
    assert (taken.status_code, taken.json()["type"].rpartition("/")[2]) == (409, "tag-code-taken")


async def test_a_change_leaves_alone_what_it_does_not_name_and_null_clears(api: Client) -> None:
    item = await an_item(api, note="moth hole", category="coats")
    changed = await api.patch(f"/v1/items/{item['id']}", {"price": "38.00", "note": None})
    assert changed == {**item, "price": "38.00", "note": None}


async def test_two_changes_of_one_version_let_only_the_first_through(api: Client) -> None:
    item = await an_item(api)
    path = f"/v1/items/{item['id']}"
    tag = (await api.ask("GET", path)).headers["etag"]
    both = await asyncio.gather(
        *(api.ask("PATCH", path, {"price": p}, If_Match=tag) for p in ("38.00", "39.00"))
    )
    assert sorted(one.status_code for one in both) == [200, 412]


async def test_there_cannot_be_fewer_than_are_sold(api: Client) -> None:
    bowls = await an_item(api, "Bowl", quantity=3)
    await a_sale(api, await an_event(api), line(bowls, quantity=2))
    path = f"/v1/items/{bowls['id']}"
    refused = await api.ask("PATCH", path, {"quantity": 1}, If_Match="*")
    assert refused.status_code == 409
    assert refused.json()["sold"] == 2
    assert (await api.patch(path, {"quantity": 2}))["state"] == "sold"


async def test_an_item_that_was_sold_cannot_be_removed(api: Client) -> None:
    coat, hat = await an_item(api), await an_item(api, "Hat")
    await a_sale(api, await an_event(api), line(coat))
    used = await api.ask("DELETE", f"/v1/items/{coat['id']}", If_Match="*")
    assert (used.status_code, used.json()["type"].rpartition("/")[2]) == (409, "in-use")
    gone = await api.ask("DELETE", f"/v1/items/{hat['id']}", If_Match="*")
    assert (gone.status_code, gone.content) == (204, b"")
    assert (await api.ask("GET", f"/v1/items/{hat['id']}")).status_code == 404


async def test_the_list_filters_by_code_category_and_state(api: Client) -> None:
    coat = await an_item(api, tag_code="M4R-7HE", category="coats")
    hat = await an_item(api, "Hat", category="hats")
    await a_sale(api, await an_event(api), line(coat))

    async def titles(query: str) -> list[str]:
        return [one["title"] for one in (await api.get(f"/v1/items?{query}"))["data"]]

    assert await titles("code=m4r") == ["Navy wool coat"]
    assert await titles("category=hats") == ["Hat"]
    assert await titles("state=sold") == ["Navy wool coat"]
    assert await titles("state=in_stock") == [hat["title"]]
    assert await titles("state=in_stock&category=coats") == []


async def test_pages_hold_every_item_once_though_others_come_in_between(api: Client) -> None:
    made = [await an_item(api, f"Piece {n}") for n in range(7)]
    seen = []
    path = "/v1/items?limit=3"
    for _ in range(3):
        answer = await api.ask("GET", path)
        seen += [one["id"] for one in answer.json()["data"]]
        await an_item(api, "Came later")
        if "link" in answer.headers:
            path = answer.headers["link"].removeprefix("<").removesuffix('>; rel="next"')
            assert "limit=3" in path
    assert seen == [item["id"] for item in reversed(made)]
    assert answer.json()["next"] is None


_MANY = """
insert into item (shop_id, id, tag_code, title, created_at)
select $1, gen_random_uuid(), 'X' || n, 'Piece', now() - n * interval '1 minute'
  from generate_series(1, 20000) n
"""


async def test_a_page_deep_down_uses_the_index(api: Client, database: Clone) -> None:
    # Its cost must not grow with the depth: no sort, the index from the cursor on.
    con = await asyncpg.connect(database.admin_url)
    await con.execute(_MANY, api.shop.shop_id)
    await con.execute("analyze item")
    await con.close()
    query = items._LIST._compile({}, [], goes_on=True)
    seen = {"after_0": api.shop.created_at - dt.timedelta(days=5), "after_1": api.shop.shop_id}
    values = {"shop_id": api.shop.shop_id, "rows": 51, **seen}
    async with read_scope(api.pool, api.shop.shop_id) as app:
        rows = await app.fetch("explain " + query.sql, *query._values(values))
    plan = "\n".join(row[0] for row in rows)
    assert "item_shop_id_created_at_id_ix" in plan
    assert "Sort" not in plan


async def test_a_listing_has_the_items_title_and_ends_today_unless_told(api: Client) -> None:
    item, online = await an_item(api), await a_channel(api, "Fair Lane", "online")
    body = {"channel_id": online["id"], "item_id": item["id"], "reference": "A-1042"}
    listing = await api.post("/v1/listings", body)
    assert (listing["title"], listing["state"]) == ("Navy wool coat", "live")
    again = await api.ask("POST", "/v1/listings", body)
    assert (again.status_code, again.json()["type"].rpartition("/")[2]) == (409, "reference-taken")
    ended = await api.patch(f"/v1/listings/{listing['id']}", {"state": "ended"})
    assert ended["ended_on"] is not None
    assert (await api.get("/v1/listings?state=live"))["data"] == []
    assert len((await api.get(f"/v1/listings?item={item['id']}&state=ended"))["data"]) == 1
    assert (await api.get(f"/v1/listings?channel={item['id']}"))["data"] == []
    answer = await api.ask("DELETE", f"/v1/listings/{listing['id']}", If_Match="*")
    assert answer.status_code == 204


async def test_costs_are_kept_and_listed_by_event(api: Client) -> None:
    event = await an_event(api)
    cost = await api.post(
        "/v1/costs", {"kind": "travel", "amount": "14.20", "tax": "2.66", "event_id": event["id"]}
    )
    await api.post("/v1/costs", {"kind": "supplies", "amount": "-3.00"})
    listed = (await api.get(f"/v1/costs?event={event['id']}"))["data"]
    assert listed == [cost]
    assert [one["amount"] for one in (await api.get("/v1/costs?kind=supplies"))["data"]] == [
        "-3.00"
    ]
    changed = await api.patch(f"/v1/costs/{cost['id']}", {"event_id": None, "amount": "15.00"})
    assert (changed["event_id"], changed["amount"]) == (None, "15.00")
    gone = await api.ask("DELETE", f"/v1/costs/{cost['id']}", If_Match="*")
    assert gone.status_code == 204
