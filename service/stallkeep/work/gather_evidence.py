"""Read everything a reconciliation is to know, in the terms of the matching engine."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final
from uuid import UUID
from zoneinfo import ZoneInfo

import msgspec

from stallkeep.domain.matching import (
    CashTotal,
    Evidence,
    Habits,
    MoneyLine,
    PieceRuling,
    RailPiece,
    RingUp,
    Ruling,
    SoldElsewhere,
    Stub,
)
from stallkeep.domain.matching.habits import taught
from stallkeep.domain.matching.paired import pair_ring_ups
from stallkeep.domain.matching.rulings import refused_sets
from stallkeep.domain.matching.settled import SETTLING
from stallkeep.domain.money import minor_units
from stallkeep.domain.tax import tax_within
from stallkeep.store import evidence as store
from stallkeep.store import rulings
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.event_result import tax_of

PAIRED_PROBABILITY: Final = 0.999
"""Of a payment and a ring-up that fit each other and nothing else: a judgement, not measured.

Common practice, no source. A shop that wants to be surer leaves such pairs to the engine.
"""


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
    """

    evidence: Evidence
    lines: Mapping[str, Row]
    foreign: tuple[Row, ...]
    ring_ups: tuple[Row, ...] = ()
    entered: Mapping[str, Row] = {}
    paired: Mapping[str, Row] = {}
    ruled: frozenset[str] = frozenset()
    names: Mapping[str, str] = {}


