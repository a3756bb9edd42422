"""What somebody wrote down: cash, stubs, the stock count, the expenses."""

from __future__ import annotations

from demo.calendar_of_events import FAIR_EXPENSES, HARBOUR_FAIR
from demo.dice import Dice
from demo.earlier import PastEvent
from demo.fair import with_slip
from demo.pieces import Piece
from demo.sales import Sale
from demo.sheet import Sheet, point

from stallkeep.domain.tag_codes import to_text

TALLY = "cash-tally-2026-09.csv"
OLD_TALLY = "cash-tally-earlier-events.csv"
STUBS = "stubs-2026-09-11.csv"
COUNT = "stock-count-2026-09-14.csv"
EXPENSES = "expenses-2026-09.csv"
COUNTED_ON = "2026-09-14"
TORN_STUB = 6


def tally_sheet(sales: list[Sale]) -> tuple[Sheet, dict[int, Sale]]:
    """Write the cash tally of the fair; one sale was never written down.

    Returns:
        The file, and the sale of each record.
    """
    sheet = Sheet(TALLY)
    sheet.head("Day", "Time", "Cash taken", "What for")
    records = {}
    for sale in sales:
        if sale.method == "cash" and not sale.forgotten:
            when = (sale.at.date().isoformat(), f"{sale.at:%H:%M}")
            records[sheet.put(*when, point(sale.amount), sale.note)] = sale
    day = HARBOUR_FAIR.dates[2].isoformat()
    sheet.spoil("Cash taken", day, "17:55", "?", "changed a note for the next stall")
    return sheet, records


def old_tally_sheet(earlier: list[PastEvent]) -> tuple[Sheet, dict[int, Sale]]:
    """Write the cash tally of the earlier events, every line with its tag code."""
    sheet = Sheet(OLD_TALLY)
    sheet.head("Date", "Time", "Cash", "Tag code")
    records = {}
    for event in earlier:
        for sale in event.sales:
            if sale.method == "cash":
                when = (sale.at.date().isoformat(), f"{sale.at:%H:%M}")
                records[sheet.put(*when, point(sale.amount), sale.note)] = sale
    sheet.spoil("Cash", "2026-06-20", "15:58", "n/a", "")
    return sheet, records


def stubs_sheet(sales: list[Sale]) -> tuple[Sheet, list[str]]:
    """Write the stubs kept on the first day, in the order of selling; one is torn.

    Returns:
        The file, and the tag codes whose stub cannot be taken.
    """
    day = HARBOUR_FAIR.dates[0]
    kept = [p for sale in sales if sale.at.date() == day for p in sale.pieces]
    prices = [cents for sale in sales if sale.at.date() == day for cents in sale.shares]
    sheet = Sheet(STUBS)
    sheet.head("Day", "Tag code", "Price")
    for nth, (piece, paid) in enumerate(zip(kept, prices, strict=True)):
        cells = (day.isoformat(), to_text(piece.tag_code))
        if nth == TORN_STUB:
            sheet.spoil("Price", *cells, "torn off")
        else:
            sheet.put(*cells, point(paid) if nth % 3 == 0 else "")
    return sheet, [kept[TORN_STUB].tag_code]


def count_sheet(dice: Dice, home: list[Piece]) -> tuple[Sheet, dict[str, str]]:
    """Write the stock count after the fair, with its slips.

    Returns:
        The file; and for each piece that is home and not in it as it should be, what was
        written: a misread code, or nothing for a piece that was overlooked.
    """
    misread, overlooked, smudged = dice.shuffled(home)[:3]
    slip = with_slip(dice, misread.tag_code)
    sheet = Sheet(COUNT)
    sheet.head("Day", "Tag code", "Quantity")
    for piece in dice.shuffled([p for p in home if p not in (overlooked, smudged)]):
        code = slip if piece is misread else piece.tag_code
        sheet.put(COUNTED_ON, to_text(code), "1")
    sheet.spoil("Quantity", COUNTED_ON, to_text(smudged.tag_code), "1?")
    slips = {misread.tag_code: slip, overlooked.tag_code: "", smudged.tag_code: ""}
    return sheet, slips


def expenses_sheet() -> Sheet:
    """Write the fair's expenses as they were put down from the receipts."""
    sheet = Sheet(EXPENSES)
    sheet.head("Date", "Receipt no", "Category", "Total", "VAT", "Note")
    for expense in FAIR_EXPENSES:
        day = HARBOUR_FAIR.dates[expense.day].isoformat()
        tax = "" if expense.tax is None else point(expense.tax)
        amount = point(expense.amount)
        sheet.put(day, expense.receipt, expense.category, amount, tax, expense.note)
    sunday = HARBOUR_FAIR.dates[2].isoformat()
    sheet.spoil("Total", sunday, "R-211", "Other", "see receipt", "", "string, safety pins")
    return sheet
