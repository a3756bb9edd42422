"""What the words beside a payment say about each piece: likelihood ratios per line and piece."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence

import numpy as np
from rapidfuzz.distance import OSA

from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.modes import Floats
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.note_words import CHATTER_ALONE, Heard, title_shares
from stallkeep.domain.matching.notes import known_codes_in, words
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.tag_codes import is_valid, normalise

SHORTEST_STEM = 3
WHOLE, CUT_SHORT, SLIPPED = 0.8, 0.1, 0.03  # how title words are written, of all that are
IN_BUNDLE = 0.85  # a note tells one piece of a bundle; two alike count little more than one
MOST_BITS = 10.0
LARGEST_BUNDLE = 4
SOME_CODES_ONLY = 0.15  # chance that not all codes of a bundle are written, common practice
SLIP_SHARE = 0.08  # codes typed with one slip, per code typed right
COUNTED = re.compile(
    r"(?:\b([2-4])\s*x\b|\bx\s*([2-4])\b|\b([2-4])\s+(?:pcs|pieces|items|things|teile|stk)\b)"
)


MORE = re.compile(r"\+\s?([1-3])\b")


class Vocabulary:
    """Words of the rail's titles and categories, and which pieces use them."""

    def __init__(self, pieces: Sequence[RailPiece]) -> None:
        self.size = len(pieces)
        self.codes = {normalise(p.tag_code): i for i, p in enumerate(pieces) if p.tag_code}
        self.lengths = np.ones(self.size)
        self.users: dict[str, set[int]] = defaultdict(set)
        for i, piece in enumerate(pieces):
            own = {w for w in words(f"{piece.title} {piece.category or ''}") if len(w) > 1}
            self.lengths[i] = max(len(own), 1)
            for word in own:
                self.users[word].add(i)
        self.seen: dict[str, tuple[frozenset[int], float]] = {}
        self.shares: dict[str, float] = {}

    def listen(self, lines: Iterable[MoneyLine]) -> None:
        """Learn from the words beside all payments which of them are chatter."""
        spoken = [words(_text(line)) for line in lines]
        heard = {}
        for word in {word for own in spoken for word in own}:
            pieces, likely = self.pieces_named_by(word)
            if pieces:
                named = sorted(pieces)
                heard[word] = Heard(float((1 / self.lengths[named]).sum()) / self.size, likely)
        self.shares = title_shares(spoken, heard)

    def pieces_named_by(self, word: str) -> tuple[frozenset[int], float]:
        """Pieces with this title word, and how usual it is to write a title word this way.

        Whole, cut short, or with one slip in a longer word; no pieces and 0 where none fits.
        """
        if word not in self.seen:
            self.seen[word] = self._look_up(word)
        return self.seen[word]

    def _look_up(self, word: str) -> tuple[frozenset[int], float]:
        if word in self.users:
            return frozenset(self.users[word]), WHOLE
        if len(word) < SHORTEST_STEM or word.isdigit() or word in CHATTER_ALONE:
            return frozenset(), 0.0
        likely = CUT_SHORT
        near = [own for own in self.users if own.startswith(word)]
        if not near and len(word) > SHORTEST_STEM:
            likely = SLIPPED
            near = [own for own in self.users if OSA.distance(own, word, score_cutoff=1) <= 1]
        return frozenset().union(*(self.users[own] for own in near)), likely


class TextOdds:
    """Likelihood ratios of one line's text.

    Attributes:
        codes: Per piece, for its code being named; multiplies for every piece of a set. On the
            scale of the expected share of wrong codes; see code_ratio().
        titles: Per piece, for its title's words.
        in_bundle: The same for pieces of a bundle.
        none: For explanations without pieces, on the scale of *titles*.
        sizes: Per number of pieces 0..4, from words like "2x".
        named: Pieces whose code stands there, exactly or with a slip.
        exact: True when exactly.
    """

    def __init__(
        self, codes: Floats, titles: Floats, none: float, *, sizes: Floats, exact: bool
    ) -> None:
        self.codes = codes
        self.titles = titles
        # who means several pieces names one in full or each by some words, hardly one by half
        self.in_bundle = np.where(titles >= titles.max(initial=1.0) / 2, titles, 1.0) ** IN_BUNDLE
        self.none = none
        self.sizes = sizes
        self.named = np.nonzero(codes > 1.0)[0]
        self.exact = exact


