"""What every importer of tables does: find the columns, then give one outcome per record."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from typing import BinaryIO, ClassVar

from stallkeep_importers.contract import (
    CONTRACT_VERSION,
    ImportStop,
    Layout,
    Notice,
    Options,
    Outcome,
    QuestionError,
    Recognition,
)
from stallkeep_importers.rows.answers import refuse_impossible
from stallkeep_importers.rows.column_questions import ask_columns
from stallkeep_importers.rows.columns import ENOUGH, map_columns
from stallkeep_importers.rows.profiles import Profile
from stallkeep_importers.rows.readings import Convert, Reading
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.unclear_columns import refuse_unclear
from stallkeep_importers.tables.records import kept_together
from stallkeep_importers.tables.table import Table, open_table, sample_table
from stallkeep_importers.words import names_payments

_UNSURE = 0.4


class TableImporter(ABC):
    """Base of the importers that read tables."""

    contract: int = CONTRACT_VERSION
    name: str
    title: str
    gives: frozenset[str]
    profile: ClassVar[Profile]

    @abstractmethod
    def rows(self, sheet: Sheet) -> Convert:
        """Give what converts the rows of one file: one outcome per row of a block.

        It notes rows that cannot be taken as faults of the block; what it gives for them is
        replaced by a reject.
        """

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        table = sample_table(sample, options)
        if table is None:
            return Recognition(sureness=0, why="This is no table of text.")
        return _recognition(table, self.profile, options)

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        refuse_impossible(options, self.profile.fields)
        table = open_table(stream, options)
        try:
            yield from self._read(table, options)
        except QuestionError as question:
            # Lets the asker look up what was answered about this layout before.
            question.facts.setdefault("fingerprint", table.fingerprint)
            raise

    def _read(self, table: Table, options: Options) -> Iterator[Layout | Notice | Outcome]:
        sheet = Sheet(table, self.profile, options)
        _check_needs(sheet, self.profile)
        refuse_unclear(sheet, self.profile)
        convert = self.rows(sheet)
        yield sheet.layout()
        with table.batches() as batches:
            together = sheet.places.get(self.profile.together or "")
            whole = batches if together is None else kept_together(batches, together)
            for found in Reading(sheet, convert).outcomes(whole):
                yield from found


def _check_needs(sheet: Sheet, profile: Profile) -> None:
    sure = {column.field for column in sheet.columns if column.sureness >= ENOUGH}
    missing = [" or ".join(group) for group in _unmet(profile, sure)]
    if missing:
        question = ask_columns(sheet.table.headings, missing, sheet.table.sample)
        if "fee" in sheet.places and any("net+fee" in group for group in missing):
            question.advice += (
                " If its rows are fees and nothing else, say "
                f"amount={sheet.header_of('fee')}: they are then taken as fees."
            )
        raise question


def _unmet(profile: Profile, found: set[str | None]) -> list[tuple[str, ...]]:
    return [
        group for group in profile.needs if not any(found >= set(way.split("+")) for way in group)
    ]


def _recognition(table: Table, profile: Profile, options: Options) -> Recognition:
    try:
        mapped = map_columns(
            table.headings, table.sample, profile, options, beside=profile.speaks_for
        )
    except ImportStop as stop:
        return Recognition(sureness=0.1, why=stop.detail[:200])
    found = {column.field: column.header for column in mapped if column.sureness >= ENOUGH}
    if _unmet(profile, set(found)):
        return Recognition(sureness=0, why="The columns it needs are not there.")
    if names_payments(found.get("external_id") or ""):
        found["payment_id"] = found["external_id"]
    if "amount" in found and (spent := found.get("cost") or found.get("debit")):
        found["in_and_out"] = spent
    score = 0.5 + sum(weight for field, weight in profile.speaks_for.items() if field in found)
    name = options.file_name.lower()
    score += 0.1 * any(word in name for word in profile.file_words)
    known = list(dict.fromkeys(header for field, header in found.items() if field))
    doubts = [text for field, text in profile.beware.items() if field in found and score < _UNSURE]
    return Recognition(
        sureness=round(min(0.99, max(0.0, score)), 3),
        why=next(iter(doubts), f"Columns it knows: {', '.join(known[:8])}."),
    )
