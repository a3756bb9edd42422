"""A seeded card-reader export of any length: ids, times, amounts, fees, notes."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path

HEADER = "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
START = dt.datetime(2023, 1, 7, 9, 0)  # noqa: DTZ001 - the export writes the shop's local time
DAYS = 1000
OPEN_SECONDS = 10 * 3600  # by day only, clear of the hour that comes twice
NOTES = ("", "", "", "blue jug", "A17-AH1", "coat, haggled", "two bowls", "für Ines")
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"


def write_export(path: Path, rows: int, *, rising_ids: bool = False, seed: int = 7) -> None:
    """Write *rows* payments and a few refunds, rising in time.

    Ids are random, as most providers give them, and so land anywhere in an index; with
    *rising_ids* each sorts after the one before.
    """
    draw = random.Random(seed)  # noqa: S311 - a benchmark's data
    seconds_apart = DAYS * OPEN_SECONDS / rows
    with path.open("w", encoding="utf-8", newline="") as out:
        out.write(HEADER)
        for number in range(rows):
            day, second = divmod(int(number * seconds_apart), OPEN_SECONDS)
            at = START + dt.timedelta(days=day, seconds=second)
            cents = draw.randrange(300, 12000, 50) * (-1 if draw.random() < 0.02 else 1)
            fee = max(0, cents * 175 // 10000)
            mark = f"{number:09}" if rising_ids else "".join(draw.choices(LETTERS, k=14))
            out.write(
                f"{at:%Y-%m-%d,%H:%M:%S},PX{mark},{cents / 100:.2f},EUR,{fee / 100:.2f},"
                f"{_cell(draw.choice(NOTES))}\n"
            )


def _cell(text: str) -> str:
    return f'"{text}"' if "," in text else text
