"""What a person hands over to be taken in, and what was said about it."""

from __future__ import annotations

import os
from collections.abc import Mapping
from typing import Any, BinaryIO, Final
from uuid import UUID

import msgspec

from stallkeep.domain.errors import StallkeepError
from stallkeep.store.shops import Shop
from stallkeep.work.harmless_facts import harmless_facts
from stallkeep.work.import_errors import ImportQuestionError, ImportRefusedError
from stallkeep_importers.contract import ImportStop, Options, QuestionError

SAMPLE_BYTES: Final = 65536


class Upload(msgspec.Struct, frozen=True):
    """A file as it arrived: seekable, at position 0."""

    file: BinaryIO
    name: str
    size: int


class HowFar(msgspec.Struct, frozen=True):
    """How far a running import has come.

    Attributes:
        import_id: The import.
        rows_read: Rows stored or counted so far.
        bytes_read: Bytes of the file read so far.
        file_bytes: Bytes of the file.
    """

    import_id: UUID
    rows_read: int
    bytes_read: int
    file_bytes: int


def unseen(_: HowFar) -> None:
    """Show nobody how far an import has come."""


class ImportOrder(msgspec.Struct, frozen=True, kw_only=True):
    """What a person said about a file.

    Attributes:
        importer: Name of the importer; None has the file recognised.
        channel_id: Channel the rows belong to.
        event_id: Event the rows belong to.
        answers: Option → value, as the importers' contract names them.
        by: Who said it.
        remember: Whether what was said holds for further files of the same layout.
    """

    importer: str | None = None
    channel_id: UUID | None = None
    event_id: UUID | None = None
    answers: Mapping[str, Any] = {}
    by: str = ""
    remember: bool = True


def options_for(shop: Shop, file_name: str, answers: Mapping[str, Any]) -> Options:
    """Join what the shop knows with what was answered.

    Raises:
        ImportRefusedError: An answer is none that the importers know.
    """
    known: dict[str, Any] = {
        "currency": shop.currency,
        "time_zone": shop.time_zone,
        "languages": tuple(shop.languages),
        "file_name": file_name,
    }
    if unknown := sorted(answers.keys() - set(Options.__struct_fields__)):
        raise ImportRefusedError(
            f"Nothing asks for {', '.join(unknown)}; answers are "
            f"{', '.join(sorted(set(Options.__struct_fields__) - known.keys()))}",
            reason_code="answer-unknown",
        )
    try:
        return msgspec.convert({**known, **answers}, Options, strict=True)
    except msgspec.ValidationError as error:
        raise ImportRefusedError(
            f"An answer is not one of those possible: {error}", reason_code="answer-unknown"
        ) from error


def told(stop: ImportStop, import_id: UUID | None = None) -> StallkeepError:
    """Say an importer's stop as an error of ours."""
    facts: dict[str, Any] = {
        "reason_code": stop.code,
        "advice": stop.advice,
        **harmless_facts(stop.facts),
    }
    if import_id is not None:
        facts["import_id"] = str(import_id)
    if isinstance(stop, QuestionError):
        facts["question"] = {
            "parameter": stop.parameter,
            "choices": [msgspec.to_builtins(choice) for choice in stop.choices],
        }
        return ImportQuestionError(stop.detail, **facts)
    return ImportRefusedError(stop.detail, **facts)


def readable(name: str) -> str:
    """Write a file's name as text, also where its bytes are none."""
    return os.fsencode(name).decode(errors="replace")


def sample_of(file: BinaryIO) -> bytes:
    """Read the beginning of a file, as importers are shown it to recognise it."""
    file.seek(0)
    sample = file.read(SAMPLE_BYTES)
    file.seek(0)
    return sample
