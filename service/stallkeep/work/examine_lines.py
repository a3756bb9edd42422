"""What the sales of a channel may be of, and what ties them to each other and to its stock."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.domain.matching import MoneyLine
from stallkeep.domain.matching.channel_pairs import may_be_of
from stallkeep.domain.matching.channel_stock import Stock, line_key
from stallkeep.domain.matching.channel_terms import Tie
from stallkeep.domain.matching.settled import SETTLING
from stallkeep.domain.row_identity import key_of_outside_id
from stallkeep.store import evidence as store
from stallkeep.store import rulings
from stallkeep.store.connection import Row
from stallkeep.work.channel_stock import Place
from stallkeep.work.partial_stock import stock_for

_SOLD_BY: Final = ("payment", "sale")


class Examined(msgspec.Struct):
    """Some lines of a channel.

    Attributes:
        rows: Payments and sales in the shop's currency, by id.
        refunds: Refunds in it, by id.
        foreign: Lines in other currencies.
        claims: Items that a payment or sale may be of, or was said to be of, as they were found.
        compared: Lines of which titles say what they may be of.
        terms: What each line looks at.
        given_back: Refund → the payment that it names, or that a person said it gives back: id,
            amount_minor.
    """

    rows: dict[UUID, Row] = {}
    refunds: dict[UUID, Row] = {}
    foreign: dict[UUID, Row] = {}
    claims: dict[UUID, list[UUID]] = {}
    compared: set[UUID] = set()
    terms: dict[UUID, set[int]] = {}
    given_back: dict[UUID, Row] = {}


async def examine(place: Place, ids: Collection[UUID]) -> Examined:
    """Examine those of these transactions that are the channel's and belong to no event."""
    seen = await read_lines(place, ids)
    compare_titles(place, seen, await stock_for(place, set(_keys(seen).values()) - {""}))
    return seen


async def read_lines(place: Place, ids: Collection[UUID]) -> Examined:
    """Read these lines, and what they may be of without looking at their titles."""
    con, shop_id = place.con, place.shop.shop_id
    seen = Examined()
    for row in await store.lines_to_look_at(con, shop_id, place.channel_id, ids):
        own = row["currency"] == place.shop.currency
        kind = seen.refunds if row["kind"] == "refund" else seen.rows
        (kind if own else seen.foreign)[row["id"]] = row
        seen.terms[row["id"]] = set()
    refused = await _follow_words(place, seen)
    await _follow_references(place, seen, refused)
    await _examine_refunds(place, seen)
    return seen


def compare_titles(place: Place, seen: Examined, stock: Stock) -> None:
    """Find by their titles what lines may be of that nothing else tells it of."""
    keys = _keys(seen)
    terms = {key: set(_looked_at(place, stock, key)) for key in set(keys.values())}
    for line, key in keys.items():
        found = may_be_of(stock, _as_compared(seen.rows[line]), key)
        seen.claims[line] = [UUID(item) for item in found]
        seen.terms[line] |= terms[key]
        seen.compared.add(line)
    _note_claims(place, seen)


def _keys(seen: Examined) -> dict[UUID, str]:
    """Lines that nothing but their titles tells of, and what these are found by."""
    return {
        key: line_key(_as_compared(row))
        for key, row in seen.rows.items()
        if key not in seen.claims and row["amount_minor"] > 0
    }


def _as_compared(row: Row) -> MoneyLine:
    return MoneyLine(
        transaction_id=str(row["id"]),
        kind=row["kind"],
        amount_minor=row["amount_minor"],
        occurred_on=row["occurred_on"],
        postage_minor=row["postage_minor"],
        note=row["note"],
        title=row["title"],
    )


