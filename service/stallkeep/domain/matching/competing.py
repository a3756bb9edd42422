"""Sales that may be of one piece compete for it: they are answered together.

Lines and pieces are numbered in the order they come, because there may be a million of each.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from uuid import UUID

import msgspec
import numpy as np

_NOBODY = -1


class Claim(msgspec.Struct, frozen=True, gc=False):
    """A line, and the pieces it may be of.

    Attributes:
        line: Its id.
        pieces: Their ids, in the order in which they were found.
        is_open: Titles say which it may be of, and nothing else does.
    """

    line: UUID
    pieces: tuple[UUID, ...]
    is_open: bool


class Competing:
    """Lines by the pieces they may be of; disjoint sets, joined by the first of each."""

    def __init__(self) -> None:
        self._lines: list[UUID] = []
        self._claims: list[tuple[int, ...]] = []
        self._is_open = bytearray()
        self._parent: list[int] = []
        self._number: dict[UUID, int] = {}
        self._pieces: list[UUID] = []
        self._holder: list[int] = []

    @property
    def pieces(self) -> Collection[UUID]:
        """All pieces that a line may be of."""
        return self._number.keys()

    def add(self, line: UUID, pieces: Sequence[UUID], *, is_open: bool = False) -> None:
        """Take in a line that is not among these yet."""
        own = len(self._lines)
        self._lines.append(line)
        self._parent.append(own)
        self._is_open.append(is_open)
        claims = tuple(self._numbered(piece) for piece in pieces)
        self._claims.append(claims)
        for piece in claims:
            if self._holder[piece] == _NOBODY:
                self._holder[piece] = own
            else:
                self._unite(self._holder[piece], own)

    def join(self, pairs: Iterable[tuple[UUID, UUID]]) -> None:
        """Put lines together with those that may be of a piece; each as line, piece."""
        numbers = {line: number for number, line in enumerate(self._lines)}
        for line, piece in pairs:
            holder = self._holder[self._numbered(piece)]
            if holder != _NOBODY:
                self._unite(holder, numbers[line])

    def packs(self, least: int) -> Iterator[list[Claim]]:
        """Give what is answered together, the first-found first, joined until there is enough.

        Args:
            least: Lines from which on a pack is enough.
        """
        roots = np.fromiter(map(self._root, range(len(self._lines))), np.int64, len(self._lines))
        order = np.argsort(roots, kind="stable")
        begins = np.flatnonzero(np.diff(roots[order], prepend=_NOBODY))
        start = 0
        for begin in [*begins[1:].tolist(), len(order)]:
            if begin - start >= least or start < begin == len(order):
                yield [self._claim(line) for line in order[start:begin].tolist()]
                start = begin

    def _claim(self, line: int) -> Claim:
        pieces = tuple(self._pieces[number] for number in self._claims[line])
        return Claim(self._lines[line], pieces, bool(self._is_open[line]))

    def _numbered(self, piece: UUID) -> int:
        number = self._number.setdefault(piece, len(self._pieces))
        if number == len(self._pieces):
            self._pieces.append(piece)
            self._holder.append(_NOBODY)
        return number

    def _unite(self, one: int, other: int) -> None:
        a, b = self._root(one), self._root(other)
        self._parent[max(a, b)] = min(a, b)

    def _root(self, line: int) -> int:
        parent = self._parent
        while parent[line] != line:
            parent[line] = parent[parent[line]]
            line = parent[line]
        return line
