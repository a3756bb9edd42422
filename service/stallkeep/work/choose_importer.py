"""Find the importer that a file belongs to, among those installed here."""

from __future__ import annotations

from functools import cache
from typing import Final

import msgspec

from stallkeep.work.import_errors import (
    ImporterNotFoundError,
    ImportQuestionError,
    ImportRefusedError,
)
from stallkeep_importers.contract import Importer, Options, RefusalError
from stallkeep_importers.finder import Loaded, load_importers, recognise_all
from stallkeep_importers.tables.file_types import refuse_other_types, unpacked_sample

SURE_ENOUGH: Final = 0.4
"""Below this nobody knows the file."""

CLEARLY: Final = 0.05
"""By less than this the surest of two importers is not chosen but asked about."""


class KnownImporter(msgspec.Struct, frozen=True, kw_only=True):
    """An importer installed here; `problem` says why one that did not load is missing."""

    name: str
    title: str | None
    gives: list[str]
    package: str | None
    problem: str | None = None


class Claim(msgspec.Struct, frozen=True, kw_only=True):
    """How sure an importer is that a file is its own."""

    importer: str
    title: str
    sureness: float
    why: str


@cache
def _loaded() -> Loaded:
    return load_importers()


def installed(name: str) -> Importer | None:
    """Give the importer of this name, None where it is not installed (any more)."""
    return _loaded().importers.get(name)


def known_importers() -> list[KnownImporter]:
    """List the importers installed here by name, then those that failed to load."""
    loaded = _loaded()
    found = [
        KnownImporter(
            name=name,
            title=importer.title,
            gives=sorted(importer.gives),
            package=loaded.packages.get(name),
        )
        for name, importer in sorted(loaded.importers.items())
    ]
    return found + [
        KnownImporter(
            name=error.name, title=None, gives=[], package=error.package, problem=str(error)
        )
        for error in loaded.errors
    ]


def claims(sample: bytes, options: Options) -> list[Claim]:
    """List the importers that take a file for their own, surest first."""
    loaded = _loaded()
    return [
        Claim(
            importer=name,
            title=loaded.importers[name].title,
            sureness=recognition.sureness,
            why=recognition.why,
        )
        for name, recognition in recognise_all(loaded.importers, sample, options)
        if recognition.sureness > 0
    ]


def choose_importer(name: str | None, sample: bytes, options: Options) -> Importer:
    """Take the named importer, or the one that is surest.

    Raises:
        ImporterNotFoundError: No importer has this name.
        ImportRefusedError: None takes the file for its own.
        ImportQuestionError: Two are about equally sure.
    """
    importers = _loaded().importers
    if name is not None:
        if name not in importers:
            raise ImporterNotFoundError(
                f"No importer is called {name!r}; there are {', '.join(sorted(importers))}",
                importers=sorted(importers),
            )
        return importers[name]
    ranked = claims(sample, options)
    if not sample:
        raise ImportRefusedError("The file is empty", reason_code="empty", advice="Export again.")
    if not ranked or ranked[0].sureness < SURE_ENOUGH:
        _refuse_other_types(sample)
        raise ImportRefusedError(
            "No importer knows this kind of file"
            + (f"; the likeliest, {ranked[0].title}, says: {ranked[0].why}" if ranked else ""),
            reason_code="unknown-file",
            advice="Name the importer if you know what the file is; it then says what it misses.",
            claims=[msgspec.to_builtins(claim) for claim in ranked],
        )
    if len(ranked) > 1 and ranked[0].sureness - ranked[1].sureness < CLEARLY:
        raise ImportQuestionError(
            f"This may be {ranked[0].title} or {ranked[1].title}",
            reason_code="importer-undecided",
            advice="Say which importer is to read it.",
            question={
                "parameter": "importer",
                "choices": [
                    {"value": claim.importer, "meaning": f"{claim.title}: {claim.why}"}
                    for claim in ranked[:2]
                ],
            },
        )
    return importers[ranked[0].importer]


def _refuse_other_types(sample: bytes) -> None:
    """Say what kind of file it is instead, where it is no table of text."""
    try:
        refuse_other_types(unpacked_sample(sample))
    except RefusalError as refusal:
        raise ImportRefusedError(
            refusal.detail, reason_code=refusal.code, advice=refusal.advice, **refusal.facts
        ) from refusal
