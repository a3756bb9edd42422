from __future__ import annotations

import datetime as dt
from typing import Any

from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import CashTotal, Finding, reconcile
from stallkeep.domain.matching.cash_findings import cash_findings

NEXT = DAY + dt.timedelta(days=1)


def found(totals: dict[dt.date, int], *lines: Any, **more: Any) -> list[Finding]:  # noqa: ANN401
    pieces = [a_piece(f"p{i}", 3000) for i in range(8)]
    cash_totals = tuple(CashTotal(day=d, total_minor=t) for d, t in totals.items())
    given = evidence(pieces, list(lines), cash_totals=cash_totals, **more)
    result = reconcile(given)
    assert [f for f in result.findings if f.code.startswith("cash")] == cash_findings(
        given, result.answers
    )
    return cash_findings(given, result.answers)


def test_cash_without_a_line_is_told_with_about_how_many_pieces() -> None:
    (told,) = found({DAY: 15000}, a_line("t", 3000, method="cash"))
    assert (told.code, told.amount_minor) == ("cash-without-line", 12000)
    assert told.sentence == "120.00 of the cash of 2031-05-10 has no line: about 4 pieces."


def test_lines_beyond_the_box_are_told_with_the_lines() -> None:
    lines = [a_line("t", 3000, method="cash"), a_line("u", 3000, method="cash")]
    (told,) = found({DAY: 3000}, *lines)
    assert (told.code, told.amount_minor) == ("cash-lines-exceed-total", 3000)
    assert told.transaction_ids == ("t", "u")


def test_a_day_whose_lines_make_its_total_is_not_spoken_of() -> None:
    assert found({DAY: 3000}, a_line("t", 3000, method="cash")) == []


def test_days_are_kept_apart_and_cards_left_out() -> None:
    lines = [
        a_line("t", 3000, method="cash"),
        a_line("u", 3000, method="card", occurred_on=NEXT),
    ]
    told = found({DAY: 3000, NEXT: 3000}, *lines)
    assert [(f.code, f.amount_minor) for f in told] == [("cash-without-line", 3000)]
    assert "2031-05-11" in told[0].sentence


def test_cash_given_back_is_taken_off_the_lines() -> None:
    lines = [
        a_line("t", 3000, method="cash"),
        a_line("r", -3000, method="cash", kind="refund", related_id="t"),
    ]
    assert found({DAY: 0}, *lines) == []


def test_small_change_is_no_piece() -> None:
    assert found({DAY: 3400}, a_line("t", 3000, method="cash")) == []


def test_a_box_without_any_line_is_reckoned_by_the_tags() -> None:
    (told,) = found({DAY: 9000})
    assert told.sentence.endswith("about 3 pieces.")
