"""What a customer would pay, over HTTP, against published receipts."""

from __future__ import annotations

from typing import Any

import pytest
from tests.api_client import Client
from tests.factories import an_item

COUNTRY_AND_REGION = [
    {"name": "country", "percent": "5"},
    {"name": "region", "percent": "9.975"},
]


async def quote(api: Client, *prices: str, method: str = "card", **tax: Any) -> Any:  # noqa: ANN401
    lines = [{"title": f"Piece {n}", "price": price} for n, price in enumerate(prices)]
    body = {"lines": lines, "method": method, **({"tax": tax} if tax else {})}
    return await api.post("/v1/receipt-quotes", body)


def added(*percents: str, **more: object) -> dict[str, Any]:
    rates = [{"name": f"rate {n}", "percent": percent} for n, percent in enumerate(percents)]
    return {"mode": "added", "rates": rates, **more}


async def test_cash_is_rounded_after_tax_and_a_card_is_not(api: Client) -> None:
    # Government of Canada, Budget 2012, Rounding: 1.83 + 2.86 and 5 % is 4.92, in cash 4.90.
    terms = added("5", cash_step="0.05")
    card = await quote(api, "1.83", "2.86", **terms)
    assert (card["net"], card["tax"], card["total"], card["to_pay"]) == (
        "4.69",
        "0.23",
        "4.92",
        "4.92",
    )
    assert card["advice"] == "Key in 4.92 EUR. It includes 0.23 of tax."
    cash = await quote(api, "1.83", "2.86", method="cash", **terms)
    assert (cash["total"], cash["cash_rounding"], cash["to_pay"]) == ("4.92", "-0.02", "4.90")
    assert cash["advice"].startswith("Take 4.90 EUR in cash.")
    assert "licensed professional" in cash["caution"]


async def test_an_added_rate_gives_the_published_receipt(api: Client) -> None:
    # OpenStax Contemporary Mathematics, Sales Tax (m00058): 499.00 at 8.81 %.
    found = await quote(api, "499.00", **added("8.81"))
    assert (found["tax"], found["total"]) == ("43.96", "542.96")


async def test_rates_within_the_price_are_told_one_by_one(api: Client) -> None:
    # Fractions 5/114.975 and 9.975/114.975 (practitioner table) of 20.00, worked out.
    found = await quote(api, "20.00", mode="included", rates=COUNTRY_AND_REGION)
    assert [(tax["name"], tax["percent"], tax["tax"]) for tax in found["taxes"]] == [
        ("country", "5", "0.87"),
        ("region", "9.975", "1.73"),
    ]
    assert (found["net"], found["tax"], found["total"]) == ("17.40", "2.60", "20.00")


@pytest.mark.parametrize(("round_per", "tax"), [("line", "0.12"), ("receipt", "0.13")])
async def test_rounding_per_line_and_per_receipt(api: Client, round_per: str, tax: str) -> None:
    # Derived, half up, no publication behind it: 2 x 1.27 at 5 %.
    found = await quote(api, "1.27", "1.27", **added("5", round_per=round_per))
    assert found["tax"] == tax
    parts = [line["tax"] for line in found["lines"]]
    assert parts == (["0.06", "0.06"] if round_per == "line" else ["0.07", "0.06"])


async def test_the_shop_s_own_terms_and_prices_are_used(api: Client) -> None:
    changes = {"tax_mode": "added", "tax_rates": [{"name": "tax", "percent": "6"}]}
    await api.patch("/v1/shop", changes)
    item = await an_item(api, price="18.00", quantity=2)
    under = await an_item(api, title="Mended shawl", price="30.00", margin_scheme=True)
    lines = [{"tag_code": item["tag_code"], "quantity": 2}, {"item_id": under["id"]}]
    found = await api.post("/v1/receipt-quotes", {"lines": lines})
    assert [(line["title"], line["price"], line["tax"]) for line in found["lines"]] == [
        ("Navy wool coat", "36.00", "2.16"),
        ("Mended shawl", "30.00", "0.00"),
    ]
    assert found["lines"][1]["margin_scheme"]
    assert (found["tax_mode"], found["to_pay"]) == ("added", "68.16")


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({"lines": []}, "invalid-input"),
        ({"lines": [{"title": "A scarf"}]}, "no-price"),
        ({"lines": [{"tag_code": "M4R-7HE"}]}, "unknown-reference"),
        ({"lines": [{"price": "-1.00"}]}, "invalid-input"),
        ({"lines": [{"price": "1.001"}]}, "invalid-input"),
        ({"lines": [{"price": "1.00"}], "method": "cheque"}, "invalid-input"),
        ({"lines": [{"price": "1.00"}], "tax": added("101")}, "tax-settings"),
        ({"lines": [{"price": "1.00"}], "tax": added("5", cash_step="0.00")}, "tax-settings"),
        ({"lines": [{"price": "1.00"}], "tax": {"mode": "guessed"}}, "invalid-input"),
    ],
)
async def test_what_cannot_be_added_up_is_refused(
    api: Client, body: dict[str, Any], code: str
) -> None:
    answer = await api.ask("POST", "/v1/receipt-quotes", body)
    assert answer.status_code == 422, answer.text
    assert answer.json()["type"].endswith(f"/{code}")
