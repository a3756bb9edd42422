"""A person's word about a payment: what it was for, what it was not, or that it is no sale.

The word is kept for ever and outweighs whatever a run worked out. It may take a piece from a
match that only the engine made; it never silently takes one from another person's word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final
from uuid import UUID

import msgspec

from stallkeep.domain.errors import ConflictError, NotFoundError, RejectedInputError
from stallkeep.domain.matching.settled import SETTLING
from stallkeep.domain.money import apportion, to_text
from stallkeep.domain.tag_codes import to_text as code_text
from stallkeep.store import matches, rulings
from stallkeep.store.connection import Connection, Pool, Row
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.store.joined_sales import part_company
from stallkeep.store.shops import Shop
from stallkeep.work.take_listings import stored_code

NO_LONGER_JOINED: Final = "It was part of a sale that is undone"

_TRANSACTION: Final = """
select id, channel_id, event_id, kind, method, amount_minor, currency, tip_minor, postage_minor,
       occurred_at, occurred_on, match_state, import_id
  from transaction where shop_id = $1 and id = $2 for update
"""
_ITEMS: Final = """
select id, tag_code, title, price_minor, quantity - sold as left_over from item
 where shop_id = $1 and (tag_code = any($2) or id = any($3)) order by id for update
"""
_CLAIMS: Final = """
select m.transaction_id, m.decided_by from sale_line sl
  join sale s on s.shop_id = sl.shop_id and s.id = sl.sale_id and s.state = 'done'
  join match m on m.shop_id = s.shop_id and m.sale_id = s.id and m.state = 'matched'
 where sl.shop_id = $1 and sl.item_id = $2 and sl.state = 'sold'
"""
_CONFLICT: Final = """
insert into conflict (shop_id, id, kind, item_id, transaction_id, event_id, detail)
select $1, $2, 'second-claim', $3, $4, $5, $6
 where not exists (select from conflict where shop_id = $1 and item_id = $3
                      and transaction_id = $4 and state = 'open')
"""
# An entered sale that waits for its payment: of exactly these pieces, or of as much money.
_RING_UP: Final = """
select s.id, s.total_minor from sale s
 where s.shop_id = $1 and s.state = 'done' and s.origin <> 'match' and s.transaction_id is null
   and s.channel_id = $2 and s.sold_on = $3
   and (select coalesce(array_agg(sl.item_id order by sl.item_id), '{}') from sale_line sl
         where sl.shop_id = s.shop_id and sl.sale_id = s.id and sl.item_id is not null) = $4
   and (cardinality($4::uuid[]) > 0 or s.total_minor = $5)
 order by abs(s.total_minor - $5), s.id limit 1
"""


class TransactionNotFoundError(NotFoundError):
    """There is no such transaction."""

    code = "transaction-not-found"
    title = "No such transaction"


class CodeNotInStockError(RejectedInputError):
    """A tag code is none of the stock's."""

    code = "code-not-in-stock"
    title = "No piece has this code"


class NotASaleError(RejectedInputError):
    """Only payments and sales are for pieces."""

    code = "not-a-sale"
    title = "This transaction is not for pieces"


class PieceSpokenForError(ConflictError):
    """A piece is sold already, and somebody said so."""

    code = "piece-spoken-for"
    title = "The piece is sold to somebody else"


class PiecePrice(msgspec.Struct, frozen=True, kw_only=True):
    """A piece a payment was for; without a price its share is worked out."""

    tag_code: str | None = None
    item_id: UUID | None = None
    price_minor: int | None = None
    quantity: int = 1


async def confirm(
    pool: Pool, shop: Shop, transaction_id: UUID, pieces: Sequence[PiecePrice], by: str
) -> None:
    """Say which pieces a payment was for; none says it was for something without a tag.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: It is a fee, a payout or a refund.
        CodeNotInStockError: A code is unknown.
        PieceSpokenForError: Somebody said before that a piece went to another customer.
    """
    try:
        async with scope(pool, shop.shop_id) as con:
            row = await open_line(con, shop, transaction_id, *SETTLING)
            refuse_what_is_no_sale(shop, row)
            items = await find_items(con, shop, pieces)
            await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
            ring_up = await waiting_ring_up(con, shop, row, items)
            if ring_up is None:
                await free_pieces(con, shop, items)
            await settle(con, shop, row, items, by, ring_up=ring_up)
    except PieceSpokenForError as error:
        await show_conflict(pool, shop, transaction_id, error)
        raise


