"""Invented market days of another hand, to see whether the engine is honest where it was not bred.

Written without looking at the engine: only its evidence, its answers and the tag codes were read,
never how it weighs them. Each profile is a kind of stall that somebody might keep; the ways,
ladders, notes and slips are this file's own inventions (trade habits: common practice, no source).
"""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Literal, get_args

import msgspec
from tests.bench.matching.worlds import Profile, Seller, World

from stallkeep.domain.matching import CashTotal, Evidence, MoneyLine, RailPiece, SoldElsewhere, Stub
from stallkeep.domain.tag_codes import ALPHABET, new_code

SATURDAY = dt.date(2032, 9, 4)

Amounts = dict[int, float]
Way = Callable[[Sequence[int]], Amounts]
Drawn = Callable[[random.Random], Way]

LADDERS: dict[str, tuple[list[int], list[int]]] = {
    "halves": ([c * 50 for c in range(3, 50)], [60 - c for c in range(3, 50)]),
    "quarters": ([c * 75 for c in range(3, 50, 2)], [52 - c for c in range(3, 50, 2)]),
    "furniture": ([c * 1000 for c in (8, 9, 11, 12, 14, 15, 16, 18, 19, 22, 24, 26, 28, 32, 35, 38,
                                      42, 45, 52, 58, 65, 75, 90)], [2] * 12 + [1] * 11),
    "yen": ([*range(500, 3000, 100), *range(3000, 12001, 500)], [3] * 25 + [2] * 19),
    "deals": ([800, 1200, 900, 1400, 1800, 2200, 2600, 3400], [40, 25, 5, 8, 8, 6, 5, 3]),
    "eighteen": ([c * 100 for c in (6, 7, 9, 11, 13, 14, 16, 17, 18, 19, 22, 23, 26, 28, 33, 37, 44,
                                    52)], [3] * 10 + [2] * 8),
    "fours": ([c * 400 for c in range(2, 22)], [22 - c for c in range(2, 22)]),
    "penny": ([100, 200, 300, 400, 500, 700, 900, 1200, 1800, 2500],
              [5, 9, 9, 7, 9, 5, 4, 3, 2, 1]),
    "ninety_fives": ([c * 100 - 5 for c in (7, 9, 10, 12, 13, 15, 18, 20, 24, 28, 30, 36, 45)],
                     [4] * 7 + [2] * 6),
}  # fmt: skip

SMALL: Amounts = {100: 0.3, 250: 0.3, 400: 0.2, 600: 0.2}

TONGUES: dict[str, tuple[list[str], list[str]]] = {
    "english": (["rose", "teal", "boxy", "mohair", "cropped", "quilted", "faded", "velvet", "oak"],
                ["blouse", "waistcoat", "tea towel", "vase", "lamp", "stool", "mug", "brooch"]),
    "german": (["dunkelblau", "geblümt", "gestrickt", "weiß", "grün", "kariert"],
               ["Mantel", "Bluse", "Übergangsjacke", "Krug", "Schürze", "Hosenrock"]),
    "french": (["bleu marine", "rayé", "à fleurs", "en laine", "vert d'eau", "délavé"],
               ["robe", "manteau", "chemisier", "cruche", "pull", "écharpe"]),
    "polish": (["granatowy", "zielony", "wełniany", "w kratę", "różowy", "krótki"],
               ["płaszcz", "żakiet", "dzbanek", "sweter", "szalik", "fartuch"]),
    "japanese": (["紺色", "花柄", "赤い", "綿", "麻", "縞"],
                 ["羽織", "着物", "湯呑", "小皿", "帯", "風呂敷"]),
}  # fmt: skip

CHATTER = ("", "", "", "", "", "tap", "contactless", "🙂", "sun", "2nd visit", "student", "no bag",
           "lady with the dog", "ok", "paid 5 back", "👍👍")  # fmt: skip

NoteStyle = Literal[
    "plain", "lower", "dash", "hash", "no", "run_on", "price", "comma", "plus", "first_of",
    "look_alike", "sentence",
]  # fmt: skip
ALL_STYLES: tuple[NoteStyle, ...] = get_args(NoteStyle)


