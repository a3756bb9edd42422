"""Random values of the domain, shared by the laws beside this file."""

from __future__ import annotations

from hypothesis import settings
from hypothesis import strategies as st

from stallkeep.domain.fees import FeePart, FeeSchedule, Postage, Tier
from stallkeep.domain.tax import TaxRate, TaxSettings

patient = settings(deadline=None, max_examples=60)
"""For laws with large examples: fewer of them, and no clock, for busy machines."""


@st.composite
def fee_parts(draw: st.DrawFn) -> FeePart:
    """A fee of at most 30 %, with or without tiers and bounds."""
    starts = sorted(draw(st.sets(st.integers(1, 40_000), max_size=3)))
    low = draw(st.none() | st.integers(0, 900))
    return FeePart(
        name="a fee",
        kind=draw(st.sampled_from(["channel", "payment"])),
        base=draw(st.sampled_from(["price", "total"])),
        rate_ppm=draw(st.integers(0, 300_000)),
        tiers=tuple(
            Tier(from_minor=start, rate_ppm=draw(st.integers(0, 300_000))) for start in starts
        ),
        tiers_apply_to=draw(st.sampled_from(["slice", "whole"])),
        fixed_minor=draw(st.integers(0, 500)),
        minimum_minor=low,
        maximum_minor=draw(st.none() | st.integers(low or 0, 5_000)),
    )


postages = st.builds(
    Postage, payer=st.sampled_from(["none", "buyer", "seller"]), cost_minor=st.integers(0, 2_000)
)

fee_schedules = st.builds(
    FeeSchedule,
    parts=st.lists(fee_parts(), max_size=2).map(tuple),
    postage=postages,
    tax_on_fees_ppm=st.sampled_from([0, 0, 50_000, 190_000, 250_000]),
    returned_on_refund=st.booleans(),
)

tax_settings = st.builds(
    TaxSettings,
    mode=st.sampled_from(("none", "included", "added")),
    rates=st.lists(
        st.builds(TaxRate, name=st.just("rate"), rate_ppm=st.integers(0, 300_000)), max_size=3
    ).map(tuple),
    round_per=st.sampled_from(("line", "receipt")),
    parts_apart=st.booleans(),
    cash_step_minor=st.sampled_from((None, 1, 5, 10)),
)
