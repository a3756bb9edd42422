"""Invented market days whose truth is known: profiles from easy to hard.

A seller's ways are drawn per world around the profile. The generator makes prices its own way
(``Seller.amounts``), not by the engine's mixture; it can also say how likely an amount was, which
is what the reference that knows everything is given.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator, Sequence

import msgspec

from stallkeep.domain.matching import (
    CashTotal,
    Evidence,
    MoneyLine,
    RailPiece,
    Stub,
)
from stallkeep.domain.matching.money_parts import shared
from stallkeep.domain.tag_codes import new_code

ADJECTIVES = [
    "navy",
    "green",
    "wool",
    "linen",
    "striped",
    "old",
    "plain",
    "checked",
    "red",
    "heavy",
    "short",
    "long",
    "soft",
]
MATERIALS = ["denim", "cotton", "tweed", "corduroy", "silk", "felt", "leather", "jersey", "canvas"]
NOUNS = [
    "coat",
    "jacket",
    "shirt",
    "skirt",
    "trousers",
    "jug",
    "bowl",
    "scarf",
    "cardigan",
    "dress",
    "apron",
    "plate",
    "hat",
    "bag",
]
CHATTER = ["", "", "", "", "ta", "market", "sat", "nice lady", "card", "thanks", "tap"]

UNTAGGED = {200: 0.125, 300: 0.125, 500: 0.25, 800: 0.125, 1000: 0.125, 1500: 0.125, 2000: 0.125}

LADDERS: dict[str, tuple[list[int], list[int]]] = {
    "fives": ([1000, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 6000, 7500, 9000, 12000],
              [5, 8, 10, 10, 9, 8, 8, 6, 5, 4, 3, 2, 1]),
    "tens": ([1000, 2000, 3000, 4000, 5000, 8000], [5, 8, 8, 6, 3, 1]),
    "whole": ([c * 100 for c in range(6, 90)], [1] * 84),
    "just_below": ([490, 790, 990, 1290, 1490, 1990, 2490, 2990, 3990, 4990, 6990],
                   [5, 5, 8, 8, 8, 8, 6, 5, 4, 2, 1]),
    "small": ([200, 300, 400, 500, 600, 800, 1000, 1200, 1500], [4, 6, 8, 8, 8, 6, 5, 3, 2]),
}  # fmt: skip


class Profile(msgspec.Struct, frozen=True, kw_only=True):
    """What a kind of world is like; shares are means, each world draws its own near them."""

    name: str
    pieces: int = 200
    lines: int = 40
    ladders: tuple[str, ...] = ("fives", "whole", "just_below", "tens")
    haggled: float = 0.33
    bundles: float = 0.15
    untagged: float = 0.03
    mis_keyed: float = 0.01
    tips: float = 0.02
    note_code: float = 0.12
    note_slip: float = 0.1
    note_wrong: float = 0.002
    note_title: float = 0.1
    cash_without_line: float = 0.2
    online: float = 0.03
    count: bool = False
    count_slip: float = 0.015
    stubs: bool = False
    stub_lost: float = 0.03
    stub_swapped: float = 0.03
    stub_priced: float = 0.0
    restocked: float = 0.15
    days: int = 2


PROFILES = {
    p.name: p
    for p in (
        Profile(name="easy", haggled=0.08, bundles=0.06, ladders=("whole",), note_code=0.5,
                untagged=0.01, mis_keyed=0.0, tips=0.0, count=True, cash_without_line=0.1),
        Profile(name="typical"),
        Profile(name="typical_count", count=True),
        Profile(name="typical_stubs", stubs=True),
        Profile(name="typical_count_stubs", count=True, stubs=True),
        Profile(name="priced_stubs", stubs=True, stub_priced=0.95),
        Profile(name="tally_stubs", stubs=True, cash_without_line=0.0, online=0.0),
        Profile(name="careful_stubs", stubs=True, cash_without_line=0.0, online=0.0, stub_lost=0.0,
                stub_swapped=0.0),
        Profile(name="haggler", haggled=0.75, bundles=0.3, note_code=0.1),
        Profile(name="never_haggles", haggled=0.01, bundles=0.15, count=True),
        Profile(name="hard", haggled=0.5, bundles=0.25, untagged=0.08, mis_keyed=0.03, tips=0.05,
                note_code=0.03, note_title=0.05, ladders=("tens", "fives", "small")),
        Profile(name="big", pieces=400, lines=80, count=True),
    )
}  # fmt: skip


class Seller:
    """One seller's ways of arriving at a price."""

    def __init__(self, rng: random.Random, profile: Profile) -> None:
        self.haggled = _near(rng, profile.haggled)
        self.bundle = _near(rng, profile.bundles)
        self.mis_keyed = profile.mis_keyed
        self.tips = profile.tips
        self.sizes = [0.75, 0.19, 0.06]
        self.step = rng.choice([500, 500, 1000, 100])
        self.depth = rng.choice([0.6, 0.75, 0.9])
        self.bundle_deal = _near(rng, 0.65)
        self.bundle_way = rng.choice(["round", "percent", "round"])
        self.percent = rng.choice([10, 10, 20, 15])

    def amounts(self, prices: Sequence[int]) -> dict[int, float]:
        """Every amount that may be paid for these pieces, with its probability."""
        total = sum(prices)
        agreed = self._agreed(total, len(prices))
        keyed: dict[int, float] = {}
        for amount, share in agreed.items():
            _add(keyed, amount, share * (1 - self.mis_keyed - self.tips))
            _add(keyed, amount + 100, share * self.tips / 2)
            _add(keyed, amount + 200, share * self.tips / 2)
            if self.mis_keyed:
                slips = _slips(amount)
                for slip in slips:
                    _add(keyed, slip, share * self.mis_keyed / len(slips))
        return keyed

    def _agreed(self, total: int, size: int) -> dict[int, float]:
        out: dict[int, float] = {}
        if size == 1:
            _add(out, total, 1 - self.haggled)
            for amount, share in self._stepped(total, self.step).items():
                _add(out, amount, self.haggled * share)
            return out
        _add(out, total, 1 - self.bundle_deal)
        if self.bundle_way == "percent":
            off = round(total * (100 - self.percent) / 10000) * 100
            _add(out, off, self.bundle_deal)
            return out
        for amount, share in self._stepped(total, max(self.step, 500)).items():
            _add(out, amount, self.bundle_deal * share)
        return out

    def _stepped(self, total: int, step: int) -> dict[int, float]:
        """Down to the next round figure, sometimes one or two further, never below half."""
        first = (total - 1) // step * step
        shares = {first: self.depth, first - step: (1 - self.depth) * 0.75,
                  first - 2 * step: (1 - self.depth) * 0.25}  # fmt: skip
        good = {a: s for a, s in shares.items() if a >= total / 2 and a > 0}
        if not good:
            return {total: 1.0}
        whole = sum(good.values())
        return {a: s / whole for a, s in good.items()}