def text_odds(line: MoneyLine, vocabulary: Vocabulary, beliefs: Beliefs) -> TextOdds | None:
    """Weigh a line's words; None when there are none that say anything."""
    text = _text(line)
    if not text.strip():
        return None
    codes, named, exact = _code_odds(text, vocabulary, beliefs)
    titles, none = _title_odds(words(text), vocabulary)
    sizes = _size_odds(text) * _size_odds_of_codes(named, text)
    if titles.max(initial=1.0) > 1.0:
        sizes = sizes / np.array([1, 1, 2, 3, 4])
    return TextOdds(codes, titles, none, sizes=sizes, exact=exact)


def _text(line: MoneyLine) -> str:
    return " ".join(part for part in (line.tag_code, line.title, line.note) if part)


def _code_odds(text: str, vocabulary: Vocabulary, beliefs: Beliefs) -> tuple[Floats, int, bool]:
    odds = np.ones(vocabulary.size)
    right = code_ratio(beliefs.chance("code_is_wrong"), vocabulary.size)
    known = {code: code for code in vocabulary.codes}
    exact = known_codes_in(text, known)
    for code in exact:
        odds[vocabulary.codes[code]] = right
    slips = 0
    if len(exact) < LARGEST_BUNDLE:
        for token in _code_like(text):
            slips += 1
            near = [c for c in vocabulary.codes if OSA.distance(c, token, score_cutoff=1) == 1]
            for code in near:
                odds[vocabulary.codes[code]] = max(
                    odds[vocabulary.codes[code]], right * SLIP_SHARE / len(near)
                )
    return odds, len(exact) + slips, bool(exact)


def _code_like(text: str) -> list[str]:
    """Words that look like a code typed wrong: letters and digits, no valid check symbol."""
    found = []
    for part in re.findall(r"[0-9A-Za-z][0-9A-Za-z\-]{3,7}", text):
        token = normalise(part)
        mixed = any(c.isdigit() for c in token) and any(c.isalpha() for c in token)
        if mixed and not is_valid(token):
            found.append(token)
    return found


def _title_odds(tokens: Sequence[str], vocabulary: Vocabulary) -> tuple[Floats, float]:
    bits = np.zeros(vocabulary.size)
    for token in dict.fromkeys(tokens):
        named = sorted(vocabulary.pieces_named_by(token)[0])
        share = vocabulary.shares.get(token, 0.0)
        if not named or not share or len(named) == vocabulary.size:
            continue
        chosen = np.zeros(vocabulary.size)
        chosen[named] = 1.0 / vocabulary.lengths[named]
        bits += np.log2((1.0 - share) + share * chosen / chosen.mean())
    bits = np.clip(bits, -MOST_BITS, MOST_BITS)
    least = float(bits.min()) if len(bits) else 0.0
    return 2.0 ** (bits - least), 2.0 ** min(-least, MOST_BITS)


def _size_odds(text: str) -> Floats:
    odds = np.ones(5)
    hit = COUNTED.search(text.casefold())
    if hit:
        number = int(next(group for group in hit.groups() if group))
        odds[:] = 0.1
        odds[number] = 4.0
    return odds


def _size_odds_of_codes(named: int, text: str) -> Floats:
    """Who writes codes mostly writes all of them, or how many more there are ("7KQ4T2 +1")."""
    odds = np.ones(LARGEST_BUNDLE + 1)
    more = MORE.search(text)
    if named and more and named + int(more[1]) <= LARGEST_BUNDLE:
        odds[:] = 0.1
        odds[named + int(more[1])] = 4.0
    elif named:
        odds[named + 1 :] = SOME_CODES_ONLY
    return odds


def code_ratio(wrong: float, pieces: int) -> float:
    """Likelihood ratio of a piece's code in the note: that piece against any other one."""
    return (1 - wrong) / wrong * pieces
