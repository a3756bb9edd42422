"""The forecast of a coming event: pieces sold, net, and what the pitch may cost at most.

Pieces come from the shop's own history (`sell_rate`), what a piece leaves from the rail's own
prices by drawing pieces from it. Both are drawn many times from one seed, so that the same
question has the same answer. What an event earns depends on weather and luck: the range matters,
not its middle.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.cost_share import share_of
from stallkeep.domain.errors import ForecastInputError
from stallkeep.domain.fees import FeeSchedule, fees_of_payment
from stallkeep.domain.forecast_words import limits, summary
from stallkeep.domain.money import half_up
from stallkeep.domain.newsvendor import Outcome, critical_fractile, outcome, quantity_for
from stallkeep.domain.sell_rate import PastEvent, event_weight, learn_rates, prior_share
from stallkeep.domain.tax import TaxSettings, tax_in_price

MILLION = 1_000_000
PERCENTS = (5, 10, 25, 50, 75, 90, 95)
BINS = 20
MOST_CELLS = 400_000
FEWEST_DRAWS = 100
USUAL_FRACTILE = 0.95

Ints = NDArray[np.int64]


class ForecastPiece(msgspec.Struct, frozen=True, kw_only=True):
    """A piece that will be on the rail.

    Attributes:
        item_id: Its item; one entry per piece.
        price_minor: Price on the tag, at least 0.
        cost_minor: What it cost; None takes the rail's usual share of cost in price.
        chance: How likely it sells against the others; any scale, above 0.
    """

    item_id: str
    price_minor: int
    cost_minor: int | None = None
    chance: float = 1.0


class ForecastQuestion(msgspec.Struct, frozen=True, kw_only=True):
    """What a forecast is asked.

    Attributes:
        currency: ISO 4217 code.
        starts_on: First day of the event.
        days: Days still to come; a half day is 0.5.
        kind: Kind of market; None when not entered.
        history: Earlier events.
        rail: Pieces to be taken.
        pitch_fee_minor: For the whole event.
        other_costs_minor: All other costs of the event.
        paid_share_ppm: What customers usually pay of the price on the tag.
        fees: Schedule of card payments.
        card_share_ppm: Share of payments by card.
        tax: Sales tax.
        wanted_chance: Chance for which the highest pitch fee is asked; inside 0 and 1.
        space_cost_minor: What taking a piece in vain costs: space, packing, wear. None: take
            enough in 95 of 100 cases.
        usual_sell_through_ppm: Sold ÷ taken at the shop's events; None when not known.
        pieces_so_far: Sold already at this event.
        days_so_far: Days of it that have passed.
        draws: At least 100.
        seed: The same seed gives the same answer.
    """

    currency: str
    starts_on: dt.date
    days: float
    kind: str | None = None
    history: tuple[PastEvent, ...] = ()
    rail: tuple[ForecastPiece, ...] = ()
    pitch_fee_minor: int = 0
    other_costs_minor: int = 0
    paid_share_ppm: int = MILLION
    fees: FeeSchedule = FeeSchedule()
    card_share_ppm: int = MILLION
    tax: TaxSettings = TaxSettings()
    wanted_chance: float = 0.8
    space_cost_minor: int | None = None
    usual_sell_through_ppm: int | None = None
    pieces_so_far: int = 0
    days_so_far: float = 0.0
    draws: int = 20_000
    seed: int = 1


class PieceQuantile(msgspec.Struct, frozen=True, kw_only=True):
    """In `percent` of 100 cases at most so many pieces are sold."""

    percent: int
    pieces: int


class NetQuantile(msgspec.Struct, frozen=True, kw_only=True):
    """In `percent` of 100 cases the net is at most this."""

    percent: int
    net_minor: int


class Bin(msgspec.Struct, frozen=True, kw_only=True):
    """One bar of a histogram: net from (inclusive) to (exclusive, the last bar inclusive)."""

    from_minor: int
    to_minor: int
    share: float


class Forecast(msgspec.Struct, frozen=True, kw_only=True):
    """What a coming event may bring, for the days still to come.

    Attributes:
        pieces: Quantiles of the pieces sold, at most those on the rail.
        mean_pieces: Their average.
        net: Quantiles of the net.
        mean_net_minor: Its average.
        histogram: Of the net.
        chance_to_break_even: Share of the draws in which the net is not negative.
        highest_pitch_fee_minor: The most the pitch may cost so that the net is not negative with
            the wanted chance; 0 when even a free pitch does not reach it.
        margin_per_piece_minor: What a piece of this rail leaves on average, event costs apart.
        pieces_to_have: Pieces that suffice for the demand: a piece not taken cannot sell.
        pieces_to_take: The same with the choice that customers are used to, by the usual
            sell-through; None when that is not known.
        rail: What the rail as asked brings on average: pieces sold, asked for in vain, left.
        chance_rail_runs_out: Share of the draws that ask for more than the rail holds.
        events: Earlier events used.
        events_worth: What they count together for an event like this one.
        prior_share: Part of the forecast that rests on common practice, 1 without history.
        summary: One or two sentences with the figures.
        limits: How little it is supported, where that is so; empty otherwise.
        seed: Seed it was drawn from.
        caution: To be shown wherever these figures are.
    """

    pieces: tuple[PieceQuantile, ...]
    mean_pieces: float
    net: tuple[NetQuantile, ...]
    mean_net_minor: int
    histogram: tuple[Bin, ...]
    chance_to_break_even: float
    highest_pitch_fee_minor: int
    margin_per_piece_minor: int
    pieces_to_have: int
    pieces_to_take: int | None
    rail: Outcome
    chance_rail_runs_out: float
    events: int
    events_worth: float
    prior_share: float
    summary: str
    limits: tuple[str, ...]
    seed: int
    caution: str = CAUTION


def forecast(question: ForecastQuestion) -> Forecast:
    """Forecast an event, or the rest of one that is under way.

    Raises:
        ForecastInputError: There is no rail, no day to come, or a number is out of its range.
    """
    _check(question)
    rng = np.random.default_rng(question.seed)
    weights = [event_weight(e, question.kind, question.starts_on) for e in question.history]
    demand = learn_rates(question.history, weights).draw(
        rng, question.draws, question.days, (question.pieces_so_far, question.days_so_far)
    )
    margins = _margins(question)
    sold = np.minimum(demand, margins.size)
    before_pitch = _sums_of_margins(rng, question.rail, margins, sold) - question.other_costs_minor
    net = before_pitch - question.pitch_fee_minor
    mean_margin = half_up(int(margins.sum()), margins.size)
    enough = _pieces_to_have(question, demand, mean_margin)
    runs_out = float((demand > margins.size).mean())
    worth = sum(weights)
    pieces_at, net_at = _quantiles(sold), _quantiles(net)
    chance = float((net >= 0).mean())
    return Forecast(
        pieces=tuple(PieceQuantile(percent=p, pieces=n) for p, n in pieces_at.items()),
        mean_pieces=float(sold.mean()),
        net=tuple(NetQuantile(percent=p, net_minor=n) for p, n in net_at.items()),
        mean_net_minor=half_up(int(net.sum()), net.size),
        histogram=_histogram(net),
        chance_to_break_even=chance,
        highest_pitch_fee_minor=_highest_fee(before_pitch, question.wanted_chance),
        margin_per_piece_minor=mean_margin,
        pieces_to_have=enough,
        pieces_to_take=_with_choice(enough, question.usual_sell_through_ppm),
        rail=outcome(demand, margins.size),
        chance_rail_runs_out=runs_out,
        events=len(question.history),
        events_worth=worth,
        prior_share=prior_share(weights),
        summary=summary(_between(pieces_at), _between(net_at), chance, question.currency),
        limits=limits(
            events=len(question.history),
            worth=worth,
            without_cost=sum(piece.cost_minor is None for piece in question.rail),
            runs_out=runs_out,
        ),
        seed=question.seed,
    )


def _check(question: ForecastQuestion) -> None:
    if not question.rail:
        raise ForecastInputError("a forecast needs the pieces of the rail, for their prices")
    if question.days <= 0 or question.days_so_far < 0 or question.pieces_so_far < 0:
        raise ForecastInputError("a forecast needs a day to come, and nothing negative behind it")
    if question.draws < FEWEST_DRAWS:
        raise ForecastInputError(f"a forecast needs at least {FEWEST_DRAWS} draws")
    if not 0 < question.wanted_chance < 1:
        raise ForecastInputError("the wanted chance must lie between 0 and 1")
    if any(piece.chance <= 0 or piece.price_minor < 0 for piece in question.rail):
        raise ForecastInputError("a piece needs a chance above 0 and a price not below 0")


def _margins(question: ForecastQuestion) -> Ints:
    """What each piece of the rail leaves when it sells, in the order of the rail."""
    share = share_of(
        (piece.price_minor, piece.cost_minor)
        for piece in question.rail
        if piece.cost_minor is not None and piece.price_minor > 0
    )
    margins = []
    for piece in question.rail:
        paid = half_up(piece.price_minor * question.paid_share_ppm, MILLION)
        cost = share.of(piece.price_minor)[0] if piece.cost_minor is None else piece.cost_minor
        fee = half_up(fees_of_payment(question.fees, paid) * question.card_share_ppm, MILLION)
        margins.append(paid - tax_in_price(paid, question.tax) - fee - cost)
    return np.array(margins, dtype=np.int64)


def _sums_of_margins(
    rng: np.random.Generator, rail: Sequence[ForecastPiece], margins: Ints, sold: Ints
) -> Ints:
    """Add up the margins of as many pieces as each draw sells, drawn without putting back.

    Draws share a few thousand orders of the rail: the order in which its pieces would go, likelier
    pieces earlier. (Exponential keys over their chances give exactly successive drawing.)
    """
    orders = min(sold.size, max(FEWEST_DRAWS, MOST_CELLS // margins.size))
    chances = np.array([piece.chance for piece in rail])
    keys = rng.exponential(size=(orders, margins.size)) / chances
    sums = np.zeros((orders, margins.size + 1), dtype=np.int64)
    np.cumsum(margins[np.argsort(keys, axis=1)], axis=1, out=sums[:, 1:])
    total: Ints = sums[np.arange(sold.size) % orders, sold]
    return total


def _quantiles(values: Ints) -> dict[int, int]:
    found = np.percentile(values, PERCENTS, method="inverted_cdf")
    return {percent: int(value) for percent, value in zip(PERCENTS, found, strict=True)}


def _between(quantiles: Mapping[int, int]) -> tuple[int, int]:
    """The range that holds in 8 of 10 cases."""
    return quantiles[10], quantiles[90]


def _histogram(net: Ints) -> tuple[Bin, ...]:
    low, high = int(net.min()), int(net.max())
    width = max(1, -(-(high - low) // BINS))
    edges = low + width * np.arange(BINS + 1)
    counts, _ = np.histogram(net, edges)
    return tuple(
        Bin(from_minor=int(start), to_minor=int(end), share=float(count) / net.size)
        for start, end, count in zip(edges[:-1], edges[1:], counts, strict=True)
    )


def _highest_fee(before_pitch: Ints, wanted_chance: float) -> int:
    """The largest fee that at least the wanted share of draws earns."""
    needed = int(np.ceil(wanted_chance * before_pitch.size - 1e-9))
    at = before_pitch.size - needed
    return max(0, int(np.partition(before_pitch, at)[at]))


def _pieces_to_have(question: ForecastQuestion, demand: Ints, margin_minor: int) -> int:
    if question.space_cost_minor is None or margin_minor <= 0:
        return quantity_for(demand, USUAL_FRACTILE)
    return quantity_for(demand, critical_fractile(margin_minor, question.space_cost_minor))


def _with_choice(enough: int, sell_through_ppm: int | None) -> int | None:
    return -(-enough * MILLION // sell_through_ppm) if sell_through_ppm else None
