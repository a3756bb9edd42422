"""Read drawn exports and judge what came of them; count how often each style was asked about.

python -m tests.property.importers.judging [FILES] [SEED]
"""

# ruff: noqa: S311, T201 - dice for tests; it prints

from __future__ import annotations

import datetime as dt
import io
import re
import sys
from collections import Counter
from collections.abc import Callable
from random import Random

import msgspec
from tests.property.importers.exports import Export, draw_export, draw_sales

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import (
    Importer,
    ImportStop,
    Layout,
    Notice,
    Options,
    Outcome,
    QuestionError,
    Reject,
    Skip,
    Transaction,
)
from stallkeep_importers.resale_sales import ResaleSales

_SHORT = ("%d/%m/%y", "%m/%d/%y", "%y/%m/%d")
_LONG = ("%d/%m/%Y", "%m/%d/%Y")


class Judged(msgspec.Struct):
    """What came of one file.

    Attributes:
        end: "read", or "asked" and the parameter, or "refused" and the code.
        wrong: Sentences about values that differ from the truth, or rows that are gone.
        rejects: Codes of rows that could not be taken.
        is_needless: Whether it was asked though the file says it itself.
    """

    end: str
    wrong: list[str]
    rejects: list[str]
    is_needless: bool = False


def judge(export: Export, importer: Importer | None = None) -> Judged:
    """Read an export, of a card reader unless said otherwise, and compare it with the truth."""
    try:
        found = list(
            (importer or CardReaderPayments()).read(
                io.BytesIO(export.data), msgspec.convert(export.options, Options)
            )
        )
    except QuestionError as question:
        needless = not _is_open(export, question.parameter)
        return Judged(f"asked {question.parameter}", [], [], is_needless=needless)
    except ImportStop as stop:
        return Judged(f"refused {stop.code}", [f"refused: {stop.detail}"], [])
    outcomes = [each for each in found if not isinstance(each, (Layout, Notice))]
    return _compared(export, outcomes)


def _compared(export: Export, outcomes: list[Outcome]) -> Judged:
    frame = {"header", "above-header", "blank", "totals", "repeated-heading"}
    kept = [each for each in outcomes if not (isinstance(each, Skip) and each.code in frame)]
    if len(kept) != len(export.rows):
        return Judged("read", [f"{len(export.rows)} rows became {len(kept)}"], [])
    wrong, rejects = [], []
    for row, got in zip(export.rows, kept, strict=True):
        if isinstance(got, Reject):
            rejects.append(got.code)
        elif isinstance(got, Skip):
            wrong += [f"{row} was skipped: {got.code}"] * row.is_paid
        elif isinstance(got, Transaction):
            is_sale = got.kind == "sale"
            truth = (row.at.date(), row.minor, row.fee, row.note or None, row.postage)
            taken = (
                *(got.occurred_on, got.amount_minor, got.fee_minor),
                *((got.title if is_sale else got.note) or None, got.postage_minor or 0),
            )
            late = got.occurred_at is not None and abs(got.occurred_at - row.at) >= _MINUTE
            if taken != truth or late or not row.is_paid:
                wrong.append(f"{row} became {got}")
    return Judged("read", wrong, rejects)


_MINUTE = dt.timedelta(minutes=1)


def _is_open(export: Export, parameter: str) -> bool:
    """Say whether the truth is one of several things the file may mean; by other means than ours.

    Dates: whether another order reads every date as a day. Decimals: whether no amount shows its
    mark, by two different signs, by a sign that comes twice, or by other than three digits after
    it or a nought before it. Cents: whether no amount has a mark at all.
    """
    style = export.style
    if parameter == "date_order":
        own = style["day"].replace("-", "/")
        family = _SHORT if own in _SHORT else _LONG if own in _LONG else ()
        texts = [text.split(" ")[0].replace("-", "/") for text in export.dates]
        return sum(all(_reads(text, order) for text in texts) for order in family) > 1
    if parameter == "decimal_mark":
        return not any(map(_shows_its_mark, export.amounts))
    if parameter == "amounts_are":
        return not any(set(".,") & set(text) for text in export.amounts)
    return parameter == "clock_change"


def _shows_its_mark(text: str) -> bool:
    marks = [sign for sign in text if sign in ".,"]
    if not marks:
        return False
    before, after = text.rsplit(marks[-1], 1)
    digits = re.match("[0-9]*", after)
    is_three = digits is not None and len(digits[0]) == 3
    return len(marks) > 1 or not is_three or re.search(r"(?<![0-9])0$", before) is not None


def _reads(text: str, order: str) -> bool:
    try:
        dt.datetime.strptime(text, order)  # noqa: DTZ007 - a day
    except ValueError:
        return False
    return True


KINDS: tuple[tuple[Callable[[Random], Export], Importer], ...] = (
    (draw_export, CardReaderPayments()),
    (draw_sales, ResaleSales()),
)


def main() -> None:
    """Draw files, judge them, print shares."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    dice = Random(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    ends: Counter[str] = Counter()
    rejects: Counter[str] = Counter()
    styles: dict[str, Counter[str]] = {}
    wrong = needless = rows = 0
    for _ in range(count):
        draw, importer = dice.choice(KINDS)
        export = draw(dice)
        judged = judge(export, importer)
        ends[judged.end] += 1
        rejects.update(judged.rejects)
        rows += len(export.rows)
        wrong += bool(judged.wrong)
        needless += judged.is_needless
        for sentence in judged.wrong[:1]:
            print("WRONG", export.style, sentence[:300])
        if judged.is_needless:
            print("needless", judged.end, export.style)
        for name, value in export.style.items():
            styles.setdefault(name, Counter())[value] += 1
    print(f"{count} files, {rows} rows; wrong {wrong}; asked without need {needless / count:.2%}")
    for end, times in ends.most_common():
        print(f"{times / count:>8.2%} {end}")
    print("rejects:", dict(rejects.most_common()))
    for name, values in styles.items():
        least = min(values, key=values.__getitem__)
        print(f"{name}: {len(values)} styles, the rarest {least!r} {values[least]} times")


if __name__ == "__main__":
    main()
