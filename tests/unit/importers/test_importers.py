"""Each importer on a file of its own, and none of them on another's."""

from __future__ import annotations

import datetime as dt

import pytest
from tests.unit.importers.reading import asked, read, table

from stallkeep_importers.bank_camt import BankCamt
from stallkeep_importers.bank_ofx import BankOfx
from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.cash_tally import CashTally
from stallkeep_importers.contract import (
    CashCount,
    Counted,
    Expense,
    Importer,
    Listing,
    Options,
    Stub,
    Transaction,
)
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.finder import recognise_all
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.stock_count import StockCount
from stallkeep_importers.stubs import Stubs

EVERY: list[Importer] = [
    *(BankCamt(), BankOfx(), CardReaderPayments(), CardReaderPayouts(), CashTally()),
    *(Expenses(), ResaleListings(), ResaleSales(), StockCount(), Stubs()),
]


def test_payouts_give_what_arrived_its_fees_and_what_they_cover() -> None:
    header = ("Payout ID", "Arrived on", "Gross", "Fees", "Net", "Status", "Payments")
    rows = [("P1", "2025-05-05", "502.00", "12.88", "489.12", "paid", "T1; T2")]
    rows += [("P2", "2025-05-06", "10.00", "1.00", "9.00", "in transit", "3")]
    rows += [("P3", "2025-05-06", "10.00", "1.00", "9.00", "paid", "3")]
    rows += [("P4", "2025-05-06", "10.00", "1.00", "8.00", "paid", "")] + rows[2:3] * 4
    found = read(table(rows, header), CardReaderPayouts())
    first = found.transactions[0]
    assert (first.kind, first.amount_minor, first.fee_minor) == ("payout", 48912, 1288)
    assert (first.external_id, first.covers, first.method) == ("P1", ("T1", "T2"), "transfer")
    assert found.transactions[1].covers is None
    assert found.codes[:3] == ["header", "not-completed", "sums-disagree"]


def test_a_payout_without_a_net_column_is_gross_less_fees() -> None:
    header = ("Payout ID", "Paid out on", "Gross", "Fees")
    found = read(table([("P1", "2025-05-05", "10.00", "-1.00")], header), CardReaderPayouts())
    assert [(each.amount_minor, each.fee_minor) for each in found.transactions] == [(900, 100)]


def test_a_cash_tally_gives_sales_and_lines_about_the_box() -> None:
    header = ("Day", "Time", "Cash", "Note")
    rows = [("2025-05-03", "", "50.00", "float"), ("2025-05-03", "10:30", "12.00", "cup")]
    rows += [("2025-05-03", "11:00", "-4.00", ""), ("2025-05-03", "", "57.00", "counted")]
    rows += [("2025-05-03", "", "1.00", "paid out")]
    found = read(table(rows, header), CashTally())
    assert [(each.kind, each.amount_minor, each.method) for each in found.transactions] == [
        ("payment", 1200, "cash"),
        ("refund", -400, "cash"),
    ]
    counts = [each for each in found.taken if isinstance(each, CashCount)]
    assert [(each.what, each.amount_minor, each.counted_on) for each in counts] == [
        ("float", 5000, dt.date(2025, 5, 3)),
        ("counted", 5700, dt.date(2025, 5, 3)),
        ("paid_out", 100, dt.date(2025, 5, 3)),
    ]


def test_a_tally_of_strokes_is_price_times_count() -> None:
    header = ("Date", "Price", "Strokes")
    found = read(table([("2025-05-03", "5.00", "7")], header), CashTally())
    assert [(each.amount_minor, each.quantity) for each in found.transactions] == [(3500, 7)]


def test_a_stock_count_gives_codes_and_pieces() -> None:
    header = ("Tag code", "Quantity", "Date")
    rows = [
        ("2JP-C3X", "1", "2025-05-03"),
        ("", "1", ""),
        ("QF7-P22", "-1", ""),
        ("RM2-EKJ", "", ""),
    ]
    found = read(table(rows, header), StockCount())
    counted = [each for each in found.taken if isinstance(each, Counted)]
    assert [(each.tag_code, each.quantity, str(each.counted_on)) for each in counted] == [
        ("2JP-C3X", 1, "2025-05-03"),
        ("RM2-EKJ", 1, "None"),
    ]
    assert [each.code for each in found.rejects] == ["tag-code-missing", "quantity-unreadable"]


