"""Reads the receipts roll of an invented till: one line per receipt.

TILL ROLL
2025-05-03 10:12 #0001 CARD 12.50 mug
2025-05-03 10:15 #0002 CASH -4.00
---
"""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Iterator
from typing import BinaryIO
from zoneinfo import ZoneInfo

from stallkeep_importers.contract import (
    Layout,
    Notice,
    Options,
    Outcome,
    Recognition,
    RefusalError,
    Reject,
    Skip,
    Transaction,
)

_FIRST = "TILL ROLL"
_RECEIPT = re.compile(
    r"(\d{4}-\d\d-\d\d) (\d\d:\d\d) #(\d+) (CARD|CASH) (-?)(\d{1,7})\.(\d\d)(?: (.*))?", re.ASCII
)


class InventedTill:
    """One receipt is one payment; a minus is a refund."""

    contract = 1
    name = "invented-till"
    title = "Invented till, receipts roll"
    gives = frozenset({"transaction"})

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        if sample.startswith(_FIRST.encode()):
            return Recognition(sureness=0.95, why="It begins like a receipts roll.")
        return Recognition(sureness=0, why="It does not begin like a receipts roll.")

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        text = io.TextIOWrapper(io.BufferedReader(_Lent(stream)), "utf-8", "replace", newline="\n")
        first = text.readline()
        if first.strip() != _FIRST:
            raise RefusalError("other-file-type", "This is no receipts roll.", "Send another file.")
        yield Layout(fingerprint=self.name, encoding="utf-8", delimiter="", header_record=1)
        yield Skip(record=1, line=1, code="header", reason="This is the roll's first line.")
        for number, line in enumerate(text, 2):
            yield _outcome(number, line.strip(), options)


def _outcome(number: int, line: str, options: Options) -> Outcome:
    match = _RECEIPT.fullmatch(line)
    if not line or line == "---":
        return Skip(record=number, line=number, code="blank", reason="The line says nothing.")
    if not match:
        return _reject(number, "receipt-unreadable", "The line is no receipt.", line)
    date, time, receipt, method, minus, whole, part, note = match.groups()
    try:
        at = dt.datetime.fromisoformat(f"{date} {time}").replace(tzinfo=ZoneInfo(options.time_zone))
    except ValueError:
        return _reject(number, "date-impossible", "There is no such day or time.", line)
    amount = int(whole + part)
    return Transaction(
        record=number,
        line=number,
        kind="refund" if minus else "payment",
        amount_minor=-amount if minus else amount,
        currency=options.currency,
        occurred_on=at.date(),
        occurred_at=at,
        external_id=receipt,
        method="card" if method == "CARD" else "cash",
        note=note or None,
    )


def _reject(number: int, code: str, reason: str, line: str) -> Reject:
    cells = (line.replace("\0", "\ufffd"),)
    advice = "Correct the line and send it again."
    return Reject(record=number, line=number, code=code, reason=reason, advice=advice, cells=cells)


class _Lent(io.RawIOBase):
    """The stream belongs to whoever opened it: closing the text above must not close it."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        piece = self._stream.read(len(buffer))
        buffer[: len(piece)] = piece
        return len(piece)
