"""Sales on a resale channel, from its export."""

from __future__ import annotations

from stallkeep_importers.blocks import Block
from stallkeep_importers.contract import Outcome, Skip, Transaction, TransactionKind
from stallkeep_importers.payment_rows import unknown_kind, unknown_state
from stallkeep_importers.table_importer import Profile, TableImporter
from stallkeep_importers.words import cell_words


class ResaleSales(TableImporter):
    """One row is one sale on a channel, or its refund."""

    name = "resale-sales"
    title = "Resale-channel sales"
    gives = frozenset({"transaction"})
    profile = Profile(
        fields=(
            *("date", "time", "zone", "title", "price", "amount", "fee", "net", "postage"),
            *("postage_cost", "tax", "currency", "kind", "state", "reference", "external_id"),
            *("related_id", "payout_id", "tag_code", "note", "quantity", "refunded", "size"),
        ),
        needs=(("date",), ("amount", "price"), ("title", "reference", "tag_code")),
        speaks_for={
            "title": 0.1,
            "price": 0.1,
            "postage": 0.2,
            "postage_cost": 0.1,
            "fee": 0.1,
            "external_id": 0.05,
            "reference": 0.05,
            "state": 0.02,
            "tip": -0.2,
            "method": -0.1,
            "listed_on": -0.1,
            "time": -0.05,
            "balance": -0.2,
        },
        file_words=("sale", "sold", "order", "verkauf", "bestell"),
    )

    def outcomes(self, block: Block) -> list[Outcome]:
        days, moments = block.moments()
        amounts = _amounts(block)
        states = block.meanings("state", cell_words("states"), unknown_state)
        words = block.meanings("kind", cell_words("kinds"), unknown_kind)
        fees, taxes, postage = block.money("fee"), block.money("tax"), block.money("postage")
        costs, more, quantities = (
            block.money("postage_cost"),
            block.more(),
            block.counts("quantity"),
        )
        ids, references = block.texts("external_id"), block.texts("reference")
        tags, titles, notes = block.texts("tag_code"), block.texts("title"), block.notes("note")
        found: list[Outcome] = []
        for place, amount in enumerate(amounts):
            is_refund = words[place] in ("refund", "partial") or amount < 0
            kind: TransactionKind = "refund" if is_refund else "sale"
            if states[place] == "not_completed":
                found.append(_not_completed(block, place))
                block.faults.pop(place, None)
                continue
            currency = block.currency if isinstance(block.currency, str) else block.currency[place]
            found.append(
                Transaction(
                    record=block.records[place],
                    line=block.lines[place],
                    kind=kind,
                    amount_minor=-abs(amount) if is_refund else amount,
                    currency=currency,
                    occurred_on=days[place],
                    occurred_at=moments[place],
                    method="online",
                    external_id=ids[place],
                    fee_minor=fees[place],
                    tax_minor=taxes[place],
                    postage_minor=postage[place],
                    postage_cost_minor=costs[place],
                    reference=references[place],
                    tag_code=tags[place],
                    title=titles[place],
                    quantity=quantities[place],
                    note=notes[place],
                    more=more[place],
                )
            )
        return found


def _amounts(block: Block) -> list[int]:
    """Give what the buyer paid: the total where there is one, else price and postage."""
    if block.has("amount"):
        return [amount or 0 for amount in block.money("amount", required=True)]
    prices = block.money("price", required=True)
    postage = block.money("postage")
    return [(price or 0) + (post or 0) for price, post in zip(prices, postage, strict=True)]


def _not_completed(block: Block, place: int) -> Skip:
    return Skip(
        record=block.records[place],
        line=block.lines[place],
        code="not-completed",
        reason="The sale was cancelled or is not paid yet.",
        cells=tuple(block.rows[place]),
    )