class Stall(Profile, frozen=True, kw_only=True):
    """A profile with what the others lack; what it inherits means the same.

    Attributes:
        ladder, way: Names in LADDERS and WAYS.
        later, later_from: A second way from that hour on (another helper, a price cut).
        sizes: Shares of purchases of 1, 2, 3 … tagged pieces.
        alike: Share of bundles whose pieces all have one price.
        unit_minor: As in the evidence.
        small: What untagged things cost, with their shares.
        tongues: Languages of the titles.
        styles: How codes are written in notes.
        note_slips: Wrong symbols in a code with a slip, at most.
        note_unknown: Share of coded notes whose code belongs to no piece of the rail.
        note_about: Share of notes that name something the customer wore, in words of the rail.
        card: Share paid by card.
        untimed: Tally lines have a day and no moment.
        totals: The cash box is counted.
        most: Most alike of one handmade piece.
        gifts: Share of sales with a cheap piece given for nothing.
        refunds, doubled, declined: Shares of lines that have one.
        tipped, tip_shown: Shares of card payments with a tip in per cent, and of those shown.
        tax_bp, tax_shown: Tax on top of card sales in hundredths of a per cent; its share shown.
        box: A box of the rail is not counted piece by piece: forgotten, or taken as full.
        stub_order: Ends of tags on a string (kept), in a tin (loose), or read off a spike
            from the top (spike).
        stub_until: Hour from which on the first day nobody kept any.
        stub_total: A bundle's total stands on its first stub.
        known_online: Share of online sales in the evidence, as likely as it says there.
        unpriced: Share of pieces whose price only the seller knows.
        cheap_first: Power of the price by which cheap pieces go faster.
        knowable: The reference's model holds these ways, so it is a ceiling.
    """

    ladder: str
    way: str
    later: str = ""
    later_from: int = 24
    sizes: tuple[float, ...] = (0.8, 0.15, 0.05)
    alike: float = 0.0
    unit_minor: int = 100
    small: Amounts = msgspec.field(default_factory=lambda: dict(SMALL))
    tongues: tuple[str, ...] = ("english",)
    styles: tuple[NoteStyle, ...] = ("lower",)
    note_slips: int = 1
    note_unknown: float = 0.0
    note_about: float = 0.0
    card: float = 0.6
    untimed: bool = False
    totals: bool = True
    most: int = 1
    gifts: float = 0.0
    refunds: float = 0.0
    doubled: float = 0.0
    declined: float = 0.0
    tipped: float = 0.0
    tip_shown: float = 0.5
    tax_bp: int = 0
    tax_shown: float = 1.0
    box: Literal["", "forgotten", "taken_as_full"] = ""
    stub_order: Literal["", "kept", "loose", "spike"] = ""
    stub_until: int = 24
    stub_total: bool = False
    known_online: float = 0.0
    unpriced: float = 0.0
    cheap_first: float = 0.0
    knowable: bool = True


class OtherWorld(World, frozen=True, kw_only=True):
    """A world that can say what happened.

    Attributes:
        stories: Transaction id to what went on, in words.
        doubles: Transaction id of a charge made twice, to the one it repeats.
        untagged: Amounts of untagged things, with their shares.
        knowable: As in the profile.
    """

    stories: dict[str, str]
    doubles: dict[str, str]
    untagged: Amounts
    knowable: bool


