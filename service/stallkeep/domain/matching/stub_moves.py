"""The ways in which a line may take stubs of a day, as tables over every place in their order."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from stallkeep.domain.matching.signatures import LARGEST_BUNDLE

FURTHEST = LARGEST_BUNDLE + 1
"""How far back the one stub may lie that was skipped and may still be taken."""


class Moves:
    """S moves over N stubs.

    A *state* is how many stubs are read, and how far back a skipped stub lies (0 for none), as
    one flat number. Before a move that takes no pending stub any number of stubs may be left out,
    so it starts from all states at or before its place; these are the places after the states.

    Attributes:
        size: S, stubs taken, ascending.
        hole: S, how far back a stub skipped lies afterwards; 0 for none.
        plain: The moves that take the next one, two, three stubs and nothing else.
        index: S x N + 1 x 4, stubs taken from every place; N where there is none.
        fits: S x N + 1, whether the move exists there.
        source: S x N + 1, state or place it starts from.
        target: S x N + 1, state afterwards; the number of states where it does not fit.
        states: How many there are.
        into: Per state, the moves that lead to it, as places in a flat S x N + 1.
    """

    def __init__(self, number: int) -> None:
        shapes = sorted([*_plain_shapes(), *_pending_shapes()], key=lambda s: len(s[1]))
        places = np.arange(number + 1)
        self.number = number
        self.size = np.array([len(offsets) for _, offsets, _, _ in shapes])
        self.hole = np.array([hole for _, _, _, hole in shapes])
        pending = np.array([back for back, _, _, _ in shapes])[:, None]
        ahead = np.array([passed for _, _, passed, _ in shapes])[:, None]
        self.plain = np.array([
            k
            for k, (back, offsets, passed, hole) in enumerate(shapes)
            if not back and not hole and passed < LARGEST_BUNDLE
        ])  # fmt: skip
        offsets = np.array([[*o, *[0] * (LARGEST_BUNDLE - len(o))] for _, o, _, _ in shapes])
        told = np.arange(LARGEST_BUNDLE) < self.size[:, None]
        index = places[None, :, None] + offsets[:, None, :]
        within = ((index >= 0) & (index < number)) | ~told[:, None, :]
        self.fits = within.all(axis=2) & (places + ahead <= number)
        self.index = np.where(told[:, None, :] & self.fits[:, :, None], index, number)
        width = FURTHEST + 1
        self.states = (number + 1) * width
        start = np.where(pending > 0, places * width + pending, self.states + places)
        self.source = np.broadcast_to(start, self.fits.shape).copy()
        after = (places + ahead) * width + self.hole[:, None]
        self.target = np.where(self.fits, after, self.states)
        order = np.argsort(self.target.ravel(), kind="stable")
        edges = np.searchsorted(self.target.ravel()[order], np.arange(self.states + 1))
        self.into = np.split(order, edges[1:])[: self.states]


def _plain_shapes() -> Iterator[tuple[int, tuple[int, ...], int, int]]:
    """The next n stubs; or n of the next n + 1 with one left pending."""
    for n in range(1, LARGEST_BUNDLE + 1):
        yield 0, tuple(range(n)), n, 0
        for hole in range(n):
            offsets = tuple(o for o in range(n + 1) if o != hole)
            yield 0, offsets, n + 1, n + 1 - hole


def _pending_shapes() -> Iterator[tuple[int, tuple[int, ...], int, int]]:
    """The pending stub, alone or with the next ones."""
    for back in range(2, FURTHEST + 1):
        for n in range(LARGEST_BUNDLE):
            yield back, (-back, *range(n)), n, 0


def read_before(place: int) -> int:
    """How many states lie at or before a place."""
    return (place + 1) * (FURTHEST + 1)
