"""A shop whose online channel changes step by step at random, for tests of its matching."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any
from uuid import UUID

from tests.evidence_world import World

from stallkeep.domain.errors import StallkeepError
from stallkeep.store import matches
from stallkeep.store.engine import scope
from stallkeep.store.ids import new_id
from stallkeep.work.join_payments import join_payments
from stallkeep.work.named_pieces import PiecePrice
from stallkeep.work.rule_on_transaction import confirm, refuse, set_aside, take_back
from stallkeep.work.settle_refund import RefundSaid, settle_refund

DAY = dt.date(2026, 5, 4)
ADJECTIVES = ("navy", "grey", "waxed", "blue", "speckled")
MATERIALS = ("wool", "linen", "clay")
NOUNS = ("coat", "jug", "bowl", "scarf")
PRICES = (1500, 2000, 2000, 2400)

_LINE = """
insert into transaction (shop_id, id, channel_id, import_id, row_key, content_key, kind,
                         amount_minor, currency, occurred_on, ordered_at, external_id, reference,
                         title, related_id, match_state)
values ($1, $2, $3, $4, $5, gen_random_uuid(), $6, $7, $8, $9, $9::date + time '12:00', $10, $11,
        $12, $13, 'unmatched')
"""
_STATES = """
select id, match_state, match_reason from transaction
 where shop_id = $1 and channel_id = $2 and event_id is null order by id
"""
_MATCHES = """
select m.transaction_id, m.state, m.explanation, m.rank, m.probability, m.reason, m.evidence,
       m.related_transaction_id, m.decided_by, s.method, s.total_minor, s.sold_on, s.origin,
       (select array_agg(array[i.item_id::text, i.quantity::text, i.price_minor::text]
                         order by i.item_id)
          from match_item i where i.shop_id = m.shop_id and i.match_id = m.id) as pieces,
       (select array_agg(array[l.item_id::text, l.quantity::text, l.price_minor::text]
                         order by l.item_id)
          from sale_line l where l.shop_id = m.shop_id and l.sale_id = m.sale_id) as sold
  from match m join transaction t on t.shop_id = m.shop_id and t.id = m.transaction_id
  left join sale s on s.shop_id = m.shop_id and s.id = m.sale_id
 where m.shop_id = $1 and t.channel_id = $2 and t.event_id is null
 order by m.transaction_id, m.rank
