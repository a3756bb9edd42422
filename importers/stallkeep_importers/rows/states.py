"""What became of each row: paid, not completed, given back; by word or by the host's answer."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.contract import Choice, QuestionError
from stallkeep_importers.rows.response_codes import answer, parted
from stallkeep_importers.words import cell_words, plain, plain_among

if TYPE_CHECKING:
    from stallkeep_importers.rows.blocks import Block
    from stallkeep_importers.rows.sheets import Sheet

_FIELDS = ("state", "response")


@lru_cache(maxsize=1 << 12)
def state_of(cell: str, *, is_response: bool = False) -> str | None:
    """Read one cell: a word for a state, a code, or both; None where they are unknown or differ.

    Args:
        cell: As it stands.
        is_response: Whether the column's heading says that it holds the host's answers.
    """
    words = cell_words("states")
    known = words.get(plain_among(cell, words))
    both = None if known else parted(cell)
    if both is None:
        return known
    code, text = both
    by_code = answer(code, is_bare=is_response)
    by_word = words.get(plain(text))
    if not text or (by_word is None and is_response):
        return by_code
    return by_word if by_word == by_code else None


def states_of(block: Block, on_its_way: str = "completed") -> list[str | None]:
    """Give the state of every row: completed, not_completed, refunded or partly_refunded.

    An empty cell says nothing where the file writes down exceptions only; where it writes that
    payments are completed, a row that does not say so is rejected.

    Args:
        block: Some rows.
        on_its_way: What "in transit" means: a piece was sold, a payout has not arrived.

    Raises:
        QuestionError: Rows are authorised, and none of the file says that it is completed.
    """
    states = _read(block, "state")
    if block.has("state") and None in states and block.sheet.says_completed:
        header = block.sheet.header_of("state")
        for place, cell in enumerate(block.cells("state")):
            if not cell.strip():
                block.fault(place, "state", _no_state(header))
    if block.has("response"):
        states = _merged(block, states, _read(block, "response"))
    for place in _tries(block):
        states[place] = "not_completed"
    if "authorised" in states:
        meant = _authorised(block.sheet, block.cells("state")[states.index("authorised")])
        states = [meant if state == "authorised" else state for state in states]
    for place, meaning in block.flagged.items():
        if meaning == "not_completed":
            states[place] = meaning
    _deny(block, states)
    if "on_its_way" in states:
        return [on_its_way if state == "on_its_way" else state for state in states]
    return states


def was_tried(sheet: Sheet, row: Sequence[str]) -> bool:
    """Say whether a row is a try that came to nothing."""
    return any(
        state_of(row[sheet.places[field]], is_response=field == "response") == "not_completed"
        for field in _FIELDS
        if field in sheet.places
    )


def _read(block: Block, field: str) -> list[str | None]:
    if not block.has(field):
        return [None] * len(block)
    cells = block.cells(field)
    found = {cell: state_of(cell, is_response=field == "response") for cell in set(cells)}
    strange = {cell for cell, state in found.items() if state is None and cell.strip()}
    for place, cell in enumerate(cells) if strange else ():
        if cell in strange:
            block.fault(place, field, unknown_state(cell))
    return list(map(found.__getitem__, cells))


def _merged(
    block: Block, states: list[str | None], answers: Sequence[str | None]
) -> list[str | None]:
    """Let the host's answer speak where no state does; the two must not contradict each other."""
    for place, (state, said) in enumerate(zip(states, answers, strict=True)):
        if state is None:
            states[place] = said
        elif said == "not_completed" and state != said:
            block.fault(place, "response", _CONTRADICTION)
    return states


def _deny(block: Block, states: list[str | None]) -> None:
    """Let a no under "Paid" speak where no state does; the two must not contradict each other."""
    for place, (meaning, header) in block.denied.items():
        if states[place] == "completed":
            block.fault(place, "state", _unpaid_after_all(header))
        elif states[place] is None:
            states[place] = meaning


def _tries(block: Block) -> list[int]:
    """Give the rows whose kind is no kind but the word for a try that came to nothing."""
    if not block.has("kind"):
        return []
    kinds = cell_words("kinds")
    cells = block.cells("kind")
    told = {
        cell
        for cell in set(cells)
        if plain_among(cell, kinds) not in kinds and state_of(cell) == "not_completed"
    }
    return [place for place, cell in enumerate(cells) if cell in told] if told else []


def _authorised(sheet: Sheet, cell: str) -> str:
    """Say what "authorised" means: reserved only, where other rows are completed; else it is asked.

    Raises:
        QuestionError: No row is completed, and nobody has said.
    """
    said = sheet.options.authorised_is
    if said is None and not sheet.says_completed:
        header = sheet.header_of("state")
        raise QuestionError(
            "authorised-undecided",
            f"The column “{header}” says “{cell[:40]}”, which some programs write for money that "
            "was paid and others for money that was only reserved.",
            f"Say whether rows that say “{cell[:40]}” were paid.",
            parameter="authorised_is",
            choices=(
                Choice(value="paid", meaning=f"“{cell[:40]}” was paid"),
                Choice(value="reserved", meaning=f"“{cell[:40]}” was only reserved: left out"),
            ),
            facts={"column": header, "values": [cell]},
        )
    return "completed" if said == "paid" else "not_completed"


def unknown_state(cell: str) -> Fault:
    """Say that a state is not known."""
    return Fault(
        "state-unknown",
        f"We do not know whether “{cell[:40]}” means that it was paid.",
        "Write completed or failed instead and send the row again.",
    )


def _unpaid_after_all(header: str) -> Fault:
    return Fault(
        "states-contradict",
        f"One column says that the row was paid, and the column “{header}” says no.",
        "Correct the one that is wrong and send the row again.",
    )


def _no_state(header: str) -> Fault:
    return Fault(
        "state-missing",
        f"The row does not say in the column “{header}” whether it was paid, as others do.",
        "Write completed or failed there and send the row again.",
    )


_CONTRADICTION = Fault(
    "states-contradict",
    "One column says that the row was paid, another that it was declined.",
    "Correct the one that is wrong and send the row again.",
)
