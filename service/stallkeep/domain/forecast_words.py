"""A forecast in sentences, and how little it is supported where that is so."""

from __future__ import annotations

from stallkeep.domain.money import to_text

FEW_EVENTS = 4
LITTLE_WORTH = 2.0
OFTEN = 0.2


def summary(
    pieces: tuple[int, int], net_minor: tuple[int, int], chance: float, currency: str
) -> str:
    """Say what to expect in 8 of 10 cases, and the chance of at least breaking even."""
    low, high = (to_text(amount, currency) for amount in net_minor)
    return (
        f"In 8 of 10 cases {pieces[0]} to {pieces[1]} pieces are sold and the net is between "
        f"{low} and {high}. The chance of at least breaking even is {chance:.0%}."
    )


def limits(*, events: int, worth: float, without_cost: int, runs_out: float) -> tuple[str, ...]:
    """Say what the forecast lacks.

    Args:
        events: Earlier events used.
        worth: What they count together for an event like this one.
        without_cost: Pieces of the rail whose cost is not known.
        runs_out: Chance that the rail runs out.
    """
    said = []
    if events == 0:
        said.append(
            "No earlier event is known: this rests on what is common for small stalls and can be "
            "far off."
        )
    elif events < FEW_EVENTS:
        times = "event" if events == 1 else "events"
        said.append(
            f"This rests on only {events} earlier {times}; the range is wide for that reason."
        )
    elif worth < LITTLE_WORTH:
        said.append(
            f"The {events} earlier events are old, of another kind or of another season: together "
            f"they count like {worth:.1f} events like this one."
        )
    if without_cost:
        pieces = "piece has" if without_cost == 1 else "pieces have"
        said.append(f"{without_cost} {pieces} no cost; the rail's usual share is taken for it.")
    if runs_out > OFTEN:
        said.append(f"In {runs_out:.0%} of cases more could be sold than the rail holds.")
    return tuple(said)


def advice(pitch_fee_minor: int, highest_fee_minor: int, chance: float, currency: str) -> str:
    """Say whether a pitch is worth its fee.

    Args:
        pitch_fee_minor: What it costs.
        highest_fee_minor: The most it may cost for *chance* of not losing money; 0 when even a
            free pitch does not reach it.
        chance: The chance that is wanted.
        currency: Of the amounts.
    """
    fee, highest = to_text(pitch_fee_minor, currency), to_text(highest_fee_minor, currency)
    if highest_fee_minor >= pitch_fee_minor:
        return (
            f"At a pitch fee of {fee} it is worth booking: up to {highest} the chance of not "
            f"losing money is at least {chance:.0%}."
        )
    if highest_fee_minor == 0:
        return (
            f"At a pitch fee of {fee} it is not worth booking: not even a free pitch has a chance "
            f"of {chance:.0%} of not losing money."
        )
    return (
        f"At a pitch fee of {fee} it is a risk: for a chance of {chance:.0%} of not losing money "
        f"the pitch may cost at most {highest}."
    )
