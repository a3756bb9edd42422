"""The demo's files, read with nothing but the standard library."""

from __future__ import annotations

import csv
import json
from decimal import Decimal
from typing import Any

from demo.exports_cards import OLD_PAYMENTS
from demo.make import FILES

SEMICOLONS = ("lumpelio", "zahlfink")

SETUP: dict[str, Any] = json.loads((FILES / "setup.json").read_bytes())
TRUTH: dict[str, Any] = json.loads((FILES / "truth.json").read_bytes())


def records(name: str) -> list[list[str]]:
    """Return every record of an export, the header included."""
    encoding = "cp1252" if name == OLD_PAYMENTS else "utf-8-sig"
    with (FILES / name).open(encoding=encoding, newline="") as file:
        return list(csv.reader(file, delimiter=";" if name.startswith(SEMICOLONS) else ","))


def cell(name: str, record: int, column: str) -> str:
    """Return one cell, by record number from 1 and header."""
    rows = records(name)
    header = next(row for row in rows if column in row)
    return rows[record - 1][header.index(column)]


def euros(text: str) -> Decimal:
    """Read an amount written with a point or a comma."""
    return Decimal(text.removesuffix(" €").replace(",", "."))


def cents(text: str) -> int:
    """Read an amount into whole cents."""
    return int(euros(text) * 100)


def event(name: str) -> dict[str, Any]:
    """Return an event as it was typed in."""
    return next(each for each in SETUP["events"] if each["name"] == name)


def stock() -> dict[str, dict[str, Any]]:
    """Return what was typed in about each piece, by tag code."""
    return {each["tag_code"]: each for each in [*SETUP["pieces"], *SETUP["purchases"]]}
