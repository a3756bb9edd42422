"""The engine on worlds of another hand: ``python -m tests.bench.matching.run_other [options]``.

Prints one table row per profile and engine, then every wrong match with what had happened. The
reference stands beside it where its model holds the profile's ways.
"""

from __future__ import annotations

import argparse
import sys
import time
from unittest import mock

import msgspec
from tests.bench.matching import reference
from tests.bench.matching.other_worlds import OTHERS, OtherWorld, other_world
from tests.bench.matching.scoring import Score, add, table

from stallkeep.domain.matching import LineAnswer, Reconciliation, reconcile


def main() -> None:
    """Run the named profiles, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("profiles", nargs="*", default=list(OTHERS))
    parser.add_argument("--worlds", type=int, default=8)
    parser.add_argument("--first", type=int, default=100)
    parser.add_argument("--no-ceiling", action="store_true")
    asked = parser.parse_args()
    scores: dict[tuple[str, str], Score] = {}
    wrong: list[str] = []
    sys.stdout.write(table([]) + "\n")
    for name in asked.profiles:
        for seed in range(asked.first, asked.first + asked.worlds):
            world = other_world(OTHERS[name], seed)
            start = time.process_time()
            result = reconcile(world.evidence)
            spent = time.process_time() - start
            view = payments(world, result)
            add(scores.setdefault((name, "ours"), Score()), view, result, spent)
            wrong += [f"{name}/{seed} {line}" for line in wrong_matches(view, result)]
            if world.knowable and not asked.no_ceiling:
                start = time.process_time()
                known = know_all(world)
                spent = time.process_time() - start
                add(scores.setdefault((name, "ceiling"), Score()), view, known, spent)
        rows = [(n, engine, s) for (n, engine), s in scores.items() if n == name]
        sys.stdout.write("\n".join(table(rows).splitlines()[2:]) + "\n")
        sys.stdout.write(f"    stated and true {honesty(scores[name, 'ours'])}\n")
        sys.stdout.flush()
    everything = pooled([s for (_, engine), s in scores.items() if engine == "ours"])
    sys.stdout.write("\n".join(table([("all", "ours", everything)]).splitlines()[2:]) + "\n")
    bins = " ".join(f"{s:.2f}→{r:.2f} ({n})" for s, r, n in everything.bins())
    sys.stdout.write(f"\n{bins}\n\n" + "\n".join(wrong) + "\n")


def know_all(world: OtherWorld) -> Reconciliation:
    """Ask the reference, told what this stall's untagged things cost."""
    with mock.patch.object(reference, "UNTAGGED", world.untagged):
        return reference.know_all(world)


def payments(world: OtherWorld, result: Reconciliation) -> OtherWorld:
    """Leave only what has a right answer, and let either of two equal charges be the sale."""
    answers = {a.transaction_id: a for a in result.answers}
    truth = dict(world.truth)
    for double, sale in world.doubles.items():
        if not answers[sale].item_ids and answers[double].item_ids == truth[sale]:
            truth[double], truth[sale] = truth[sale], ()
    lines = tuple(x for x in world.evidence.lines if x.kind == "payment" and x.completed)
    evidence = msgspec.structs.replace(world.evidence, lines=lines)
    return msgspec.structs.replace(world, evidence=evidence, truth=truth)


def pooled(scores: list[Score]) -> Score:
    """Add scores up."""
    whole = Score()
    for score in scores:
        for name in Score.__struct_fields__:
            setattr(whole, name, getattr(whole, name) + getattr(score, name))
    return whole


def honesty(score: Score) -> str:
    """Mean stated probability of first candidates, share right, and the gap in standard errors.

    A table of ten bins over a few hundred lines shows an error where there is none; this does not.
    """
    stated = sum(p for p, _ in score.top)
    right = sum(r for _, r in score.top)
    error = sum(p * (1 - p) for p, _ in score.top) ** 0.5
    number = max(len(score.top), 1)
    return (
        f"{stated / number:.3f} {right / number:.3f} ({(right - stated) / max(error, 1e-9):+.1f})"
    )


def wrong_matches(world: OtherWorld, result: Reconciliation) -> list[str]:
    """Say of each wrong match, or wrong group, what was seen, claimed and true."""
    price = {p.item_id: p.price_minor for p in world.evidence.pieces}
    lines = {x.transaction_id: x for x in world.evidence.lines}
    out = []
    for answer in result.answers:
        line = lines.get(answer.transaction_id)
        if line is None:
            continue
        truth = world.truth[line.transaction_id]
        what = _wrong(answer, truth, price)
        if what:
            claimed = answer.item_ids or (answer.group.tag_prices_minor if answer.group else ())
            stated = answer.group.probability if what == "GROUP" and answer.group else (
                answer.probability)  # fmt: skip
            out.append(
                f"{what} {line.method} {line.amount_minor} note {line.note!r}: "
                f"{world.stories[line.transaction_id]}; truth {_tags(truth, price)}, claimed "
                f"{_tags(answer.item_ids, price) if answer.item_ids else claimed} at {stated:.4f}"
            )
    return out


def _wrong(answer: LineAnswer, truth: tuple[str, ...], price: dict[str, int | None]) -> str:
    if answer.state == "matched":
        return "" if tuple(sorted(answer.item_ids)) == truth else "MATCH"
    if answer.group is None:
        return ""
    same = sorted(price[i] or 0 for i in truth) == sorted(answer.group.tag_prices_minor)
    inside = set(truth) <= set(answer.group.item_ids)
    return "" if same and inside and truth else "GROUP"


def _tags(items: tuple[str, ...], price: dict[str, int | None]) -> str:
    return "+".join(f"{i}@{price[i]}" for i in items) or "none"


if __name__ == "__main__":
    main()
