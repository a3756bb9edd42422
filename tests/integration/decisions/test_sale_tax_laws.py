"""Whatever is rung up and brought back, result and year are the sums of the sales, to the cent."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from tests.api_client import Client
from tests.factories import DAY, a_channel, a_sale, an_event, an_item, line

RATES = ("5", "8", "9.975", "19", "0.5")


def some_terms(rng: Random) -> dict[str, object]:
    rates = rng.sample(RATES, rng.randint(1, 3))
    return {
        "tax_mode": rng.choice(["included", "added"]),
        "tax_rates": [{"name": f"at {rate}", "percent": rate} for rate in rates],
        "tax_round_per": rng.choice(["line", "receipt"]),
        "tax_parts_apart": rng.random() < 0.5,
        "cash_step": rng.choice([None, "0.05", "0.10"]),
    }


async def some_sale(api: Client, event: Any, rng: Random) -> Any:  # noqa: ANN401
    lines = []
    for _ in range(rng.randint(1, 4)):
        price = f"{rng.randint(1, 9999) / 100:.2f}"
        item = await an_item(api, price=price, cost="1.00", margin_scheme=rng.random() < 0.2)
        lines.append(line(item if rng.random() < 0.8 else None, price))
    method = rng.choice(["cash", "cash", "transfer", "other"])
    return (await a_sale(api, event, *lines, method=method))["sale"]


async def brought_back(api: Client, sale: Any, rng: Random) -> Decimal:  # noqa: ANN401
    """Give some or all of a sale back, in one go or two; returns the tax that went with it."""
    numbers = [one["line_no"] for one in sale["lines"]]
    rng.shuffle(numbers)
    cut = rng.randint(0, len(numbers))
    for part in (numbers[:cut], numbers[cut:] if rng.random() < 0.5 else []):
        if part:
            path = f"/v1/sales/{sale['id']}/returns"
            answer = await api.ask("POST", path, {"lines": part}, If_Match="*")
            assert answer.status_code == 200, answer.text
    found = await api.get(f"/v1/sales/{sale['id']}")
    return sum(
        (Decimal(one["tax"]) for one in found["lines"] if one["state"] == "returned"), Decimal(0)
    )


async def of_years(api: Client, figure: str) -> Decimal:
    """Add up the event's year and the present one, in which pieces were brought back."""
    years = {int(DAY[:4]), dt.datetime.now(ZoneInfo(api.shop.time_zone)).year}
    found = [(await api.get(f"/v1/years/{year}"))["totals"]["whole"] for year in years]
    return sum((Decimal(whole[figure]) for whole in found), Decimal(0))


@pytest.mark.parametrize("seed", range(8))
async def test_results_and_years_are_the_sums_of_the_sales(api: Client, seed: int) -> None:
    rng = Random(seed)  # noqa: S311 - chance for a test
    await api.patch("/v1/shop", some_terms(rng))
    event = await an_event(api, await a_channel(api), days=[{"day": DAY}], ends_on=DAY)
    takings = tax = Decimal(0)
    for _ in range(6):
        sale = await some_sale(api, event, rng)
        prices = sum(Decimal(one["price"]) for one in sale["lines"])
        on_top = Decimal(sale["tax"]) if sale["tax_added"] else 0
        assert Decimal(sale["total"]) == prices + on_top + Decimal(sale["cash_rounding"])
        assert sum(Decimal(one["tax"]) for one in sale["lines"]) == Decimal(sale["tax"])
        assert sum(Decimal(one["tax"]) for one in sale["taxes"]) == Decimal(sale["tax"])
        takings += Decimal(sale["total"])
        tax += Decimal(sale["tax"])
        if rng.random() < 0.4:
            tax -= await brought_back(api, sale, rng)
    result = await api.get(f"/v1/events/{event['id']}/result?explain=true")
    # Money given back today moved on another day than the event's: it is of the event all the same.
    whole, plain = result["whole"], await api.get(f"/v1/events/{event['id']}/result")
    assert plain["whole"] == whole
    assert (Decimal(whole["takings"]), Decimal(whole["tax"])) == (takings, tax)
    net_sales = Decimal(whole["takings"]) - Decimal(whole["refunds"]) - Decimal(whole["tax"])
    assert Decimal(whole["net_sales"]) == net_sales
    assert await of_years(api, "takings") == takings
    assert await of_years(api, "tax") == -tax
