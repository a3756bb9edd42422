"""What was offered on the shop's channels other than a stall, sold or not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from stallkeep.domain.elsewhere import Offer
from stallkeep.domain.fees import take_home
from stallkeep.domain.money import half_up
from stallkeep.domain.tax import tax_in_price
from stallkeep.domain.tax_terms import TaxTerms, terms_on
from stallkeep.store import history_facts as store
from stallkeep.store.connection import Connection, Row
from stallkeep.store.shops import Shop
from stallkeep.work.dated_fees import DatedSchedules, dated_schedules
from stallkeep.work.shop_tax import tax_terms

LOOK_BACK = dt.timedelta(days=730)


async def read_offers(con: Connection, shop: Shop, today: dt.date) -> list[Offer]:
    """Read the offers of the last two years; a piece sold elsewhere meanwhile stopped waiting."""
    rows = await store.offered(con, shop.shop_id, today - LOOK_BACK)
    fees = await dated_schedules(con, shop.shop_id)
    terms = tax_terms(shop)
    return [_offer(row, fees, terms, today) for row in rows]


def _offer(row: Row, fees: DatedSchedules, terms: Sequence[TaxTerms], today: dt.date) -> Offer:
    if row["sold_channel_id"] != row["channel_id"]:
        ends = [day for day in (row["ended_on"], row["sold_on"], today) if day is not None]
        return Offer(
            channel=row["channel"],
            category=row["category"],
            days=_days(row["listed_on"], min(ends)),
            is_sold=False,
        )
    tax = terms_on(terms, row["sold_on"]).settings
    cost = row["cost_minor"]
    if cost is None and row["item_cost_minor"] is not None:
        cost = row["item_cost_minor"] * row["quantity"]
    return Offer(
        channel=row["channel"],
        category=row["category"],
        days=_days(row["listed_on"], row["sold_on"]),
        is_sold=True,
        take_home_minor=_left(row, fees) - tax_in_price(_kept_price(row), tax),
        cost_minor=cost,
    )


def _left(row: Row, fees: DatedSchedules) -> int:
    """Price less fees, postage and what was given back: as told, else by the day's schedule.

    Fees and postage of a sale are shared by all its pieces, what was given back by those kept.
    """
    price = _kept_price(row)
    if row["fee_minor"] is None:
        return take_home(fees.on(row["channel_id"], row["sold_on"]), price).take_home_minor
    beside: int = row["postage_minor"] - row["fee_minor"]
    return price + _share(beside, row["price_minor"], row["whole_minor"])


def _kept_price(row: Row) -> int:
    price: int = row["price_minor"]
    return price - _share(row["back_minor"], price, row["kept_minor"])


def _share(amount: int, price: int, whole: int) -> int:
    return half_up(amount * price, whole) if whole > 0 else 0


def _days(first: dt.date | None, last: dt.date) -> int | None:
    if first is None or last < first:
        return None
    return (last - first).days
