"""Listings of a resale channel, from its export."""

from __future__ import annotations

import datetime as dt

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Listing, Outcome
from stallkeep_importers.resale_sales import TITLE_BLANK
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.profiles import Profile, names
from stallkeep_importers.rows.readings import Convert
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.table_importer import TableImporter
from stallkeep_importers.words import cell_words


class ResaleListings(TableImporter):
    """One row is one listing as the channel shows it now."""

    name = "resale-listings"
    title = "Resale-channel listings"
    gives = frozenset({"listing"})
    profile = Profile(
        fields=names(
            "title reference external_id price amount currency state quantity tag_code size "
            "category listed_on ended_on"
        ),
        needs=(("title",), ("price", "amount"), ("reference", "external_id", "tag_code")),
        speaks_for={
            "title": 0.1,
            "price": 0.1,
            "reference": 0.1,
            "state": 0.05,
            "size": 0.1,
            "category": 0.05,
            "listed_on": 0.2,
            "ended_on": 0.05,
            "tag_code": 0.05,
            "fee": -0.3,
            "postage": -0.2,
            "tip": -0.3,
            "time": -0.2,
            "method": -0.2,
            "net": -0.2,
            "amount": -0.1,
            "total": -0.3,
            "discount": -0.1,
            "external_id": -0.1,
        },
        also=dict.fromkeys(
            ("name", "bezeichnung", "nom", "nombre", "nome", "naam", "namn", "navn", "jmeno"),
            "title",
        ),
        states="listing_states",
        file_words=("listing", "inventory", "items", "angebot", "inserat", "artikel"),
    )

    def rows(self, sheet: Sheet) -> Convert:
        return _listings


def _listings(block: Block) -> list[Outcome]:
    references = block.texts(_first(block, "reference", "external_id", "tag_code"))
    titles = block.texts("title")
    prices = block.money(_first(block, "price", "amount"))
    states = block.meanings("state", cell_words("listing_states"), _unknown_state)
    quantities = block.counts("quantity")
    listed, ended = block.dates("listed_on"), block.dates("ended_on")
    tags, sizes, kinds = block.texts("tag_code"), block.texts("size"), block.texts("category")
    found: list[Outcome] = []
    if not block.has("state"):
        states = _ended_by_day(block, ended)
    for place, meaning in block.flagged.items():
        if meaning in ("ended", "sold"):
            states[place] = "sold" if states[place] == "sold" else meaning
            block.faults.pop(place)
    for place, (meaning, _) in block.denied.items():
        states[place] = states[place] if states[place] in ("ended", "sold") else meaning
    for place, price in enumerate(prices):
        if not references[place]:
            block.fault(place, "reference", _no_reference())
        if not (titles[place] or "").strip():
            block.fault(place, "title", TITLE_BLANK)
        if price is not None and price < 0:
            block.fault(place, "price", _negative())
        found.append(
            Listing(
                record=block.records[place],
                line=block.lines[place],
                reference=references[place] or "",
                title=titles[place] or "",
                price_minor=price,
                currency=block.currency_of(place),
                state=states[place] or "live",  # type: ignore[arg-type]
                quantity=quantities[place],
                tag_code=tags[place],
                size=sizes[place],
                category=kinds[place],
                listed_on=listed[place],
                ended_on=ended[place],
            )
        )
    return found


def _ended_by_day(block: Block, ended: list[dt.date | None]) -> list[str | None]:
    """Say that a listing with a day under "sold on" is sold; a planned "end date" says nothing."""
    place = block.sheet.places.get("ended_on")
    tokens = block.sheet.table.headings[place].plain.split() if place is not None else []
    meanings = {cell_words("listing_states").get(token) for token in tokens} - {None, "live"}
    meaning = meanings.pop() if len(meanings) == 1 else None
    return [meaning if day else None for day in ended]


def _first(block: Block, *fields: str) -> str:
    return next((field for field in fields if block.has(field)), fields[0])


def _unknown_state(cell: str) -> Fault:
    return Fault(
        "state-unknown",
        f"We do not know whether “{cell[:40]}” means live, ended or sold.",
        "Say live, ended or sold instead.",
    )


def _no_reference() -> Fault:
    return Fault(
        "reference-missing",
        "The listing has no reference, so it cannot be known again.",
        "Add the channel's number of the listing.",
    )


def _negative() -> Fault:
    return Fault("price-negative", "The price is below nought.", "Correct the price.")
