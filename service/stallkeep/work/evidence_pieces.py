"""Rows of the rail, or of a channel's stock, as pieces of the evidence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from uuid import UUID

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
