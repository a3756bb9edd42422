"""What the demo prints about decisions: was it worth it, what if, and whether to book the next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from rich.console import Console
from rich.table import Table

from stallkeep.cli.demo_show import heading

Json = Mapping[str, Any]

_BAR: Final = 30


def comparison(console: Console, found: Json) -> None:
    """Show the event beside the others per day, then its pieces beside other channels."""
    heading(console, f"Was it worth it? ({found['currency']} per day)")
    events = found["events"]
    table = _table("Event", "Net", "Takings", "Pieces", "Net an hour")
    ranked = [*events["others"]]
    ranked.insert(events["rank"] - 1, events["this"])
    for event in ranked:
        style = "bold" if event is events["this"] else None
        pieces = f"{event['pieces_tenths'] / 10:.0f}"
        hourly = event["net_per_hour"] or ""
        table.add_row(event["name"], event["net"], event["takings"], pieces, hourly, style=style)
    console.print(table)
    console.print(events["sentence"])
    if events["like_for_like"]:
        console.print("Only events of the same kind are compared.")
    _channels(console, found)


def _channels(console: Console, found: Json) -> None:
    if not found["elsewhere"]:
        return
    table = _table("The same pieces", "Left over cost", "Offered", "Sold", "Half of them in")
    missing = found["estimated_pieces"]
    table.add_row(f"{found['pieces']} pieces at the event", found["over_cost"], "", "", "")
    known = {one["channel"]: one for one in found["channels"] if one["category"] is None}
    for one in found["elsewhere"]:
        there = known[one["channel"]]
        half = "not yet" if one["median_days"] is None else f"{one['median_days']} days"
        counts = (str(there["offered"]), str(there["sold"]), half)
        table.add_row(f"{one['channel']}, if all sold", one["there"], *counts)
    console.print()
    console.print(table)
    console.print(
        f"The event's own costs, {found['event_costs']}, still come off that; fees and postage of "
        "the other channels are off already, but a piece may wait there a long time."
    )
    if missing:
        console.print(
            f"{missing} of the pieces are known from the stock count only, at their share of what "
            "the open payments brought."
        )


def what_if(console: Console, name: str, found: Json) -> None:
    """Show the answers, a sentence each."""
    heading(console, f"What if, at {name}")
    console.print(
        f"As it was, cash over/short apart: {found['net']} for {found['pieces']} pieces sold."
    )
    for answer in found["answers"]:
        console.print(answer["sentence"])
    if found["target"] is not None:
        console.print(found["target"]["sentence"])
    console.print(found["leverage"]["sentence"])


def forecast(console: Console, found: Json) -> None:
    """Show what the next event may bring, and whether to book it."""
    heading(console, f"Should I book it? {found['event']}")
    console.print(found["summary"])
    _histogram(console, found)
    console.print(found["advice"], style="bold")
    console.print(_stock(found))
    for sentence in found["limits"]:
        console.print(f"Note: {sentence}")
    console.print(found["caution"], style="dim")


def _stock(found: Json) -> str:
    enough = f"{found['pieces_to_have']} pieces are enough for a good day"
    if found["pieces_to_take"] is None:
        return f"{enough}."
    return f"{enough}; with the choice customers are used to, take {found['pieces_to_take']}."


def _histogram(console: Console, found: Json) -> None:
    """Draw the net in at most eight bars."""
    bars = list(_joined(found["histogram"]))
    highest = max(share for _, _, share in bars)
    table = _table("Net between", "and", "Chance")
    table.add_column("", no_wrap=True)
    for start, end, share in bars:
        length = round(_BAR * share / highest)
        table.add_row(start, end, f"{share:.0%}", "█" * length)
    console.print(table)


def _joined(histogram: Iterable[Json]) -> Iterable[tuple[str, str, float]]:
    """Join the bars of a histogram in threes, and all that hold next to nothing at the end."""
    bars = [one for one in histogram if one["share"] > 0]
    for first in range(0, len(bars), 3):
        some = bars[first : first + 3]
        yield some[0]["from"], some[-1]["to"], sum(one["share"] for one in some)


def _table(first: str, *others: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column(first)
    for name in others:
        table.add_column(name, justify="right")
    return table