class World(msgspec.Struct, frozen=True, kw_only=True):
    """One market day with its truth.

    Attributes:
        evidence: What the engine sees.
        truth: Transaction id to the sorted item ids it was for; empty for untagged.
        seller: The ways it was made by.
        sizes_share: True shares of 1..4 pieces, untagged.
        profile: Its profile.
    """

    evidence: Evidence
    truth: dict[str, tuple[str, ...]]
    seller: Seller
    sizes_share: tuple[float, ...]
    profile: Profile


class _Sale(msgspec.Struct):
    items: list[int]
    at: dt.datetime
    amount: int
    card: bool


def a_world(profile: Profile, seed: int) -> World:
    """Make one world; the same seed makes the same."""
    return next(worlds_of_one_seller(profile, seed))


def worlds_of_one_seller(profile: Profile, seed: int) -> Iterator[World]:
    """One event after another of a seller whose ways stay the same, each with pieces of its own."""
    rng = random.Random(f"{profile.name}/{seed}")  # noqa: S311
    seller = Seller(rng, profile)
    ladder = LADDERS[rng.choice(profile.ladders)]
    while True:
        yield _an_event(rng, profile, seller, ladder)


def _an_event(
    rng: random.Random, profile: Profile, seller: Seller, ladder: tuple[list[int], list[int]]
) -> World:
    first = dt.date(2031, 5, 10)
    days = tuple(first + dt.timedelta(days=d) for d in range(profile.days))
    pieces = [_a_piece(rng, i, ladder, days, profile) for i in range(profile.pieces)]
    sales = _sell(rng, profile, seller, pieces, days)
    without = profile.cash_without_line
    lines: list[MoneyLine] = []
    truth: dict[str, tuple[str, ...]] = {}
    for sale in sales:
        if not sale.card and rng.random() < without / max(0.35, without):
            continue
        tid = f"t{len(lines):04d}{rng.randrange(16**6):06x}"
        lines.append(_a_line(rng, profile, tid, sale, pieces))
        truth[tid] = tuple(sorted(pieces[i].item_id for i in sale.items))
    sold = {i for sale in sales for i in sale.items}
    seen = tuple(_seen(rng, profile, p, i in sold) for i, p in enumerate(pieces))
    evidence = Evidence(
        pieces=seen,
        lines=tuple(lines),
        days=days,
        stubs=_stubs(rng, profile, sales, pieces) if profile.stubs else (),
        cash_totals=tuple(
            CashTotal(day=d, total_minor=sum(
                s.amount for s in sales if not s.card and s.at.date() == d)) for d in days
        ),
    )  # fmt: skip
    many = [seller.bundle * s for s in seller.sizes]
    shares = (1 - seller.bundle, *many)
    shares = (*(s * (1 - profile.untagged) for s in shares), profile.untagged)
    return World(evidence=evidence, truth=truth, seller=seller, sizes_share=shares, profile=profile)


def _near(rng: random.Random, mean: float) -> float:
    return min(0.95, max(0.0, mean * rng.uniform(0.5, 1.5)))


def _add(out: dict[int, float], key: int, share: float) -> None:
    if share > 0:
        out[key] = out.get(key, 0.0) + share


