"""truth.json: what every record was really for, so that answers can be checked."""

from __future__ import annotations

from dataclasses import dataclass

from demo.exports_cards import OLD_PAYMENTS, PAYMENTS, Line
from demo.exports_paper import OLD_TALLY, TALLY
from demo.sales import Sale
from demo.sheet import Sheet, point
from demo.sums import fair_result
from demo.typed import Json
from demo.words import FAIR, LUMPELIO, SHELVORRA
from demo.world import World


@dataclass(frozen=True)
class Evidence:
    """The files, with what their writers know about them.

    Attributes:
        sheets: Every file, in the order of taking in.
        lines: Uses of the new reader.
        records: Payment number to record.
        old: Number, record and sale of the old reader's payments.
        tally: Record to sale of the fair's cash tally.
        old_tally: The same of the earlier events.
        torn_stubs: Tag codes whose stub cannot be taken.
        slips: Tag codes of pieces at home that the count lacks, and what it has instead.
        payouts: Payout number to net amount, in cents.
    """

    sheets: list[Sheet]
    lines: list[Line]
    records: dict[str, int]
    old: list[tuple[str, int, Sale]]
    tally: dict[int, Sale]
    old_tally: dict[int, Sale]
    torn_stubs: list[str]
    slips: dict[str, str]
    payouts: dict[str, int]


def truth(world: World, evidence: Evidence) -> dict[str, Json]:
    """Put down the truth about every payment, and the sums that follow."""
    return {
        "files": {s.name: {**s.counts(), "faults": [*s.faults]} for s in evidence.sheets},
        "payments": _fair_payments(evidence),
        "earlier_payments": _earlier_payments(world, evidence),
        "forgotten_sales": [
            {"at": sale.at.isoformat(), **_what(sale)} for sale in world.sales if sale.forgotten
        ],
        "orders": [
            {"channel": name, "external_id": order.number, "tag_code": order.piece.tag_code}
            for name, orders in world.orders.items()
            for order in orders
        ],
        "sold_twice": [world.sold_twice.tag_code],
        "sold_online_from_the_rail": [world.sold_from_rail.tag_code],
        "take_downs": _take_downs(world),
        "torn_stubs": [*evidence.torn_stubs],
        "count_slips": dict(evidence.slips),
        "home": sorted(piece.tag_code for piece in world.home),
        "payouts": {number: point(cents) for number, cents in evidence.payouts.items()},
        "result": {FAIR: fair_result(world, evidence.lines)},
    }


def _what(sale: Sale) -> dict[str, Json]:
    shares = zip(sale.pieces, sale.shares, strict=True) if sale.pieces else ()
    return {
        "method": sale.method,
        "amount": point(sale.amount),
        "tip": point(sale.tip),
        "what": sale.what,
        "pieces": {piece.tag_code: point(cents) for piece, cents in shares},
    }


def _fair_payments(evidence: Evidence) -> list[Json]:
    card: list[Json] = []
    for line in evidence.lines:
        entry: dict[str, Json] = {"file": PAYMENTS, "record": evidence.records[line.number]}
        entry |= {"external_id": line.number, **_what(line.sale)}
        if line.kind != "payment":
            entry |= {"what": line.kind, "amount": point(line.amount), "tip": point(line.tip)}
        card.append({**entry, "refund_of": line.related} if line.related else entry)
    cash: list[Json] = [
        {"file": TALLY, "record": record, **_what(sale)} for record, sale in evidence.tally.items()
    ]
    return card + cash


def _earlier_payments(world: World, evidence: Evidence) -> list[Json]:
    names = {id(sale): each.event.name for each in world.earlier for sale in each.sales}
    card: list[Json] = [
        {
            "event": names[id(sale)],
            "file": OLD_PAYMENTS,
            "record": record,
            "external_id": number,
            **_what(sale),
        }
        for number, record, sale in evidence.old
    ]
    cash: list[Json] = [
        {"event": names[id(sale)], "file": OLD_TALLY, "record": record, **_what(sale)}
        for record, sale in evidence.old_tally.items()
    ]
    return card + cash


def _take_downs(world: World) -> list[Json]:
    """List the live listings of pieces that went elsewhere."""
    home = {piece.tag_code for piece in world.home}
    at_stall = {piece.tag_code for sale in world.sales for piece in sale.pieces} - home
    found: list[Json] = []
    for channel, other in ((LUMPELIO, SHELVORRA), (SHELVORRA, LUMPELIO)):
        here = {order.piece.tag_code for order in world.orders[channel]}
        gone = (at_stall | {order.piece.tag_code for order in world.orders[other]}) - here
        found += [
            {
                "channel": channel,
                "reference": listing.piece.listed[channel],
                "tag_code": listing.piece.tag_code,
            }
            for listing in world.listings[channel]
            if listing.state == "live" and listing.piece.tag_code in gone
        ]
    return found