OTHERS = {
    p.name: p
    for p in (
        Stall(name="half_steps", ladder="halves", way="halves", sizes=(0.62, 0.22, 0.12, 0.04),
              styles=("hash", "lower"), note_code=0.2, count=True),
        Stall(name="potter", ladder="quarters", way="potter", pieces=60, lines=40, most=8,
              sizes=(0.6, 0.25, 0.1, 0.05), count=True, untimed=True),
        Stall(name="furniture", ladder="furniture", way="furniture", pieces=60, lines=14,
              sizes=(0.93, 0.07), note_title=0.3, untagged=0.0, days=1),
        Stall(name="yen", ladder="yen", way="yen", unit_minor=1, count=True, lines=50,
              tongues=("japanese",), small={300: 0.5, 500: 0.5}),
        Stall(name="deals_on_tags", ladder="deals", way="deals", sizes=(0.5, 0.25, 0.25),
              alike=0.8, count=True, knowable=False),
        Stall(name="to_the_note", ladder="eighteen", way="notes", count=True, card=0.4,
              cash_without_line=0.1),
        Stall(name="bundles_to_tens", ladder="eighteen", way="tens", sizes=(0.55, 0.3, 0.15)),
        Stall(name="big_baskets", ladder="eighteen", way="basket", lines=30, count=True,
              sizes=(0.5, 0.15, 0.1, 0.05, 0.1, 0.1), knowable=False),
        Stall(name="gifts", ladder="fours", way="fives", gifts=0.25, count=True),
        Stall(name="two_helpers", ladder="fours", way="exact", later="deep", later_from=13,
              styles=("no",), note_code=0.2, count=True, mis_keyed=0.02),
        Stall(name="price_cut", ladder="eighteen", way="fives", later="thirty_off", later_from=15,
              days=1, count=True, knowable=False),
        Stall(name="penny_table", ladder="penny", way="exact", untagged=0.45, count=True,
              small={100: 0.2, 200: 0.25, 300: 0.2, 500: 0.25, 700: 0.1}, cheap_first=0.4,
              pieces=120, knowable=False),
        Stall(name="undone", ladder="eighteen", way="fives", refunds=0.08, doubled=0.06,
              declined=0.06, note_code=0.25, styles=("lower", "price"), knowable=False),
        Stall(name="terminal_tips", ladder="eighteen", way="exact", tipped=0.35, count=True,
              knowable=False),
        Stall(name="tax_on_top", ladder="ninety_fives", way="exact", tax_bp=825, count=True,
              knowable=False),
        Stall(name="tax_hidden", ladder="ninety_fives", way="exact", tax_bp=700, tax_shown=0.0,
              count=True, knowable=False),
        Stall(name="every_note_style", ladder="fours", way="fives", note_code=0.6, note_slip=0.2,
              note_slips=2, note_wrong=0.04, note_unknown=0.06, styles=ALL_STYLES),
        Stall(name="words_of_five", ladder="fours", way="fives", note_code=0.02, note_title=0.6,
              note_about=0.15, tongues=tuple(TONGUES)),
        Stall(name="one_box_forgotten", ladder="eighteen", way="fives", count=True, box="forgotten",
              count_slip=0.005),
        Stall(name="one_box_taken_as_full", ladder="eighteen", way="fives", count=True,
              box="taken_as_full", count_slip=0.005),
        Stall(name="stubs_half_a_day", ladder="fours", way="fives", stubs=True, stub_order="kept",
              stub_until=14, totals=False, untimed=True),
        Stall(name="stubs_in_a_tin", ladder="eighteen", way="fives", stubs=True,
              stub_order="loose", stub_priced=0.5),
        Stall(name="stubs_on_a_spike", ladder="eighteen", way="fives", stubs=True,
              stub_order="spike", knowable=False),
        Stall(name="stubs_with_totals", ladder="fours", way="deep", stubs=True, stub_order="kept",
              stub_priced=0.8, stub_total=True, sizes=(0.6, 0.25, 0.15), knowable=False),
        Stall(name="online_weekend", ladder="eighteen", way="fives", online=0.15, known_online=0.8,
              count=True, knowable=False),
        Stall(name="four_days", ladder="ninety_fives", way="fives", days=4, restocked=0.5,
              pieces=260, lines=90, count=True, unpriced=0.04, knowable=False),
        Stall(name="small_fair", ladder="eighteen", way="fives", pieces=25, lines=8, days=1),
        Stall(name="large_fair", ladder="halves", way="halves", pieces=500, lines=150, count=True),
    )
}  # fmt: skip


class Keeper(Seller):
    """Ways of a price, and of keying it."""

    def __init__(self, rng: random.Random, stall: Stall) -> None:
        self.ways = [WAYS[stall.way](rng)]
        self.later_from = stall.later_from
        if stall.later:
            self.ways.append(WAYS[stall.later](rng))
        self.mis_keyed = stall.mis_keyed
        self.unit = stall.unit_minor

    def amounts(self, prices: Sequence[int]) -> dict[int, float]:
        """Every amount that may be keyed for these pieces at an unknown hour."""
        late = max(0, 17 - self.later_from) / 8
        shares = [1 - late, late] if len(self.ways) > 1 else [1.0]
        keyed: Amounts = {}
        for way, share in zip(self.ways, shares, strict=True):
            for amount, inner in way(prices).items():
                _add(keyed, amount, share * inner * (1 - self.mis_keyed))
                slips = fumbled(amount, self.unit) if self.mis_keyed else []
                for slip in slips:
                    _add(keyed, slip, share * inner * self.mis_keyed / len(slips))
        return keyed

    def quote(self, rng: random.Random, prices: Sequence[int], hour: int) -> int:
        """What is agreed at that hour."""
        way = self.ways[-1] if hour >= self.later_from else self.ways[0]
        agreed = way(prices)
        return rng.choices(list(agreed), list(agreed.values()))[0]


