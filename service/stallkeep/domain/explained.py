"""The lines under each figure, so that a seller can check it with a pencil."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import msgspec

from stallkeep.domain.ledger import Entry
from stallkeep.domain.statement import NOT_COSTS, Statement

FORMULAS = (
    ("net_sales", "takings - not_income - refunds - tax"),
    ("gross_margin", "net_sales - cost_of_goods"),
    ("net", "gross_margin - fees - costs + over_short"),
)


class Explained(msgspec.Struct, frozen=True, kw_only=True):
    """Where a figure of the whole event comes from.

    Attributes:
        figure: Name of the figure; a kind of cost for its sum.
        amount_minor: Effect on the net for a sum of lines; the figure itself for a formula.
        formula: How it is made from other figures; "" for a sum of lines.
        lines: The lines under it, by day; empty for a formula.
    """

    figure: str
    amount_minor: int
    formula: str = ""
    lines: tuple[Entry, ...] = ()


def explained_figures(entries: Sequence[Entry], whole: Statement) -> tuple[Explained, ...]:
    """Group entries under their figures and add the formulas between the figures."""
    accounts = dict.fromkeys([*NOT_COSTS, *(cost.kind for cost in whole.costs)])
    lines: dict[str, list[Entry]] = {account: [] for account in accounts}
    for entry in entries:
        lines[entry.account].append(entry)
    sums = tuple(
        Explained(
            figure=account,
            amount_minor=sum(entry.amount_minor for entry in listed),
            lines=tuple(sorted(listed, key=lambda entry: entry.day or dt.date.min)),
        )
        for account, listed in lines.items()
        if listed
    )
    figures = (
        whole.net_sales_minor,
        whole.gross_margin.expected_minor,
        whole.net.expected_minor,
    )
    return sums + tuple(
        Explained(figure=name, amount_minor=amount, formula=formula)
        for (name, formula), amount in zip(FORMULAS, figures, strict=True)
    )
