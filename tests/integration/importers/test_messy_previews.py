"""Messy exports through the preview route: the service shows what the importers say."""

from __future__ import annotations

import io
import json
from collections import Counter
from collections.abc import AsyncIterator
from typing import Any

import httpx
import msgspec
import pytest
from tests.database import Clone
from tests.desk import owner_client
from tests.evidence_world import make_world
from tests.unit.importers.ledger import Messy, messy_files

from stallkeep.store.shops import Shop
from stallkeep_importers.contract import ImportStop, Layout, Notice, Options, QuestionError

SHOP_FACTS = {"currency", "time_zone", "languages"}
LEAST_KNOWN = 0.7  # the others are bare tables of days and amounts, which are asked about


class Desk(msgspec.Struct):
    """The shop, and a client of its API."""

    shop: Shop
    http: httpx.AsyncClient

    async def preview(self, file: Messy, **query: str) -> dict[str, Any]:
        """Ask for a preview; a question of whose file it is comes as a problem."""
        said = {key: value for key, value in file.options.items() if key not in SHOP_FACTS}
        columns = said.pop("columns", None)
        query |= {"columns": json.dumps(columns)} if columns else {}
        query |= {"answers": json.dumps(said)} if said else {}
        answer = await self.http.post("/v1/imports/preview", content=file.bytes, params=query)
        shown: dict[str, Any] = answer.json()
        return shown


@pytest.fixture
async def desk(database: Clone) -> AsyncIterator[Desk]:
    world = await make_world(database.pool)
    client = await owner_client(world)
    async with client.http:
        yield Desk(world.shop, client.http)


def expected(file: Messy, shop: Shop) -> tuple[dict[str, int], str, str]:
    """Give what the importer alone says: outcomes by kind, the question's parameter, a refusal."""
    facts = {"currency": shop.currency, "time_zone": shop.time_zone, "languages": shop.languages}
    counts: Counter[str] = Counter()
    try:
        options = msgspec.convert({**file.options, **facts}, Options)
        for each in file.importer().read(io.BytesIO(file.bytes), options):
            if not isinstance(each, (Layout, Notice)):
                counts[str(each.__struct_config__.tag)] += 1
    except QuestionError as question:
        return dict(counts), question.parameter, ""
    except ImportStop as refusal:
        return dict(counts), "", refusal.code
    return dict(counts), "", ""


async def test_the_preview_of_a_messy_export_shows_what_its_importer_says(desk: Desk) -> None:
    for file in messy_files():
        counts, parameter, refusal = expected(file, desk.shop)
        shown = await desk.preview(file, importer=file.importer.name)
        assert "importer" in shown, (file.name, shown)
        assert (shown["question"] or {}).get("parameter", "") == parameter, file.name
        assert (shown["refusal"] or {}).get("code", "") == refusal, file.name
        if not (parameter or refusal):
            assert shown["counts"] == counts, file.name


async def test_most_messy_exports_are_known_by_their_importer_unnamed(desk: Desk) -> None:
    files = messy_files()
    unknown = []
    for file in files:
        shown = await desk.preview(file)
        if shown.get("importer") != file.importer.name:
            asks = shown.get("question") or shown.get("refusal")
            taken_by = None if asks else shown.get("importer")
            unknown.append((file.name, taken_by, shown.get("detail")))
    wrong = [each for each in unknown if each[1]]
    assert wrong == []
    assert len(unknown) <= (1 - LEAST_KNOWN) * len(files), unknown
