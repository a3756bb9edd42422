"""Messy papers of a stall (tally, count, stubs, costs, bank), as a bookkeeper takes them."""

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy

from stallkeep_importers.bank_camt import BankCamt
from stallkeep_importers.bank_ofx import BankOfx
from stallkeep_importers.cash_tally import CashTally
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.stock_count import StockCount
from stallkeep_importers.stubs import Stubs

OFX_HEAD = """
OFXHEADER:100
DATA:OFXSGML
VERSION:102
SECURITY:NONE
ENCODING:USASCII
CHARSET:1252
COMPRESSION:NONE
OLDFILEUID:NONE
NEWFILEUID:NONE

<OFX><SIGNONMSGSRSV1><SONRS><STATUS><CODE>0<SEVERITY>INFO</STATUS><DTSERVER>20250531
<LANGUAGE>ENG</SONRS></SIGNONMSGSRSV1><BANKMSGSRSV1><STMTTRNRS><TRNUID>1<STATUS><CODE>0
<SEVERITY>INFO</STATUS><STMTRS><CURDEF>EUR<BANKACCTFROM><BANKID>1<ACCTID>2<ACCTTYPE>CHECKING
</BANKACCTFROM><BANKTRANLIST><DTSTART>20250501<DTEND>20250531
"""
OFX_END = "</BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>\n"
CAMT = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.08"><BkToCstmrStmt><Stmt>'
)
CAMT_END = "</Stmt></BkToCstmrStmt></Document>\n"
COSTS_AND_TAX = """
Date,Category,Amount,VAT,Description
2025-05-17,Parking,8.00,1.52,
2025-05-17,Fuel,40.00,7.60,van
2025-05-18,Parking,8.00,1.52,refund
"""


def _ntry(amount: str, side: str, day: str, ref: str, more: str = "") -> str:
    return (
        f'<Ntry><Amt Ccy="EUR">{amount}</Amt><CdtDbtInd>{side}</CdtDbtInd>'
        f"<Sts><Cd>BOOK</Cd></Sts><BookgDt><Dt>{day}</Dt></BookgDt>"
        f"<AcctSvcrRef>{ref}</AcctSvcrRef>{more}</Ntry>\n"
    )


def _balance(kind: str, amount: str) -> str:
    return (
        f"<Bal><Tp><CdOrPrtry><Cd>{kind}</Cd></CdOrPrtry></Tp>"
        f'<Amt Ccy="EUR">{amount}</Amt><CdtDbtInd>CRDT</CdtDbtInd></Bal>\n'
    )


