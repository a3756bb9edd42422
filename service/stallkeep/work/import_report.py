"""The report of an import as text, for people who read no JSON."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import msgspec

from stallkeep.domain.errors import StallkeepError
from stallkeep.store.imports import Import, StoredReject
from stallkeep.work.choose_importer import known_importers
from stallkeep.work.import_path import NOTHING_SAID, Said

SHOWN_REJECTS: Final = 200
"""So many rejected rows stand in a report; all of them are in the import itself."""


def counts_line(record: Import) -> str:
    """Say the counts so that they can be added up."""
    changed = f" ({record.changed} of them changed since)" if record.changed else ""
    return (
        f"{record.rows_read} rows read = {record.taken} taken{changed} + {record.known} known "
        f"+ {record.rejected} rejected + {record.skipped} skipped"
    )


def import_report(record: Import, rejects: Sequence[StoredReject]) -> str:
    """Tell what was taken in, what was assumed, left out and rejected, and what to do."""
    parts = [f"{record.file_name}: read as {record.importer}", counts_line(record)]
    if record.skips:
        skips = ", ".join(f"{count} {code}" for code, count in sorted(record.skips.items()))
        parts.append(f"Skipped: {skips}")
    parts += [f"Note: {notice['text']}" for notice in record.notices]
    parts += [f"Note: {text}" for text in (record.layout or {}).get("notices", ())]
    headers = [column["header"] for column in (record.layout or {}).get("columns", ())]
    for reject in rejects:
        parts += ["", *_reject(reject, headers)]
    if record.rejected > len(rejects):
        parts += ["", f"… and {record.rejected - len(rejects)} more rejected rows"]
    if record.rejected and not record.taken and not record.known:
        parts += ["", f"{_ANOTHER_KIND} {_importers()}"]
    elif record.rejected:
        parts += ["", _CORRECT]
    return "\n".join(parts) + "\n"


def failure_report(path: Path, problem: StallkeepError, said: Said = NOTHING_SAID) -> str:
    """Tell why nothing of a file was taken, what to do, and how a question is answered.

    Args:
        path: Where the file lies now.
        problem: Why.
        said: What was said about it, to be said again with the answer.
    """
    parts = [f"{path.name}: nothing was taken", f"{problem.title}: {problem.detail}"]
    advice = problem.facts.get("advice")
    if advice:
        parts.append(f"What to do: {advice}")
    question = problem.facts.get("question")
    if isinstance(question, dict):
        choices = question.get("choices", ())
        parts += [f"  {choice['value']}: {choice['meaning']}" for choice in choices]
        parts += [*_columns(problem), ""]
        parts += _how_to_answer(path, str(question["parameter"]), said, _fields(problem))
    elif problem.code == "place-needed":
        parts += ["", *_how_to_answer(path, "place", said)]
    elif problem.facts.get("reason_code") == "unknown-file":
        parts += ["", *_how_to_answer(path, "importer", said), _importers()]
    return "\n".join(parts) + "\n"


def _importers() -> str:
    names = ", ".join(known.name for known in known_importers() if known.problem is None)
    return f"Importers are {names}."


_ANOTHER_KIND: Final = (
    "Not one row was taken. If the file is of another kind than it was read as, say which: "
    "stallkeep import FILE --importer NAME. Otherwise correct the rows and put it into the folder "
    "again."
)
_CORRECT: Final = (
    "Correct these rows in the file and put it into the folder again: the rows that were taken are "
    "known and are not taken twice."
)
_OPTION: Final = {
    "importer": "--importer NAME",
    "place": "--place 'CHANNEL OR EVENT'",
}
SHOWN_EXAMPLES: Final = 2
"""Cells of a column that a report shows, at most."""


def _columns(problem: StallkeepError) -> Iterator[str]:
    """List the columns that may be named in the answer, each with cells of it."""
    columns: Any = problem.facts.get("columns", ())
    described = [column for column in columns if isinstance(column, Mapping)]  # others name two
    if described:
        yield "Columns of the file:"
    for column in described:
        examples = ", ".join(column.get("examples", ())[:SHOWN_EXAMPLES])
        yield f"  {column.get('header')}" + (f": {examples}" if examples else "")


def _fields(problem: StallkeepError) -> Sequence[str]:
    missing: Any = problem.facts.get("missing", ())
    return [str(field) for field in missing] or ["FIELD"]


def _how_to_answer(path: Path, parameter: str, said: Said, fields: Sequence[str] = ()) -> list[str]:
    option = _OPTION.get(parameter, f"--answer {parameter}=VALUE")
    if parameter == "columns":
        option = " ".join(f"--column {field}='HEADING'" for field in fields)
    if parameter == "place":
        said = msgspec.structs.replace(said, place=None)
    command = shlex.join(["stallkeep", "import", str(path), *_options(said)])
    return [
        "To answer:",
        f"  {command} {option}",
        "The answer is remembered: files of this layout are not asked about again.",
    ]


def _options(said: Said) -> Iterator[str]:
    if said.importer:
        yield from ("--importer", said.importer)
    if said.place:
        yield from ("--place", said.place)
    for name, value in said.answers.items():
        if name != "columns":
            yield from ("--answer", f"{name}={value}")
    for field, heading in said.answers.get("columns", {}).items():
        yield from ("--column", f"{field}={heading}")


def _reject(reject: StoredReject, headers: Sequence[str]) -> list[str]:
    where = f"Line {reject.line}"
    if reject.column_name:
        where += f", column {reject.column_name}"
    if reject.value is not None:
        where += f", {reject.value!r}"
    lines = [f"{where}: {reject.reason}", f"  What to do: {reject.advice}"]
    cells = list(reject.cells)
    if len(headers) == len(cells):
        told = zip(headers, cells, strict=True)
        cells = [f"{name}: {cell}" for name, cell in told if cell]
    return [*lines, f"  The row: {' | '.join(cells)}"] if cells else lines
