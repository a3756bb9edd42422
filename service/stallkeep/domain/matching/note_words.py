"""Which words beside payments speak of pieces, and which are chatter that only looks like it.

"card" may cut "cardigan" short, or say how somebody paid. What tells is the event as a whole: a
word that comes far more often than its pieces can sell is chatter. So the number of times a word
stands beside payments is explained as a sum of two negative binomial counts, one from titles and
one from chatter, and the split says what each occurrence is worth.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

import msgspec

CHATTER_SHAPE = 0.02  # few title words are chatter at all; those that are come often
CHATTER_RATE = 0.8
SHARE_PRIOR = (1.0, 6.0)  # title words, lines: what is believed before the notes are read
ROUNDS = 4
CHATTER_ALONE = frozenset(
    [
        "card",
        "cash",
        "tap",
        "chip",
        "pin",
        "paid",
        "contactless",
        "sat",
        "sun",
        "fri",
        "market",
        "stall",
        "fair",
        "thanks",
        "karte",
        "bar",
        "carte",
        "carta",
        "tarjeta",
        "kaart",
        "kort",
        "karta",
        "contant",
        "kontant",
    ]
)
"""Words of paying and of market days. They name a piece only where they are a whole title word."""


class Heard(msgspec.Struct, frozen=True):
    """A word that could be a title word.

    Attributes:
        mean: Mean over the rail of its share in a piece's title words.
        likely: Share of title words that are written this way: whole, cut short, with a slip.
    """

    mean: float
    likely: float


def title_shares(lines: Iterable[Iterable[str]], heard: Mapping[str, Heard]) -> dict[str, float]:
    """Say per word how probably one occurrence of it speaks of a title.

    Args:
        lines: The words beside each payment.
        heard: The words that could be title words.

    Returns:
        Probability per word of *heard* that occurs, 0 to 1.
    """
    counts: Counter[str] = Counter()
    number = 0
    for spoken in lines:
        counts.update({word for word in spoken if word in heard})
        number += 1
    words, lines_before = SHARE_PRIOR
    shares = dict.fromkeys(counts, 1.0)
    for _ in range(ROUNDS):
        said = sum(shares[word] * count for word, count in counts.items())
        rate = (words + said) / (lines_before + number)
        shares = {
            word: _title_share(count, number * rate * heard[word].mean * heard[word].likely)
            for word, count in counts.items()
        }
    return shares


def _title_share(count: int, expected: float) -> float:
    """Expected share of *count* occurrences that are of titles, *expected* of which are due."""
    due = expected / (1.0 + expected)
    weight = due**count  # all of them from titles
    total, titles = weight, weight * count
    chatter = 1.0
    for k in range(1, count + 1):
        chatter *= (CHATTER_SHAPE + k - 1) / k * CHATTER_RATE
        weight = chatter * due ** (count - k)
        total += weight
        titles += weight * (count - k)
    return titles / (count * total)
