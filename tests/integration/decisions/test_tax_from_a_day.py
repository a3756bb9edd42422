"""Tax terms hold from a day on, and what they are worked out for; by hand from 108.00 at 8 %."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from tests.api_client import Client
from tests.factories import DAY, NEXT_DAY, a_channel, an_event, an_item
from tests.trading import a_past_event

from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id

ADDED = {"tax_mode": "added", "tax_rates": [{"name": "City", "percent": "8"}]}
INCLUDED = {"tax_mode": "included", "tax_rates": [{"name": "VAT", "percent": "20"}]}
YEAR = DAY[:4]

PAID = """
insert into transaction (shop_id, id, channel_id, row_key, content_key, kind, amount_minor,
                         currency, occurred_on, occurred_at, ordered_at, event_id, match_state,
                         method, fee_minor, tax_minor)
select $1, $2::uuid, $3::uuid, $2::text, gen_random_uuid(), 'payment', $4, 'EUR', at::date, at, at,
       $5::uuid, 'unmatched', $6, 0, $8
  from (select ($7 || 'T10:01:00+01:00')::timestamptz) of(at)
"""


async def paid(  # noqa: PLR0917 - the columns of a payment
    api: Client,
    channel: Any,  # noqa: ANN401 - JSON
    event: Any = None,  # noqa: ANN401 - JSON
    amount_minor: int = 108_00,
    day: str = DAY,
    tax_minor: int | None = None,
) -> None:
    """A payment, as an export brings it."""
    method = "card" if event else "online"
    event_id = event["id"] if event else None
    values = (api.shop.shop_id, new_id(), channel["id"], amount_minor, event_id, method, day)
    async with scope(api.pool, api.shop.shop_id) as con:
        await con.execute(PAID, *values, tax_minor)


async def taxes(api: Client, year: str = YEAR) -> dict[str, str]:
    """The tax of a year by channel and in all, and what the export of the year says is the same."""
    totals = (await api.get(f"/v1/years/{year}"))["totals"]
    exported = (await api.ask("GET", f"/v1/years/{year}/totals.csv")).text
    assert totals["whole"]["tax"] in exported
    assert totals["adds_up"]
    found = {one["name"]: one["tax"] for one in totals["channels"]}
    return found | {"": totals["whole"]["tax"]}


async def result_tax(api: Client, event: Any) -> str:  # noqa: ANN401 - JSON
    plain = (await api.get(f"/v1/events/{event['id']}/result"))["whole"]
    explained = (await api.get(f"/v1/events/{event['id']}/result?explain=true"))["whole"]
    assert plain == explained
    return str(plain["tax"])


def a_day_event(day: str) -> dict[str, object]:
    return {"starts_on": day, "ends_on": day, "days": [{"day": day}]}


@pytest.mark.parametrize("per", ["line", "receipt"])
async def test_tax_on_top_is_worked_out_at_a_stall_only(api: Client, per: str) -> None:
    await api.patch("/v1/shop", {**ADDED, "tax_round_per": per})
    event = await an_event(api, await a_channel(api), **a_day_event(DAY))
    online = await a_channel(api, "Tidelist", "online")
    direct = await a_channel(api, "Followers", "direct")
    await paid(api, await a_known(api, event["channel_id"]), event)
    await paid(api, online)
    await paid(api, online, tax_minor=3_00)
    await paid(api, direct)
    found = await taxes(api)
    assert await result_tax(api, event) == "8.00"
    # The channel's own export tells 3.00 of one payment, and of the other nothing.
    assert found == {
        "Harbour stall": "-8.00",
        "Tidelist": "-3.00",
        "Followers": "0.00",
        "": "-11.00",
    }


async def test_tax_within_prices_is_worked_out_on_every_channel(api: Client) -> None:
    await api.patch("/v1/shop", INCLUDED)
    await paid(api, await a_channel(api, "Tidelist", "online"))
    assert await taxes(api) == {"Tidelist": "-18.00", "": "-18.00"}  # 108 / 6


async def test_a_change_leaves_what_was_before_it(api: Client) -> None:
    await api.patch("/v1/shop", INCLUDED)
    stall = await a_channel(api)
    event = await an_event(api, stall, **a_day_event(DAY))
    await paid(api, stall, event)
    assert (await result_tax(api, event), (await taxes(api))[""]) == ("18.00", "-18.00")
    changed = await api.patch("/v1/shop", {"tax_rates": [{"name": "VAT", "percent": "8"}]})
    today = dt.datetime.now(ZoneInfo(api.shop.time_zone)).date().isoformat()
    assert [one["from_on"] for one in changed["tax_periods"]] == [None, today]
    assert changed["tax_rates"] == [{"name": "VAT", "percent": "8"}]
    assert (await result_tax(api, event), (await taxes(api))[""]) == ("18.00", "-18.00")


async def test_becoming_registered_taxes_nothing_sold_before(api: Client) -> None:
    stall = await a_channel(api)
    event = await an_event(api, stall, **a_day_event(DAY))
    await paid(api, stall, event)
    await api.patch("/v1/shop", {**INCLUDED, "reclaims_tax": True})
    assert (await result_tax(api, event), (await taxes(api))[""]) == ("0.00", "0.00")


async def test_the_past_is_corrected_by_naming_its_day(api: Client) -> None:
    stall = await a_channel(api)
    event = await an_event(api, stall, **a_day_event(DAY))
    await paid(api, stall, event)
    changed = await api.patch("/v1/shop", {**INCLUDED, "tax_from": DAY})
    assert changed["tax_mode"] == "included"
    assert [(one["from_on"], one["mode"]) for one in changed["tax_periods"]] == [
        (None, "none"),
        (DAY, "included"),
    ]
    assert (await result_tax(api, event), (await taxes(api))[""]) == ("18.00", "-18.00")
    again = await api.patch("/v1/shop", {"tax_mode": "none", "tax_rates": [], "tax_from": DAY})
    assert [one["from_on"] for one in again["tax_periods"]] == [None]
    assert (await taxes(api))[""] == "0.00"


@pytest.mark.parametrize("per", ["line", "receipt"])
async def test_a_year_is_worked_out_period_by_period(api: Client, per: str) -> None:
    stall = await a_channel(api)
    online = await a_channel(api, "Tidelist", "online")
    await api.patch("/v1/shop", {**INCLUDED, "tax_round_per": per})
    early = await an_event(api, stall, **a_day_event(f"{YEAR}-03-07"))
    late = await an_event(api, stall, **a_day_event(DAY))
    await paid(api, stall, early, day=f"{YEAR}-03-07")
    await paid(api, stall, late)
    await paid(api, online, day=f"{YEAR}-03-31")
    await paid(api, online, day=f"{YEAR}-04-01")
    await api.patch("/v1/shop", {**ADDED, "tax_from": f"{YEAR}-04-01"})
    found = await taxes(api)
    assert (await result_tax(api, early), await result_tax(api, late)) == ("18.00", "8.00")
    assert found == {"Harbour stall": "-26.00", "Tidelist": "-18.00", "": "-44.00"}


@pytest.mark.parametrize("per", ["line", "receipt"])
async def test_an_event_and_its_refunds_have_the_terms_of_its_first_day(
    api: Client, per: str
) -> None:
    stall = await a_channel(api)
    await api.patch("/v1/shop", {**INCLUDED, "tax_round_per": per})
    days = {"starts_on": DAY, "ends_on": NEXT_DAY, "days": [{"day": DAY}, {"day": NEXT_DAY}]}
    event = await an_event(api, stall, **days)
    await paid(api, stall, event)
    await paid(api, stall, event, day=NEXT_DAY)
    await paid(api, stall, event, amount_minor=-54_00, day=f"{YEAR}-06-01")
    await api.patch("/v1/shop", {"tax_mode": "none", "tax_from": NEXT_DAY})
    # 18 + 18 - 9, as if nothing had changed: the last payment is money given back.
    assert (await result_tax(api, event), (await taxes(api))[""]) == ("27.00", "-27.00")


async def test_costs_and_the_cash_box_go_by_the_terms_of_their_day(api: Client) -> None:
    stall = await a_channel(api)
    await api.patch("/v1/shop", {**INCLUDED, "reclaims_tax": True, "tax_from": f"{YEAR}-04-01"})
    made = []
    for day in (f"{YEAR}-03-07", DAY):
        event = await an_event(api, stall, **a_day_event(day))
        box = {"float": "50.00", "counted_cash": "158.00"}
        await api.patch(f"/v1/events/{event['id']}/days/{day}", box)
        cost = {"kind": "supplies", "amount": "12.00", "tax": "2.00"}
        await api.post("/v1/costs", {**cost, "event_id": event["id"]})
        await api.post("/v1/costs", {**cost, "spent_on": day})
        made.append(event)
    results = [(await api.get(f"/v1/events/{event['id']}/result"))["whole"] for event in made]
    assert [(one["tax"], one["costs"][0]["amount"]) for one in results] == [
        ("0.00", "12.00"),
        ("18.00", "10.00"),
    ]
    whole = (await api.get(f"/v1/years/{YEAR}"))["totals"]["whole"]
    assert (whole["tax"], whole["costs"]) == ("-18.00", "-44.00")


async def test_a_sale_rung_up_has_the_terms_of_its_day(api: Client) -> None:
    await api.patch("/v1/shop", {**ADDED, "tax_from": DAY})
    stall = await a_channel(api)
    event = await a_past_event(api, stall, f"{YEAR}-03-07", ["100.00"])
    later = await a_past_event(api, stall, DAY, ["100.00"])
    sales = [(await api.get(f"/v1/sales?event={one['id']}"))["data"][0] for one in (event, later)]
    assert [(sale["total"], sale["tax"]) for sale in sales] == [
        ("100.00", None),
        ("108.00", "8.00"),
    ]
    assert (await taxes(api))[""] == "-8.00"


async def test_what_is_to_come_is_told_and_not_yet_asked_for(api: Client) -> None:
    await api.patch("/v1/shop", INCLUDED)
    changed = await api.patch("/v1/shop", {**ADDED, "tax_from": "2199-01-01"})
    assert changed["tax_mode"] == "included"
    assert changed["tax_periods"][-1]["mode"] == "added"
    await an_item(api, price="100.00")
    quote = {"method": "card", "lines": [{"title": "Scarf", "price": "100.00"}]}
    assert (await api.post("/v1/receipt-quotes", quote))["to_pay"] == "100.00"


async def test_a_day_without_a_change_is_refused(api: Client) -> None:
    answer = await api.ask("PATCH", "/v1/shop", {"tax_from": DAY}, If_Match="*")
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("/tax-settings")


async def a_known(api: Client, channel_id: str) -> Any:  # noqa: ANN401 - JSON
    return await api.get(f"/v1/channels/{channel_id}")
