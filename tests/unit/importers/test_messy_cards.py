"""Messy exports of card readers, and what a careful bookkeeper takes from each."""

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy

from stallkeep_importers.card_reader_payments import CardReaderPayments

CARDS = CardReaderPayments
DE: dict[str, object] = {"time_zone": "Europe/Berlin", "languages": ("de", "en")}

STRANGE_KINDS = """
Date,Ref,Bookkeeping class,Amount
2025-05-03,R1,Sale,12.50
2025-05-03,R2,Sale,40.00
2025-05-04,R3,Refund,12.50
2025-05-05,R4,Payout,40.00
"""
STRANGE_STATES = """
Date,Ref,Amount,How it went
2025-05-03,R1,12.50,Approved
2025-05-03,R2,40.00,Declined
2025-05-03,R3,40.00,Approved
"""
STRANGE_SIDES = """
Date,Amount,Debit/Credit
2025-05-03,12.50,Debit
2025-05-03,40.00,Credit
"""

FILES = (
    Messy(
        name="German report: lines above, tip within by its own net, declined try, refund, sum",
        importer=CARDS,
        codec="cp1252",
        options=DE,
        data="""
Umsatzbericht;;;;;;;
Händler: Fundgrube Lindenhof;;;;;;;
Zeitraum: 03.05.2025 bis 04.05.2025;;;;;;;

Datum;Uhrzeit;Belegnr.;Art;Betrag;Trinkgeld;Gebühr;Netto;Status
03.05.2025;10:12;A-001;Zahlung;12,00;2,00;0,21;11,79;Erfolgreich
03.05.2025;10:40;A-002;Zahlung;1.250,00;0,00;21,88;1.228,12;Erfolgreich
03.05.2025;10:41;A-003;Zahlung;45,00;0,00;0,00;45,00;Abgelehnt
03.05.2025;11:02;A-004;Zahlung;45,00;0,00;0,79;44,21;Erfolgreich
04.05.2025;09:15;A-005;Erstattung;-12,00;-2,00;0,00;-12,00;Erfolgreich
Summe;;;;1.295,00;0,00;22,88;1.272,12;
""",
        says="""
payment 12.00 2025-05-03T10:12+02:00 card #A-001 fee=0.21 tip=2.00
payment 1250.00 2025-05-03T10:40+02:00 card #A-002 fee=21.88 tip=0.00
skip not-completed
payment 45.00 2025-05-03T11:02+02:00 card #A-004 fee=0.79 tip=0.00
refund -12.00 2025-05-04T09:15+02:00 card #A-005 fee=0.00 tip=-2.00
skip totals
""",
    ),
    Messy(
        name="French: tax within the price paid, thin spaces, euro behind, marked UTF-8",
        importer=CARDS,
        codec="utf-8-sig",
        options={"time_zone": "Europe/Paris", "languages": ("fr",)},
        data="""
Date;Heure;N° transaction;Montant TTC;dont TVA;Pourboire;Commission;Statut;Libellé
17/05/2025;09 h 05;7781;1 234,50 €;205,75 €;;21,60 €;Payé;manteau
17/05/2025;09 h 31;7782;18,00 €;3,00 €;;0,32 €;Payé;"foulard; soie"
17/05/2025;10 h 02;7783;24,00 €;4,00 €;;0,42 €;Refusé;
17/05/2025;10 h 03;7784;24,00 €;4,00 €;;0,42 €;Payé;
""",
        says="""
payment 1234.50 2025-05-17T09:05+02:00 card #7781 fee=21.60 tax=205.75
payment 18.00 2025-05-17T09:31+02:00 card #7782 fee=0.32 tax=3.00
skip not-completed
payment 24.00 2025-05-17T10:03+02:00 card #7784 fee=0.42 tax=4.00
""",
    ),
    Messy(
        name="Spanish: day first settled by one row, CR and DR behind the amount",
        importer=CARDS,
        options={"time_zone": "Europe/Madrid", "languages": ("es",)},
        data="""
Fecha y hora,Referencia,Importe,Comisión,Estado
05/04/2025 14:22,R1,"12,50 CR","0,20",Pagado
25/04/2025 14:25,R2,"1.012,50 CR","16,20",Pagado
26/04/2025 09:00,R3,"12,50 DR","0,00",Pagado
""",
        says="""
payment 12.50 2025-04-05T14:22+02:00 card #R1 fee=0.20
payment 1012.50 2025-04-25T14:25+02:00 card #R2 fee=16.20
refund -12.50 2025-04-26T09:00+02:00 card #R3 fee=0.00
""",
    ),
    Messy(
        name="a column beside the amount says debit or credit",
        importer=CARDS,
        data="""
Date,Reference,Amount,Dr/Cr,Narrative
2025-05-03,R1,12.50,CR,cup
2025-05-03,R2,40.00,CR,coat
2025-05-04,R3,12.50,DR,cup came back
""",
        says="""
payment 12.50 2025-05-03 card #R1
payment 40.00 2025-05-03 card #R2
refund -12.50 2025-05-04 card #R3
""",
    ),
    Messy(
        name="kinds of rows under a heading nobody knows",
        importer=CARDS,
        data=STRANGE_KINDS,
        says="ask columns",
    ),
    Messy(
        name="kinds of rows under a heading nobody knew, answered",
        importer=CARDS,
        options={"columns": {"kind": "Bookkeeping class"}},
        data=STRANGE_KINDS,
        says="""
payment 12.50 2025-05-03 card #R1
payment 40.00 2025-05-03 card #R2
refund -12.50 2025-05-04 card #R3
payout 40.00 2025-05-05 card #R4
""",
    ),
    Messy(
        name="states of rows under a heading nobody knows",
        importer=CARDS,
        data=STRANGE_STATES,
        says="ask columns",
    ),
    Messy(
        name="states of rows under a heading nobody knew, answered",
        importer=CARDS,
        options={"columns": {"state": "How it went"}},
        data=STRANGE_STATES,
        says="""
payment 12.50 2025-05-03 card #R1
skip not-completed
payment 40.00 2025-05-03 card #R3
""",
    ),
    Messy(
        name="debit and credit that may be cards or ways of the money",
        importer=CARDS,
        data=STRANGE_SIDES,
        says="ask columns",
    ),
    Messy(
        name="debit and credit that were kinds of card",
        importer=CARDS,
        options={"columns": {"side": ""}},
        data=STRANGE_SIDES,
        says="""
payment 12.50 2025-05-03 card
payment 40.00 2025-05-03 card
""",
    ),
    Messy(
        name="Italian: comma decimals in quotes, tip on top of the amount by the net",
        importer=CARDS,
        options={"time_zone": "Europe/Rome", "languages": ("it",)},
        data="""
"Data","Ora","Importo","Mancia","Commissione","Netto","Stato"
"07/06/2025","10:30:15","20,00","2,00","0,39","21,61","Pagato"
"07/06/2025","11:00:00","8,00","0,00","0,14","7,86","Pagato"
"27/06/2025","11:30:00","1.100,00","0,00","19,25","1.080,75","Pagato"
""",
        says="""
payment 22.00 2025-06-07T10:30+02:00 15s card fee=0.39 tip=2.00
payment 8.00 2025-06-07T11:00+02:00 card fee=0.14 tip=0.00
payment 1100.00 2025-06-27T11:30+02:00 card fee=19.25 tip=0.00
""",
    ),
    Messy(
        name="Dutch: tabs, minus behind, euro before, month names",
        importer=CARDS,
        codec="utf-16",
        options={"time_zone": "Europe/Amsterdam", "languages": ("nl",)},
        data="""
Datum\tTijd\tOmschrijving\tBedrag\tKosten\tStatus
3 mei 2025\t10.15 uur\ttheekop\t€ 12,50\t€ 0,22\tBetaald
3 mei 2025\t10.20 uur\tjas, wol\t€ 1.045,00\t€ 18,29\tBetaald
4 mei 2025\t09.00 uur\ttheekop terug\t€ 12,50-\t€ 0,00\tBetaald
""",
        says="""
payment 12.50 2025-05-03T10:15+02:00 card fee=0.22
payment 1045.00 2025-05-03T10:20+02:00 card fee=18.29
refund -12.50 2025-05-04T09:00+02:00 card fee=0.00
""",
    ),
    Messy(
        name="Portuguese: gross, rate as minus, net; cancelled row",
        importer=CARDS,
        options={"time_zone": "Europe/Lisbon", "languages": ("pt",)},
        data="""
Data;Hora;Valor bruto;Taxa;Valor líquido;Estado
10-05-2025;10:00;20,00;-0,36;19,64;Pago
10-05-2025;10:30;35,50;-0,64;34,86;Pago
13-05-2025;10:45;35,50;-0,64;34,86;Cancelado
""",
        says="""
payment 20.00 2025-05-10T10:00+01:00 card fee=0.36
payment 35.50 2025-05-10T10:30+01:00 card fee=0.64
skip not-completed
""",
    ),
    Messy(
        name="Swedish: kr in a Swedish shop, no-break spaces, ISO days",
        importer=CARDS,
        codec="cp1252",
        options={"currency": "SEK", "time_zone": "Europe/Stockholm", "languages": ("sv",)},
        data="""
Datum;Tid;Kvitto;Belopp;Dricks;Avgift;Totalt
2025-05-10;12:05;501;1 250,00 kr;0,00 kr;18,75 kr;1 250,00 kr
2025-05-10;12:15;502;80,00 kr;20,00 kr;1,50 kr;100,00 kr
2025-05-10;12:20;503;45,50 kr;0,00 kr;0,68 kr;45,50 kr
""",
        says="""
payment 1250.00 SEK 2025-05-10T12:05+02:00 card #501 fee=18.75 tip=0.00
payment 100.00 SEK 2025-05-10T12:15+02:00 card #502 fee=1.50 tip=20.00
payment 45.50 SEK 2025-05-10T12:20+02:00 card #503 fee=0.68 tip=0.00
""",
    ),
    Messy(
        name="Danish: kl. before the time, kr. behind, points in thousands",
        importer=CARDS,
        options={"currency": "DKK", "time_zone": "Europe/Copenhagen", "languages": ("da",)},
        data="""
Dato;Beløb;Gebyr;Status
03-05-2025 kl. 14.22;1.250,00 kr.;22,00 kr.;Betalt
03-05-2025 kl. 14.40;75,50 kr.;1,33 kr.;Betalt
23-05-2025 kl. 09.10;75,50 kr.;1,33 kr.;Afvist
""",
        says="""
payment 1250.00 DKK 2025-05-03T14:22+02:00 card fee=22.00
payment 75.50 DKK 2025-05-03T14:40+02:00 card fee=1.33
skip not-completed
""",
    ),
    Messy(
        name="Polish in its own code page: zł, commas, month in words",
        importer=CARDS,
        codec="cp1250",
        options={"currency": "PLN", "time_zone": "Europe/Warsaw", "languages": ("pl",)},
        data="""
Data transakcji;Kwota;Napiwek;Kwota razem;Prowizja;Status;Uwagi
3 maja 2025 10:15;120,00 zł;0,00 zł;120,00 zł;1,80 zł;Opłacone;płaszcz wełniany
3 maja 2025 10:45;50,00 zł;5,00 zł;55,00 zł;0,83 zł;Opłacone;
3 maja 2025 11:00;50,00 zł;0,00 zł;50,00 zł;0,75 zł;Odrzucona;
""",
        says="""
payment 120.00 PLN 2025-05-03T10:15+02:00 card fee=1.80 tip=0.00
payment 55.00 PLN 2025-05-03T10:45+02:00 card fee=0.83 tip=5.00
skip not-completed
""",
    ),
    Messy(
        name="Czech: Kč behind, points with blanks in dates",
        importer=CARDS,
        options={"currency": "CZK", "time_zone": "Europe/Prague", "languages": ("cs",)},
        data="""
Datum;Čas;Částka;Poplatek;Stav
3. 5. 2025;9:05;1 250,00 Kč;18,75 Kč;Zaplaceno
3. 5. 2025;9:15;90 Kč;1,35 Kč;Zaplaceno
4. 5. 2025;9:20;90 Kč;1,35 Kč;Zrušeno
""",
        says="""
payment 1250.00 CZK 2025-05-03T09:05+02:00 card fee=18.75
payment 90.00 CZK 2025-05-03T09:15+02:00 card fee=1.35
skip not-completed
""",
    ),
    Messy(
        name="Japanese: yen before, wide digits, kanji dates, its own code page",
        importer=CARDS,
        codec="cp932",
        options={"currency": "JPY", "time_zone": "Asia/Tokyo", "languages": ("ja",)},
        data="""
日付,時刻,金額,手数料,状態,備考
2025年5月3日,10時15分,"￥12,500",￥406,完了,着物
2025年5月3日,10時30分,１２００円,３９円,完了,
2025年5月3日,10時40分,￥800,￥26,失敗,
""",
        says="""
payment 12500 JPY 2025-05-03T10:15+09:00 card fee=406
payment 1200 JPY 2025-05-03T10:30+09:00 card fee=39
skip not-completed
""",
    ),
    Messy(
        name="American: twelve hours, brackets for money back, tax and tip in a total collected",
        importer=CARDS,
        options={"currency": "USD", "time_zone": "America/Chicago"},
        data="""
Date,Time,Transaction ID,Net Sales,Tax,Tip,Total Collected,Fees,Net Total
05/03/2025,9:05 AM,T1,$20.00,$1.65,$3.00,$24.65,($0.74),$23.91
05/03/2025,12:10 PM,T2,"$1,100.00",$90.75,$0.00,"$1,190.75",($31.07),"$1,159.68"
05/14/2025,12:30 AM,T3,($20.00),($1.65),($3.00),($24.65),$0.00,($24.65)
Total,,,"$1,100.00",$90.75,$0.00,"$1,190.75",($31.81),"$1,158.94"
""",
        says="""
payment 24.65 USD 2025-05-03T09:05-05:00 card #T1 fee=0.74 tip=3.00 tax=1.65
payment 1190.75 USD 2025-05-03T12:10-05:00 card #T2 fee=31.07 tip=0.00 tax=90.75
refund -24.65 USD 2025-05-14T00:30-05:00 card #T3 fee=0.00 tip=-3.00 tax=-1.65
skip totals
""",
    ),
    Messy(
        name="the night the clocks go back, nothing said",
        importer=CARDS,
        options=DE,
        data="""
Datum;Uhrzeit;Betrag
26.10.2025;01:50;10,00
26.10.2025;02:30;12,00
26.10.2025;03:10;14,00
""",
        says="ask clock_change",
    ),
    Messy(
        name="the night the clocks go back, answered; the night they go forward",
        importer=CARDS,
        options={**DE, "clock_change": "later"},
        data="""
Datum;Uhrzeit;Betrag
26.10.2025;01:50;10,00
26.10.2025;02:30;12,00
30.03.2025;02:30;14,00
30.03.2025;03:30;14,00
""",
        says="""
payment 10.00 2025-10-26T01:50+02:00 card
payment 12.00 2025-10-26T02:30+01:00 card
reject time-never-was [Uhrzeit]
payment 14.00 2025-03-30T03:30+02:00 card
""",
    ),
    Messy(
        name="disputes lost and won, fees of their own, a reserve",
        importer=CARDS,
        data="""
Date,ID,Type,Amount,Original transaction
2025-05-03,T1,Sale,60.00,
2025-05-09,D1,Chargeback,-60.00,T1
2025-05-09,F1,Fee,-15.00,D1
2025-06-02,D2,Dispute won,60.00,T1
2025-06-03,P1,Payout,-45.00,
""",
        says="""
payment 60.00 2025-05-03 card #T1
adjustment -60.00 2025-05-09 card #D1 ^T1 dispute
fee -15.00 2025-05-09 card #F1 ^D1
adjustment 60.00 2025-06-02 card #D2 ^T1 dispute_reversed
payout 45.00 2025-06-03 card #P1
""",
    ),
    Messy(
        name="a surcharge nothing places",
        importer=CARDS,
        data="""
Date,Amount,Surcharge
2025-05-03,10.00,0.15
2025-05-03,20.00,0.30
""",
        says="ask surcharge_is",
    ),
    Messy(
        name="a tip larger than the payment",
        importer=CARDS,
        options={"tip_is": "within"},
        data="""
Date,Amount,Tip
2025-05-03,10.00,2.00
2025-05-03,12.00,120.00
2025-05-04,-12.00,-120.00
""",
        says="""
payment 10.00 2025-05-03 card tip=2.00
reject part-too-large [Tip]
reject part-too-large [Tip]
""",
    ),
    Messy(
        name="instalments, and a payment paid back in part on its own row",
        importer=CARDS,
        data="""
Date,Receipt,Amount,Instalment,Amount refunded,Status
2025-05-03,R1,40.00,1/3,,Paid
2025-06-03,R2,40.00,2/3,,Paid
2025-05-03,R3,25.00,,5.00,Partially refunded
2025-05-03,R4,25.00,,25.00,Refunded
""",
        says="""
payment 40.00 2025-05-03 card #R1 instalment
payment 40.00 2025-06-03 card #R2 instalment
payment 25.00 2025-05-03 card #R3 refunded=5.00 partly_refunded
payment 25.00 2025-05-03 card #R4 refunded=25.00 refunded
""",
    ),
    Messy(
        name="pages: headings again, page numbers, a subtotal for each day, a remark at the end",
        importer=CARDS,
        data="""
Date,Time,Amount,Card
2025-05-03,10:00,10.00,debit
2025-05-03,11:00,20.00,debit
Subtotal,,30.00,
Page 1 of 2
Date,Time,Amount,Card
2025-05-04,10:00,5.00,debit
2025-05-04,10:05,7.50,debit
Subtotal,,12.50,
Grand total,,42.50,
Printed 2025-05-05 by the office
""",
        says="""
payment 10.00 2025-05-03T10:00+00:00 card
payment 20.00 2025-05-03T11:00+00:00 card
skip totals
skip between-pages
skip repeated-heading
payment 5.00 2025-05-04T10:00+00:00 card
payment 7.50 2025-05-04T10:05+00:00 card
skip totals
skip totals
skip below-table
""",
    ),
    Messy(
        name="a comma in a note nobody quoted",
        importer=CARDS,
        data="""
Date,Amount,Note
2025-05-03,10.00,cup
2025-05-03,12.00,scarf, red
2025-05-03,14.00,hat
""",
        says="""
payment 10.00 2025-05-03 card
reject ragged-record
payment 14.00 2025-05-03 card
""",
    ),
    Messy(
        name="a decimal comma nobody quoted, in every row",
        importer=CARDS,
        data="""
Date,Amount,Note
2025-05-03,10,50,cup
2025-05-03,12,00,scarf
2025-05-03,14,95,hat
""",
        says="""
reject ragged-record
reject ragged-record
reject ragged-record
""",
    ),
    Messy(
        name="two currencies by column, one row without",
        importer=CARDS,
        data="""
Date,Amount,Currency
2025-05-03,10.00,EUR
2025-05-03,12.00,GBP
2025-05-03,14.00,
2025-05-03,1500,JPY
2025-05-03,1.5,XXQ
""",
        says="""
payment 10.00 2025-05-03 card
payment 12.00 GBP 2025-05-03 card
payment 14.00 2025-05-03 card
payment 1500 JPY 2025-05-03 card
reject currency-unknown [Currency]
""",
    ),
    Messy(
        name="days that are a spreadsheet's numbers",
        importer=CARDS,
        data="""
Date,Amount
45780,10.00
45781,12.00
""",
        says="ask columns",
    ),
    Messy(
        name="the second table of a day's report below the first",
        importer=CARDS,
        data="""
Date,Amount,Fee
2025-05-03,10.00,0.20
2025-05-03,12.00,0.24

Payout date,Payout ID,Net
2025-05-05,P1,21.56
""",
        says="refuse two-tables",
    ),
    Messy(
        name="cut off in the middle of the last amount",
        importer=CARDS,
        data="""
Date,Amount
2025-05-03,10.00
2025-05-03,12.00
2025-05-03,14.0""",
        says="refuse cut-short",
    ),
    Messy(
        name="cents under a heading that says so, signs by word",
        importer=CARDS,
        data="""
created_at,transaction_id,amount_in_cents,fee_in_cents,type
2025-05-03T10:00:00Z,T1,1250,22,payment
2025-05-03T10:05:00Z,T2,100000,1750,payment
2025-05-04T10:05:00Z,T3,1250,0,refund
""",
        says="""
payment 12.50 2025-05-03T10:00+00:00 card #T1 fee=0.22
payment 1000.00 2025-05-03T10:05+00:00 card #T2 fee=17.50
refund -12.50 2025-05-04T10:05+00:00 card #T3 fee=0.00
""",
    ),
    Messy(
        name="three digits behind a point, all rows alike",
        importer=CARDS,
        data="""
Date,Amount
2025-05-03,1.250
2025-05-03,2.100
""",
        says="ask decimal_mark",
    ),
)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_messy_card_export_is_read_as_a_bookkeeper_would(file: Messy) -> None:
    file.check()
