"""Rows of the rail, or of a channel's stock, as pieces of the evidence."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from uuid import UUID

import msgspec

from stallkeep.domain.matching import RailPiece, SoldElsewhere
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.time_zones import on_shops_clock


async def pieces_off_rail(
    con: Connection, shop: Shop, item_ids: Sequence[str]
) -> tuple[RailPiece, ...]:
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
    put_out_at = (
        on_shops_clock(row["put_out_at"], shop.time_zone) if "put_out_at" in columns else None
    )
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


def by_item(rows: Iterable[Row]) -> dict[UUID, tuple[SoldElsewhere, ...]]:
    """Group sales elsewhere by their item."""
    found: dict[UUID, list[SoldElsewhere]] = defaultdict(list)
    for row in rows:
        sale = SoldElsewhere(
            day=row["sold_on"], quantity=row["quantity"], probability=row["probability"]
        )
        found[row["item_id"]].append(sale)
    return {item_id: tuple(sales) for item_id, sales in found.items()}


def less_at_home(
    elsewhere: Mapping[UUID, tuple[SoldElsewhere, ...]], at_home: Mapping[UUID, int]
) -> dict[UUID, tuple[SoldElsewhere, ...]]:
    """Leave out sales of pieces that were not on the rail, the earliest first.

    Args:
        elsewhere: Sales elsewhere by item.
        at_home: How many of each item there are beside those on the rail, those sold included.
    """
    return {
        item_id: tuple(_beyond(sorted(sales, key=_order), at_home.get(item_id, 0)))
        for item_id, sales in elsewhere.items()
    }


def _order(sale: SoldElsewhere) -> tuple[dt.date, float, int]:
    return sale.day, -sale.probability, sale.quantity


def _beyond(sales: Iterable[SoldElsewhere], number: int) -> Iterator[SoldElsewhere]:
    for sale in sales:
        spared = min(max(number, 0), sale.quantity)
        number -= spared
        if sale.quantity > spared:
            yield msgspec.structs.replace(sale, quantity=sale.quantity - spared)
