"""How likely an amount is, given what the tags said: one column per way of coming to a price.

Every column is a probability distribution over amounts (it sums to at most 1 over all amounts a
customer could pay), so columns weighted by shares from ``habits`` form a proper mixture.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from stallkeep.domain.matching.modes import ABOVE, MODES, OFFS, PERCENTS, STEPS, Floats, Ints

DEEP_DECAY = 6.0  # a discount of a sixth is e times as likely as one of a third
LARGEST_TIP = 0.25
ROUND_ON_TOP = 0.3  # of what is paid beyond the tag: a tip, a bag, wrapping
ON_TOP = (1, 2, 5)  # in price steps
HALF_CENT = 0.5
SHIFTED = "00"
DIGITS = "0123456789"
FURTHEST_SLIP = 200  # times the amount meant
MODE_INDEX = {name: i for i, name in enumerate(MODES)}
_PERCENT = [MODE_INDEX[f"percent_{percent}"] for percent in PERCENTS]
_LEFT = 100.0 - np.array(PERCENTS)
_ABOVE = [MODE_INDEX[f"above_{percent}"] for percent in ABOVE]
_ASKED = 100.0 + np.array(ABOVE)


def price_step(prices_minor: list[int], unit_minor: int) -> int:
    """The amount that plays the part of "1.00" on this rail: a power of ten times the unit.

    Tags around 25 give the unit itself, tags around 2,500 (as in yen) a hundred units.
    """
    if not prices_minor:
        return unit_minor
    middle = float(np.median(prices_minor))
    power = round(math.log10(max(middle, 1.0) / (25.0 * unit_minor)))
    return int(max(1, round(unit_minor * 10.0 ** max(power, 0))))


def mode_matrix(totals: Ints, amount: int, step: int) -> Floats:
    """Probability of *amount* under every mode, for tag totals *totals*.

    Args:
        totals: n sums of tag prices, minor units, positive.
        amount: What was paid for the pieces.
        step: From price_step.

    Returns:
        n x len(MODES); "cheapest_free" is left 0, it needs the single prices.
    """
    out = np.zeros((len(totals), len(MODES)))
    t = totals.astype(np.float64)
    out[:, MODE_INDEX["exact"]] = totals == amount
    for s in STEPS:
        _down(out, totals, amount, s, s * step)
    out[:, _PERCENT] = _percent(t[:, None], amount, step)
    for off in OFFS:
        out[:, MODE_INDEX[f"off_{off}"]] = totals - off * step == amount
    out[:, _ABOVE] = _to_cent(t[:, None] * _ASKED / 100, amount)
    up = -(-totals // step) * step
    out[:, MODE_INDEX["round_up"]] = (up == amount) & (up > totals)
    out[:, MODE_INDEX["tip"]] = _over(totals, amount, step)
    out[:, MODE_INDEX["mis_keyed"]] = mis_keyed(totals, amount)
    out[:, MODE_INDEX["other"]] = _anything(t, amount, step)
    return out


def _down(out: Floats, totals: Ints, amount: int, s: int, width: int) -> None:
    """Discounts to a multiple of *width* below the tag: the next one, the one after, far ones."""
    if amount % width:
        return
    following = (totals - 1) // width * width
    out[:, MODE_INDEX[f"down_{s}_next"]] = (following == amount) & (following > 0)
    second = following - width
    out[:, MODE_INDEX[f"down_{s}_second"]] = (second == amount) & (second > 0)
    name = f"down_{s}_deep"
    if name in MODE_INDEX:
        out[:, MODE_INDEX[name]] = _deep(totals.astype(np.float64), following, amount, width)


def _deep(t: Floats, following: Ints, amount: int, width: int) -> Floats:
    """Exponential in the discount's share of the tag, over all multiples below it."""
    ratio = np.exp(-DEEP_DECAY * width / t)
    places = np.maximum(following // width, 1)
    nth = np.maximum((following - amount) / width, -1.0)
    weight = ratio**nth * (1 - ratio) / (1 - ratio**places)
    return np.where((nth >= 0) & (amount > 0), weight, 0.0)


def _percent(t: Floats, amount: int, step: int) -> Floats:
    """Percentages off: to the cent, to the nearest step, or down to the half step."""
    asked = t * _LEFT / 100
    half = max(step // 2, 1)
    to_step = np.floor(asked / step + 0.5) * step == amount
    to_half = np.floor(asked / half + 1e-9) * half == amount
    out: Floats = 0.4 * _to_cent(asked, amount) + 0.4 * to_step + 0.2 * to_half
    return out


def _to_cent(asked: Floats, amount: int) -> Floats:
    """Half for rounding up at half a cent, half for rounding down."""
    up, down = np.floor(asked + HALF_CENT) == amount, np.ceil(asked - HALF_CENT) == amount
    out: Floats = 0.5 * up + 0.5 * down
    return out


def _over(totals: Ints, amount: int, step: int) -> Floats:
    """A little more than the tag: to a whole step ("keep the change"), or a round sum on top."""
    highest = totals * (1 + LARGEST_TIP)
    within = (amount > totals) & (amount <= highest)
    places = np.maximum(np.floor(highest / step) - totals // step, 1)
    whole = 1.0 / places if amount % step == 0 else 0.0
    on_top = np.isin(amount - totals, [extra * step for extra in ON_TOP]) / len(ON_TOP)
    out: Floats = np.where(within, (1 - ROUND_ON_TOP) * whole + ROUND_ON_TOP * on_top, 0.0)
    return out


def _anything(t: Floats, amount: int, step: int) -> Floats:
    """Any price from a fifth of the tag to half above it, whole steps preferred."""
    width, share = (step, 0.9) if amount % step == 0 else (max(step // 100, 1), 0.1)
    within = (amount >= 0.2 * t) & (amount <= 1.5 * t)
    return np.where(within, share * width / (1.3 * t + width), 0.0)


def mis_keyed(totals: Ints, amount: int) -> Floats:
    """One slip of the finger: a wrong digit, two swapped, one dropped or doubled, a shifted point.

    Each of the roughly 12 slips per digit is taken as equally likely.
    """
    meant, share = _meant_by(amount)
    if not len(meant):
        return np.zeros(len(totals))
    place = np.minimum(np.searchsorted(meant, totals), len(meant) - 1)
    return np.where(meant[place] == totals, share[place], 0.0)


@lru_cache(maxsize=4096)
def _meant_by(amount: int) -> tuple[Ints, Floats]:
    """Amounts that one slip turns into *amount*, ascending, and the chance of that slip."""
    typed = str(amount)
    meant: set[str] = set()
    for i in range(len(typed) + 1):
        meant |= {typed[:i] + digit + typed[i:] for digit in DIGITS}
    for i in range(len(typed)):
        meant |= {typed[:i] + digit + typed[i + 1 :] for digit in DIGITS}
        if typed[i] in typed[i + 1 : i + 2]:
            meant.add(typed[:i] + typed[i + 1 :])
        meant.add(typed[:i] + typed[i : i + 2][::-1] + typed[i + 2 :])
    meant.add(typed + SHIFTED)
    meant.add(typed.removesuffix(SHIFTED))
    meant.discard(typed)
    whole = sorted(int(m) for m in meant if m and m[0] != "0")
    known = [m for m in whole if 0 < amount < FURTHEST_SLIP * m]
    return np.array(known, dtype=np.int64), np.array([1.0 / (12 * len(str(m))) for m in known])