def other_world(stall: Stall, seed: int) -> OtherWorld:
    """Make one world; the same seed makes the same."""
    rng = random.Random(f"other/{stall.name}/{seed}")  # noqa: S311
    keeper = Keeper(rng, stall)
    days = tuple(SATURDAY + dt.timedelta(days=d) for d in range(stall.days))
    pieces = [_a_piece(rng, i, stall, days) for i in range(stall.pieces)]
    day = _Day(rng, stall, keeper, pieces, days)
    sales, online, left = day.sell()
    books = _Books(rng, stall, pieces, sorted(set(left)))
    for sale in sales:
        if sale.card or rng.random() >= stall.cash_without_line / max(0.4, 1 - stall.card):
            books.enter(sale)
    evidence = Evidence(
        pieces=_seen(rng, stall, pieces, Counter(left), online),
        lines=tuple(books.lines),
        days=days,
        unit_minor=stall.unit_minor,
        stubs=_stubs(rng, stall, sales, pieces) if stall.stubs else (),
        cash_totals=_box(sales, days) if stall.totals else (),
    )
    one_to_four = [s * (1 - stall.untagged) for s in (*stall.sizes, 0.0, 0.0, 0.0)[:4]]
    return OtherWorld(
        evidence=evidence,
        truth=books.truth,
        seller=keeper,
        sizes_share=(*one_to_four, stall.untagged),
        # The reference reckons with pieces one by one.
        profile=msgspec.structs.replace(stall, pieces=sum(p.quantity for p in pieces)),
        stories=books.stories,
        doubles=books.doubles,
        untagged=stall.small,
        knowable=stall.knowable,
    )


class _Sale(msgspec.Struct):
    items: list[int]
    at: dt.datetime
    amount: int
    card: bool
    story: str
    tip: int = 0
    tax: int = 0


