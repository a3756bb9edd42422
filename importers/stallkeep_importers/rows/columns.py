"""Which column is what: by the words of its heading, checked against what its cells hold."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import msgspec

from stallkeep_importers.cells.cell_tests import (
    has_decimals,
    is_code,
    is_date,
    is_moment,
    is_plain_side,
    share,
)
from stallkeep_importers.contract import MappedColumn, Options
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.fields import DATE_FIELDS, FURTHER, MONEY_FIELDS, SIDED, test_of
from stallkeep_importers.rows.heading_senses import parts_named, senses_of, tongues_of
from stallkeep_importers.rows.profiles import Profile
from stallkeep_importers.tables.headings import Heading
from stallkeep_importers.words import heading_words

OWN = 0.9
_BY_WORD = 0.8
ENOUGH = 0.75
PERHAPS = "not used; perhaps the "
_SAID = "you said so"
_A_WORD = "a word of its heading"
_MOMENTS = "header word, and whole moments in the cells"
_ALIKE = 0.8
_AMOUNTS = SIDED | {"debit", "credit"}
_STAND_INS = {"amount": _AMOUNTS, "date": DATE_FIELDS}


class Candidate(msgspec.Struct, frozen=True):
    """One column that may be one field."""

    field: str
    index: int
    sureness: float
    rank: int
    why: str


def map_columns(
    headings: Sequence[Heading],
    rows: Sequence[Sequence[str]],
    profile: Profile,
    options: Options,
    *,
    beside: Iterable[str] = (),
) -> tuple[MappedColumn, ...]:
    """Say of every column what it was taken for.

    Args:
        headings: Of all columns, in file order.
        rows: Some full rows below the header.
        profile: Fields the importer uses; of two that want one column the earlier wins.
        options: ``columns`` settles what a person has confirmed.
        beside: Further fields to look for.

    Raises:
        QuestionError: A confirmed column is not there, or two columns claim one field of money.
    """
    fields = tuple(dict.fromkeys([*profile.fields, *beside]))
    confirmed = _confirmed(headings, options.columns)
    taken: dict[int, Candidate] = {
        index: Candidate(field, index, 1.0, 0, _SAID) for field, index in confirmed.items()
    }
    candidates = [
        candidate
        for candidate in _whole_moments(_candidates(headings, fields, options, profile.also), rows)
        if _fits(candidate.field, [row[candidate.index] for row in rows])
    ]
    for field in fields:
        if field in options.columns:
            continue
        open_to_it = [
            candidate
            for candidate in candidates
            if candidate.field == field and candidate.index not in taken
        ]
        best = max(open_to_it, key=lambda found: (found.sureness, -found.rank), default=None)
        if best and best.sureness >= ENOUGH:
            if FURTHER.get(field, ("",))[0] not in fields:  # else they may add up
                rivals = [each for each in open_to_it if not _is_other(each, candidates)]
                _refuse_twins(best, rivals, rows, headings)
            taken[best.index] = best
    if "fee" in fields and "fee" not in options.columns:
        taken.update(_fee_by_word(headings, rows, taken))
    guesses = list(
        _guesses(headings, rows, [each for each in fields if each in profile.guessed], taken)
    )
    taken.update({found.index: found for found in guesses if found.sureness >= ENOUGH})
    weak = {found.index: found for found in (*candidates, *guesses) if found.sureness < ENOUGH}
    return tuple(
        _mapped(index, found, taken.get(index), weak.get(index))
        for index, found in enumerate(headings)
    )


def _confirmed(headings: Sequence[Heading], said: Mapping[str, str]) -> dict[str, int]:
    places: dict[str, int] = {}
    for field, header in said.items():
        if not header:
            continue
        index = _place_of(header, headings)
        if index is None:
            error = ask_columns(headings, [field], [])
            error.code = "column-missing"
            error.detail = f"There is no column “{header}” for the {field} any more. {error.detail}"
            raise error
        places[field] = index
    return places


def _place_of(header: str, headings: Sequence[Heading]) -> int | None:
    if header.startswith("#") and header[1:].isdecimal() and header[1:].isascii():
        place = int(header[1:]) - 1
        return place if 0 <= place < len(headings) else None
    return next(
        (index for index, found in enumerate(headings) if found.text == header.strip()), None
    )


def _candidates(
    headings: Sequence[Heading],
    fields: Sequence[str],
    options: Options,
    also: Mapping[str, str],
) -> list[Candidate]:
    wanted = frozenset(fields)
    tongues = tongues_of(headings, options)
    own = [
        Candidate(also[found.plain], index, OWN, 0, "header word")
        for index, found in enumerate(headings)
        if found.plain in also
    ]
    return own + [
        Candidate(sense.field, index, sureness, sense.rank, "header word")
        for index, found in enumerate(headings)
        for sense, sureness in senses_of(found.plain, tongues)
        if sense.field in wanted
    ]


def _whole_moments(
    candidates: Sequence[Candidate], rows: Sequence[Sequence[str]]
) -> list[Candidate]:
    """Take a column headed "time" that holds whole moments for the date, before one of days."""
    return [
        msgspec.structs.replace(found, field="date", sureness=found.sureness + 0.01, why=_MOMENTS)
        if found.field == "time" and share(is_moment, [row[found.index] for row in rows]) >= _ALIKE
        else found
        for found in candidates
    ]


def _fits(field: str, cells: Sequence[str]) -> bool:
    """Say whether at least half of the filled cells can be what the field holds."""
    test = test_of(field)
    filled = [cell for cell in cells if cell.strip()][:100]
    return not test or not filled or sum(map(test, filled)) * 2 >= len(filled)


def _is_other(found: Candidate, candidates: Sequence[Candidate]) -> bool:
    """Say whether a column is another field alone, as "Kosten" is a fee beside an amount."""
    others = {each.field for each in candidates if each.index == found.index} - {found.field}
    return any(
        {each.index for each in candidates if each.field == field} == {found.index}
        for field in others
    )


def _refuse_twins(
    best: Candidate,
    others: Sequence[Candidate],
    rows: Sequence[Sequence[str]],
    headings: Sequence[Heading],
) -> None:
    """Ask when two columns of money claim one field equally and differ."""
    if best.field not in MONEY_FIELDS:
        return
    for other in others:
        equal = other.sureness == best.sureness and other.index != best.index
        if equal and any(row[other.index] != row[best.index] for row in rows):
            raise ask_columns(headings, [best.field], rows)


def was_guessed_fee(columns: Sequence[MappedColumn]) -> bool:
    """Say whether the fee was told by one word of its heading alone."""
    return any(column.field == "fee" and column.why == _A_WORD for column in columns)


def _fee_by_word(
    headings: Sequence[Heading], rows: Sequence[Sequence[str]], taken: Mapping[int, Candidate]
) -> dict[int, Candidate]:
    """Take the first column of amounts that speaks of a fee in some word, if none is the fee."""
    if any(candidate.field == "fee" for candidate in taken.values()):
        return {}
    for index, found in enumerate(headings):
        cells = [row[index] for row in rows]
        is_fee = index not in taken and parts_named(found.plain) == {"fee"}
        if is_fee and share(has_decimals, cells) >= _ALIKE:
            return {index: Candidate("fee", index, _BY_WORD, 0, _A_WORD)}
    return {}


def _guesses(
    headings: Sequence[Heading],
    rows: Sequence[Sequence[str]],
    fields: Sequence[str],
    taken: Mapping[int, Candidate],
) -> Iterator[Candidate]:
    """Guess what the headings do not say, where the cells leave one choice only.

    One column of dates is the date, if no heading names one; one column of codes the tag code;
    one column of amounts may be the amount, which is too little to take it for that.
    """
    named = {candidate.field for candidate in taken.values()}
    words = heading_words()
    free = [
        index
        for index, found in enumerate(headings)
        if index not in taken and found.plain not in words and any(row[index] for row in rows)
    ]
    for field, test, sureness, why in _LOOKS:
        if field not in fields or (named & _STAND_INS.get(field, frozenset({field}))):
            continue
        alike = [index for index in free if share(test, [row[index] for row in rows]) >= _ALIKE]
        if len(alike) == 1:
            free.remove(alike[0])
            yield Candidate(field, alike[0], sureness, 0, why)


def _mapped(
    index: int, found: Heading, candidate: Candidate | None, weak: Candidate | None
) -> MappedColumn:
    if candidate is None:
        why = f"{PERHAPS}{weak.field}" if weak else "not used"
        sureness = round(weak.sureness, 2) if weak else 0
        return MappedColumn(index=index, header=found.text, field=None, sureness=sureness, why=why)
    return MappedColumn(
        index=index,
        header=found.text,
        field=candidate.field,
        sureness=round(candidate.sureness, 2),
        why=candidate.why,
    )


_LOOKS: tuple[tuple[str, Callable[[str], bool], float, str], ...] = (
    ("date", is_date, 0.8, "cells look like dates"),
    ("side", is_plain_side, 0.8, "cells say which way the money went"),
    ("tag_code", is_code, 0.8, "cells look like tag codes"),
    ("amount", has_decimals, 0.6, "cells look like amounts"),
)
