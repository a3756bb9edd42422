"""The truth beside the exports names real records and real pieces, and contradicts neither."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from typing import Any

import pytest
from demo.exports_cards import OLD_PAYMENTS, PAYMENTS
from demo.exports_channels import LUMPELIO_LISTINGS, SHELVORRA_LISTINGS
from demo.exports_paper import COUNT, OLD_TALLY, STUBS, TALLY
from demo.words import FAIR, LUMPELIO, SHELVORRA
from tests.unit.demo.demo_reading import SETUP, TRUTH, cell, cents, euros, event, records, stock

from stallkeep.domain.tag_codes import is_valid, normalise

AMOUNTS = {PAYMENTS: "Total paid", TALLY: "Cash taken", OLD_PAYMENTS: "Betrag", OLD_TALLY: "Cash"}
FRIDAY = "2026-09-11"


def _payments() -> list[dict[str, Any]]:
    both: list[dict[str, Any]] = [*TRUTH["payments"], *TRUTH["earlier_payments"]]
    return both


def _of(what: str) -> list[dict[str, Any]]:
    return [entry for entry in TRUTH["payments"] if entry["what"] == what]


def _when(entry: dict[str, Any]) -> str:
    if entry["file"] == PAYMENTS:
        return cell(PAYMENTS, entry["record"], "Sold at").replace(" ", "T")
    day, time = (cell(TALLY, entry["record"], column) for column in ("Day", "Time"))
    return f"{day}T{time}"


def test_every_tag_code_is_valid_and_there_once() -> None:
    codes = [piece["tag_code"] for piece in [*SETUP["pieces"], *SETUP["purchases"]]]
    assert all(is_valid(code) and code == normalise(code) for code in codes)
    assert len(codes) == len(set(codes)) == 190


def test_every_code_named_anywhere_is_in_stock() -> None:
    named = {code for entry in _payments() for code in entry["pieces"]}
    named |= {order["tag_code"] for order in TRUTH["orders"]}
    named |= {entry["tag_code"] for each in SETUP["events"] for entry in each["rail"]}
    assert named <= set(stock())


def test_the_listings_bring_exactly_the_pieces_with_a_purchase() -> None:
    listed = {normalise(row[0]) for row in records(LUMPELIO_LISTINGS)[1:-1]}
    listed |= {row[5] for row in records(SHELVORRA_LISTINGS)[1:-1]}
    assert listed == {piece["tag_code"] for piece in SETUP["purchases"]}


def test_each_payment_stands_in_its_record() -> None:
    for entry in _payments():
        assert euros(cell(entry["file"], entry["record"], AMOUNTS[entry["file"]])) == euros(
            entry["amount"]
        )
        if entry["file"] == PAYMENTS:
            number = cell(PAYMENTS, entry["record"], "Payment number")
            assert number == entry["external_id"]


def test_what_the_pieces_brought_is_what_was_paid_less_the_tip() -> None:
    for entry in [*_of("sale"), *TRUTH["forgotten_sales"]]:
        assert sum(map(cents, entry["pieces"].values())) == cents(entry["amount"]) - cents(
            entry["tip"]
        )


def test_no_sale_goes_below_the_floor_prices() -> None:
    for entry in _of("sale"):
        floor = sum(cents(stock()[code]["floor"]) for code in entry["pieces"])
        assert cents(entry["amount"]) - cents(entry["tip"]) >= floor


def test_each_piece_is_sold_once_at_most() -> None:
    sold = [*_of("sale"), *TRUTH["earlier_payments"], *TRUTH["forgotten_sales"]]
    counts = Counter(code for entry in sold for code in entry["pieces"])
    counts.update(order["tag_code"] for order in TRUTH["orders"])
    assert [code for code, count in counts.items() if count > 1] == TRUTH["sold_twice"]


def test_sold_pieces_had_been_put_out() -> None:
    put_out = {entry["tag_code"]: entry["put_out_at"] for entry in event(FAIR)["rail"]}
    for entry in _of("sale"):
        assert all(put_out[code] <= _when(entry) for code in entry["pieces"])


def test_the_fair_holds_what_the_demo_promises() -> None:
    sales = _of("sale")
    assert 40 <= len(sales) + len(_of("untagged")) + len(_of("not_a_sale")) <= 60
    assert {e["method"] for e in sales} == {"card", "cash"}
    assert len(_of("declined")) == len(_of("refund")) == len(_of("untagged")) == 1
    assert len(_of("not_a_sale")) == len(TRUTH["forgotten_sales"]) == 1
    assert {len(e["pieces"]) for e in sales} == {1, 2, 3}
    assert len([e for e in sales if euros(e["tip"])]) == 2
    assert len(event(FAIR)["rail"]) == 90


def test_the_declined_try_comes_shortly_before_the_same_amount() -> None:
    (declined,) = _of("declined")
    after = next(e for e in _of("sale") if e["record"] > declined["record"])
    gap = dt.datetime.fromisoformat(_when(after)) - dt.datetime.fromisoformat(_when(declined))
    assert after["amount"] == declined["amount"]
    assert gap < dt.timedelta(minutes=1)


def test_the_refund_names_its_payment_and_its_piece_came_home() -> None:
    (refund,) = _of("refund")
    payment = next(e for e in _of("sale") if e.get("external_id") == refund["refund_of"])
    assert cell(PAYMENTS, refund["record"], "Refund of") == refund["refund_of"]
    assert euros(refund["amount"]) == -euros(payment["amount"])
    assert set(payment["pieces"]) <= set(TRUTH["home"])


def test_home_is_the_rail_less_what_went() -> None:
    gone = {code for e in [*_of("sale"), *TRUTH["forgotten_sales"]] for code in e["pieces"]}
    gone -= {code for e in _of("refund") for code in e["pieces"]}
    gone |= set(TRUTH["sold_online_from_the_rail"])
    rail = {entry["tag_code"] for entry in event(FAIR)["rail"]}
    assert set(TRUTH["home"]) == rail - gone


def test_the_count_lists_home_but_for_its_slips() -> None:
    counted = {normalise(row[1]) for row in records(COUNT)[1:-1]}
    slips = TRUTH["count_slips"]
    misread = {written for written in slips.values() if written}
    assert counted == (set(TRUTH["home"]) - set(slips)) | misread
    assert not any(is_valid(code) for code in misread)


def test_the_stubs_are_fridays_pieces_in_order() -> None:
    friday = sorted((_when(e), list(e["pieces"])) for e in _of("sale") if _when(e) < "2026-09-12")
    codes = [code for _, pieces in friday for code in pieces]
    kept = [normalise(row[1]) for row in records(STUBS)[1:]]
    assert kept == codes
    assert {row[0] for row in records(STUBS)[1:]} == {FRIDAY}


@pytest.mark.parametrize("name", [file["name"] for file in SETUP["files"]])
def test_expected_counts_cover_every_record(name: str) -> None:
    counts = TRUTH["files"][name]
    parts = ("taken", "known", "rejected", "skipped")
    assert counts["rows_read"] == len(records(name)) == sum(counts[part] for part in parts)
    assert counts["rejected"] == len(counts["faults"])
    for fault in counts["faults"]:
        assert cell(name, fault["record"], fault["column"]) == fault["value"]


def test_every_kind_of_file_has_a_row_to_reject() -> None:
    rejecting = {f["importer"] for f in SETUP["files"] if TRUTH["files"][f["name"]]["rejected"]}
    assert rejecting == {f["importer"] for f in SETUP["files"]}


def test_the_second_exports_overlap_and_one_order_has_changed() -> None:
    for channel, column in ((LUMPELIO, "Bestellnummer"), (SHELVORRA, "Order")):
        first, second = (
            _rows_by(f["name"], column)
            for f in SETUP["files"]
            if f["channel"] == channel and f["importer"] == "resale-sales"
        )
        both = first.keys() & second.keys()
        changed = [number for number in both if first[number] != second[number]]
        assert both
        assert len(changed) == (1 if channel == LUMPELIO else 0)


def _rows_by(name: str, column: str) -> dict[str, list[str]]:
    header, *rows = records(name)
    return {row[header.index(column)]: row for row in rows}


def test_take_downs_are_live_listings_of_pieces_that_went() -> None:
    gone = {code for e in [*_of("sale"), *TRUTH["forgotten_sales"]] for code in e["pieces"]}
    gone = (gone | {order["tag_code"] for order in TRUTH["orders"]}) - set(TRUTH["home"])
    live = {(LUMPELIO, row[5]): normalise(row[0]) for row in _live(LUMPELIO_LISTINGS, "aktiv")}
    live |= {(SHELVORRA, row[0]): row[5] for row in _live(SHELVORRA_LISTINGS, "live")}
    sold_here = {(order["channel"], order["tag_code"]) for order in TRUTH["orders"]}
    expected = {
        place for place, code in live.items() if code in gone and (place[0], code) not in sold_here
    }
    assert {(each["channel"], each["reference"]) for each in TRUTH["take_downs"]} == expected
    assert len(expected) > 10


def _live(name: str, word: str) -> list[list[str]]:
    return [row for row in records(name)[1:-1] if word in row]
