"""The arithmetic of a file: which of its columns of money add up to which others."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations
from typing import TypeAlias

from stallkeep_importers.rows.blocks import Block

_LAW_SHARE = 0.8
_LAW_ROWS = 3
Values: TypeAlias = list[int | None]


def net_fits(
    block: Block, base: str, used: Sequence[str], less: Collection[str] = ()
) -> list[tuple[frozenset[str], int]]:
    """Give the sets of parts on top and fee signs under which amount less fee is the net.

    Args:
        block: Rows of a sample.
        base: Field the amount starts from.
        used: Parts that may be on top.
        less: Fields taken off as well, however they are signed.
    """
    if not (block.has("net") and block.has("fee")):
        return []
    amounts, nets, fees = block.money(base), block.money("net"), block.money("fee")
    for field in less:
        pairs = zip(nets, block.money(field), strict=True)
        nets = [None if net is None else net + abs(taken or 0) for net, taken in pairs]
    parts = {part: block.money(part) for part in used}
    shares: dict[tuple[frozenset[str], int], float] = {}
    for on_top in _subsets(used):
        for sign in (1, -1):
            rows = [
                amount + sum(parts[part][place] or 0 for part in on_top) - sign * (fee or 0) == net
                for place, (amount, net, fee) in enumerate(zip(amounts, nets, fees, strict=True))
                if amount is not None and net is not None
            ]
            shares[on_top, sign] = sum(rows) / max(1, len(rows))
    best = max(shares.values())
    return [way for way, share in shares.items() if share == best >= _LAW_SHARE]


def fees_fit(block: Block, base: str, used: Sequence[str]) -> bool:
    """Say whether amount less fee is the net, refunds and postage paid taken off too or not."""
    taken_off = [field for field in ("refunded", "postage_cost") if block.has(field)]
    return any(net_fits(block, base, used, less) for less in _subsets(taken_off))


def sum_law(
    block: Block, base: str, used: Sequence[str], fewest: int = _LAW_ROWS
) -> tuple[str, tuple[str, ...]] | None:
    """Find a field that, with some parts, sums to the base in nearly every of *fewest* or more."""
    amounts = block.money(base)
    shares: dict[tuple[str, tuple[str, ...]], float] = {}
    for field in ("subtotal", "price", "amount"):
        if field == base or not block.has(field):
            continue
        for parts in _subsets(used):
            wholes = sums(block, field, tuple(parts))
            rows = [
                amount == whole
                for amount, whole in zip(amounts, wholes, strict=True)
                if amount is not None and whole is not None
            ]
            if len(rows) >= fewest:
                shares[field, tuple(sorted(parts))] = sum(rows) / len(rows)
    best = max(shares, key=lambda way: shares[way], default=None)
    return best if best and shares[best] >= _LAW_SHARE else None


def sums(block: Block, field: str, parts: tuple[str, ...]) -> Values:
    """Give price times quantity, or another field, with parts added and a discount taken off."""
    wholes = block.money(field)
    if field == "price" and block.has("quantity"):
        counts = block.counts("quantity")
        wholes = [
            None if value is None else value * count
            for value, count in zip(wholes, counts, strict=True)
        ]
    for part in parts:
        wholes = [
            None if value is None else value + (more or 0)
            for value, more in zip(wholes, block.money(part), strict=True)
        ]
    discounts = block.money("discount")
    return [
        None if value is None else value - abs(less or 0)
        for value, less in zip(wholes, discounts, strict=True)
    ]


def fee_sign(block: Block, base: str, signs: set[int], said: str | None) -> int:
    """Say how fees that are kept are written: as said, as the net column shows, as most are."""
    if said:
        return 1 if said == "plus" else -1
    if len(signs) == 1:
        return signs.pop()
    if not block.has("fee"):
        return 1
    pairs = zip(block.money(base), block.money("fee"), strict=True)
    on_payments = [fee for amount, fee in pairs if amount and amount > 0 and fee]
    minus = sum(1 for fee in on_payments if fee < 0)
    return -1 if minus * 2 > len(on_payments) else 1


def _subsets(parts: Sequence[str]) -> Iterator[frozenset[str]]:
    for size in range(len(parts) + 1):
        yield from map(frozenset, combinations(parts, size))
