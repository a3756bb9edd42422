"""Where a run starts drawing: the same evidence, the same draws."""

from __future__ import annotations

import hashlib

import msgspec

from stallkeep.domain.matching.evidence import Evidence


def seed_of(evidence: Evidence) -> int:
    """A number that depends on the evidence and not on its order."""
    parts = sorted(msgspec.json.encode(x) for x in (*evidence.lines, *evidence.pieces))
    parts += sorted(
        msgspec.json.encode(x)
        for x in (
            *evidence.rulings,
            *evidence.piece_rulings,
            *evidence.stubs,
            *evidence.ring_ups,
            *evidence.cash_totals,
        )
    )
    return int.from_bytes(hashlib.blake2b(b"\n".join(parts), digest_size=8).digest(), "big")
