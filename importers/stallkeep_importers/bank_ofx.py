"""Bank statements in the open standard OFX: payouts that arrived."""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Iterator
from typing import BinaryIO
from xml.etree.ElementTree import Element

from ofxtools.header import OFXHeaderError
from ofxtools.Parser import OFXTree, ParseError
from ofxtools.Types import DateTime, OFXSpecError

from stallkeep_importers.cells.clocks import LocalClock
from stallkeep_importers.cells.dates import FIRST_YEAR, LAST_YEAR
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import (
    CONTRACT_VERSION,
    Layout,
    Notice,
    Options,
    Outcome,
    Recognition,
    RefusalError,
)
from stallkeep_importers.rows.bank_lines import (
    BankLine,
    BankLineError,
    left_out,
    minor_of,
    outcome_of,
    reject_of,
)
from stallkeep_importers.tables.file_types import (
    head_of,
    plain_stream,
    refuse_empty,
    unpacked_sample,
)

_MOST_BYTES = 32 << 20
_START = re.compile(rb"OFXHEADER|<\?OFX|<OFX>", re.IGNORECASE)
_BOOKING = re.compile(rb"<STMTTRN>", re.IGNORECASE)
_FEE_TYPES = frozenset({"FEE", "SRVCHG"})
# kinds whose name gives the direction; amounts are signed in OFX (2.2, from memory)
_OUT_TYPES = _FEE_TYPES | {"DEBIT", "DIRECTDEBIT", "CHECK"}
_IN_TYPES = frozenset({"CREDIT", "DEP", "DIRECTDEP"})
_NO_TIME = re.compile(r"[0-9]{8}(?:(?:00|12)0000(?:\.000)?)?(?:\[0?[:.\w]*\])?")
_DROPPED = ("NAME", "PAYEE", "BANKACCTTO", "ACCTID")


class BankOfx:
    """One ``STMTTRN`` is one booking."""

    contract = CONTRACT_VERSION
    name = "bank-ofx"
    title = "Bank statement, OFX"
    gives = frozenset({"transaction"})

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        if _START.search(unpacked_sample(sample)[:2048]):
            return Recognition(sureness=0.99, why="It begins like OFX.")
        return Recognition(sureness=0, why="It does not begin like OFX.")

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        data = _whole(plain_stream(stream))
        root = _parsed(data)
        clock = LocalClock(options.time_zone, options.clock_change)
        yield Layout(
            fingerprint="ofx",
            encoding="ofx",
            delimiter="",
            header_record=0,
            columns=left_out(*_DROPPED),
            lines=data.count(b"\n"),
        )
        lines = _lines_of(data)
        record = 0
        for statement in root.iter():
            if statement.tag not in ("STMTRS", "CCSTMTRS"):
                continue
            currency = _text(statement, "CURDEF") or options.currency
            for node in statement.iter("STMTTRN"):
                record += 1
                line = lines[record - 1] if record <= len(lines) else 1
                try:
                    yield outcome_of(_booking(record, line, node, currency, clock))
                except BankLineError as error:
                    yield reject_of(record, line, error.fault)


def _whole(stream: BinaryIO) -> bytes:
    refuse_empty(head_of(stream))
    data = head_of(stream, _MOST_BYTES + 1)
    if len(data) > _MOST_BYTES:
        raise RefusalError(
            "too-large", "The statement is larger than any real one.", "Export a shorter period."
        )
    if b"\0" in data:
        raise RefusalError(
            "damaged-file", "The file holds bytes that are no text.", "Fetch it again."
        )
    return data


def _parsed(data: bytes) -> Element:
    """Parse with ofxtools, which reads both the old notation and XML, without entities."""
    if b"<!DOCTYPE" in data[:4096].upper() or b"<!ENTITY" in data.upper():
        raise RefusalError(
            "xml-not-allowed",
            "The file declares a document type or entities, which no bank statement needs.",
            "Fetch the statement from the bank itself.",
        )
    if not _START.search(data[:2048]):
        raise RefusalError(
            "other-file-type", "This is no OFX document.", "Export the statement as OFX."
        )
    if b"</OFX>" not in data.upper():
        raise RefusalError(
            "cut-short", "The file ends before the statement does.", "Fetch the file again, whole."
        )
    try:
        root = OFXTree().parse(io.BytesIO(data))
    except (
        OFXHeaderError,
        ParseError,
        OFXSpecError,
        ValueError,
        LookupError,
        SyntaxError,
    ) as error:
        raise RefusalError(
            "damaged-file", f"The file is no well-formed OFX: {error}"[:300], "Fetch it again."
        ) from error
    if not isinstance(root, Element):
        raise RefusalError("damaged-file", "The file is no well-formed OFX.", "Fetch it again.")
    return root


def _booking(record: int, line: int, node: Element, currency: str, clock: LocalClock) -> BankLine:
    own = node.find("CURRENCY")
    currency = (_text(own, "CURSYM") if own is not None else "") or currency
    amount = _text(node, "TRNAMT")
    if not amount:
        raise BankLineError(
            Fault("money-missing", "The booking has no amount.", "Fetch the file again.")
        )
    kind = _text(node, "TRNTYPE").upper()
    day, moment = _when(_text(node, "DTPOSTED"), clock)
    minor = minor_of(amount, currency)
    if (kind in _OUT_TYPES and minor > 0) or (kind in _IN_TYPES and minor < 0):
        raise BankLineError(
            Fault(
                "sign-contradicts-kind",
                f"The booking is a {kind} and its amount is {amount}: did money come or go?",
                "Look it up at the bank and enter it by hand.",
            )
        )
    return BankLine(
        record=record,
        line=line,
        minor=minor,
        currency=currency,
        day=day,
        moment=moment,
        external_id=_text(node, "FITID") or None,
        reference=_text(node, "REFNUM") or None,
        note=_text(node, "MEMO") or None,
        is_fee=kind in _FEE_TYPES and minor < 0,
        is_reversal=bool(_text(node, "CORRECTFITID")),
    )


def _when(text: str, clock: LocalClock) -> tuple[dt.date, dt.datetime | None]:
    """Read a day; midnight and noon stand for no time, as banks write them."""
    try:
        moment = DateTime().convert(text)
    except (OFXSpecError, ValueError, TypeError, OverflowError):
        moment = None
    if not isinstance(moment, dt.datetime) or not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise BankLineError(
            Fault("date-unreadable", f"“{text[:40]}” is no date.", "Fetch the file again.")
        )
    if _NO_TIME.fullmatch(text):
        return dt.date(int(text[:4]), int(text[4:6]), int(text[6:8])), None
    return clock.day_of(moment), moment


def _text(node: Element, name: str) -> str:
    found = node.find(name)
    return (found.text or "").strip() if found is not None else ""


def _lines_of(data: bytes) -> list[int]:
    """Give the physical line of every booking."""
    lines: list[int] = []
    line, seen = 1, 0
    for match in _BOOKING.finditer(data):
        line += data.count(b"\n", seen, match.start())
        seen = match.start()
        lines.append(line)
    return lines
