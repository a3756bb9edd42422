"""How a seller would name a payment, a piece and an amount."""

from __future__ import annotations

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.tag_codes import LENGTH, to_text


def money(evidence: Evidence, minor: int) -> str:
    """Write an amount with the currency's digits, without its name."""
    unit = evidence.unit_minor
    if unit == 1:
        return str(minor)
    sign = "-" if minor < 0 else ""
    return f"{sign}{abs(minor) // unit}.{abs(minor) % unit:0{len(str(unit)) - 1}d}"


def line_name(evidence: Evidence, line: MoneyLine) -> str:
    """Name a line by its amount and when it was: "40.00 of 2026-05-02 at 14:10"."""
    when = f" of {line.occurred_on}"
    if line.occurred_at is not None:
        when += f" at {line.occurred_at:%H:%M}"
    return f"{money(evidence, abs(line.amount_minor))}{when}"


def code_name(code: str) -> str:
    """Write a code as it is printed; what is none of ours stays as it was read."""
    return to_text(code) if len(code) == LENGTH else code


def piece_name(piece: RailPiece) -> str:
    """Name a piece by its title and the code on its tag."""
    if not piece.tag_code:
        return piece.title or piece.item_id
    code = code_name(piece.tag_code)
    return f"{piece.title} ({code})" if piece.title else code
