"""Sales of a channel against the whole stock: blocked, so that work grows with the sales.

Items are found (`channel_stock`), compared (`channel_pairs`), shared among the sales that compete
for them (`channel_shares`), and what comes of it is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from stallkeep.domain.matching.channel_pairs import Pair, compared, worth_keeping
from stallkeep.domain.matching.channel_shares import components, posterior
from stallkeep.domain.matching.channel_stock import Stock, line_key
from stallkeep.domain.matching.evidence import Evidence
from stallkeep.domain.matching.line_answer import Candidate, LineAnswer, Weight
from stallkeep.domain.matching.money_line import MoneyLine
from stallkeep.domain.matching.money_parts import shared


def match_channel(
    evidence: Evidence,
    lines: Sequence[MoneyLine],
    taken: Mapping[str, int],
    threshold: float,
    *,
    stock: Stock | None = None,
    blocks: Mapping[str, Sequence[str]] | None = None,
) -> dict[str, LineAnswer]:
    """Answer the sales of a channel that no reference settles.

    Args:
        evidence: Its pieces are the stock; its rulings say what a line is not for.
        lines: Lines to answer.
        taken: Units per item id that are spoken for.
        threshold: Probability from which an item counts as matched.
        stock: Instead of the pieces of *evidence*.
        blocks: Items worth comparing by transaction id; worked out where not given.
    """
    stock = stock or Stock(evidence.pieces)
    refused = {
        (r.transaction_id, r.item_ids[0])
        for r in evidence.rulings
        if r.verdict == "refused" and len(r.item_ids) == 1
    }
    pairs: dict[str, list[Pair]] = {}
    for line in lines:
        key = line_key(line)
        block = stock.block(line, key) if blocks is None else blocks.get(line.transaction_id, ())
        found = [
            compared(stock, line, key, item)
            for item in block
            if taken.get(item, 0) < max(stock.pieces[item].quantity, 1)
            and (line.transaction_id, item) not in refused
        ]
        pairs[line.transaction_id] = worth_keeping(found)
    known = {line.transaction_id: line for line in lines}
    out: dict[str, LineAnswer] = {}
    for component in components(pairs):
        shares = posterior(stock, [pairs[t] for t in component], taken)
        for t, share in zip(component, shares, strict=True):
            out[t] = _answer(known[t], pairs[t], share, threshold)
    return out


def _answer(
    line: MoneyLine,
    pairs: Sequence[Pair],
    shares: Sequence[float],
    threshold: float,
) -> LineAnswer:
    ranked = sorted(zip(pairs, shares, strict=False), key=lambda x: (-x[1], x[0].item_id))
    candidates = tuple(
        _candidate(line, pair, share, shares[-1])
        for pair, share in ranked[:5]
        if share > 1e-4  # noqa: PLR2004 - less is noise
    )
    if not candidates or shares[-1] > candidates[0].probability:
        return LineAnswer(
            transaction_id=line.transaction_id,
            state="unmatched",
            probability=float(shares[-1]),
            reason="no item of the stock has a title and price like it",
            candidates=candidates,
        )
    best = candidates[0]
    matched = best.probability >= threshold
    told = max(best.weights, key=lambda w: w.bits).sentence if best.weights else "it fits best"
    return LineAnswer(
        transaction_id=line.transaction_id,
        state="matched" if matched else "proposed",
        item_ids=best.item_ids if matched else (),
        prices_minor=best.prices_minor if matched else (),
        probability=best.probability,
        reason=told if matched else _fitting(len(candidates)),
        candidates=candidates,
    )


def _fitting(items: int) -> str:
    return "1 item fits, not for certain" if items == 1 else f"{items} items fit, none for certain"


def _candidate(line: MoneyLine, pair: Pair, share: float, none: float) -> Candidate:
    """Weights against "no item", with what competition for the item changed as the last."""
    whole = math.log2(max(share, 1e-9) / max(none, 1e-9))
    rest = whole - sum(w.bits for w in pair.weights)
    weights = (*pair.weights, Weight(bits=rest, sentence="other items and other sales like it"))
    return Candidate(
        explanation="pieces",
        item_ids=(pair.item_id,),
        prices_minor=shared(line.amount_minor, [1]),
        probability=min(float(share), 1.0),
        weights=weights,
    )
