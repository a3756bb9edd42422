"""One line of a bank statement → an outcome; what the two open formats have in common."""

from __future__ import annotations

import datetime as dt

import msgspec

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import MAX_MINOR, digits_under, scaled
from stallkeep_importers.cells.personal import without_card_numbers
from stallkeep_importers.contract import MappedColumn, Outcome, Reject, Skip, Transaction
from stallkeep_importers.currencies import minor_units


class BankLine(msgspec.Struct, frozen=True, kw_only=True):
    """One booking as its file gives it.

    Attributes:
        record: Number of the booking from 1.
        line: Physical line its element starts on.
        minor: Minor units of *currency*; plus is money in.
        currency: ISO 4217 code.
        day: Day it was booked.
        moment: Moment, where the file gives a real one.
        external_id: The bank's own id.
        reference: End-to-end or other reference.
        note: Purpose, as given.
        is_fee: Whether the bank says that it is its own charge.
        is_reversal: Whether it takes back an earlier booking.
    """

    record: int
    line: int
    minor: int
    currency: str
    day: dt.date
    moment: dt.datetime | None = None
    external_id: str | None = None
    reference: str | None = None
    note: str | None = None
    is_fee: bool = False
    is_reversal: bool = False


def outcome_of(booking: BankLine) -> Outcome:
    """Give money in as a payout, the bank's charges as fees, and skip other money out.

    What else leaves the account is nobody's takings and not kept; a reversal is an adjustment.
    """
    if booking.minor < 0 and not booking.is_fee and not booking.is_reversal:
        return Skip(
            record=booking.record,
            line=booking.line,
            code="money-out",
            reason="Money that left the account is no payout; it is not kept.",
        )
    kind = "adjustment" if booking.is_reversal else "fee" if booking.is_fee else "payout"
    return Transaction(
        record=booking.record,
        line=booking.line,
        kind=kind,  # type: ignore[arg-type]
        amount_minor=booking.minor,
        currency=booking.currency,
        occurred_on=booking.day,
        occurred_at=booking.moment,
        external_id=booking.external_id,
        method="transfer",
        reference=booking.reference,
        note=without_card_numbers(booking.note) if booking.note else None,
    )


def minor_of(text: str, currency: str) -> int:
    """Read an amount of a standard format: one mark at most, no group signs.

    Raises:
        BankLineError: It is no amount, or the currency is unknown, or has fewer decimals.
    """
    bare = text.strip()
    units = minor_units().get(currency)
    if units is None:
        raise BankLineError(
            Fault(
                "currency-unknown", f"“{currency}” is no currency we know.", "Write its ISO code."
            )
        )
    number = bare.lstrip("+-").replace(",", ".")
    found = digits_under(number, ".") if number.isascii() and len(bare) - len(number) <= 1 else None
    minor = scaled(found, units) if found and "'" not in number and " " not in number else None
    if minor is None or minor > MAX_MINOR:
        raise BankLineError(
            Fault("money-unreadable", f"“{bare[:40]}” is no amount in {currency}.", "Correct it.")
        )
    return -minor if bare.startswith("-") else minor


class BankLineError(Exception):
    """One booking cannot be read."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.reason)
        self.fault = fault


def reject_of(record: int, line: int, fault: Fault) -> Reject:
    """Give the reject of a booking; its cells are left out, for they may name people."""
    return Reject(
        record=record, line=line, code=fault.code, reason=fault.reason, advice=fault.advice
    )


def left_out(*names: str) -> tuple[MappedColumn, ...]:
    """Describe the elements that are dropped at the door."""
    return tuple(
        MappedColumn(
            index=index,
            header=name,
            field=None,
            sureness=1.0,
            why="personal data (name or account)",
            personal=True,
        )
        for index, name in enumerate(names)
    )