class _Day:
    """The stall while it is open."""

    def __init__(
        self,
        rng: random.Random,
        stall: Stall,
        keeper: Keeper,
        pieces: list[RailPiece],
        days: tuple[dt.date, ...],
    ) -> None:
        self.rng, self.stall, self.keeper = rng, stall, keeper
        self.pieces, self.days = pieces, days
        # What the seller has in mind for a piece that has no price on its tag.
        self.asked = [p.price_minor or rng.choices(*LADDERS[stall.ladder])[0] for p in pieces]

    def sell(self) -> tuple[list[_Sale], set[int], list[int]]:
        """Sales in order, pieces that went online, and what is left (an index per piece)."""
        rng, stall = self.rng, self.stall
        left = [i for i, p in enumerate(self.pieces) for _ in range(p.quantity)]
        online = {i for i in left if rng.random() < stall.online}
        for i in online:
            left.remove(i)
        sales = []
        for at in self._moments():
            sale = self._a_sale(at, left)
            if sale is None:
                break
            for i in sale.items:
                left.remove(i)
            sales.append(sale)
            if sale.items and rng.random() < stall.gifts:
                gift = min(rng.sample(left, min(4, len(left))), key=lambda i: self.asked[i])
                left.remove(gift)
                sale.story += f", {self.asked[gift]} given for nothing"
        return sales, online, left

    def _moments(self) -> list[dt.datetime]:
        number = round(self.stall.lines / (1 - self.stall.cash_without_line))
        rng = self.rng
        return sorted(
            dt.datetime.combine(
                rng.choice(self.days), dt.time(9), dt.UTC
            ) + dt.timedelta(seconds=round(8 * 3600 * rng.betavariate(2, 1.6)))
            for _ in range(number)
        )  # fmt: skip

    def _a_sale(self, at: dt.datetime, left: list[int]) -> _Sale | None:
        rng, stall = self.rng, self.stall
        card = rng.random() < stall.card
        if rng.random() < stall.untagged:
            amount = rng.choices(list(stall.small), list(stall.small.values()))[0]
            return _Sale([], at, amount, card, "untagged")
        size = 1 + rng.choices(range(len(stall.sizes)), stall.sizes)[0]
        there = [i for i in left if (self.pieces[i].put_out_on or at.date()) <= at.date()]
        items = self._chosen(there, size)
        if not items:
            return None
        asked = sorted(self.asked[i] for i in items)
        agreed = self.keeper.quote(rng, asked, at.hour)
        sale = _Sale(items, at, agreed, card, f"tags {asked} agreed {agreed}")
        self._at_the_till(sale)
        return sale

    def _chosen(self, there: list[int], size: int) -> list[int]:
        rng, stall = self.rng, self.stall
        if len(there) < size:
            return []
        weights = [self.asked[i] ** -stall.cheap_first for i in there]
        first = rng.choices(there, weights)[0]
        rest = list(there)
        rest.remove(first)
        same = [i for i in rest if self.asked[i] == self.asked[first]]
        if len(same) >= size - 1 and rng.random() < stall.alike:
            rest = same
        return [first, *rng.sample(rest, size - 1)]

    def _at_the_till(self, sale: _Sale) -> None:
        rng, stall = self.rng, self.stall
        if rng.random() < stall.mis_keyed:
            sale.amount = rng.choice(fumbled(sale.amount, stall.unit_minor))
            sale.story += f", keyed {sale.amount}"
        if sale.card and stall.tax_bp:
            sale.tax = round(sale.amount * stall.tax_bp / 10_000)
            sale.story += f", tax {sale.tax} on top"
        if sale.card and rng.random() < stall.tipped:
            sale.tip = round(sale.amount * rng.choice([5, 10, 10, 15]) / 100)
            sale.story += f", tip {sale.tip}"
        sale.amount += sale.tip + sale.tax


