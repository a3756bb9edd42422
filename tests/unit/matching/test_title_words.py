from __future__ import annotations

from collections import defaultdict

import pytest
from tests.unit.matching.worlds_small import a_line, a_piece

from stallkeep.domain.matching import Evidence, reconcile
from stallkeep.domain.matching.notes import words
from stallkeep.domain.matching.title_words import most_bits, word_bits

NOUNS = ["coat", "jacket", "skirt", "bowl", "jug", "scarf", "hat", "lamp"]
COLOURS = ["navy", "green", "red", "white", "brown"]
STOCK = [f"{colour} wool {noun}" for colour in COLOURS for noun in NOUNS] + ["ochre poncho fringed"]


def bits(given: str, own: str) -> float:
    users: dict[str, list[str]] = defaultdict(list)
    for title in STOCK:
        for word in words(title):
            users[word].append(title)
    return word_bits(words(given), words(own), users, len(STOCK))


# What must outscore what, for one item and two titles of a sale.
@pytest.mark.parametrize(
    ("own", "better", "worse"),
    [
        ("navy wool coat", "navy wool coat", "navy wool jacket"),
        ("navy wool coat", "lovely navy wool coat, size M", "navy wool"),
        ("navy wool coat", "nayv wool coat", "green wool coat"),
        ("navy wool coat", "navywool coat", "wool coat"),
        ("navy wool coat", "navy wool co at", "navy wool jug"),
        ("ochre poncho fringed", "ochre poncho", "poncho"),
        ("ochre poncho fringed", "poncho", "navy wool coat"),
        ("ochre poncho fringed", "ochre ponch fringed", "ochre fringed hat"),
    ],
)
def test_the_nearer_title_weighs_more(own: str, better: str, worse: str) -> None:
    assert bits(better, own) > bits(worse, own)


def test_a_rare_word_weighs_more_than_a_common_one() -> None:
    assert bits("ochre", "ochre poncho fringed") > bits("wool", "navy wool coat")


def test_a_title_that_shares_nothing_weighs_against_the_item() -> None:
    assert bits("brass candlestick", "navy wool coat") < 0


def test_titles_alone_never_weigh_more_than_six_bits_above_their_rarity() -> None:
    assert most_bits(10.0, 2) == 10.0
    assert most_bits(10.0, 5) == 13.0
    assert most_bits(10.0, 40) == 16.0


@pytest.mark.parametrize(
    "given",
    ["ochre poncho fringed", "fringed ochre poncho", "ochre ponhco fringed", "ochreponcho fringed",
     "beautiful ochre fringed poncho, one size"],
)  # fmt: skip
def test_a_sale_finds_its_item_however_the_channel_writes_its_title(given: str) -> None:
    pieces = [a_piece(f"p{i}", 1500 + 100 * i, title=t) for i, t in enumerate(STOCK)]
    lines = [a_line("t", 1500 + 100 * (len(STOCK) - 1), kind="sale", title=given)]
    answer = reconcile(Evidence(scope="channel", pieces=tuple(pieces), lines=tuple(lines)))
    assert answer.answers[0].item_ids == (f"p{len(STOCK) - 1}",)


def test_common_words_all_the_same_find_the_item_by_two_of_them() -> None:
    titles = [f"{colour} wool {noun}" for colour in COLOURS for noun in NOUNS] * 20
    pieces = [a_piece(f"p{i}", 1000 + 100 * (i % 97), title=t) for i, t in enumerate(titles)]
    lines = [a_line("t", 1000 + 100 * 11, kind="sale", title="navy woolen coat")]
    answer = reconcile(Evidence(scope="channel", pieces=tuple(pieces), lines=tuple(lines)))
    offered = answer.answers[0].candidates
    assert offered
    assert all(titles[int(c.item_ids[0][1:])].startswith("navy") for c in offered)


def test_a_title_like_many_others_is_never_matched_by_words_alone() -> None:
    pieces = [a_piece(f"p{i}", 1500, title=t) for i, t in enumerate(STOCK)]
    lines = [a_line("t", 1500, kind="sale", title="wool")]
    answer = reconcile(Evidence(scope="channel", pieces=tuple(pieces), lines=tuple(lines)))
    assert answer.answers[0].state != "matched"