async def gather_event(con: Connection, shop: Shop, event_id: UUID) -> Gathered:
    """Read the evidence of an event. The engine's own earlier matches must be released before."""
    shop_id = shop.shop_id
    rail = await store.rail_pieces(con, shop_id, event_id)
    item_ids = [row["id"] for row in rail]
    elsewhere = by_item(await store.sold_elsewhere(con, shop_id, item_ids, event_id))
    lines = await store.lines_of_event(con, shop_id, event_id)
    days = await store.days_of(con, shop_id, event_id)
    ring_ups = await store.ring_ups(con, shop_id, event_id)
    stubs = await store.stubs_of(con, shop_id, event_id)
    looked = await rulings.piece_rulings(con, shop_id, event_id)
    learned = await store.learned_before(con, shop_id, event_id)
    pieces = tuple(
        piece_of(row, elsewhere, shop, quantity=row["quantity"], counted_home=row["counted_home"])
        for row in rail
    )
    facts: dict[str, Any] = {
        "scope": "event",
        "days": tuple(row["day"] for row in days),
        "stubs": tuple(_stub(row) for row in stubs),
        "cash_totals": tuple(_cash_totals(days)),
        "piece_rulings": tuple(_piece_ruling(ruling) for ruling in looked),
        "habits": _habits(learned),
    }
    return await gather_lines(con, shop, pieces, lines, facts, ring_ups=ring_ups)


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
    said = [_ruling(ruling) for ruling in standing]
    settled = {r.transaction_id for r in said if r.verdict in SETTLING}
    said += [_as_ruling(key, row) for key, row in entered.items() if key not in settled]
    told = lines_told(own, shop)
    paired = (
        _paired(ring_ups, [line for line in told if line.transaction_id not in settled], said)
        if shop.match_threshold <= PAIRED_PROBABILITY
        else {}
    )
    said += [_as_ruling(key, row) for key, row in paired.items() if key not in entered]
    used = {str(row["id"]) for row in paired.values()}
    known = {piece.item_id for piece in pieces}
    named = {item for ruling in said for item in ruling.item_ids}
    outside = await _off_rail(con, shop, sorted(named - known))
    return Gathered(
        evidence=Evidence(
            pieces=pieces + outside,
            lines=told,
            unit_minor=10 ** minor_units(shop.currency),
            rulings=tuple(said),
            ring_ups=tuple(
                _ring_up(row)
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


async def _off_rail(con: Connection, shop: Shop, item_ids: Sequence[str]) -> tuple[RailPiece, ...]:
    """Read the pieces that a person named though they were not on the rail."""
    rows = await con.fetch(
        """select id, tag_code, title, category, price_minor, quantity, cost_minor, floor_minor
             from item where shop_id = $1 and id = any($2) order by tag_code""",
        shop.shop_id,
        [UUID(item_id) for item_id in item_ids],
    )
    return tuple(piece_of(row, {}, shop, quantity=max(row["quantity"], 1)) for row in rows)


def piece_of(
    row: Row,
    elsewhere: Mapping[UUID, tuple[SoldElsewhere, ...]],
    shop: Shop,
    *,
    quantity: int,
    counted_home: int | None = None,
) -> RailPiece:
    """Turn a row of the rail, or of a channel's stock, into a piece."""
    columns = set(row.keys())
    put_out_at = _local(row["put_out_at"], shop) if "put_out_at" in columns else None
    return RailPiece(
        item_id=str(row["id"]),
        tag_code=row["tag_code"],
        title=row["title"],
        category=row["category"],
        price_minor=row["price_minor"],
        quantity=quantity,
        put_out_at=put_out_at,
        put_out_on=put_out_at.date() if put_out_at else None,
        counted_home=counted_home,
        sold_elsewhere=elsewhere.get(row["id"], ()),
        cost_minor=row["cost_minor"],
        floor_minor=row["floor_minor"],
        references=tuple(row["references"]) if "references" in columns else (),
        listed_on=row["listed_on"] if "listed_on" in columns else None,
        ended_on=row["ended_on"] if "ended_on" in columns else None,
    )


def lines_told(lines: Mapping[str, Row], shop: Shop) -> tuple[MoneyLine, ...]:
    """Turn rows into lines; a refund is related to the one line whose outside id it names."""
    named: dict[str, list[str]] = defaultdict(list)
    for key, row in lines.items():
        if row["external_id"] is not None and row["kind"] != "refund":
            named[row["external_id"]].append(key)
    return tuple(_line(key, row, named, shop) for key, row in lines.items())


def _line(key: str, row: Row, named: Mapping[str, Sequence[str]], shop: Shop) -> MoneyLine:
    related = [other for other in named.get(row["related_id"], ()) if other != key]
    return MoneyLine(
        transaction_id=str(row["id"]),
        kind=row["kind"],
        amount_minor=row["amount_minor"],
        occurred_on=row["occurred_on"],
        occurred_at=_local(row["occurred_at"], shop),
        tip_minor=row["tip_minor"],
        tax_minor=_tax(row, shop),
        tax_added=shop.tax_mode == "added",
        postage_minor=row["postage_minor"],
        method=row["method"],
        note=row["note"],
        title=row["title"],
        reference=row["reference"],
        tag_code=row["tag_code"],
        related_id=related[0] if len(related) == 1 else None,
        quantity=row["quantity"],
    )


def _tax(row: Row, shop: Shop) -> int | None:
    """Work out the tax on top of a stall's prices where the export does not tell it.

    What an online channel adds, it often keeps and does not show.
    """
    if row["tax_minor"] is not None or shop.tax_mode != "added" or row["event_id"] is None:
        return row["tax_minor"]  # type: ignore[no-any-return]  # the driver's rows have no types
    return tax_within(row["amount_minor"] - (row["tip_minor"] or 0), tax_of(shop))


def _local(moment: dt.datetime | None, shop: Shop) -> dt.datetime | None:
    """The shop's own clock, which questions and reasons speak of."""
    return None if moment is None else moment.astimezone(ZoneInfo(shop.time_zone))


def _ruling(ruling: rulings.Ruling) -> Ruling:
    return Ruling(
        transaction_id=str(ruling.transaction_id),
        verdict=ruling.kind,  # type: ignore[arg-type]  # the table's check holds the same words
        item_ids=tuple(str(item) for item in ruling.item_ids),
        pieces=ruling.pieces,
        related_id=str(ruling.related_transaction_id) if ruling.related_transaction_id else None,
        by=ruling.said_by,
        at=ruling.said_at,
    )


def _paired(
    ring_ups: Iterable[Row], lines: Sequence[MoneyLine], said: Sequence[Ruling]
) -> dict[str, Row]:
    waiting = {str(row["id"]): row for row in ring_ups if row["transaction_id"] is None}
    told = [_ring_up(row) for row in waiting.values()]
    pairs = pair_ring_ups(told, lines, refused_sets(said))
    return {transaction_id: waiting[ring_up] for transaction_id, ring_up in pairs.items()}


def _as_ruling(transaction_id: str, entered: Row) -> Ruling:
    """A sale entered at the stall tells what its money was for as well as a person's word."""
    items = tuple(str(item) for item in entered["item_ids"] or ())
    return Ruling(
        transaction_id=transaction_id,
        verdict="confirmed" if items else "no_piece",
        item_ids=items,
        by="entered at the sale",
    )


def _piece_ruling(ruling: rulings.PieceRuling) -> PieceRuling:
    return PieceRuling(
        item_id=str(ruling.item_id),
        still_here=ruling.still_here,
        by=ruling.said_by,
        at=ruling.said_at,
    )


def _ring_up(row: Row) -> RingUp:
    return RingUp(
        ring_up_id=str(row["id"]),
        item_ids=tuple(str(item) for item in row["item_ids"] or ()),
        total_minor=row["total_minor"],
        occurred_on=row["sold_on"],
        occurred_at=row["sold_at"],
        method=row["method"],
    )


def _stub(row: Row) -> Stub:
    return Stub(
        code=row["tag_code"],
        day=row["day"],
        position=row["position"] if row["ordered"] else None,
        price_minor=row["price_minor"],
    )


def _cash_totals(days: Iterable[Row]) -> Iterable[CashTotal]:
    for row in days:
        if row["counted_cash_minor"] is not None and row["float_minor"] is not None:
            taken = row["counted_cash_minor"] + row["taken_out_minor"] - row["float_minor"]
            yield CashTotal(day=row["day"], total_minor=taken)


def by_item(rows: Iterable[Row]) -> dict[UUID, tuple[SoldElsewhere, ...]]:
    """Group sales elsewhere by their item."""
    found: dict[UUID, list[SoldElsewhere]] = defaultdict(list)
    for row in rows:
        sale = SoldElsewhere(
            day=row["sold_on"], quantity=row["quantity"], probability=row["probability"]
        )
        found[row["item_id"]].append(sale)
    return {item_id: tuple(sales) for item_id, sales in found.items()}


def _habits(learned: Iterable[Mapping[str, float]]) -> Habits:
    """Join what single events taught, the oldest first: older ones fade."""
    habits = Habits()
    for gains in learned:
        habits = taught(habits, gains)
    return habits
