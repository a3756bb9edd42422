"""A small shop asked over HTTP, for tests of what a seller says and is told."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from typing import Any

import msgspec
from tests.api_client import Client
from tests.database import Clone
from tests.evidence_world import PIECES, World, make_world

from stallkeep.api.app import create_app
from stallkeep.config import Settings
from stallkeep.store.engine import scope
from stallkeep.work.hand_out_token import hand_out_token

Json = dict[str, Any]
CARDS = "Date,Time,Transaction ID,Amount,Note\n"
MORNING = "2026-09-11T10:12:00+02:00"


class Desk(msgspec.Struct):
    """A world and its owner Ada's client of the API."""

    world: World
    client: Client

    async def cards(self, *rows: str) -> None:
        """Take in card payments: day, time, id, amount, note."""
        await self.world.take_in(CARDS + "".join(f"{row}\n" for row in rows))

    async def run(self) -> Json:
        """Reconcile the event."""
        done: Json = await self.client.post(
            "/v1/reconciliations", {"event_id": str(self.world.event)}
        )
        return done

    async def line(self, external_id: str) -> Json:
        """Read the transaction with this outside id."""
        found = (await self.client.get("/v1/transactions?limit=200"))["data"]
        return next(t for t in found if t["external_id"] == external_id)

    async def say(self, external_id: str, what: str, body: Json) -> Json:
        """Say something about a transaction, which must be taken."""
        told: Json = await self.client.put(await self.place(external_id, what), body)
        return told

    async def place(self, external_id: str, what: str) -> str:
        """Where something is said about a transaction."""
        return f"/v1/transactions/{(await self.line(external_id))['id']}/{what}"

    async def ring_up(self, tag_code: str, price: str, **more: str) -> Json:
        """Enter a sale at the stall."""
        body = {
            "event_id": str(self.world.event),
            "sold_at": MORNING,
            "lines": [{"tag_code": tag_code, "price": price}],
            **more,
        }
        told: Json = await self.client.post("/v1/sales", body)
        return told

    async def pieces(self, external_id: str) -> list[str]:
        """Codes of what a transaction is matched or most likely for; each once per piece."""
        found = (await self.line(external_id))["matches"]
        best = found[0]["pieces"] if found else []
        return [piece["tag_code"] for piece in best for _ in range(piece["quantity"])]


async def owner_client(world: World) -> Client:
    """Give a client of a world's service that comes as its owner Ada."""
    async with scope(world.pool, world.shop.shop_id) as con:
        _, token = await hand_out_token(con, world.shop.shop_id, "Ada", "owner")
    return Client(create_app(Settings(), world.pool), world.pool, world.shop, token)


@asynccontextmanager
async def open_desk(
    database: Clone, pieces: Sequence[tuple[str, str, int, int]] = PIECES
) -> AsyncIterator[Desk]:
    """Open a shop with pieces on the rail of an event, and a client for its owner."""
    world = await make_world(database.pool, pieces=pieces)
    client = await owner_client(world)
    async with client.http:
        yield Desk(world, client)
