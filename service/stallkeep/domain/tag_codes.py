"""Tag codes: short codes of symbols that cannot be mistaken for each other, with a check symbol.

A code is five symbols and a check symbol, printed in two groups: ``M4R-7HE``. The 29 symbols are
the digits and 19 letters. The seven letters easiest to confuse with a digit or another letter are
left out and read as their look-alike (O as 0, I and L as 1, Z as 2, S as 5, B as 8, U as V). Every
code has at least one letter and one digit, so that neither a price nor a word is taken for one.

The check symbol is that of a pure system of ISO 7064 with modulus 29 and radix 2. 29 is a prime
and 2 a primitive root of it, so the symbol finds every single wrong symbol and every swap of two
symbols, next to each other or not.
"""

from __future__ import annotations

import random
import re

from stallkeep.domain.errors import TagCodeError

ALPHABET = "0123456789ACDEFGHJKMNPQRTVWXY"
LENGTH = 6
LOOK_ALIKES = str.maketrans("OILZSBU", "011258V")

_IN_TEXT = re.compile(r"(?<![^\W_])([0-9A-Z]{3})[ \u00a0._\-\u2010-\u2014]?([0-9A-Z]{3})(?![^\W_])")
_SEPARATORS = re.compile(r"[\s._\-\u2010-\u2014]+")


def check_symbol(body: str, alphabet: str = ALPHABET, radix: int = 2) -> str:
    """Compute the check symbol of *body* in a pure system of ISO 7064.

    The modulus is the number of symbols in *alphabet*; a symbol's value is its place there.

    Raises:
        ValueError: A symbol of *body* is not in *alphabet*.

    Source:
        ISO/IEC 7064, pure systems with one check character (MOD 11-2, MOD 37-2).
    """
    modulus = len(alphabet)
    total = 0
    for symbol in body:
        total = (total + alphabet.index(symbol)) * radix % modulus
    return alphabet[(1 - total) % modulus]


def new_code(rng: random.Random) -> str:
    """Draw a code in canonical form, with at least one letter and one digit.

    About 20 million codes are possible; whether one is taken is for the caller to know.
    """
    while True:
        body = "".join(rng.choice(ALPHABET) for _ in range(LENGTH - 1))
        code = body + check_symbol(body)
        if _is_mixed(code):
            return code


def normalise(text: str) -> str:
    """Bring a typed code to canonical form, without checking it.

    Capital letters, no blanks, hyphens, dots or underlines, look-alikes replaced.
    """
    return _SEPARATORS.sub("", text).upper().translate(LOOK_ALIKES)


def is_valid(text: str) -> bool:
    """Tell whether *text*, however typed, is a code with the right check symbol."""
    code = normalise(text)
    return (
        len(code) == LENGTH
        and all(symbol in ALPHABET for symbol in code)
        and _is_mixed(code)
        and check_symbol(code[:-1]) == code[-1]
    )


def read_code(text: str) -> str:
    """Read one typed code.

    Returns:
        The code in canonical form.

    Raises:
        TagCodeError: It is no code; the sentence says whether its length, a symbol or the check
            symbol is wrong.
    """
    code = normalise(text)
    if len(code) != LENGTH:
        raise TagCodeError(
            f"{text[:40]!r} is not a tag code: it should have {LENGTH} letters and digits",
            value=text[:40],
        )
    if not is_valid(code):
        raise TagCodeError(
            f"{text[:40]!r} is not a tag code: a symbol is misread or two have changed places",
            value=text[:40],
        )
    return code


def to_text(code: str) -> str:
    """Write a canonical code for people: ``M4R7HE`` as ``M4R-7HE``."""
    return f"{code[:3]}-{code[3:]}"


def codes_in(text: str) -> tuple[str, ...]:
    """Find the valid codes inside free text, in order, each once, in canonical form.

    A code stands between blanks or punctuation, whole or as two groups of three with a blank or
    hyphen between them. As typed it must hold a letter and a digit, so that words made of
    look-alikes are not taken for codes. One other text in 29 passes the check symbol: compare
    with the shop's own codes before believing.
    """
    found: dict[str, None] = {}
    upper = text.upper()
    place = 0
    while match := _IN_TEXT.search(upper, place):
        typed = match[1] + match[2]
        if _is_mixed(typed) and is_valid(typed):
            found[normalise(typed)] = None
            place = match.end()
        else:
            place = match.start() + 1
    return tuple(found)


def _is_mixed(symbols: str) -> bool:
    return any(s.isdigit() for s in symbols) and any(s.isalpha() for s in symbols)
