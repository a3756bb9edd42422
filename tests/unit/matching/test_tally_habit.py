"""Cash that no line tells of: what a line for each cash sale would have settled."""

from __future__ import annotations

from tests.unit.matching.worlds_small import DAY, a_line, a_piece, evidence

from stallkeep.domain.matching import CashTotal, Evidence, habit_note, reconcile

PRICES = (900, 1100, 1700, 2300, 3100, 4300, 5900, 7100, 8300, 9700, 12_100, 13_900)
CODES = ("K5T8AC", "7M3TQ2", "4H9XW1", "9C2RF7")


def a_day(cash_minor: int) -> Evidence:
    """Twelve prices, each once, eight of them gone at the count; four payments name their codes."""
    pieces = [
        a_piece(f"p{n}", price, tag_code=CODES[n] if n < 4 else f"T{n}", counted_home=int(n >= 8))
        for n, price in enumerate(PRICES)
    ]
    lines = [
        a_line(f"t{n}", PRICES[n], note=CODES[n], method="card", occurred_on=DAY) for n in range(4)
    ]
    totals = (CashTotal(day=DAY, total_minor=cash_minor),) if cash_minor else ()
    return evidence(pieces, lines, cash_totals=totals, days=(DAY,))


def test_a_box_full_of_untold_cash_calls_for_a_tally() -> None:
    given = a_day(sum(PRICES[4:8]))
    note = habit_note(given, reconcile(given))
    assert note.habit == "tally"
    assert note.sentence.startswith("A line in the tally for each cash sale would have settled")
    assert note.settled_then_minor > note.settled_now_minor
    assert note.settled_then_minor <= sum(PRICES[:8])


def test_where_the_box_is_told_no_tally_is_called_for() -> None:
    for cash in (0, 300):
        given = a_day(cash)
        assert habit_note(given, reconcile(given)).habit != "tally"


def test_the_order_of_the_evidence_moves_nothing() -> None:
    given = a_day(sum(PRICES[4:8]))
    turned = evidence(
        list(given.pieces[::-1]),
        list(given.lines[::-1]),
        cash_totals=given.cash_totals,
        days=(DAY,),
    )
    assert habit_note(given, reconcile(given)) == habit_note(turned, reconcile(turned))
