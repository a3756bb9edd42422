"""Exports of card terminals: several fees, the host's codes, scripts of other places."""

# ruff: noqa: E501, RUF001 - the odd signs are the subject, and exports are wide

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy
from tests.unit.importers.reading import asked, read

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.contract import Importer
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.rows.response_codes import answer


def _file(
    name: str,
    importer: type[Importer],
    data: str,
    says: str,
    codec: str = "utf-8",
    **options: object,
) -> Messy:
    return Messy(name=name, importer=importer, data=data, says=says, codec=codec, options=options)


FILES = (
    _file(
        "a processing fee and a fixed fee, net beside them",
        CardReaderPayments,
        """
Date,Time,Payment ID,Gross,Processing fee,Fixed fee,Net,Note
2026-05-03,10:14:00,PX-1001,45.00,0.76,0.10,44.14,green vase
2026-05-03,10:31:00,PX-1002,12.50,0.21,0.10,12.19,
2026-05-03,11:02:00,PX-1003,120.00,2.03,0.10,117.87,coat
""",
        """
payment 45.00 GBP 2026-05-03T10:14+01:00 card #PX-1001 fee=0.86
payment 12.50 GBP 2026-05-03T10:31+01:00 card #PX-1002 fee=0.31
payment 120.00 GBP 2026-05-03T11:02+01:00 card #PX-1003 fee=2.13
""",
        currency="GBP",
        time_zone="Europe/London",
    ),
    _file(
        "two fees written as minus, a sum below",
        CardReaderPayments,
        """
Buchungstag;Beleg;Umsatz brutto;Provision;Fixe Gebühr;Auszahlungsbetrag
03.05.2026;7701;45,00;-0,79;-0,10;44,11
13.05.2026;7703;1.120,00;-19,60;-0,10;1.100,30
Summe;;1.165,00;-20,39;-0,20;1.144,41
""",
        """
payment 45.00 2026-05-03 card #7701 fee=0.89
payment 1120.00 2026-05-13 card #7703 fee=19.70
skip totals
""",
        codec="cp1252",
        languages=("de",),
    ),
    _file(
        "a percentage, a fixed sum and the tax on both",
        CardReaderPayments,
        """
Date;N° de transaction;Montant TTC;Commission;Frais fixes;TVA sur commission;Montant net
03/05/2026;A-1;45,00 €;0,75 €;0,10 €;0,17 €;43,98 €
23/05/2026;A-2;12,50 €;0,21 €;0,10 €;0,06 €;12,13 €
""",
        """
payment 45.00 2026-05-03 card #A-1 fee=1.02
payment 12.50 2026-05-23 card #A-2 fee=0.37
""",
        languages=("fr",),
    ),
    _file(
        "a whole fee beside the fees it is made of",
        CardReaderPayments,
        """
Date,Payment ID,Amount,Processing fee,Fixed fee,Total fees
2026-05-03,PX-1001,45.00,0.76,0.10,0.86
2026-05-04,PX-1002,12.50,0.21,0.10,0.31
""",
        """
payment 45.00 2026-05-03 card #PX-1001 fee=0.86
payment 12.50 2026-05-04 card #PX-1002 fee=0.31
""",
    ),
    _file(
        "a fixed fee that the net shows is no further one",
        CardReaderPayments,
        """
Date,Payment ID,Gross,Processing fee,Fixed fee,Net
2026-05-03,PX-1001,45.00,0.76,0.10,44.24
2026-05-04,PX-1002,12.50,0.21,0.10,12.29
""",
        """
payment 45.00 2026-05-03 card #PX-1001 fee=0.76
payment 12.50 2026-05-04 card #PX-1002 fee=0.21
""",
    ),
    _file(
        "a second fee that is nought but in one row",
        CardReaderPayments,
        """
Date,Payment ID,Gross,Processing fee,Chargeback fee,Net
2026-05-03,PX-1001,45.00,0.76,0.00,44.24
2026-05-04,PX-1002,12.50,0.21,0.00,12.29
2026-05-05,PX-1003,12.50,0.21,15.00,-2.71
""",
        """
payment 45.00 2026-05-03 card #PX-1001 fee=0.76
payment 12.50 2026-05-04 card #PX-1002 fee=0.21
payment 12.50 2026-05-05 card #PX-1003 fee=15.21
""",
    ),
    _file(
        "two fees, and a person says that they add up",
        ResaleSales,
        """
Sold on,Title,Price,Commission,Payment fee
2026-05-03,Jug,10.00,1.00,0.30
2026-05-03,Cup,20.00,2.00,0.40
""",
        """
sale 10.00 2026-05-03 online fee=1.30
sale 20.00 2026-05-03 online fee=2.40
""",
        columns={"fee": "Commission", "fee_2": "Payment fee"},
    ),
    _file(
        "a fee by its last word, which the net does not bear out",
        ResaleSales,
        """
Sold on,Title,Sale price,Wrapping fee,Net
2026-05-03,Jug,10.00,1.00,10.00
2026-05-03,Cup,20.00,2.00,20.00
""",
        "ask columns",
    ),
    _file(
        "a fee by its last word, which the net bears out",
        ResaleSales,
        """
Sold on,Title,Sale price,Boutique fee,Net
2026-05-03,Jug,10.00,1.00,9.00
2026-05-03,Cup,20.00,2.00,18.00
""",
        """
sale 10.00 2026-05-03 online fee=1.00
sale 20.00 2026-05-03 online fee=2.00
""",
    ),
    _file(
        "two taxes in a file of one row",
        CardReaderPayments,
        """
Date,Receipt #,Subtotal,GST,PST,Total
2026-05-03,R-1,40.00,2.00,2.80,44.80
""",
        "payment 44.80 2026-05-03 card #R-1 tax=4.80",
    ),
    _file(
        "a fee the trade's words name by its last word only",
        ResaleSales,
        """
Sold on,Title,Sale price,Boutique fee,Buyer fee
2026-05-03,Jug,10.00,1.00,0.70
2026-05-03,Cup,20.00,2.00,0.70
""",
        """
sale 10.00 2026-05-03 online fee=1.00
sale 20.00 2026-05-03 online fee=2.00
""",
    ),
    _file(
        "sales: three fees and the postage paid are what the payout leaves",
        ResaleSales,
        """
Order number,Order date,Item title,Sold for,Postage paid by buyer,Selling fee,Fixed fee,Payment processing fee,Postage label,Payout
ORD-1,3 May 2026,"Vase, blue",45.00,3.50,4.50,0.30,1.10,3.20,39.40
ORD-2,14 May 2026,Coat,120.00,0.00,12.00,0.30,2.90,0.00,104.80
""",
        """
sale 48.50 2026-05-03 online #ORD-1 fee=5.90 postage=3.50 postage_cost=3.20
sale 120.00 2026-05-14 online #ORD-2 fee=15.20 postage=0.00 postage_cost=0.00
""",
    ),
    _file(
        "payouts: two kinds of fees and refunds taken off",
        CardReaderPayouts,
        """
Payout date,Payout ID,Gross sales,Processing fees,Chargeback fees,Refunds,Net payout
2026-05-05,PO-1,500.00,8.75,15.00,40.00,436.25
2026-05-12,PO-2,100.00,1.75,0.00,0.00,98.25
""",
        """
payout 436.25 2026-05-05 transfer #PO-1 fee=23.75
payout 98.25 2026-05-12 transfer #PO-2 fee=1.75
""",
    ),
    _file(
        "a fixed cost under a heading of more than one word",
        ResaleSales,
        """
Ordine;Data vendita;Articolo;Prezzo di vendita;Commissione;Costo fisso;Importo accreditato
IT1;03/05/2026;Vaso blu;€ 45,00;€ 4,50;€ 0,35;€ 40,15
IT2;13/05/2026;Tazza;€ 1.080,00;€ 108,00;€ 0,35;€ 971,65
""",
        """
sale 45.00 2026-05-03 online #IT1 fee=4.85
sale 1080.00 2026-05-13 online #IT2 fee=108.35
""",
        languages=("it",),
    ),
    _file(
        "what the sums show to be taken off, under a heading nobody knows",
        CardReaderPayouts,
        """
Payout ID,Payout date,Gross,Fee,Blorp,Net
W-1,2026-05-05,500.00,7.50,1.73,490.77
W-2,2026-05-15,1100.00,16.50,3.80,1079.70
""",
        "ask columns",
    ),
    _file(
        "what the sums show to be taken off is no fee, answered",
        CardReaderPayouts,
        """
Payout ID,Payout date,Gross,Fee,Blorp,Net
W-1,2026-05-05,500.00,7.50,1.73,490.77
W-2,2026-05-15,1100.00,16.50,3.80,1079.70
""",
        """
payout 490.77 2026-05-05 transfer #W-1 fee=7.50
payout 1079.70 2026-05-15 transfer #W-2 fee=16.50
""",
        columns={"fee_2": ""},
    ),
    _file(
        "amounts that have nothing to do with the net",
        CardReaderPayouts,
        """
Payout ID,Payout date,Gross,Fee,Blorp,Net
W-1,2026-05-05,500.00,7.50,1.73,492.50
W-2,2026-05-15,1100.00,16.50,3.80,1083.50
""",
        """
payout 492.50 2026-05-05 transfer #W-1 fee=7.50
payout 1083.50 2026-05-15 transfer #W-2 fee=16.50
""",
    ),
    _file(
        "no under Approved",
        CardReaderPayments,
        """
Date,Payment ID,Amount,Approved
2026-05-03,P1,45.00,Yes
2026-05-03,P2,12.50,No
""",
        """
payment 45.00 2026-05-03 card #P1
skip not-completed
""",
    ),
    _file(
        "no under Approved, answered",
        CardReaderPayments,
        """
Date,Payment ID,Amount,Approved
2026-05-03,P1,45.00,Yes
2026-05-03,P2,12.50,No
""",
        """
payment 45.00 2026-05-03 card #P1
skip not-completed
""",
        columns={"state": "Approved"},
    ),
    _file(
        "yes and nothing else under Approved",
        CardReaderPayments,
        """
Date,Payment ID,Amount,Approved
2026-05-03,P1,45.00,Yes
2026-05-03,P2,12.50,Yes
""",
        """
payment 45.00 2026-05-03 card #P1
payment 12.50 2026-05-03 card #P2
""",
    ),
    _file(
        "declined, said in the note alone",
        CardReaderPayments,
        """
Date,Payment ID,Amount,Note
2026-05-03,P1,45.00,open
2026-05-03,P2,12.50,DECLINED
2026-05-03,P3,12.50,void where it says
2026-05-03,P4,12.50,Void!
""",
        """
payment 45.00 2026-05-03 card #P1
reject kind-unclear [Note]
payment 12.50 2026-05-03 card #P3
reject kind-unclear [Note]
""",
    ),
    _file(
        "two taxes, a subtotal and a tip that make the total",
        CardReaderPayments,
        """
Date,Receipt #,Subtotal,GST,PST,Tip,Total,Card fee,Per-transaction fee,Deposit
2026-05-03,R-1,40.00,2.00,2.80,5.00,49.80,1.29,0.15,48.36
2026-05-13,R-2,10.00,0.50,0.70,0.00,11.20,0.29,0.15,10.76
2026-05-14,R-3,20.00,1.00,1.40,0.00,22.40,0.58,0.15,21.67
""",
        """
payment 49.80 2026-05-03 card #R-1 fee=1.44 tip=5.00 tax=4.80
payment 11.20 2026-05-13 card #R-2 fee=0.44 tip=0.00 tax=1.20
payment 22.40 2026-05-14 card #R-3 fee=0.73 tip=0.00 tax=2.40
""",
    ),
    _file(
        "two taxes that no sum explains",
        CardReaderPayments,
        """
Date,Total,GST,PST
2026-05-03,42.00,2.00,2.80
2026-05-13,11.20,0.50,0.70
""",
        "ask columns",
    ),
    _file(
        "fees that are numbered in their headings",
        CardReaderPayments,
        """
Date,Payment ID,Type,Gross,Fee 1,Fee 2,Net
2026-05-03,P1,Sale,45.00,0.76,0.10,44.14
2026-05-04,P2,Refund,-45.00,-0.76,0.00,-44.24
2026-05-05,P3,Sale,10.00,0.17,0.10,9.73
""",
        """
payment 45.00 2026-05-03 card #P1 fee=0.86
refund -45.00 2026-05-04 card #P2 fee=-0.76
payment 10.00 2026-05-05 card #P3 fee=0.27
""",
    ),
    _file(
        "a tax at two rates, each in its column",
        CardReaderPayments,
        """
Datum;Bon;Brutto;MwSt 19%;MwSt 7%;Netto
03.05.2026;1001;45,00;4,79;0,98;39,23
13.05.2026;1002;10,00;0,00;0,65;9,35
""",
        """
payment 45.00 2026-05-03 card #1001 tax=5.77
payment 10.00 2026-05-13 card #1002 tax=0.65
""",
        languages=("de",),
    ),
    _file(
        "costs with a tax at two rates",
        Expenses,
        """
Date,Category,Net,VAT 20%,VAT 5%,Gross
2026-05-03,Pitch,40.00,8.00,0.00,48.00
2026-05-04,Fuel,20.00,0.00,1.00,21.00
""",
        """
pitch_fee 48.00 2026-05-03 tax=8.00
travel 21.00 2026-05-04 tax=1.00
""",
    ),
    _file(
        "codes of the host: approved, declined, no funds",
        CardReaderPayments,
        """
Date,Trace ID,Response code,Amount
2026-05-03,000123,00,45.00
2026-05-03,000124,05,12.50
2026-05-03,000125,51,12.50
2026-05-03,000126,00,12.50
2026-05-03,000127,85,12.50
2026-05-03,000128,10,19.00
2026-05-03,000129,Z7,19.00
""",
        """
payment 45.00 2026-05-03 card #000123
skip not-completed
skip not-completed
payment 12.50 2026-05-03 card #000126
reject state-unknown [Response code]
reject state-unknown [Response code]
reject state-unknown [Response code]
""",
    ),
    _file(
        "codes of the host with words beside them",
        CardReaderPayments,
        """
Date,Trace ID,Response,Amount
2026-05-03,123,00 Approved,45.00
2026-05-03,124,05 Do not honour,12.50
2026-05-03,126,Approved (00),12.50
2026-05-03,127,54 - Kortet er gammelt,19.00
2026-05-03,128,00 Declined,19.00
""",
        """
payment 45.00 2026-05-03 card #123
skip not-completed
payment 12.50 2026-05-03 card #126
skip not-completed
reject state-unknown [Response]
""",
    ),
    _file(
        "codes of the host whose noughts a spreadsheet took",
        CardReaderPayments,
        """
Fecha;N.º operación;Código de respuesta;Importe
03/05/2026;551;0;45,00
03/05/2026;552;5;12,50
23/05/2026;553;0;12,50
""",
        """
payment 45.00 2026-05-03 card #551
skip not-completed
payment 12.50 2026-05-23 card #553
""",
        languages=("es",),
    ),
    _file(
        "a state and a code that contradict each other",
        CardReaderPayments,
        """
Date,Payment ID,Status,Response code,Amount
2026-05-03,P-1,Completed,00,45.00
2026-05-03,P-2,Completed,05,12.50
2026-05-03,P-3,Failed,00,12.50
""",
        """
payment 45.00 2026-05-03 card #P-1
reject states-contradict [Response code]
skip not-completed
""",
    ),
    _file(
        "codes of the host under a heading nobody knows",
        CardReaderPayments,
        """
Date,Payment ID,RC,Amount
2026-05-03,P-1,00,45.00
2026-05-03,P-2,05,12.50
2026-05-03,P-3,00,12.50
""",
        "ask columns",
    ),
    _file(
        "numbers of two digits, few of them nought",
        CardReaderPayments,
        """
Date,Payment ID,Till,Amount
2026-05-03,P-1,01,45.00
2026-05-03,P-2,05,12.50
""",
        """
payment 45.00 2026-05-03 card #P-1
payment 12.50 2026-05-03 card #P-2
""",
    ),
    _file(
        "numbers of two digits that are no codes of the host",
        CardReaderPayments,
        """
Date,Payment ID,Till,Amount
2026-05-03,P-1,00,45.00
2026-05-03,P-2,01,12.50
""",
        """
payment 45.00 2026-05-03 card #P-1
payment 12.50 2026-05-03 card #P-2
""",
    ),
    _file(
        "voided under the kind of row",
        CardReaderPayments,
        """
Date,Type,Payment ID,Amount
2026-05-03,Sale,T1,45.00
2026-05-03,Void,T2,45.00
2026-05-03,Declined,T3,12.00
2026-05-03,Blorp,T4,12.00
""",
        """
payment 45.00 2026-05-03 card #T1
skip not-completed
skip not-completed
reject kind-unknown [Type]
""",
    ),
    _file(
        "authorised, and nothing that is more",
        CardReaderPayments,
        """
Data;Ora;ID transazione;Esito;Importo
03/05/2026;14.05;T-1;Autorizzata;45,00
23/05/2026;14.15;T-2;Negata;80,00
""",
        "ask authorised_is",
        languages=("it",),
    ),
    _file(
        "authorised means paid, answered",
        CardReaderPayments,
        """
Data;Ora;ID transazione;Esito;Importo
03/05/2026;14.05;T-1;Autorizzata;45,00
23/05/2026;14.15;T-2;Negata;80,00
""",
        """
payment 45.00 2026-05-03T14:05+02:00 card #T-1
skip not-completed
""",
        languages=("it",),
        time_zone="Europe/Rome",
        authorised_is="paid",
    ),
    _file(
        "authorised beside captured is not paid yet",
        CardReaderPayments,
        """
Date,Payment ID,Status,Amount
2026-05-03,P-1,Captured,45.00
2026-05-03,P-2,Authorised,12.50
""",
        """
payment 45.00 2026-05-03 card #P-1
skip not-completed
""",
    ),
    _file(
        "lakhs, a discount of the bank and the tax on it",
        CardReaderPayments,
        """
Txn Date,Txn Time,UTR No,Txn Amount,MDR,GST on MDR,Net Amount,Status
03-05-2026,11:05:00 AM,UTR9001,"₹1,25,000.00",₹500.00,₹90.00,"₹1,24,410.00",SUCCESS
23-05-2026,12:15:00 AM,UTR9003,₹450.00,₹1.80,₹0.32,₹447.88,FAILED
""",
        """
payment 125000.00 INR 2026-05-03T11:05+05:30 card #UTR9001 fee=590.00
skip not-completed
""",
        currency="INR",
        time_zone="Asia/Kolkata",
    ),
    _file(
        "brackets for money back, the sign before or within",
        CardReaderPayments,
        """
Date;Payment ID;Amount
5/3/26 9:05 AM;A1;$45.00
5/13/26 12:05 PM;A2;$(45.00)
5/14/26 1:00 PM;A3;($1,105.00)
5/14/26 2:00 PM;A4;USD (5.00)
""",
        """
payment 45.00 USD 2026-05-03T09:05-05:00 card #A1
refund -45.00 USD 2026-05-13T12:05-05:00 card #A2
refund -1105.00 USD 2026-05-14T13:00-05:00 card #A3
refund -5.00 USD 2026-05-14T14:00-05:00 card #A4
""",
        currency="USD",
        time_zone="America/Chicago",
    ),
    _file(
        "Japanese: wide digits in dates and times, years of the era",
        CardReaderPayments,
        """
取引日,時刻,取引番号,金額
令和８年５月３日,１４：０５,A-1,￥１２，５００
令和元年１２月１３日,０９：１０,A-2,￥８００
""",
        """
payment 12500 JPY 2026-05-03T14:05+09:00 card #A-1
payment 800 JPY 2019-12-13T09:10+09:00 card #A-2
""",
        currency="JPY",
        time_zone="Asia/Tokyo",
        languages=("ja",),
    ),
    _file(
        "Arabic digits and headings, the columns answered",
        CardReaderPayments,
        """
التاريخ,الوقت,رقم العملية,المبلغ
٠٣/٠٥/٢٠٢٦,١٤:٠٥,A1,١٢٫٥٠
١٣/٠٥/٢٠٢٦,٠٩:١٠,A2,١٬٢٣٤٫٥٠
""",
        """
payment 12.50 AED 2026-05-03T14:05+04:00 card #A1
payment 1234.50 AED 2026-05-13T09:10+04:00 card #A2
""",
        currency="AED",
        time_zone="Asia/Dubai",
        languages=("ar",),
        columns={
            "date": "التاريخ",
            "time": "الوقت",
            "external_id": "رقم العملية",
            "amount": "المبلغ",
        },
    ),
    _file(
        "marks of writing direction around headings and cells",
        CardReaderPayments,
        """
\u200eDate\u200e,\u200eTime\u200e,Payment ID,\u200fAmount
\u200e03/05/2026\u200e,\u200e14:05\u200e,P-1,\u200f\u200e12.50\u00a0\u200f₪
\u200e13/05/2026\u200e,\u200e15:05\u200e,P-2,\u200f\u200e-12.50\u00a0\u200f₪
""",
        """
payment 12.50 ILS 2026-05-03T14:05+03:00 card #P-1
refund -12.50 ILS 2026-05-13T15:05+03:00 card #P-2
""",
        currency="ILS",
        time_zone="Asia/Jerusalem",
        languages=("he", "en"),
    ),
    _file(
        "a zone in German letters, on the night the clocks go back",
        CardReaderPayments,
        """
Datum/Uhrzeit;Zeitzone;Zahlungs-ID;Betrag
25.10.2026 02:30;MESZ;Z1;45,00
25.10.2026 02:30;MEZ;Z2;5,00
""",
        """
payment 45.00 2026-10-25T02:30+02:00 card #Z1
payment 5.00 2026-10-25T02:30+01:00 card #Z2
""",
        time_zone="Europe/Berlin",
        languages=("de",),
    ),
)  # fmt: skip


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_terminals_export_is_read_as_a_bookkeeper_reads_it(file: Messy) -> None:
    file.check()