def test_a_bare_list_of_codes_needs_no_header() -> None:
    found = read("2JP-C3X\nQF7-P22\nRM2-EKJ\n", StockCount())
    codes = [each.tag_code for each in found.taken if isinstance(each, Counted)]
    assert codes == ["2JP-C3X", "QF7-P22", "RM2-EKJ"]
    assert found.layout.header_record == 0


def test_stubs_keep_their_order() -> None:
    header = ("Day", "Tag code", "Price")
    rows = [("2025-05-03", "2JP-C3X", "12.00"), ("2025-05-03", "QF7-P22", "")]
    rows += [("2025-05-03", "RM2-EKJ", "torn"), ("2025-05-04", "YNH-V23", "3.50")]
    found = read(table(rows, header), Stubs())
    stubs = [each for each in found.taken if isinstance(each, Stub)]
    assert [(each.position, each.tag_code, each.price_minor, each.currency) for each in stubs] == [
        (1, "2JP-C3X", 1200, "EUR"),
        (2, "QF7-P22", None, None),
        (4, "YNH-V23", 350, "EUR"),
    ]
    assert [each.code for each in found.rejects] == ["money-unreadable"]


def test_expenses_have_a_category_a_tax_and_a_note() -> None:
    header = ("Date", "Category", "Total", "VAT", "Receipt no", "Note")
    rows = [("2025-05-03", "Pitch fee", "60.00", "9.58", "R1", "Saturday")]
    rows += [("2025-05-03", "Fireworks", "5.00", "", "R2", "rockets")]
    found = read(table(rows, header), Expenses())
    costs = [each for each in found.taken if isinstance(each, Expense)]
    assert [(each.kind, each.amount_minor, each.tax_minor, each.note) for each in costs] == [
        ("pitch_fee", 6000, 958, "Saturday"),
        ("other", 500, None, "Fireworks · rockets"),
    ]


def test_expenses_written_as_minus_are_money_spent() -> None:
    header = ("Date", "Category", "Amount")
    found = read(table([("2025-05-03", "Parking", "-9.00")], header), Expenses())
    assert [each.amount_minor for each in found.taken if isinstance(each, Expense)] == [900]


def test_expenses_with_both_signs_are_asked_about() -> None:
    header = ("Date", "Category", "Amount")
    rows = [("2025-05-03", "Parking", "-9.00"), ("2025-05-03", "Food", "5.00")]
    data = table(rows, header)
    assert asked(data, Expenses()).parameter == "spent_is"
    found = read(data, Expenses(), spent_is="plus").taken
    assert [each.amount_minor for each in found if isinstance(each, Expense)] == [-900, 500]


def test_expenses_may_have_money_in_and_money_out() -> None:
    header = ("Date", "Category", "Debit", "Credit")
    rows = [("2025-05-03", "Parking", "9.00", ""), ("2025-05-03", "Parking", "", "4.00")]
    rows += [("2025-05-03", "Parking", "", ""), ("2025-05-03", "Parking", "1.00", "1.00")]
    found = read(table(rows, header), Expenses())
    assert [each.amount_minor for each in found.taken if isinstance(each, Expense)] == [900, -400]
    assert [each.code for each in found.rejects] == ["money-missing", "money-twice"]


def test_listings_have_states_sizes_and_days() -> None:
    header = ("Listing ID", "Title", "Price", "Status", "Size", "Listed on", "Ended on", "SKU")
    rows = [("L1", "Cup", "8.00", "Active", "", "2025-04-01", "", "2JPC3X")]
    rows += [("L2", "Rug", "", "Ended", "M", "2025-04-01", "2025-04-09", "")]
    rows += [
        ("", "Bowl", "1.00", "Active", "", "", "", ""),
        ("L4", "x", "-1.00", "Active", *"    "),
    ]
    rows += [("L5", "y", "1.00", "perhaps", *"    ")]
    found = read(table(rows, header), ResaleListings())
    listings = [each for each in found.taken if isinstance(each, Listing)]
    assert [(each.reference, each.price_minor, each.state, each.size) for each in listings] == [
        ("L1", 800, "live", None),
        ("L2", None, "ended", "M"),
    ]
    assert listings[1].ended_on == dt.date(2025, 4, 9)
    assert [each.code for each in found.rejects] == [
        "reference-missing",
        "price-negative",
        "state-unknown",
    ]


