"""Exports with a row per piece: no total is counted twice, every line has an id of its own."""

from __future__ import annotations

from tests.unit.importers.reading import read, table

from stallkeep_importers.resale_sales import ResaleSales

HEADER = ("Order number", "Sold on", "Item number", "Item title", "Item price", "Order total")


def facts(data: str) -> list[tuple[str | None, int, int | None, int | None]]:
    found = read(data, ResaleSales()).transactions
    return [
        (each.external_id, each.amount_minor, each.fee_minor, each.postage_minor) for each in found
    ]


def test_an_order_total_on_every_line_is_counted_once() -> None:
    rows = [("O1", "2025-05-03", "I1", "Cup", "8.00", "20.00")]
    rows += [("O1", "2025-05-03", "I2", "Rug", "12.00", "20.00")]
    rows += [("O2", "2025-05-03", "I3", "Hat", "5.00", "5.00")]
    assert facts(table(rows, HEADER)) == [
        ("O1 / I1", 800, None, None),
        ("O1 / I2", 1200, None, None),
        ("O2", 500, None, None),
    ]


def test_postage_and_fee_of_the_order_are_counted_once() -> None:
    header = (*HEADER, "Postage", "Selling fee")
    rows = [("O1", "2025-05-03", "I1", "Cup", "8.00", "24.00", "4.00", "2.00")]
    rows += [("O1", "2025-05-03", "I2", "Rug", "12.00", "24.00", "4.00", "2.00")]
    assert facts(table(rows, header)) == [
        ("O1 / I1", 1200, 200, 400),
        ("O1 / I2", 1200, None, None),
    ]


def test_a_total_that_the_lines_do_not_explain_is_rejected() -> None:
    rows = [("O1", "2025-05-03", "I1", "Cup", "8.00", "21.00")]
    rows += [("O1", "2025-05-03", "I2", "Rug", "12.00", "21.00")]
    found = read(table(rows, HEADER), ResaleSales())
    assert [each.code for each in found.rejects] == ["total-of-several"] * 2


def test_an_equal_total_without_prices_is_rejected() -> None:
    header = ("Order number", "Sold on", "Item title", "Order total")
    rows = [("O1", "2025-05-03", "Cup", "8.00"), ("O1", "2025-05-03", "Rug", "8.00")]
    found = read(table(rows, header), ResaleSales())
    assert [each.code for each in found.rejects] == ["total-of-several"] * 2


def test_totals_that_differ_by_line_are_each_lines_own() -> None:
    header = ("Order number", "Sold on", "Item title", "Total")
    rows = [("O1", "2025-05-03", "Cup", "8.00"), ("O1", "2025-05-03", "Rug", "9.00")]
    assert facts(table(rows, header)) == [
        ("O1 / Cup", 800, None, None),
        ("O1 / Rug", 900, None, None),
    ]


def test_prices_by_line_with_postage_on_one_of_them_are_taken() -> None:
    header = ("Order number", "Sold on", "Item title", "Item price", "Postage")
    rows = [("O1", "2025-05-03", "Cup", "8.00", "4.00"), ("O1", "2025-05-03", "Rug", "9.00", "")]
    assert facts(table(rows, header)) == [
        ("O1 / Cup", 1200, None, 400),
        ("O1 / Rug", 900, None, None),
    ]


def test_postage_on_top_of_every_line_is_not_guessed() -> None:
    header = ("Order number", "Sold on", "Item title", "Item price", "Postage")
    rows = [
        ("O1", "2025-05-03", "Cup", "8.00", "4.00"),
        ("O1", "2025-05-03", "Rug", "9.00", "4.00"),
    ]
    found = read(table(rows, header), ResaleSales())
    assert [each.code for each in found.rejects] == ["total-of-several"] * 2


def test_the_same_row_twice_keeps_its_id() -> None:
    rows = [("O1", "2025-05-03", "I1", "Cup", "8.00", "8.00")] * 2
    assert [each[0] for each in facts(table(rows, HEADER))] == ["O1", "O1"]


def test_an_order_is_never_parted_between_batches() -> None:
    rows = [
        (f"O{number // 3}", "2025-05-03", f"I{number}", "x", "1.00", "3.00")
        for number in range(9000)
    ]
    found = read(table(rows, HEADER), ResaleSales())
    assert not found.rejects
    assert found.amounts == [100] * 9000
    assert len({each.external_id for each in found.transactions}) == 9000


def test_a_discount_on_a_bare_price_is_not_guessed() -> None:
    header = ("Sold on", "Item title", "Item price", "Discount")
    rows = [("2025-05-03", "Cup", "8.00", "1.00"), ("2025-05-03", "Rug", "9.00", "")]
    found = read(table(rows, header), ResaleSales())
    assert found.amounts == [900]
    assert [each.code for each in found.rejects] == ["price-or-discount"]
