"""What the two card readers hand out."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from demo.calendar_of_events import NEW_READER, OLD_READER
from demo.earlier import PastEvent
from demo.sales import Sale
from demo.sheet import Sheet, comma, point

PAYMENTS = "taptern-payments-2026-09.csv"
PAYOUTS = "taptern-payouts-2026-09.csv"
OLD_PAYMENTS = "zahlfink-umsaetze-2025-2026.csv"
FIRST_NUMBER = 400_512


@dataclass(frozen=True)
class Line:
    """One record of a payments export; money in cents.

    Attributes:
        kind: payment, refund or declined.
        number: The reader's number of it.
        related: Number of the payment that a refund belongs to.
    """

    kind: str
    at: dt.datetime
    number: str
    amount: int
    tip: int
    fee: int
    note: str
    sale: Sale
    related: str = ""


def card_lines(sales: list[Sale]) -> list[Line]:
    """Put every use of the reader in order: payments, declined tries and refunds."""
    moments: list[tuple[dt.datetime, str, Sale]] = []
    for sale in sales:
        if sale.method != "card":
            continue
        moments.append((sale.at, "payment", sale))
        if sale.tried_before:
            moments.append((sale.at - dt.timedelta(seconds=41), "declined", sale))
        if sale.refunded_at:
            moments.append((sale.refunded_at, "refund", sale))
    moments.sort(key=lambda moment: moment[0])
    numbers: dict[dt.datetime, str] = {}
    lines = []
    for nth, (at, kind, sale) in enumerate(moments):
        numbers[at] = f"TN{FIRST_NUMBER + 7 * nth}"
        lines.append(_line(kind, at, numbers[at], sale, numbers.get(sale.at, "")))
    return lines


def _line(kind: str, at: dt.datetime, number: str, sale: Sale, of_payment: str) -> Line:
    if kind == "refund":
        return Line(kind, at, number, -sale.amount, 0, 0, "too small", sale, of_payment)
    fee = NEW_READER.fee(sale.amount) if kind == "payment" else 0
    return Line(kind, at, number, sale.amount, sale.tip, fee, sale.note, sale)


def _card_ending(sale: Sale) -> str:
    return f"{(sale.at.hour * 977 + sale.at.minute * 131 + sale.at.second) % 10000:04d}"


def payout_number(day: dt.date) -> str:
    """Number of the payout that carries a day's payments to the bank."""
    return f"PO-{day:%y%m%d}"


def payments_sheet(lines: list[Line]) -> tuple[Sheet, dict[str, int]]:
    """Write the new reader's export.

    Returns:
        The file, and the record number of each payment number.
    """
    sheet = Sheet(PAYMENTS)
    sheet.put("Card payments from 11 September 2026 to 13 September 2026", fate="skipped")
    sheet.put(fate="skipped")
    sheet.head(
        *("Payment number", "Sold at", "Type", "Result", "Paid by", "Amount before tip", "Tip"),
        *("Total paid", "Fee", "Net", "Note", "Refund of", "Payout", "Card ending"),
    )
    _trial(sheet)
    records = {line.number: _put_line(sheet, line) for line in lines}
    done = [line for line in lines if line.kind != "declined"]
    sums = [sum(line.amount - line.tip for line in done), sum(line.tip for line in done)]
    sums += [sum(line.amount for line in done), sum(line.fee for line in done)]
    sums += [sums[2] - sums[3]]
    sheet.put("Total", *[""] * 4, *map(point, sums), *[""] * 4, fate="skipped")
    return sheet, records


def _trial(sheet: Sheet) -> None:
    """The reader's own trial before opening: no amount, so it cannot be taken."""
    number = f"TN{FIRST_NUMBER - 7}"
    cells = (number, "2026-09-11 10:41:17", "Payment", "approved", "contactless")
    sheet.spoil("Total paid", *cells, "", "", "trial", "", "", "trial run", "", "", "")


def _put_line(sheet: Sheet, line: Line) -> int:
    declined = line.kind == "declined"
    return sheet.put(
        *(line.number, f"{line.at:%Y-%m-%d %H:%M:%S}"),
        "Refund" if line.kind == "refund" else "Payment",
        "declined" if declined else "approved",
        "contactless" if line.at.second % 3 else "chip",
        *(point(line.amount - line.tip), point(line.tip), point(line.amount)),
        *("" if declined else point(line.fee), "" if declined else point(line.amount - line.fee)),
        *(line.note, line.related, "" if declined else payout_number(line.at.date())),
        _card_ending(line.sale),
        fate="skipped" if declined else "taken",
    )


def payouts_sheet(lines: list[Line]) -> tuple[Sheet, dict[str, int]]:
    """Write what reached the bank.

    Returns:
        The file, and the net amount of each payout number.
    """
    by_day: dict[dt.date, list[Line]] = defaultdict(list)
    for line in lines:
        if line.kind != "declined":
            by_day[line.at.date()].append(line)
    sheet = Sheet(PAYOUTS)
    sheet.head("Payout number", "Paid out on", "Gross", "Fees", "Net amount", "Payout status")
    nets = {}
    for nth, (day, of_day) in enumerate(sorted(by_day.items())):
        gross, fees = sum(line.amount for line in of_day), sum(line.fee for line in of_day)
        nets[payout_number(day)] = gross - fees
        arrived = dt.date(2026, 9, 14) + dt.timedelta(days=nth // 2)
        amounts = (point(gross), point(fees), point(gross - fees))
        sheet.put(payout_number(day), arrived.isoformat(), *amounts, "arrived")
    later = (payout_number(dt.date(2026, 9, 14)), "2026-09-16")
    sheet.spoil("Gross", *later, "to follow", "0.00", "to follow", "arrived")
    return sheet, nets


def old_payments_sheet(earlier: list[PastEvent]) -> tuple[Sheet, list[tuple[str, int, Sale]]]:
    """Write the old reader's export of the earlier events: decimal commas, cp1252.

    Returns:
        The file, and number, record and sale of each payment.
    """
    sheet = Sheet(OLD_PAYMENTS, delimiter=";", encoding="cp1252")
    sheet.head(
        *("Datum", "Uhrzeit", "Belegnummer", "Vorgang", "Betrag", "Gebühr", "Netto"),
        "Verwendungszweck",
    )
    sales = [sale for event in earlier for sale in event.sales if sale.method == "card"]
    known = []
    for nth, sale in enumerate(sorted(sales, key=lambda sale: sale.at)):
        fee = OLD_READER.fee(sale.amount)
        number = f"Z-{20180 + 3 * nth}"
        amounts = [f"{comma(cents)} €" for cents in (sale.amount, fee, sale.amount - fee)]
        when = (f"{sale.at:%d.%m.%Y}", f"{sale.at:%H:%M}")
        known.append((number, sheet.put(*when, number, "Zahlung", *amounts, sale.note), sale))
    late = ("20.06.2026", "16:04", "Z-20999", "Zahlung")
    sheet.spoil("Betrag", *late, "storniert?", "0,00 €", "0,00 €", "Probe")
    return sheet, known
