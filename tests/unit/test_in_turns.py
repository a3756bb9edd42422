"""Parts are worked out while others are read and written, and written in their order."""

from __future__ import annotations

import pytest

from stallkeep.work.in_turns import in_turns


class Steps:
    """Notes what happens on the connection."""

    def __init__(self, fails_at: int | None = None) -> None:
        self.noted: list[str] = []
        self._fails_at = fails_at

    async def read(self, part: int) -> int:
        self.noted.append(f"read {part}")
        return part

    def work_out(self, part: int) -> int:
        if part == self._fails_at:
            raise ValueError(part)
        return part * 10

    async def write(self, done: int) -> None:
        self.noted.append(f"write {done}")


async def test_a_part_is_read_before_the_one_ahead_is_written() -> None:
    steps = Steps()
    await in_turns([1, 2, 3], steps.read, steps.work_out, steps.write)
    assert steps.noted == ["read 1", "read 2", "write 10", "read 3", "write 20", "write 30"]


async def test_no_parts_do_nothing() -> None:
    steps = Steps()
    await in_turns([], steps.read, steps.work_out, steps.write)
    assert steps.noted == []


@pytest.mark.parametrize("at", [1, 2, 3])
async def test_what_fails_ends_the_work_and_nothing_after_it_is_written(at: int) -> None:
    steps = Steps(fails_at=at)
    with pytest.raises(ValueError, match=str(at)):
        await in_turns([1, 2, 3], steps.read, steps.work_out, steps.write)
    assert [note for note in steps.noted if note.startswith("write")] == [
        f"write {part * 10}" for part in range(1, at)
    ]