FILES = (
    Messy(
        name="a German cash book: float, sales, what was taken out, the count",
        importer=CashTally,
        codec="cp1252",
        options={"time_zone": "Europe/Berlin", "languages": ("de",)},
        data="""
Kassenbuch Flohmarkt;;;
Datum;Uhrzeit;Bar;Notiz
17.05.2025;;100,00;Wechselgeld
17.05.2025;9:40;12,00;Krug
17.05.2025;10:05;7,50;2 Tassen
17.05.2025;;20,00;Entnahme
17.05.2025;;99,50;Kassensturz
""",
        says="""
float 100.00 on=2025-05-17
payment 12.00 2025-05-17T09:40+02:00 cash
payment 7.50 2025-05-17T10:05+02:00 cash
paid_out 20.00 on=2025-05-17
counted 99.50 on=2025-05-17
""",
    ),
    Messy(
        name="a tally in a hurry: whole numbers, strokes, a sum, an empty day",
        importer=CashTally,
        data="""
Day,Price,Strokes,What
2025-05-17,5,7,cards
2025-05-17,2.50,4,badges
,,,
2025-05-18,5,2,cards
Total,,13,
""",
        says="""
payment 35.00 2025-05-17 cash x7
payment 10.00 2025-05-17 cash x4
payment 10.00 2025-05-18 cash x2
skip totals
""",
    ),
    Messy(
        name="a tally whose note says refund, the amount above nought",
        importer=CashTally,
        data="""
Date,Cash,Note
2025-05-17,12.00,jug
2025-05-17,12.00,refund
2025-05-17,-3.00,refund
""",
        says="""
payment 12.00 2025-05-17 cash
reject kind-unclear [Note]
refund -3.00 2025-05-17 cash
""",
    ),
    Messy(
        name="a tally with a tip larger than what was taken",
        importer=CashTally,
        data="""
Date,Cash,Tip
2025-05-17,12.00,1.00
2025-05-17,2.00,12.00
""",
        says="""
payment 12.00 2025-05-17 cash tip=1.00
reject part-too-large [Tip]
""",
    ),
    Messy(
        name="a count with codes doubled, blank, in small letters, with a sum",
        importer=StockCount,
        data="""
Stock count after the market
Tag code;Pieces
2JP-C3X;1
qf7-p22;1

;1
RM2-EKJ;0
YNH-V23;two
Total;2
""",
        says="""
counted 2JP-C3X
counted qf7-p22
reject tag-code-missing [Tag code]
counted RM2-EKJ x0
reject quantity-unreadable [Pieces]
skip totals
""",
    ),
    Messy(
        name="a scanner's list with spreadsheet wrapping and dates",
        importer=StockCount,
        data='''
Code,Time
"=""2JP-C3X""",2025-05-17 17:05
"=""QF7-P22""",2025-05-17 17:06
''',
        says="""
counted 2JP-C3X
counted QF7-P22
""",
    ),
    Messy(
        name="stubs with prices, one torn, one with a price of three digits",
        importer=Stubs,
        options={"languages": ("de",)},
        data="""
Tag;Etikett;Preis
17.05.2025;2JP-C3X;12,00 €
17.05.2025;QF7-P22;
17.05.2025;RM2-EKJ;1.050,00 €
18.05.2025;;5,00 €
""",
        says="""
stub 1. 2JP-C3X 12.00 on=2025-05-17
stub 2. QF7-P22 on=2025-05-17
stub 3. RM2-EKJ 1050.00 on=2025-05-17
reject tag-code-missing [Etikett]
""",
    ),
    Messy(
        name="Italian costs: tax within, one given back, a kind nobody knows",
        importer=Expenses,
        options={"languages": ("it",)},
        data="""
Data;Categoria;Fornitore;Descrizione;Totale;IVA;N. fattura
17/05/2025;Parcheggio;Autosilo;;8,00;1,44;F1
17/05/2025;Pranzo;Bar;due panini;14,50;1,32;F2
28/05/2025;Colla;Ferramenta;restauro;1.006,90;181,57;F3
""",
        says="""
parking 8.00 2025-05-17 #F1 tax=1.44
food 14.50 2025-05-17 #F2 tax=1.32 for=due panini
other 1006.90 2025-05-28 #F3 tax=181.57 for=Colla · restauro
""",
    ),
    Messy(
        name="costs with both signs and nothing said",
        importer=Expenses,
        data="""
Date,Category,Amount,Description
2025-05-17,Parking,-8.00,
2025-05-17,Pitch fee,-45.00,
2025-05-20,Supplies,5.00,hangers sent back
""",
        says="ask spent_is",
    ),
    Messy(
        name="costs with money out and money in columns",
        importer=Expenses,
        data="""
Date,Category,Money out,Money in
2025-05-17,Parking,8.00,
2025-05-20,Supplies,,5.00
2025-05-21,Supplies,5.00,5.00
2025-05-22,Supplies,,
""",
        says="""
parking 8.00 2025-05-17
supplies -5.00 2025-05-20
reject money-twice [Money out]
reject money-missing [Money out]
""",
    ),
    Messy(
        name="costs with tax larger than the cost",
        importer=Expenses,
        data="""
Date,Category,Total,Tax
2025-05-17,Parking,8.00,1.28
2025-05-17,Fuel,4.00,40.00
""",
        says="""
parking 8.00 2025-05-17 tax=1.28
reject part-too-large [Tax]
""",
    ),
    Messy(
        name="costs beside a tax that may be within or on top",
        importer=Expenses,
        data=COSTS_AND_TAX,
        says="ask tax_is",
    ),
    Messy(
        name="costs beside a tax that comes on top, a refund among them by word only",
        importer=Expenses,
        options={"tax_is": "on_top"},
        data=COSTS_AND_TAX,
        says="""
parking 9.52 2025-05-17 tax=1.52
travel 47.60 2025-05-17 tax=7.60 for=van
reject kind-unclear [Description]
""",
    ),
    Messy(
        name="OFX: a payout, a charge, rent, a payout taken back, an amount that is none",
        importer=BankOfx,
        data=OFX_HEAD
        + "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20250505<TRNAMT>98.25<FITID>A1<NAME>CARDS</STMTTRN>\n"
        "<STMTTRN><TRNTYPE>SRVCHG<DTPOSTED>20250506120000<TRNAMT>-4.00<FITID>A2</STMTTRN>\n"
        "<STMTTRN><TRNTYPE>DEBIT<DTPOSTED>20250507<TRNAMT>-300,00<FITID>A3</STMTTRN>\n"
        "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20250508<TRNAMT>1.234,50<FITID>A4</STMTTRN>\n"
        "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20251399<TRNAMT>5.00<FITID>A5</STMTTRN>\n" + OFX_END,
        says="""
payout 98.25 2025-05-05 transfer #A1
fee -4.00 2025-05-06 transfer #A2
skip money-out
reject money-unreadable
reject date-unreadable
""",
    ),
    Messy(
        name="OFX whose signs contradict the kinds of its bookings",
        importer=BankOfx,
        data=OFX_HEAD
        + "<STMTTRN><TRNTYPE>DEBIT<DTPOSTED>20250505<TRNAMT>98.25<FITID>A1</STMTTRN>\n"
        "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20250506<TRNAMT>-98.25<FITID>A2</STMTTRN>\n"
        "<STMTTRN><TRNTYPE>XFER<DTPOSTED>20250507<TRNAMT>98.25<FITID>A3</STMTTRN>\n" + OFX_END,
        says="""
reject sign-contradicts-kind
reject sign-contradicts-kind
payout 98.25 2025-05-07 transfer #A3
""",
    ),
    Messy(
        name="OFX cut off in the middle",
        importer=BankOfx,
        data=OFX_HEAD + "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20250505<TRNAMT>98.25<FITID>A1",
        says="refuse cut-short",
    ),
    Messy(
        name="camt.053: payout, charge, purchase, booking missing by the balances",
        importer=BankCamt,
        data=CAMT
        + _balance("OPBD", "100.00")
        + _balance("CLBD", "200.00")
        + _ntry("98.25", "CRDT", "2025-05-05", "S1")
        + _ntry(
            "4.00",
            "DBIT",
            "2025-05-06",
            "S2",
            "<BkTxCd><Domn><Fmly><SubFmlyCd>CHRG</SubFmlyCd></Fmly></Domn></BkTxCd>",
        )
        + _ntry("30.00", "DBIT", "2025-05-07", "S3")
        + _ntry("-5.00", "CRDT", "2025-05-07", "S4").replace("CRDT", "CRDT")
        + CAMT_END,
        says="""
payout 98.25 2025-05-05 transfer #S1
fee -4.00 2025-05-06 transfer #S2
skip money-out
reject sign-unreadable
""",
    ),
    Messy(
        name="camt.053 whose bookings do not add up to its balances",
        importer=BankCamt,
        data=CAMT
        + _balance("OPBD", "100.00")
        + _balance("CLBD", "200.00")
        + _ntry("98.25", "CRDT", "2025-05-05", "S1")
        + CAMT_END,
        says="""
payout 98.25 2025-05-05 transfer #S1
notice totals-differ
""",
    ),
)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_messy_paper_of_the_stall_is_read_as_a_bookkeeper_would(file: Messy) -> None:
    file.check()
