"""Take an export's listings in: new pieces, new offers of known pieces, changed offers."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Final
from uuid import UUID

from stallkeep.domain.listing_intake import Decision, StockItem, StoredListing, decide
from stallkeep.domain.tag_codes import is_valid, new_code, normalise
from stallkeep.store import listing_intake as store
from stallkeep.store.connection import Connection
from stallkeep.store.ids import new_id
from stallkeep.work.intake_tally import Tally
from stallkeep_importers.contract import Listing, Notice

NAMED: Final = 5
"""Pieces that a notice names, at most."""


def stored_code(typed: str) -> str:
    """Bring a seller's code to the form it is stored in: ours canonical, others in capitals."""
    return normalise(typed) if is_valid(typed) else typed.strip().upper()


class ListingIntake:
    """Takes the listings of one import, batch by batch, in the import's transaction."""

    def __init__(
        self, con: Connection, shop_id: UUID, channel_id: UUID, import_id: UUID, tally: Tally
    ) -> None:
        self._con = con
        self._shop_id = shop_id
        self._channel_id = channel_id
        self._import_id = import_id
        self._tally = tally
        self._random = random.SystemRandom()
        self._new_pieces = 0
        self._perhaps: list[tuple[str, str]] = []

    async def take(self, rows: Sequence[Listing]) -> None:
        """Decide on each listing, in file order, and store what is new or changed."""
        stored = await store.known_listings(
            self._con, self._shop_id, self._channel_id, [row.reference for row in rows]
        )
        codes = [stored_code(row.tag_code) for row in rows if row.tag_code]
        stock = await store.stock_like(
            self._con, self._shop_id, self._channel_id, codes, [row.title for row in rows]
        )
        for row in rows:
            decision = self._decide(row, stored, stock)
            await self._carry_out(row, decision, stored, stock)

    def _decide(
        self, row: Listing, stored: dict[str, StoredListing], stock: list[StockItem]
    ) -> Decision:
        code = stored_code(row.tag_code) if row.tag_code else None
        by_code = next((item for item in stock if code and item.tag_code == code), None)
        alike = [item for item in stock if item.title == row.title]
        return decide(row, stored.get(row.reference), by_code, alike)

    async def _carry_out(
        self,
        row: Listing,
        decision: Decision,
        stored: dict[str, StoredListing],
        stock: list[StockItem],
    ) -> None:
        if decision.step == "known":
            self._tally.known += 1
            return
        self._tally.taken += 1
        if decision.step == "changed":
            self._tally.changed += 1
            listing = stored[row.reference]
            await self._change(row, listing)
            stored[row.reference] = _as_stored(row, listing.id, listing.item_id)
            return
        if decision.item_id is None:
            self._new_pieces += 1
            if decision.perhaps is not None:
                self._perhaps.append((row.title, decision.perhaps))
        item_id = decision.item_id or await self._add_item(row, stock)
        if decision.item_id is not None:
            await self._fill(row, item_id)
        if decision.by_title:
            self._tell_linked(row)
        listing_id = await self._add_listing(row, item_id)
        stored[row.reference] = _as_stored(row, listing_id, item_id)

    async def _add_item(self, row: Listing, stock: list[StockItem]) -> UUID:
        item_id = new_id()
        code = stored_code(row.tag_code) if row.tag_code else await self._free_code()
        values = (row.title, row.category, row.size, max(row.quantity, 1), row.price_minor)
        await store.add_items(
            self._con,
            [(self._shop_id, item_id, code, *values, row.listed_on, self._import_id)],
        )
        stock.append(
            StockItem(
                id=item_id,
                tag_code=code,
                title=row.title,
                size=row.size,
                price_minor=row.price_minor,
                on_channel=True,
            )
        )
        return item_id

    async def _free_code(self) -> str:
        while True:
            code = new_code(self._random)
            if not await store.taken_codes(self._con, self._shop_id, [code]):
                return code

    async def _fill(self, row: Listing, item_id: UUID) -> None:
        await store.fill_item(
            self._con,
            self._shop_id,
            item_id,
            category=row.category,
            size=row.size,
            price_minor=row.price_minor,
        )

    async def _add_listing(self, row: Listing, item_id: UUID) -> UUID:
        listing_id = new_id()
        values = (row.title, row.price_minor, row.state, row.listed_on, row.ended_on)
        place = (self._shop_id, listing_id, self._channel_id, item_id, row.reference)
        await store.add_listings(self._con, [(*place, *values, self._import_id)])
        return listing_id

    async def _change(self, row: Listing, listing: StoredListing) -> None:
        await store.change_listing(
            self._con,
            self._shop_id,
            listing.id,
            title=row.title,
            price_minor=row.price_minor,
            state=row.state,
            listed_on=row.listed_on,
            ended_on=row.ended_on,
        )

    def finish(self) -> None:
        """Say how many pieces are new, and which of them may be in stock already."""
        if self._new_pieces:
            self._tally.notices.append(_new_notice(self._new_pieces))
        if self._perhaps:
            self._tally.notices.append(_doubt(self._perhaps))

    def _tell_linked(self, row: Listing) -> None:
        self._tally.notices.append(
            Notice(
                code="linked-by-title",
                text=f"Line {row.line}: {row.title!r} has no code and was taken for the piece in "
                "stock with the same title, size and price.",
            )
        )


def _new_notice(count: int) -> Notice:
    pieces = "1 new piece was" if count == 1 else f"{count} new pieces were"
    return Notice(
        code="new-pieces",
        text=f"{pieces} taken into stock, without a cost: enter what was paid for each, or what it "
        "earns is only estimated.",
    )


def _doubt(perhaps: Sequence[tuple[str, str]]) -> Notice:
    shown = ", ".join(f"{title!r} ({code})" for title, code in perhaps[:NAMED])
    more = f" and {len(perhaps) - NAMED} more" if len(perhaps) > NAMED else ""
    return Notice(
        code="perhaps-in-stock",
        text=f"Of the new pieces, {len(perhaps)} have the title of a piece that you have already, "
        f"though no code, size and price that say it is the same: {shown}{more}. Where it is the "
        "same, it now stands in stock twice: undo the import, and give the listing the code of the "
        "piece (or name the column that has it, as tag_code) or enter the listing by hand.",
    )


def _as_stored(row: Listing, listing_id: UUID, item_id: UUID) -> StoredListing:
    return StoredListing(
        id=listing_id,
        item_id=item_id,
        title=row.title,
        price_minor=row.price_minor,
        state=row.state,
        listed_on=row.listed_on,
        ended_on=row.ended_on,
    )
