"""What the two resale channels hand out: listings and orders."""

from __future__ import annotations

import datetime as dt

from demo.online import (
    FIRST_SALES_EXPORT,
    GIVEN_BACK_LATER,
    OVERLAP_FROM,
    SECOND_SALES_EXPORT,
    Listing,
    Order,
)
from demo.sheet import Fate, Sheet, comma, point
from demo.words import LUMPELIO, SHELVORRA

from stallkeep.domain.tag_codes import to_text

LUMPELIO_LISTINGS = "lumpelio-angebote-2026-09-09.csv"
SHELVORRA_LISTINGS = "shelvorra-listings-2026-09-09.csv"
LUMPELIO_STATES = {"live": "aktiv", "ended": "beendet", "sold": "verkauft"}
LUMPELIO_CATEGORIES = {
    "Knitwear": "Strick",
    "Workwear": "Arbeitskleidung",
    "Small wool": "Wollsachen",
    "Kitchen ceramics": "Küchenkeramik",
}


def lumpelio_listings(listings: list[Listing]) -> Sheet:
    """Write Lumpelio's listings: German words, decimal commas, a byte-order mark."""
    sheet = Sheet(LUMPELIO_LISTINGS, delimiter=";", encoding="utf-8-sig")
    sheet.head(
        *("Eigene Nummer", "Titel", "Rubrik", "Größe", "Preis", "Angebotsnummer", "Status"),
        *("Eingestellt am", "Beendet am"),
    )
    for listing in listings:
        piece = listing.piece
        sheet.put(
            *(to_text(piece.tag_code), piece.title, LUMPELIO_CATEGORIES[piece.category]),
            *(piece.size, comma(listing.price), piece.listed[LUMPELIO]),
            *(LUMPELIO_STATES[listing.state], _german(listing.listed_on)),
            _german(listing.ended_on),
        )
    draft = ("", "Rust scarf, unfinished", "Wollsachen", "")
    sheet.spoil("Preis", *draft, "noch offen", "A399001", "aktiv", "08.09.2026", "")
    return sheet


def _german(day: dt.date | None) -> str:
    return f"{day:%d.%m.%Y}" if day else ""


def shelvorra_listings(listings: list[Listing]) -> Sheet:
    """Write Shelvorra's listings: English words, commas between the cells."""
    sheet = Sheet(SHELVORRA_LISTINGS)
    sheet.head(
        *("Listing", "Listed on", "Title", "Category", "Size", "Own code", "Asking price"),
        *("Availability", "Taken down on"),
    )
    for listing in listings:
        piece = listing.piece
        ended = listing.ended_on.isoformat() if listing.ended_on else ""
        sheet.put(
            *(piece.listed[SHELVORRA], listing.listed_on.isoformat(), piece.title, piece.category),
            *(piece.size, piece.tag_code, point(listing.price), listing.state, ended),
        )
    draft = ("9999-001", "2026-09-08", "Cream tureen without lid", "Kitchen ceramics", "3 l", "")
    sheet.spoil("Asking price", *draft, "make an offer", "live", "")
    return sheet


def sales_name(channel: str, day: dt.date) -> str:
    """File name of a channel's sales, exported on *day*."""
    word = "verkaeufe" if channel == LUMPELIO else "sales"
    return f"{channel.lower()}-{word}-{day.isoformat()}.csv"


def sales_sheets(channel: str, orders: list[Order]) -> list[Sheet]:
    """Write a channel's two sales exports; the second begins before the first one ends.

    In Lumpelio's second export one order of the overlap has changed: a part was given back.
    """
    first = [order for order in orders if order.at.date() < FIRST_SALES_EXPORT]
    second = [
        order
        for order in orders
        if order.at.date() >= OVERLAP_FROM and order.at < _morning(SECOND_SALES_EXPORT)
    ]
    known = {order.number for order in first}
    changed = next((o.number for o in second if o.number in known), "")
    changed = changed if channel == LUMPELIO else ""
    fates: dict[str, Fate] = dict.fromkeys(known, "known")
    if changed:
        fates[changed] = "changed"
    write = _lumpelio_sales if channel == LUMPELIO else _shelvorra_sales
    return [
        write(Sheet(sales_name(channel, FIRST_SALES_EXPORT)), first, {}),
        write(Sheet(sales_name(channel, SECOND_SALES_EXPORT)), second, fates),
    ]


def _morning(day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(8))


def _lumpelio_sales(sheet: Sheet, orders: list[Order], fates: dict[str, Fate]) -> Sheet:
    sheet.delimiter = ";"
    sheet.head(
        *("Verkauft am", "Bestellnummer", "Angebotsnummer", "Titel", "Verkaufspreis"),
        *("Versand bezahlt", "Gesamtbetrag", "Provision", "Versandmarke", "Erstattet", "Status"),
    )
    for order in orders:
        fate = fates.get(order.number, "taken")
        back = GIVEN_BACK_LATER if fate == "changed" else 0
        amounts = (order.price, order.postage, order.amount, order.fee, order.postage_cost, back)
        sheet.put(
            *(f"{order.at:%d.%m.%Y %H:%M}", order.number, order.piece.listed[LUMPELIO]),
            *(
                order.piece.title,
                *map(comma, amounts),
                "teilweise erstattet" if back else "bezahlt",
            ),
            fate=fate,
        )
    if not fates:
        cells = ("32.08.2026 19:03", "L703999", "", "Wool remnants, one bag")
        late = ("11,50", "4,90", "16,40", "1,38", "4,55", "0,00")
        sheet.spoil("Verkauft am", *cells, *late, "bezahlt")
    return sheet


def _shelvorra_sales(sheet: Sheet, orders: list[Order], fates: dict[str, Fate]) -> Sheet:
    sheet.head(
        *("Order", "Listing", "Title", "Sold on", "Item price", "Postage charged"),
        *("Order total", "Channel fee", "Label cost", "Order status"),
    )
    for order in orders:
        amounts = (order.price, order.postage, order.amount, order.fee, order.postage_cost)
        sheet.put(
            *(order.number, order.piece.listed[SHELVORRA], order.piece.title),
            *(f"{order.at:%Y-%m-%d %H:%M}", *map(point, amounts), "paid"),
            fate=fates.get(order.number, "taken"),
        )
    if not fates:
        cells = ("SO-51199", "", "Odd lids", "2026-08-32 10:10", "6.00", "4.90", "10.90")
        sheet.spoil("Sold on", *cells, "1.50", "4.55", "paid")
    return sheet
