"""Tag codes: published check characters, what is caught, how people type them."""

# ruff: noqa: S311  (seeded draws for tests)

from __future__ import annotations

import random
from itertools import combinations

import pytest

from stallkeep.domain import tag_codes
from stallkeep.domain.errors import TagCodeError
from stallkeep.domain.tag_codes import (
    ALPHABET,
    LENGTH,
    check_symbol,
    codes_in,
    is_valid,
    new_code,
    normalise,
    read_code,
)

A_CODE = "4KXVT4"
ANOTHER = "63G0YN"


@pytest.mark.parametrize(
    ("body", "alphabet", "symbol"),
    [
        # ISO 7064 MOD 37-2: doctests of python-stdnum; example of the package cdigit 4.0.3.
        ("G123489654321", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*", "Y"),
        ("12CD", "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*", "6"),
        # ISO 7064 MOD 11-2: doctests of python-stdnum and of stdnum-clj.
        ("0794", "0123456789X", "0"),
        ("079", "0123456789X", "X"),
        ("000000021825009", "0123456789X", "7"),
    ],
)
def test_the_check_symbol_is_that_of_iso_7064(body: str, alphabet: str, symbol: str) -> None:
    assert check_symbol(body, alphabet) == symbol


def test_the_alphabet_has_a_prime_number_of_symbols_and_no_look_alikes() -> None:
    assert len(ALPHABET) == len(set(ALPHABET)) == 29
    assert not set("OILZSBU") & set(ALPHABET)
    # 2 is a primitive root of 29, so all 28 weights differ and any swap is seen.
    assert len({pow(2, n, 29) for n in range(28)}) == 28


def test_every_single_wrong_symbol_is_found() -> None:
    rng = random.Random(7)
    for code in (new_code(rng) for _ in range(100)):
        for place in range(LENGTH):
            for symbol in ALPHABET.replace(code[place], ""):
                assert not is_valid(code[:place] + symbol + code[place + 1 :])


def test_every_swap_of_two_different_symbols_is_found() -> None:
    rng = random.Random(8)
    for code in (new_code(rng) for _ in range(300)):
        for one, other in combinations(range(LENGTH), 2):
            if code[one] != code[other]:
                swapped = list(code)
                swapped[one], swapped[other] = code[other], code[one]
                assert not is_valid("".join(swapped))


def test_a_random_text_passes_about_once_in_29() -> None:
    rng = random.Random(9)
    texts = ["".join(rng.choice(ALPHABET) for _ in range(LENGTH)) for _ in range(20_000)]
    mixed = [text for text in texts if tag_codes._is_mixed(text)]
    assert sum(map(is_valid, mixed)) / len(mixed) == pytest.approx(1 / 29, abs=0.006)


def test_new_codes_are_valid_mixed_and_nearly_never_equal() -> None:
    rng = random.Random(10)
    codes = [new_code(rng) for _ in range(2_000)]
    assert all(map(is_valid, codes))
    assert len(set(codes)) >= 1_998
    assert all(any(s.isdigit() for s in code) and not code.isdigit() for code in codes)


@pytest.mark.parametrize(
    "typed", ["4KXVT4", "4kx-vt4", " 4kx vt4 ", "4KX.VT4", "4-K-X-V-T-4", "4kxut4", "4KX\u2013VT4"]
)
def test_case_blanks_hyphens_and_look_alikes_do_not_matter(typed: str) -> None:
    assert read_code(typed) == A_CODE
    assert is_valid(typed)


def test_look_alikes_are_read_as_the_symbol_in_use() -> None:
    assert normalise("oOiIlLzZsSbBuU") == "0011112255" + "88VV"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("4KXVT", "6 letters and digits"),
        ("", "6 letters and digits"),
        ("4KXVT5", "misread"),
        ("KXVT44", "misread"),
        ("4KX?T4", "misread"),
        ("123456", "misread"),
    ],
)
def test_what_is_wrong_with_a_code_is_said(typed: str, said: str) -> None:
    assert not is_valid(typed)
    with pytest.raises(TagCodeError, match=said):
        read_code(typed)


def test_codes_are_printed_in_two_groups() -> None:
    assert tag_codes.to_text(A_CODE) == "4KX-VT4"


@pytest.mark.parametrize(
    ("note", "found"),
    [
        ("4KXVT4", (A_CODE,)),
        ("blue coat 4kx-vt4, cash", (A_CODE,)),
        ("(4KX VT4/63G-0YN)", (A_CODE, ANOTHER)),
        ("63goyn and 63G0YN", (ANOTHER,)),
        ("red 4KX VT4", (A_CODE,)),
        ("2 for 40EUR", ()),
        ("SOLDES WOOL JACKET", ()),
        ("phone 555123 ref 4KXVT44", ()),
        ("x4KXVT4", ()),
        ("4KX\nVT4", ()),
        ("", ()),
    ],
)
def test_codes_are_found_inside_a_note(note: str, found: tuple[str, ...]) -> None:
    assert codes_in(note) == found
