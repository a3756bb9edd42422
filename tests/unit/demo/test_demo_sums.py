"""Files and truth agree to the cent; expected figures are added up here from the files alone."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import msgspec
import pytest
from demo.exports_cards import OLD_PAYMENTS, PAYMENTS, PAYOUTS
from demo.exports_paper import EXPENSES, TALLY
from demo.words import FAIR, LUMPELIO, NEXT_EVENT, SHELVORRA, STALL
from tests.unit.demo.demo_reading import SETUP, TRUTH, cell, cents, euros, event, records, stock

from stallkeep.domain.fees import FeeSchedule, take_home

RESULT = TRUTH["result"][FAIR]
BY_FILES = RESULT["by_the_files"]
WET_SATURDAY = "2026-09-12"


def _card_rows() -> list[dict[str, str]]:
    rows = records(PAYMENTS)
    header = rows[2]
    return [dict(zip(header, row, strict=True)) for row in rows[4:-1]]


def _approved(kind: str) -> list[dict[str, str]]:
    return [r for r in _card_rows() if r["Result"] == "approved" and r["Type"] == kind]


def _terms(channel: str, day: str) -> FeeSchedule:
    fees = next(each["fees"] for each in SETUP["channels"] if each["name"] == channel)
    valid = max((f for f in fees if f["valid_from"] <= day), key=lambda f: str(f["valid_from"]))
    return msgspec.convert(valid["terms"], FeeSchedule)


def test_card_takings_are_the_approved_payments() -> None:
    assert sum(euros(row["Total paid"]) for row in _approved("Payment")) == euros(
        BY_FILES["takings_card"]
    )
    assert sum(euros(row["Tip"]) for row in _approved("Payment")) == euros(BY_FILES["tips"])
    assert -sum(euros(row["Total paid"]) for row in _approved("Refund")) == euros(
        BY_FILES["refunds"]
    )


def test_the_totals_line_adds_up() -> None:
    columns = ("Amount before tip", "Tip", "Total paid", "Fee", "Net")
    rows = [*_approved("Payment"), *_approved("Refund")]
    total = len(records(PAYMENTS))
    for column in columns:
        assert euros(cell(PAYMENTS, total, column)) == sum(euros(row[column]) for row in rows)


def test_cash_takings_are_the_lines_of_the_tally() -> None:
    lines = records(TALLY)[1:-1]
    assert sum(euros(line[2]) for line in lines) == euros(BY_FILES["takings_cash"])


def test_costs_are_the_expenses_and_the_pitch() -> None:
    spent: dict[str, Decimal] = {}
    for _, _, category, amount, _, _ in records(EXPENSES)[1:-1]:
        spent[category.lower()] = spent.get(category.lower(), Decimal(0)) + euros(amount)
    spent["pitch_fee"] = sum((euros(d["pitch_fee"]) for d in event(FAIR)["days"]), Decimal(0))
    assert {kind: euros(amount) for kind, amount in BY_FILES["costs"].items()} == spent


def test_the_net_is_takings_less_everything() -> None:
    goods = sum(
        (1 if entry["what"] == "sale" else -1) * euros(stock()[code]["cost"])
        for entry in TRUTH["payments"]
        if entry["what"] in {"sale", "refund"}
        for code in entry["pieces"]
    )
    fees = sum(euros(row["Fee"]) for row in _card_rows() if row["Fee"])
    takings = euros(BY_FILES["takings_card"]) + euros(BY_FILES["takings_cash"])
    costs = sum(map(euros, BY_FILES["costs"].values()))
    assert euros(BY_FILES["net"]) == takings - euros(BY_FILES["refunds"]) - fees - costs - goods


def test_the_days_add_up_to_the_whole() -> None:
    days = RESULT["by_the_files_per_day"].values()
    for figure in ("takings_card", "takings_cash", "refunds", "card_fees", "cost_of_goods", "net"):
        assert sum(euros(day[figure]) for day in days) == euros(BY_FILES[figure])


def test_the_fair_earns_modestly_and_the_wet_day_loses() -> None:
    assert 0 < euros(BY_FILES["net"]) < 600
    assert euros(RESULT["by_the_files_per_day"][WET_SATURDAY]["net"]) < 0


def test_the_forgotten_sale_lies_in_the_cash_box() -> None:
    forgotten = {each["at"][:10]: euros(each["amount"]) for each in TRUTH["forgotten_sales"]}
    tally = records(TALLY)[1:-1]
    for day in event(FAIR)["days"]:
        expected = euros(day["float"]) + sum(euros(r[2]) for r in tally if r[0] == day["day"])
        over = euros(day["counted_cash"]) - expected
        assert over == euros(RESULT["cash_over"][day["day"]])
        assert (over > 5) == (day["day"] in forgotten)


def test_payouts_carry_the_days_net() -> None:
    for number, _, gross, fees, net, _ in records(PAYOUTS)[1:-1]:
        carried = [row for row in _card_rows() if row["Payout"] == number]
        assert euros(net) == euros(gross) - euros(fees) == euros(TRUTH["payouts"][number])
        assert euros(net) == sum(euros(row["Net"]) for row in carried)


CARD_FILES = [
    (PAYMENTS, "Total paid", "Fee", "2026-09-11"),
    (OLD_PAYMENTS, "Betrag", "Gebühr", "2026-06-20"),
]


@pytest.mark.parametrize(("name", "paid", "fee", "day"), CARD_FILES)
def test_card_fees_follow_the_schedule_of_the_day(name: str, paid: str, fee: str, day: str) -> None:
    both = [*TRUTH["payments"], *TRUTH["earlier_payments"]]
    payments = [e for e in both if e["file"] == name and e["what"] not in {"declined", "refund"}]
    assert len(payments) > 20
    for entry in payments:
        expected = take_home(_terms(STALL, day), cents(cell(name, entry["record"], paid)))
        assert cents(cell(name, entry["record"], fee)) == expected.fees_minor


CHANNEL_FILES = [
    (LUMPELIO, "lumpelio-verkaeufe-2026-09-09.csv", "Verkaufspreis", "Provision"),
    (SHELVORRA, "shelvorra-sales-2026-09-09.csv", "Item price", "Channel fee"),
]


@pytest.mark.parametrize(("channel", "name", "price", "fee"), CHANNEL_FILES)
def test_channel_fees_follow_the_schedule(channel: str, name: str, price: str, fee: str) -> None:
    header, *rows = records(name)
    for row in rows[:-1]:
        asked = cents(row[header.index(price)])
        expected = take_home(_terms(channel, "2026-08-01"), asked)
        assert cents(row[header.index(fee)]) == expected.fees_minor


def test_the_next_event_is_to_come_and_has_a_rail() -> None:
    coming = event(NEXT_EVENT)
    fair_over = max(dt.date.fromisoformat(day["day"]) for day in event(FAIR)["days"])
    assert all(dt.date.fromisoformat(day["day"]) > fair_over for day in coming["days"])
    assert all(day["counted_cash"] is None for day in coming["days"])
    assert len(coming["rail"]) > 40
