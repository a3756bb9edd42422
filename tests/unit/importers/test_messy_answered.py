"""Exports that answer yes or no, and exports of languages met late."""

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy
from tests.unit.importers.reading import read

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.contract import Importer, QuestionError
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales


def _file(name: str, importer: type[Importer], data: str, says: str, **options: object) -> Messy:
    return Messy(name=name, importer=importer, data=data, says=says, options=options)


FILES = (
    _file(
        "no under Paid in a list of sales",
        ResaleSales,
        """
Order ID,Date,Item,Price,Paid
A1,2026-05-03,Vase,12.50,Yes
A2,2026-05-04,Lamp,17.50,No
""",
        """
sale 12.50 2026-05-03 online #A1
skip not-completed
""",
    ),
    _file(
        "no under Shipped: sold all the same",
        ResaleSales,
        """
Order ID,Date,Item,Price,Shipped
A1,2026-05-03,Vase,12.50,Yes
A2,2026-05-04,Lamp,17.50,No
""",
        """
sale 12.50 2026-05-03 online #A1
sale 17.50 2026-05-04 online #A2
notice not-sent
""",
    ),
    _file(
        "a blank under Paid is no answer",
        ResaleSales,
        """
Order ID,Date,Item,Price,Paid
A1,2026-05-03,Vase,12.50,Yes
A2,2026-05-04,Lamp,17.50,
""",
        "ask columns",
    ),
    _file(
        "a column of states and one of yes and no",
        ResaleSales,
        """
Bestellnummer;Datum;Artikel;Preis;Status;Bezahlt
A1;03.05.2026;Vase;12,50;versendet;ja
A2;03.05.2026;Lampe;12,50;offen;nein
A3;03.05.2026;Kanne;12,50;versendet;nein
""",
        """
sale 12.50 2026-05-03 online #A1
skip not-completed
reject states-contradict [Status]
""",
        time_zone="Europe/Berlin",
        languages=("de",),
    ),
    _file(
        "no under Active in a list of listings",
        ResaleListings,
        """
Listing,Title,Price,Active
L1,Vase,12.50,Yes
L2,Lamp,17.50,No
""",
        """
listing L1 12.50 live “Vase”
listing L2 17.50 ended “Lamp”
""",
    ),
    _file(
        "two columns of currencies, neither headed plainly",
        ResaleSales,
        """
Date,Order,Item,Sale price,Sale currency,Payout amount,Payout currency,Fee
2026-05-03,O1,Vase,50.00,USD,38.70,EUR,4.30
2026-05-04,O2,Lamp,30.00,USD,23.22,EUR,2.58
""",
        "ask columns",
    ),
    _file(
        "a refund's day beside its amount",
        ResaleSales,
        """
Date,Order,Item,Price,Postage,Refund date,Refund amount
2026-05-03,O1,Vase,45.00,3.50,,
2026-05-04,O2,Lamp,30.00,3.50,2026-05-10,10.00
2026-05-04,O3,Cup,30.00,3.50,2026-05-10,
""",
        """
sale 48.50 2026-05-03 online #O1 postage=3.50
sale 33.50 2026-05-04 online #O2 postage=3.50 refunded=10.00 partly_refunded
reject flag-unclear
""",
    ),
    _file(
        "a refund's day beside a column of states",
        ResaleSales,
        """
Date,Order,Item,Price,Status,Refunded on
2026-05-04,O2,Lamp,30.00,Refunded,2026-05-10
2026-05-04,O3,Cup,30.00,Completed,2026-05-10
""",
        """
sale 30.00 2026-05-04 online #O2 refunded=30.00 refunded
reject flag-unclear
""",
    ),
    _file(
        "postage the net is without",
        ResaleSales,
        """
販売日,商品名,販売価格,販売手数料,送料,販売利益,取引状態
2026/05/03,花瓶,"￥3,000",￥300,￥700,"￥2,000",取引完了
2026/05/04,ランプ,"￥1,200",￥120,￥0,"￥1,080",キャンセル
2026/05/04,皿,"￥1,200",￥120,￥0,"￥1,080",発送待ち
""",
        """
sale 3000 JPY 2026-05-03 online fee=300 postage_cost=700
skip not-completed
sale 1200 JPY 2026-05-04 online fee=120 postage_cost=0
""",
        currency="JPY",
        time_zone="Asia/Tokyo",
        languages=("ja",),
    ),
    _file(
        "postage the net is with",
        ResaleSales,
        """
Date,Order,Item,Price,Postage,Fee,Net
2026-05-03,O1,Vase,30.00,7.00,3.00,34.00
""",
        "sale 37.00 2026-05-03 online #O1 fee=3.00 postage=7.00",
    ),
    _file(
        "an amount in one currency beside a column of another",
        ResaleSales,
        """
Sold on,Order,Item,Price,Currency,Exchange rate,Amount in EUR,Fee
2026-05-03,O1,Vase,50.00,USD,0.86,43.00,4.30
""",
        "ask columns",
    ),
    _file(
        "a sum of a day in a cell with its date",
        CardReaderPayments,
        """
Dato;Kvittering;Beløp
03.03.2026;K1;1 145,00
03.03.2026;K2;80,00
Sum 03.03.2026;;1 225,00
04.03.2026;K3;45,00
""",
        """
payment 1145.00 NOK 2026-03-03 card #K1
payment 80.00 NOK 2026-03-03 card #K2
skip totals
payment 45.00 NOK 2026-03-04 card #K3
""",
        currency="NOK",
        time_zone="Europe/Oslo",
        languages=("nb",),
    ),
    _file(
        "blank under Shipped",
        ResaleSales,
        """
Order ID,Date,Item,Price,Shipped
A1,2026-05-03,Vase,12.50,Yes
A2,2026-05-04,Lamp,17.50,
""",
        """
sale 12.50 2026-05-03 online #A1
sale 17.50 2026-05-04 online #A2
notice not-sent
""",
    ),
    _file(
        "sold and still on its way, or not yet sent",
        ResaleSales,
        """
Order,Date,Item,Price,Status
O1,2026-05-03,Vase,45.00,In transit
O2,2026-05-04,Lamp,30.00,Awaiting dispatch
O3,2026-05-04,Cup,10.00,Awaiting payment
O4,2026-05-04,Dish,10.00,In dispute
""",
        """
sale 45.00 2026-05-03 online #O1
sale 30.00 2026-05-04 online #O2
skip not-completed
reject state-unknown [Status]
""",
    ),
    _file(
        "a payout still on its way",
        CardReaderPayouts,
        """
Payout date,Payout ID,Status,Gross,Fees,Net
2026-05-13,po-1,Paid,100.00,2.00,98.00
2026-05-20,po-2,In transit,50.00,1.00,49.00
""",
        """
payout 98.00 2026-05-13 transfer #po-1 fee=2.00
skip not-completed
""",
    ),
    _file(
        "a list of fees alone",
        CardReaderPayments,
        """
Date,Type,Description,Fee amount,VAT
2026-05-31,Processing fee,P-1,0.79,0.16
2026-05-31,Monthly fee,May,9.00,1.80
2026-05-31,Monthly fee,May,-9.00,-1.80
""",
        """
fee -0.79 2026-05-31 card tax=-0.16
fee -9.00 2026-05-31 card tax=-1.80
reject sign-contradicts-kind [Fee amount]
""",
        columns={"amount": "Fee amount"},
        tax_is="within",
    ),
    _file(
        "a list of fees alone, nothing said",
        CardReaderPayments,
        """
Date,Description,Fee amount,Currency
2026-05-31,Monthly fee,9.00,EUR
""",
        "ask columns",
    ),
    _file(
        "Norwegian sales: kroner, months in words, cancelled",
        ResaleSales,
        """
Ordrenummer;Dato;Vare;Pris;Gebyr;Status
A1;3. desember 2026;Vase;1 250,50;12,00;Fullført
A2;4. desember 2026;Lampe;200,00;2,00;Kansellert
A3;4. desember 2026;Kanne;200,00;2,00;Levert
""",
        """
sale 1250.50 NOK 2026-12-03 online #A1 fee=12.00
skip not-completed
sale 200.00 NOK 2026-12-04 online #A3 fee=2.00
""",
        currency="NOK",
        time_zone="Europe/Oslo",
        languages=("nb",),
    ),
    _file(
        "Finnish terminal: points in times, a try declined, one given back",
        CardReaderPayments,
        """
Päivämäärä;Klo;Maksun tunnus;Yhteensä;Palvelumaksu;Tila
3.5.2026;10.05;M1;12,50;0,21;Hyväksytty
3.5.2026;10.15;M2;8,00;0,14;Hylätty
3.5.2026;10.25;M3;9,00;0,15;Hyvitetty
""",
        """
payment 12.50 2026-05-03T10:05+03:00 card #M1 fee=0.21
skip not-completed
payment 9.00 2026-05-03T10:25+03:00 card #M3 fee=0.15 refunded=9.00 refunded
""",
        time_zone="Europe/Helsinki",
        languages=("fi",),
    ),
)


COSTS = _file(
    "a cash book read as costs",
    Expenses,
    """
Datum;Text;Einnahme;Ausgabe
03.05.2026;Vase;45,00;
03.05.2026;Tüten;;7,00
03.05.2026;Beides;5,00;7,00
""",
    """
reject money-missing [Einnahme]
other 7.00 2026-05-03 for=Tüten
reject money-twice [Einnahme]
""",
    time_zone="Europe/Berlin",
    languages=("de",),
)


def test_a_cash_book_read_as_costs_gives_no_takings_for_costs() -> None:
    """By its name nobody would read it so: a person said that these are costs."""
    COSTS.check()


def test_a_list_of_fees_alone_is_told_how_to_be_taken() -> None:
    with pytest.raises(QuestionError) as asked:
        read("Date,Description,Fee amount\n2026-05-31,Monthly fee,9.00\n", CardReaderPayments())
    assert "say amount=Fee amount: they are then taken as fees" in asked.value.advice


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_an_answer_of_the_file_itself_is_not_asked_for(file: Messy) -> None:
    file.check()
