"""A year as CSV tables: totals in four cuts, costs by kind, the stock at cost."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final, TypeAlias

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.errors import NotFoundError
from stallkeep.domain.money import to_text
from stallkeep.domain.safe_csv import csv_text
from stallkeep.domain.year import YearLine
from stallkeep.work.year_totals import YearReport

_Rows: TypeAlias = Iterator[list[str]]
_AMOUNTS: Final = tuple(name for name in YearLine.__struct_fields__ if name.endswith("_minor"))


class YearFileNotFoundError(NotFoundError):
    """A year has no file of this name."""

    code = "year-file-not-found"
    title = "No such file of a year"


def year_file(report: YearReport, file: str) -> str:
    """Write one of `FILES`; every cell is harmless in a spreadsheet.

    The first row names the columns and the last holds the caution. Amounts are decimals of the
    shop's currency; in the totals each is its effect on the net, so costs are below 0.

    Raises:
        YearFileNotFoundError: *file* is none of them.
    """
    if file not in _WRITERS:
        raise YearFileNotFoundError(f"There is no file {file!r}; there are {', '.join(FILES)}")
    header, *rows = _WRITERS[file](report)
    caution = ["caution", CAUTION]
    return csv_text(header, [*rows, caution + [""] * (len(header) - len(caution))])


def _totals(report: YearReport) -> _Rows:
    amounts = [name.removesuffix("_minor") for name in _AMOUNTS]
    yield ["part", "name", "pieces", *amounts, "currency"]
    totals = report.totals
    cuts = {
        "year": (totals.whole,),
        "month": totals.months,
        "channel": totals.channels,
        "event": totals.events,
    }
    for part, lines in cuts.items():
        for line in lines:
            texts = [to_text(getattr(line, name), report.currency) for name in _AMOUNTS]
            name = line.name or f"(no {part})"
            yield [part, name, str(line.pieces), *texts, report.currency]


def _costs(report: YearReport) -> _Rows:
    yield ["part", "kind", "amount", "currency"]
    for line in report.totals.costs:
        yield ["cost", line.kind, to_text(line.amount_minor, report.currency), report.currency]


def _stock(report: YearReport) -> _Rows:
    yield ["part", "category", "on", "pieces", "cost", "pieces_without_cost", "currency"]
    stock = report.stock
    lines = [(line.category or "", line) for line in stock.categories]
    for name, line in lines:
        cost = to_text(line.cost_minor, report.currency)
        counts = (str(line.pieces), cost, str(line.without_cost))
        yield ["category", name, stock.on.isoformat(), *counts, report.currency]
    whole = (str(stock.pieces), to_text(stock.cost_minor, report.currency))
    yield ["all", "", stock.on.isoformat(), *whole, str(stock.without_cost), report.currency]


_WRITERS: Final[Mapping[str, Callable[[YearReport], _Rows]]] = {
    "totals.csv": _totals,
    "costs.csv": _costs,
    "stock.csv": _stock,
}
FILES: Final = tuple(_WRITERS)
