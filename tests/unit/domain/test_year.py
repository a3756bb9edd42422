"""A shop's year, its stock at a date, and tables that run nothing."""

from __future__ import annotations

import csv
import datetime as dt
import io

import pytest

from stallkeep.domain.safe_csv import csv_text, safe_cell
from stallkeep.domain.stock import StockItem, stock_on_hand
from stallkeep.domain.year import YearRow, year_totals

MAY, JUNE = dt.date(2026, 5, 2), dt.date(2026, 6, 7)


def a_row(
    account: str, amount_minor: int, *, day: dt.date = MAY, channel: str = "stall",
    event: str = "Harbour fair", pieces: int = 0,
) -> YearRow:  # fmt: skip
    return YearRow(
        day=day, channel=channel, event=event, account=account, amount_minor=amount_minor,
        pieces=pieces,
    )  # fmt: skip


ROWS = (
    a_row("takings", 400_00, pieces=10),
    a_row("refunds", -40_00),
    a_row("tax", -60_00),
    a_row("cost_of_goods", -90_00),
    a_row("fees", -10_00),
    a_row("pitch_fee", -80_00),
    a_row("travel", -30_00),
    a_row("over_short", -1_00),
    a_row("takings", 100_00, day=JUNE, channel="online", event="", pieces=2),
    a_row("fees", -12_00, day=JUNE, channel="online", event=""),
    a_row("postage", -5_00, day=JUNE, channel="online", event=""),
    a_row("travel", -7_00, day=JUNE, channel="", event=""),
    a_row("takings", 999_00, day=dt.date(2025, 12, 31)),
)


def test_a_year_is_the_sum_of_its_rows_and_other_years_are_left_out() -> None:
    whole = year_totals(ROWS, 2026).whole
    assert (whole.takings_minor, whole.pieces) == (500_00, 12)
    assert whole.costs_minor == -(80_00 + 30_00 + 7_00)
    # 400 - 40 - 60 - 90 - 10 - 80 - 30 - 1 = 89; 100 - 12 - 5 - 7 = 76.
    assert whole.net_minor == 165_00


def test_months_channels_and_events_each_sum_to_the_whole() -> None:
    totals = year_totals(ROWS, 2026)
    assert totals.adds_up
    assert [month.name for month in totals.months[:2]] == ["2026-01", "2026-02"]
    assert len(totals.months) == 12
    assert [(m.name, m.net_minor) for m in totals.months if m.net_minor] == [
        ("2026-05", 89_00),
        ("2026-06", 76_00),
    ]
    assert [(c.name, c.net_minor) for c in totals.channels] == [
        ("", -7_00),
        ("online", 83_00),
        ("stall", 89_00),
    ]
    assert [(e.name, e.net_minor) for e in totals.events] == [("", 76_00), ("Harbour fair", 89_00)]


def test_costs_stand_per_kind_as_plus_amounts() -> None:
    totals = year_totals(ROWS, 2026)
    assert [(cost.kind, cost.amount_minor) for cost in totals.costs] == [
        ("pitch_fee", 80_00),
        ("travel", 37_00),
    ]
    assert "not tax, legal or accounting advice" in totals.caution


def test_a_year_without_rows_has_twelve_empty_months() -> None:
    totals = year_totals((), 2026)
    assert totals.whole.net_minor == 0
    assert len(totals.months) == 12
    assert (totals.channels, totals.events, totals.costs) == ((), (), ())
    assert totals.adds_up


def test_stock_on_hand_at_a_date_is_at_its_own_cost() -> None:
    # OpenStax Principles of Accounting Vol. 1, inventory (m67890), specific identification: of
    # 150 at 21, 225 at 27 and 210 at 33, sold 140 of the first and 160 of the second: stock 8,895.
    july = dt.date(2026, 7, 1)
    lots = [
        StockItem(item_id="a", acquired_on=MAY, quantity=150, cost_minor=21, gone=((JUNE, 140),)),
        StockItem(item_id="b", acquired_on=MAY, quantity=225, cost_minor=27, gone=((JUNE, 160),)),
        StockItem(item_id="c", acquired_on=JUNE, quantity=210, cost_minor=33),
    ]
    assert stock_on_hand(lots, july).cost_minor == 8895
    assert stock_on_hand(lots, july).pieces == 285
    before = stock_on_hand(lots, dt.date(2026, 6, 6))
    assert before.cost_minor == 150 * 21 + 225 * 27
    assert stock_on_hand(lots, dt.date(2026, 5, 1)).pieces == 0


def test_stock_stands_per_category_and_says_what_has_no_cost() -> None:
    items = [
        StockItem(item_id="a", acquired_on=None, quantity=1, cost_minor=None, category="coats"),
        StockItem(
            item_id="b", acquired_on=MAY, quantity=3, cost_minor=4_00, category="ceramics",
            gone=((MAY, 2), (JUNE, -1)),
        ),
        StockItem(item_id="c", acquired_on=MAY, quantity=1, cost_minor=9_00, gone=((MAY, 1),)),
        StockItem(item_id="d", acquired_on=MAY, quantity=1, cost_minor=2_00),
    ]  # fmt: skip
    stock = stock_on_hand(items, JUNE)
    assert [(s.category, s.pieces, s.cost_minor, s.without_cost) for s in stock.categories] == [
        ("ceramics", 2, 8_00, 0),
        ("coats", 1, 0, 1),
        (None, 1, 2_00, 0),
    ]
    assert (stock.pieces, stock.cost_minor, stock.without_cost) == (4, 10_00, 1)
    assert stock_on_hand(items, MAY).categories[0].pieces == 1


@pytest.mark.parametrize(
    ("cell", "safe"),
    [
        ("=1+1", "'=1+1"),
        ("+49 123", "'+49 123"),
        ("-cmd", "'-cmd"),
        ("@name", "'@name"),
        ("\tx", "'\tx"),
        ("\rx", "'\rx"),
        ("\uff1d1", "'\uff1d1"),
        ("-12.50", "-12.50"),
        ("-12.50+1", "'-12.50+1"),
        ("12.50", "12.50"),
        ("coat = blue", "coat = blue"),
        ("", ""),
    ],
)
def test_a_cell_that_a_spreadsheet_would_run_is_made_harmless(cell: str, safe: str) -> None:
    assert safe_cell(cell) == safe


def test_a_table_comes_back_as_it_was_written() -> None:
    rows = [["coat, blue", 'say "hello"', "two\r\nlines"], ["", "-1.00", "=x"]]
    text = csv_text(["title", "note", "more"], rows)
    assert text.startswith("title,note,more\r\n")
    assert text.endswith("\r\n")
    read = list(csv.reader(io.StringIO(text, newline="")))
    assert read == [["title", "note", "more"], rows[0], ["", "-1.00", "'=x"]]
