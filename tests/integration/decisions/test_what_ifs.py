"""What-if answers against sums done by hand."""

from __future__ import annotations

from typing import Any

import pytest
from tests.api_client import Client
from tests.factories import an_event
from tests.trading import a_past_event, a_stall

NOBODY = "019f1c2e-7b1a-7c3d-9e4f-5a6b7c8d9e0f"


async def ten_pieces(api: Client) -> Any:  # noqa: ANN401 - JSON
    """Ten at 40.00 that cost 10.00, a pitch of 100.00: net 200.00, 30.00 a piece."""
    stall = await a_stall(api)
    return await a_past_event(api, stall, "2026-05-09", ["40.00"] * 10, pitch_fee="100.00")


async def test_every_question_has_its_answer(api: Client) -> None:
    event = await ten_pieces(api)
    asked = {
        "prices": [{"percent": "-10"}, {"amount": "-2.50"}, {"percent": "10", "amount": "1.00"}],
        "pitch_fee": "160.00",
        "one_more_day_cost": "50.00",
        "helpers_saved": "30.00",
    }
    found = await api.post(f"/v1/events/{event['id']}/what-ifs", asked)
    assert (found["net"], found["pieces"]) == ("200.00", 10)
    answers = found["answers"]
    nets = [(one["net"], one["pieces_for_same_net"]) for one in answers]
    assert nets == [
        ("160.00", 12),  # 26 a piece: 300 / 26 = 11.5
        ("175.00", 11),  # 27.50 a piece: 300 / 27.50 = 10.9
        ("250.00", 9),  # 35 a piece: 300 / 35 = 8.6
        ("140.00", 12),  # 60 more: 360 / 30
        ("450.00", 12),  # ten more pieces bring 300, less 50; 350 / 30 = 11.7
        ("230.00", 9),  # 270 / 30
    ]
    assert answers[0]["sales_change_ppm"] == 153_846  # 11.538 / 10 - 1
    assert "12 pieces instead of 10" in answers[0]["sentence"]


async def test_a_wanted_net_and_how_much_hangs_on_the_takings(api: Client) -> None:
    event = await ten_pieces(api)
    path = f"/v1/events/{event['id']}/what-ifs"
    found = await api.post(path, {"wanted_net": "320.00"})
    target = found["target"]  # (320 + 100) / 30 a piece
    assert (target["pieces"], target["more_pieces"], target["takings"]) == (14, 4, "560.00")
    assert "14 pieces must be sold, 4 more than were: takings of 560.00" in target["sentence"]
    leverage = found["leverage"]  # 300 / 200
    assert (leverage["factor_ppm"], leverage["tenth_lower_net"]) == (1_500_000, "170.00")
    assert "170.00 instead of 200.00" in leverage["sentence"]
    found = await api.post(path, {"wanted_net": "210.00", "income_tax_percent": "30"})
    assert (found["target"]["before_tax"], found["target"]["pieces"]) == ("300.00", 14)
    assert (await api.post(path, {"pitch_fee": "9.00"}))["target"] is None


async def test_nothing_is_stored(api: Client) -> None:
    event = await ten_pieces(api)
    before = await api.get(f"/v1/events/{event['id']}/result")
    await api.post(f"/v1/events/{event['id']}/what-ifs", {"helpers_saved": "30.00"})
    assert await api.get(f"/v1/events/{event['id']}/result") == before


WRONG: list[tuple[object, str]] = [
    ({}, "#"),
    ({"prices": [{"percent": "-101"}]}, "#/prices/0/percent"),
    ({"prices": [{"percent": "ten"}]}, "#/prices/0/percent"),
    ({"prices": [{"amount": "1.5"}]}, "#/prices/0/amount"),
    ({"prices": [{"share": "1"}]}, "#/prices/0/share"),
    ({"pitch_fee": "-1.00"}, "#/pitch_fee"),
    ({"one_more_day_cost": 5}, "#/one_more_day_cost"),
    ({"income_tax_percent": "30"}, "#"),
    ({"wanted_net": "much"}, "#/wanted_net"),
    ({"wanted_net": "1.00", "income_tax_percent": "100"}, "#/income_tax_percent"),
    ({"wanted_net": "1.00", "income_tax_percent": "-5"}, "#/income_tax_percent"),
]


async def test_a_question_that_makes_no_sense_is_refused(
    api: Client, subtests: pytest.Subtests
) -> None:
    event = await an_event(api)
    for body, pointer in WRONG:
        with subtests.test(str(body)):
            answer = await api.ask("POST", f"/v1/events/{event['id']}/what-ifs", body)
            assert answer.status_code == 422, answer.text
            assert [one["pointer"] for one in answer.json()["errors"]] == [pointer]


async def test_an_event_without_a_sale_has_nothing_to_reckon_with(api: Client) -> None:
    event = await an_event(api)
    body = {"pitch_fee": "10.00"}
    answer = await api.ask("POST", f"/v1/events/{event['id']}/what-ifs", body)
    assert (answer.status_code, answer.json()["type"].rpartition("/")[2]) == (
        422,
        "never-breaks-even",
    )
    gone = await api.ask("POST", f"/v1/events/{NOBODY}/what-ifs", body)
    assert gone.status_code == 404
