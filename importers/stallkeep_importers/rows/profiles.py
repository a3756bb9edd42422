"""What the files of an importer of tables look like."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

MAYBE_BANK = (
    "Columns of money in and out, or of a balance, are a bank's as often: ask your bank for OFX or "
    "camt.053 if they are; if it is a cash book, name cash-tally"
)


def names(text: str) -> tuple[str, ...]:
    """Give the names in a text, parted by blanks."""
    return tuple(text.split())


class Profile(msgspec.Struct, frozen=True):
    """What an importer's files look like.

    Attributes:
        fields: Canonical fields it uses; of two that want one column the earlier wins.
        needs: Of each group at least one field must be found; "net+fee" stands for both.
        speaks_for: Field to how much its presence speaks for the importer, against if negative;
            fields the importer does not use are looked for too; "payment_id" is an id whose
            heading speaks of payments, "in_and_out" an amount beside what was spent.
        file_words: Words of a file's name that speak for it.
        day_fields: Fields that may say when a row happened, the best first.
        guessed: Fields that may be told by cells alone, where one column only can be it.
        together: Field whose equal cells, row below row, are read in one block.
        states: Table of the words its column of states holds.
        beware: Field to what is said where it leaves the importer unsure.
        also: Plain headings that mean a field in these files, whatever they mean elsewhere.
    """

    fields: tuple[str, ...]
    needs: tuple[tuple[str, ...], ...]
    speaks_for: Mapping[str, float]
    file_words: tuple[str, ...] = ()
    day_fields: tuple[str, ...] = ("date",)
    also: Mapping[str, str] = {}
    beware: Mapping[str, str] = {}
    together: str | None = None
    states: str = "states"
    guessed: frozenset[str] = frozenset({"date", "amount", "side"})
