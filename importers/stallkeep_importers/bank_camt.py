"""Bank statements in the open standard camt.053 (ISO 20022): payouts that arrived."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import BinaryIO

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
    Skip,
)
from stallkeep_importers.currencies import shown
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
from stallkeep_importers.tables.xml_entries import Node, entries

_BODY = "BkToCstmrStmt"
_FEE_CODES = frozenset({"CHRG", "COMM", "FEES"})
_DROPPED = ("Acct/Id", "RltdPties", "RltdAgts")


class BankCamt:
    """One entry (``Ntry``) is one booking."""

    contract = CONTRACT_VERSION
    name = "bank-camt"
    title = "Bank statement, camt.053"
    gives = frozenset({"transaction"})

    def recognise(self, sample: bytes, options: Options) -> Recognition:
        head = unpacked_sample(sample)
        text = head.replace(b"\0", b"")
        if b"camt.053" in text or _BODY.encode() in text:
            return Recognition(sureness=0.99, why="It names the standard camt.053.")
        return Recognition(sureness=0, why="It is no camt.053 document.")

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        plain = plain_stream(stream)
        refuse_empty(head_of(plain))
        plain.seek(0)
        clock = LocalClock(options.time_zone, options.clock_change)
        yield Layout(
            fingerprint="camt.053",
            encoding="xml",
            delimiter="",
            header_record=0,
            columns=left_out(*_DROPPED),
        )
        balances = _Balances()
        record = 0
        for node in entries(plain, frozenset({"Ntry", "Bal"}), _BODY):
            if node.name == "Bal":
                yield from balances.add_balance(node)
                continue
            record += 1
            try:
                booking = _booking(record, node, clock)
            except BankLineError as error:
                balances.is_whole = False
                yield reject_of(record, node.line, error.fault)
                continue
            if _state(node) not in ("BOOK", ""):
                yield _pending(record, node.line)
                continue
            balances.add(booking)
            yield outcome_of(booking)
        yield from balances.difference()


class _Balances:
    """Checks that opening balance and bookings give the closing balance of each statement."""

    def __init__(self) -> None:
        self.is_whole = True
        self._opening: int | None = None
        self._closing: int | None = None
        self._sum = 0
        self._currency = ""

    def add_balance(self, node: Node) -> Iterator[Notice]:
        """Take a balance; an opening one ends the statement before."""
        code = node.text_at("Tp/CdOrPrtry/Cd")
        amount = node.find("Amt")
        if amount is None or code not in ("OPBD", "PRCD", "CLBD"):
            return
        try:
            currency = amount.attributes.get("Ccy", "")
            minor = minor_of(amount.text, currency)
        except BankLineError:
            return
        minor = -minor if node.text_at("CdtDbtInd") == "DBIT" else minor
        if code == "CLBD":
            self._closing = minor
            return
        yield from self.difference()
        self._currency = currency
        self._opening, self._closing, self._sum, self.is_whole = minor, None, 0, True

    def add(self, booking: BankLine) -> None:
        """Add a booking."""
        self._sum += booking.minor

    def difference(self) -> Iterator[Notice]:
        """Say it when a statement does not add up."""
        if self._opening is None or self._closing is None or not self.is_whole:
            return
        if self._opening + self._sum != self._closing:
            differ = shown(self._closing - self._opening, self._currency)
            yield Notice(
                code="totals-differ",
                text=f"The statement's balances differ by {differ}, its bookings add up to "
                f"{shown(self._sum, self._currency)} {self._currency}: some may be missing.",
            )


def _booking(record: int, node: Node, clock: LocalClock) -> BankLine:
    amount = node.find("Amt")
    if amount is None:
        raise BankLineError(
            Fault("money-missing", "The booking has no amount.", "Fetch the file again.")
        )
    currency = amount.attributes.get("Ccy", "")
    minor = minor_of(amount.text, currency)
    side = node.text_at("CdtDbtInd")
    if side not in ("CRDT", "DBIT") or minor < 0:
        raise BankLineError(
            Fault(
                "sign-unreadable",
                "The booking does not say whether money came or went.",
                "Fetch the file again.",
            )
        )
    day, moment = _when(node, clock)
    family = {found.text.strip() for found in node.all("BkTxCd/Domn/Fmly/SubFmlyCd")}
    details = list(node.all("NtryDtls/TxDtls"))
    purposes = [text.text.strip() for detail in details for text in detail.all("RmtInf/Ustrd")]
    references = {detail.text_at("Refs/EndToEndId") for detail in details} - {"", "NOTPROVIDED"}
    return BankLine(
        record=record,
        line=node.line,
        minor=-minor if side == "DBIT" else minor,
        currency=currency,
        day=day,
        moment=moment,
        external_id=node.text_at("AcctSvcrRef") or node.text_at("NtryRef") or None,
        reference=references.pop() if len(references) == 1 else None,
        note=" ".join(filter(None, purposes)) or node.text_at("AddtlNtryInf") or None,
        is_fee=bool(family & _FEE_CODES),
        is_reversal=node.text_at("RvslInd") in ("true", "1"),
    )


def _when(node: Node, clock: LocalClock) -> tuple[dt.date, dt.datetime | None]:
    """Give the booking's day, or the value day where it has none."""
    text = next(
        filter(None, map(node.text_at, ("BookgDt/Dt", "BookgDt/DtTm", "ValDt/Dt", "ValDt/DtTm"))),
        "",
    )
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        moment = None
    if moment is None or not FIRST_YEAR <= moment.year <= LAST_YEAR:
        raise BankLineError(
            Fault("date-unreadable", f"“{text[:40]}” is no date.", "Fetch the file again.")
        )
    if "T" not in text or moment.tzinfo is None:
        return moment.date(), None
    return clock.day_of(moment), moment


def _state(node: Node) -> str:
    return node.text_at("Sts/Cd") or node.text_at("Sts")


def _pending(record: int, line: int) -> Skip:
    return Skip(
        record=record,
        line=line,
        code="not-completed",
        reason="The booking is announced and not made yet.",
    )
