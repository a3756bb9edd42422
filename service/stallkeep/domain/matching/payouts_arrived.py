"""Which bank line a payout is: the one that names it, else one of its amount soon after it."""

from __future__ import annotations

import datetime as dt
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import TypeAlias

import msgspec
import numpy as np
from scipy.optimize import linear_sum_assignment

BANK_DAYS = 7
NAMED_DAYS = 14  # either way: days of payouts and of bookings are told by different rules
NEVER = 1e6
UNNAMED = 100.0  # what a pair without a name costs more than any with one
SHORT_NAME = 6  # letters and digits; fewer may stand in a text by chance ...
NAMED_SHORT_PERCENT = 5  # ... so that the amounts must agree to this
# All common practice, no source.

Words: TypeAlias = tuple[str, ...]

_WORD = re.compile(r"[^\W_]+")


class Payout(msgspec.Struct, frozen=True, kw_only=True):
    """Money a provider sent.

    Attributes:
        payout_id: Its own id, as payments name it.
        amount_minor: Net amount sent; minus when the provider takes money back.
        occurred_on: Day.
    """

    payout_id: str
    amount_minor: int
    occurred_on: dt.date


class BankLine(msgspec.Struct, frozen=True, kw_only=True):
    """Money that arrived at the bank, or left it.

    Attributes:
        transaction_id: Its id.
        amount_minor: Plus in, minus out.
        occurred_on: Day.
        references: Names the bank gives it, each a whole: end-to-end reference, id.
        text: Its purpose, in which a name may stand.
    """

    transaction_id: str
    amount_minor: int
    occurred_on: dt.date
    references: tuple[str, ...] = ()
    text: str = ""


def arrivals(payouts: Sequence[Payout], bank: Sequence[BankLine]) -> dict[int, BankLine]:
    """Pair payouts with bank lines: by name, else equal amounts; least total days between.

    A line that names payouts is none of the others. Money in is never the arrival of money that
    was taken, nor the other way round.

    Returns:
        The bank line by the payout's place; payouts without one are left out.
    """
    if not payouts or not bank:
        return {}
    places = sorted(
        range(len(payouts)),
        key=lambda n: (payouts[n].occurred_on, payouts[n].payout_id, n),
    )
    lines = sorted(bank, key=lambda b: (b.occurred_on, b.transaction_id))
    names = _Names([payout.payout_id for payout in payouts])
    named = [names.in_line(line, payouts) for line in lines]
    cost = np.array(
        [
            [_cost(n, payouts[n], line, of) for line, of in zip(lines, named, strict=True)]
            for n in places
        ]
    )
    rows, columns = linear_sum_assignment(cost)
    return {places[r]: lines[c] for r, c in zip(rows, columns, strict=True) if cost[r, c] < NEVER}


class _Names:
    """Finds the ids of payouts in what a bank line says, however their parts are separated."""

    def __init__(self, payout_ids: Sequence[str]) -> None:
        self._places: Mapping[Words, list[int]] = defaultdict(list)
        for place, payout_id in enumerate(payout_ids):
            words = _words(payout_id)
            for key in {words, ("".join(words),)}:
                self._places[key].append(place)
        self._lengths = sorted({len(key) for key in self._places} - {0})

    def in_line(self, line: BankLine, payouts: Sequence[Payout]) -> set[int]:
        """Places of the payouts that a line names."""
        whole = {n for name in line.references for n in self._places.get(_words(name), ())}
        said = {
            n
            for text in (*line.references, line.text)
            for key in self._runs(_words(text))
            for n in self._places.get(key, ())
            if _is_telling(key, line, payouts[n])
        }
        return whole | said

    def _runs(self, words: Words) -> Iterator[Words]:
        for length in self._lengths:
            for start in range(len(words) - length + 1):
                yield words[start : start + length]


def _words(text: str) -> Words:
    return tuple(_WORD.findall(text.casefold()))


def _is_telling(key: Words, line: BankLine, payout: Payout) -> bool:
    """Whether a name within a text is meant: one with a digit, and a short one by its amount."""
    name = "".join(key)
    if not any(mark.isdigit() for mark in name):
        return False
    off = abs(line.amount_minor - payout.amount_minor)
    near = off * 100 <= abs(payout.amount_minor) * NAMED_SHORT_PERCENT
    return len(name) >= SHORT_NAME or (len(name) > 1 and near)


def _cost(place: int, payout: Payout, line: BankLine, named: set[int]) -> float:
    """Days apart, more without a name, NEVER where the two cannot be one."""
    days = (line.occurred_on - payout.occurred_on).days
    differ = line.amount_minor != payout.amount_minor
    if line.amount_minor * payout.amount_minor < 0:
        return NEVER
    if place in named:
        near = abs(days) <= NAMED_DAYS
        return abs(days) + (NAMED_DAYS + 1) * float(differ) if near else NEVER
    return NEVER if named or differ or not 0 <= days <= BANK_DAYS else days + UNNAMED
