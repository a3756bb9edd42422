"""Settings from the environment: defaults, wrong values, unknown names."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from stallkeep.config import Settings, SettingsError, default_data_dir, read_settings


def test_nothing_set_gives_a_service_for_one_desk() -> None:
    settings = read_settings({"PATH": "/bin", "HOME": "/home/someone"})
    assert settings == Settings()
    assert settings.host == "127.0.0.1"
    assert settings.database_url is None
    assert settings.data_dir == default_data_dir()


def test_everything_can_be_set() -> None:
    settings = read_settings(
        {
            "STALLKEEP_DATABASE_URL": "postgresql://admin@db/stallkeep",
            "STALLKEEP_APP_DATABASE_URL": "postgres://stallkeep_app@db/stallkeep",
            "STALLKEEP_DATA_DIR": "/srv/stallkeep",
            "STALLKEEP_HOST": "0.0.0.0",  # noqa: S104 - a value like any other here
            "STALLKEEP_PORT": "8080",
            "STALLKEEP_LOG": "json",
            "STALLKEEP_LOG_LEVEL": "warning",
            "STALLKEEP_MAX_UPLOAD_BYTES": "1000",
            "STALLKEEP_POOL_SIZE": "8",
        }
    )
    assert settings.data_dir == Path("/srv/stallkeep")
    assert (settings.port, settings.max_upload_bytes, settings.pool_size) == (8080, 1000, 8)
    assert (settings.log, settings.log_level) == ("json", "warning")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("STALLKEEP_PORT", "eighty"),
        ("STALLKEEP_PORT", "65536"),
        ("STALLKEEP_PORT", "-1"),
        ("STALLKEEP_LOG", "pretty"),
        ("STALLKEEP_LOG_LEVEL", "all"),
        ("STALLKEEP_MAX_UPLOAD_BYTES", "0"),
        ("STALLKEEP_POOL_SIZE", "1.5"),
        ("STALLKEEP_POOL_SIZE", "5"),
        ("STALLKEEP_DATABASE_URL", "mysql://db"),
    ],
)
def test_a_wrong_value_is_refused_by_name(name: str, value: str) -> None:
    with pytest.raises(SettingsError, match=rf"^{name}: .*expected "):
        read_settings({name: value})


def test_an_unknown_name_is_refused_and_the_known_are_listed() -> None:
    with pytest.raises(SettingsError, match=r"STALLKEEP_PROT; there are .*STALLKEEP_PORT"):
        read_settings({"STALLKEEP_PROT": "8000"})


def test_an_empty_variable_counts_as_not_set() -> None:
    assert read_settings({"STALLKEEP_PORT": "", "STALLKEEP_DATABASE_URL": ""}) == Settings()


def test_the_address_of_the_tests_is_no_setting() -> None:
    assert read_settings({"STALLKEEP_TEST_DATABASE_URL": "postgresql://db"}) == Settings()


def test_a_message_shows_no_password() -> None:
    with pytest.raises(SettingsError) as caught:
        read_settings({"STALLKEEP_DATABASE_URL": "mysql://admin:hunter2@db"})
    assert "hunter2" not in str(caught.value)


def test_a_folder_may_begin_at_home() -> None:
    settings = read_settings({"STALLKEEP_DATA_DIR": "~/stock"})
    assert settings.data_dir == Path.home() / "stock"


def test_root_keeps_data_where_another_account_may_enter(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    assert default_data_dir() == Path("/var/lib/stallkeep/data")
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setenv("XDG_DATA_HOME", "/home/someone/data")
    assert default_data_dir().name == "stallkeep"
    assert "/var/lib" not in str(default_data_dir())
