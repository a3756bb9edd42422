"""A column headed "time" that holds whole moments is not thrown away."""

from __future__ import annotations

import datetime as dt
import io

from stallkeep_importers.card_reader_payments import CardReaderPayments
from stallkeep_importers.contract import Options, Transaction

OPTIONS = Options(currency="EUR", time_zone="Europe/Berlin")
AT = dt.datetime(2026, 8, 1, 8, 5, tzinfo=dt.UTC)


def taken(text: str) -> list[Transaction]:
    outcomes = CardReaderPayments().read(io.BytesIO(text.encode()), OPTIONS)
    return [one for one in outcomes if isinstance(one, Transaction)]


def test_moments_under_time_beside_a_day_are_read() -> None:
    rows = taken(
        "Transaction ID,Date,Time,Amount\n"
        "A1,2026-08-01,2026-08-01T10:05:00+02:00,20.00\n"
        "A2,2026-08-02,2026-08-02T10:05:00+02:00,21.00\n"
    )
    assert [row.occurred_at for row in rows] == [AT, AT + dt.timedelta(days=1)]


def test_moments_under_time_alone_are_read() -> None:
    rows = taken("Transaction ID,Time,Amount\nA1,2026-08-01 10:05:00,20.00\n")
    assert [row.occurred_at for row in rows] == [AT]


def test_times_of_day_stay_times_of_day() -> None:
    rows = taken("Transaction ID,Date,Time,Amount\nA1,2026-08-01,10:05:00,20.00\n")
    assert [row.occurred_at for row in rows] == [AT]