"""
_SOLD = "select id, sold from item where shop_id = $1 order by id"


class ChannelWorld:
    """The shop and its dice."""

    def __init__(self, world: World, seed: int) -> None:
        self.world = world
        self.dice = random.Random(seed)  # noqa: S311 - chance, not secrecy
        self.number = 0
        self.sales: list[UUID] = []
        self.ours: list[UUID] = []

    @property
    def shop_id(self) -> UUID:
        return self.world.shop.shop_id

    def title(self) -> str:
        """A title of few words, so that many are alike; now and then one with a slip."""
        parts = [self.dice.choice(words) for words in (ADJECTIVES, MATERIALS, NOUNS)]
        if self.dice.random() < 0.3:
            parts.pop(self.dice.randrange(3))
        if self.dice.random() < 0.2:
            parts.append(self.dice.choice(("sale", "vintage", "jgu", "woool")))
        return " ".join(parts)

    async def step(self) -> str:
        """Let something happen; gives its name."""
        happen = self.dice.choice(
            (
                self.bring_sales,
                self.bring_sales,
                self.bring_refunds,
                self.list_items,
                self.list_items,
                self.change_line,
                self.lose_line,
                self.change_listing,
                self.lose_listing,
                self.change_item,
                self.say_pieces,
                self.say_not,
                self.say_aside,
                self.say_refund,
                self.unsay,
                self.sell_elsewhere,
                self.void_elsewhere,
                self.move_to_event,
                self.join,
            )
        )
        try:
            await happen()
        except StallkeepError as refused:
            return f"{happen.__name__}: {refused.code}"
        return happen.__name__

    async def run(self, statement: str, *values: object) -> None:
        async with scope(self.world.pool, self.shop_id) as con:
            await con.execute(statement, self.shop_id, *values)

    async def _set(self, table: str, key: UUID, column: str, value: object) -> None:
        statement = f"update {table} set {column} = $3 where shop_id = $1 and id = $2"  # noqa: S608
        await self.run(statement, key, value)

    async def some(self, query: str, *values: object) -> Any:  # noqa: ANN401 - a row or nothing
        """Draw one of the rows of a query, which orders them."""
        rows = await self.world.rows(query, *values)
        return self.dice.choice(rows) if rows else None

    async def list_items(self) -> None:
        for _ in range(self.dice.randint(1, 3)):
            self.number += 1
            item = new_id()
            price = self.dice.choice(PRICES)
            many = self.dice.choice((1, 1, 1, 2))
            await self.run(
                "insert into item (shop_id, id, tag_code, title, price_minor, quantity) "
                "values ($1, $2, $3, $4, $5, $6)",
                item,
                f"T{self.dice.randrange(10**6):06}{self.number}",
                self.title(),
                price,
                many,
            )
            await self.run(
                "insert into listing (shop_id, id, channel_id, item_id, reference, title, "
                "price_minor, state, listed_on) values ($1, $2, $3, $4, $5, 'x', $6, 'live', $7)",
                new_id(),
                self.world.online,
                item,
                f"L-{self.number}",
                price,
                DAY - dt.timedelta(days=self.dice.randint(-3, 20)),
            )

    async def bring_sales(self) -> None:
        await self.bring(
            [
                (
                    "sale",
                    self.dice.choice(PRICES) - self.dice.choice((0, 0, 0, 300, 2400)),
                    self.dice.choice((None, None, f"L-{self.dice.randint(1, 30)}")),
                    self.title(),
                    None,
                )
                for _ in range(self.dice.randint(1, 5))
            ]
        )

    async def bring_refunds(self) -> None:
        named = await self.some(
            "select external_id from transaction where shop_id = $1 and kind = 'sale' order by id"
        )
        name = named["external_id"] if named and self.dice.random() < 0.6 else None
        await self.bring([("refund", -self.dice.choice(PRICES), None, None, name)])

    async def bring(self, rows: list[tuple[Any, ...]]) -> None:
        """Bring kind, amount, reference, title and related id of each line as one import."""
        import_id = new_id()
        async with scope(self.world.pool, self.shop_id) as con:
            place = (self.shop_id, import_id, self.world.online)
            await con.execute(
                "insert into import (shop_id, id, channel_id, importer, file_name, state) "
                "values ($1, $2, $3, 'test', 'sales.csv', 'running')",
                *place,
            )
            for kind, amount, reference, title, related in rows:
                self.number += 1
                name = f"o-{self.number}"
                day = DAY + dt.timedelta(days=self.dice.randrange(10))
                currency = self.dice.choice(("EUR",) * 12 + ("SEK",))
                given = (f"i:{kind}:{name}", kind, amount, currency, day, name, reference)
                where = (self.shop_id, new_id(), self.world.online, import_id)
                await con.execute(_LINE, *where, *given, title, related)
            await con.execute(
                "update import set state = 'done' where shop_id = $1 and id = $2", *place[:2]
            )

    async def a_line(self, more: str = "") -> Any:  # noqa: ANN401 - a row or nothing
        return await self.some(
            "select id, kind from transaction where shop_id = $1 and channel_id = $2 "  # noqa: S608
            f"{more} order by id",
            self.world.online,
        )

    async def an_item(self) -> Any:  # noqa: ANN401 - likewise
        return await self.some(
            "select distinct item_id as id from listing where shop_id = $1 and channel_id = $2 "
            "order by item_id",
            self.world.online,
        )

    async def change_line(self) -> None:
        if line := await self.a_line("and kind = 'sale'"):
            what, value = self.dice.choice(
                (
                    ("amount_minor", self.dice.choice(PRICES)),
                    ("title", self.title()),
                    ("reference", f"L-{self.dice.randint(1, 30)}"),
                    ("method", "online"),
                    ("occurred_on", DAY + dt.timedelta(days=self.dice.randrange(10))),
                )
            )
            await self._set("transaction", line["id"], what, value)

    async def lose_line(self) -> None:
        if line := await self.a_line():
            async with scope(self.world.pool, self.shop_id) as con:
                await matches.release(con, self.shop_id, [line["id"]], also_decided=True)
                for table in ("ruling", "conflict"):
                    await con.execute(
                        f"delete from {table} where shop_id = $1 and transaction_id = $2",  # noqa: S608
                        self.shop_id,
                        line["id"],
                    )
                await con.execute(
                    "delete from transaction where shop_id = $1 and id = $2 and not exists ("
                    "select from ruling r where r.shop_id = $1 and r.related_transaction_id = $2)",
                    self.shop_id,
                    line["id"],
                )

    async def change_listing(self) -> None:
        listing = await self.some("select id from listing where shop_id = $1 order by id")
        if listing:
            what, value = self.dice.choice(
                (
                    ("price_minor", self.dice.choice(PRICES)),
                    ("ended_on", DAY + dt.timedelta(days=self.dice.randrange(6))),
                    ("reference", f"L-{self.dice.randint(31, 10**6)}"),
                )
            )
            await self._set("listing", listing["id"], what, value)

    async def lose_listing(self) -> None:
        if self.dice.random() < 0.4 and (item := await self.an_item()):
            await self.run("delete from listing where shop_id = $1 and item_id = $2", item["id"])

    async def change_item(self) -> None:
        if item := await self.an_item():
            if self.dice.random() < 0.7:
                await self._set("item", item["id"], "title", self.title())
            else:
                await self.run(
                    "update item set quantity = greatest(sold, $3) where shop_id = $1 and id = $2",
                    item["id"],
                    self.dice.randint(1, 3),
                )

    async def say_pieces(self) -> None:
        line, item = await self.a_line("and kind = 'sale'"), await self.an_item()
        if line and item:
            said = [PiecePrice(item_id=item["id"])]
            await confirm(self.world.pool, self.world.shop, line["id"], said, "Ada")

    async def say_not(self) -> None:
        line = await self.a_line("and match_state in ('matched', 'proposed') and kind = 'sale'")
        if line:
            async with scope(self.world.pool, self.shop_id) as con:
                stored = await matches.matches_of(con, self.shop_id, [line["id"]])
            said = [PiecePrice(item_id=UUID(p["item_id"])) for p in stored[0].pieces]
            await refuse(self.world.pool, self.world.shop, line["id"], said, "Ada")

    async def say_aside(self) -> None:
        if line := await self.a_line():
            await set_aside(self.world.pool, self.world.shop, line["id"], "a test", "Ada")

    async def say_refund(self) -> None:
        refund, payment = await self.a_line("and kind = 'refund'"), await self.a_line()
        if refund and payment:
            said = RefundSaid(payment_id=payment["id"], by="Ada")
            now = dt.datetime.combine(DAY + dt.timedelta(days=30), dt.time(), dt.UTC)
            await settle_refund(self.world.pool, self.world.shop, refund["id"], said, now)

    async def unsay(self) -> None:
        ruled = await self.some(
            "select distinct transaction_id as id from ruling where shop_id = $1 order by 1"
        )
        if ruled:
            await take_back(self.world.pool, self.world.shop, ruled["id"])

    async def sell_elsewhere(self) -> None:
        item = await self.some(
            "select id from item where shop_id = $1 and sold < quantity order by id"
        )
        if item:
            sale = new_id()
            async with scope(self.world.pool, self.shop_id) as con:
                await con.execute(
                    "insert into sale (shop_id, id, channel_id, origin, total_minor, sold_on) "
                    "values ($1, $2, $3, 'typed', 1000, $4)",
                    self.shop_id,
                    sale,
                    self.world.stall,
                    DAY,
                )
                await con.execute(
                    "insert into sale_line (shop_id, sale_id, line_no, item_id, price_minor) "
                    "values ($1, $2, 1, $3, 1000)",
                    self.shop_id,
                    sale,
                    item["id"],
                )

    async def void_elsewhere(self) -> None:
        sale = await self.some(
            "select id from sale where shop_id = $1 and origin = 'typed' order by id"
        )
        if sale:
            await self.run("delete from sale where shop_id = $1 and id = $2", sale["id"])

    async def move_to_event(self) -> None:
        if line := await self.a_line():
            await self.run(
                "update transaction set event_id = case when event_id is null then $3::uuid end "
                "where shop_id = $1 and id = $2",
                line["id"],
                self.world.event,
            )

    async def join(self) -> None:
        lines = [await self.a_line("and kind = 'sale' and event_id is null") for _ in range(2)]
        item = await self.an_item()
        if item and all(lines) and lines[0]["id"] != lines[1]["id"]:
            said = [PiecePrice(item_id=item["id"])]
            one, other = (line["id"] for line in lines)
            await self.run(
                "update transaction set occurred_on = o.occurred_on from transaction o "
                "where transaction.shop_id = $1 and transaction.id = $2 and o.id = $3",
                one,
                other,
            )
            await join_payments(self.world.pool, self.world.shop, one, [other], said, by="Ada")

    async def stored(self) -> dict[str, Any]:
        """Everything that stands, without ids of its own."""
        online = self.world.online
        return {
            "states": await self.world.rows(_STATES, online),
            "matches": await self.world.rows(_MATCHES, online),
            "sold": await self.world.rows(_SOLD),
        }

    async def forget(self) -> None:
        """Forget every answer, and all that runs remember but how common words and prices are."""
        async with scope(self.world.pool, self.shop_id) as con:
            rows = await con.fetch(_STATES, self.shop_id, self.world.online)
            ids = [row["id"] for row in rows]
            await matches.release(con, self.shop_id, ids, also_decided=False)
            await con.execute("delete from match_line where shop_id = $1", self.shop_id)
            await con.execute("delete from match_term where shop_id = $1", self.shop_id)
            await con.execute("delete from match_news where shop_id = $1", self.shop_id)
