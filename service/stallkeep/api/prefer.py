"""Prefer: respond-async, wait=… (RFC 7240): whether an asker waits for long work."""

from __future__ import annotations

from typing import Annotated, Final

from litestar.params import HeaderParameter

Prefer = Annotated[
    str | None,
    HeaderParameter(
        name="Prefer",
        max_length=200,
        description="`respond-async` is answered with 202 and where to look; with `wait=10` too, "
        "only if it takes longer than so many seconds",
    ),
]
LATER: Final = {"later": True}
"""Give a handler this as ``opt`` when it may answer 202."""

LONGEST_WAIT_SECONDS: Final = 60.0
APPLIED: Final = {"Preference-Applied": "respond-async"}


def read_prefer(prefer: str | None) -> float | None:
    """Give the seconds an asker waits, None for as long as it takes.

    What is not understood is left aside, as RFC 7240 asks in section 2.
    """
    said = dict(map(_preference, (prefer or "").split(",")))
    if "respond-async" not in said:
        return None
    wait = said.get("wait", "")
    return min(float(wait), LONGEST_WAIT_SECONDS) if wait.isdecimal() else 0.0


def _preference(text: str) -> tuple[str, str]:
    name, _, value = text.partition(";")[0].partition("=")
    return name.strip().lower(), value.strip().strip('"')
