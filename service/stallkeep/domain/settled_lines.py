"""Add up the settled payments and the rail of an event from its lines."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec

from stallkeep.domain.cost_share import prices_and_costs
from stallkeep.domain.event_entries import taxable
from stallkeep.domain.event_facts import EventFacts, SoldPiece, TakenPiece, Takings
from stallkeep.domain.margin_scheme import margin_scheme
from stallkeep.domain.sell_through import Piece, band_of, band_starts, gone_unmatched, pieces_of
from stallkeep.domain.settled import Alike, PaidSum, PieceSum, RailSum, Settled, SoldSum
from stallkeep.domain.tax import TaxSettings

UNSETTLED = ("proposed", "unmatched")


def settled_of(facts: EventFacts) -> Settled:
    """Add up an event's settled payments, the pieces they were for, and its rail."""
    lines = [line for line in facts.takings if line.state not in UNSETTLED]
    pieces = pieces_of(facts)
    sold = [p for line in lines for p in line.pieces if not p.is_returned]
    return Settled(
        paid=_paid(lines),
        fees=_fees(lines, facts),
        taxes=_taxes(lines, facts.tax),
        sold=_sold(lines),
        margin_scheme=margin_scheme(sold),
        costs_sold=prices_and_costs((p.price_minor, p.cost_minor) for p in sold),
        costs_taken=prices_and_costs((p.price_minor, p.cost_minor) for p in facts.rail),
        rail=_rail(facts.rail),
        pieces=_pieces(pieces, band_starts(facts.currency, facts.price_bands_minor)),
        gone=gone_unmatched(pieces),
        home_yet_paid=tuple(
            piece.item.item_id
            for piece in pieces
            if piece.gone is not None and piece.matched > piece.gone
        ),
    )


def unsettled(facts: EventFacts) -> EventFacts:
    """Leave out what `settled_of` adds up."""
    lines = tuple(line for line in facts.takings if line.state in UNSETTLED)
    return msgspec.structs.replace(facts, takings=lines, rail=())


def _paid(lines: Iterable[Takings]) -> tuple[PaidSum, ...]:
    groups: dict[tuple[object, ...], list[Takings]] = {}
    for line in lines:
        key = (line.day, line.method, line.state, line.is_income, line.fee_minor is None)
        groups.setdefault(key, []).append(line)
    return tuple(_paid_sum(alike) for alike in groups.values())


def _paid_sum(lines: Sequence[Takings]) -> PaidSum:
    first = lines[0]
    return PaidSum(
        day=first.day,
        method=first.method,
        state="matched" if first.state == "matched" else "set_aside",
        is_income=first.is_income,
        payments=len(lines),
        amount_minor=sum(line.amount_minor for line in lines),
        tip_minor=sum(line.tip_minor for line in lines),
        tax_minor=sum(line.tax_minor or 0 for line in lines),
        fee_minor=None if first.fee_minor is None else sum(line.fee_minor or 0 for line in lines),
    )


def _fees(lines: Iterable[Takings], facts: EventFacts) -> tuple[Alike, ...]:
    return _alike(
        (line.day, line.method, line.amount_minor)
        for line in lines
        if line.fee_minor is None and line.method in facts.fee_schedules
    )


def _taxes(lines: Iterable[Takings], tax: TaxSettings) -> tuple[Alike, ...]:
    if tax.mode == "none":
        return ()
    return _alike(
        (line.day, "", amount)
        for line in lines
        if line.tax_minor is None and line.is_income
        for amount in taxable(line, tax)
        if amount
    )


def _alike(amounts: Iterable[tuple[dt.date, str, int]]) -> tuple[Alike, ...]:
    return tuple(
        Alike(day=day, method=method, amount_minor=amount, times=times)
        for (day, method, amount), times in Counter(amounts).items()
    )


def _sold(lines: Iterable[Takings]) -> tuple[SoldSum, ...]:
    groups: dict[tuple[dt.date, int | None], list[SoldPiece]] = {}
    for line in lines:
        for piece in line.pieces:
            if not piece.is_returned:
                price = piece.price_minor if piece.cost_minor is None else None
                groups.setdefault((line.day, price), []).append(piece)
    return tuple(
        SoldSum(
            day=day,
            lines=len(alike),
            pieces=sum(piece.quantity for piece in alike),
            price_minor=sum(piece.price_minor for piece in alike),
            cost_minor=sum(p.cost_minor or 0 for p in alike) if price is None else None,
        )
        for (day, price), alike in groups.items()
    )


def _rail(rail: Sequence[TakenPiece]) -> RailSum:
    priced = [piece for piece in rail if piece.price_minor]
    return RailSum(
        taken=sum(piece.quantity for piece in rail),
        uncounted=sum(piece.quantity for piece in rail if piece.counted_home is None),
        priced=sum(piece.quantity for piece in priced),
        priced_minor=sum((piece.price_minor or 0) * piece.quantity for piece in priced),
    )


def _pieces(pieces: Iterable[Piece], starts_minor: Sequence[int]) -> tuple[PieceSum, ...]:
    groups: dict[tuple[str | None, int | None, bool], list[Piece]] = {}
    for piece in pieces:
        band = band_of(piece.item.price_minor, starts_minor)
        groups.setdefault((piece.item.category, band, piece.was_on_rail), []).append(piece)
    return tuple(
        PieceSum(
            category=category,
            band=band,
            is_listed=is_listed,
            taken=sum(piece.taken for piece in alike),
            sold=sum(piece.sold for piece in alike),
        )
        for (category, band, is_listed), alike in groups.items()
    )
