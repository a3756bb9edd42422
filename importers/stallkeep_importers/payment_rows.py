"""Rules shared by the importers of money movements: kind, state, sign and fee of a row."""

from __future__ import annotations

from stallkeep_importers.faults import Fault


def unknown_kind(cell: str) -> Fault:
    """Say that a kind of row is not known."""
    return Fault(
        "kind-unknown",
        f"We do not know what kind of row “{cell[:40]}” is.",
        "Say payment, refund, fee, payout or adjustment instead.",
    )


def unknown_state(cell: str) -> Fault:
    """Say that a state is not known."""
    return Fault(
        "state-unknown",
        f"We do not know whether “{cell[:40]}” means that it was paid.",
        "Say completed or failed instead.",
    )
