from __future__ import annotations

import datetime as dt
import io

import pytest

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import Layout, Listing, Options, QuestionError, Skip, Transaction
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.rows.table_importer import TableImporter

GERMAN = Options(time_zone="Europe/Berlin", languages=("de",))


def outcomes(importer: TableImporter, data: bytes, options: Options) -> list[object]:
    return list(importer.read(io.BytesIO(data), options))


def test_a_german_card_export_is_read_to_the_cent() -> None:
    data = "Datum;Uhrzeit;Betrag;Gebühr\r\n03.05.2025;14:22;1.250,50 €;0,35\r\n".encode("cp1252")
    layout, header, payment = outcomes(CardReaderPayments(), data, GERMAN)
    assert isinstance(layout, Layout)
    assert (layout.encoding, layout.delimiter, layout.decimal_mark) == ("cp1252", ";", ",")
    assert isinstance(header, Skip)
    assert isinstance(payment, Transaction)
    assert (payment.amount_minor, payment.fee_minor) == (125050, 35)
    summer = dt.timezone(dt.timedelta(hours=2))
    assert payment.occurred_at == dt.datetime(2025, 5, 3, 14, 22, tzinfo=summer)


def test_a_sale_is_what_the_buyer_paid_and_forgets_the_buyer() -> None:
    data = (
        b"Order number,Date sold,Item title,Sale price,Postage paid,Selling fee,Buyer\n"
        b"88-1,2025-05-03,Wool jumper,25.00,3.95,2.50,Anna Xyz\n"
    )
    layout, _, sale = outcomes(ResaleSales(), data, Options())
    assert isinstance(layout, Layout)
    assert [column.header for column in layout.columns if column.personal] == ["Buyer"]
    assert isinstance(sale, Transaction)
    assert (sale.kind, sale.amount_minor, sale.postage_minor) == ("sale", 2895, 395)
    assert "Anna" not in repr(sale)


def test_listings_keep_reference_price_and_state() -> None:
    data = b"Listing ID\tTitle\tPrice\tStatus\nL-100\tCup\t8.00\tSold\n"
    *_, listing = outcomes(ResaleListings(), data, Options())
    assert isinstance(listing, Listing)
    assert (listing.reference, listing.price_minor, listing.state) == ("L-100", 800, "sold")


def test_a_header_nobody_knows_is_asked_about() -> None:
    with pytest.raises(QuestionError) as caught:
        outcomes(CardReaderPayments(), b"Foo,Bar\n1,2\n", Options())
    assert caught.value.parameter == "columns"
    assert "Foo" in caught.value.detail


def test_a_number_that_can_be_read_two_ways_is_asked_about() -> None:
    with pytest.raises(QuestionError) as caught:
        outcomes(CardReaderPayments(), b"Date,Amount\n2025-05-04,1.234\n", Options())
    assert caught.value.parameter == "decimal_mark"
    assert [choice.value for choice in caught.value.choices] == [".", ","]


def test_an_importer_is_surest_of_its_own_file() -> None:
    data = b"Listing ID\tTitle\tPrice\tStatus\nL-100\tCup\t8.00\tSold\n"
    sureness = {
        importer.name: importer.recognise(data, Options()).sureness
        for importer in (CardReaderPayments(), ResaleSales(), ResaleListings())
    }
    assert max(sureness, key=lambda name: sureness[name]) == "resale-listings"
