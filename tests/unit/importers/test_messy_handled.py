"""Exports that spreadsheets, several pages or a bank's habits have made something else of."""

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy
from tests.unit.importers.reading import read

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.cash_tally import CashTally
from stallkeep_importers.contract import Importer, Listing
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.stock_count import StockCount
from stallkeep_importers.stubs import Stubs


def _file(name: str, importer: type[Importer], data: str, says: str, **options: object) -> Messy:
    return Messy(name=name, importer=importer, data=data, says=says, options=options)


FILES = (
    _file(
        "a day's report in pages, as many totals as payments",
        CardReaderPayments,
        """
Zeitraum: 01.05.2026 - 31.05.2026;;;;
Datum;Uhrzeit;Beleg-Nr.;Betrag;Verwendungszweck
03.05.2026;10:05;B1;45,00;Vase
Zwischensumme 03.05.2026;;;45,00;
04.05.2026;10:15;B2;5,00;
Zwischensumme 04.05.2026;;;5,00;
Seite 1 von 2;;;;
Datum;Uhrzeit;Beleg-Nr.;Betrag;Verwendungszweck
13.05.2026;10:05;B3;7,00;Tasse
Zwischensumme 13.05.2026;;;7,00;
Gesamtsumme;;;57,00;
""",
        """
payment 45.00 2026-05-03T10:05+02:00 card #B1
skip totals
payment 5.00 2026-05-04T10:15+02:00 card #B2
skip totals
skip between-pages
skip repeated-heading
payment 7.00 2026-05-13T10:05+02:00 card #B3
skip totals
skip totals
""",
        time_zone="Europe/Berlin",
        languages=("de",),
    ),
    _file(
        "a summary below whose heading says sum",
        CardReaderPayments,
        """
Date,Payment ID,Amount,Fee,Note
2026-05-03,Q-1,50.00,0.90,vase
2026-05-03,Q-2,12.00,0.20,

Summary
Card brand,Count,Sum
A-Card,1,50.00
B-Card,1,12.00
""",
        "refuse two-tables",
    ),
    _file(
        "a bank's list of all that came and went",
        CardReaderPayouts,
        """
Buchungstag;Wertstellung;Empfänger;IBAN;Verwendungszweck;Betrag;Saldo
05.05.2026;05.05.2026;Zahldienst GmbH;DE02120300000000202051;AZ-1;1.183,12;2.183,12
13.05.2026;13.05.2026;Stadtwerke;DE02500105170137075030;Strom;-80,00;2.103,12
""",
        "refuse bank-statement",
    ),
    _file(
        "payouts with a balance, one of them negative",
        CardReaderPayouts,
        """
Payout ID,Arrived on,Amount,Balance
P1,2026-05-05,116.25,0.00
P2,2026-05-12,-10.00,0.00
""",
        """
payout 116.25 2026-05-05 transfer #P1
payout -10.00 2026-05-12 transfer #P2
""",
    ),
    _file(
        "a sale whose note says that it was cancelled",
        ResaleSales,
        """
Order,Date,Item,Price,Note
A1,2026-05-03,Vase,45.00,cancelled
A2,2026-05-03,Cup,5.00,
""",
        """
reject kind-unclear [Note]
sale 5.00 2026-05-03 online #A2
""",
    ),
    _file(
        "a tally whose note says void",
        CashTally,
        """
Date,Amount,Note
2026-05-03,45.00,void
2026-05-03,5.00,
""",
        """
reject kind-unclear [Note]
payment 5.00 2026-05-03 cash
""",
    ),
    _file(
        "a payout that came back from the bank",
        CardReaderPayouts,
        """
Payout ID,Arrived on,Net,State
P1,2026-05-05,116.25,Paid
P2,2026-05-12,10.00,Returned
""",
        """
payout 116.25 2026-05-05 transfer #P1
reject payout-returned [State]
""",
    ),
    _file(
        "several means of payment in one row",
        CardReaderPayments,
        """
Date,Sale number,Payment method,Amount
2026-05-03,S1,Card,45.00
2026-05-03,S2,Cash,12.00
2026-05-03,S3,Voucher + Card,30.00
2026-05-03,S4,Gift voucher,10.00
2026-05-03,S5,Blorp,9.00
2026-05-03,S6,Contactless card,8.00
""",
        """
payment 45.00 2026-05-03 card #S1
payment 12.00 2026-05-03 cash #S2
payment 30.00 2026-05-03 - #S3
payment 10.00 2026-05-03 other #S4
payment 9.00 2026-05-03 card #S5
payment 8.00 2026-05-03 card #S6
""",
    ),
    _file(
        "Brazilian: all at once, in three parts by the card's bank, refused, given back",
        CardReaderPayments,
        """
Data;NSU;Parcelas;Valor bruto;Taxa;Valor líquido;Situação
03/05/2026;8801;1x;R$ 1.234,50;R$ 24,69;R$ 1.209,81;Aprovada
03/05/2026;8802;3x;R$ 300,00;R$ 12,00;R$ 288,00;Aprovada
23/05/2026;8803;1x;R$ 30,00;R$ 0,00;R$ 0,00;Negada
23/05/2026;8804;1x;R$ 30,00;R$ 0,60;R$ 29,40;Estornada
""",
        """
payment 1234.50 BRL 2026-05-03 card #8801 fee=24.69
payment 300.00 BRL 2026-05-03 card #8802 fee=12.00
skip not-completed
payment 30.00 BRL 2026-05-23 card #8804 fee=0.60 refunded=30.00 refunded
""",
        currency="BRL",
        languages=("pt",),
    ),
    _file(
        "an order's total on its first line only",
        ResaleSales,
        """
Order,Date,Item,Price,Shipping,Order total,Fee
A-1,2026-05-03,Blue vase,45.00,5.00,70.00,7.00
A-1,2026-05-03,Cup,20.00,,,
A-2,2026-05-04,Coat,120.00,5.00,125.00,12.50
A-3,2026-05-04,Hat,20.00,0.00,55.00,5.50
A-3,2026-05-04,Belt,30.00,,,
""",
        """
sale 50.00 2026-05-03 online #A-1 / Blue vase fee=7.00 postage=5.00
sale 20.00 2026-05-03 online #A-1 / Cup
sale 125.00 2026-05-04 online #A-2 fee=12.50 postage=5.00
reject total-of-several [Order total]
reject total-of-several [Order total]
""",
    ),
    _file(
        "prices each, a discount, and the line's own total",
        ResaleSales,
        """
Order ID,Sale date,Title,Qty,Unit price,Discount,Line total
A-1,2026-05-03,Blue vase,1,45.00,5.00,40.00
A-2,2026-05-04,Candle,3,10.00,0.00,30.00
""",
        """
sale 40.00 2026-05-03 online #A-1
sale 30.00 2026-05-04 online #A-2 x3
""",
    ),
    _file(
        "listings reserved, paused, and sold before their end",
        ResaleListings,
        """
Listing ID,Title,Price,Status,Listed at,Ended at
L1,Blue vase,45.00,Active,2026-05-01,
L2,Coat,120.00,Sold,2026-05-01,2026-05-03
L3,Bag,12.00,Reserved,2026-05-01,
L4,Lamp,25.00,Paused,2026-05-01,
""",
        """
listing L1 45.00 live “Blue vase” since=2026-05-01
listing L2 120.00 sold “Coat” since=2026-05-01 until=2026-05-03
listing L3 12.00 live “Bag” since=2026-05-01
listing L4 25.00 ended “Lamp” since=2026-05-01
""",
    ),
    _file(
        "tag codes a spreadsheet has wrapped, marked or made a number of",
        StockCount,
        """
Tag;Title;Qty
="YMN-W2D";Blue vase;1
'0012345;Cup;2
1.23457E+09;Hat;1
""",
        """
counted YMN-W2D
counted 0012345 x2
reject tag-code-damaged [Tag]
""",
    ),
    _file(
        "stubs of which a spreadsheet made a number",
        Stubs,
        """
Tag;Price
YMN-W2D;4.00
1.23457E+09;5.00
""",
        """
stub 1. YMN-W2D 4.00
reject tag-code-damaged [Tag]
""",
    ),
    _file(
        "German cash book: came, went, left; the count in the last column alone",
        CashTally,
        """
Datum;Text;Einnahme;Ausgabe;Bestand
03.05.2026;Wechselgeld;50,00;;50,00
03.05.2026;Verkauf Vase;45,00;;95,00
03.05.2026;Mittagessen;;12,00;83,00
03.05.2026;Rückgabe;;5,00;78,00
03.05.2026;unklar;;;78,00
03.05.2026;doppelt;1,00;1,00;78,00
03.05.2026;Kassenbestand;;;78,00
""",
        """
float 50.00 on=2026-05-03
payment 45.00 2026-05-03 cash
paid_out 12.00 on=2026-05-03
refund -5.00 2026-05-03 cash
reject money-missing [Einnahme]
reject money-twice [Ausgabe]
counted 78.00 on=2026-05-03
""",
        languages=("de",),
    ),
    _file(
        "French cash book: what went, unsaid for what; a count by another word",
        CashTally,
        """
Date;Libellé;Entrée;Sortie
03/05/2026;Fond de caisse;50,00;
03/05/2026;Vente vase;45,00;
03/05/2026;Achat café;;3,20
23/05/2026;tasse;7,50;
23/05/2026;dans la boîte;102,50;
""",
        """
float 50.00 on=2026-05-03
payment 45.00 2026-05-03 cash
reject kind-unclear [Sortie]
payment 7.50 2026-05-23 cash
reject kind-unclear [Libellé]
""",
        languages=("fr",),
    ),
    _file(
        "a sale of as much as is in the box, and says so",
        CashTally,
        """
Date,What,Amount
2026-05-03,Float,50.00
2026-05-03,cup,20.00
2026-05-03,jug,30.00
2026-05-03,Sale of a coat,100.00
2026-05-03,hat,200.00
""",
        """
float 50.00 on=2026-05-03
payment 20.00 2026-05-03 cash
payment 30.00 2026-05-03 cash
payment 100.00 2026-05-03 cash
reject kind-unclear [What]
""",
    ),
    _file(
        "costs with both signs, a credit note among them",
        Expenses,
        """
Belegdatum;Belegnr;Kategorie;Netto;USt;Brutto;Beschreibung
03.05.2026;R-1;Standgebühr;42,02;7,98;50,00;Hafenmarkt
13.05.2026;R-3;Verpflegung;10,28;0,72;11,00;Mittag
15.05.2026;R-5;Standgebühr;-42,02;-7,98;-50,00;Gutschrift
""",
        """
pitch_fee 50.00 2026-05-03 #R-1 tax=7.98 for=Hafenmarkt
food 11.00 2026-05-13 #R-3 tax=0.72 for=Mittag
pitch_fee -50.00 2026-05-15 #R-5 tax=-7.98 for=Gutschrift
""",
        languages=("de",),
    ),
    _file(
        "costs with both signs, a credit note that goes the way of others",
        Expenses,
        """
Date,Category,Amount,Note
2026-05-03,Pitch,50.00,
2026-05-04,Fuel,-30.00,
2026-05-05,Pitch,-50.00,Refund
""",
        "ask spent_is",
    ),
    _file(
        "a tip whose own heading says that it is within",
        CardReaderPayments,
        """
Date;Montant;Pourboire inclus
03/05/2026;34,50 €;0,00 €
23/05/2026;12,50 €;1,50 €
""",
        """
payment 34.50 2026-05-03 card tip=0.00
payment 12.50 2026-05-23 card tip=1.50
""",
        languages=("fr",),
    ),
    _file(
        "numbers of orders under headings cut short",
        ResaleSales,
        """
Ordernr;Datum;Artikel;Pris
A-5001;2026-05-03;Blå vas;1 234 kr
A-5002;2026-05-13;Kopp;80 kr
""",
        """
sale 1234.00 SEK 2026-05-03 online #A-5001
sale 80.00 SEK 2026-05-13 online #A-5002
""",
        currency="SEK",
        languages=("sv",),
    ),
    _file(
        "days and amounts a spreadsheet marked as text",
        CardReaderPayments,
        """
Date;Time;Amount
'03/05/2026;'10:15;'12.50
'13/05/2026;'10:25;'7.00
""",
        """
payment 12.50 2026-05-03T10:15+00:00 card
payment 7.00 2026-05-13T10:25+00:00 card
""",
    ),
)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_what_was_handled_on_the_way_is_read_right_or_refused(file: Messy) -> None:
    file.check()


def test_a_day_of_ending_makes_no_sold_listing_merely_ended() -> None:
    found = read(
        "Listing ID,Title,Price,Status,Removed\n"
        "L1,Vase,45.00,Sold,2026-05-03\nL2,Cup,5.00,Active,2026-05-03\n",
        ResaleListings(),
    )
    assert [each.state for each in found.taken if isinstance(each, Listing)] == ["sold", "ended"]


def test_a_bank_statement_without_account_numbers_is_known_by_money_going_both_ways() -> None:
    data = "Date,Value date,Purpose,Amount,Balance\n2026-05-05,2026-05-05,x,{},9.00\n" * 1
    both = data.format("5.00") + "2026-05-06,2026-05-06,y,-3.00,6.00\n"
    with pytest.raises(Exception, match="bank statement"):
        read(both, CardReaderPayouts(), columns={"payout_date": "Value date"})
    assert (
        len(
            read(
                data.format("5.00"), CardReaderPayouts(), columns={"payout_date": "Value date"}
            ).taken
        )
        == 1
    )
