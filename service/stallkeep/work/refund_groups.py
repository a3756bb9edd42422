"""Refunds of a channel with every payment that they may give back.

A refund that names its payment needs that one alone. One that names none may be of any payment of
its amount before it that no other refund gives back: all refunds of an amount are answered
together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from uuid import UUID

from stallkeep.domain.matching.channel_terms import Tie
from stallkeep.store import match_terms
from stallkeep.work.channel_stock import PART, Place
from stallkeep.work.examine_lines import Examined, examine


class RefundGroup:
    """Refunds that share an amount, and the payments they are answered by."""

    def __init__(self) -> None:
        self.refunds: set[UUID] = set()
        self.payments: set[UUID] = set()


async def refund_groups(place: Place, refunds: Collection[UUID]) -> list[RefundGroup]:
    """Group refunds by what they share, with the others of their groups."""
    con, shop_id, make = place.con, place.shop.shop_id, place.terms
    seen = await examine(place, refunds)
    amounts = {_amount(seen, key) for key in seen.refunds}
    open_ones = [a for a in amounts if await _any(place, Tie.BACK, a)]
    more = {make.of(tie, str(a)) for a in open_ones for tie in (Tie.BACK, Tie.GIVEN)}
    more |= {make.of(Tie.PAYMENT, str(row["id"])) for row in seen.given_back.values()}
    everyone = await match_terms.lines_with(con, shop_id, more)
    seen = await examine(place, {*refunds, *everyone})
    groups: dict[int, RefundGroup] = defaultdict(RefundGroup)
    for key in sorted(seen.refunds):
        group = groups[_amount(seen, key)]
        group.refunds.add(key)
        if key in seen.given_back:
            group.payments.add(seen.given_back[key]["id"])
    for amount in open_ones:
        term = make.of(Tie.AMOUNT, str(amount))
        groups[amount].payments |= await match_terms.lines_with(con, shop_id, [term])
    return [groups[amount] for amount in sorted(groups)]


async def _any(place: Place, tie: Tie, amount: int) -> bool:
    term = place.terms.of(tie, str(amount))
    return bool(await match_terms.lines_with(place.con, place.shop.shop_id, [term]))


def _amount(seen: Examined, refund: UUID) -> int:
    given = seen.given_back.get(refund)
    amount: int = (
        abs(seen.refunds[refund]["amount_minor"]) if given is None else given["amount_minor"]
    )
    return amount


def packed(groups: Collection[RefundGroup]) -> Iterator[RefundGroup]:
    """Join groups until there is enough for one go; what shares an amount stays together."""
    pack = RefundGroup()
    for group in groups:
        pack.refunds |= group.refunds
        pack.payments |= group.payments
        if len(pack.refunds) + len(pack.payments) >= PART:
            yield pack
            pack = RefundGroup()
    if pack.refunds:
        yield pack
