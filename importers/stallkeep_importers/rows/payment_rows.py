"""What a row of money movements is: its kind by word or by sign, its state, its signs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stallkeep_importers.cells.faults import Fault
from stallkeep_importers.cells.money import written
from stallkeep_importers.cells.personal import blanked
from stallkeep_importers.contract import Skip, TransactionKind
from stallkeep_importers.rows.blocks import Block
from stallkeep_importers.rows.sheets import Sheet
from stallkeep_importers.rows.states import states_of
from stallkeep_importers.words import cell_words, plain, plain_among

_KINDS: dict[str, tuple[TransactionKind, str | None]] = {
    "payment": ("payment", None),
    "refund": ("refund", None),
    "partial": ("refund", "partial"),
    "fee": ("fee", None),
    "payout": ("payout", None),
    "dispute": ("adjustment", "dispute"),
    "dispute_reversed": ("adjustment", "dispute_reversed"),
    "adjustment": ("adjustment", None),
    "instalment": ("payment", "instalment"),
}
_DETAILS = {"refunded": "refunded", "partly_refunded": "partly_refunded"}
_BACK = frozenset({"refund", "partial", "dispute"})
_LONGEST_WORD = 30
_SHORTEST_TRY = 4  # "no" and "nej" say something else in a note
_AWAY = frozenset({"refund", "fee"})
_FEE_WORDS = ("fee", "payment", None)  # in a list of fees


class Kinds:
    """Reads kinds and signs under one habit for the file.

    A file is *signed* when it writes money that leaves with a minus: then its signs are taken as
    they stand. In another file the word of the kind gives the sign.

    Args:
        usual: What a row is that says nothing: "payment" or "sale"; "fee" in a list of fees.
    """

    def __init__(self, usual: TransactionKind) -> None:
        self._usual = usual
        self._is_signed = False
        self._payouts_are_minus = False
        self._are_plus: bool | None = None

    def read(
        self, block: Block, amounts: list[int]
    ) -> tuple[list[TransactionKind], list[str | None]]:
        """Give kind and detail of every row, and bring *amounts* to the contract's signs."""
        words = block.meanings("kind", cell_words("kinds"), unknown_kind)
        if self._usual == "fee":
            self._read_fees(block, words, amounts)
            return ["fee"] * len(block), [None] * len(block)
        if not block.has("kind"):
            return self._by_sign(block, amounts), [None] * len(block)
        kinds: list[TransactionKind] = [self._usual] * len(block)
        details: list[str | None] = [None] * len(block)
        if min(amounts, default=0) >= 0 and set(words) <= {"payment"}:
            return kinds, details
        for place, word in enumerate(words):
            kind, details[place] = _KINDS.get(word or "", (None, None))
            kinds[place] = self._kind(kind, amounts[place])
        self._learn(kinds, amounts)
        for place, kind in enumerate(kinds):
            if kind != self._usual or amounts[place] < 0:
                amounts[place] = self._signed(block, place, kind, details[place], amounts[place])
        return kinds, details

    def _by_sign(self, block: Block, amounts: Sequence[int]) -> list[TransactionKind]:
        for place, field in said_refunds(block, "note", "title").items():
            if amounts[place] > 0:
                block.fault(place, field, KIND_UNCLEAR)
        return ["refund" if amount < 0 else self._usual for amount in amounts]

    def _read_fees(self, block: Block, words: Sequence[str | None], amounts: list[int]) -> None:
        """Turn fees to minus, however the file writes them; one that may be no fee is rejected."""
        filled = [amount > 0 for amount in amounts if amount]
        if self._are_plus is None and filled:
            self._are_plus = filled[0]
        for place, amount in enumerate(amounts):
            is_other = bool(amount) and (amount > 0) != self._are_plus
            if is_other or words[place] not in _FEE_WORDS:
                block.fault(place, "amount", _FEE_BACK)
            amounts[place] = -abs(amount)

    def _kind(self, kind: TransactionKind | None, amount: int) -> TransactionKind:
        if kind is None:
            return "refund" if amount < 0 else self._usual
        return self._usual if kind == "payment" else kind

    def _learn(self, kinds: Sequence[TransactionKind], amounts: Sequence[int]) -> None:
        for kind, amount in zip(kinds, amounts, strict=True):
            if amount < 0 and kind in _AWAY:
                self._is_signed = True
            if amount < 0 and kind == "payout":
                self._payouts_are_minus = True

    def _signed(
        self, block: Block, place: int, kind: TransactionKind, detail: str | None, amount: int
    ) -> int:
        if kind == "payout":
            if self._payouts_are_minus and amount > 0:
                block.fault(place, "amount", _CONTRADICTION)
            return abs(amount)
        if kind == "adjustment":
            if detail and not self._is_signed and amount > 0:
                return -amount if detail == "dispute" else amount
            return amount
        if kind in _AWAY:
            if self._is_signed and amount > 0:
                if kind == "fee":
                    return amount
                block.fault(place, "amount", _CONTRADICTION)
            return -abs(amount)
        block.fault(place, "amount", _CONTRADICTION)
        return amount


