"""Find the importers installed here, then load them; one that breaks does not stop the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.metadata import EntryPoint, entry_points

import msgspec

from stallkeep_importers.contract import (
    CONTRACT_VERSION,
    ENTRY_POINT_GROUP,
    Importer,
    Options,
    Recognition,
)


class ImporterLoadError(Exception):
    """An importer that is installed cannot be used; the others can.

    Attributes:
        name: Of the entry point.
        package: Distribution it comes from, None when unknown.
    """

    def __init__(self, name: str, package: str | None, reason: str) -> None:
        super().__init__(f"importer {name} of {package or 'an unknown package'}: {reason}")
        self.name = name
        self.package = package


class Loaded(msgspec.Struct, frozen=True):
    """The importers that loaded, and why others did not.

    Attributes:
        importers: By name.
        packages: Name → the distribution and version it comes from.
        errors: One for each that did not load.
    """

    importers: Mapping[str, Importer]
    packages: Mapping[str, str]
    errors: tuple[ImporterLoadError, ...]


def find_importers() -> list[EntryPoint]:
    """List the entry points by name; runs none of their code."""
    found = entry_points(group=ENTRY_POINT_GROUP)
    return sorted(found, key=lambda point: (point.name, _package(point) or ""))


def load_importers(points: Sequence[EntryPoint] | None = None) -> Loaded:
    """Load each importer; of two with one name the first keeps it and the other is an error."""
    importers: dict[str, Importer] = {}
    packages: dict[str, str] = {}
    errors: list[ImporterLoadError] = []
    for point in find_importers() if points is None else points:
        package = _package(point)
        try:
            importer = _load(point, package)
        except ImporterLoadError as error:
            errors.append(error)
            continue
        if importer.name in importers:
            reason = "another importer has this name"
            errors.append(ImporterLoadError(point.name, package, reason))
            continue
        importers[importer.name] = importer
        if package is not None:
            packages[importer.name] = package
    return Loaded(importers, packages, tuple(errors))


def recognise_all(
    importers: Mapping[str, Importer], sample: bytes, options: Options
) -> list[tuple[str, Recognition]]:
    """Ask every importer how sure it is of a file; surest first, equal ones by name.

    One that raises is 0 sure, and says so.
    """
    said = [(name, _ask(importers[name], sample, options)) for name in sorted(importers)]
    return sorted(said, key=lambda pair: -pair[1].sureness)


def _load(point: EntryPoint, package: str | None) -> Importer:
    try:
        importer = point.load()()
    except Exception as error:
        raise ImporterLoadError(point.name, package, f"{type(error).__name__}: {error}") from error
    if not isinstance(importer, Importer):
        raise ImporterLoadError(point.name, package, "it is no importer of the contract")
    if importer.contract != CONTRACT_VERSION:
        reason = f"it was written for contract {importer.contract}, not {CONTRACT_VERSION}"
        raise ImporterLoadError(point.name, package, reason)
    if importer.name != point.name:
        raise ImporterLoadError(point.name, package, f"it calls itself {importer.name}")
    return importer


def _ask(importer: Importer, sample: bytes, options: Options) -> Recognition:
    try:
        return importer.recognise(sample, options)
    except Exception as error:  # noqa: BLE001 - another package's fault stays its own
        return Recognition(sureness=0, why=f"It failed: {type(error).__name__}")


def _package(point: EntryPoint) -> str | None:
    return None if point.dist is None else f"{point.dist.name} {point.dist.version}"