async def refuse(
    pool: Pool, shop: Shop, transaction_id: UUID, pieces: Sequence[PiecePrice], by: str
) -> None:
    """Say that a payment was not for exactly these pieces; a code twice means two of it.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: It is a fee, a payout or a refund.
        CodeNotInStockError: A code is unknown.
    """
    async with scope(pool, shop.shop_id) as con:
        row = await open_line(con, shop, transaction_id)
        _refuse_entered(row)
        refuse_what_is_no_sale(shop, row)
        items = _each(await find_items(con, shop, _counted(pieces)))
        await rulings.add_ruling(con, shop.shop_id, transaction_id, "refused", by, item_ids=items)
        stored = await matches.matches_of(con, shop.shop_id, [transaction_id])
        wanted = Counter(map(str, items))
        hit = [m for m in stored if wanted == {p["item_id"]: p["quantity"] for p in m.pieces}]
        if row["match_state"] == "matched" and not hit:
            return
        await _release_refused(con, shop, transaction_id, stored, hit)


async def say_how_many(pool: Pool, shop: Shop, transaction_id: UUID, pieces: int, by: str) -> None:
    """Say for how many pieces a payment was; the next run takes it into account.

    Raises:
        TransactionNotFoundError: The shop has no such transaction.
        NotASaleError: It is a fee, a payout or a refund.
    """
    async with scope(pool, shop.shop_id) as con:
        row = await open_line(con, shop, transaction_id, "count")
        refuse_what_is_no_sale(shop, row)
        await rulings.add_ruling(con, shop.shop_id, transaction_id, "count", by, pieces=pieces)


async def set_aside(
    pool: Pool, shop: Shop, transaction_id: UUID, reason: str, by: str, *, is_income: bool = True
) -> None:
    """Say that a transaction is not to be matched, and why.

    Not income (a test, a loan paid back) it stands in the takings and is taken off again.
    """
    async with scope(pool, shop.shop_id) as con:
        await open_line(con, shop, transaction_id, *SETTLING)
        await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
        await rulings.add_ruling(
            con, shop.shop_id, transaction_id, "set_aside", by, reason=reason, is_income=is_income
        )
        await matches.set_state(con, shop.shop_id, transaction_id, "set_aside", reason)


async def take_back(pool: Pool, shop: Shop, transaction_id: UUID) -> None:
    """Take back what was said about a transaction; it is open again until the next run."""
    async with scope(pool, shop.shop_id) as con:
        await open_line(con, shop, transaction_id, *SETTLING, "refused", "count")
        await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
        await matches.set_state(con, shop.shop_id, transaction_id, "unmatched", None)


async def open_line(con: Connection, shop: Shop, transaction_id: UUID, *withdraw: str) -> Row:
    """Lock the shop's matching and a transaction, and withdraw what was said of it by these kinds.

    With the words that settle it, a sale it was joined in comes apart.
    """
    await con.execute(
        "select pg_advisory_xact_lock(hashtextextended($1, 0))", f"matching/{shop.shop_id}"
    )
    row = await con.fetchrow(_TRANSACTION, shop.shop_id, transaction_id)
    if row is None:
        raise TransactionNotFoundError("There is no such transaction in this shop")
    if withdraw:
        _refuse_entered(row)
        if "part_of_sale" in withdraw:
            await part_company(con, shop.shop_id, [transaction_id], NO_LONGER_JOINED)
        await rulings.withdraw_rulings(con, shop.shop_id, transaction_id, withdraw)
    return row


