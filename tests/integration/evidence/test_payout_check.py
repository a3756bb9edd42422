"""Payouts of a channel and period, beside what lies around them, on a real database."""

from __future__ import annotations

import datetime as dt

from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store.engine import read_scope
from stallkeep.work.check_payouts import PayoutCheck, check_payouts

PAYMENTS = """\
Date,Time,Transaction ID,Amount,Fee,Net,Payout,Status
2026-09-01,10:00:00,p-1,40.00,1.00,39.00,S-1,approved
2026-09-02,10:00:00,p-2,25.00,0.60,24.40,,approved
2026-09-09,10:00:00,p-3,30.00,0.70,29.30,,approved
2026-09-10,10:00:00,p-4,12.00,0.40,11.60,,approved
"""
PAYOUTS = """\
Payout number,Paid out on,Gross,Fees,Net amount,Payout status
S-1,2026-09-03,40.00,1.00,39.00,arrived
S-2,2026-09-04,25.00,0.60,24.40,arrived
S-3,2026-09-10,30.00,0.70,29.30,arrived
S-4,2026-09-12,12.00,0.40,11.60,arrived
"""
SALES = """\
Order,Listing,Title,Sold on,Item price,Postage,Order total,Channel fee,Label cost,Order status
O-1,L-1,Grey cardigan,2026-09-08 15:00,50.00,4.90,54.90,5.00,4.55,paid
O-2,L-2,Waxed jacket,2026-09-08 16:00,50.00,0.00,50.00,5.00,0.00,paid
"""
TRANSFERRED = """\
Payout number,Paid out on,Gross,Fees,Net amount,Payout status
T-1,2026-09-10,104.90,14.55,90.35,arrived
"""
BANK = """\
OFXHEADER:100
DATA:OFXSGML
VERSION:102
SECURITY:NONE
ENCODING:UTF-8
CHARSET:NONE
COMPRESSION:NONE
OLDFILEUID:NONE
NEWFILEUID:NONE

<OFX><BANKMSGSRSV1><STMTTRNRS><TRNUID>1<STMTRS><CURDEF>EUR<BANKTRANLIST>
<DTSTART>20260901<DTEND>20260930
<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20260911<TRNAMT>29.30<FITID>k-1<NAME>card</STMTTRN>
<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20260911<TRNAMT>90.35<FITID>k-2<NAME>tidelist</STMTTRN>
<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20260911<TRNAMT>7.77<FITID>k-3<NAME>aunt</STMTTRN>
<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20260914<TRNAMT>11.60<FITID>k-4<NAME>card</STMTTRN>
</BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>
"""


async def a_month(database: Clone) -> World:
    world = await make_world(database.pool)
    await world.take_in(PAYMENTS, name="payments.csv")
    await world.take_in(PAYOUTS, name="payouts.csv")
    await world.take_in(SALES, name="sales.csv", channel=world.online)
    await world.take_in(TRANSFERRED, name="payouts.csv", channel=world.online)
    await world.take_in(BANK, name="bank.ofx")
    return world


async def named(world: World, found: PayoutCheck) -> tuple[list[str], list[str], list[str]]:
    """What is covered, uncovered and unknown, by outside ids."""
    query = "select id, external_id from transaction where shop_id = $1"
    name = {str(row["id"]): row["external_id"] for row in await world.rows(query)}
    covered = [name[one] for answer in found.payouts for one in answer.covers]
    return covered, [name[i] for i in found.uncovered], [name[i] for i in found.unknown_arrivals]


async def test_a_channels_payout_covers_its_sales_less_fee_and_postage(database: Clone) -> None:
    world = await a_month(database)
    async with read_scope(world.pool, world.shop.shop_id) as con:
        found = await check_payouts(con, world.shop, world.online)
    (payout,) = found.payouts
    assert (payout.gross_minor, payout.fees_minor, payout.off_minor) == (10_490, 1_455, 0)
    assert await named(world, found) == (["O-1", "O-2"], [], ["k-3"])


async def test_a_period_knows_what_lies_around_it(database: Clone) -> None:
    world = await a_month(database)
    period = dt.date(2026, 9, 4), dt.date(2026, 9, 11)
    async with read_scope(world.pool, world.shop.shop_id) as con:
        found = await check_payouts(con, world.shop, world.stall, *period)
    assert [answer.payout_id for answer in found.payouts] == ["S-2", "S-3"]
    assert await named(world, found) == (["p-2", "p-3"], [], ["k-3"])


async def test_the_whole_year_can_be_asked_from_the_first_day_to_the_last(database: Clone) -> None:
    world = await a_month(database)
    async with read_scope(world.pool, world.shop.shop_id) as con:
        found = await check_payouts(con, world.shop, world.stall, dt.date.min, dt.date.max)
    assert [answer.off_minor for answer in found.payouts] == [0, 0, 0, 0]


NAMED = """\
Payout number,Paid out on,Gross,Fees,Net amount,Payout status
PO-7781,2026-09-10,40.00,1.00,39.00,arrived
PO-7782,2026-09-11,-30.00,0.00,-30.00,arrived
"""
NAMING = BANK[: BANK.index("<STMTTRN>")] + (
    "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20260911<TRNAMT>38.90<FITID>k-1<MEMO>payout PO-7781"
    "</STMTTRN>"
    "<STMTTRN><TRNTYPE>OTHER<DTPOSTED>20260914<TRNAMT>-30.00<FITID>k-2<CORRECTFITID>k-0"
    "<CORRECTACTION>REPLACE<MEMO>po 7782</STMTTRN>"
    "</BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>\n"
)


async def test_a_bank_line_meets_the_payout_it_names_and_the_difference_is_told(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    await world.take_in(NAMED, name="payouts.csv")
    await world.take_in(NAMING, name="bank.ofx")
    async with read_scope(world.pool, world.shop.shop_id) as con:
        found = await check_payouts(con, world.shop, world.stall)
    told = [
        (found.amounts_minor[each.payout_id], each.arrived_minor, each.bank_id is not None)
        for each in found.payouts
    ]
    assert told == [(3900, 3890, True), (-3000, -3000, True)]
    assert found.unknown_arrivals == ()
