"""Tax settings over HTTP, and what they do to a result."""

from __future__ import annotations

from tests.api_client import Client


async def test_tax_rates_are_set_in_parts_and_read_back(api: Client) -> None:
    rates = [{"name": "country", "percent": "5"}, {"name": "region", "percent": "9.975"}]
    changes = {
        "tax_mode": "included",
        "tax_rates": rates,
        "tax_round_per": "line",
        "tax_parts_apart": True,
        "reclaims_tax": True,
        "cash_step": "0.05",
    }
    await api.patch("/v1/shop", changes)
    shop = await api.get("/v1/shop")
    assert {name: shop[name] for name in changes} == changes


async def test_a_rate_beyond_everything_is_refused_and_nothing_stays(api: Client) -> None:
    rates = [{"name": "all", "percent": "101"}]
    answer = await api.ask(
        "PATCH", "/v1/shop", {"tax_mode": "included", "tax_rates": rates}, If_Match="*"
    )
    assert answer.status_code == 422
    assert answer.json()["type"].endswith("/tax-settings")
    assert (await api.get("/v1/shop"))["tax_rates"] == []


async def test_a_coin_of_nothing_is_refused(api: Client) -> None:
    answer = await api.ask("PATCH", "/v1/shop", {"cash_step": "0.00"}, If_Match="*")
    assert answer.status_code in {409, 422}
