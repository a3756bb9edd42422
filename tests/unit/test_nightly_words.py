"""What the nightly job prints of a run."""

from __future__ import annotations

from stallkeep.cli.nightly import MOST_FINDINGS, runs_lines
from stallkeep.store.ids import new_id
from stallkeep.work.store_answer import Reconciled


def a_run(number: int) -> Reconciled:
    findings = [{"sentence": f"Look at payment {n}."} for n in range(number)]
    return Reconciled(
        id=new_id(),
        event_id=new_id(),
        channel_id=None,
        from_on=None,
        to_on=None,
        counts={"set_aside": 1, "matched": 3},
        report={"findings": findings},
    )


def told(run: Reconciled) -> list[str]:
    assert run.event_id
    return list(runs_lines([run], {run.event_id: "Quay market"}))


def test_findings_stand_below_their_event() -> None:
    assert told(a_run(2)) == [
        "Quay market: 3 matched, 1 set aside",
        "  Look at payment 0.",
        "  Look at payment 1.",
    ]


def test_many_findings_are_counted() -> None:
    lines = told(a_run(MOST_FINDINGS + 3))
    assert len(lines) == MOST_FINDINGS + 2
    assert lines[-1] == "  and 3 more to look at"