def _slips(amount: int) -> list[int]:
    digits = str(amount)
    out = {amount * 10}
    for i in range(max(len(digits) - 2, 1)):
        for other in "0123456789":
            slip = digits[:i] + other + digits[i + 1 :]
            if other != digits[i] and slip[0] != "0":
                out.add(int(slip))
    return sorted(out)


def _a_piece(
    rng: random.Random,
    i: int,
    ladder: tuple[list[int], list[int]],
    days: tuple[dt.date, ...],
    profile: Profile,
) -> RailPiece:
    late = rng.random() < profile.restocked
    return RailPiece(
        item_id=f"i{i:04d}",
        tag_code=new_code(rng),
        title=" ".join([rng.choice(ADJECTIVES), rng.choice(MATERIALS), rng.choice(NOUNS)]),
        price_minor=rng.choices(*ladder)[0],
        put_out_on=days[-1] if late else days[0],
    )


def _sell(
    rng: random.Random,
    profile: Profile,
    seller: Seller,
    pieces: list[RailPiece],
    days: tuple[dt.date, ...],
) -> list[_Sale]:
    number = round(profile.lines / (1 - profile.cash_without_line))
    moments = sorted(
        dt.datetime.combine(
            rng.choice(days), dt.time(9 + rng.randrange(8), rng.randrange(60), rng.randrange(60))
        ).replace(tzinfo=dt.UTC)
        for _ in range(number)
    )
    left = set(range(len(pieces)))
    online = {i for i in left if rng.random() < profile.online}
    left -= online
    sales = []
    for at in moments:
        card = rng.random() < 0.65
        if rng.random() < profile.untagged:
            amount = rng.choices(list(UNTAGGED), list(UNTAGGED.values()))[0]
            sales.append(_Sale([], at, amount, card))
            continue
        size = 1
        if rng.random() < seller.bundle:
            size = 1 + rng.choices([1, 2, 3], seller.sizes)[0]
        there = sorted(i for i in left if (pieces[i].put_out_on or at.date()) <= at.date())
        if len(there) < size:
            break
        items = rng.sample(there, size)
        left -= set(items)
        pmf = seller.amounts(sorted(pieces[i].price_minor or 0 for i in items))
        amount = rng.choices(list(pmf), list(pmf.values()))[0]
        sales.append(_Sale(items, at, amount, card))
    return sales


def _a_line(
    rng: random.Random, profile: Profile, tid: str, sale: _Sale, pieces: list[RailPiece]
) -> MoneyLine:
    return MoneyLine(
        transaction_id=tid,
        amount_minor=sale.amount,
        occurred_on=sale.at.date(),
        occurred_at=sale.at,
        method="card" if sale.card else "cash",
        note=_note(rng, profile, sale, pieces),
    )


def _note(rng: random.Random, profile: Profile, sale: _Sale, pieces: list[RailPiece]) -> str:
    roll = rng.random()
    if sale.items and roll < profile.note_code:
        codes = [pieces[i].tag_code or "" for i in sale.items]
        if rng.random() < profile.note_slip:
            codes[0] = _slipped(rng, codes[0])
        return " ".join(codes)
    if sale.items and roll < profile.note_code + profile.note_title:
        title = pieces[rng.choice(sale.items)].title.split()
        kept = rng.sample(title, rng.randint(1, 3))
        return " ".join(w[: rng.choice([4, 20, 20])] for w in kept)
    if roll > 1 - profile.note_wrong:
        return rng.choice(pieces).tag_code or ""
    return rng.choice(CHATTER)


def _slipped(rng: random.Random, code: str) -> str:
    i = rng.randrange(len(code))
    return code[:i] + rng.choice("0123456789ACDEFGHJKMNPQRTVWXY") + code[i + 1 :]


def _seen(rng: random.Random, profile: Profile, piece: RailPiece, sold: bool) -> RailPiece:
    if not profile.count:
        return piece
    home = not sold
    if rng.random() < profile.count_slip:
        home = not home
    return msgspec.structs.replace(piece, counted_home=int(home))


def _stubs(
    rng: random.Random, profile: Profile, sales: list[_Sale], pieces: list[RailPiece]
) -> tuple[Stub, ...]:
    by_day: dict[dt.date, list[int]] = {}
    written: dict[int, int] = {}
    for sale in sales:
        by_day.setdefault(sale.at.date(), []).extend(sale.items)
        if rng.random() < profile.stub_priced:
            tags = [pieces[i].price_minor or 0 for i in sale.items]
            written |= zip(sale.items, shared(sale.amount, tags), strict=True)
    out = []
    for day, items in sorted(by_day.items()):
        kept = [i for i in items if rng.random() >= profile.stub_lost]
        for j in range(len(kept) - 1):
            if rng.random() < profile.stub_swapped:
                kept[j], kept[j + 1] = kept[j + 1], kept[j]
        out += [
            Stub(code=pieces[i].tag_code or "", day=day, position=j, price_minor=written.get(i))
            for j, i in enumerate(kept)
        ]
    return tuple(out)
