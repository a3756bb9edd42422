"""Payments taken with a card reader, from its export."""

from __future__ import annotations

from itertools import repeat

from stallkeep_importers.blocks import Block
from stallkeep_importers.contract import Outcome, Skip, Transaction, TransactionKind
from stallkeep_importers.faults import Fault
from stallkeep_importers.payment_rows import unknown_kind, unknown_state
from stallkeep_importers.table_importer import Profile, TableImporter
from stallkeep_importers.words import cell_words


class CardReaderPayments(TableImporter):
    """One row is one payment, refund, fee or payout of a card reader."""

    name = "card-reader-payments"
    title = "Card-reader payments"
    gives = frozenset({"transaction"})
    profile = Profile(
        fields=(
            *(
                "date",
                "time",
                "zone",
                "amount",
                "fee",
                "net",
                "tip",
                "tax",
                "surcharge",
                "currency",
            ),
            *("kind", "state", "method", "external_id", "related_id", "payout_id", "payout_date"),
            *("tag_code", "reference", "title", "note", "quantity", "refunded", "balance", "rate"),
        ),
        needs=(("date",), ("amount",)),
        speaks_for={
            "fee": 0.1,
            "tip": 0.15,
            "method": 0.1,
            "card_brand": 0.15,
            "kind": 0.05,
            "time": 0.05,
            "external_id": 0.05,
            "state": 0.03,
            "note": 0.02,
            "title": -0.15,
            "postage": -0.3,
            "price": -0.2,
            "reference": -0.05,
            "category": -0.2,
            "payout_date": -0.05,
            "listed_on": -0.3,
            "balance": -0.2,
        },
        file_words=("card", "payment", "transaction", "karte", "zahlung"),
    )

    def outcomes(self, block: Block) -> list[Outcome]:
        amounts = [amount or 0 for amount in block.money("amount", required=True)]
        days, moments = block.moments()
        states = block.meanings("state", cell_words("states"), unknown_state)
        kinds = _kinds(block, amounts)
        found: list[Outcome] = [
            Transaction(
                record=record,
                line=line,
                kind=kind,
                amount_minor=-abs(amount) if kind in ("refund", "fee") else amount,
                currency=currency,
                occurred_on=day,
                occurred_at=moment,
                method="card",
                external_id=external_id,
                fee_minor=fee,
                tip_minor=tip,
                tax_minor=tax,
                note=note,
                more=more,
            )
            for (
                record, line, kind, amount, currency, day, moment,
                external_id, fee, tip, tax, note, more,
            ) in zip(
                block.records, block.lines, kinds, amounts,
                repeat(block.currency) if isinstance(block.currency, str) else block.currency,
                days, moments, block.texts("external_id"), block.money("fee"), block.money("tip"),
                block.money("tax"), block.notes("note"), block.more(), strict=False,
            )
        ]  # fmt: skip
        for place, state in enumerate(states):
            if state == "not_completed":
                found[place] = _not_completed(block, place)
                block.faults.pop(place, None)
        return found


def _kinds(block: Block, amounts: list[int]) -> list[TransactionKind]:
    words = block.meanings("kind", cell_words("kinds"), unknown_kind)
    kinds: list[TransactionKind] = []
    for place, (word, amount) in enumerate(zip(words, amounts, strict=True)):
        kind: TransactionKind = "payment"
        if word in ("refund", "partial"):
            kind = "refund"
        elif word in ("fee", "payout", "adjustment"):
            kind = word  # type: ignore[assignment]
        elif word in ("dispute", "dispute_reversed"):
            kind = "adjustment"
        elif word is None and amount < 0:
            kind = "refund"
        elif amount < 0:
            block.fault(place, "amount", _wrong_sign())
        kinds.append(kind)
    return kinds


def _wrong_sign() -> Fault:
    return Fault(
        "sign-contradicts-kind",
        "The row says payment, and its amount is negative.",
        "Correct the kind or the amount.",
    )


def _not_completed(block: Block, place: int) -> Skip:
    return Skip(
        record=block.records[place],
        line=block.lines[place],
        code="not-completed",
        reason="The payment was declined, voided or is still pending; nothing was paid.",
        cells=tuple(block.rows[place]),
    )
