"""Messy exports of resale channels and payouts, and what a careful bookkeeper takes from each."""

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy

from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales

SALES, LISTINGS, PAYOUTS = ResaleSales, ResaleListings, CardReaderPayouts

FILES = (
    Messy(
        name="German orders: price, postage and fee; one cancelled; buyer's town beside",
        importer=SALES,
        codec="cp1252",
        options={"time_zone": "Europe/Berlin", "languages": ("de",)},
        data="""
Bestellnr.;Verkauft am;Artikelnummer;Artikel;Käufer;Ort;Preis;Versandkosten;Gesamt;Gebühr;Status
B-1;03.05.2025;9001;Mantel, Wolle, 38;mira_w;Lindau;60,00;4,50;64,50;5,16;Bezahlt
B-2;13.05.2025;9002;Schal;jo.k;Ulm;12,00;0,00;12,00;0,96;Storniert
B-3;14.05.2025;9003;Hut;an_na;Ulm;1.015,00;6,50;1.021,50;81,72;Versandt
""",
        says="""
sale 64.50 2025-05-03 online #B-1 @9001 fee=5.16 postage=4.50
skip not-completed
sale 1021.50 2025-05-14 online #B-3 @9003 fee=81.72 postage=6.50
""",
    ),
    Messy(
        name="price alone and postage on top, fees as minus with a net",
        importer=SALES,
        data="""
Order ID,Sold on,Item,Item price,Postage paid by buyer,Fee,Postage label cost,You receive
O1,2025-05-03,Blue jug,20.00,3.95,-2.40,-3.60,17.95
O2,2025-05-04,Tin box,8.00,2.95,-1.10,-2.80,7.05
O3,2025-05-06,Lamp,45.00,0.00,-4.50,0.00,40.50
""",
        says="""
sale 23.95 2025-05-03 online #O1 fee=2.40 postage=3.95 postage_cost=3.60
sale 10.95 2025-05-04 online #O2 fee=1.10 postage=2.95 postage_cost=2.80
sale 45.00 2025-05-06 online #O3 fee=4.50 postage=0.00 postage_cost=0.00
""",
    ),
    Messy(
        name="an order of two pieces, its total on both rows",
        importer=SALES,
        data="""
Order number,Date of sale,Item number,Title,Item price,Postage,Order total,Commission
7001,2025-05-03,A1,Jug,20.00,4.00,36.00,3.20
7001,2025-05-03,A2,Cup,12.00,4.00,36.00,3.20
7002,2025-05-04,A3,Hat,15.00,0.00,15.00,1.50
""",
        says="""
sale 24.00 2025-05-03 online #7001 / A1 @A1 fee=3.20 postage=4.00
sale 12.00 2025-05-03 online #7001 / A2 @A2
sale 15.00 2025-05-04 online #7002 @A3 fee=1.50 postage=0.00
""",
    ),
    Messy(
        name="several pieces at a price that may be each or all",
        importer=SALES,
        data="""
Sale date,Title,Qty,Price
2025-05-03,Beeswax candle,3,9.00
2025-05-04,Jug,1,20.00
""",
        says="""
reject price-of-several [Price]
sale 20.00 2025-05-04 online
""",
    ),
    Messy(
        name="French: refund row with its own number, names of buyers",
        importer=SALES,
        options={"time_zone": "Europe/Paris", "languages": ("fr",)},
        data="""
N° de commande;Date de vente;Titre de l'article;Acheteur;Type;Prix de vente;Frais de port;Commission
C100;12/05/2025;Veste en lin;Lou Exemple;Vente;35,00;4,99;2,80
C101;24/05/2025;Sac;Noé Exemple;Vente;18,00;3,99;1,44
C102;26/05/2025;Veste en lin;Lou Exemple;Remboursement;-35,00;-4,99;-2,80
""",
        says="""
sale 39.99 2025-05-12 online #C100 fee=2.80 postage=4.99
sale 21.99 2025-05-24 online #C101 fee=1.44 postage=3.99
refund -39.99 2025-05-26 online #C102 fee=-2.80 postage=-4.99
""",
    ),
    Messy(
        name="American: tax collected, total paid, month first settled late, pieces' own codes",
        importer=SALES,
        options={"currency": "USD", "time_zone": "America/New_York"},
        data="""
Sale Date,Order ID,SKU,Item Title,Subtotal,Shipping,Sales Tax,Order Total,Selling Fee
"May 3, 2025",88-1,QF7-P22,"Vase, 12"" tall",$24.00,$6.10,$2.41,$32.51,$3.25
"May 4, 2025",88-2,RM2-EKJ,Scarf,"$1,024.00",$0.00,$81.92,"$1,105.92",$110.59
"May 14, 2025",88-3,YNH-V23,Belt,$12.00,$4.10,$1.29,$17.39,$1.74
""",
        says="""
sale 32.51 USD 2025-05-03 online #88-1 fee=3.25 tax=2.41 postage=6.10 tag=QF7-P22
sale 1105.92 USD 2025-05-04 online #88-2 fee=110.59 tax=81.92 postage=0.00 tag=RM2-EKJ
sale 17.39 USD 2025-05-14 online #88-3 fee=1.74 tax=1.29 postage=4.10 tag=YNH-V23
""",
    ),
    Messy(
        name="Polish sales with blanks for thousands, a totals line in a column of its own",
        importer=SALES,
        codec="cp1250",
        options={"currency": "PLN", "time_zone": "Europe/Warsaw", "languages": ("pl",)},
        data="""
Data sprzedaży;Numer zamówienia;Przedmiot;Cena sprzedaży;Wysyłka;Prowizja
2025-05-03;Z1;Wełniany płaszcz;1 200,00 zł;15,00 zł;60,75 zł
2025-05-04;Z2;Miska;45,00 zł;12,00 zł;2,85 zł
Razem;;;1 245,00 zł;27,00 zł;63,60 zł
""",
        says="""
sale 1215.00 PLN 2025-05-03 online #Z1 fee=60.75 postage=15.00
sale 57.00 PLN 2025-05-04 online #Z2 fee=2.85 postage=12.00
skip totals
""",
    ),
    Messy(
        name="Japanese sales: fee and postage kept, yen without a sign",
        importer=SALES,
        options={"currency": "JPY", "time_zone": "Asia/Tokyo", "languages": ("ja",)},
        data="""
販売日,商品名,販売価格,販売手数料,送料,販売利益
2025/05/03,絹のスカーフ,3200,320,0,2880
2025/05/04,茶碗,"12,000",1200,0,10800
""",
        says="""
sale 3200 JPY 2025-05-03 online fee=320 postage=0
sale 12000 JPY 2025-05-04 online fee=1200 postage=0
""",
    ),
    Messy(
        name="a sale whose piece is named by blanks only",
        importer=SALES,
        data="""
Sold on,Title,Price
2025-05-03,Jug,20.00
2025-05-03,   ,12.00
2025-05-04,,14.00
""",
        says="""
sale 20.00 2025-05-03 online
reject title-blank [Title]
reject title-blank [Title]
""",
    ),
    Messy(
        name="listings: states, doubled price, a blank name, prices on request",
        importer=LISTINGS,
        data="""
Listing ID,Title,Price,Quantity,Status,Listed on,Ended on
L1,Blue jug,€20.00,1,Active,2025-04-01,
L2,Beeswax candle,€4.50,6,Active,2025-04-01,
L3,   ,€12.00,1,Active,2025-04-02,
L4,Tin box,,1,Draft,2025-04-02,
L5,Coat,"€1,060.00",1,Sold,2025-04-03,2025-05-03
L6,Hat,€15.00,1,Gone fishing,2025-04-03,
,Belt,€9.00,1,Active,2025-04-03,
""",
        says="""
listing L1 20.00 live “Blue jug” since=2025-04-01
listing L2 4.50 live “Beeswax candle” x6 since=2025-04-01
reject title-blank [Title]
listing L4 ? ended “Tin box” since=2025-04-02
listing L5 1060.00 sold “Coat” since=2025-04-03 until=2025-05-03
reject state-unknown [Status]
reject reference-missing [Listing ID]
""",
    ),
    Messy(
        name="German listings with a note in two lines and own codes",
        importer=LISTINGS,
        options={"languages": ("de",)},
        data="""
Artikelnummer;Titel;Preis;Status;Eingestellt am;Etikett
501;"Kleid
geblümt";29,90;aktiv;01.04.2025;2JP-C3X
502;Krug;1.100,00;beendet;15.04.2025;QF7-P22
""",
        says="""
listing 501 29.90 live “Kleid / geblümt” tag=2JP-C3X since=2025-04-01
listing 502 1100.00 ended “Krug” tag=QF7-P22 since=2025-04-15
""",
    ),
    Messy(
        name="payouts: gross, fees, refunds and net; one under way, one of several currencies",
        importer=PAYOUTS,
        data="""
Payout ID,Arrived on,Currency,Gross,Fees,Net,Status,Payments
P1,2025-05-05,EUR,100.00,1.75,98.25,paid,"T1, T2, T3"
P2,2025-05-06,EUR,80.00,1.40,78.60,paid,T4
P3,2025-05-07,GBP,20.00,0.35,19.65,paid,T5
P4,2025-05-08,EUR,50.00,0.88,49.12,in transit,T6
P5,2025-05-09,EUR,50.00,0.88,49.21,paid,T7
P6,2025-05-09,EUR,10.00,0.18,9.82,paid,T8
""",
        says="""
payout 98.25 2025-05-05 transfer #P1 fee=1.75 covers=T1,T2,T3
payout 78.60 2025-05-06 transfer #P2 fee=1.40 covers=T4
payout 19.65 GBP 2025-05-07 transfer #P3 fee=0.35 covers=T5
skip not-completed
reject sums-disagree [Net]
payout 9.82 2025-05-09 transfer #P6 fee=0.18 covers=T8
""",
    ),
    Messy(
        name="German payouts: fees as minus, sum below, two lines above",
        importer=PAYOUTS,
        options={"time_zone": "Europe/Berlin", "languages": ("de",)},
        data="""
Auszahlungsbericht;;;;
Mai 2025;;;;
Auszahlungsdatum;Auszahlungsnummer;Brutto;Gebühren;Netto
05.05.2025;AZ-1;1.307,00;-22,88;1.284,12
06.05.2025;AZ-2;45,00;-0,79;44,21
Summe;;1.352,00;-23,67;1.328,33
""",
        says="""
payout 1284.12 2025-05-05 transfer #AZ-1 fee=22.88
payout 44.21 2025-05-06 transfer #AZ-2 fee=0.79
skip totals
""",
    ),
    Messy(
        name="a payout that fetched money back from the account",
        importer=PAYOUTS,
        data="""
Payout ID,Payout date,Net amount
P1,2025-05-05,98.25
P2,2025-05-06,-12.00
""",
        says="""
payout 98.25 2025-05-05 transfer #P1
payout -12.00 2025-05-06 transfer #P2
""",
    ),
    Messy(
        name="Italian sales: month names, euro words, the fee as a part of the price",
        importer=SALES,
        options={"time_zone": "Europe/Rome", "languages": ("it",)},
        data="""
Venduto il|Numero ordine|Titolo|Prezzo di vendita|Spedizione|Commissione
3 maggio 2025|O-1|Borsa|30,00 EUR|5,00 EUR|3,00 EUR
4 maggio 2025|O-2|Cintura|1.012,00 EUR|0,00 EUR|101,20 EUR
""",
        says="""
sale 35.00 2025-05-03 online #O-1 fee=3.00 postage=5.00
sale 1012.00 2025-05-04 online #O-2 fee=101.20 postage=0.00
""",
    ),
    Messy(
        name="Swedish sales in kronor, read by a shop that counts in euro",
        importer=SALES,
        options={"time_zone": "Europe/Stockholm", "languages": ("sv",)},
        data="""
Såld den;Titel;Försäljningspris
2025-05-03;Kappa;450,00 kr
2025-05-04;Skål;120,00 kr
""",
        says="ask file_currency",
    ),
    Messy(
        name="a discount nobody places, and one the total shows",
        importer=SALES,
        data="""
Order ID,Sold on,Title,Price,Discount,Total
O1,2025-05-03,Jug,20.00,2.00,18.00
O2,2025-05-03,Cup,12.00,0.00,12.00
O3,2025-05-04,Hat,15.00,1.50,13.50
O4,2025-05-05,Coat,60.00,0.00,60.00
O5,2025-05-05,Belt,9.00,1.00,9.00
""",
        says="""
sale 18.00 2025-05-03 online #O1
sale 12.00 2025-05-03 online #O2
sale 13.50 2025-05-04 online #O3
sale 60.00 2025-05-05 online #O4
reject sums-disagree [Total]
""",
    ),
    Messy(
        name="returned goods told by a state, the amount still above nought",
        importer=SALES,
        data="""
Order ID,Sold on,Title,Price,State
O1,2025-05-03,Jug,20.00,Delivered
O2,2025-05-03,Cup,12.00,Returned
""",
        says="""
sale 20.00 2025-05-03 online #O1
sale 12.00 2025-05-03 online #O2 refunded=12.00 refunded
""",
    ),
)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_messy_channel_export_is_read_as_a_bookkeeper_would(file: Messy) -> None:
    file.check()
