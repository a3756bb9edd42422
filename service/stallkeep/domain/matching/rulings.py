"""What people said about lines and pieces; never overturned."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from typing import Literal, TypeAlias

import msgspec

Verdict: TypeAlias = Literal[
    "confirmed", "refused", "set_aside", "no_piece", "count", "part_of_sale", "apart"
]


class Ruling(msgspec.Struct, frozen=True, kw_only=True):
    """A person's word about one line; never overturned.

    Attributes:
        transaction_id: The line.
        verdict: confirmed (it was these pieces; also a choice by hand), refused (not these),
            set_aside (no sale to be matched), no_piece (a sale of something without a tag),
            count (it was for *pieces* pieces), part_of_sale (it is a part of the sale of
            *related_id*, which is confirmed; a refund: it gives back *related_id*), apart (it and
            *related_id* are two sales, however much they look like parts of one).
        item_ids: The pieces, for confirmed and refused, an id once per piece.
        pieces: Number of pieces, for count.
        related_id: The line that has the sale, for part_of_sale; the other one, for apart.
        by: Who said it.
        at: When.
    """

    transaction_id: str
    verdict: Verdict
    item_ids: tuple[str, ...] = ()
    pieces: int | None = None
    related_id: str | None = None
    by: str = ""
    at: dt.datetime | None = None


class PieceRuling(msgspec.Struct, frozen=True, kw_only=True):
    """A person's word about one piece: somebody looked.

    Attributes:
        item_id: The piece.
        still_here: Pieces of it that are still there (0 or 1 for a single piece).
        by: Who said it.
        at: When.
    """

    item_id: str
    still_here: int
    by: str = ""
    at: dt.datetime | None = None


def refused_sets(rulings: Iterable[Ruling]) -> dict[str, set[tuple[str, ...]]]:
    """Give, per transaction id, the sets of pieces that a person said it was not for, sorted."""
    refused: dict[str, set[tuple[str, ...]]] = defaultdict(set)
    for ruling in rulings:
        if ruling.verdict == "refused":
            refused[ruling.transaction_id].add(tuple(sorted(ruling.item_ids)))
    return refused


def kept_apart(rulings: Iterable[Ruling]) -> set[frozenset[str | None]]:
    """Give the pairs of transaction ids that a person said are two sales."""
    return {
        frozenset((ruling.transaction_id, ruling.related_id))
        for ruling in rulings
        if ruling.verdict == "apart"
    }
