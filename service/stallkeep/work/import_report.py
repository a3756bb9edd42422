"""The report of an import as text, for people who read no JSON."""

from __future__ import annotations

from collections.abc import Sequence

from stallkeep.domain.errors import StallkeepError
from stallkeep.store.imports import Import, StoredReject


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
    dropped = _dropped(record)
    if dropped:
        parts.append(f"Left out because it may be personal: {', '.join(dropped)}")
    parts += [f"Note: {notice['text']}" for notice in record.notices]
    parts += [f"Note: {text}" for text in (record.layout or {}).get("notices", ())]
    for reject in rejects:
        parts += ["", *_reject(reject)]
    if record.rejected > len(rejects):
        parts += ["", f"… and {record.rejected - len(rejects)} more rejected rows"]
    return "\n".join(parts) + "\n"


def failure_report(file_name: str, problem: StallkeepError) -> str:
    """Tell why nothing of a file was taken and what to do."""
    parts = [f"{file_name}: nothing was taken", f"{problem.title}: {problem.detail}"]
    advice = problem.facts.get("advice")
    if advice:
        parts.append(f"What to do: {advice}")
    question = problem.facts.get("question")
    if isinstance(question, dict):
        parts.append(f"Answer with the parameter {question['parameter']}:")
        parts += [
            f"  {choice['value']}: {choice['meaning']}" for choice in question.get("choices", ())
        ]
    return "\n".join(parts) + "\n"


def _dropped(record: Import) -> list[str]:
    columns = (record.layout or {}).get("columns", ())
    return [column["header"] for column in columns if column.get("personal")]


def _reject(reject: StoredReject) -> list[str]:
    where = f"Line {reject.line}"
    if reject.column_name:
        where += f", column {reject.column_name}"
    if reject.value is not None:
        where += f", {reject.value!r}"
    return [f"{where}: {reject.reason}", f"  What to do: {reject.advice}", f"  {reject.cells}"]
