"""Ids: time-ordered UUIDs made by the application (RFC 9562, version 7)."""

from __future__ import annotations

import os
import struct
import time
from uuid import UUID

_VERSION = 7 << 76
_VARIANT = 2 << 62
_COUNTS = 1 << 12


def new_id() -> UUID:
    """Make an id that sorts after those of earlier milliseconds.

    Source:
        RFC 9562, 5.7: 48 bits of Unix milliseconds, then 74 random bits around version and variant.
    """
    return id_at(time.time_ns() // 1_000_000, int.from_bytes(os.urandom(10), "big"))


def id_at(milliseconds: int, random_bits: int) -> UUID:
    """Build the id of a moment, given in milliseconds since 1970, from at least 74 random bits."""
    upper = (random_bits >> 62) & 0xFFF
    lower = random_bits & ((1 << 62) - 1)
    moment = milliseconds & ((1 << 48) - 1)
    return UUID(int=moment << 80 | _VERSION | upper << 64 | _VARIANT | lower)


def new_id_texts(count: int) -> list[str]:
    """Make many ids at once, as 32 hexadecimal digits; each sorts after the one before.

    Source:
        RFC 9562, 6.2, method 1: the 12 bits beside the version count; where they overflow, the
        milliseconds run ahead of the clock.
    """
    moment = time.time_ns() // 1_000_000
    random_bits = struct.unpack(f">{count}Q", os.urandom(8 * count))
    return [
        f"{moment + number // _COUNTS:012x}7{number % _COUNTS:03x}"
        f"{2 << 62 | bits & (1 << 62) - 1:016x}"
        for number, bits in enumerate(random_bits)
    ]
