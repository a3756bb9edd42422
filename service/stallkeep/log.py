"""How messages are written: aligned columns at the desk, one JSON object a line in service."""

from __future__ import annotations

import logging
import sys
from typing import Literal, TextIO

import msgspec
import structlog
from structlog.tracebacks import ExceptionDictTransformer
from structlog.typing import Processor

# Of a traceback the places alone: a local variable may hold a cell, a name or a token.
PLACES_ONLY = ExceptionDictTransformer(show_locals=False)


def set_up_log(
    style: Literal["console", "json"], level: str = "info", stream: TextIO | None = None
) -> None:
    """Set up structlog once, at start.

    Messages are constant names with facts in fields, and go to the error stream so that what
    a command prints stays usable. What libraries say through ``logging`` is written alike, from
    warnings upwards.

    Args:
        style: Columns or JSON.
        level: "debug", "info", "warning" or "error": the least important still shown.
        stream: The error stream when left out.
    """
    threshold = logging.getLevelNamesMapping()[level.upper()]
    out = stream or sys.stderr
    first: list[Processor] = [
        structlog.contextvars.merge_contextvars,
        structlog.processors.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    last = _ending(style, out)
    structlog.configure(
        processors=[*first, *last],
        wrapper_class=structlog.make_filtering_bound_logger(threshold),
        logger_factory=structlog.PrintLoggerFactory(out),
        cache_logger_on_first_use=False,
    )
    handler = logging.StreamHandler(out)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            foreign_pre_chain=[*first, structlog.stdlib.add_logger_name],
            processors=[structlog.stdlib.ProcessorFormatter.remove_processors_meta, *last],
        )
    )
    logging.basicConfig(handlers=[handler], level=max(threshold, logging.WARNING), force=True)


def _ending(style: str, out: TextIO) -> list[Processor]:
    if style == "console":
        colours = out.isatty()
        plain = structlog.dev.plain_traceback
        return [structlog.dev.ConsoleRenderer(colors=colours, exception_formatter=plain)]
    return [
        structlog.processors.ExceptionRenderer(PLACES_ONLY),
        structlog.processors.JSONRenderer(serializer=_to_json),
    ]


def _to_json(event: object, **_: object) -> str:
    return msgspec.json.encode(event, enc_hook=str).decode()
