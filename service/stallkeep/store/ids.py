"""Ids: time-ordered UUIDs made by the application (RFC 9562, version 7)."""

from __future__ import annotations

import os
import time
from uuid import UUID

import numpy as np

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
    number = np.arange(count, dtype=np.uint64)
    moment = np.uint64(time.time_ns() // 1_000_000) + number // _COUNTS
    random_bits = np.frombuffer(os.urandom(8 * count), np.uint64)
    halves = np.empty((count, 2), dtype=">u8")
    halves[:, 0] = moment << 16 | 7 << 12 | number % _COUNTS
    halves[:, 1] = np.uint64(_VARIANT) | random_bits >> 2
    digits = halves.tobytes().hex()
    return [digits[start : start + 32] for start in range(0, 32 * count, 32)]
