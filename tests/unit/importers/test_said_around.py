"""What headings, and lines above them, say about every row."""

from __future__ import annotations

import pytest
from tests.unit.importers.reading import BERLIN, asked, read, table

from stallkeep_importers.cash_tally import CashTally
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales

MOMENT = [("2025-05-03 22:30", "1.50", "x")]


@pytest.mark.parametrize(
    "heading", ["Date (UTC)", "Date UTC", "Created at (GMT)", "Datum [UTC]", "Date in UTC"]
)
def test_a_heading_that_names_utc_is_believed(heading: str) -> None:
    found = read(table(MOMENT, (heading, "Amount", "Note")), **BERLIN)
    taken = found.transactions[0]
    assert str(taken.occurred_at) == "2025-05-03 22:30:00+00:00"
    assert str(taken.occurred_on) == "2025-05-04"
    assert any("UTC" in text or "GMT" in text for text in found.layout.notices)


@pytest.mark.parametrize("heading", ["Date (Europe/London)", "Date (UTC+1)", "Date (+01:00)"])
def test_a_heading_may_name_another_zone(heading: str) -> None:
    found = read(table(MOMENT, (heading, "Amount", "Note")), **BERLIN).transactions
    assert str(found[0].occurred_at) == "2025-05-03 22:30:00+01:00"


@pytest.mark.parametrize(
    "above", ["All times in UTC\n", "Time zone: UTC,,\n", "Zeitzone,UTC,\n", "Times are UTC,\n"]
)
def test_a_line_above_that_names_the_zone_is_believed(above: str) -> None:
    found = read(above + table(MOMENT), **BERLIN).transactions
    assert str(found[0].occurred_at) == "2025-05-03 22:30:00+00:00"


@pytest.mark.parametrize(
    "above", ["Printed 2025-06-01 06:00 UTC\n", "UTC Ltd,,\n", "Europe/Berlin\n"]
)
def test_a_line_above_that_speaks_of_something_else_is_not(above: str) -> None:
    found = read(above + table(MOMENT), **BERLIN).transactions
    assert str(found[0].occurred_at) == "2025-05-03 22:30:00+02:00"


def test_a_cells_own_offset_goes_before_the_headings() -> None:
    rows = [("2025-05-03 22:30 +03:00", "1.50", "x")]
    found = read(table(rows, ("Date (UTC)", "Amount", "Note")), **BERLIN).transactions
    assert str(found[0].occurred_at) == "2025-05-03 22:30:00+03:00"


@pytest.mark.parametrize(
    "above", ["Currency: USD\n", "Währung;USD\n", "All amounts in USD\n", "Devise,USD,\n"]
)
def test_a_line_above_that_names_the_currency_is_believed(above: str) -> None:
    found = read(above + table(MOMENT))
    assert [each.currency for each in found.transactions] == ["USD"]
    assert "The amounts are in USD." in found.layout.notices


@pytest.mark.parametrize("above", ["Sold in ALL markets\n", "May USD special\n"])
def test_three_capitals_alone_are_no_currency(above: str) -> None:
    assert [each.currency for each in read(above + table(MOMENT)).transactions] == ["EUR"]


def test_a_second_header_in_another_language_is_a_skip() -> None:
    found = read("Datum,Betrag,Notiz\nDate,Amount,Note\n2025-05-03,1.50,x\n")
    assert found.amounts == [150]
    assert found.codes == ["header", "repeated-heading"]


def test_a_bad_row_about_a_total_eclipse_is_no_totals_line() -> None:
    header = ("ID", "Date", "Amount", "Title")
    rows = [
        ("T1", "2025-05-03", "1.50", "cup"),
        ("T2", "2025-05-03", "n/a", "Total eclipse poster"),
    ]
    rows += [("T3", "n/a", "1.50", "Total eclipse poster")]
    found = read(table(rows, header))
    assert [each.code for each in found.rejects] == ["money-unreadable", "date-unreadable"]


def test_a_subtotal_hidden_in_a_note_is_found_by_adding_up() -> None:
    rows = [("2025-05-03", "10.00", "a"), ("2025-05-03", "5.50", "b")]
    found = read(table([*rows, ("2025-05-03", "15.50", "Subtotal Saturday")]))
    assert found.amounts == [1000, 550]


def test_an_empty_state_is_doubtful_where_others_say_paid() -> None:
    header = ("Date", "Amount", "Status")
    rows = [("2025-05-03", "1.00", "paid"), ("2025-05-03", "2.00", "")]
    found = read(table(rows, header))
    assert found.amounts == [100]
    assert [each.code for each in found.rejects] == ["state-missing"]


