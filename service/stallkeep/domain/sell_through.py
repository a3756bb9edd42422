"""Sell-through: pieces sold ÷ pieces taken, in all, by category and by price band.

Of the conventions in use this one divides by what was taken to the event, not by what is left.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from typing import Protocol

import msgspec

from stallkeep.domain.event_facts import EventFacts, TakenPiece
from stallkeep.domain.money import half_up, minor_units, to_text
from stallkeep.domain.settled import PieceSum

MILLION = 1_000_000
NO_CATEGORY = "without a category"
NO_PRICE = "without a price"


class SellThrough(msgspec.Struct, frozen=True, kw_only=True):
    """Sold and taken of one group of pieces.

    Attributes:
        name: The category, or the price band as "25.00 to 49.99"; "all" for all.
        taken: Pieces taken.
        sold: Pieces that went; of an uncounted rail those with a matched payment only.
        share_ppm: sold ÷ taken in parts per million, half up; None when none was taken.
    """

    name: str
    taken: int
    sold: int
    share_ppm: int | None


class Piece(msgspec.Struct, frozen=True, kw_only=True):
    """How many of one item were taken, matched and gone.

    Attributes:
        item: As it was on the rail; one made from the sale for an item sold but not listed.
        taken: Pieces taken.
        matched: Pieces with a matched payment, those brought back left out.
        gone: Pieces missing in the stock count; None when the rail was not counted.
        was_on_rail: False for an item sold without being listed on the rail.
    """

    item: TakenPiece
    taken: int
    matched: int
    gone: int | None
    was_on_rail: bool = True

    @property
    def sold(self) -> int:
        """Pieces that went, by the surer of count and payments."""
        return max(self.matched, self.gone or 0)


def pieces_of(facts: EventFacts) -> tuple[Piece, ...]:
    """Bring rail, count and matched payments together, item by item, rail first."""
    matched: dict[str, int] = {}
    seen: dict[str, TakenPiece] = {}
    for line in facts.takings:
        for piece in line.pieces:
            if not piece.is_returned:
                price = piece.price_minor // piece.quantity
                matched[piece.item_id] = matched.get(piece.item_id, 0) + piece.quantity
                seen[piece.item_id] = TakenPiece(
                    item_id=piece.item_id,
                    price_minor=max(price, seen[piece.item_id].price_minor or 0)
                    if piece.item_id in seen
                    else price,
                    category=piece.category,
                )
    counted = facts.is_counted
    on_rail = [_listed(item, matched.pop(item.item_id, 0), counted) for item in facts.rail]
    others = [
        Piece(item=seen[item_id], taken=count, matched=count, gone=None, was_on_rail=False)
        for item_id, count in matched.items()
    ]
    return (*on_rail, *others)


def _listed(item: TakenPiece, matched: int, counted: bool) -> Piece:
    """Bring a listed item together; sales elsewhere explain what no payment does."""
    missing = max(0, item.quantity - (item.counted_home or 0))
    gone = max(min(missing, matched), missing - item.sold_elsewhere) if counted else None
    return Piece(item=item, taken=item.quantity, matched=matched, gone=gone)


def gone_unmatched(pieces: Iterable[Piece]) -> tuple[TakenPiece, ...]:
    """Pick what a full count misses and no payment is matched to, with the quantity missing."""
    return tuple(
        msgspec.structs.replace(piece.item, quantity=piece.gone - piece.matched)
        for piece in pieces
        if piece.gone is not None and piece.gone > piece.matched
    )


class Counted(Protocol):
    """Something with pieces taken and sold."""

    @property
    def taken(self) -> int: ...
    @property
    def sold(self) -> int: ...


def sell_through(name: str, pieces: Iterable[Counted]) -> SellThrough:
    """Work out the sell-through of some pieces."""
    listed = list(pieces)
    taken, sold = sum(p.taken for p in listed), sum(p.sold for p in listed)
    share = half_up(sold * MILLION, taken) if taken else None
    return SellThrough(name=name, taken=taken, sold=sold, share_ppm=share)


def by_category(pieces: Iterable[PieceSum]) -> tuple[SellThrough, ...]:
    """Sell-through per category, by name."""
    groups: dict[str, list[PieceSum]] = {}
    for piece in pieces:
        groups.setdefault(piece.category or NO_CATEGORY, []).append(piece)
    return tuple(sell_through(name, groups[name]) for name in sorted(groups))


def by_price_band(
    pieces: Iterable[PieceSum], currency: str, starts_minor: Sequence[int]
) -> tuple[SellThrough, ...]:
    """Sell-through per price band, lowest first; bands that nothing falls in are left out.

    Args:
        pieces: With the band of the price on the tag.
        currency: Of the prices.
        starts_minor: Rising amounts at which the bands after the first begin.
    """
    edges = [0, *starts_minor]
    groups: dict[int, list[PieceSum]] = {}
    for piece in pieces:
        groups.setdefault(-1 if piece.band is None else piece.band, []).append(piece)
    return tuple(
        sell_through(_band_name(edges, band, currency), groups[band])
        for band in sorted(groups, key=lambda band: (band < 0, band))
    )


def band_of(price_minor: int | None, starts_minor: Sequence[int]) -> int | None:
    """Number the price band of a price from 0; None without a price."""
    return None if price_minor is None else bisect_right(starts_minor, price_minor)


def band_starts(currency: str, starts_minor: Sequence[int] | None) -> tuple[int, ...]:
    """Give the amounts at which the bands after the first begin."""
    return default_bands(currency) if starts_minor is None else tuple(starts_minor)


def default_bands(currency: str) -> tuple[int, ...]:
    """Bands from 10, 25, 50 and 100 in money, scaled for currencies without decimals."""
    unit = 10 ** (minor_units(currency) or 2)
    return tuple(amount * unit for amount in (10, 25, 50, 100))


def _band_name(edges: Sequence[int], band: int, currency: str) -> str:
    if band < 0:
        return NO_PRICE
    low = to_text(edges[band], currency)
    if band + 1 == len(edges):
        return f"{low} and more"
    return f"{low} to {to_text(edges[band + 1] - 1, currency)}"
