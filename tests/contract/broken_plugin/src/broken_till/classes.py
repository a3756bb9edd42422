"""Classes that are no good as importers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import BinaryIO

from stallkeep_importers.contract import Layout, Notice, Options, Outcome, Recognition


class _Whole:
    contract = 1
    name = "whole"
    title = "Whole"
    gives = frozenset({"transaction"})

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        return Recognition(sureness=0, why="It is never mine.")

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        yield from ()


class RaisesOnMaking(_Whole):
    """Cannot be made."""

    def __init__(self) -> None:
        raise OSError("no till connected")


class IsNoImporter:
    """Has nothing an importer has."""


class OfAnotherContract(_Whole):
    """Was written for a contract of the future."""

    contract = 99
    name = "of-another-contract"


class OfAnotherName(_Whole):
    """Calls itself something else than its entry point does."""


class RaisesOnRecognising(_Whole):
    """Loads, and fails on every file."""

    name = "raises-on-recognising"

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        raise ZeroDivisionError


class TakesAName(_Whole):
    """Wants the name of another importer."""

    name = "resale-sales"
