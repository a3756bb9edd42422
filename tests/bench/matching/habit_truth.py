"""How true the habit note is: ``python -m tests.bench.matching.habit_truth [worlds] [seed]``.

``habit_note()`` says how much of the takings a habit would have settled. Here the same event is
made again with the evidence that habit leaves in this world, slips included, and reconciled.
Prints per world the habit, settled without it, foretold and real, as shares of the takings that
lines tell of.
"""

from __future__ import annotations

import sys

import msgspec
from tests.bench.matching.asking import counted, settled
from tests.bench.matching.worlds import PROFILES, World, a_world

from stallkeep.domain.matching import Evidence, habit_note, reconcile


def with_habit(world: World, seed: int, habit: str) -> Evidence:
    """The event as it would have been."""
    if habit == "count":
        return counted(world, seed, world.profile.count_slip)
    if habit == "stubs":
        return a_world(msgspec.structs.replace(world.profile, stubs=True), seed).evidence
    if habit == "codes_in_notes":
        return _with_codes(world)
    return _tallied(world, seed).evidence if habit == "tally" else world.evidence


def really(world: World, seed: int, habit: str) -> int:
    """What the habit settles, minor units: in a tally also of takings that no line told."""
    lived = _tallied(world, seed) if habit == "tally" else world
    done = reconcile(with_habit(world, seed, habit))
    return round(settled(lived, done).matched * _takings(lived))


def _tallied(world: World, seed: int) -> World:
    return a_world(msgspec.structs.replace(world.profile, cash_without_line=0.0), seed)


def _takings(world: World) -> int:
    return sum(line.amount_minor for line in world.evidence.lines)


def _with_codes(world: World) -> Evidence:
    code = {p.item_id: p.tag_code or "" for p in world.evidence.pieces}
    lines = tuple(
        msgspec.structs.replace(
            line, note=" ".join(code[item] for item in world.truth[line.transaction_id])
        )
        for line in world.evidence.lines
    )
    return msgspec.structs.replace(world.evidence, lines=lines)


def main(worlds: int, first: int, name: str) -> None:
    """Print one row per world, then the means."""
    rows = []
    for seed in range(first, first + worlds):
        world = a_world(PROFILES[name], seed)
        note = habit_note(world.evidence, reconcile(world.evidence))
        whole = _takings(world)
        real = really(world, seed, note.habit) / whole
        row = (note.settled_now_minor / whole, note.settled_then_minor / whole, real)
        rows.append(row)
        now, told, real = row
        sys.stdout.write(f"{seed} {note.habit}: now {now:.3f}, foretold {told:.3f}, {real:.3f}\n")
    now, told, real = (sum(column) / len(rows) for column in zip(*rows, strict=True))
    off = sum(abs(told - real) for _, told, real in rows) / len(rows)
    sys.stdout.write(
        f"{name}, {worlds} worlds: now {now:.3f}, foretold {told:.3f}, real {real:.3f}, "
        f"mean distance of foretold and real {off:.3f}\n"
    )


if __name__ == "__main__":
    arguments = sys.argv[1:]
    main(
        int((arguments or ["10"])[0]),
        int((arguments[1:] or ["8000"])[0]),
        (arguments[2:] or ["typical"])[0],
    )
