from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from tests.unit.matching.worlds_small import DAY

from stallkeep.domain.matching.payouts import BankLine, PaidIn, Payout, match_payouts


def paid(transaction_id: str, amount_minor: int, **more: Any) -> PaidIn:  # noqa: ANN401 - a field
    more.setdefault("occurred_on", DAY)
    return PaidIn(transaction_id=transaction_id, amount_minor=amount_minor, **more)


def sent(payout_id: str, amount_minor: int, days: int = 2) -> Payout:
    day = DAY + dt.timedelta(days=days)
    return Payout(payout_id=payout_id, amount_minor=amount_minor, occurred_on=day)


def test_unknown_fees_explain_no_more_than_fees_may_be() -> None:
    lines = [paid("a", 7000, payout_id="P"), paid("b", 5000, payout_id="Q")]
    (more, less), _, _ = match_payouts([sent("P", 10_000), sent("Q", 4_900)], lines)
    assert (more.fees_minor, more.off_minor) == (0, 3000)
    assert (less.fees_minor, less.off_minor) == (100, 0)


def test_a_far_too_small_payout_is_off_by_what_is_missing() -> None:
    (answer,), _, _ = match_payouts([sent("P", 1000)], [paid("a", 7000, payout_id="P")])
    assert (answer.fees_minor, answer.off_minor) == (0, -6000)


def test_a_payment_that_names_another_payout_is_not_taken_for_its_sum() -> None:
    lines = [
        paid("a", 1000, fee_minor=0, payout_id="P"),
        paid("b", 9900, fee_minor=200),
        paid("c", 9900, fee_minor=200, payout_id="not listed yet"),
    ]
    answers, uncovered, _ = match_payouts([sent("P", 1000), sent("Q", 9700)], lines)
    assert [answer.covers for answer in answers] == [("a",), ("b",)]
    assert uncovered == ("c",)


def test_names_of_another_kind_say_nothing() -> None:
    lines = [paid("a", 9900, fee_minor=200, payout_id="batch 7")]
    (answer,), uncovered, _ = match_payouts([sent("P", 9700)], lines)
    assert (answer.covers, answer.named, uncovered) == (("a",), False, ())


def test_a_bank_line_of_another_providers_payout_is_not_unknown() -> None:
    day = DAY + dt.timedelta(days=3)
    bank = [
        BankLine(transaction_id=name, amount_minor=amount, occurred_on=day)
        for name, amount in (("k", 500), ("l", 700), ("m", 777))
    ]
    (answer,), _, unknown = match_payouts([sent("P", 500)], [], bank, [sent("P", 700)])
    assert answer.bank_id == "k"
    assert unknown == ("m",)


def arrived(name: str, amount_minor: int, days: int = 3, **more: Any) -> BankLine:  # noqa: ANN401
    day = DAY + dt.timedelta(days=days)
    return BankLine(transaction_id=name, amount_minor=amount_minor, occurred_on=day, **more)


@pytest.mark.parametrize(
    "said",
    [
        {"references": ("PO-7781",)},
        {"references": ("E2E PO-7781 WOOLGATHER",)},
        {"text": "Payout po 7781 of the week"},
        {"text": "PAYOUT PO7781"},
    ],
)
def test_a_bank_line_that_names_its_payout_is_it_though_some_cents_are_missing(
    said: dict[str, Any],
) -> None:
    bank = [arrived("k", 49_990, **said), arrived("other", 777)]
    (answer,), _, unknown = match_payouts([sent("PO-7781", 50_000)], [], bank)
    assert (answer.bank_id, answer.arrived_minor) == ("k", 49_990)
    assert unknown == ("other",)


@pytest.mark.parametrize(("days", "bank_id"), [(1, "k"), (14, "k"), (40, None)])
def test_a_named_line_may_be_booked_before_its_payouts_day_or_late(
    days: int, bank_id: str | None
) -> None:
    bank = [arrived("k", 5000, days=days, text="payout PO-7781")]
    (answer,), _, _ = match_payouts([sent("PO-7781", 5000)], [], bank)
    assert answer.bank_id == bank_id


def test_the_name_decides_between_lines_of_one_amount() -> None:
    bank = [arrived("k", 5000, text="payout PO-7782"), arrived("l", 5000, days=4)]
    answers, _, unknown = match_payouts([sent("PO-7781", 5000), sent("PO-7782", 5000)], [], bank)
    assert [answer.bank_id for answer in answers] == ["l", "k"]
    assert unknown == ()


def test_a_line_that_names_another_payout_is_not_taken_for_its_amount() -> None:
    bank = [arrived("k", 5000, text="payout PO-7782")]
    answers, _, _ = match_payouts([sent("PO-7781", 5000), sent("PO-7782", 5010)], [], bank)
    assert [answer.bank_id for answer in answers] == [None, "k"]


@pytest.mark.parametrize(
    ("payout_id", "text", "amount_minor"),
    [
        ("PO-7781", "payout PO-77812", 4990),  # only a part of another number
        ("S-1", "table S-1 at the fair", 1200),  # a short name, and far from its amount
        ("weekly", "weekly rent of a room", 4990),  # a word, no name
        ("PO-7781", "payout PO-7781", -4990),  # money that went the other way
    ],
)
def test_what_only_looks_like_a_name_pairs_nothing(
    payout_id: str, text: str, amount_minor: int
) -> None:
    bank = [arrived("k", amount_minor, text=text)]
    (answer,), _, _ = match_payouts([sent(payout_id, 5000)], [], bank)
    assert (answer.bank_id, answer.arrived_minor) == (None, None)


def test_money_a_provider_takes_meets_what_left_the_account() -> None:
    lines = [paid("a", -6000, fee_minor=0), paid("b", 1000, fee_minor=20)]
    bank = [arrived("k", -5020), arrived("in", 5020), arrived("rent", -30_000)]
    (answer,), uncovered, unknown = match_payouts([sent("P", -5020)], lines, bank)
    assert (answer.covers, answer.off_minor, uncovered) == (("a", "b"), 0, ())
    assert (answer.bank_id, unknown) == ("k", ("in",))