def test_an_empty_state_is_fine_where_only_exceptions_are_written() -> None:
    header = ("Date", "Amount", "Status")
    rows = [("2025-05-03", "1.00", "failed"), ("2025-05-03", "2.00", "")]
    assert read(table(rows, header)).amounts == [200]


@pytest.mark.parametrize(("text", "pieces"), [("2", 2), ("2.0", 2), ("2,00", 2), ("1", 1)])
def test_quantities_may_have_empty_decimals(text: str, pieces: int) -> None:
    header = ("Date", "Amount", "Quantity")
    found = read(table([("2025-05-03", "1.00", text)], header, ";")).transactions
    assert found[0].quantity == pieces


@pytest.mark.parametrize("text", ["1.000", "1.5", "two", "-1", "1e3", "²"])
def test_other_quantities_are_rejected(text: str) -> None:
    header = ("Date", "Amount", "Quantity")
    found = read(table([("2025-05-03", "1.00", text)], header, ";"))
    assert [each.code for each in found.rejects] == ["quantity-unreadable"]


def test_net_of_tax_and_net_of_fees_are_told_apart_by_asking() -> None:
    header = ("Date", "Netto", "MwSt", "Gebühr")
    data = table([("2025-05-03", "10.00", "1.90", "0.30")], header)
    assert asked(data).parameter == "tax_is"


def test_the_name_of_a_listing_is_the_pieces() -> None:
    header = ("Listing ID", "Name", "Price")
    found = read(table([("L1", "Blue cup", "8.00")], header), ResaleListings())
    assert "Blue cup" in repr(found.taken)


def test_a_refunds_quantity_may_have_a_minus() -> None:
    header = ("Sold on", "Title", "Total", "Quantity")
    rows = [("2025-05-03", "cup", "-8.00", "-1"), ("2025-05-03", "cup", "8.00", "-1")]
    found = read(table(rows, header), ResaleSales())
    assert [(each.amount_minor, each.quantity) for each in found.transactions] == [(-800, 1)]
    assert [each.code for each in found.rejects] == ["quantity-unreadable"]


def test_text_that_was_encoded_twice_is_said() -> None:
    garbled = "Gr\u00fc\u00dfe".encode().decode("cp1252")
    assert any(
        "garbled" in text for text in read(table([("2025-05-03", "1.50", garbled)])).layout.notices
    )
    assert not read(table([("2025-05-03", "1.50", "\u00c3gua \u00e2ge")])).layout.notices


def test_large_whole_numbers_may_be_cents_and_are_asked_about() -> None:
    header = ("Date", "Amount", "Fee")
    data = table([("2025-05-03", "1250", "30")], header)
    question = asked(data)
    assert question.parameter == "amounts_are"
    assert [choice.meaning for choice in question.choices] == ["1250 is 1250.00", "1250 is 12.50"]
    minor = read(data, amounts_are="minor").transactions[0]
    assert (minor.amount_minor, minor.fee_minor) == (1250, 30)
    major = read(data, amounts_are="major").transactions[0]
    assert (major.amount_minor, major.fee_minor) == (125000, 3000)
    assert asked(table([("2025-05-03", text, "") for text in ("1250", "800", "399")], header))


@pytest.mark.parametrize(
    "texts", [["5", "12", "40"], ["250"], ["120", "300", "45.50"], ["1250", "€ 8"]]
)
def test_whole_numbers_of_a_stall_are_no_question(texts: list[str]) -> None:
    rows = [("2025-05-03", text, "x") for text in texts]
    assert len(read(table(rows)).amounts) == len(texts)


def test_a_float_in_any_column_of_a_tally_is_no_sale() -> None:
    data = "Datum;Betrag;Was\n03.05.2025;12,00;Tasse\n03.05.2025;30,00;Wechselgeld\n"
    found = read(data, CashTally())
    assert found.amounts == [1200]
    found = read(data.replace("Was", "Blorp"), CashTally())
    assert found.amounts == [1200]


def test_a_time_without_its_half_of_the_day_is_doubtful_among_others_that_have_it() -> None:
    header = ("Date", "Time", "Amount")
    times = ["11:00 AM", "1:00", "13:30", "0:15"]
    found = read(table([("2025-05-03", text, "1.00") for text in times], header))
    assert len(found.amounts) == 3
    assert [(each.code, each.column) for each in found.rejects] == [("time-undecided", "Time")]
