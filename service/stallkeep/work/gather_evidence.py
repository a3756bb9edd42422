"""Read everything a reconciliation is to know, in the terms of the matching engine."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

import msgspec

from stallkeep.domain.matching import CashTotal, Evidence, Finding, Habits, RailPiece, Stub
from stallkeep.domain.matching.habits import taught
from stallkeep.domain.matching.settled import SETTLING
from stallkeep.domain.money import minor_units, to_text
from stallkeep.store import event_evidence as event_store
from stallkeep.store import evidence as store
from stallkeep.store import rulings
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.evidence_lines import lines_told
from stallkeep.work.evidence_pieces import by_item, less_at_home, piece_of, pieces_off_rail
from stallkeep.work.evidence_words import (
    PAIRED_PROBABILITY,
    as_ruling,
    paired_ring_ups,
    piece_ruling_told,
    ring_up_told,
    ruling_told,
)
from stallkeep.work.time_zones import on_shops_clock


class Gathered(msgspec.Struct, frozen=True, kw_only=True):
    """Evidence, and what storing the answer needs beside it.

    Attributes:
        evidence: For the engine.
        lines: Transaction id → its row, lines in the shop's currency only.
        foreign: Rows in another currency; the engine does not see them.
        ring_ups: Entered sales: id, item_ids, transaction_id.
        entered: Transaction id → the sale that was entered together with it.
        paired: Transaction id → the waiting ring-up that it alone fits.
        ruled: Transactions that a person has settled (confirmed, set aside, no piece).
        names: Id → a name that is the same wherever the shop is stored (see `stable_names`).
        findings: What is to be looked at and no line of the evidence tells.
    """

    evidence: Evidence
    lines: Mapping[str, Row]
    foreign: tuple[Row, ...]
    ring_ups: tuple[Row, ...] = ()
    entered: Mapping[str, Row] = {}
    paired: Mapping[str, Row] = {}
    ruled: frozenset[str] = frozenset()
    names: Mapping[str, str] = {}
    findings: tuple[Finding, ...] = ()


async def gather_event(con: Connection, shop: Shop, event_id: UUID) -> Gathered:
    """Read the evidence of an event. The engine's own earlier matches must be released before."""
    shop_id = shop.shop_id
    rail = await store.rail_pieces(con, shop_id, event_id)
    item_ids = [row["id"] for row in rail]
    away = await store.sold_elsewhere(con, shop_id, item_ids, event_id)
    away += await event_store.proposed_elsewhere(con, shop_id, item_ids)
    owned = await event_store.owned(con, shop_id, item_ids)
    at_home = {row["id"]: owned[row["id"]] - row["quantity"] for row in rail}
    elsewhere = less_at_home(by_item(away), at_home)
    back = await event_store.came_back(con, shop_id, event_id)
    lines = await store.lines_of_event(con, shop_id, event_id)
    days = await store.days_of(con, shop_id, event_id)
    ring_ups = await store.ring_ups(con, shop_id, event_id)
    stubs = await store.stubs_of(con, shop_id, event_id)
    looked = await rulings.piece_rulings(con, shop_id, event_id)
    learned = await store.learned_before(con, shop_id, event_id)
    again = _number_back(back)
    pieces = tuple(
        piece_of(
            row,
            elsewhere,
            shop,
            quantity=row["quantity"] + again[row["id"]],
            counted_home=row["counted_home"],
        )
        for row in rail
    )
    given_back = await event_store.cash_given_back(con, shop_id, event_id)
    facts: dict[str, Any] = {
        "scope": "event",
        "days": tuple(row["day"] for row in days),
        "stubs": tuple(_stub(row) for row in stubs),
        "cash_totals": tuple(_cash_totals(days, given_back)),
        "returned_of": tuple(
            sorted({str(row["transaction_id"]) for row in back if row["transaction_id"]})
        ),
        "piece_rulings": tuple(piece_ruling_told(ruling) for ruling in looked),
        "habits": _habits(learned),
    }
    gathered = await gather_lines(con, shop, pieces, lines, facts, ring_ups=ring_ups)
    beside = await event_store.lines_beside(con, shop_id, event_id)
    return msgspec.structs.replace(gathered, findings=tuple(_outside(row, shop) for row in beside))


