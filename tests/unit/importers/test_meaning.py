"""Rows → canonical outcomes: kinds, signs, fees, parts, states and ids."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import asked, read, table

from stallkeep_importers.resale_sales import ResaleSales


def test_kinds_by_word_get_the_contracts_signs_in_an_unsigned_file() -> None:
    header = ("Date", "Type", "Amount")
    words = ["Payment", "Refund", "Partial refund", "Fee", "Payout", "Chargeback", "Dispute won"]
    found = read(table([("2025-05-03", word, "10.00") for word in words], header)).transactions
    assert [(each.kind, each.amount_minor, each.detail) for each in found] == [
        ("payment", 1000, None),
        ("refund", -1000, None),
        ("refund", -1000, "partial"),
        ("fee", -1000, None),
        ("payout", 1000, None),
        ("adjustment", -1000, "dispute"),
        ("adjustment", 1000, "dispute_reversed"),
    ]


def test_kinds_of_a_signed_file_keep_its_signs() -> None:
    header = ("Date", "Type", "Amount")
    rows = [("Payment", "10.00"), ("Refund", "-10.00"), ("Fee", "-1.00"), ("Payout", "-9.00")]
    rows += [("Adjustment", "-2.00"), ("Adjustment", "2.00"), ("Fee", "0.50")]
    found = read(table([("2025-05-03", *row) for row in rows], header)).transactions
    assert [(each.kind, each.amount_minor) for each in found] == [
        ("payment", 1000),
        ("refund", -1000),
        ("fee", -100),
        ("payout", 900),
        ("adjustment", -200),
        ("adjustment", 200),
        ("fee", 50),
    ]


def test_a_minus_without_a_word_is_a_refund() -> None:
    found = read(table([("2025-05-03", "10.00", ""), ("2025-05-03", "-4.00", "")])).transactions
    assert [(each.kind, each.amount_minor) for each in found] == [
        ("payment", 1000),
        ("refund", -400),
    ]


def test_a_payment_below_nought_and_a_refund_above_contradict_themselves() -> None:
    header = ("Date", "Type", "Amount")
    rows = [("Payment", "-10.00"), ("Refund", "-5.00"), ("Refund", "5.00")]
    found = read(table([("2025-05-03", *row) for row in rows], header))
    assert found.amounts == [-500]
    assert [each.code for each in found.rejects] == ["sign-contradicts-kind"] * 2


def test_an_unknown_kind_is_rejected() -> None:
    header = ("Date", "Type", "Amount")
    rows = [("2025-05-03", "Payment", "1.00"), ("2025-05-03", "Zorbing", "2.00")]
    found = read(table(rows, header))
    assert [(each.code, each.column, each.value) for each in found.rejects] == [
        ("kind-unknown", "Type", "Zorbing")
    ]


@pytest.mark.parametrize(
    "word",
    ["declined", "Failed", "VOIDED", "pending", "cancelled", "Expired", "abgelehnt", "refusé"],
)
def test_tries_that_came_to_nothing_are_never_payments(word: str) -> None:
    header = ("Date", "Amount", "Status")
    rows = [("2025-05-03", "10.00", "approved"), ("2025-05-03", "10.00", word)]
    found = read(table(rows, header))
    assert found.amounts == [1000]
    assert found.codes == ["header", "not-completed"]


def test_a_failed_try_may_lack_its_amount() -> None:
    header = ("Date", "Amount", "Status")
    found = read(table([("2025-05-03", "10.00", "paid"), ("2025-05-03", "", "declined")], header))
    assert found.codes == ["header", "not-completed"]


def test_an_unknown_state_is_rejected() -> None:
    header = ("Date", "Amount", "Status")
    found = read(table([("2025-05-03", "10.00", "paid"), ("2025-05-03", "2.00", "wobbly")], header))
    assert found.amounts == [1000]
    assert [each.code for each in found.rejects] == ["state-unknown"]


@pytest.mark.parametrize(
    ("fees", "nets"),
    [(["0.30", "0.50"], ["9.70", "19.50"]), (["-0.30", "-0.50"], ["9.70", "19.50"])],
)
def test_a_net_column_shows_how_fees_are_written(fees: list[str], nets: list[str]) -> None:
    header = ("Date", "Amount", "Fee", "Net")
    rows = [("2025-05-03", "10.00", fees[0], nets[0]), ("2025-05-03", "20.00", fees[1], nets[1])]
    assert [each.fee_minor for each in read(table(rows, header)).transactions] == [30, 50]


def test_fees_written_as_minus_are_kept_by_the_provider() -> None:
    header = ("Date", "Amount", "Fee")
    rows = [("2025-05-03", "10.00", "-0.30"), ("2025-05-03", "-10.00", "0.30")]
    assert [each.fee_minor for each in read(table(rows, header)).transactions] == [30, -30]


def test_a_row_whose_net_does_not_add_up_is_rejected() -> None:
    header = ("Date", "Amount", "Fee", "Net")
    rows = [("2025-05-03", "10.00", "0.30", "9.70")] * 9 + [("2025-05-03", "10.00", "0.30", "9.07")]
    found = read(table(rows, header))
    assert len(found.amounts) == 9
    assert [each.code for each in found.rejects] == ["sums-disagree"]


def test_an_amount_after_fees_alone_is_completed_by_the_fee() -> None:
    header = ("Date", "Net amount", "Fee")
    found = read(table([("2025-05-03", "9.70", "0.30")], header)).transactions
    assert [(each.amount_minor, each.fee_minor) for each in found] == [(1000, 30)]


def test_an_amount_after_fees_without_fees_is_a_question() -> None:
    assert asked(table([("2025-05-03", "9.70")], ("Date", "Net amount"))).parameter == "columns"


@pytest.mark.parametrize("part", ["tip", "tax", "surcharge"])
def test_a_part_nobody_places_is_asked_about_once_it_is_there(part: str) -> None:
    header = ("Date", "Amount", part.title())
    assert read(table([("2025-05-03", "10.00", "0.00")], header)).amounts == [1000]
    data = table([("2025-05-03", "10.00", ""), ("2025-05-03", "20.00", "2.00")], header)
    question = asked(data)
    assert question.parameter == f"{part}_is"
    assert read(data, **{f"{part}_is": "within"}).amounts == [1000, 2000]
    on_top = read(data, **{f"{part}_is": "on_top"}).transactions
    assert [each.amount_minor for each in on_top] == [1000, 2200]
    assert getattr(on_top[1], f"{part}_minor") == 200


def test_a_part_far_below_is_asked_about_too() -> None:
    rows = [("2025-05-03", "10.00", "0.00")] * 20_000 + [("2025-05-03", "20.00", "2.00")]
    assert asked(table(rows, ("Date", "Amount", "Tip"))).parameter == "tip_is"


@pytest.mark.parametrize(
    ("header", "row", "paid"),
    [
        (("Date", "Amount", "Tip", "Fee", "Net"), ("10.00", "2.00", "0.30", "11.70"), 1200),
        (("Date", "Amount", "Tip", "Fee", "Net"), ("12.00", "2.00", "0.30", "11.70"), 1200),
        (("Date", "Amount", "Tip", "Total"), ("10.00", "2.00", "12.00"), 1200),
        (("Date", "Total paid", "Tip"), ("12.00", "2.00"), 1200),
        (("Date", "Amount before tip", "Tip"), ("10.00", "2.00"), 1200),
        (("Date", "Gross", "Tax"), ("11.90", "1.90"), 1190),
        (("Date", "Net sales", "Tax"), ("10.00", "1.90"), 1190),
        (("Date", "Subtotal", "Tip", "Tax", "Total"), ("10.00", "2.00", "1.90", "13.90"), 1390),
    ],
)
def test_the_files_own_arithmetic_or_its_words_place_the_parts(
    header: tuple[str, ...], row: tuple[str, ...], paid: int
) -> None:
    rows = [("2025-05-03", *row)] * 3
    assert read(table(rows, header)).amounts == [paid] * 3


def test_parts_are_signed_like_their_amount() -> None:
    header = ("Date", "Type", "Total", "Tip", "Tax")
    rows = [("2025-05-03", "Payment", "12.00", "2.00", "1.60")]
    rows += [("2025-05-03", "Refund", "12.00", "2.00", "1.60")]
    found = read(table(rows, header)).transactions
    assert [(each.amount_minor, each.tip_minor, each.tax_minor) for each in found] == [
        (1200, 200, 160),
        (-1200, -200, -160),
    ]


def test_a_sale_is_price_and_postage() -> None:
    header = ("Sold on", "Title", "Price", "Postage")
    found = read(table([("2025-05-03", "cup", "8.00", "3.95")], header), ResaleSales())
    assert [(each.amount_minor, each.postage_minor) for each in found.transactions] == [(1195, 395)]


def test_a_sale_is_the_order_total_where_there_is_one() -> None:
    header = ("Sold on", "Title", "Price", "Postage", "Order total")
    found = read(table([("2025-05-03", "cup", "8.00", "3.95", "11.95")], header), ResaleSales())
    assert found.amounts == [1195]


def test_a_sale_that_contradicts_its_total_is_rejected() -> None:
    header = ("Sold on", "Title", "Price", "Postage", "Order total")
    rows = [("2025-05-03", "cup", "8.00", "3.95", "11.95")] * 8
    rows += [("2025-05-03", "rug", "8.00", "3.95", "19.95")]
    found = read(table(rows, header), ResaleSales())
    assert len(found.amounts) == 8
    assert [each.code for each in found.rejects] == ["sums-disagree"]


def test_a_price_of_several_pieces_is_not_guessed() -> None:
    header = ("Sold on", "Title", "Price", "Quantity")
    rows = [("2025-05-03", "cup", "8.00", "1"), ("2025-05-03", "cups", "8.00", "3")]
    found = read(table(rows, header), ResaleSales())
    assert found.amounts == [800]
    assert [each.code for each in found.rejects] == ["price-of-several"]


def test_a_total_settles_the_price_of_several_pieces() -> None:
    header = ("Sold on", "Title", "Price", "Quantity", "Total")
    found = read(table([("2025-05-03", "cups", "8.00", "3", "24.00")], header), ResaleSales())
    assert [(each.amount_minor, each.quantity) for each in found.transactions] == [(2400, 3)]


def test_what_a_payments_own_row_says_was_given_back_is_kept_beside_it() -> None:
    header = ("Date", "Amount", "Refunded", "Status")
    rows = [("10.00", "0.00", "paid"), ("20.00", "5.00", "partially refunded")]
    rows += [("30.00", "30.00", "refunded")]
    found = read(table([("2025-05-03", *row) for row in rows], header)).transactions
    assert [(each.amount_minor, each.refunded_minor, each.detail) for each in found] == [
        (1000, None, None),
        (2000, 500, "partly_refunded"),
        (3000, 3000, "refunded"),
    ]


def test_a_refund_with_a_row_of_its_own_is_not_counted_twice() -> None:
    header = ("Date", "Type", "Amount", "Refunded")
    rows = [("2025-05-03", "Payment", "20.00", "5.00"), ("2025-05-04", "Refund", "5.00", "")]
    found = read(table(rows, header)).transactions
    assert [(each.amount_minor, each.refunded_minor) for each in found] == [
        (2000, None),
        (-500, None),
    ]


def test_a_state_that_says_refunded_counts_where_there_is_no_refund_row() -> None:
    header = ("Date", "Amount", "Status")
    found = read(table([("2025-05-03", "20.00", "refunded")], header)).transactions
    assert [(each.refunded_minor, each.detail) for each in found] == [(2000, "refunded")]


def test_a_part_refund_of_unknown_size_is_said() -> None:
    header = ("Date", "Amount", "Status")
    found = read(table([("2025-05-03", "20.00", "partially refunded")], header))
    assert [notice.code for notice in found.notices] == ["refund-unknown"]


def test_ids_are_kept_exactly_as_given() -> None:
    header = ("Date", "Amount", "Transaction ID", "Original transaction")
    ids = ["00123", " 7-a ", "TX/9", "=1+1", "+49"]
    rows = [("2025-05-03", "1.00", each, "") for each in ids]
    found = read(table(rows, header)).transactions
    assert [each.external_id for each in found] == ids


def test_ids_a_spreadsheet_damaged_are_not_taken_and_said() -> None:
    header = ("Date", "Amount", "Transaction ID")
    rows = [("2025-05-03", "1.00", "1.23457E+17"), ("2025-05-03", "2.00", "987")]
    found = read(table(rows, header))
    assert [each.external_id for each in found.transactions] == [None, "987"]
    assert [notice.code for notice in found.notices] == ["damaged-ids"]
    rows = [
        ("2025-05-03", "1.00", "123456789012345000"),
        ("2025-05-03", "2.00", "123456789012346000"),
    ]
    found = read(table(rows, header))
    assert [each.external_id for each in found.transactions] == [None, None]


def test_equal_rows_without_ids_are_both_there() -> None:
    assert read(table([("2025-05-03", "1.00", "a")] * 2)).amounts == [100, 100]


def test_instalments_are_marked() -> None:
    header = ("Date", "Amount", "Instalment")
    found = read(table([("2025-05-03", "1.00", "2/3"), ("2025-05-03", "1.00", "")], header))
    assert [each.detail for each in found.transactions] == ["instalment", None]


def test_columns_that_are_not_used_are_kept_as_text() -> None:
    header = ("Date", "Amount", "Weather", "Terminal serial")
    found = read(table([("2025-05-03", "1.00", "rain", "")], header)).transactions
    assert found[0].more == {"Weather": "rain"}


def test_cells_a_spreadsheet_would_run_are_data() -> None:
    rows = [("2025-05-03", "1.00", text) for text in ("=1+1", "+1", "-1", "@x", "\t=x")]
    found = read(table(rows, delimiter=";")).transactions
    assert [each.note for each in found] == ["=1+1", "+1", "-1", "@x", "\t=x"]


def test_the_method_is_a_card_unless_the_file_says_otherwise() -> None:
    header = ("Date", "Amount", "Payment method")
    words = ["contactless", "cash", "payment link", ""]
    found = read(table([("2025-05-03", "1.00", word) for word in words], header)).transactions
    assert [each.method for each in found] == ["card", "cash", "online", "card"]


def test_two_columns_that_claim_one_amount_and_differ_are_a_question() -> None:
    header = ("Date", "Amount", "Payment")
    assert asked(table([("2025-05-03", "1.00", "2.00")], header)).parameter == "columns"
    data = table([("2025-05-03", "1.00", "2.00")], header)
    assert read(data, columns={"amount": "Payment"}).amounts == [200]


def test_a_part_of_the_file_is_read_alike_with_what_the_whole_settled() -> None:
    header = ("Date", "Amount", "Tip", "Fee", "Net")
    rows = [("03/05/2025", "10,00", "2,00", "-0,30", "11,70")] * 3
    rows += [("13/05/2025", "1.000,00", "0,00", "-9,00", "991,00")]
    whole = read(table(rows, header, ";"))
    assert whole.layout.settled == {
        "date_order": "dmy",
        "decimal_mark": ",",
        "fees_are": "minus",
        "file_currency": "EUR",
        "tip_is": "on_top",
    }
    one = table([("04/05/2025", "1.000", "2,00", "-0,30", "")], header, ";")
    found = read(one, **whole.layout.settled).transactions[0]
    assert (found.amount_minor, found.fee_minor) == (100200, 30)


def test_fees_written_as_minus_are_no_refund_rows() -> None:
    header = ("Date", "Amount", "Fee", "Refunded")
    found = read(table([("2025-05-03", "20.00", "-0.40", "5.00")], header)).transactions
    assert [(each.fee_minor, each.refunded_minor) for each in found] == [(40, 500)]


def test_a_refund_row_far_below_keeps_refunds_from_being_counted_twice() -> None:
    header = ("Date", "Amount", "Refunded")
    rows = [("2025-05-03", "20.00", "5.00"), *([("2025-05-03", "20.00", "")] * 20_000)]
    whole = read(table(rows, header)).transactions
    assert whole[0].refunded_minor == 500
    found = read(table([*rows, ("2025-05-04", "-5.00", "")], header)).transactions
    assert [each.refunded_minor for each in found if each.refunded_minor] == []
    assert found[-1].kind == "refund"


def test_refunds_marked_far_below_only_are_said_and_not_guessed() -> None:
    header = ("Date", "Amount", "Status")
    rows = [("2025-05-03", "20.00", "paid")] * 20_000 + [("2025-05-03", "20.00", "refunded")]
    found = read(table(rows, header))
    assert (found.transactions[-1].detail, found.transactions[-1].refunded_minor) == (
        "refunded",
        None,
    )
    assert [notice.code for notice in found.notices] == ["refund-unknown"]
