"""Whatever is thrown at the reader of tag codes, it answers."""

# ruff: noqa: S311  (seeded draws for tests)

from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

from stallkeep.domain.tag_codes import codes_in, is_valid, new_code, normalise, to_text

codes = st.integers(0, 2**64).map(lambda seed: new_code(random.Random(seed)))
separators = st.text(" .,;:!?()/#\n-", max_size=4)


@given(st.text(max_size=200))
def test_codes_found_in_any_text_are_valid_and_distinct(text: str) -> None:
    found = codes_in(text)
    assert all(is_valid(code) and normalise(code) == code for code in found)
    assert len(set(found)) == len(found)


@given(codes, separators, separators, st.booleans())
def test_a_code_between_punctuation_is_always_found(
    code: str, before: str, after: str, in_groups: bool
) -> None:
    typed = to_text(code) if in_groups else code.lower()
    assert codes_in(f"{before}{typed}{after}") == (code,)