class _Books:
    """The lines of money that somebody keeps."""

    def __init__(
        self, rng: random.Random, stall: Stall, pieces: list[RailPiece], at_home: list[int]
    ) -> None:
        self.rng, self.stall, self.pieces, self.at_home = rng, stall, pieces, at_home
        self.lines: list[MoneyLine] = []
        self.truth: dict[str, tuple[str, ...]] = {}
        self.stories: dict[str, str] = {}
        self.doubles: dict[str, str] = {}

    def enter(self, sale: _Sale) -> None:
        """Write a sale down, with whatever went wrong around it."""
        rng, stall = self.rng, self.stall
        note = self._note(sale)
        shown = rng.random() < stall.tip_shown
        with_tax = stall.tax_bp > 0 and rng.random() < stall.tax_shown
        line = MoneyLine(
            transaction_id=self._id(),
            amount_minor=sale.amount,
            occurred_on=sale.at.date(),
            occurred_at=None if stall.untimed and not sale.card else sale.at,
            method="card" if sale.card else "cash",
            note=note,
            tip_minor=sale.tip if sale.tip and shown else None,
            tax_minor=sale.tax if sale.card and with_tax else None,
            tax_added=sale.card and with_tax,
        )
        pieces = tuple(sorted(self.pieces[i].item_id for i in sale.items))
        self._write(line, pieces, sale.story)
        if rng.random() < stall.declined and sale.card:
            self._again(line, -40, completed=False, story="declined try")
        if rng.random() < stall.doubled and sale.card:
            self.doubles[self._again(line, 35, story="charged twice")] = line.transaction_id
        if rng.random() < stall.refunds:
            related = line.transaction_id if rng.random() < 0.5 else None
            self._again(line, 5400, story="refund", kind="refund", amount_minor=-sale.amount,
                        related_id=related, note="")  # fmt: skip

    def _id(self) -> str:
        return f"o{self.rng.randrange(16**6):06x}{len(self.lines):04d}"

    def _write(self, line: MoneyLine, pieces: tuple[str, ...], story: str) -> None:
        self.lines.append(line)
        self.truth[line.transaction_id] = pieces
        self.stories[line.transaction_id] = story

    def _again(self, line: MoneyLine, seconds: int, *, story: str, **changed: object) -> str:
        at = line.occurred_at and line.occurred_at + dt.timedelta(seconds=seconds)
        other = msgspec.structs.replace(line, transaction_id=self._id(), occurred_at=at, **changed)
        self._write(other, (), story)
        return other.transaction_id

    def _note(self, sale: _Sale) -> str:
        rng, stall = self.rng, self.stall
        roll = rng.random()
        if sale.items and roll < stall.note_code:
            return self._code_note(sale)
        if sale.items and roll < stall.note_code + stall.note_title:
            return self._title_note(sale)
        if rng.random() < stall.note_wrong:
            sale.story += ", code of a piece that stayed"
            return self.pieces[rng.choice(self.at_home)].tag_code or ""
        if rng.random() < stall.note_about:
            other = rng.choice(self.pieces).title.split()[-1]
            sale.story += ", note about the customer"
            return rng.choice([f"lady with {other}", f"{other} 😀", f"asked for a {other}"])
        return rng.choice(CHATTER)

    def _code_note(self, sale: _Sale) -> str:
        rng, stall = self.rng, self.stall
        codes = [self.pieces[i].tag_code or "" for i in sale.items]
        if rng.random() < stall.note_slip:
            codes[0] = _slipped(rng, codes[0], rng.randint(1, stall.note_slips))
            sale.story += ", code with a slip"
        elif rng.random() < stall.note_unknown:
            codes = [new_code(rng)]
            sale.story += ", code of no piece here"
        style = rng.choice(stall.styles)
        return written(rng, style, codes, self.pieces[sale.items[0]])

    def _title_note(self, sale: _Sale) -> str:
        rng = self.rng
        piece = self.pieces[rng.choice(sale.items)]
        words = piece.title.split()
        kept = " ".join(
            w[: rng.choice([2, 4, 5, 30])] for w in rng.sample(words, min(2, len(words)))
        )
        price = (piece.price_minor or sale.amount) // self.stall.unit_minor
        return rng.choice([kept, kept.lower(), kept.upper(), f"{price} {kept}", f"{kept}🧥", kept])


def written(rng: random.Random, style: NoteStyle, codes: list[str], piece: RailPiece) -> str:
    """Write codes down in a style."""
    word = piece.title.split()[-1].lower()
    price = f"{(piece.price_minor or 0) / 100:g}"
    one, plain = rng.choice(codes), " ".join(codes)
    more = f" +{len(codes) - 1}" if len(codes) > 1 else ""
    styles: dict[NoteStyle, str] = {
        "plain": plain,
        "lower": plain.lower(),
        "dash": " ".join(f"{c[:3]}-{c[3:]}" for c in codes),
        "hash": " ".join(f"#{c}" for c in codes),
        "no": f"no. {plain.lower()}",
        "run_on": word + "+".join(codes),
        "price": f"{plain} {price}",
        "comma": ",".join(codes),
        "plus": "+".join(codes).lower(),
        "first_of": codes[0] + more,
        "look_alike": plain.translate(str.maketrans("0158", "OISB")),
        "sentence": f"{word} ({one}) for {price}, bag too",
    }
    return styles[style]


def fumbled(amount: int, unit: int) -> list[int]:
    """Amounts a hurried finger makes of one: a digit twice, one too few, two swapped."""
    whole, cents = divmod(amount, unit)
    digits = str(whole)
    out = set()
    for i in range(len(digits)):
        out.add(digits[:i] + digits[i] + digits[i:])
        out.add(digits[:i] + digits[i + 1 :])
        out.add(digits[:i] + digits[i + 1 : i + 2] + digits[i] + digits[i + 2 :])
    good = {int(d) for d in out if d and int(d) > 0} - {whole}
    return sorted(g * unit + cents for g in good)


def _add(out: Amounts, key: int, share: float) -> None:
    if share > 0:
        out[key] = out.get(key, 0.0) + share


def _of(*parts: tuple[int, float]) -> Amounts:
    """Amounts with shares; equal amounts are added up, and all together are one."""
    out: Amounts = {}
    for amount, share in parts:
        _add(out, amount, share)
    whole = sum(out.values())
    return {a: s / whole for a, s in out.items()}