def refuse_what_is_no_sale(shop: Shop, row: Row) -> None:
    """Raise NotASaleError for a fee, a payout, a refund, and what is in another currency."""
    if row["kind"] not in ("payment", "sale"):
        raise NotASaleError(f"A {row['kind']} is not for pieces", kind=row["kind"])
    if row["currency"] != shop.currency:
        raise NotASaleError(
            f"It is in {row['currency']}; the shop keeps its books in {shop.currency}. "
            "Set it aside, and enter the sale by hand.",
            kind=row["kind"],
        )


def _refuse_entered(row: Row) -> None:
    if row["import_id"] is None:
        raise ConflictError("It was entered together with its sale; change the sale instead")


async def find_items(
    con: Connection, shop: Shop, pieces: Sequence[PiecePrice]
) -> list[tuple[Row, PiecePrice]]:
    """Lock the items that pieces name, in the order they are named."""
    codes = [stored_code(p.tag_code) for p in pieces if p.tag_code]
    ids = [p.item_id for p in pieces if p.item_id]
    rows = await con.fetch(_ITEMS, shop.shop_id, codes, ids)
    by_code = {row["tag_code"]: row for row in rows}
    by_id = {row["id"]: row for row in rows}
    found: dict[UUID, tuple[Row, PiecePrice]] = {}
    for piece in pieces:
        row = by_code.get(stored_code(piece.tag_code)) if piece.tag_code else None
        row = row or (by_id.get(piece.item_id) if piece.item_id else None)
        if row is None:
            name = piece.tag_code or str(piece.item_id)
            raise CodeNotInStockError(f"No piece in stock has the code {name}", tag_code=name)
        if row["id"] in found:
            raise RejectedInputError(
                f"{row['tag_code']} is named twice; give its quantity instead",
                tag_code=row["tag_code"],
            )
        found[row["id"]] = (row, piece)
    return list(found.values())


async def waiting_ring_up(
    con: Connection, shop: Shop, row: Row, items: Sequence[tuple[Row, PiecePrice]]
) -> UUID | None:
    """Find the sale that was rung up for this payment and waits for it."""
    ids = sorted(UUID(str(item["id"])) for item, _ in items)
    day, paid = row["occurred_on"], row["amount_minor"] - (row["tip_minor"] or 0)
    found = await con.fetchrow(_RING_UP, shop.shop_id, row["channel_id"], day, ids, paid)
    return None if found is None else UUID(str(found["id"]))


async def free_pieces(con: Connection, shop: Shop, items: Sequence[tuple[Row, PiecePrice]]) -> None:
    """Release engine-made matches that hold a piece this payment needs."""
    for item, piece in items:
        needed = piece.quantity - await _left(con, shop, item["id"])
        claims = await con.fetch(_CLAIMS, shop.shop_id, item["id"]) if needed > 0 else []
        for claim in claims:
            if claim["decided_by"] is not None or needed <= 0:
                continue
            other = claim["transaction_id"]
            await matches.release(con, shop.shop_id, [other], also_decided=False)
            reason = f"Its piece {code_text(item['tag_code'])} was confirmed for another payment"
            await matches.set_state(con, shop.shop_id, other, "unmatched", reason)
            needed = piece.quantity - await _left(con, shop, item["id"])
        if needed > 0:
            raise PieceSpokenForError(
                f"{item['title']} ({item['tag_code']}) is sold to somebody else already",
                tag_code=item["tag_code"],
                item_id=str(item["id"]),
            )


async def _left(con: Connection, shop: Shop, item_id: UUID) -> int:
    left: int = await con.fetchval(
        "select quantity - sold from item where shop_id = $1 and id = $2", shop.shop_id, item_id
    )
    return left


