"""Text → times of day, with what names their zone."""

# ruff: noqa: PLR2004, RUF001 - hours name themselves; the odd signs are the subject

from __future__ import annotations

import datetime as dt
import re

from stallkeep_importers.cells.dates import bare_word, calendar
from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.latin import latin

_HALF = r"[^\W\d_]\.?\s?[^\W\d_]{0,10}\.?"
_TIME = re.compile(
    rf"""
    (?:(?P<before>{_HALF})\s*)?
    (?P<hour>[0-9]{{1,2}})
    (?:(?:[:.時]|\s?h)\s?(?P<minute>[0-9]{{2}})分?(?:[:.]?(?P<second>[0-9]{{2}})秒?)?)?
    (?:[.,](?P<fraction>[0-9]{{1,9}}))?
    (?P<rest>.*)
    """,
    re.VERBOSE | re.DOTALL,
)
_USUAL = re.compile("(?:[01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]")
_OFFSET = re.compile(r"(?:UTC|GMT)?\s?(?P<sign>[-+−])(?P<hours>[0-9]{1,2}):?(?P<minutes>[0-9]{2})?")
_LONGEST = 50
_NO_HALF = frozenset({"uhr", "h", "kl", "hrs", "hr", "godz", "hod", "uur", "u"})


def time_of(text: str) -> tuple[dt.time, str] | Fault | None:
    """Read a time of day.

    Returns:
        The time and the text of its zone ("" without one); None for an empty text.
    """
    bare = latin(text).strip().removeprefix("'")
    if not bare:
        return None
    if _USUAL.fullmatch(bare):
        return dt.time.fromisoformat(bare), ""
    match = _TIME.fullmatch(bare) if len(bare) <= _LONGEST else None
    half, zone = _half_and_zone(match["before"], match["rest"]) if match else (None, "")
    if not match or half is None or (not half and not match["minute"]):
        return _unreadable(text)
    hour = int(match["hour"])
    if half in ("am", "pm"):
        if not 1 <= hour <= 12:
            return _impossible(text)
        hour = hour % 12 + (12 if half == "pm" else 0)
    micro = int((match["fraction"] or "0").ljust(6, "0")[:6])
    try:
        time = dt.time(hour, int(match["minute"] or 0), int(match["second"] or 0), micro)
    except ValueError:
        return _impossible(text)
    return time, zone


def has_half(text: str) -> bool:
    """Say whether a time of day names its half of the day."""
    match = _TIME.fullmatch(latin(text).strip()) if len(text) <= _LONGEST else None
    if not match:
        return False
    half, _ = _half_and_zone(match["before"], match["rest"])
    return half in ("am", "pm")


def fixed_zone(text: str) -> dt.timezone | None:
    """Read an offset such as ``+02:00``, ``Z`` or ``UTC+2``; None where it is none."""
    bare = text.strip().upper()
    if bare in ("Z", "UTC", "GMT"):
        return dt.UTC
    match = _OFFSET.fullmatch(bare)
    if not match:
        return None
    delta = dt.timedelta(hours=int(match["hours"]), minutes=int(match["minutes"] or 0))
    if delta > dt.timedelta(hours=15):
        return None
    return dt.timezone(delta if match["sign"] == "+" else -delta)


def _half_and_zone(before: str | None, rest: str) -> tuple[str | None, str]:
    """Give "am", "pm", "" without a word, None with a strange word; and the zone's text."""
    half = _half(before) if before else ""
    rest = rest.strip()
    word = re.match(r"[^\W\d_]\.?\s?[^\W\d_]{0,10}\.?(?=\s|$|[-+−(])", rest)
    if word and not half:
        found = _half(word[0])
        if found is not None:
            return found, rest[word.end() :].strip(" ()")
    return half, rest.strip(" ()")


def _half(word: str) -> str | None:
    bare = re.sub(r"[\W_]", "", bare_word(word))
    if bare in _NO_HALF:
        return ""
    return next((half for half in ("am", "pm") if bare in calendar()[half]), None)


def _unreadable(text: str) -> Fault:
    return Fault(
        "time-unreadable", f"“{text[:40]}” is no time of day.", "Correct it and send it again."
    )


def _impossible(text: str) -> Fault:
    return Fault(
        "time-impossible",
        f"No clock shows “{text[:40]}”.",
        "Correct it and send the row again.",
    )
