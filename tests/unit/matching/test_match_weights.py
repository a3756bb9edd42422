from __future__ import annotations

import math

import pytest
from rapidfuzz.distance import OSA, JaroWinkler, Levenshtein

from stallkeep.domain.matching.match_weights import (
    agreement_bits,
    disagreement_bits,
    probability_of,
)


# Splink documentation, topic guide "The Fellegi-Sunter model": printed to one or two digits, so
# compared with the exact value where the print is rounded (8/9, 16/17, 128/129).
@pytest.mark.parametrize(
    ("bits", "exact", "printed"),
    [(0, 1 / 2, 0.5), (2, 4 / 5, 0.8), (3, 8 / 9, 0.9), (4, 16 / 17, 0.95), (7, 128 / 129, 0.99)],
)
def test_published_probabilities_of_weights(bits: float, exact: float, printed: float) -> None:
    assert probability_of(bits) == pytest.approx(exact)
    assert probability_of(bits) == pytest.approx(printed, abs=0.012)


def test_the_published_waterfall_sums_to_its_probability() -> None:
    # The same guide prints 9.48 and .999; its terms add to 9.47.
    bits = sum((-6.67, 4.74, 6.49, -1.97, -1.12, 8.00))
    assert bits == pytest.approx(9.47)
    assert probability_of(bits) == pytest.approx(0.9986, abs=5e-5)


def test_a_surname_shared_by_one_in_two_hundred_is_worth_seven_and_a_half_bits() -> None:
    # The same guide: u = .005 of a surname, m taken as 1.
    assert agreement_bits(1.0, 0.005) == pytest.approx(7.644, abs=5e-4)


# "Understanding the Master Index Match Engine", Table 17, sample m and u. Its -5.04 does not
# follow from its own m and u: log2(.03/.993) is -5.049, which is what is tested.
@pytest.mark.parametrize(
    ("m", "u", "agree", "disagree"),
    [
        (0.996, 0.004, 7.96, -7.96),
        (0.97, 0.007, 7.11, -5.05),
        (0.97, 0.03, 5.01, -5.01),
        (0.999, 0.001, 9.96, -9.96),
    ],
)
def test_published_weights_of_m_and_u(m: float, u: float, agree: float, disagree: float) -> None:
    assert agreement_bits(m, u) == pytest.approx(agree, abs=0.006)
    assert disagreement_bits(m, u) == pytest.approx(disagree, abs=0.006)


def test_published_totals_of_five_comparisons() -> None:
    # The same table, its first pair of m and u used twice; total 38, and -35.95 recomputed.
    table = [(0.996, 0.004)] * 2 + [(0.97, 0.007), (0.97, 0.03), (0.999, 0.001)]
    assert sum(agreement_bits(m, u) for m, u in table) == pytest.approx(38.0, abs=0.02)
    assert sum(disagreement_bits(m, u) for m, u in table) == pytest.approx(-35.95, abs=0.02)


def test_probabilities_stay_within_bounds_far_out() -> None:
    assert probability_of(5000.0) == 1.0
    assert probability_of(-5000.0) == pytest.approx(0.0)
    assert probability_of(-3.0) + probability_of(3.0) == pytest.approx(1.0)
    assert math.isfinite(probability_of(-math.inf))


# Test vectors of jellyfish (testdata/*.csv), with Jaro-Winkler's p = .1 and prefix 4; the last
# from the description of the package jaro-winkler 2.0.3. rapidfuzz weighs the prefix only from
# .7 on, as Winkler's code does.
@pytest.mark.parametrize(
    ("one", "other", "similarity"),
    [
        ("MARTHA", "MARHTA", 0.961),
        ("DIXON", "DICKSONX", 0.813),
        ("DWAYNE", "DUANE", 0.840),
        ("William", "Williams", 0.975),
        ("jaz", "jal", 0.822),
        ("a1bc", "a1be", 0.883),
        ("abc", "xyz", 0.0),
        ("SHACKLEFORD", "SHACKELFORD", 0.9818181),
    ],
)
def test_the_nearness_of_words_is_the_published_one(
    one: str, other: str, similarity: float
) -> None:
    assert JaroWinkler.similarity(one, other) == pytest.approx(similarity, abs=7e-4)


# jellyfish and the Splink guide "String comparators"; ca/abc is the textbook case in which the
# restricted distance differs from the unrestricted (2), from memory.
@pytest.mark.parametrize(
    ("one", "other", "edits", "with_swaps"),
    [
        ("kitten", "sitting", 3, 3),
        ("Saturday", "Sunday", 3, 3),
        ("CAKE", "ACKE", 2, 1),
        ("fuor", "four", 2, 1),
        ("abc", "", 3, 3),
        ("ca", "abc", 3, 3),
    ],
)
def test_the_slips_between_words_are_the_published_ones(
    one: str, other: str, edits: int, with_swaps: int
) -> None:
    assert Levenshtein.distance(one, other) == edits
    assert OSA.distance(one, other) == with_swaps
