"""A sale rung up keeps its tax and the rounding of cash, and results add up to it to the cent.

The receipts are those of `tests/unit/domain/test_tax.py`, where their sources stand.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import pytest
from tests.api_client import Client
from tests.factories import DAY, a_channel, a_sale, an_event, an_item, line

from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id

Event: TypeAlias = dict[str, Any]

PAID_BY_CARD = """
insert into transaction (shop_id, id, channel_id, row_key, content_key, kind, amount_minor,
                         currency, occurred_on, occurred_at, ordered_at, event_id, match_state,
                         method, fee_minor)
select $1, $2, $3::uuid, 'card', gen_random_uuid(), 'payment', $4, 'EUR', at::date, at, at,
       $5::uuid, 'unmatched', 'card', 0
  from (select ($6 || 'T10:01:00+01:00')::timestamptz) of(at)
"""


@pytest.fixture
async def event(api: Client) -> Event:
    """A market of a shop that adds 13 per cent line by line, without coins under five cents."""
    changes = {
        "tax_mode": "added",
        "tax_rates": [{"name": "country", "percent": "5"}, {"name": "region", "percent": "8"}],
        "tax_round_per": "line",
        "cash_step": "0.05",
    }
    await api.patch("/v1/shop", changes)
    made: Event = await an_event(api, await a_channel(api), days=[{"day": DAY}], ends_on=DAY)
    return made


async def rung_up(api: Client, event: Event, method: str, count: int = 7) -> Any:  # noqa: ANN401
    lines = [line(await an_item(api, price="0.99"), "0.99") for _ in range(count)]
    return (await a_sale(api, event, *lines, method=method))["sale"]


async def whole(api: Client, event: Event) -> Any:  # noqa: ANN401
    return (await api.get(f"/v1/events/{event['id']}/result"))["whole"]


async def tax_of_year(api: Client) -> object:
    return (await api.get(f"/v1/years/{DAY[:4]}"))["totals"]["whole"]["tax"]


async def test_a_cash_sale_keeps_tax_by_rate_and_rounding(api: Client, event: Event) -> None:
    # Derived, half up: 7 x .99 at 13 % is .91 line by line; 6.93 + .91 = 7.84, in cash 7.85.
    sale = await rung_up(api, event, "cash")
    assert (sale["total"], sale["tax"], sale["cash_rounding"]) == ("7.85", "0.91", "0.01")
    assert sale["tax_added"]
    assert [(tax["percent"], tax["tax"]) for tax in sale["taxes"]] == [("5", "0.35"), ("8", "0.56")]
    assert {one["tax"] for one in sale["lines"]} == {"0.13"}
    assert await api.get(f"/v1/sales/{sale['id']}") == sale
    found = await whole(api, event)
    assert (found["takings"], found["tax"], found["net_sales"]) == ("7.85", "0.91", "6.94")
    assert await tax_of_year(api) == "-0.91"


async def test_a_card_sale_tells_the_tax_that_its_export_does_not(
    api: Client, event: Event
) -> None:
    # Once for the whole receipt 6.93 at 13 % would be .90.
    sale = await rung_up(api, event, "card")
    assert (sale["total"], sale["cash_rounding"]) == ("7.84", "0.00")
    await paid_by_card(api, event, 784)
    await api.post("/v1/reconciliations", {"event_id": event["id"]})
    linked = await api.get(f"/v1/sales/{sale['id']}")
    assert linked["transaction_id"]
    found = await whole(api, event)
    assert (found["takings"], found["tax"], found["net_sales"]) == ("7.84", "0.91", "6.93")
    assert await tax_of_year(api) == "-0.91"
    explained = await api.get(f"/v1/events/{event['id']}/result?explain=true")
    assert explained["whole"] == found


async def test_tax_that_nothing_tells_is_worked_out_from_the_payment(
    api: Client, event: Event
) -> None:
    await paid_by_card(api, event, 113_00)
    assert (await whole(api, event))["tax"] == "13.00"
    assert await tax_of_year(api) == "-13.00"


async def test_a_sale_returned_in_parts_gives_back_the_whole(api: Client, event: Event) -> None:
    sale = await rung_up(api, event, "cash")
    for lines in ([1, 2, 3], [4], [5, 6, 7]):
        path = f"/v1/sales/{sale['id']}/returns"
        answer = await api.ask("POST", path, {"lines": lines}, If_Match="*")
        assert answer.status_code == 200, answer.text
    found = await api.get(f"/v1/transactions?event={event['id']}&kind=refund")
    # 7.84 rounded 7.85; without three 4.48 -> 4.50; without four 3.36 -> 3.35.
    assert sorted(row["amount"] for row in found["data"]) == ["-1.15", "-3.35", "-3.35"]
    left = await whole(api, event)
    assert (left["takings"], left["refunds"], left["tax"]) == ("7.85", "7.85", "0.00")
    assert left["net_sales"] == "0.00"


async def test_a_piece_under_a_margin_scheme_has_no_tax_on_top(api: Client, event: Event) -> None:
    item = await an_item(api, price="30.00", margin_scheme=True)
    sale = (await a_sale(api, event, line(item, "30.00"), line(None, "10.00")))["sale"]
    assert [one["tax"] for one in sale["lines"]] == ["0.00", "1.30"]
    assert (sale["total"], sale["tax"]) == ("41.30", "1.30")


async def test_a_shop_without_tax_still_rounds_cash(api: Client, event: Event) -> None:
    await api.patch("/v1/shop", {"tax_mode": "none"})
    sale = await rung_up(api, event, "cash", 2)
    assert (sale["total"], sale["cash_rounding"], sale["tax"]) == ("2.00", "0.02", None)
    assert sale["taxes"] == []
    assert (await whole(api, event))["tax"] == "0.00"


async def test_an_online_channel_asks_for_added_tax_itself(api: Client, event: Event) -> None:
    online = await a_channel(api, "Tidelist", "online")
    body = {"channel_id": online["id"], "method": "online", "lines": [line(None, "30.00")]}
    sale = (await api.post("/v1/sales", body))["sale"]
    assert (sale["total"], sale["tax"], sale["tax_added"]) == ("30.00", None, False)


async def test_sending_a_taxed_sale_twice_is_harmless(api: Client, event: Event) -> None:
    lines = [line(None, "9.99")]
    body = {"id": str(new_id()), "event_id": event["id"], "method": "cash", "lines": lines}
    body["sold_on"] = DAY
    first = await api.ask("POST", "/v1/sales", body)
    again = await api.ask("POST", "/v1/sales", body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["sale"] == again.json()["sale"]


async def paid_by_card(api: Client, event: Event, amount_minor: int) -> None:
    values = (api.shop.shop_id, new_id(), event["channel_id"], amount_minor, event["id"], DAY)
    async with scope(api.pool, api.shop.shop_id) as con:
        await con.execute(PAID_BY_CARD, *values)