async def gather_lines(
    con: Connection,
    shop: Shop,
    pieces: tuple[RailPiece, ...],
    lines: Sequence[Row],
    facts: Mapping[str, Any],
    *,
    ring_ups: Sequence[Row] = (),
) -> Gathered:
    """Join pieces, lines and other facts of the evidence with what was said and entered."""
    own = {str(row["id"]): row for row in lines if row["currency"] == shop.currency}
    ids = [row["id"] for row in own.values()]
    standing = await rulings.standing_rulings(con, shop.shop_id, ids)
    entered = {
        str(row["transaction_id"]): row
        for row in await store.entered_by_hand(con, shop.shop_id, ids)
    }
    said = [ruling_told(ruling) for ruling in standing]
    settled = {r.transaction_id for r in said if r.verdict in SETTLING}
    said += [as_ruling(key, row) for key, row in entered.items() if key not in settled]
    told = lines_told(own, shop)
    paired = (
        paired_ring_ups(
            ring_ups, [line for line in told if line.transaction_id not in settled], said
        )
        if shop.match_threshold <= PAIRED_PROBABILITY
        else {}
    )
    said += [as_ruling(key, row) for key, row in paired.items() if key not in entered]
    used = {str(row["id"]) for row in paired.values()}
    known = {piece.item_id for piece in pieces}
    named = {item for ruling in said for item in ruling.item_ids}
    outside = await pieces_off_rail(con, shop, sorted(named - known))
    return Gathered(
        evidence=Evidence(
            pieces=pieces + outside,
            lines=told,
            unit_minor=10 ** minor_units(shop.currency),
            rulings=tuple(said),
            ring_ups=tuple(
                ring_up_told(row)
                for row in ring_ups
                if row["transaction_id"] is None and str(row["id"]) not in used
            ),
            **facts,
        ),
        lines=own,
        foreign=tuple(row for row in lines if row["currency"] != shop.currency),
        ring_ups=tuple(ring_ups),
        entered=entered,
        paired=paired,
        ruled=frozenset(settled),
        names=_names(pieces + outside, own, ring_ups),
    )


def _names(
    pieces: Iterable[RailPiece], lines: Mapping[str, Row], ring_ups: Iterable[Row]
) -> dict[str, str]:
    names = {piece.item_id: f"piece {piece.tag_code}" for piece in pieces}
    names |= {key: f"line {row['row_key']} {row['occurrence']}" for key, row in lines.items()}
    return names | {str(row["id"]): f"ring-up {n}" for n, row in enumerate(ring_ups)}


def _stub(row: Row) -> Stub:
    return Stub(
        code=row["tag_code"],
        day=row["day"],
        position=row["position"] if row["ordered"] else None,
        price_minor=row["price_minor"],
    )


def _outside(row: Row, shop: Shop) -> Finding:
    at = on_shops_clock(row["occurred_at"], shop.time_zone)
    when = f"{row['occurred_on']}" + (f" at {at:%H:%M}" if at else "")
    return Finding(
        code="day-outside-event",
        sentence=f"{to_text(abs(row['amount_minor']), row['currency'])} of {when} came with a file "
        "for this event, and is on none of its days: it belongs to no event.",
        transaction_ids=(str(row["id"]),),
        amount_minor=row["amount_minor"] if row["currency"] == shop.currency else None,
    )


def _number_back(back: Iterable[Row]) -> Counter[UUID]:
    """How many of each piece were put out a second time, having come back from a customer."""
    number: Counter[UUID] = Counter()
    for row in back:
        number[row["item_id"]] += row["quantity"]
    return number


def _cash_totals(days: Iterable[Row], given_back: Iterable[Row]) -> Iterable[CashTotal]:
    """What the box took by day; what no line tells that it gave back is added again."""
    back = {row["occurred_on"]: row["amount_minor"] for row in given_back}
    for row in days:
        if row["counted_cash_minor"] is not None and row["float_minor"] is not None:
            taken = row["counted_cash_minor"] + row["taken_out_minor"] - row["float_minor"]
            yield CashTotal(day=row["day"], total_minor=taken + back.get(row["day"], 0))


def _habits(learned: Iterable[Mapping[str, float]]) -> Habits:
    """Join what single events taught, the oldest first: older ones fade."""
    habits = Habits()
    for gains in learned:
        habits = taught(habits, gains)
    return habits
