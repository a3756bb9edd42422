"""Words beside payments: those of titles count, chatter that only looks like one does not."""

from __future__ import annotations

import pytest
from scipy.stats import nbinom
from tests.unit.matching.worlds_small import a_line, a_piece

from stallkeep.domain.matching import Habits, note_words
from stallkeep.domain.matching.habits import Beliefs
from stallkeep.domain.matching.note_words import CHATTER_RATE, CHATTER_SHAPE, Heard, title_shares
from stallkeep.domain.matching.text_evidence import Vocabulary, text_odds

NAMES = ["navy wool coat", "red felt cardigan", "plain silk scarf", "old tweed hat", "blue jug"]
PIECES = [a_piece(f"p{i}", 2000, title=title) for i, title in enumerate(NAMES * 8)]


def odds_of(note: str, others: list[str]) -> list[float]:
    """Title odds of the first five pieces for *note* beside one of several payments."""
    vocabulary = Vocabulary(PIECES)
    lines = [a_line(f"t{i}", 2000, note=text) for i, text in enumerate([note, *others])]
    vocabulary.listen(lines)
    found = text_odds(lines[0], vocabulary, Beliefs(Habits()))
    assert found is not None
    return [float(x) for x in found.titles[:5] / found.titles[:5].min()]


def test_a_word_heard_once_speaks_of_its_pieces() -> None:
    odds = odds_of("tweed", [""] * 39)
    assert odds[3] > 5 * odds[0]
    assert odds[0] == odds[1] == odds[2] == odds[4]


def test_a_word_that_comes_too_often_for_its_pieces_is_chatter() -> None:
    once = odds_of("felt", [""] * 39)
    often = odds_of("felt", ["felt"] * 30 + [""] * 9)
    assert once[1] / once[0] > 3
    assert often[1] / often[0] < 1.5


def test_a_seller_who_always_says_what_it_is_is_believed() -> None:
    others = ["coat", "cardigan", "scarf", "hat", "jug", "coat", "scarf", "jug", "hat"] * 4
    odds = odds_of("coat", others)
    assert odds[0] > 10 * odds[1]


@pytest.mark.parametrize("word", ["card", "carta"])
def test_how_somebody_paid_is_no_short_form_of_a_title(word: str) -> None:
    assert set(odds_of(word, [""] * 39)) == {1.0}


def test_a_word_of_paying_that_is_a_title_word_still_names_its_pieces() -> None:
    vocabulary = Vocabulary([a_piece("a", 300, title="birthday card"), a_piece("b", 300)])
    assert vocabulary.pieces_named_by("card")[0] == {0}


@pytest.mark.parametrize(("count", "mean"), [(1, 0.02), (3, 0.05), (6, 0.1)])
def test_the_split_is_that_of_two_negative_binomial_counts(count: int, mean: float) -> None:
    """Outside check: scipy.stats.nbinom, titles of shape 1, chatter of shape CHATTER_SHAPE."""
    expected = 40 * (1 + count) / (6 + 40) * mean
    due = expected / (1 + expected)
    weight = [
        nbinom.pmf(count - k, 1, 1 - due) * nbinom.pmf(k, CHATTER_SHAPE, 1 - CHATTER_RATE)
        for k in range(count + 1)
    ]
    wanted = sum(w * (count - k) for k, w in enumerate(weight)) / sum(weight) / count
    lines = [["felt"]] * count + [[]] * (40 - count)
    rounds, note_words.ROUNDS = note_words.ROUNDS, 1
    try:
        found = title_shares(lines, {"felt": Heard(mean, 1.0)})
    finally:
        note_words.ROUNDS = rounds
    assert found["felt"] == pytest.approx(wanted)
