"""Ask what an event would have earned had something been different."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

import msgspec

from stallkeep.domain.cautions import CAUTION
from stallkeep.domain.results import event_result as compute
from stallkeep.domain.targets import Leverage, Target, leverage, target
from stallkeep.domain.what_if import (
    Basis,
    WhatIf,
    basis_of,
    fewer_helpers,
    one_more_day,
    other_pitch,
    other_prices,
)
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.event_facts import event_facts


class OtherPrices(msgspec.Struct, frozen=True, kw_only=True):
    """Every price changed by a share, then by an amount; minus is lower."""

    offset_minor: int = 0
    share_ppm: int = 0


class Questions(msgspec.Struct, frozen=True, kw_only=True):
    """What is asked; None and empty are not asked.

    Attributes:
        prices: Other prices, each a question of its own.
        pitch_fee_minor: Another pitch fee for the whole event.
        one_more_day_minor: What one more day would cost.
        helpers_saved_minor: What fewer helpers would save.
        wanted_net_minor: A net to earn, after income tax.
        income_tax_ppm: Income tax on that net, below one million.
    """

    prices: tuple[OtherPrices, ...] = ()
    pitch_fee_minor: int | None = None
    one_more_day_minor: int | None = None
    helpers_saved_minor: int | None = None
    wanted_net_minor: int | None = None
    income_tax_ppm: int = 0


class WhatIfs(msgspec.Struct, frozen=True, kw_only=True):
    """Answers in the order of the questions.

    Attributes:
        currency: ISO 4217 code of every amount.
        net_minor: Expected net of the event as it was, the cash box's over/short left out.
        pieces: Pieces sold as it was.
        answers: One per question: prices, pitch, day, helpers.
        target: What it takes to earn the wanted net; None when none was named.
        leverage: How much the net hangs on the takings.
        caution: To be shown wherever these figures are.
    """

    currency: str
    net_minor: int
    pieces: int
    answers: tuple[WhatIf, ...]
    target: Target | None
    leverage: Leverage
    caution: str = CAUTION


async def what_if_event(
    con: Connection, shop: Shop, event_id: UUID, questions: Questions
) -> WhatIfs:
    """Answer what-if questions about an event.

    Raises:
        EventNotFoundError: The shop has no such event.
        NeverBreaksEvenError: Nothing was sold there, so there is nothing to reckon with.
    """
    facts = await event_facts(con, shop, event_id)
    whole = compute(facts).whole
    basis = basis_of(whole, shop.currency, len(facts.days))
    pitch = sum(cost.amount_minor for cost in whole.costs if cost.kind == "pitch_fee")
    return WhatIfs(
        currency=shop.currency,
        net_minor=basis.net_minor,
        pieces=basis.pieces,
        answers=tuple(_answers(basis, questions, pitch)),
        target=_target(basis, questions),
        leverage=leverage(basis),
    )


def _target(basis: Basis, asked: Questions) -> Target | None:
    if asked.wanted_net_minor is None:
        return None
    return target(basis, asked.wanted_net_minor, asked.income_tax_ppm)


def _answers(basis: Basis, asked: Questions, pitch_minor: int) -> Iterator[WhatIf]:
    for change in asked.prices:
        yield other_prices(basis, offset_minor=change.offset_minor, share_ppm=change.share_ppm)
    if asked.pitch_fee_minor is not None:
        yield other_pitch(basis, asked.pitch_fee_minor - pitch_minor)
    if asked.one_more_day_minor is not None:
        yield one_more_day(basis, asked.one_more_day_minor)
    if asked.helpers_saved_minor is not None:
        yield fewer_helpers(basis, asked.helpers_saved_minor)
