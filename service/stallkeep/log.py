"""How messages are written: aligned columns at the desk, one JSON object a line in service."""

from __future__ import annotations

import logging
import sys
from typing import Literal, TextIO

import msgspec
import structlog
from structlog.typing import Processor


def set_up_log(
    style: Literal["console", "json"], level: str = "info", stream: TextIO | None = None
) -> None:
    """Set up structlog once, at start.

    Messages are constant names with facts in fields, and go to the error stream so that what
    a command prints stays usable. What libraries say through ``logging`` goes there as well.

    Args:
        style: Columns or JSON.
        level: "debug", "info", "warning" or "error": the least important still shown.
        stream: The error stream when left out.
    """
    threshold = logging.getLevelNamesMapping()[level.upper()]
    out = stream or sys.stderr
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            *_ending(style, out),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(threshold),
        logger_factory=structlog.PrintLoggerFactory(out),
        cache_logger_on_first_use=False,
    )
    logging.basicConfig(stream=out, level=max(threshold, logging.WARNING), force=True)


def _ending(style: str, out: TextIO) -> list[Processor]:
    if style == "console":
        return [structlog.dev.ConsoleRenderer(colors=out.isatty())]
    return [
        structlog.processors.dict_tracebacks,
        structlog.processors.JSONRenderer(serializer=_to_json),
    ]


def _to_json(event: object, **_: object) -> str:
    return msgspec.json.encode(event, enc_hook=str).decode()