SAMPLES: dict[str, tuple[str, ...]] = {
    "card-reader-payments": (
        "Date,Time,Amount,Fee,Card type\n2025-05-03,10:00,12.50,0.30,debit\n",
        "Transaction ID,Date,Gross,Tip,Fee,Net,Status\nT1,2025-05-03,12.50,1.00,0.30,12.20,paid\n",
        "Datum;Uhrzeit;Betrag;Trinkgeld;Gebühr;Zahlungsart\n03.05.2025;10:00;12,50;0;0,30;Karte\n",
        "Date;Heure;Montant;Commission;Moyen de paiement\n03.05.2025;10:00;12,50;0,30;Carte\n",
        "取引日時,金額,手数料,支払方法\n2025/05/03 10:00,1200,30,カード\n",
    ),
    "card-reader-payouts": (
        "Payout ID,Payout date,Gross,Fees,Net\nP1,2025-05-05,100.00,2.00,98.00\n",
        "Auszahlung;Ausgezahlt am;Brutto;Gebühren;Auszahlungsbetrag\n"
        "P1;05.05.2025;100,00;2,00;98,00\n",
        "Numéro de virement;Date de virement;Montant net\nV1;05.05.2025;98,00\n",
    ),
    "resale-sales": (
        "Order number,Sold on,Item title,Sale price,Shipping,Selling fee\n"
        "O1,2025-05-03,Cup,8.00,4.00,1.00\n",
        "Bestellnummer;Verkauft am;Titel;Verkaufspreis;Porto;Provision\n"
        "B1;03.05.2025;Tasse;8,00;4,00;1,00\n",
        "Numéro de commande;Vendu le;Titre;Prix de vente;Frais de port\n"
        "C1;03.05.2025;Tasse;8,00;4,00\n",
        "Ordernummer;Såld den;Titel;Försäljningspris;Frakt\nO1;2025-05-03;Kopp;80,00;40,00\n",
    ),
    "resale-listings": (
        "Listing ID,Title,Price,Status,Listed on\nL1,Cup,8.00,Active,2025-05-03\n",
        "Angebotsnummer;Titel;Preis;Status;Eingestellt am\nA1;Tasse;8,00;aktiv;03.05.2025\n",
        "Numer oferty;Tytuł;Cena;Status;Wystawiono\nO1;Kubek;8,00;aktywna;03.05.2025\n",
        "SKU,Title,Price,Quantity,Size\n2JPC3X,Jumper,40.00,1,M\n",
    ),
    "cash-tally": (
        "Day,Time,Cash taken,Note\n2025-05-03,10:00,12.00,cup\n",
        "Datum;Uhrzeit;Bar;Notiz\n03.05.2025;10:00;12,00;Tasse\n",
        "Fecha;Hora;Efectivo;Nota\n03.05.2025;10:00;12,00;taza\n",
    ),
    "stock-count": (
        "Tag code,Quantity\n2JP-C3X,1\n",
        "Etikett;Anzahl\n2JP-C3X;1\n",
        "Tag code,Counted,Date\n2JP-C3X,1,2025-05-03\n",
    ),
    "stubs": (
        "Tag code,Price\n2JP-C3X,12.00\n",
        "Day,Tag code,Price\n2025-05-03,2JP-C3X,12.00\n",
        "Etikett;Preis;Tag\n2JP-C3X;12,00;03.05.2025\n",
    ),
    "expenses": (
        "Date,Category,Amount,Receipt no\n2025-05-03,Parking,9.00,R1\n",
        "Datum;Kostenart;Betrag;Beleg\n03.05.2025;Parken;9,00;R1\n",
        "Date,Supplier,Category,Total,VAT\n2025-05-03,Quay,Parking,9.00,1.44\n",
        "Data;Categoria;Importo;Fornitore\n03.05.2025;Parcheggio;9,00;Molo\n",
    ),
    "bank-ofx": ("OFXHEADER:100\nDATA:OFXSGML\n\n<OFX><BANKMSGSRSV1>",),
    "bank-camt": (
        '<?xml version="1.0"?><Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.08">',
    ),
}


