"""Exports in which a quick reader takes a wrong value without noticing it."""

from __future__ import annotations

import pytest
from tests.unit.importers.ledger import Messy

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.card_reader_payouts import CardReaderPayouts
from stallkeep_importers.cash_tally import CashTally
from stallkeep_importers.contract import Importer
from stallkeep_importers.expenses import Expenses
from stallkeep_importers.resale_listings import ResaleListings
from stallkeep_importers.resale_sales import ResaleSales
from stallkeep_importers.stock_count import StockCount


def _trap(name: str, importer: type[Importer], data: str, says: str, **options: object) -> Messy:
    return Messy(name=name, importer=importer, data=data, says=says, options=options)


FILES = (
    _trap(
        "balances of an account among its rows",
        CardReaderPayments,
        """
Date,Description,Amount
2025-05-01,Opening balance,500.00
2025-05-03,cup,12.00
2025-05-31,Closing balance,512.00
""",
        """
reject totals-unclear
payment 12.00 2025-05-03 card
reject totals-unclear
""",
    ),
    _trap(
        "a tax under a heading nobody knows, beside a subtotal",
        CardReaderPayments,
        """
Date,Subtotal,State levy,City levy
2025-05-03,10.00,0.60,0.20
2025-05-04,20.00,1.20,0.40
""",
        "ask columns",
    ),
    _trap(
        "a payout's amount that may be before its fee",
        CardReaderPayouts,
        """
Payout ID,Arrived on,Amount,Fee
P1,2025-05-05,100.00,1.75
P2,2025-05-06,80.00,1.40
""",
        "ask columns",
    ),
    _trap(
        "a payout's amount that was before its fee, answered",
        CardReaderPayouts,
        """
Payout ID,Arrived on,Amount,Fee
P1,2025-05-05,100.00,1.75
""",
        "payout 98.25 2025-05-05 transfer #P1 fee=1.75",
        columns={"total": "Amount"},
    ),
    _trap(
        "two columns that both speak of a fee",
        ResaleSales,
        """
Sold on,Title,Price,Commission,Payment fee
2025-05-03,Jug,10.00,1.00,0.30
2025-05-03,Cup,20.00,2.00,0.40
""",
        "ask columns",
    ),
    _trap(
        "a cross under Voided",
        CardReaderPayments,
        """
Date,Amount,Voided
2025-05-03,12.00,x
2025-05-04,9.00,
""",
        """
skip not-completed
payment 9.00 2025-05-04 card
""",
    ),
    _trap(
        "yes under Refunded",
        CardReaderPayments,
        """
Date,Amount,Refunded
2025-05-03,12.00,Yes
2025-05-04,9.00,No
""",
        """
reject flag-unclear
payment 9.00 2025-05-04 card
""",
    ),
    _trap(
        "a day under Cancelled at and one under Refunded on",
        ResaleSales,
        """
Sold on,Title,Price,Cancelled at,Refunded on
2025-05-03,Jug,10.00,,
2025-05-04,Cup,10.00,2025-05-04,
2025-05-04,Hat,10.00,,2025-05-06
""",
        """
sale 10.00 2025-05-03 online
skip not-completed
reject flag-unclear
""",
    ),
    _trap(
        "yes under Sold in a list of listings",
        ResaleListings,
        """
Listing ID,Title,Price,Sold
L1,Jug,10.00,yes
L2,Cup,12.00,no
""",
        """
listing L1 10.00 sold “Jug”
listing L2 12.00 live “Cup”
""",
    ),
    _trap(
        "a day under Sold on and no column of states",
        ResaleListings,
        """
Listing ID,Title,Price,Sold on
L1,Jug,10.00,2025-05-03
L2,Cup,9.00,
""",
        """
listing L1 10.00 sold “Jug” until=2025-05-03
listing L2 9.00 live “Cup”
""",
    ),
    _trap(
        "a planned end says nothing about what is live",
        ResaleListings,
        """
Listing ID,Title,Price,End date
L1,Jug,10.00,2026-12-03
""",
        "listing L1 10.00 live “Jug” until=2026-12-03",
    ),
    _trap(
        "a broken row at the end that begins as rows begin",
        ResaleSales,
        """
Title,Sold on,Price,Order ID
Jug,2025-05-03,12.00,O1
Cup,2025-05-04,9.00,O2
Hat,15.00
""",
        """
sale 12.00 2025-05-03 online #O1
sale 9.00 2025-05-04 online #O2
reject ragged-record
""",
    ),
    _trap(
        "a piece whose title begins like a totals line, its price misspelt",
        ResaleSales,
        """
Sold on,Title,Price
2025-05-03,Jug,12.00
2025-05-03,Total eclipse poster,12.O0
2025-05-04,Hat,10.00
""",
        """
sale 12.00 2025-05-03 online
reject money-unreadable [Price]
sale 10.00 2025-05-04 online
""",
    ),
    _trap(
        "an order whose rows do not follow each other, its total on both",
        ResaleSales,
        """
Order number,Sold on,Item number,Title,Item price,Order total
7001,2025-05-03,A1,Jug,20.00,32.00
7002,2025-05-04,A3,Hat,15.00,15.00
7001,2025-05-03,A2,Cup,12.00,32.00
""",
        """
sale 32.00 2025-05-03 online #7001 @A1
sale 15.00 2025-05-04 online #7002 @A3
reject order-apart [Order number]
""",
    ),
    _trap(
        "a sum below a single cost",
        Expenses,
        """
Date,What,Amount
2025-05-03,Pitch,45.00
2025-05-03,Total,45.00
""",
        """
other 45.00 2025-05-03 for=Pitch
reject totals-unclear
""",
    ),
    _trap(
        "the fee of a refund in a file without signs, by the net",
        CardReaderPayments,
        """
Date,Type,Gross,Fee,Net
2025-05-03,Sale,10.00,0.20,9.80
2025-05-03,Sale,20.00,0.40,19.60
2025-05-03,Sale,30.00,0.60,29.40
2025-05-04,Refund,10.00,0.20,9.80
2025-05-04,Refund,20.00,0.40,20.40
""",
        """
payment 10.00 2025-05-03 card fee=0.20
payment 20.00 2025-05-03 card fee=0.40
payment 30.00 2025-05-03 card fee=0.60
refund -10.00 2025-05-04 card fee=-0.20
reject sums-disagree [Net]
""",
    ),
    _trap(
        "the fee of a refund in a file without signs, nothing to tell by",
        CardReaderPayments,
        """
Date,Type,Gross,Fee
2025-05-03,Sale,10.00,0.20
2025-05-04,Refund,10.00,0.20
""",
        """
payment 10.00 2025-05-03 card fee=0.20
refund -10.00 2025-05-04 card
notice fee-unknown
""",
    ),
    _trap(
        "a count with yes and no",
        StockCount,
        """
Code,Title,Came home
2JP-C3X,Jug,yes
QF7-P22,Cup,no
""",
        "ask columns",
    ),
    _trap(
        "a count with ticks",
        StockCount,
        """
Code,Title,Counted
2JP-C3X,Jug,x
QF7-P22,Cup,
""",
        """
counted 2JP-C3X
counted QF7-P22 x0
""",
    ),
    _trap(
        "a count of ones, one of them in doubt",
        StockCount,
        """
Code,Quantity
2JP-C3X,1
QF7-P22,1?
""",
        """
counted 2JP-C3X
reject quantity-unreadable [Quantity]
""",
    ),
    _trap(
        "a payout taken back, told by its kind alone",
        CardReaderPayouts,
        """
Payout ID,Payout date,Net,Type
P1,2025-05-05,100.00,Payout
P2,2025-05-06,100.00,Payout reversal
P3,2025-05-07,-20.00,Payout reversal
""",
        """
payout 100.00 2025-05-05 transfer #P1
reject kind-unclear [Type]
payout -20.00 2025-05-07 transfer #P3
""",
    ),
    _trap(
        "a tally of ins and outs",
        CashTally,
        """
Date,Direction,Cash,Note
2025-05-03,In,5.00,jug
2025-05-03,Out,15.00,
2025-05-03,Out,4.00,refund
2025-05-03,Out,10.00,paid out
""",
        """
payment 5.00 2025-05-03 cash
reject kind-unclear [Direction]
refund -4.00 2025-05-03 cash
paid_out 10.00 on=2025-05-03
""",
    ),
    _trap(
        "a tally with a discount beside a price",
        CashTally,
        """
Date,Price,Discount
2025-05-03,5.00,1.00
2025-05-03,7.00,0
""",
        """
reject price-or-discount [Discount]
payment 7.00 2025-05-03 cash
""",
    ),
    _trap(
        "costs whose net and tax show that the tax is within, one row misspelt",
        Expenses,
        """
Date,Category,Net,VAT,Amount
2025-05-03,Parking,40.00,8.00,48.00
2025-05-03,Food,10.00,2.00,12.00
2025-05-03,Food,10.00,2.00,13.00
2025-05-04,Food,15.00,3.00,18.00
2025-05-04,Food,20.00,4.00,24.00
""",
        """
parking 48.00 2025-05-03 tax=8.00
food 12.00 2025-05-03 tax=2.00
reject sums-disagree [Amount]
food 18.00 2025-05-04 tax=3.00
food 24.00 2025-05-04 tax=4.00
""",
    ),
    _trap(
        "what a piece cost beside what it was sold for",
        ResaleSales,
        """
Sold on,Title,Price,Cost
2025-05-03,Jug,20.00,8.00
2025-05-04,Cup,10.00,3.00
""",
        """
sale 20.00 2025-05-03 online
sale 10.00 2025-05-04 online
""",
    ),
    _trap(
        "the provider's cost beside a net amount",
        CardReaderPayments,
        """
Datum;Kosten;Netto bedrag
2025-05-03;0,21;11,79
2025-05-04;0,42;23,58
""",
        """
payment 12.00 2025-05-03 card fee=0.21
payment 24.00 2025-05-04 card fee=0.42
""",
        languages=("nl",),
    ),
    _trap(
        "sums of days in place of payments",
        CardReaderPayments,
        """
Date,Number of payments,Total
2025-05-03,12,310.00
2025-05-04,7,120.00
""",
        "refuse sums-not-payments",
    ),
    _trap(
        "amounts cut at their decimal comma, the cents under the next heading",
        CardReaderPayments,
        """
Datum,Betrag,Notiz
03.05.2025,10,50
04.05.2025,12,00
""",
        "ask columns",
    ),
    _trap(
        "a part of the file that is called Refunds",
        CardReaderPayments,
        """
Date,Amount,Note
2025-05-03,10.50,a
2025-05-03,11.50,b
Refunds,,
2025-05-05,20.00,c
""",
        "refuse two-tables",
    ),
    _trap(
        "a part called Erstattungen, its header repeated",
        CardReaderPayments,
        """
Datum;Betrag;Notiz
03.05.2025;10,50;a

Erstattungen
Datum;Betrag;Notiz
05.05.2025;20,00;c
""",
        "refuse two-tables",
    ),
    _trap(
        "another table under headings nobody knows",
        CardReaderPayments,
        """
Date,Amount
2025-05-03,10.50
2025-05-03,11.50

Settled,Sent to bank
2025-05-05,20.00
""",
        "refuse two-tables",
    ),
    _trap(
        "days and amounts wrapped by a spreadsheet",
        CardReaderPayments,
        """
Date,Amount,ID
="2025-05-03",="10.50",="00123"
="2025-05-04",="11.50",="00124"
""",
        """
payment 10.50 2025-05-03 card #="00123"
payment 11.50 2025-05-04 card #="00124"
""",
    ),
)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_trap_is_asked_about_rejected_or_read_right(file: Messy) -> None:
    file.check()


def test_times_that_never_pass_noon_are_said_to_be_in_doubt() -> None:
    rows = "2025-05-03,9:30,12.50\n2025-05-03,1:30,9.00\n2025-05-03,2:45,7.00\n"
    file = _trap("", CardReaderPayments, f"Date,Time,Amount\n{rows}", "")
    assert any("twelve-hour" in text for text in file.notices())
    more = f"{rows}2025-05-03,14:10,7.00\n"
    assert _trap("", CardReaderPayments, f"Date,Time,Amount\n{more}", "").notices() == []
