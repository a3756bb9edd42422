"""Which sales of a channel are concerned by what is new, and which of them belong together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import partial
from typing import Final, TypeAlias
from uuid import UUID

from stallkeep.domain.matching.channel_stock import Stock
from stallkeep.domain.matching.channel_terms import Tie, as_tie, joining, tie_of
from stallkeep.domain.matching.competing import Competing
from stallkeep.store import evidence as store
from stallkeep.store import match_terms, matches
from stallkeep.store.connection import Row
from stallkeep.store.match_news import News
from stallkeep.work.channel_stock import Place, parts, seekers
from stallkeep.work.examine_lines import Examined, compare_titles, examine, read_lines
from stallkeep.work.in_turns import in_turns

Terms: TypeAlias = Mapping[UUID, set[int]]
"""What lines looked at, by their ids."""

_ALWAYS: Final = dt.date.min
_OF_AMOUNTS: Final = frozenset({Tie.AMOUNT, Tie.BACK, Tie.GIVEN})


class Concerned:
    """Finds every sale whose answer may have changed, and all that compete with it.

    Sales that may be of one piece are answered together: the set is closed when no other sale
    shares a piece with any of its own. Refunds are apart: they rest on payments, none rests on
    them.

    Attributes:
        refunds: Refunds to be answered.
    """

    def __init__(self, place: Place) -> None:
        self._place = place
        self._where = (place.shop.shop_id, place.channel_id)
        self._is_new = False
        self._seen: set[UUID] = set()
        self._amounts: dict[int, dt.date] = {}
        self._sales = Competing()
        self._left: list[tuple[UUID, int]] = []
        self.refunds: set[UUID] = set()

    async def add_news(self, news: News, stock_terms: Collection[frozenset[int]]) -> None:
        """Follow what is new to the sales it concerns."""
        con, shop_id, channel_id = self._place.con, self._place.shop.shop_id, self._place.channel_id
        start = set(news.lines)
        if news.imports:
            start.update(await store.line_ids_of_imports(con, shop_id, channel_id, news.imports))
        start |= await self._of_items(news.items, stock_terms)
        start |= await match_terms.lines_with(con, shop_id, joining(news.terms))
        self._free_amounts(news.terms)
        await self._close(start)
        await self._add_refunds_of_amounts()

    async def add_lines(self, ids: Collection[UUID]) -> None:
        """Look at these lines, too, and at what competes with them."""
        await self._close(ids)

    async def add_everything(self, ids: Sequence[UUID], stock: Stock) -> None:
        """Look at these lines, which are all there are: nothing else can compete.

        Args:
            ids: All of the channel's lines.
            stock: All of its items, just measured.
        """
        con = self._place.con
        self._is_new = not await match_terms.has_lines(con, *self._where)
        # In the order in which they came, so that lines of one part stand together in the tables.
        await in_turns(parts(sorted(ids)), self._read, partial(self._compare, stock), self._keep)
        if self._is_new:
            await match_terms.let_find_lines(con, *self._where)

    def sales(self) -> Competing:
        """Give payments and sales to be answered, foreign ones included, by what they compete for.

        A line that may no longer be of a piece competes for it once more: until it is answered,
        the piece may still be sold to it.
        """
        if self._left:
            make = self._place.terms
            pieces = {make.of(Tie.ITEM, str(piece)): piece for piece in self._sales.pieces}
            left = ((line, pieces.get(term)) for line, term in self._left)
            self._sales.join([(line, piece) for line, piece in left if piece])
            self._left.clear()
        return self._sales

    async def _of_items(
        self, items: Collection[UUID], stock_terms: Collection[frozenset[int]]
    ) -> set[UUID]:
        con, shop_id = self._place.con, self._place.shop.shop_id
        make = self._place.terms
        alone = {make.of(Tie.ITEM, str(item)) for item in items}
        together = []
        for terms in stock_terms:
            own, shared = seekers(terms)
            alone |= own
            together.append(shared)
        found = await match_terms.lines_with(con, shop_id, alone)
        return found | await match_terms.lines_with_two(con, shop_id, together)

    async def _close(self, start: Iterable[UUID]) -> None:
        """Examine lines, then those that compete with them, until there are no more."""
        todo, first = set(start) - self._seen, True
        while todo:
            self._seen |= todo
            found: set[UUID] = set()
            for part in parts(sorted(todo)):
                found |= await self._examine(part, is_new=first)
            todo, first = found - self._seen, False

    async def _read(self, ids: Collection[UUID]) -> tuple[Examined, Terms]:
        """Read lines, and what they looked at before."""
        con, shop_id = self._place.con, self._place.shop.shop_id
        await matches.release_rung_up(con, shop_id, ids)
        before = await match_terms.terms_of_lines(con, *self._where, ids)
        return await read_lines(self._place, ids), before

    def _compare(self, stock: Stock, read: tuple[Examined, Terms]) -> tuple[Examined, Terms]:
        compare_titles(self._place, read[0], stock)
        return read

    async def _keep(self, read: tuple[Examined, Terms]) -> None:
        """Note what lines look at and may be of."""
        seen, before = read
        if self._is_new:
            await match_terms.add_lines(self._place.con, *self._where, seen.terms)
        else:
            await match_terms.keep_line_terms(self._place.con, *self._where, before, seen.terms)
        self.refunds |= seen.refunds.keys()
        for key in (*seen.rows, *seen.foreign):
            self._sales.add(key, seen.claims.get(key, ()), is_open=key in seen.compared)
            past = joining(before.get(key, ()))
            self._left += [(key, term) for term in past if term not in seen.terms[key]]

    async def _examine(self, ids: Collection[UUID], *, is_new: bool) -> set[UUID]:
        """Look at lines; gives those that compete with them."""
        con, shop_id = self._place.con, self._place.shop.shop_id
        await matches.release_rung_up(con, shop_id, ids)
        before = await match_terms.terms_of_lines(con, *self._where, ids)
        seen = await examine(self._place, ids)
        await self._keep((seen, before))
        if is_new:
            self._note_amounts(ids, before, seen)
        make = self._place.terms
        ties = {term for terms in (*before.values(), *seen.terms.values()) for term in terms}
        wanted = set(joining(ties))
        wanted |= {make.of(Tie.PAYMENT, str(key)) for key in ids}
        if is_new:
            names = {row["external_id"] for row in seen.rows.values()} - {None}
            wanted |= {make.of(Tie.NAMED, name) for name in names}
        return await match_terms.lines_with(con, shop_id, wanted)

    def _note_amounts(
        self, ids: Collection[UUID], before: Mapping[UUID, set[int]], seen: Examined
    ) -> None:
        """A payment that is new concerns refunds of its amount after it, a changed one all."""
        for key in ids:
            self._free_amounts(before.get(key, ()))
        for key, row in seen.rows.items():
            term = self._place.terms.of(Tie.BACK, str(row["amount_minor"]))
            day = _ALWAYS if key in before else row["occurred_on"]
            self._amounts[term] = min(day, self._amounts.get(term, day))

    def _free_amounts(self, terms: Iterable[int]) -> None:
        """What a line looked at before: another payment, or one that a refund held."""
        for term in terms:
            if tie_of(term) in _OF_AMOUNTS:
                self._amounts[as_tie(term, Tie.BACK)] = _ALWAYS

    async def _add_refunds_of_amounts(self) -> None:
        """Refunds that name no payment: the payments of their amount before them have changed."""
        con, shop_id, channel_id = self._place.con, self._place.shop.shop_id, self._place.channel_id
        found = await match_terms.lines_with(con, shop_id, self._amounts)
        rows = await store.lines_of_channel(con, shop_id, channel_id, found - self._seen)
        self.refunds |= {row["id"] for row in rows if self._rests_on_changed(row)}

    def _rests_on_changed(self, refund: Row) -> bool:
        term = self._place.terms.of(Tie.BACK, str(abs(refund["amount_minor"])))
        since: dt.date = self._amounts.get(term, dt.date.max)
        return bool(since <= refund["occurred_on"])
