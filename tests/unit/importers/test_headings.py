"""What headings say, and what they must not be taken to say."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import asked, read, table

from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.tables.headings import heading


def fields_of(headings: tuple[str, ...], cells: tuple[str, ...]) -> dict[str, str | None]:
    """Read one row of payments under a date and more headings; give what each was taken for."""
    found = read(table([("2025-05-03", *cells)] * 3, ("Date", *headings), ";"))
    return {column.header: column.field for column in found.layout.columns[1:]}


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("Amount (EUR)", "amount"),
        ("Betrag (brutto)", "total"),
        ("Betrag brutto", "total"),
        ("Umsatz netto", "subtotal"),
        ("Betrag exkl. Trinkgeld", "subtotal"),
        ("Gesamtbetrag inkl. MwSt.", "total"),
        ("Total (incl. shipping)", "total"),
        ("Montant TTC (EUR)", "total"),
        ("Amount [local]", "amount"),
    ],
)
def test_qualifiers_tell_amounts_apart(text: str, field: str) -> None:
    assert fields_of((text,), ("1.50",)) == {text: field}


@pytest.mark.parametrize("text", ["Betrag (netto)", "Amount (net)", "Net amount"])
def test_an_amount_after_fees_is_never_taken_for_what_was_paid(text: str) -> None:
    assert asked(table([("2025-05-03", "1.50")], ("Date", text))).parameter == "columns"


def test_a_price_with_postage_is_the_whole() -> None:
    header = ("Verkauft am", "Titel", "Preis inkl. Versand", "Versand")
    found = read(table([("03.05.2025", "Tasse", "12,00", "4,00")], header, ";"), ResaleSales())
    assert [(each.amount_minor, each.postage_minor) for each in found.transactions] == [(1200, 400)]


@pytest.mark.parametrize("text", ["Terminal ID", "Tracking number", "Order country", "Till number"])
def test_a_heading_that_is_half_known_is_not_used(text: str) -> None:
    found = read(table([("2025-05-03", "1.50", "T1")] * 3, ("Date", "Amount", text)))
    assert [each.external_id for each in found.transactions] == [None] * 3
    assert found.transactions[0].more == {text: "T1"}


def test_codes_of_a_column_nobody_knows_are_no_tag_codes() -> None:
    rows = [("2025-05-03", "1.50", f"T{number}X") for number in range(9)]
    found = read(table(rows, ("Date", "Amount", "Blorp"))).transactions
    assert found[0].tag_code is None


@pytest.mark.parametrize("ids", [["1", "2", "3", "4"], ["4", "3", "2", "1"]])
def test_a_count_of_the_rows_is_no_id(ids: list[str]) -> None:
    rows = [("2025-05-03", "1.50", each) for each in ids]
    found = read(table(rows, ("Date", "Amount", "Receipt")))
    assert [each.external_id for each in found.transactions] == [None] * 4
    assert any("counts the rows" in text for text in found.layout.notices)


def test_a_reference_that_repeats_is_no_id() -> None:
    rows = [("2025-05-03", f"{number}.50", "Harbour fair") for number in range(9)]
    found = read(table(rows, ("Date", "Amount", "Reference")))
    assert {each.external_id for each in found.transactions} == {None}
    assert any("repeat" in text for text in found.layout.notices)


def test_a_payment_and_its_refund_may_share_an_id() -> None:
    header = ("Date", "Type", "Amount", "ID")
    rows = [
        ("2025-05-03", kind, "1.50", f"T{n}") for n in range(5) for kind in ("Payment", "Refund")
    ]
    found = read(table(rows, header)).transactions
    assert found[0].external_id == found[1].external_id == "T0"


def test_a_person_can_say_that_a_column_is_the_id_after_all() -> None:
    rows = [("2025-05-03", "1.50", each) for each in "123"]
    found = read(table(rows, ("Date", "Amount", "Receipt")), columns={"external_id": "Receipt"})
    assert [each.external_id for each in found.transactions] == ["1", "2", "3"]


@pytest.mark.parametrize("text", ["Tax %", "VAT rate", "Fee (%)"])
def test_percentages_are_no_amounts(text: str) -> None:
    found = fields_of(("Amount", text), ("1.50", "19.00"))
    assert found[text] in ("rate", None)


def test_amounts_that_are_not_used_are_said() -> None:
    rows = [("2025-05-03", "1.50", "4.90")]
    found = read(table(rows, ("Date", "Amount", "Blorp")))
    assert any("Blorp" in text for text in found.layout.notices)


@pytest.mark.parametrize(
    "text",
    [
        "Name on card",
        "Buyer's name",
        "Kontakt E-Mail",
        "Lieferadresse Ort",
        "Last4",
        "Customer phone no.",
    ],
)
def test_personal_headings_are_known_within_longer_ones(text: str) -> None:
    found = read(table([("2025-05-03", "1.50", "Ona")], ("Date", "Amount", text)))
    assert "Ona" not in repr(found.outcomes)


def test_what_a_buyer_paid_is_no_personal_data() -> None:
    found = read(table([("2025-05-03", "1.50", "x")], ("Date", "Amount paid by buyer", "Note")))
    assert found.amounts == [150]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Order #", "order number"),
        ("Item № ", "item number"),
        ("#", ""),
        ("", ""),
        ("Amount\n(EUR)", "amount"),
    ],
)
def test_the_sign_for_number_is_read_beside_a_word(text: str, expected: str) -> None:
    assert heading(text).plain == expected


def test_the_question_for_columns_is_plain_and_shows_how_to_answer_with_the_files_own() -> None:
    question = asked("Foo,Fie,Baz\nx,2025-05-03,1.50\ny,2025-05-04,2.50\n")
    assert "which column is the amount." in question.detail
    assert "net+fee" not in question.detail
    assert question.advice.endswith("such as amount=Baz or amount=#3.")


def test_the_example_of_an_answer_is_a_column_whose_heading_says_it() -> None:
    question = asked("Day,Ref,Amount\n2025-05-03,4,free\n2025-05-04,5,gift\n")
    assert question.advice.endswith("such as amount=Amount or amount=#3.")
