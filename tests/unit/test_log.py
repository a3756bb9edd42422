"""How messages are written."""

from __future__ import annotations

import io
import json
import logging
from pathlib import Path
from typing import Literal
from uuid import UUID

import pytest
import structlog

from stallkeep.log import set_up_log


@pytest.fixture
def out() -> io.StringIO:
    return io.StringIO()


def test_in_service_each_message_is_one_json_object(out: io.StringIO) -> None:
    set_up_log("json", stream=out)
    shop = UUID(int=7)
    structlog.get_logger().info("import_finished", taken=412, shop_id=shop, folder=Path("/x"))
    (line,) = out.getvalue().splitlines()
    said = json.loads(line)
    assert said.pop("timestamp").endswith("Z")
    assert said == {
        "event": "import_finished",
        "level": "info",
        "taken": 412,
        "shop_id": str(shop),
        "folder": "/x",
    }


def test_at_the_desk_a_message_is_a_line_to_read(out: io.StringIO) -> None:
    set_up_log("console", stream=out)
    structlog.get_logger().info("import_finished", taken=412)
    assert "import_finished" in out.getvalue()
    assert "taken=412" in out.getvalue()
    assert "\x1b" not in out.getvalue(), "no colours where nobody sees them"


def test_what_matters_less_than_asked_for_is_left_out(out: io.StringIO) -> None:
    set_up_log("json", "warning", out)
    structlog.get_logger().info("quiet")
    structlog.get_logger().warning("loud")
    assert [json.loads(line)["event"] for line in out.getvalue().splitlines()] == ["loud"]


def test_what_is_bound_at_the_edge_is_in_every_message(out: io.StringIO) -> None:
    set_up_log("json", stream=out)
    with structlog.contextvars.bound_contextvars(request_id="r1"):
        structlog.get_logger().info("inside")
    structlog.get_logger().info("outside")
    inside, outside = map(json.loads, out.getvalue().splitlines())
    assert inside["request_id"] == "r1"
    assert "request_id" not in outside


@pytest.mark.parametrize("style", ["json", "console"])
def test_an_error_shows_its_place_and_no_variable(
    out: io.StringIO, style: Literal["json", "console"]
) -> None:
    set_up_log(style, stream=out)
    token = "".join(["sk", "_", "hidden"])
    try:
        int("cause")
    except ValueError:
        structlog.get_logger().exception("failed")
    said = out.getvalue()
    assert "ValueError" in said
    assert "test_log.py" in said
    assert token not in said


def test_libraries_speak_the_same_way(out: io.StringIO) -> None:
    set_up_log("json", stream=out)
    logging.getLogger("somebody").warning("careful with %s", "this")
    logging.getLogger("somebody").info("left out")
    (line,) = out.getvalue().splitlines()
    said = json.loads(line)
    assert (said["event"], said["logger"]) == ("careful with this", "somebody")
    assert said["level"] == "warning"
