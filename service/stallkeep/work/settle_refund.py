"""A person's word about a refund: which payment it gives back, and what came back with it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.errors import RejectedInputError
from stallkeep.domain.matching.settled import SETTLING
from stallkeep.domain.money import to_text
from stallkeep.store import matches, rulings, sales
from stallkeep.store.connection import Connection, Pool, Row
from stallkeep.store.engine import scope
from stallkeep.store.shops import Shop
from stallkeep.work.contradicting_words import settle_what_was_asked, show_contradicting_words
from stallkeep.work.open_line import open_line, refuse_what_is_no_sale
from stallkeep.work.sold_after_all import brought_back, sell_after_all
from stallkeep.work.take_listings import stored_code
from stallkeep.work.take_sale_back import Back, return_lines
from stallkeep.work.versions import ANY


class NotARefundError(RejectedInputError):
    """Only a refund gives a payment back."""

    code = "not-a-refund"
    title = "This transaction gives nothing back"


class NotItsPaymentError(RejectedInputError):
    """The refund cannot be of this payment."""

    code = "not-its-payment"
    title = "The refund cannot be of this payment"


class NotOfThisSaleError(RejectedInputError):
    """A piece is none of what the payment was for, or is back already."""

    code = "not-of-this-sale"
    title = "The piece cannot come back from this sale"


class RefundSaid(msgspec.Struct, frozen=True, kw_only=True):
    """What a person says of a refund.

    Attributes:
        payment_id: The payment or sale that is given back, wholly or in part.
        came_back: Tag codes of the pieces that are here again, a code twice for two of it.
        by: Who says so.
    """

    payment_id: UUID
    came_back: Sequence[str] = ()
    by: str


async def settle_refund(
    pool: Pool, shop: Shop, refund_id: UUID, said: RefundSaid, now: dt.datetime
) -> None:
    """Say which payment a refund gives back; pieces that came back are in stock again.

    A piece that was said before to have come back, and is not said to now, is sold after all.

    Raises:
        TransactionNotFoundError: The shop has no such refund, or no such payment.
        NotARefundError: The transaction is none.
        NotASaleError: What is to be given back is a fee, a payout or a refund.
        NotItsPaymentError: It is in another currency, came later, or was of less.
        NotOfThisSaleError: The payment is not matched to a piece that came back.
        PieceSpokenForError: A piece that is sold after all went to another customer since.
    """
    async with scope(pool, shop.shop_id) as con:
        back_before = await brought_back(con, shop, refund_id)
        before = Counter(back_before.get(said.payment_id))
        refund = await open_line(con, shop, refund_id, *SETTLING)
        payment = await open_line(con, shop, said.payment_id)
        _refuse_what_does_not_fit(shop, refund, payment)
        back: list[UUID] = []
        if said.came_back:
            back = await _bring_back(con, shop, refund, said, before=before, now=now)
        await sell_after_all(con, shop, {**back_before, said.payment_id: before - Counter(back)})
        await matches.release(con, shop.shop_id, [refund_id], also_decided=True)
        await rulings.add_ruling(
            con,
            shop.shop_id,
            refund_id,
            "part_of_sale",
            said.by,
            item_ids=back,
            related_transaction_id=said.payment_id,
        )
        new = matches.NewMatch(
            transaction_id=refund_id,
            state="matched",
            explanation="refund_of",
            probability=1.0,
            reason=f"{said.by} said which payment it gives back",
            related_transaction_id=said.payment_id,
            decided_by=said.by,
        )
        await matches.add_match(con, shop.shop_id, new)
        await matches.set_state(con, shop.shop_id, refund_id, "matched", new.reason)
        await show_contradicting_words(con, shop.shop_id, refund_id, said.by)
        await settle_what_was_asked(con, shop.shop_id, refund_id, said.by)


def _refuse_what_does_not_fit(shop: Shop, refund: Row, payment: Row) -> None:
    if refund["kind"] != "refund":
        raise NotARefundError(f"A {refund['kind']} gives nothing back", kind=refund["kind"])
    refuse_what_is_no_sale(shop, payment)
    if refund["currency"] != payment["currency"]:
        raise NotItsPaymentError("They are in different currencies")
    if refund["occurred_on"] < payment["occurred_on"]:
        raise NotItsPaymentError("The refund came before the payment")
    if abs(refund["amount_minor"]) > payment["amount_minor"]:
        paid = to_text(payment["amount_minor"], payment["currency"])
        raise NotItsPaymentError(f"Only {paid} was paid", paid=paid)


async def _bring_back(
    con: Connection,
    shop: Shop,
    refund: Row,
    said: RefundSaid,
    *,
    before: Counter[UUID],
    now: dt.datetime,
) -> list[UUID]:
    """Return the lines of the payment's sale that hold these pieces; the money is the refund's."""
    found = await matches.matches_of(con, shop.shop_id, [said.payment_id])
    if not found or found[0].state != "matched" or found[0].sale_id is None:
        raise NotOfThisSaleError("Say first what the payment was for; it is not matched yet")
    sale_id = found[0].sale_id
    lines = (await sales.lines_of(con, shop.shop_id, [sale_id]))[sale_id]
    chosen = _lines_of(lines, Counter(stored_code(code) for code in said.came_back), before)
    if numbers := [line.line_no for line in chosen if line.state == "sold"]:
        back = Back(line_nos=numbers, refund_minor=0, on=refund["occurred_on"], said_by=said.by)
        await return_lines(con, shop, sale_id, back, ANY, now=now)
    return [line.item_id for line in chosen for _ in range(line.quantity) if line.item_id]


def _lines_of(
    lines: Sequence[sales.SaleLine], wanted: Counter[str], before: Counter[UUID]
) -> list[sales.SaleLine]:
    """Choose whole lines that hold just as many of each piece, those that are back already first.

    Raises:
        NotOfThisSaleError: There are none such.
    """
    left = Counter(wanted)
    chosen = []
    for line in sorted(lines, key=lambda line: (line.state == "sold", line.line_no)):
        is_back = line.item_id is not None and before[line.item_id] >= line.quantity
        if (line.state == "sold" or is_back) and 0 < line.quantity <= left[line.tag_code or ""]:
            left[line.tag_code or ""] -= line.quantity
            chosen.append(line)
    if short := sorted(+left):
        raise NotOfThisSaleError(
            f"{short[0]} is none of what the payment was for, or not in this number, or is back "
            "already",
            tag_code=short[0],
        )
    return chosen
