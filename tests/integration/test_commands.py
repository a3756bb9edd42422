"""Commands typed by a clumsy hand end with a sentence and a status, never with a traceback."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.embedded import open_folder
from tests.serving import STALL, Service, command, made_shop, run, serving

FILE = "Date,Time,Transaction ID,Amount,Currency\n2026-09-11,10:12:00,p-1,24.00,EUR\n"
DOUBTFUL = "Date,Transaction ID,Amount,Currency\n04/05/2026,p-1,2.00,EUR\n"
NO_TEXT = os.fsdecode(b"card-\xff\xfe.csv")


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    """A data folder with a shop; made once, because making it takes a second."""
    with open_folder() as made:
        yield made / "data"


@pytest.fixture(scope="module")
def token(folder: Path) -> str:
    return asyncio.run(made_shop(folder))[1]


OPEN = ("open-shop", "--currency", "EUR", "--time-zone", "Europe/Lisbon")
WRONG = [
    (("serve", "--port", "99999"), "99999 is no port"),
    (("serve", "--port", "-1"), "-1 is no port"),
    (("serve", "--host", "nowhere.invalid", "--port", "0"), "cannot listen there"),
    (("shops", "--data-dir", ""), "it is empty"),
    (("backup", ""), "it is empty"),
    (("backup", "/nowhere/x"), "cannot be written"),
    (("restore", "/dev/null"), "there is no file"),
    (("import", "/nowhere/x.csv"), "There is no file or folder /nowhere/x.csv"),
    (("import", __file__, "--answer", "x"), "write NAME=VALUE"),
    ((*OPEN, ""), "needs a name"),
    ((*OPEN, "x" * 301), "300 at most"),
    ((*OPEN, "a\nb"), "one line"),
    ((*OPEN, os.fsdecode(b"\xff")), "one line"),
    ((*OPEN, "X", "--language", "english"), "two small letters"),
    (("open-shop", "X", "--currency", "XXQ", "--time-zone", "Europe/Lisbon"), "currency code"),
    (("open-shop", "X", "--currency", "EUR", "--time-zone", "../etc"), "no time zone"),
]


@pytest.mark.parametrize(("words", "said"), WRONG, ids=lambda value: str(value)[:40])
def test_a_wrong_word_is_told_in_a_sentence(
    folder: Path, token: str, words: tuple[str, ...], said: str
) -> None:
    assert token
    given = words if "--data-dir" in words else (*words, "--data-dir", str(folder))
    done = run(*given)
    assert done.returncode == 2, done
    assert said in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        ({"STALLKEEP_DATABASE_URL": "postgresql://[::1"}, "STALLKEEP_DATABASE_URL: it is no"),
        ({"STALLKEEP_DATABASE_URL": "postgresql://h/x?sslmode=x"}, "sslmode"),
        ({"STALLKEEP_DATABASE_URL": "postgresql://127.0.0.1:1/x"}, "cannot be reached"),
        ({"STALLKEEP_PORT": "70000"}, "STALLKEEP_PORT"),
        ({"STALLKEEP_POOL_SIZE": "1"}, "STALLKEEP_POOL_SIZE"),
        ({"STALLKEEP_DATA_DIR": __file__}, "is no folder"),
        ({"STALLKEEP_DATA_DIR": "/proc/nowhere"}, "cannot be started on /proc/nowhere"),
    ],
    ids=str,
)
def test_a_wrong_setting_is_told_in_a_sentence(settings: dict[str, str], said: str) -> None:
    done = run("shops", **settings)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert done.stderr.count("\n") == 1, "one sentence"


def test_what_nobody_foresaw_is_one_sentence_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from stallkeep.cli import main, shops  # noqa: PLC0415 - patched here only

    def fail(_: object) -> int:
        raise RuntimeError("out of tune")

    monkeypatch.setattr(shops, "list_shops", fail)
    assert main(["shops"]) == 2
    said = capsys.readouterr().err
    assert "nobody foresaw (RuntimeError: out of tune)" in said
    assert "Traceback" not in said


def test_a_folder_with_names_that_are_no_text_or_too_long_is_taken_whole(
    folder: Path, token: str, tmp_path: Path
) -> None:
    assert token
    names = [NO_TEXT, "x" * 251 + ".csv", "plain.csv"]
    (tmp_path / STALL).mkdir()
    for name in names:
        (tmp_path / STALL / name).write_text(FILE)
    done = run("import", tmp_path, "--data-dir", folder)
    assert done.returncode == 0, done
    assert sorted(file.name for file in (tmp_path / "done" / STALL).iterdir()) == sorted(
        [*names, NO_TEXT + ".report.txt", "x" * 244 + ".report.txt", "plain.csv.report.txt"]
    )


def test_the_command_in_a_report_finds_a_file_whose_name_is_no_text(
    folder: Path, token: str, tmp_path: Path
) -> None:
    assert token
    (tmp_path / NO_TEXT).write_text(DOUBTFUL)
    done = run("import", tmp_path, "--data-dir", folder)
    assert done.returncode == 1, "it asks how the date is to be read"
    report = (tmp_path / "failed" / (NO_TEXT + ".report.txt")).read_bytes()
    assert os.fsencode(NO_TEXT) in report


def test_names_are_printed_where_the_terminal_knows_few_letters(
    folder: Path, token: str, tmp_path: Path
) -> None:
    assert token
    file = tmp_path / "M\u00e4rz\u2026.csv"
    file.write_text(FILE)
    done = run("import", file, "--data-dir", folder, PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done
    assert "M\\xe4rz" in done.stdout
    assert "Traceback" not in done.stderr


def test_an_address_in_use_is_told_and_nothing_is_left_running(folder: Path, token: str) -> None:
    assert token
    with socket.create_server(("127.0.0.1", 0)) as taken:
        done = run("serve", "--data-dir", folder, "--port", str(taken.getsockname()[1]))
    assert done.returncode == 2
    assert "(Address already in use); choose another with --port" in done.stderr
    assert not (folder / "postgres/postmaster.pid").exists()


def test_two_services_share_a_data_folder(folder: Path, token: str) -> None:
    with serving(folder, token) as one, serving(folder, token) as other:
        assert other.http.post("/v1/items", json={"title": "Coat"}).status_code == 201
        assert one.end() == 0
        assert other.http.get("/v1/items").json()["data"][0]["title"] == "Coat"
        assert other.end(signal.SIGHUP) == 0
    assert not (folder / "postgres/postmaster.pid").exists(), "the last to leave stops it"


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGHUP])
def test_an_import_that_was_stopped_does_not_look_done(
    folder: Path, token: str, tmp_path: Path, how: signal.Signals
) -> None:
    rows = "".join(f"2026-09-11,10:12:00,{how}-{row},1.00,EUR\n" for row in range(100_000))
    (tmp_path / "large.csv").write_text(FILE + rows)
    with serving(folder, token) as service:
        importing = subprocess.Popen(
            **command("import", tmp_path, "--data-dir", folder), stderr=subprocess.PIPE, text=True
        )
        place = f"/v1/imports/{_running(service)}"
        importing.send_signal(how)
        _, said = importing.communicate(timeout=60)
        ended = service.until(place, state="failed")
        assert ended["problem"]["code"] == "interrupted"
    assert (importing.returncode, said.strip()) == (2, "stallkeep: Stopped.")
    assert (tmp_path / "large.csv").exists(), "it stays for the next run"


def _running(service: Service) -> str:
    for _ in range(600):
        for one in service.http.get("/v1/imports").json()["data"]:
            if one["state"] == "running" and one["rows_read"]:
                found: str = one["id"]
                return found
        time.sleep(0.05)
    raise AssertionError("it never ran")


AS_NOBODY = """
import os, sys
from pathlib import Path
from stallkeep.cli import main, shops
from stallkeep.store import embedded
from stallkeep.store.embedded_programs import find_programs
find_programs(Path("/"))  # load what it loads: the account may not be let into our packages
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
sys.exit(main(["shops", "--data-dir", sys.argv[1]]))
"""


def test_a_folder_that_may_not_be_written_is_told(folder: Path) -> None:
    closed = folder.parent / "closed"
    closed.mkdir(mode=0o555)
    done = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-c", AS_NOBODY, str(closed / "data")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert "Permission denied" in done.stderr
    assert done.stderr.count("\n") == 1, "one sentence"
