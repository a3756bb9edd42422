from __future__ import annotations

import datetime as dt
from typing import Any

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