class Refunds:
    """Reads what a payment's own row says was given back later.

    Where refunds have rows of their own, which may stand anywhere in the file, it is not counted
    here a second time.
    """

    def __init__(self, sheet: Sheet, sample: Block, base: str) -> None:
        self._sheet = sheet
        self._base = base
        self._is_needed = bool({"refunded", "state"} & sheet.places.keys())
        told = any(sample.money("refunded")) or any(
            state in _DETAILS for state in states_of(sample) if state
        )
        self._is_known = sheet.table.is_whole or told or "refunded" in sheet.places
        self._have_rows = self._is_needed and any(map(self._is_refund, self._rows()))

    def read(
        self, block: Block, states: Sequence[str | None], amounts: Sequence[int]
    ) -> tuple[list[int | None] | None, list[str | None]]:
        """Give the part given back (None: nothing is said) and the detail, by row."""
        details = [_DETAILS.get(state or "") for state in states]
        if not self._is_needed:
            return None, details
        given = [abs(value) if value else None for value in block.money("refunded")]
        for place, (back, detail, amount) in enumerate(zip(given, details, amounts, strict=True)):
            if back and amount > 0:
                details[place] = "refunded" if back >= amount else "partly_refunded"
            elif detail == "refunded" and amount > 0 and self._is_known:
                given[place] = amount
            elif detail and not self._have_rows:
                self._sheet.tally["refund-unknown"] += 1
        return (None if self._have_rows or not any(given) else given), details

    def _rows(self) -> Iterator[Sequence[str]]:
        """Give the rows that may be refunds: the sample's, or all where it matters."""
        if self._sheet.table.is_whole or not self._is_known:
            yield from self._sheet.table.sample
        else:
            for rows in self._sheet.rows():
                yield from rows

    def _is_refund(self, row: Sequence[str]) -> bool:
        kind = self._sheet.places.get("kind")
        words = cell_words("kinds")
        if kind is not None and words.get(plain_among(row[kind], words)) in ("refund", "partial"):
            return True
        amount = written(row[self._sheet.places[self._base]])
        return amount is not None and amount.negative


def said_refunds(block: Block, *fields: str) -> dict[int, str]:
    """Give the rows one of whose cells says, and says only, that money went back, and its field."""
    found: dict[int, str] = {}
    for field in fields:
        cells = block.cells(field) if block.has(field) else ()
        telling = {cell for cell in set(cells) if len(cell) <= _LONGEST_WORD and _is_back(cell)}
        for place, cell in enumerate(cells if telling else ()):
            if cell in telling:
                found.setdefault(place, field)
    return found


def _is_back(cell: str) -> bool:
    word = cell.strip(" .!").casefold() if cell.isascii() else plain(cell)
    return cell_words("kinds").get(word) in _BACK


def refuse_said_tries(block: Block) -> None:
    """Reject rows whose note says, and says only, that nothing was paid: "declined", "void"."""
    if block.has("state") or block.has("response") or not block.has("note"):
        return
    cells = block.cells("note")
    told = {cell for cell in set(cells) if len(cell) <= _LONGEST_WORD and _is_try(cell)}
    for place, cell in enumerate(cells if told else ()):
        if cell in told:
            block.fault(place, "note", _SAID_TRY)


def _is_try(cell: str) -> bool:
    word = cell.strip(" .!").casefold() if cell.isascii() else plain(cell)
    if len(word) < _SHORTEST_TRY or cell_words("states").get(word) != "not_completed":
        return False
    return word not in cell_words("listing_states")


def refuse_discounts(block: Block) -> None:
    """Reject rows with a discount, where nothing but a price is given."""
    for place, discount in enumerate(block.money("discount")):
        if discount:
            block.fault(place, "discount", _DISCOUNTED)


def like(amount: int, value: int | None) -> int | None:
    """Give a part the sign of its amount."""
    return -abs(value) if value is not None and amount < 0 else value


def not_completed(block: Block, place: int) -> Skip:
    """Give the skip of a try that was declined, voided or is pending."""
    block.faults.pop(place, None)
    block.left_out.add(place)
    return Skip(
        record=block.records[place],
        line=block.lines[place],
        code="not-completed",
        reason="It was declined, cancelled or is still pending; nothing was paid.",
        cells=blanked(block.rows[place], block.sheet.personal, in_place=True),
    )


def unknown_kind(cell: str) -> Fault:
    """Say that a kind of row is not known."""
    return Fault(
        "kind-unknown",
        f"We do not know what kind of row “{cell[:40]}” is.",
        "Say payment, refund, fee, payout or adjustment instead.",
    )


_DISCOUNTED = Fault(
    "price-or-discount",
    "The row has a discount, and does not say whether its price is before or after it.",
    "Add what the buyer paid in all.",
)
KIND_UNCLEAR = Fault(
    "kind-unclear",
    "The row says that money went back, and its amount says that money came.",
    "Write the amount with a minus if it went back, or other words if it came.",
)
_SAID_TRY = Fault(
    "kind-unclear",
    "The note says that nothing was paid, and the row has an amount.",
    "Take the row out if nothing was paid, or write another note.",
)
_FEE_BACK = Fault(
    "sign-contradicts-kind",
    "By its sign or its kind the row is another than the fees above it: it may be one that was "
    "given back.",
    "Enter a fee that was given back by hand, or correct the sign and send the row again.",
)
_CONTRADICTION = Fault(
    "sign-contradicts-kind",
    "The sign of the amount contradicts what the row says it is.",
    "Correct the kind or the amount.",
)
