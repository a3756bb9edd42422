"""The whole scenario as files: exports, setup.json and truth.json."""

from __future__ import annotations

import json

from demo.dice import Dice
from demo.exports_cards import (
    OLD_PAYMENTS,
    PAYMENTS,
    PAYOUTS,
    card_lines,
    old_payments_sheet,
    payments_sheet,
    payouts_sheet,
)
from demo.exports_channels import (
    LUMPELIO_LISTINGS,
    SHELVORRA_LISTINGS,
    lumpelio_listings,
    sales_name,
    sales_sheets,
    shelvorra_listings,
)
from demo.exports_paper import (
    COUNT,
    EXPENSES,
    OLD_TALLY,
    STUBS,
    TALLY,
    count_sheet,
    expenses_sheet,
    old_tally_sheet,
    stubs_sheet,
    tally_sheet,
)
from demo.online import FIRST_SALES_EXPORT, SECOND_SALES_EXPORT
from demo.truth import Evidence, truth
from demo.typed import Json, setup
from demo.words import FAIR, LUMPELIO, SHELVORRA, STALL
from demo.world import World, make_world

LINE_WIDTH = 260

LISTINGS_FIRST = "before_purchases"
AFTERWARDS = "after_events"


def scenario() -> dict[str, bytes]:
    """Make every file of the demo: file name to content, the same at every call."""
    world = make_world()
    evidence = _evidence(world)
    made = {sheet.name: sheet.content() for sheet in evidence.sheets}
    made["setup.json"] = _json(setup(world, _files()))
    made["truth.json"] = _json(truth(world, evidence))
    return made


def _files() -> list[Json]:
    """List the exports in the order they are taken in, as a person would file them."""
    return [
        _file(LUMPELIO_LISTINGS, "resale-listings", LUMPELIO, stage=LISTINGS_FIRST),
        _file(SHELVORRA_LISTINGS, "resale-listings", SHELVORRA, stage=LISTINGS_FIRST),
        _file(OLD_PAYMENTS, "card-reader-payments", STALL),
        _file(OLD_TALLY, "cash-tally", STALL),
        _file(sales_name(LUMPELIO, FIRST_SALES_EXPORT), "resale-sales", LUMPELIO),
        _file(sales_name(SHELVORRA, FIRST_SALES_EXPORT), "resale-sales", SHELVORRA),
        _file(PAYMENTS, "card-reader-payments", STALL, event=FAIR),
        _file(TALLY, "cash-tally", STALL, event=FAIR),
        _file(STUBS, "stubs", STALL, event=FAIR),
        _file(COUNT, "stock-count", STALL, event=FAIR),
        _file(EXPENSES, "expenses", STALL, event=FAIR),
        _file(PAYOUTS, "card-reader-payouts", STALL),
        _file(sales_name(LUMPELIO, SECOND_SALES_EXPORT), "resale-sales", LUMPELIO),
        _file(sales_name(SHELVORRA, SECOND_SALES_EXPORT), "resale-sales", SHELVORRA),
    ]


def _file(
    name: str, importer: str, channel: str, *, event: str | None = None, stage: str = AFTERWARDS
) -> Json:
    return {"name": name, "importer": importer, "channel": channel, "event": event, "stage": stage}


def _evidence(world: World) -> Evidence:
    lines = card_lines(world.sales)
    payments, records = payments_sheet(lines)
    payouts, nets = payouts_sheet(lines)
    old, known = old_payments_sheet(world.earlier)
    tally, tallied = tally_sheet(world.sales)
    old_tally, old_tallied = old_tally_sheet(world.earlier)
    stubs, torn = stubs_sheet(world.sales)
    count, slips = count_sheet(Dice("counting on Monday"), world.home)
    lumpelio = sales_sheets(LUMPELIO, world.orders[LUMPELIO])
    shelvorra = sales_sheets(SHELVORRA, world.orders[SHELVORRA])
    listings = [
        lumpelio_listings(world.listings[LUMPELIO]),
        shelvorra_listings(world.listings[SHELVORRA]),
    ]
    first, second = zip(lumpelio, shelvorra, strict=True)
    return Evidence(
        sheets=[
            *(*listings, old, old_tally, *first),
            *(payments, tally, stubs, count, expenses_sheet(), payouts, *second),
        ],
        lines=lines,
        records=records,
        old=known,
        tally=tallied,
        old_tally=old_tallied,
        torn_stubs=torn,
        slips=slips,
        payouts=nets,
    )


def _json(value: Json) -> bytes:
    return (_lines(value, "") + "\n").encode()


def _lines(value: Json, indent: str) -> str:
    """Write JSON so that a record stands on one line and everything else is indented."""
    flat = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, dict | list) or len(indent) + len(flat) <= LINE_WIDTH:
        return flat
    inner = indent + " "
    if isinstance(value, dict):
        parts = [f"{json.dumps(key)}: {_lines(each, inner)}" for key, each in value.items()]
        opening, closing = "{", "}"
    else:
        parts = [_lines(each, inner) for each in value]
        opening, closing = "[", "]"
    body = f",\n{inner}".join(parts)
    return f"{opening}\n{inner}{body}\n{indent}{closing}"
