"""The invented world's names and vocabulary. No shop, place or provider here exists."""

from __future__ import annotations

from dataclasses import dataclass

SHOP = "Plovermend"
ZONE = "Europe/Berlin"
CURRENCY = "EUR"

STALL = "Stall"
FOLLOWERS = "Followers' list"
LUMPELIO = "Lumpelio"
SHELVORRA = "Shelvorra"

FAIR = "Brackenslip Harbour Fair"
NEXT_EVENT = "Saltrigg Spring Market 2027"


@dataclass(frozen=True)
class Noun:
    """What a piece is, and between which whole euros such a piece is priced."""

    name: str
    low: int
    high: int
    sizes: tuple[str, ...]


@dataclass(frozen=True)
class Range:
    """One category of the shop: how many pieces, and what their titles are made of.

    Attributes:
        percent_lumpelio: How many in a hundred are listed on Lumpelio.
        percent_shelvorra: How many in a hundred are listed on Shelvorra.
    """

    category: str
    count: int
    percent_lumpelio: int
    percent_shelvorra: int
    looks: tuple[str, ...]
    nouns: tuple[Noun, ...]
    touches: tuple[str, ...]


LETTERS = ("S", "M", "L", "XL")
JACKETS = ("46", "48", "50", "52", "54")
WAISTS = ("W30", "W32", "W34", "W36")

KNITWEAR = Range(
    category="Knitwear",
    count=50,
    percent_lumpelio=72,
    percent_shelvorra=24,
    looks=("Navy", "Oatmeal", "Moss green", "Rust", "Charcoal", "Cream", "Plum", "Mustard"),
    nouns=(
        Noun("fisherman's jumper", 48, 85, LETTERS),
        Noun("cable jumper", 38, 68, LETTERS),
        Noun("roll-neck jumper", 32, 55, LETTERS),
        Noun("button cardigan", 35, 65, LETTERS),
        Noun("slipover", 22, 38, LETTERS),
    ),
    touches=(
        "darned elbows",
        "new cuffs",
        "visible mending",
        "re-knit collar",
        "leather patches",
        "horn buttons",
    ),
)

WORKWEAR = Range(
    category="Workwear",
    count=48,
    percent_lumpelio=64,
    percent_shelvorra=34,
    looks=("Indigo", "Faded blue", "Ecru", "Brown", "Black", "Olive", "Grey striped"),
    nouns=(
        Noun("chore jacket", 42, 75, JACKETS),
        Noun("work shirt", 22, 40, LETTERS),
        Noun("bib overalls", 38, 65, WAISTS),
        Noun("cord trousers", 25, 45, WAISTS),
        Noun("waistcoat", 24, 42, JACKETS),
        Noun("apron", 12, 24, ("one size",)),
    ),
    touches=(
        "patched knee",
        "sashiko patch",
        "new pockets",
        "relined",
        "reinforced seams",
        "old repair kept",
    ),
)

SMALL_WOOL = Range(
    category="Small wool",
    count=40,
    percent_lumpelio=18,
    percent_shelvorra=12,
    looks=("Grey", "Heather", "Undyed", "Red", "Dark green", "Speckled"),
    nouns=(
        Noun("wool socks", 10, 16, ("37-39", "40-42", "43-45")),
        Noun("mittens", 12, 20, ("S", "M", "L")),
        Noun("ribbed hat", 12, 22, ("one size",)),
        Noun("scarf", 16, 30, ("one size",)),
        Noun("lap blanket", 28, 48, ("120 x 90 cm",)),
    ),
    touches=("darned heel", "fringe renewed", "felted", "striped edge", "mended twice"),
)

CERAMICS = Range(
    category="Kitchen ceramics",
    count=52,
    percent_lumpelio=0,
    percent_shelvorra=42,
    looks=("Cream", "Blue banded", "Brown slip", "White", "Salt glazed", "Green"),
    nouns=(
        Noun("mug", 5, 10, ("0.25 l", "0.3 l")),
        Noun("milk jug", 10, 20, ("0.5 l", "1 l")),
        Noun("pie dish", 12, 24, ("22 cm", "26 cm")),
        Noun("mixing bowl", 18, 38, ("24 cm", "28 cm", "32 cm")),
        Noun("storage jar", 14, 30, ("1 l", "2 l")),
        Noun("teapot", 22, 42, ("1 l",)),
    ),
    touches=("small chip", "fine crazing", "lid mended", "stamped base", "no chips"),
)

RANGES = (KNITWEAR, WORKWEAR, SMALL_WOOL, CERAMICS)

LOW_PRICES = (4, 5, 6, 8, 10, 12, 14, 15, 16, 18, 20, 22, 24, 25, 28, 30, 32, 35)
HIGH_PRICES = (38, 40, 42, 45, 48, 52, 55, 58, 62, 65, 68, 75, 85)
PRICE_LADDER = LOW_PRICES + HIGH_PRICES

CHATTER = ("for her sister", "gift wrap", "paid w/ phone", "needs bag", "said hi from row B")
