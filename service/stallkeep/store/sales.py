"""Sales and their lines."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final
from uuid import UUID

import msgspec
from sqlalchemy import ARRAY, Date, Integer, Uuid, any_, bindparam, select

from stallkeep.store.connection import Connection
from stallkeep.store.constraints import naming_constraints
from stallkeep.store.lists import KeysetList
from stallkeep.store.query import Query
from stallkeep.store.rows import Rows
from stallkeep.store.statements import here
from stallkeep.store.tables import item, sale, sale_line


class Sale(msgspec.Struct, frozen=True, gc=False):
    """What was sold to one customer; without `transaction_id` its payment has not come yet.

    Attributes:
        total_minor: What the customer pays.
        tax_minor: Sales tax within it; None where none was worked out.
        tax_added: True when the tax comes on top of the lines' prices.
        taxes: The tax per rate: name, rate_ppm, tax_minor.
        cash_rounding_minor: Within the total: added to reach the smallest coin.
    """

    id: UUID
    channel_id: UUID
    event_id: UUID | None
    origin: str
    method: str | None
    total_minor: int
    tax_minor: int | None
    tax_added: bool
    taxes: list[Any]
    cash_rounding_minor: int
    sold_at: dt.datetime | None
    sold_on: dt.date
    state: str
    transaction_id: UUID | None
    note: str | None
    created_at: dt.datetime
    version: int


class SaleLine(msgspec.Struct, frozen=True, gc=False):
    """One line: an item of the stock, or an untagged piece. `price_minor` is for all of it.

    `tax_minor` is its part of the sale's tax; None where none was worked out.
    """

    sale_id: UUID
    line_no: int
    item_id: UUID | None
    title: str | None
    quantity: int
    price_minor: int
    cost_minor: int | None
    tax_minor: int | None
    state: str
    tag_code: str | None


_LINES: Final = Query(
    select(*(sale_line.c[name] for name in SaleLine.__struct_fields__[:-1]), item.c.tag_code)
    .outerjoin(item, (item.c.shop_id == sale_line.c.shop_id) & (item.c.id == sale_line.c.item_id))
    .where(here(sale_line), sale_line.c.sale_id == any_(bindparam("ids", type_=ARRAY(Uuid()))))
    .order_by(sale_line.c.sale_id, sale_line.c.line_no),
    SaleLine,
)
_LINE_COLUMNS: Final = ("shop_id", *SaleLine.__struct_fields__[:-2])
_ADD_LINE: Final = Query(
    sale_line.insert().values({name: bindparam(name) for name in _LINE_COLUMNS})
)
# Always the item before its lines: a change of any sale may change what others of the item cost.
_LOCK_ITEMS: Final = Query(
    select(item.c.id)
    .where(
        here(item),
        item.c.id.in_(
            select(sale_line.c.item_id).where(
                here(sale_line), sale_line.c.sale_id == bindparam("of_sale")
            )
        ),
    )
    .order_by(item.c.id)
    .with_for_update()
)
_THESE_LINES: Final = (
    here(sale_line)
    & (sale_line.c.sale_id == bindparam("of_sale"))
    & (sale_line.c.line_no == any_(bindparam("line_nos", type_=ARRAY(Integer()))))
)
_GIVE_BACK: Final = Query(
    sale_line.update().where(_THESE_LINES, sale_line.c.state == "sold").values(state="returned")
)
_SELL_AGAIN: Final = Query(
    sale_line.update().where(_THESE_LINES, sale_line.c.state == "returned").values(state="sold")
)

_SALES: Final = Rows(sale, Sale)
find_sale = _SALES.find
lock_sale = _SALES.lock
add_sale = _SALES.add  # without its lines: `add_lines` follows
change_sale = _SALES.change

_LIST: Final = KeysetList(
    sale,
    Sale,
    (sale.c.sold_on, sale.c.id),
    {
        "event_id": sale.c.event_id == bindparam("event_id"),
        "channel_id": sale.c.channel_id == bindparam("channel_id"),
        "from_on": sale.c.sold_on >= bindparam("from_on", type_=Date()),
        "to_on": sale.c.sold_on <= bindparam("to_on", type_=Date()),
        "payment": {
            "waiting": sale.c.transaction_id.is_(None) & (sale.c.state == "done"),
            "known": sale.c.transaction_id.is_not(None),
        },
    },
)
list_sales = _LIST.read
"""Read the latest first; filters: event_id, channel_id, from_on, to_on, payment."""


async def lines_of(
    con: Connection, shop_id: UUID, sale_ids: Sequence[UUID]
) -> dict[UUID, list[SaleLine]]:
    """Read the lines of these sales, each sale's in order."""
    found: dict[UUID, list[SaleLine]] = {sale_id: [] for sale_id in sale_ids}
    for line in await _LINES.all(con, shop_id=shop_id, ids=list(sale_ids)):
        found[line.sale_id].append(line)
    return found


async def add_lines(con: Connection, shop_id: UUID, lines: Iterable[Mapping[str, object]]) -> None:
    """Write lines; each takes its pieces off the stock.

    Raises:
        ItemAlreadySoldError: There are not that many pieces left.
    """
    with naming_constraints():
        await _ADD_LINE.execute_many(con, [{"shop_id": shop_id, **line} for line in lines])


async def give_back(con: Connection, shop_id: UUID, sale_id: UUID, line_nos: Sequence[int]) -> None:
    """Put the pieces of these lines back into stock."""
    await _LOCK_ITEMS.all(con, shop_id=shop_id, of_sale=sale_id)
    await _GIVE_BACK.execute(con, shop_id=shop_id, of_sale=sale_id, line_nos=list(line_nos))


async def sell_again(
    con: Connection, shop_id: UUID, sale_id: UUID, line_nos: Sequence[int]
) -> None:
    """Take the pieces of lines that came back off the stock again.

    Raises:
        ItemAlreadySoldError: There are not that many pieces left.
    """
    await _LOCK_ITEMS.all(con, shop_id=shop_id, of_sale=sale_id)
    with naming_constraints():
        await _SELL_AGAIN.execute(con, shop_id=shop_id, of_sale=sale_id, line_nos=list(line_nos))
