"""Read one file made in a test, and look at what came of it."""

from __future__ import annotations

import io
from collections.abc import Sequence

import msgspec
import pytest

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import (
    Importer,
    ImportStop,
    Layout,
    Notice,
    Options,
    Outcome,
    QuestionError,
    RefusalError,
    Reject,
    Skip,
    Transaction,
)

BERLIN: dict[str, object] = {"time_zone": "Europe/Berlin", "languages": ("de", "en")}


class Read(msgspec.Struct):
    """A file as it was read."""

    layout: Layout
    outcomes: list[Outcome]
    notices: list[Notice]

    @property
    def taken(self) -> list[Outcome]:
        return [found for found in self.outcomes if not isinstance(found, (Reject, Skip))]

    @property
    def transactions(self) -> list[Transaction]:
        return [found for found in self.outcomes if isinstance(found, Transaction)]

    @property
    def amounts(self) -> list[int]:
        return [found.amount_minor for found in self.transactions]

    @property
    def rejects(self) -> list[Reject]:
        return [found for found in self.outcomes if isinstance(found, Reject)]

    @property
    def skips(self) -> list[Skip]:
        return [found for found in self.outcomes if isinstance(found, Skip)]

    @property
    def codes(self) -> list[str]:
        """Codes of rejects and skips, in file order."""
        return [found.code for found in self.outcomes if isinstance(found, (Reject, Skip))]


def read(data: bytes | str, importer: Importer | None = None, /, **options: object) -> Read:
    """Read a whole file; text is written as UTF-8."""
    found = list(
        (importer or CardReaderPayments()).read(
            io.BytesIO(data if isinstance(data, bytes) else data.encode()),
            msgspec.convert(options, Options),
        )
    )
    layout, rest = found[0], found[1:]
    assert isinstance(layout, Layout)
    notices = [each for each in rest if isinstance(each, Notice)]
    outcomes = [each for each in rest if not isinstance(each, (Notice, Layout))]
    records = [each.record for each in outcomes]
    assert records == list(range(1, len(records) + 1)), "one outcome per record, in file order"
    return Read(layout, outcomes, notices)


def asked(
    data: bytes | str, importer: Importer | None = None, /, **options: object
) -> QuestionError:
    """Read a file that must end in a question, and give the question."""
    with pytest.raises(QuestionError) as caught:
        read(data, importer, **options)
    return caught.value


def refused(
    data: bytes | str, importer: Importer | None = None, /, **options: object
) -> RefusalError:
    """Read a file that must be refused, and give the refusal."""
    with pytest.raises(RefusalError) as caught:
        read(data, importer, **options)
    return caught.value


def stopped(
    data: bytes | str, importer: Importer | None = None, /, **options: object
) -> ImportStop:
    """Read a file that must be stopped by a question or a refusal."""
    with pytest.raises(ImportStop) as caught:
        read(data, importer, **options)
    return caught.value


def table(
    rows: Sequence[Sequence[str]],
    header: Sequence[str] = ("Date", "Amount", "Note"),
    delimiter: str = ",",
    end: str = "\n",
) -> str:
    """Write a plain table without quotes."""
    return "".join(delimiter.join(row) + end for row in (header, *rows))


def amounts_of(texts: Sequence[str], **options: object) -> list[int | str]:
    """Read a column of amounts; give minor units, or the code of the reject."""
    rows = [("2025-05-03", text, "x") for text in texts]
    found = read(table(rows, delimiter="\t"), **options).outcomes[1:]
    return [
        each.amount_minor if isinstance(each, Transaction) else each.code
        for each in found
        if isinstance(each, (Transaction, Reject, Skip))
    ]


def days_of(texts: Sequence[str], **options: object) -> list[str]:
    """Read a column of dates; give ISO texts of day or moment, or the code of the reject."""
    rows = [(text, "1.50", "x") for text in texts]
    found = read(table(rows, delimiter="\t"), **options).outcomes[1:]
    return [
        (each.occurred_at or each.occurred_on).isoformat()
        if isinstance(each, Transaction)
        else each.code
        for each in found
        if isinstance(each, (Transaction, Reject, Skip))
    ]
