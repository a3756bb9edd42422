"""The question which column is what, in plain words and with the file's own headings."""

from __future__ import annotations

from collections.abc import Sequence

from stallkeep_importers.cells.cell_tests import share
from stallkeep_importers.contract import QuestionError
from stallkeep_importers.rows.fields import MONEY_FIELDS, test_of
from stallkeep_importers.tables.headings import Heading
from stallkeep_importers.words import heading_words

_PLAIN = {
    "payout_date": "payout's date or number",
    "title": "title or number of the piece",
    "tag_code": "tag code",
    "external_id": "number of the row",
}


def ask_columns(
    headings: Sequence[Heading], missing: Sequence[str], rows: Sequence[Sequence[str]]
) -> QuestionError:
    """Ask which columns hold what is missing, listing what was found."""
    found = [
        {"number": index + 1, "header": found.text, "examples": _examples(rows, index)}
        for index, found in enumerate(headings)
    ]
    names = ", ".join(f"“{heading.text}”" for heading in headings) or "none"
    return QuestionError(
        "columns-unknown",
        f"We cannot tell which column is the {' or the '.join(map(_spoken, missing))}. "
        f"Columns found: {names}.",
        _how_to_name(headings, missing, rows),
        parameter="columns",
        facts={"columns": found, "missing": list(missing)},
    )


def _spoken(missing: str) -> str:
    """Say in plain words what a group of fields such as "amount or net+fee" is about."""
    field = _first_of(missing)
    if field in MONEY_FIELDS and " or " in missing:
        return "amount"
    return _PLAIN.get(field, missing)


def _first_of(missing: str) -> str:
    return missing.split(" or ", maxsplit=1)[0].split("+", maxsplit=1)[0]


def _how_to_name(
    headings: Sequence[Heading], missing: Sequence[str], rows: Sequence[Sequence[str]]
) -> str:
    """Show how to name a column, with one of the file's own that may be it."""
    field = _first_of(missing[0])
    test, words = test_of(field) or bool, heading_words()
    named = (
        index
        for index, found in enumerate(headings)
        if any(sense.field == field for sense in words.get(found.plain, ()))
    )
    fitting = [
        index for index in range(len(headings)) if share(test, [row[index] for row in rows]) == 1
    ]
    unknown = (index for index in fitting if headings[index].plain not in words)
    index = next(named, next(unknown, next(iter(fitting), 0)))
    header = headings[index].text if headings else ""
    return (
        f"Say which column is which by its heading or its number, such as {field}={header} or "
        f"{field}=#{index + 1}."
    )


def _examples(rows: Sequence[Sequence[str]], index: int) -> list[str]:
    return [row[index][:40] for row in rows[:3] if index < len(row) and row[index].strip()]