def test_codes_mean_what_iso_8583_says() -> None:
    """Data element 39 of the editions of 1987 (two digits) and 1993 (three), from public lists."""
    paid = ("00", "08", "11", "16", "000", "003")
    declined = ("01", "04", "05", "12", "14", "41", "43", "51", "54", "55", "57", "61", "65", "91")
    neither = ("10", "32", "85", "87", "002", "70", "1", "0000")
    assert {answer(code) for code in paid} == {"completed"}
    assert {answer(code) for code in (*declined, "100", "116", "911")} == {"not_completed"}
    assert {answer(code) for code in neither} == {None}


def test_the_further_fee_is_shown_in_the_layout_and_not_kept_twice() -> None:
    found = read(FILES[0].bytes, currency="GBP")
    assert {c.header: c.field for c in found.layout.columns}["Fixed fee"] == "fee_2"
    assert found.transactions[0].more is None
    assert found.layout.notices == ()


def test_one_row_alone_is_read_under_the_layouts_columns() -> None:
    """So a rejected row is tried again: every column named by its number."""
    layout = read(FILES[0].bytes, currency="GBP").layout
    columns = {c.field: f"#{c.index + 1}" for c in layout.columns if c.field}
    row = "2026-05-03,10:14:00,PX-9,45.00,0.76,0.10,44.14,\n"
    heading = "Date,Time,Payment ID,Gross,Processing fee,Fixed fee,Net,Note\n"
    assert read(heading + row, columns=columns).transactions[0].fee_minor == 86