def _below(total: int, step: int) -> int:
    """The next multiple of *step* under *total*, or *total* where there is none above nothing."""
    return max(0, total - 1) // step * step or total


def _halves(rng: random.Random) -> Way:
    ask = rng.uniform(0.1, 0.45)

    def way(prices: Sequence[int]) -> Amounts:
        total, one = sum(prices), _below(sum(prices), 100)
        if len(prices) == 1:
            return _of((total, 1 - ask), (one, 0.7 * ask), (_below(one, 100), 0.3 * ask))
        return _of((total, 0.3), (one, 0.35), (_below(total, 500), 0.35))

    return way


def _potter(rng: random.Random) -> Way:
    off = rng.choice([10, 10, 15])

    def way(prices: Sequence[int]) -> Amounts:
        total = sum(prices)
        if len(prices) == 1:
            return _of((total, 0.97), (total // 50 * 50, 0.03))
        if len(prices) == 2:
            return _of((total, 0.7), (total // 100 * 100, 0.3))
        return _of((round(total * (100 - off) / 100), 0.85), (total, 0.15))

    return way


def _furniture(rng: random.Random) -> Way:
    ask = rng.uniform(0.45, 0.8)
    offers = {95: 3, 90: 5, 85: 4, 80: 3, 75: 2, 70: 1, 60: 0.5}

    def way(prices: Sequence[int]) -> Amounts:
        total = sum(prices)
        step = 1000 if total < 30_000 else 5000
        down = _of(*((min(total, round(total * o / 100 / step) * step), w)
                     for o, w in offers.items()))  # fmt: skip
        return _of((total, 1 - ask), *((a, ask * s) for a, s in down.items()))

    return way


def _steps(low: float, high: float, step: int, deal: float, bundle: int) -> Drawn:
    """Singles down to *step* in a share between *low* and *high*, bundles mostly to *bundle*."""

    def drawn(rng: random.Random) -> Way:
        ask = rng.uniform(low, high)

        def way(prices: Sequence[int]) -> Amounts:
            total = sum(prices)
            share, by = (ask, step) if len(prices) == 1 else (deal, bundle)
            first = _below(total, by)
            return _of((total, 1 - share), (first, share * 0.8), (_below(first, by), share * 0.2))

        return way

    return drawn


def _deals(rng: random.Random) -> Way:
    ask = rng.uniform(0.05, 0.25)

    def way(prices: Sequence[int]) -> Amounts:
        count = Counter(prices)
        eights, twelves = count.pop(800, 0), count.pop(1200, 0)
        fixed = eights // 3 * 2000 + eights % 3 * 800 + (twelves + 1) // 2 * 1200
        rest = sum(p * n for p, n in count.items())
        if not rest:
            return {fixed: 1.0}
        return _of((fixed + rest, 1 - ask), (fixed + _below(rest, 500), ask))

    return way


def _notes(rng: random.Random) -> Way:
    ask = rng.uniform(0.3, 0.6)

    def way(prices: Sequence[int]) -> Amounts:
        total = sum(prices)
        step = 500 if total < 3000 else 1000
        return _of((total, 1 - ask), (total // step * step or total, ask))

    return way


def _basket(rng: random.Random) -> Way:
    ask = rng.uniform(0.1, 0.3)

    def way(prices: Sequence[int]) -> Amounts:
        total = sum(prices)
        if len(prices) < 4:
            return _of((total, 1 - ask), (_below(total, 500), ask))
        return _of((total, 0.3), (total // 500 * 500, 0.4), (total * 9 // 1000 * 100, 0.3))

    return way


def _thirty_off(rng: random.Random) -> Way:
    step = rng.choice([50, 100])
    return lambda prices: {sum(round(p * 0.7 / step) * step for p in prices): 1.0}


WAYS: dict[str, Drawn] = {
    "exact": _steps(0.0, 0.04, 100, 0.1, 100),
    "fives": _steps(0.1, 0.4, 500, 0.6, 500),
    "deep": _steps(0.6, 0.8, 500, 0.9, 1000),
    "tens": _steps(0.0, 0.0, 500, 0.9, 1000),
    "yen": _steps(0.2, 0.5, 500, 0.7, 1000),
    "halves": _halves,
    "potter": _potter,
    "furniture": _furniture,
    "deals": _deals,
    "notes": _notes,
    "basket": _basket,
    "thirty_off": _thirty_off,
}


def _slipped(rng: random.Random, code: str, slips: int) -> str:
    symbols = list(code)
    for i in rng.sample(range(len(code)), slips):
        symbols[i] = rng.choice(ALPHABET.replace(symbols[i], ""))
    return "".join(symbols)


def _a_piece(rng: random.Random, i: int, stall: Stall, days: tuple[dt.date, ...]) -> RailPiece:
    tongue = rng.choice(stall.tongues)
    adjectives, nouns = TONGUES[tongue]
    words = [rng.choice(adjectives), rng.choice(nouns)]
    if tongue in {"french", "polish"}:
        words.reverse()
    if stall.ladder == "deals":
        words.append(rng.choice(["", "vintage"]))
    price = rng.choices(*LADDERS[stall.ladder])[0]
    title = ("" if tongue == "japanese" else " ").join(words).strip()
    deal = {800: " (3 for 20)", 1200: " (2 for 1)"}.get(price, "") if stall.way == "deals" else ""
    late = rng.random() < stall.restocked
    return RailPiece(
        item_id=f"p{i:04d}",
        tag_code=new_code(rng),
        title=title + deal,
        price_minor=None if rng.random() < stall.unpriced else price,
        quantity=rng.randint(1, stall.most),
        put_out_on=rng.choice(days[1:] or days) if late else days[0],
    )


def _seen(
    rng: random.Random,
    stall: Stall,
    pieces: list[RailPiece],
    left: Counter[int],
    online: set[int],
) -> tuple[RailPiece, ...]:
    start = rng.randrange(max(1, len(pieces) * 6 // 7))
    box = range(start, start + len(pieces) // 7)
    out = []
    for i, piece in enumerate(pieces):
        home: int | None = None
        if stall.count:
            home = left[i]
            if rng.random() < stall.count_slip:
                home = piece.quantity - home if piece.quantity == 1 else max(0, home - 1)
            if i in box and stall.box:
                home = 0 if stall.box == "forgotten" else piece.quantity
        elsewhere: tuple[SoldElsewhere, ...] = ()
        sure = rng.choice([1.0, 1.0, 0.7])
        known = i in online and rng.random() < stall.known_online
        guessed = sure < 1 and stall.known_online and i not in online and rng.random() < 0.05
        if known or guessed:
            elsewhere = (SoldElsewhere(day=SATURDAY, probability=sure),)
        out.append(msgspec.structs.replace(piece, counted_home=home, sold_elsewhere=elsewhere))
    return tuple(out)


def _stubs(
    rng: random.Random, stall: Stall, sales: list[_Sale], pieces: list[RailPiece]
) -> tuple[Stub, ...]:
    kept: dict[dt.date, list[tuple[int, int | None]]] = {}
    first = sales[0].at.date()
    for sale in sales:
        if sale.at.date() == first and sale.at.hour >= stall.stub_until:
            continue
        price = sale.amount if rng.random() < stall.stub_priced else None
        for j, i in enumerate(sale.items):
            if rng.random() >= stall.stub_lost:
                on_it = j == 0 and (len(sale.items) == 1 or stall.stub_total)
                kept.setdefault(sale.at.date(), []).append((i, price if on_it else None))
    out = []
    for day, ends in sorted(kept.items()):
        ordered = stall.stub_order != "loose"
        if not ordered:
            rng.shuffle(ends)
        if stall.stub_order == "spike":
            ends.reverse()
        for j in range(len(ends) - 1):
            if rng.random() < stall.stub_swapped:
                ends[j], ends[j + 1] = ends[j + 1], ends[j]
        out += [
            Stub(code=pieces[i].tag_code or "", day=day, position=j if ordered else None,
                 price_minor=price)
            for j, (i, price) in enumerate(ends)
        ]  # fmt: skip
    return tuple(out)


def _box(sales: list[_Sale], days: tuple[dt.date, ...]) -> tuple[CashTotal, ...]:
    return tuple(
        CashTotal(day=d, total_minor=sum(
            s.amount for s in sales if not s.card and s.at.date() == d)) for d in days
    )  # fmt: skip
