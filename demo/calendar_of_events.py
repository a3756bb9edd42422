"""The events: three that are over, the harbour fair, and one to come."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from demo.words import FAIR, NEXT_EVENT


@dataclass(frozen=True)
class Cost:
    """One cost; money in cents."""

    kind: str
    amount: int
    spent_on: dt.date
    note: str


@dataclass(frozen=True)
class Day:
    """One day of an event; money in cents."""

    day: dt.date
    opens: str
    closes: str
    pitch_fee: int
    cash_float: int


@dataclass(frozen=True)
class Event:
    """A market.

    Attributes:
        own_minutes: The seller's own time, by what it went into.
        costs: Typed in by hand; the fair's come from an export instead.
    """

    name: str
    venue: str
    pitch: str
    kind: str
    days: tuple[Day, ...]
    own_minutes: dict[str, int]
    costs: tuple[Cost, ...] = ()
    note: str = ""

    @property
    def dates(self) -> list[dt.date]:
        return [each.day for each in self.days]


def _minutes(preparing: int, travelling: int, selling: int, packing: int) -> dict[str, int]:
    return {
        "preparing": preparing,
        "travelling": travelling,
        "selling": selling,
        "packing": packing,
    }


WOOL_DAY = Event(
    name="Undermossley Wool Day",
    venue="Undermossley Old Dairy",
    pitch="Table 9",
    kind="wool market",
    days=(Day(dt.date(2025, 10, 18), "10:00", "17:00", 6500, 8000),),
    own_minutes=_minutes(240, 110, 420, 90),
    costs=(
        Cost("travel", 3120, dt.date(2025, 10, 18), "diesel, there and back"),
        Cost("food", 1150, dt.date(2025, 10, 18), "soup and coffee"),
    ),
)

SPRING_MARKET = Event(
    name="Saltrigg Spring Market",
    venue="Saltrigg Yard",
    pitch="By the pump",
    kind="street market",
    days=(
        Day(dt.date(2026, 4, 25), "10:00", "18:00", 7000, 10000),
        Day(dt.date(2026, 4, 26), "10:00", "17:00", 7000, 10000),
    ),
    own_minutes=_minutes(360, 140, 900, 120),
    costs=(
        Cost("travel", 3840, dt.date(2026, 4, 25), "diesel for two days"),
        Cost("parking", 1400, dt.date(2026, 4, 25), "yard behind the hall"),
        Cost("food", 2260, dt.date(2026, 4, 26), "two lunches"),
    ),
)

CROCKERY_MARKET = Event(
    name="Nettlewhin Crockery Market",
    venue="Nettlewhin Green",
    pitch="14",
    kind="crockery market",
    days=(Day(dt.date(2026, 6, 20), "09:00", "16:00", 5500, 8000),),
    own_minutes=_minutes(180, 80, 420, 80),
    costs=(
        Cost("travel", 2210, dt.date(2026, 6, 20), "diesel"),
        Cost("supplies", 1890, dt.date(2026, 6, 20), "wrapping paper, two rolls"),
    ),
)

HARBOUR_FAIR = Event(
    name=FAIR,
    venue="Brackenslip Quay",
    pitch="Row C, 14",
    kind="harbour fair",
    days=(
        Day(dt.date(2026, 9, 11), "11:00", "19:00", 12500, 12000),
        Day(dt.date(2026, 9, 12), "10:00", "19:00", 12500, 12000),
        Day(dt.date(2026, 9, 13), "10:00", "18:00", 12500, 12000),
    ),
    own_minutes=_minutes(480, 210, 1620, 240),
    note="Rain all Saturday; a friend minded the stall on Sunday.",
)

COMING = Event(
    name=NEXT_EVENT,
    venue="Saltrigg Yard",
    pitch="By the pump",
    kind="street market",
    days=(
        Day(dt.date(2027, 4, 24), "10:00", "18:00", 7500, 10000),
        Day(dt.date(2027, 4, 25), "10:00", "17:00", 7500, 10000),
    ),
    own_minutes=_minutes(360, 140, 900, 120),
    costs=(
        Cost("travel", 3900, dt.date(2027, 4, 24), "diesel for two days, expected"),
        Cost("parking", 1400, dt.date(2027, 4, 24), "yard behind the hall"),
        Cost("food", 2300, dt.date(2027, 4, 25), "two lunches, expected"),
    ),
)


@dataclass(frozen=True)
class FairExpense:
    """A line of the fair's expense list; *tax* is within the amount."""

    day: int
    receipt: str
    category: str
    amount: int
    tax: int | None
    note: str


FAIR_EXPENSES = (
    FairExpense(0, "R-201", "Travel", 2340, 374, "diesel, out on Friday"),
    FairExpense(0, "R-202", "Parking", 900, None, "quay car park"),
    FairExpense(0, "R-203", "Food", 1380, None, "fish roll, coffee"),
    FairExpense(0, "R-204", "Supplies", 1490, 238, "two tarpaulins, it looks like rain"),
    FairExpense(1, "R-205", "Parking", 900, None, "quay car park"),
    FairExpense(1, "R-206", "Food", 1610, None, "soup twice"),
    FairExpense(2, "R-207", "Parking", 900, None, "quay car park"),
    FairExpense(2, "R-208", "Food", 1240, None, "lunch for two"),
    FairExpense(2, "R-209", "Travel", 2385, 381, "diesel, back on Sunday"),
    FairExpense(2, "R-210", "Other", 1200, None, "raffle for the lifeboat"),
)

EARLIER = (WOOL_DAY, SPRING_MARKET, CROCKERY_MARKET)


@dataclass(frozen=True)
class CardFee:
    """The card fee of a reader: parts per million of the amount, and a fixed part in cents."""

    rate_ppm: int
    fixed: int = 0
    valid_from: dt.date = field(default=dt.date(2025, 1, 1))

    def fee(self, amount: int) -> int:
        return (amount * self.rate_ppm + 500_000) // 1_000_000 + self.fixed


OLD_READER = CardFee(29_000)
NEW_READER = CardFee(24_000, 7, dt.date(2026, 7, 1))