def test_the_question_about_two_fees_says_how_to_add_them() -> None:
    question = asked(
        "Sold on,Title,Price,Commission,Payment fee\n2026-05-03,Jug,10.00,1.00,0.30\n",
        ResaleSales(),
    )
    assert "fee=Commission and fee_2=Payment fee" in question.advice


def test_the_question_about_authorised_shows_the_word() -> None:
    question = asked("Date,Status,Amount\n2026-05-03,Authorised,45.00\n")
    assert "“Authorised”" in question.detail
    assert [choice.value for choice in question.choices] == ["paid", "reserved"]


def test_a_further_fee_that_begins_far_below_is_added() -> None:
    plain = "2026-05-03,45.00,0.76,0.00,44.24\n" * 1100
    last = "2026-05-03,45.00,0.76,15.00,29.24\n"
    found = read("Date,Gross,Processing fee,Chargeback fee,Net\n" + plain + last)
    assert found.rejects == []
    assert found.transactions[-1].fee_minor == 1576


@pytest.mark.parametrize(
    ("cells", "kept"),
    [
        (("1 111 kr", "72 kr"), (None, None)),
        (("1111,00", "72,00"), (None, None)),
        (("FR 001", "FR 002"), ("FR 001", "FR 002")),
        (("R12", "R13"), ("R12", "R13")),
        (("1234", "1235"), ("1234", "1235")),
    ],
)
def test_a_payout_of_money_is_no_payouts_id(cells: tuple[str, str], kept: tuple[str, str]) -> None:
    nets = cells if kept[0] is None else ("1 111 kr", "72 kr")
    found = read(
        "Datum;Artikel;Pris;Avgift;Netto;Utbetalning\n"
        f"2026-05-03;Blå vas;1 234 kr;123 kr;{nets[0]};{cells[0]}\n"
        f"2026-05-04;Kopp;80 kr;8 kr;{nets[1]};{cells[1]}\n",
        ResaleSales(),
        currency="SEK",
        languages=("sv",),
    )
    assert tuple(each.payout_id for each in found.transactions) == kept
    assert [each.fee_minor for each in found.transactions] == [12300, 800]


def test_headings_are_named_without_marks_of_writing_direction() -> None:
    found = read("\u200eDate\u200e,\u200fAmount\u200f\n2026-05-03,45.00\n")
    assert [column.header for column in found.layout.columns] == ["Date", "Amount"]


def test_days_under_a_heading_nobody_knows_are_not_called_amounts() -> None:
    found = read("Date;Blorp;Amount\n2026-05-03;3. 5. 2026;45.00\n2026-05-04;4. 5. 2026;5.00\n")
    assert not any("Blorp" in notice for notice in found.layout.notices)
