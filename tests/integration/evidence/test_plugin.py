"""A plugin of another distribution takes a file in through the whole service."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.contract.installing import install
from tests.database import Clone
from tests.evidence_world import make_world

from stallkeep.work import choose_importer

PLUGINS = Path(__file__).parents[2] / "contract"
ROLL = (
    "TILL ROLL\n2026-09-11 10:12 #0001 CARD 24.00 A17-AH1\n"
    "2026-09-11 10:15 #0002 CASH 15.00\nsmudged\n"
)


@pytest.fixture
def plugins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The example and the broken plugin, installed beside ours for one test."""
    for name in ("example_plugin", "broken_plugin"):
        install(PLUGINS / name, tmp_path)
    monkeypatch.syspath_prepend(str(tmp_path))
    choose_importer._loaded.cache_clear()
    before = set(sys.modules)
    yield
    choose_importer._loaded.cache_clear()
    for name in set(sys.modules) - before:
        if name.partition(".")[0] in ("invented_till", "broken_till"):
            del sys.modules[name]


@pytest.mark.usefixtures("plugins")
async def test_an_installed_plugin_is_recognised_and_imports(database: Clone) -> None:
    world = await make_world(database.pool)
    done = await world.take_in(ROLL, name="roll.txt")
    assert done.importer == "invented-till"
    assert (done.taken, done.rejected) == (2, 1)
    assert done.rows_read == done.taken + done.known + done.rejected + done.skipped
    again = await world.take_in(ROLL, name="roll.txt")
    assert (again.taken, again.known) == (0, 2)


@pytest.mark.usefixtures("plugins")
async def test_a_broken_plugin_is_listed_with_its_package_and_stops_nobody(
    database: Clone,
) -> None:
    broken = [one for one in choose_importer.known_importers() if one.problem is not None]
    assert broken
    assert all(one.package for one in broken)
    world = await make_world(database.pool)
    payments = (
        "Date,Time,Transaction ID,Amount,Currency,Fee\n2026-09-11,10:12:00,p-1,5.00,EUR,0.2\n"
    )
    assert (await world.take_in(payments)).taken == 1
