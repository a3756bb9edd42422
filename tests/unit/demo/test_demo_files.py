"""The committed files of the demo are those the scenario makes, and small."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path

import pytest
from demo.make import FILES, write
from demo.scenario import scenario

from stallkeep.demo_files import demo_folder

ROOT = FILES.parents[1]
SIZE_LIMIT = 300_000
DIGEST = """
import hashlib
from demo.scenario import scenario
print(hashlib.sha256(b"".join(v for _, v in sorted(scenario().items()))).hexdigest())
"""


def test_the_committed_files_are_current() -> None:
    committed = {path.name: path.read_bytes() for path in FILES.iterdir()}
    assert committed == scenario(), "run: python demo/make.py"


def test_the_scenario_does_not_depend_on_the_order_of_sets() -> None:
    here = hashlib.sha256(b"".join(v for _, v in sorted(scenario().items()))).hexdigest()
    other = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", DIGEST],
        cwd=ROOT,
        env={"PYTHONHASHSEED": "4242", "PYTHONPATH": f"{ROOT}:{ROOT / 'service'}"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert other.stdout.strip() == here


def test_all_files_together_stay_under_the_limit() -> None:
    assert sum(path.stat().st_size for path in FILES.iterdir()) < SIZE_LIMIT


def test_writing_removes_what_the_scenario_no_longer_makes(tmp_path: Path) -> None:
    (tmp_path / "old.csv").write_text("left over")
    write(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == set(scenario())


def test_the_demo_folder_is_found() -> None:
    assert (demo_folder() / "truth.json").is_file()


def test_the_first_place_with_a_setup_wins(tmp_path: Path) -> None:
    installed, checkout = tmp_path / "installed", tmp_path / "checkout"
    checkout.mkdir()
    (checkout / "setup.json").write_text("{}")
    assert demo_folder(installed, checkout) == checkout
    installed.mkdir()
    (installed / "setup.json").write_text("{}")
    assert demo_folder(installed, checkout) == installed


def test_a_missing_demo_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="nowhere"):
        demo_folder(tmp_path / "nowhere")
