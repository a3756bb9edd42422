"""What count, stubs, online sales and people say about each piece, whatever the amounts say."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.modes import Floats, Ints
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.pieces import RailPiece
from stallkeep.domain.tag_codes import normalise

SOLD_TWICE = 0.01  # chance that a piece sold elsewhere was sold here as well
STUB_OF_UNSOLD = 0.002
PUT_OUT_LATE = 0.03  # a payment before the piece was put out: the note of it came late
OTHER_DAY = 0.02  # a stub kept on another day than the payment's
BELOW_FLOOR = 0.15
AGREES = 19.0  # odds of a price written on a stub, or of several in sum, that is the one paid
TOTAL = 8.0  # … that is written on one of several stubs and is what all of them cost
DIFFERS = 0.04
LEEWAY = dt.timedelta(minutes=5)


class Units:
    """Single pieces: an item with quantity 3 is three of them, interchangeable.

    Ordered by price, then item id, so that equal evidence in any order is the same problem.

    Attributes:
        pieces: The rail, sorted; *item* points into it.
        item: Per unit, index of its piece.
        price: Per unit, tag price, minor units; 0 where there is none.
        counted: Per unit 1 counted home, 0 missing at the count, -1 no count.
        stub: Per unit, 1 when a stub of it was kept.
        elsewhere: Per unit, probability that it was sold on another channel.
        stub_kept: Share of the event's days whose stubs were kept.
        stub_days: Number of these days, at least 1.
        here: Per unit 1 somebody saw it, 0 somebody looked and it is gone, -1 nobody looked.
    """

    def __init__(self, evidence: Evidence) -> None:
        self.pieces: Sequence[RailPiece] = sorted(
            evidence.pieces, key=lambda p: (tag_price(p), p.item_id)
        )
        stubs = Counter(normalise(stub.code) for stub in evidence.stubs)
        days = set(evidence.days) or {line.occurred_on for line in evidence.lines}
        kept = len(days & stubs_kept(evidence))
        self.stub_kept = kept / max(len(days), 1)
        self.stub_days = max(kept, 1)
        seen = {ruling.item_id: ruling.still_here for ruling in evidence.piece_rulings}
        item: list[int] = []
        rows: list[tuple[int, int, float, int]] = []
        for i, piece in enumerate(self.pieces):
            for nth in range(max(piece.quantity, 1)):
                item.append(i)
                rows.append(_unit(piece, nth, stubs, seen))
        self.item = np.array(item, dtype=np.int64)
        self.price = np.array([tag_price(self.pieces[i]) for i in item], dtype=np.int64)
        self.counted = np.array([row[0] for row in rows], dtype=np.int64)
        self.stub = np.array([row[1] for row in rows], dtype=np.int64)
        self.elsewhere = np.array([row[2] for row in rows], dtype=np.float64)
        self.here = np.array([row[3] for row in rows], dtype=np.int64)

        self.floors = np.array([p.floor_minor or 0 for p in self.pieces], dtype=np.int64)
        self.timed = any(p.put_out_at is not None for p in self.pieces)
        self.time_odds: dict[object, Floats] = {}

    def __len__(self) -> int:
        return len(self.item)

    def odds_of_time(self, line: MoneyLine) -> Floats:
        """Per piece, whether it was out when the line was; kept per day where that decides."""
        key = line.transaction_id if self.timed else line.occurred_on
        if key not in self.time_odds:
            out = [was_out(piece, line) for piece in self.pieces]
            self.time_odds[key] = np.where(np.array(out, dtype=bool), 1.0, PUT_OUT_LATE)
        return self.time_odds[key]


def tag_price(piece: RailPiece) -> int:
    """The price on its tag, minor units; 0 where there is none."""
    return max(piece.price_minor or 0, 0)


def _unit(
    piece: RailPiece, nth: int, stubs: Mapping[str, int], seen: Mapping[str, int]
) -> tuple[int, int, float, int]:
    """The nth unit of a piece: the first are the ones at home, the last the ones sold online."""
    counted = -1 if piece.counted_home is None else int(nth < piece.counted_home)
    kept = stubs[normalise(piece.tag_code)] if piece.tag_code else 0
    stub = int(piece.quantity - 1 - nth < kept)
    place = piece.quantity - 1 - nth
    elsewhere = 0.0
    for sale in piece.sold_elsewhere:
        if place < sale.quantity:
            elsewhere = max(elsewhere, sale.probability)
        place -= sale.quantity
    here = int(nth < seen[piece.item_id]) if piece.item_id in seen else -1
    return counted, stub, elsewhere, here


def stubs_kept(evidence: Evidence) -> frozenset[dt.date]:
    """Days whose stubs were kept: as said, or those with a stub."""
    kept = evidence.stubs_kept_on
    return frozenset(kept if kept is not None else (s.day for s in evidence.stubs))


def sold_odds(units: Units, chances: Mapping[str, float]) -> Floats:
    """Likelihood ratio per unit: all evidence if a line paid for it, against if none did."""
    sold, gone, home = _likelihoods(units, chances)
    rho = _gone_share(units, chances)
    return sold / (rho * gone + (1 - rho) * home)


def gone_given_no_line(units: Units, chances: Mapping[str, float]) -> Floats:
    """Probability per unit that it is gone though no line paid for it."""
    _, gone, home = _likelihoods(units, chances)
    rho = _gone_share(units, chances)
    return rho * gone / (rho * gone + (1 - rho) * home)


def _gone_share(units: Units, chances: Mapping[str, float]) -> Floats:
    rho = chances["gone_without_line"]
    return rho + (1 - rho) * 0.98 * units.elsewhere


def _likelihoods(units: Units, chances: Mapping[str, float]) -> tuple[Floats, Floats, Floats]:
    """Likelihood of count, stub and looks for a unit sold by a line, gone otherwise, at home."""
    slip, missed = chances["counted_though_sold"], chances["missed_though_home"]
    lost = chances["stub_lost"]
    away = np.select([units.counted == 1, units.counted == 0], [slip, 1 - slip], 1.0)
    home = np.select([units.counted == 1, units.counted == 0], [1 - missed, missed], 1.0)
    away = away * np.select([units.here == 1, units.here == 0], [1e-5, 1.0], 1.0)
    home = home * np.select([units.here == 1, units.here == 0], [1.0, 1e-5], 1.0)
    has_stub = units.stub == 1
    one_day = 1 / units.stub_days  # what no line paid for may have its stub among those of any day
    sold = away * np.where(has_stub, 1 - lost, 1.0)
    sold = sold * (1 - units.elsewhere * (1 - SOLD_TWICE))
    no_stub = 1 - units.stub_kept * (1 - lost)
    gone_stub = (1 - lost) * (1 - 0.9 * units.elsewhere) * one_day
    gone = away * np.where(has_stub, gone_stub, no_stub)
    home = home * np.where(has_stub, STUB_OF_UNSOLD * one_day, 1.0)
    return sold, gone, np.maximum(home, 1e-12)


def line_odds(
    units: Units,
    line: MoneyLine,
    paid_minor: int,
    *,
    stub_days: Mapping[int, frozenset[dt.date]],
    stubs_kept: frozenset[dt.date],
    stub_lost: float,
) -> Floats:
    """Likelihood ratio per unit of when the line was, and of the floor for single pieces."""
    out = units.odds_of_time(line).copy()
    if stubs_kept and line.occurred_on in stubs_kept:
        out[[i not in stub_days for i in range(len(out))]] *= stub_lost
    for i, days in stub_days.items():
        if line.occurred_on not in days:
            out[i] *= OTHER_DAY
    out[paid_minor < units.floors] *= BELOW_FLOOR
    return out[units.item]


def written_odds(written: Ints, paid_minor: int) -> tuple[Floats, Floats]:
    """Odds of the prices written on stubs, for a piece alone and for one of several.

    Args:
        written: Per unit, minor units; below 0 where nothing is written.
        paid_minor: Of the line.
    """
    known, agrees = written >= 0, written == paid_minor
    single = np.select([~known, agrees], [1.0, AGREES], DIFFERS)
    several = np.select([~known, agrees, written < paid_minor], [1.0, TOTAL, 1.0], DIFFERS)
    return single, several


def was_out(piece: RailPiece, line: MoneyLine) -> bool:
    """Tell whether a piece was put out before a payment, as far as that is known."""
    if piece.put_out_at is not None and line.occurred_at is not None:
        return piece.put_out_at <= line.occurred_at + LEEWAY
    day = piece.put_out_on
    if day is None and piece.put_out_at is not None:
        day = piece.put_out_at.date()
    return day is None or day <= line.occurred_on
