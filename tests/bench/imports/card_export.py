"""Write a card reader's export of any length, the same for the same seed."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator
from pathlib import Path

HEADER = "Payment number,Sold at,Type,Result,Paid by,Amount,Fee,Net,Note,Payout,Card ending"
NOTES = ("", "", "", "", "2JP-C3X", "blue jumper", '"two mugs, one bowl"', "scarf")


def lines(rows: int, seed: int = 5) -> Iterator[str]:
    """Yield the header and *rows* payments, about 100 bytes each."""
    dice = random.Random(seed)  # noqa: S311 - test data
    moment = dt.datetime(2025, 1, 1, 9)  # noqa: DTZ001 - the export has local times
    yield HEADER + "\r\n"
    for number in range(rows):
        moment += dt.timedelta(seconds=dice.randint(1, 40))
        amount = dice.randint(3, 300) * 50
        fee = round(amount * 0.0169) + 5
        yield (
            f"TN{4_000_000 + number},{moment:%Y-%m-%d %H:%M:%S},Payment,approved,contactless,"
            f"{amount / 100:.2f},{fee / 100:.2f},{(amount - fee) / 100:.2f},"
            f"{dice.choice(NOTES)},PO-{moment:%y%m%d},{dice.randint(1000, 9999)}\r\n"
        )


def write(path: Path, rows: int) -> None:
    """Write an export of *rows* payments."""
    with path.open("w", encoding="utf-8", newline="") as out:
        out.writelines(lines(rows))
