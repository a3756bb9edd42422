"""Set the demo's shop up through the API, as a person would have typed it in.

Every step may be repeated: what is there already is found by its Idempotency-Key or set again to
the same.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import msgspec

from stallkeep.api.fee_terms import show_terms
from stallkeep.cli.local_client import LocalClient
from stallkeep.domain.fees import FeeSchedule

Json = Mapping[str, Any]


class DemoShop:
    """The demo's shop: what was typed in, and the ids it got.

    Attributes:
        setup: The contents of setup.json.
        channels: Name → id.
        events: Name → id.
    """

    def __init__(self, client: LocalClient, folder: Path) -> None:
        self.setup: Json = msgspec.json.decode((folder / "setup.json").read_bytes())
        self.channels: dict[str, str] = {}
        self.events: dict[str, str] = {}
        self._client = client
        self._folder = folder

    @property
    def zone(self) -> ZoneInfo:
        """The shop's zone."""
        return ZoneInfo(self.setup["shop"]["time_zone"])

    def files(self, stage: str) -> list[Json]:
        """List the exports of a stage, in the order they are taken in."""
        return [file for file in self.setup["files"] if file["stage"] == stage]

    async def set_up_stock(self) -> None:
        """Make the channels with their fees, and the pieces that are listed nowhere."""
        for channel in self.setup["channels"]:
            await self._add_channel(channel)
        for piece in self.setup["pieces"]:
            await self._client.post("/v1/items", piece, key=f"demo/item/{piece['tag_code']}")

    async def set_up_events(self) -> None:
        """Complete the pieces that came with the listings, then make the events."""
        ids = await self._ids_by_code()
        for purchase in self.setup["purchases"]:
            changes = {name: value for name, value in purchase.items() if name != "tag_code"}
            await self._client.patch(f"/v1/items/{ids[purchase['tag_code']]}", changes)
        for event in self.setup["events"]:
            await self._add_event(event)

    async def take_in(self, file: Json) -> Json:
        """Take one of the exports in."""
        data = (self._folder / file["name"]).read_bytes()
        event = file["event"]
        done: Json = await self._client.upload(
            "/v1/imports",
            data,
            importer=file["importer"],
            channel=self.channels[file["channel"]],
            event=None if event is None else self.events[event],
            file_name=file["name"],
        )
        return done

    async def _ids_by_code(self) -> dict[str, str]:
        items = await self._client.every("/v1/items")
        return {item["tag_code"]: item["id"] for item in items}

    async def _add_channel(self, channel: Json) -> None:
        body = {"name": channel["name"], "kind": channel["kind"]}
        key = f"demo/channel/{channel['name']}"
        made = await self._client.post("/v1/channels", body, key=key)
        self.channels[channel["name"]] = made["id"]
        for fees in channel["fees"]:
            terms = msgspec.convert(fees["terms"], FeeSchedule)
            shown = show_terms(terms, self.setup["shop"]["currency"])
            path = f"/v1/channels/{made['id']}/fees/{fees['valid_from']}"
            await self._client.put(path, shown)

    async def _add_event(self, event: Json) -> None:
        days = event["days"]
        body = {
            "channel_id": self.channels[event["channel"]],
            "starts_on": min(day["day"] for day in days),
            "ends_on": max(day["day"] for day in days),
            "days": [_new_day(day) for day in days],
            **_only(event, ("name", "venue", "pitch", "kind", "note", "own_minutes")),
        }
        made = await self._client.post("/v1/events", body, key=f"demo/event/{event['name']}")
        event_id = self.events[event["name"]] = made["id"]
        await self._add_days(event_id, days)
        for number, cost in enumerate(event["costs"]):
            key = f"demo/cost/{event['name']}/{number}"
            await self._client.post("/v1/costs", {**cost, "event_id": event_id}, key=key)
        pieces = [self._rail_piece(piece) for piece in event["rail"]]
        await self._client.put(f"/v1/events/{event_id}/rail", {"pieces": pieces})

    async def _add_days(self, event_id: str, days: Iterable[Json]) -> None:
        counted = [day for day in days if day.get("counted_cash") is not None]
        for day in counted:
            body = {"counted_cash": day["counted_cash"]}
            await self._client.patch(f"/v1/events/{event_id}/days/{day['day']}", body)
        if counted:
            await self._client.patch(f"/v1/events/{event_id}", {"state": "closed"})

    def _rail_piece(self, piece: Json) -> Json:
        put_out = piece.get("put_out_at")
        if put_out is None:
            return piece
        local = dt.datetime.fromisoformat(put_out).replace(tzinfo=self.zone)
        return {**piece, "put_out_at": local.isoformat()}


def _only(values: Json, names: Iterable[str]) -> dict[str, Any]:
    return {name: values[name] for name in names if values.get(name) is not None}


def _new_day(day: Json) -> dict[str, Any]:
    """What is known of a day beforehand; times get their seconds."""
    known = _only(day, ("day", "pitch_fee", "float"))
    hours = {name: f"{day[name]}:00" for name in ("opens_at", "closes_at") if day.get(name)}
    return {**known, **hours}
