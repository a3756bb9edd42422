"""Factories: a test names only what matters to it."""

# ruff: noqa: ANN401 - keyword arguments of any field

from __future__ import annotations

import datetime as dt
from typing import Any

from stallkeep.domain.matching import Evidence, MoneyLine, RailPiece

DAY = dt.date(2031, 5, 10)


def a_piece(item_id: str, price_minor: int | None = 4000, **more: Any) -> RailPiece:
    return RailPiece(item_id=item_id, price_minor=price_minor, **more)


def a_line(transaction_id: str, amount_minor: int = 4000, **more: Any) -> MoneyLine:
    more.setdefault("occurred_on", DAY)
    return MoneyLine(transaction_id=transaction_id, amount_minor=amount_minor, **more)


def evidence(pieces: list[RailPiece], lines: list[MoneyLine], **more: Any) -> Evidence:
    return Evidence(pieces=tuple(pieces), lines=tuple(lines), **more)