@pytest.mark.parametrize(
    ("name", "sample"), [(name, text) for name, texts in SAMPLES.items() for text in texts]
)
def test_each_file_is_known_by_its_importer_alone(name: str, sample: str) -> None:
    ranked = recognise_all({each.name: each for each in EVERY}, sample.encode(), Options())
    (first, sure), (_, second) = ranked[0], ranked[1]
    assert first == name
    assert sure.sureness >= 0.5
    assert round(sure.sureness - second.sureness, 3) >= 0.1


@pytest.mark.parametrize(
    "data", [b"", b"\x00\xff", b"hello", b"PK\x03\x04", b"\x1f\x8b\x08", b"{}"]
)
def test_nobody_claims_what_is_nobodys(data: bytes) -> None:
    for importer in EVERY:
        assert importer.recognise(data, Options()).sureness < 0.3


@pytest.mark.parametrize("heading", ["Payment ID", "Zahlungs-ID", "N° de paiement", "ID płatności"])
def test_an_id_of_payments_says_that_rows_are_payments(heading: str) -> None:
    """By more than the nearness at which a person is asked which of two importers is meant."""
    data = f"Date;{heading};Amount\n2026-05-03;P-1;12.50\n".encode()
    (first, sure), (_, second) = recognise_all({e.name: e for e in EVERY}, data, Options())[:2]
    assert first == "card-reader-payments"
    assert round(sure.sureness - second.sureness, 3) >= 0.1


@pytest.mark.parametrize(
    "header",
    [
        "Date;Libellé;Débit;Crédit",
        "Buchungstag;Verwendungszweck;Soll;Haben",
        "Date;Description;Money out;Money in",
        "Päivä;Selite;Tulot;Menot",
        "Data;Opis;Kwota;Saldo",
    ],
)
def test_money_in_and_out_alone_is_nobodys_until_somebody_says(header: str) -> None:
    """A bank's list looks just like a cash book; a payout in it is no sale in cash."""
    data = f"{header}\n2026-05-03;x;9,00;\n2026-05-13;y;;45,00\n".encode()
    ranked = recognise_all({each.name: each for each in EVERY}, data, Options())
    assert ranked[0][1].sureness < 0.4
    assert "ask your bank" in ranked[0][1].why


def test_money_in_and_out_is_a_cash_book_where_its_name_says_so() -> None:
    data = b"Datum;Text;Einnahmen;Ausgaben\n03.05.2026;Vase;45,00;\n"
    options = Options(file_name="kassenbuch.csv")
    (first, sure), (_, second) = recognise_all({e.name: e for e in EVERY}, data, options)[:2]
    assert (first, sure.sureness >= 0.4) == ("cash-tally", True)
    assert round(sure.sureness - second.sureness, 3) >= 0.1


def test_takings_beside_what_was_spent_are_no_costs() -> None:
    data = b"Datum;Text;Einnahme;Ausgabe\n03.05.2026;Vase;45,00;\n"
    ranked = recognise_all({each.name: each for each in EVERY}, data, Options())
    assert ranked[0][0] == "cash-tally"
    assert dict(ranked)["expenses"].sureness < 0.4


def test_a_payments_id_beside_a_supplier_is_a_cost() -> None:
    data = b"Date,Payment ID,Amount,Supplier\n2026-05-03,P-1,12.50,Quay\n"
    (first, sure), (_, second) = recognise_all({e.name: e for e in EVERY}, data, Options())[:2]
    assert first == "expenses"
    assert round(sure.sureness - second.sureness, 3) > 0.05


def test_the_name_of_a_file_can_tip_the_scales() -> None:
    data = b"2JP-C3X\nQF7-P22\nRM2-EKJ\n"
    importers = {each.name: each for each in EVERY}
    stubs = recognise_all(importers, data, Options(file_name="stubs-2025.csv"))
    count = recognise_all(importers, data, Options(file_name="stock-count.csv"))
    assert (stubs[0][0], count[0][0]) == ("stubs", "stock-count")


def test_transactions_of_every_importer_name_their_method() -> None:
    sales = read(SAMPLES["resale-sales"][0], ResaleSales()).taken[0]
    assert isinstance(sales, Transaction)
    assert sales.method == "online"
