"""What is known of an event and stands outside its result is told and keeps it from being final."""

from __future__ import annotations

from tests.api_client import Client
from tests.factories import DAY, a_channel, a_sale, an_event, an_item, line

from stallkeep.store.engine import scope

_FURTHER = """
insert into transaction (shop_id, id, channel_id, row_key, content_key, kind, amount_minor,
                         currency, occurred_on, ordered_at, event_id, match_state, method)
select $1, gen_random_uuid(), $2::uuid, 'row ' || n, gen_random_uuid(), 'payment', 1000 + n,
       (array['EUR', 'USD', 'USD', 'GBP'])[n], $3::text::date, $3::text::date + time '12:00',
       case when n > 1 then $4::uuid end, 'unmatched', 'card'
  from generate_series(1, 4) n
"""


async def test_what_waits_is_told_with_its_sums(api: Client) -> None:
    stall = await a_channel(api)
    event = await an_event(api, stall, days=[{"day": DAY}])
    item = await an_item(api)
    await a_sale(api, event, line(item, "40.00"), method="card")  # waits for the reader's export
    await a_sale(api, event, line(item, "40.00"))  # the only piece a second time: a conflict
    async with scope(api.pool, api.shop.shop_id) as con:
        await con.execute(_FURTHER, api.shop.shop_id, stall["id"], DAY, event["id"])
    result = await api.get(f"/v1/events/{event['id']}/result")
    assert not result["is_final"]
    assert [told for told in result["missing"] if "sale(s)" in told] == [
        "1 sale(s) of 40.00 EUR in all, entered at the stall, wait for their payment from the "
        "card reader's export and are not counted yet."
    ]
    assert [told.partition(" on ")[0] for told in result["missing"] if "no event" in told] == [
        "1 payment(s) of 10.01 EUR in all"
    ]
    assert [told.partition(":")[0] for told in result["missing"] if "not counted:" in told] == [
        "1 payment(s) of 10.04 GBP in all are not counted",
        "2 payment(s) of 20.05 USD in all are not counted",
    ]
    assert "1 contradiction(s) wait for a look under conflicts." in result["missing"]


async def test_nothing_waits_where_nothing_is_open(api: Client) -> None:
    event = await an_event(api, days=[{"day": DAY}])
    await a_sale(api, event, line(await an_item(api), "40.00"))
    missing = (await api.get(f"/v1/events/{event['id']}/result"))["missing"]
    assert not [told for told in missing if "(s)" in told]
