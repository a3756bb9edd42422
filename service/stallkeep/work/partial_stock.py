"""The part of a channel's stock that some of its sales are compared with, read as it is stored."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from uuid import UUID

from stallkeep.domain.matching import RailPiece
from stallkeep.domain.matching.channel_stock import Measure, Stock, key_of
from stallkeep.domain.matching.channel_terms import Tie
from stallkeep.store import evidence as store
from stallkeep.store import stock_terms
from stallkeep.work.channel_stock import Place
from stallkeep.work.evidence_pieces import by_item, piece_of


async def pieces_of(place: Place, item_ids: Collection[UUID]) -> tuple[RailPiece, ...]:
    """Read pieces of the channel's stock, in order of tag codes, with their sales elsewhere."""
    pieces, _ = await pieces_and_left(place, item_ids)
    return pieces


async def pieces_and_left(
    place: Place, item_ids: Collection[UUID]
) -> tuple[tuple[RailPiece, ...], dict[UUID, int]]:
    """Likewise, with how many of each are not sold."""
    con, shop_id, channel_id = place.con, place.shop.shop_id, place.channel_id
    rows = await store.channel_pieces(con, shop_id, channel_id, item_ids)
    left = {row["id"]: row["left_over"] for row in rows}
    away = by_item(await store.sold_off_channel(con, shop_id, channel_id, list(left)))
    pieces = (piece_of(row, away, place.shop, quantity=row["quantity"]) for row in rows)
    return tuple(pieces), left


async def stock_for(place: Place, keys: Collection[str]) -> Stock:
    """Read the part of the stock that these titles can be compared with."""
    found = await _with_terms(place, Tie.TITLE, keys)
    absent = {key for key in keys if key not in found}
    words = await _measured(place, {word for key in absent for word in key.split()})
    choosing = Stock((), _measure(words=words))
    chosen = {key: choosing.choose(key) for key in absent}
    needed = {word for rare, shared, _ in chosen.values() for word in (*rare, *shared)}
    users = await _with_terms(place, Tie.WORD, needed)
    listed = {word: [str(item) for item in items] for word, items in users.items()}
    reaching = Stock((), _measure(words=words), listed)
    ids = {item for items in found.values() for item in items}
    for key in absent:
        ids |= _reached(reaching, key)
    pieces = await pieces_of(place, ids)
    measure = await _measure_of(place, pieces, words)
    return Stock(pieces, measure, listed)


async def stock_of(place: Place, pieces: Sequence[RailPiece]) -> Stock:
    """Join these pieces with how common their titles, words and prices are."""
    return Stock(pieces, await _measure_of(place, pieces, {}))


def _reached(stock: Stock, key: str) -> set[UUID]:
    reach = stock.reach(key)
    if not reach.shared:
        return {UUID(item) for item in reach.items}
    once: set[str] = set()
    twice: set[UUID] = set()
    for item in reach.items:
        if item in once:
            twice.add(UUID(item))
        once.add(item)
    return twice


async def _with_terms(place: Place, tie: Tie, texts: Iterable[str]) -> dict[str, list[UUID]]:
    terms = {place.terms.of(tie, text): text for text in texts if text}
    found = await stock_terms.items_with(place.con, place.shop.shop_id, terms.keys())
    return {terms[term]: items for term, items in found.items()}


async def _measured(place: Place, words: Collection[str]) -> dict[str, int]:
    return {word: then for word, (then, _) in (await _counts(place, Tie.WORD, words)).items()}


async def _counts(place: Place, tie: Tie, texts: Collection[str]) -> dict[str, tuple[int, int]]:
    terms = {place.terms.of(tie, text): text for text in texts}
    counts = await stock_terms.counts_of(
        place.con, place.shop.shop_id, place.channel_id, terms.keys()
    )
    return {terms[term]: both for term, both in counts.items()}


async def _measure_of(
    place: Place, pieces: Sequence[RailPiece], words: Mapping[str, int]
) -> Measure:
    keys = {key_of(piece.title) for piece in pieces}
    titles = await _counts(place, Tie.TITLE, keys)
    own = {word for key in keys for word in key.split()} - words.keys()
    prices = {str(p.price_minor) for p in pieces if p.price_minor is not None}
    told = await _counts(place, Tie.PRICE, prices)
    size = await _counts(place, Tie.SIZE, [""])
    return Measure(
        size=size[""][0] if size else 1,
        titles={key: now for key, (_, now) in titles.items()},
        words={**words, **await _measured(place, own)},
        prices={int(price): then for price, (then, _) in told.items()},
    )


def _measure(words: Mapping[str, int]) -> Measure:
    return Measure(size=1, titles={}, words=words, prices={})
