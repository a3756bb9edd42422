"""What every importer of tables does: find the columns, then give one outcome per record."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from typing import BinaryIO, ClassVar

import msgspec

from stallkeep_importers.blocks import Block
from stallkeep_importers.columns import ENOUGH, ask_columns, map_columns
from stallkeep_importers.contract import (
    CONTRACT_VERSION,
    ImportStop,
    Layout,
    Notice,
    Options,
    Outcome,
    Recognition,
    Reject,
    Skip,
)
from stallkeep_importers.personal import blanked
from stallkeep_importers.records import RecordBatch
from stallkeep_importers.sheets import Sheet
from stallkeep_importers.tables import Table, fitted_row, open_table, sample_table


class Profile(msgspec.Struct, frozen=True):
    """What an importer's files look like.

    Attributes:
        fields: Canonical fields it uses; of two that want one column the earlier wins.
        needs: Of each group at least one field must be found.
        speaks_for: Field to how much its presence speaks for the importer, against if negative;
            fields the importer does not use are looked for too.
        file_words: Words of a file's name that speak for it.
    """

    fields: tuple[str, ...]
    needs: tuple[tuple[str, ...], ...]
    speaks_for: Mapping[str, float]
    file_words: tuple[str, ...] = ()


class TableImporter(ABC):
    """Base of the importers that read tables."""

    contract: int = CONTRACT_VERSION
    name: str
    title: str
    gives: frozenset[str]
    profile: ClassVar[Profile]

    @abstractmethod
    def outcomes(self, block: Block) -> list[Outcome]:
        """Give one outcome per row of a block; rows noted as faulty are replaced afterwards."""

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        table = sample_table(sample, options)
        if table is None:
            return Recognition(sureness=0, why="This is no table of text.")
        return _recognition(table, self.profile, options)

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        table = open_table(stream, options)
        sheet = Sheet(table, self.profile.fields, options)
        _check_needs(sheet, self.profile)
        yield sheet.layout()
        with table.batches() as batches:
            for batch in batches:
                yield from self._batch(sheet, batch)

    def _batch(self, sheet: Sheet, batch: RecordBatch) -> list[Outcome]:
        table = sheet.table
        found: list[Outcome | None] = [None] * len(batch.rows)
        taken: list[tuple[int, list[str]]] = []
        for place, row in enumerate(batch.rows):
            record, line = batch.first_record + place, batch.lines[place]
            fitted = fitted_row(row, table.width)
            if record <= table.header_record:
                found[place] = _above(record, line, row, table)
            elif not any(cell.strip() for cell in row):
                found[place] = Skip(
                    record=record, line=line, code="blank", reason="The line is empty."
                )
            elif fitted is None or place in batch.odd:
                found[place] = _ragged(record, line, row, sheet)
            else:
                taken.append((place, fitted))
        if taken:
            self._convert(sheet, batch, taken, found)
        return [outcome for outcome in found if outcome is not None]

    def _convert(
        self,
        sheet: Sheet,
        batch: RecordBatch,
        taken: Sequence[tuple[int, list[str]]],
        found: list[Outcome | None],
    ) -> None:
        block = Block(
            sheet,
            [row for _, row in taken],
            [batch.first_record + place for place, _ in taken],
            [batch.lines[place] for place, _ in taken],
        )
        outcomes = self.outcomes(block)
        for number in block.faults:
            outcomes[number] = block.reject(number)
        for (place, _), outcome in zip(taken, outcomes, strict=True):
            found[place] = outcome


def _above(record: int, line: int, row: Sequence[str], table: Table) -> Skip:
    is_header = record == table.header_record
    return Skip(
        record=record,
        line=line,
        code="header" if is_header else "above-header",
        reason="This is the header." if is_header else "The line stands above the table.",
        cells=tuple(row),
    )


def _ragged(record: int, line: int, row: Sequence[str], sheet: Sheet) -> Reject:
    return Reject(
        record=record,
        line=line,
        code="ragged-record",
        reason=f"The row has {len(row)} cells, the header has {sheet.table.width}.",
        advice="Put the cells in their columns and send the row again.",
        cells=blanked(row, sheet.personal, in_place=False),
    )


def _check_needs(sheet: Sheet, profile: Profile) -> None:
    sure = {column.field for column in sheet.columns if column.sureness >= ENOUGH}
    missing = [" or ".join(group) for group in profile.needs if not sure.intersection(group)]
    if missing:
        raise ask_columns(sheet.table.headings, missing, sheet.table.sample)


def _recognition(table: Table, profile: Profile, options: Options) -> Recognition:
    fields = tuple(dict.fromkeys([*profile.fields, *profile.speaks_for]))
    try:
        mapped = map_columns(table.headings, table.sample, fields, options)
    except ImportStop as stop:
        return Recognition(sureness=0.1, why=stop.detail[:200])
    found = {column.field: column.header for column in mapped if column.sureness >= ENOUGH}
    if not all(found.keys() & set(group) for group in profile.needs):
        return Recognition(sureness=0, why="The columns it needs are not there.")
    score = 0.5 + sum(weight for field, weight in profile.speaks_for.items() if field in found)
    name = options.file_name.lower()
    score += 0.1 * any(word in name for word in profile.file_words)
    known = [header for field, header in found.items() if field]
    return Recognition(
        sureness=round(min(0.99, max(0.0, score)), 3),
        why=f"Columns it knows: {', '.join(known[:8])}.",
    )
