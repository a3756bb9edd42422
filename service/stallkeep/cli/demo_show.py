"""What the demo prints, laid out for 80 columns."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from rich.console import Console
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from stallkeep.domain.tag_codes import to_text as code_text

WIDTH: Final = 80
Json = Mapping[str, Any]

_COST_WORDS: Final = {
    "pitch_fee": "Pitch fee",
    "travel": "Travel",
    "parking": "Parking",
    "food": "Food",
    "lodging": "Lodging",
    "helpers": "Helpers",
    "supplies": "Supplies",
    "fees": "Other fees",
    "other": "Other",
}


def heading(console: Console, text: str) -> None:
    """Begin a section."""
    console.print()
    console.print(Rule(Text(text, style="bold"), align="left", characters="─"))


def taken_in(console: Console, imports: Sequence[Json], rejects: Mapping[str, list[Json]]) -> None:
    """Show what became of each file, then each rejected row with its reason."""
    heading(console, "What was taken in")
    table = _plain("File")
    for name in ("Read", "Taken", "Known", "Rejected", "Skipped"):
        table.add_column(name, justify="right")
    for done in imports:
        counts = (done[key] for key in ("rows_read", "taken", "known", "rejected", "skipped"))
        table.add_row(done["file_name"], *(str(count) for count in counts))
    console.print(table)
    console.print("Read = taken + known + rejected + skipped, in every line.", style="dim")
    for done in imports:
        for reject in rejects.get(done["id"], ()):
            console.print(f"{done['file_name']}, line {reject['line']}: {reject['reason']}")
        if done["changed"]:
            console.print(f"{done['file_name']}: {done['changed']} row(s) changed since last time")


def matched(console: Console, lines: Sequence[Json], zone: dt.tzinfo) -> None:
    """Show which payment was for which piece, how sure that is, and why."""
    heading(console, "Which payment was for which piece")
    table = _plain("When")
    table.add_column("Paid", justify="right")
    table.add_column("For", ratio=4)
    table.add_column("Sure", justify="right")
    table.add_column("Why", ratio=5)
    for line in lines:
        match = line["matches"][0]
        table.add_row(
            _when(line, zone), line["amount"], _pieces(match), _share(match), match["reason"]
        )
    console.print(table)


def open_lines(console: Console, lines: Sequence[Json], zone: dt.tzinfo) -> None:
    """Show payments that more than one piece fits, with the likeliest of them."""
    heading(console, "Not settled: more than one answer fits")
    table = _plain("When")
    table.add_column("Paid", justify="right")
    table.add_column("Likeliest", ratio=5)
    table.add_column("Chance", justify="right")
    table.add_column("Together", ratio=4)
    for line in lines:
        best = line["matches"][0]
        group = best["group"]
        together = "" if group is None else f"{group['sentence']} ({_percent(group)})"
        table.add_row(_when(line, zone), line["amount"], _pieces(best), _share(best), together)
    console.print(table)


def unmatched(console: Console, lines: Sequence[Json], zone: dt.tzinfo) -> None:
    """Show payments without a piece, and the likeliest reason."""
    heading(console, "Unmatched")
    console.print(_reasons(lines, zone, "No piece fits.") if lines else "Nothing.")


def refunds(console: Console, lines: Sequence[Json], zone: dt.tzinfo) -> None:
    """Show what was given back, and for what."""
    if lines:
        heading(console, "Given back")
        console.print(_reasons(lines, zone, "It names no payment."))


def _reasons(lines: Sequence[Json], zone: dt.tzinfo, otherwise: str) -> Table:
    table = _plain("When")
    table.add_column("Amount", justify="right")
    table.add_column("How")
    table.add_column("Why", ratio=1)
    for line in lines:
        reason = line["match_reason"] or otherwise
        table.add_row(_when(line, zone), line["amount"], line["method"] or "", reason)
    return table


def take_downs(console: Console, lines: Sequence[Json], sold_from: dt.date) -> None:
    """Show which listings must come down: first what the event sold, then how many more."""
    heading(console, "Listings that must come down")
    table = _plain("Channel")
    table.add_column("Listing")
    table.add_column("Piece", ratio=1)
    table.add_column("Sold")
    table.add_column("Sure", justify="right")
    recent = [line for line in lines if not line["sold_on"] or line["sold_on"] >= str(sold_from)]
    for line in sorted(recent, key=lambda one: (-one["probability"], one["channel_name"])):
        piece = f"{line['title']} {code_text(line['tag_code'])}"
        sold_on = _day(line["sold_on"]) if line["sold_on"] else "perhaps"
        table.add_row(line["channel_name"], line["reference"], piece, sold_on, _share(line))
    console.print(table)
    if older := len(lines) - len(recent):
        console.print(f"… and {older} more, of pieces sold before.")


def result(console: Console, name: str, found: Json) -> None:
    """Show what the event earned, by day and whole, to the cent."""
    heading(console, f"What {name} earned ({found['currency']})")
    days = [day for day in found["days"] if day["day"] is not None]
    table = _plain("")
    for day in days:
        table.add_column(_day(day["day"]), justify="right")
    table.add_column("Whole", justify="right", style="bold")
    statements = [*(day["statement"] for day in days), found["whole"]]
    for label, pick in _lines(found):
        amounts = [pick(statement) for statement in statements]
        if any(amount not in ("", "0.00") for amount in amounts):
            style = "bold" if label.isupper() else None
            table.add_row(label.capitalize(), *amounts, style=style)
    console.print(table)
    _below(console, found)


def _lines(found: Json) -> Iterable[tuple[str, Any]]:
    yield "takings", lambda s: s["takings"]
    yield "tips within", lambda s: s["tips"]
    yield "refunds", lambda s: _less(s["refunds"])
    yield "not income", lambda s: _less(s["not_income"])
    yield "sales tax", lambda s: _less(s["tax"])
    yield "cost of goods", lambda s: _less(s["cost_of_goods"]["expected"])
    yield "GROSS MARGIN", lambda s: s["gross_margin"]["expected"]
    yield "card fees", lambda s: _less(s["fees"])
    for kind in dict.fromkeys(cost["kind"] for cost in found["whole"]["costs"]):
        yield _COST_WORDS.get(kind, kind).lower(), lambda s, kind=kind: _less(_cost(s, kind))
    yield "cash over/short", lambda s: s["over_short"]
    yield "NET", lambda s: s["net"]["expected"]


def _cost(statement: Json, kind: str) -> str:
    return next((cost["amount"] for cost in statement["costs"] if cost["kind"] == kind), "0.00")


def _below(console: Console, found: Json) -> None:
    whole = found["whole"]
    net, goods = whole["net"], whole["cost_of_goods"]
    if goods["low"] != goods["high"]:
        console.print(
            f"Cost of goods lies between {goods['low']} and {goods['high']}, so the net between "
            f"{net['low']} and {net['high']}, until the open payments are settled."
        )
    for totals in found["methods"]:
        console.print(
            f"{totals['method'].capitalize()}: {totals['matched']} matched + {totals['proposed']} "
            f"proposed + {totals['unmatched']} unmatched + {totals['set_aside']} set aside "
            f"= {totals['takings']}"
        )
    pieces, rates, share = whole["pieces"], whole["rates"], found["sell_through"]["share_ppm"]
    parts = [f"{pieces['known']} of {pieces['taken']} pieces taken are matched to a payment"]
    if pieces["estimated"]:
        parts.append(f"about {pieces['estimated']} more are gone")
    if share is not None:
        parts.append(f"sell-through {share / 10_000:.0f} %")
    console.print("; ".join(parts) + ".")
    hourly = {"per piece sold": "per_piece_sold", "per hour open": "per_open_hour"}
    hourly |= {"per own hour": "per_own_hour"}
    said = [f"{rates[key]} {label}" for label, key in hourly.items() if rates[key] is not None]
    console.print(f"Net {', '.join(said)}.")
    if whole["break_even"] is not None:
        even = whole["break_even"]
        console.print(f"Break-even at {even['pieces']} pieces or {even['takings']} taken.")
    for sentence in (*found["missing"], *found["notes"]):
        console.print(f"Note: {sentence}")
    console.print(found["caution"], style="dim")


def questions(console: Console, asked: Sequence[Json]) -> None:
    """Show the few checks that would settle most."""
    if not asked:
        return
    heading(console, "A look at these would settle most")
    for number, question in enumerate(asked, 1):
        console.print(f"{number}. {question['sentence']}")


def _plain(first: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim", padding=(0, 2, 0, 0))
    table.add_column(first, no_wrap=True)
    return table


def _when(line: Json, zone: dt.tzinfo) -> str:
    if line["occurred_at"] is None:
        return _day(line["occurred_on"])
    return f"{dt.datetime.fromisoformat(line['occurred_at']).astimezone(zone):%a %H:%M}"


def _day(day: str) -> str:
    return f"{dt.date.fromisoformat(day):%a %d %b}"


def _pieces(match: Json) -> str:
    if not match["pieces"]:
        return str(match["explanation"]).replace("_", " ")
    return ", ".join(f"{p['title']} {code_text(p['tag_code'])}" for p in match["pieces"])


def _share(match: Json) -> str:
    return _percent(match)


def _percent(match: Json) -> str:
    share = 100 * match["probability"]
    return "certain" if share >= 99.95 else f"{share:.0f} %"  # noqa: PLR2004 - of 100


def _less(amount: str) -> str:
    """Write what is taken off with a minus; nothing stays nothing."""
    if amount.startswith("-"):
        return amount[1:]
    return f"-{amount}" if amount.strip("0.") else amount
