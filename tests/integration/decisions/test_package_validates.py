"""The package of everything is a valid Data Package, says the Frictionless project's validator."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from pathlib import Path

import frictionless
import pytest
from frictionless.resources import TableResource
from tests.api_client import Client
from tests.database import Clone
from tests.exported import EXPORTED
from tests.factories import an_item
from tests.random_events import make_random_event
from tests.trading import a_past_event, a_stall

from stallkeep.store.engine import read_scope
from stallkeep.work.export_shop import PACKAGE, export_file

RATES = [{"name": "country", "percent": "5"}, {"name": "region", "percent": "9.975"}]


async def unpacked(api: Client, folder: Path) -> Path:
    """Take everything away; gives the place of the descriptor."""
    answer = await api.ask("GET", "/v1/exports/package.zip")
    assert answer.status_code == 200, answer.text
    zipfile.ZipFile(io.BytesIO(answer.content)).extractall(folder)
    return folder / "datapackage.json"


def problems(descriptor: Path) -> list[str]:
    report = frictionless.validate(str(descriptor))
    found = [*report.errors, *(error for task in report.tasks for error in task.errors)]
    assert report.valid == (not found)
    return [f"{error.type}: {error.message}" for error in found]


async def test_a_shop_that_has_traded_leaves_with_a_valid_package(
    api: Client, tmp_path: Path
) -> None:
    await api.patch("/v1/shop", {"tax_mode": "included", "tax_rates": RATES, "cash_step": "0.05"})
    await an_item(api, title='=1+1, "quoted"\nin two lines', note="", category="@coats")
    await a_past_event(api, await a_stall(api), "2026-05-09", ["40.00", "30.00"], taken=3)
    descriptor = await unpacked(api, tmp_path)
    assert problems(descriptor) == []
    package = frictionless.Package(str(descriptor))
    assert len(package.resources) == len(EXPORTED)
    tables = [one for one in package.resources if isinstance(one, TableResource)]
    rows = {resource.name: resource.read_rows() for resource in tables}
    assert sorted(str(row["price"]) for row in rows["sale_lines"]) == ["30.00", "40.00"]
    assert rows["sales"][0]["sold_at"].isoformat() == "2026-05-09T10:00:00+00:00"


@pytest.mark.parametrize("seed", [3, 7])
async def test_events_of_every_sort_leave_with_a_valid_package(
    database: Clone, tmp_path: Path, seed: int
) -> None:
    made = await make_random_event(database.pool, seed)
    async with read_scope(database.pool, made.shop.shop_id) as con:
        found = await export_file(con, made.shop, PACKAGE, dt.datetime.now(dt.UTC))
    zipfile.ZipFile(io.BytesIO(found.content)).extractall(tmp_path)
    assert problems(tmp_path / "datapackage.json") == []


@pytest.mark.parametrize(
    ("file", "old", "new", "code"),
    [
        ("items.csv", "40.00", "forty", "type-error"),
        ("items.csv", "tag_code", "code", "incorrect-label"),
        ("datapackage.json", '"number"', '"figure"', "field-error"),
    ],
)
async def test_a_package_that_was_changed_is_not_valid(  # noqa: PLR0917 - what is changed, and how
    api: Client, tmp_path: Path, file: str, old: str, new: str, code: str
) -> None:
    await an_item(api)
    descriptor = await unpacked(api, tmp_path)
    changed = tmp_path / file
    changed.write_text(changed.read_text().replace(old, new))
    assert code in {problem.partition(":")[0] for problem in problems(descriptor)}