async def _follow_words(place: Place, seen: Examined) -> set[tuple[UUID, tuple[UUID, ...]]]:
    """Lines that a person settled, or that were entered with their sale, are of those pieces.

    Returns:
        What a line was said not to be for, an id once per piece.
    """
    con, shop_id = place.con, place.shop.shop_id
    refused = set()
    for ruling in await rulings.standing_rulings(con, shop_id, list(seen.rows)):
        if ruling.kind in SETTLING:
            seen.claims.setdefault(ruling.transaction_id, []).extend(ruling.item_ids)
        elif ruling.kind == "refused":
            refused.add((ruling.transaction_id, tuple(ruling.item_ids)))
    for row in await store.entered_by_hand(con, shop_id, list(seen.rows)):
        seen.claims.setdefault(row["transaction_id"], []).extend(row["item_ids"] or ())
    return refused


async def _follow_references(
    place: Place, seen: Examined, refused: Collection[tuple[UUID, tuple[UUID, ...]]]
) -> None:
    wanted = {row["reference"] for row in seen.rows.values() if row["reference"]}
    listed = await store.items_listed_as(place.con, place.shop.shop_id, place.channel_id, wanted)
    for key, row in seen.rows.items():
        if key in seen.claims or not row["reference"] or row["amount_minor"] <= 0:
            continue
        item = listed.get(row["reference"])
        if item and (key, (item,) * max(row["quantity"], 1)) not in refused:
            seen.claims[key] = [item]
        else:
            seen.terms[key].add(place.terms.of(Tie.REFERENCE, row["reference"]))


def _looked_at(place: Place, stock: Stock, key: str) -> Iterator[int]:
    if not key:
        return
    reach = stock.reach(key)
    yield place.terms.of(Tie.TITLE, key)
    for tie, words in ((Tie.RARE, (*reach.rare, *reach.absent)), (Tie.SHARED, reach.shared)):
        for word in words:
            yield place.terms.of(tie, word)


def _note_claims(place: Place, seen: Examined) -> None:
    make = place.terms
    for key, row in seen.rows.items():
        own = seen.terms[key]
        own.update(make.of(Tie.ITEM, str(item)) for item in seen.claims.get(key, ()))
        own.add(make.of(Tie.AMOUNT, str(row["amount_minor"])))


async def _examine_refunds(place: Place, seen: Examined) -> None:
    named = {row["related_id"] for row in seen.refunds.values() if row["related_id"]}
    payments = await _payments_named(place, named)
    said = await _payments_said(place, seen)
    make = place.terms
    for key, row in seen.refunds.items():
        own = seen.terms[key]
        found = payments.get(row["related_id"], ()) if row["related_id"] else ()
        found = (said[key],) if key in said else found
        if row["related_id"]:
            own.add(make.of(Tie.NAMED, row["related_id"]))
        own.update(make.of(Tie.PAYMENT, str(payment["id"])) for payment in found)
        if len(found) == 1:
            (seen.given_back[key],) = found
            own.add(make.of(Tie.GIVEN, str(found[0]["amount_minor"])))
        else:
            own.add(make.of(Tie.BACK, str(abs(row["amount_minor"]))))


async def _payments_said(place: Place, seen: Examined) -> dict[UUID, Row]:
    """Payments of the channel that a person said are given back, by refund."""
    con, shop_id = place.con, place.shop.shop_id
    said = {
        ruling.transaction_id: ruling.related_transaction_id
        for ruling in await rulings.standing_rulings(con, shop_id, list(seen.refunds))
        if ruling.kind == "part_of_sale" and ruling.related_transaction_id
    }
    if not said:
        return {}
    rows = await store.lines_to_look_at(con, shop_id, place.channel_id, set(said.values()))
    known = {row["id"]: row for row in rows if row["currency"] == place.shop.currency}
    return {refund: known[payment] for refund, payment in said.items() if payment in known}


async def _payments_named(place: Place, names: Collection[str]) -> Mapping[str, Sequence[Row]]:
    keys = [key_of_outside_id(kind, name) for name in names for kind in _SOLD_BY]
    rows = await store.payments_named(
        place.con, place.shop.shop_id, place.channel_id, keys, place.shop.currency
    )
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row["external_id"], []).append(row)
    return found