async def settle(
    con: Connection,
    shop: Shop,
    row: Row,
    items: Sequence[tuple[Row, PiecePrice]],
    by: str,
    *,
    ring_up: UUID | None,
) -> None:
    """Write the word down, and sell the pieces; a sale rung up before is linked instead."""
    kind = "confirmed" if items else "no_piece"
    await rulings.add_ruling(con, shop.shop_id, row["id"], kind, by, item_ids=_each(items))
    new = matches.NewMatch(
        transaction_id=row["id"],
        state="matched",
        explanation="pieces" if items else "untagged",
        probability=1.0,
        reason=f"{by} said so",
        evidence=[],
        decided_by=by,
        sale_id=ring_up,
        pieces=_shares(row, items),
    )
    await matches.add_match(con, shop.shop_id, new, matches.sale_of(row))
    await matches.set_state(con, shop.shop_id, row["id"], "matched", new.reason)


def _counted(pieces: Sequence[PiecePrice]) -> list[PiecePrice]:
    """Join codes that are named several times."""
    found: dict[object, PiecePrice] = {}
    for piece in pieces:
        name = stored_code(piece.tag_code) if piece.tag_code else piece.item_id
        known = found.get(name)
        more = piece.quantity + (known.quantity if known else 0)
        found[name] = msgspec.structs.replace(piece, quantity=more)
    return list(found.values())


def _each(items: Sequence[tuple[Row, PiecePrice]]) -> list[UUID]:
    """Name each piece once: three of an item are its id three times."""
    return [UUID(str(item["id"])) for item, piece in items for _ in range(piece.quantity)]


def _shares(row: Row, items: Sequence[tuple[Row, PiecePrice]]) -> list[matches.Piece]:
    """Split the payment, less tip and postage, over the pieces by their prices."""
    if not items:
        return []
    beside = (row["tip_minor"] or 0) + (row["postage_minor"] or 0)
    total = row["amount_minor"] - (beside if beside <= row["amount_minor"] else 0)
    said = sum(piece.price_minor for _, piece in items if piece.price_minor is not None)
    if said > total:
        raise RejectedInputError(
            f"The prices sum to more than was paid for pieces ({_amount(total, row)})",
            paid=_amount(total, row),
        )
    open_ones = [(item, piece) for item, piece in items if piece.price_minor is None]
    weights = [(item["price_minor"] or 0) * piece.quantity for item, piece in open_ones]
    rest = iter(
        apportion(total - said, weights if sum(weights) else [1] * len(open_ones))
        if open_ones
        else ()
    )
    prices = [next(rest) if p.price_minor is None else p.price_minor for _, p in items]
    return [
        matches.Piece(UUID(str(item["id"])), price, piece.quantity)
        for (item, piece), price in zip(items, prices, strict=True)
    ]


def _amount(minor: int, row: Row) -> str:
    return to_text(minor, row["currency"])


async def _release_refused(
    con: Connection, shop: Shop, transaction_id: UUID, stored: Sequence[Any], hit: Sequence[Any]
) -> None:
    ids = [match.id for match in hit]
    if any(match.state == "matched" for match in hit):
        await part_company(con, shop.shop_id, [transaction_id], NO_LONGER_JOINED)
        await matches.release(con, shop.shop_id, [transaction_id], also_decided=True)
        await rulings.withdraw_rulings(con, shop.shop_id, transaction_id, SETTLING)
    else:
        await con.execute(
            "delete from match where shop_id = $1 and id = any($2)", shop.shop_id, ids
        )
    left = [m for m in stored if m.id not in ids and m.state == "proposed"]
    state = "proposed" if left and not any(m.state == "matched" for m in hit) else "unmatched"
    reason = "You said it was not the piece proposed" if state == "unmatched" else left[0].reason
    await matches.set_state(con, shop.shop_id, transaction_id, state, reason)


async def show_conflict(
    pool: Pool, shop: Shop, transaction_id: UUID, error: PieceSpokenForError
) -> None:
    """Two people's words about one piece: written down, so that a person sees it."""
    async with scope(pool, shop.shop_id) as con:
        event_id = await con.fetchval(
            "select event_id from transaction where shop_id = $1 and id = $2",
            shop.shop_id,
            transaction_id,
        )
        await con.execute(
            _CONFLICT,
            shop.shop_id,
            new_id(),
            UUID(str(error.facts["item_id"])),
            transaction_id,
            event_id,
            f"Two payments were said to be for it: {error.detail}",
        )
