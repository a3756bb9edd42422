"""Distributions of other people: found, loaded, used, and harmless when broken."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.contract.installing import install

from stallkeep_importers.contract import Options, Transaction
from stallkeep_importers.finder import find_importers, load_importers, recognise_all

HERE = Path(__file__).parent
ROLL = b"TILL ROLL\n2025-05-03 10:12 #0001 CARD 12.50 mug\n2025-05-03 10:15 #0002 CASH -4.00\n"
OURS = {
    *("bank-camt", "bank-ofx", "card-reader-payments", "card-reader-payouts", "cash-tally"),
    *("expenses", "resale-listings", "resale-sales", "stock-count", "stubs"),
}


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder that installed distributions are found in, for one test."""
    monkeypatch.syspath_prepend(str(tmp_path))
    before = set(sys.modules)
    yield tmp_path
    for name in set(sys.modules) - before:
        if name.partition(".")[0] in ("invented_till", "broken_till"):
            del sys.modules[name]


def test_our_own_importers_are_found_in_order_and_load() -> None:
    found = [point.name for point in find_importers()]
    assert found == sorted(found)
    assert set(found) >= OURS
    assert set(load_importers().importers) >= OURS


def test_an_installed_plugin_is_found_and_imports_a_file(site: Path) -> None:
    install(HERE / "example_plugin", site)
    loaded = load_importers()
    assert loaded.packages["invented-till"] == "invented-till 1.0.0"
    name, sure = recognise_all(loaded.importers, ROLL, Options())[0]
    assert (name, sure.sureness) == ("invented-till", 0.95)
    outcomes = list(loaded.importers[name].read(io.BytesIO(ROLL), Options()))
    taken = [each for each in outcomes if isinstance(each, Transaction)]
    assert [(each.kind, each.amount_minor, each.method) for each in taken] == [
        ("payment", 1250, "card"),
        ("refund", -400, "cash"),
    ]


def test_finding_runs_nobodys_code(site: Path) -> None:
    install(HERE / "broken_plugin", site)
    assert "raises-on-import" in [point.name for point in find_importers()]
    assert not [name for name in sys.modules if name.startswith("broken_till")]


def test_a_broken_plugin_stops_nobody_else(site: Path) -> None:
    install(HERE / "broken_plugin", site)
    install(HERE / "example_plugin", site)
    loaded = load_importers()
    assert set(loaded.importers) >= {*OURS, "invented-till"} - {"resale-sales"}
    broken = {error.name: str(error) for error in loaded.errors}
    assert set(broken) == {
        *("raises-on-import", "raises-on-making", "is-no-importer", "of-another-contract"),
        *("of-another-name", "is-not-there", "resale-sales"),
    }
    assert all("broken-till 0.9.0" in text or "stallkeep" in text for text in broken.values())
    assert "the till is on fire" in broken["raises-on-import"]


def test_an_importer_that_fails_on_a_file_is_not_sure_of_it(site: Path) -> None:
    install(HERE / "broken_plugin", site)
    found = dict(recognise_all(load_importers().importers, ROLL, Options()))
    assert found["raises-on-recognising"].sureness == 0
    assert "ZeroDivisionError" in found["raises-on-recognising"].why


def test_the_plugins_own_tests_pass_in_a_process_of_their_own(tmp_path: Path) -> None:
    """What the author of a plugin runs: pytest in the plugin's folder, with it installed."""
    site, tests = tmp_path / "site", tmp_path / "tests"
    install(HERE / "example_plugin", site)
    shutil.copytree(HERE / "example_plugin" / "tests", tests)
    done = subprocess.run(  # noqa: S603 - our own interpreter on our own file
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", tests],
        capture_output=True,
        text=True,
        check=False,
        cwd=tests,
        env={**os.environ, "PYTHONPATH": str(site)},
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "10 passed" in done.stdout
