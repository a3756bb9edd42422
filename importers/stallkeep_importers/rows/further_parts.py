"""Further columns of one part of an amount: a second fee, a tax of another rate.

A provider may keep a percentage, a fixed sum and the tax on both, each in a column of its own.
Which of them add up is found in the file's own sums; where it has none, it is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from stallkeep_importers.contract import MappedColumn, QuestionError
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.columns import PERHAPS
from stallkeep_importers.rows.fields import FURTHER
from stallkeep_importers.rows.heading_senses import parts_named

if TYPE_CHECKING:
    from stallkeep_importers.rows.blocks import Block
    from stallkeep_importers.rows.sheets import Sheet


def named_further(places: Mapping[str, int]) -> dict[str, tuple[str, ...]]:
    """Give the further columns a person has named, by the field they are added to."""
    return {
        field: found
        for field, names in FURTHER.items()
        if field in places and (found := tuple(name for name in names if name in places))
    }


def maybe_further(
    sheet: Sheet, fields: Collection[str], unused: Collection[int]
) -> dict[str, dict[str, int]]:
    """Find columns of amounts that speak of a part some other column was taken for.

    Where there is a net, any other column of amounts may be what is missing between the two; those
    come last.

    Args:
        sheet: Its columns, places and options are settled.
        fields: That the importer uses.
        unused: Places of columns that hold amounts and are not used.

    Returns:
        Field to names for its further columns, each with its place in the row.
    """
    found: dict[str, dict[str, int]] = {}
    for field, names in FURTHER.items():
        said = sheet.options.columns.keys()
        if names[0] not in fields or field not in sheet.places or {field, names[0]} & said:
            continue
        places = [
            column.index
            for column in sheet.columns
            if column.index in unused and field in _parts_of(sheet, column)
        ]
        if field == "fee" and "net" in sheet.places:
            places += sorted(set(unused).difference(places))
        if places:
            found[field] = dict(zip(names, places, strict=False))
    return found


def settle_further(
    sheet: Sheet, field: str, sample: Callable[[], Block], fits: Callable[[Block], bool]
) -> None:
    """Decide which further columns are added to a field.

    Args:
        sheet: Whose columns; changed in place.
        field: "fee" or "tax".
        sample: Gives the sample's rows anew.
        fits: Says whether the file's sums are right with the columns chosen so far.

    Raises:
        QuestionError: The file's sums do not show it.
    """
    names = sheet.maybe_further.pop(field, {})
    if not names:
        return
    for chosen in _subsets(tuple(names)):
        sheet.further[field] = chosen
        if fits(sample()):
            if strange := [name for name in chosen if not _speaks(sheet, field, names[name])]:
                raise _question_strange(sheet, field, strange)
            _keep(sheet, field, names, _with_empty(sheet, field, chosen, names, sample()))
            return
    sheet.further.pop(field)
    _settle_unexplained(sheet, field, names, sample())


def _settle_unexplained(sheet: Sheet, field: str, names: Mapping[str, int], block: Block) -> None:
    """Decide where no sums of the file show which columns are added."""
    told = {name: place for name, place in names.items() if _speaks(sheet, field, place)}
    whole = _whole(block, (field, *told))
    if whole is not None or not told:
        _keep(sheet, field, names, (), whole=whole)
    elif _by_rate(sheet, (field, *told)) or _all_nought(block, told):
        _keep(sheet, field, names, tuple(told))
    else:
        raise _question(sheet, field, told)


def _speaks(sheet: Sheet, field: str, place: int) -> bool:
    return field in _parts_of(sheet, sheet.columns[place])


def _parts_of(sheet: Sheet, column: MappedColumn) -> set[str]:
    found = parts_named(sheet.table.headings[column.index].plain)
    found |= {column.why.removeprefix(PERHAPS)} & FURTHER.keys()
    return {"fee"} if found == {"fee", "tax"} else found if len(found) == 1 else set()


def _with_empty(
    sheet: Sheet, field: str, chosen: Collection[str], names: Mapping[str, int], block: Block
) -> tuple[str, ...]:
    """Add columns that are nought all through: where they are not, the sums will tell."""
    return tuple(
        name
        for name, place in names.items()
        if name in chosen or (_speaks(sheet, field, place) and not any(block.money(name)))
    )


def _whole(block: Block, names: Sequence[str]) -> str | None:
    """Name the column that is the sum of all others in every row, or None."""
    values = {name: block.money(name) for name in names}
    filled = [name for name in names if any(values[name])]
    for name in filled if len(filled) > 2 else ():  # noqa: PLR2004 - two equal ones say nothing
        others = [values[other] for other in filled if other != name]
        added = [sum(filter(None, row)) for row in zip(*others, strict=True)]
        if [value or 0 for value in values[name]] == added:
            return name
    return None


def _all_nought(block: Block, names: Collection[str]) -> bool:
    """Say whether the further columns of the whole table hold nothing."""
    return block.sheet.table.is_whole and not any(any(block.money(name)) for name in names)


def _by_rate(sheet: Sheet, names: Sequence[str]) -> bool:
    """Say whether each column's heading names a rate of its own."""
    rates = [sheet.table.headings[sheet.places[name]].rate for name in names]
    return all(rates) and len(set(rates)) == len(rates)


def _keep(
    sheet: Sheet,
    field: str,
    names: Mapping[str, int],
    chosen: Collection[str],
    *,
    whole: str | None = None,
) -> None:
    """Make the choice the sheet's own."""
    sheet.further[field] = tuple(name for name in names if name in chosen)
    for name in names:
        if name in chosen:
            sheet.use(name, name, f"added to the {field}")
        elif name == whole:
            sheet.use(field, name, f"the other columns of a {field} add up to it")
        else:
            sheet.places.pop(name, None)


def _question(sheet: Sheet, field: str, names: Mapping[str, int]) -> QuestionError:
    own = sheet.header_of(field)
    others = [sheet.header_of(name) for name in names]
    question = ask_columns(sheet.table.headings, [field], sheet.table.sample)
    question.code = "column-unclear"
    question.detail = (
        f"The columns {_listed([own, *others])} each speak of a {field}, and the file's sums do "
        "not show whether they add up, or which one is the whole."
    )
    said = " and ".join(
        f"{name}={header}" for name, header in zip((field, *names), (own, *others), strict=True)
    )
    question.advice = (
        f"If they add up, say {said}. If one is the whole, say {field}= with its heading."
    )
    return question


def _question_strange(sheet: Sheet, field: str, names: Sequence[str]) -> QuestionError:
    """Ask what is taken off between amount and net under a heading that does not say."""
    headers = [sheet.header_of(name) for name in names]
    question = ask_columns(sheet.table.headings, [names[0]], sheet.table.sample)
    question.code = "column-unclear"
    question.detail = (
        f"Between the amounts and “{sheet.header_of('net')}” not only “{sheet.header_of(field)}” "
        f"is taken off, but also {_listed(headers)}, and the heading does not say what that is."
    )
    order = FURTHER[field]
    said = " and ".join(f"{order[n]}={header}" for n, header in enumerate(headers))
    question.advice = f"Say {said} if it is a {field} you pay, and {order[0]}= with nothing if not."
    return question


def _listed(headers: Sequence[str]) -> str:
    shown = [f"“{header}”" for header in headers]
    if len(shown) == 1:
        return shown[0]
    return f"{', '.join(shown[:-1])} and {shown[-1]}"


def _subsets(names: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    for size in range(len(names) + 1):
        yield from combinations(names, size)
