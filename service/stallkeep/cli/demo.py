"""The demo: an invented shop's exports through the whole service, from the files to the result."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, Final

import msgspec
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from stallkeep.api.app import create_app
from stallkeep.cli import demo_decisions as decide
from stallkeep.cli import demo_show as show
from stallkeep.cli.demo_shop import DemoShop
from stallkeep.cli.local_client import LocalClient
from stallkeep.cli.running import run
from stallkeep.cli.serve import address, listen, serve_on
from stallkeep.config import Settings
from stallkeep.demo_files import demo_folder
from stallkeep.log import set_up_log
from stallkeep.store.connection import Pool
from stallkeep.store.database import Database
from stallkeep.work.know_caller import know_caller
from stallkeep.work.open_shop import open_shop

TOKEN_FILE: Final = "demo-token"  # noqa: S105 - the name of a file
MAIN_EVENT: Final = "Brackenslip Harbour Fair"
WANTED_NET: Final = "500.00"
"""What the demo's seller would have liked to earn there."""
NEXT_EVENT: Final = "Saltrigg Spring Market 2027"
BEFORE: Final = "before_purchases"
AFTER: Final = "after_events"

Json = Mapping[str, Any]


def demo(settings: Settings, *, once: bool) -> int:
    """Run the main job on the demo's shop and print it; then serve it unless *once*."""
    set_up_log(settings.log, "error")  # the pages printed here are what the user came for
    console = Console(width=max(show.WIDTH, min(Console().width, 100)))

    async def work(pool: Pool, found: Database) -> None:
        token = await _token(settings, pool)
        app = create_app(settings, pool)
        await _main_job(console, LocalClient(app, token))
        if not once:
            await _serve(console, settings, pool, found, token)

    run(settings, work, may_be_stopped=not once)
    return 0


async def _token(settings: Settings, pool: Pool) -> str:
    """Find the demo shop's token where an earlier run left it, or open the shop."""
    file = settings.data_dir / TOKEN_FILE
    if file.is_file():
        token = file.read_text(encoding="utf-8").strip()
        if await know_caller(pool, token) is not None:
            return token
    shop = msgspec.json.decode((demo_folder() / "setup.json").read_bytes())["shop"]
    _, token = await open_shop(
        pool, shop["name"], shop["currency"], shop["time_zone"], shop["languages"]
    )
    file.parent.mkdir(parents=True, exist_ok=True)
    file.touch(mode=0o600)
    file.write_text(token + "\n", encoding="utf-8")
    return token


async def _main_job(console: Console, client: LocalClient) -> None:
    shop = DemoShop(client, demo_folder())
    console.print(
        f"{shop.setup['shop']['name']} mends wool and workwear and sells old kitchen ceramics. "
        "All of it is invented."
    )
    imports = await take_everything_in(console, shop)
    rejects = {
        done["id"]: await client.every(f"/v1/imports/{done['id']}/rejects")
        for done in imports
        if done["rejected"]
    }
    show.taken_in(console, imports, rejects)
    await reconcile(client, shop)
    await _show_event(console, client, shop)


async def take_everything_in(console: Console, shop: DemoShop) -> list[Json]:
    """Set the shop up and take every file in, in the order of its story."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    done: list[Json] = []
    with Progress(*columns, console=console, transient=True) as progress:
        total = len(shop.setup["files"]) + 2
        task = progress.add_task("Channels and pieces", total=total)
        await shop.set_up_stock()
        for file in shop.files(BEFORE):
            progress.update(task, advance=1, description=file["name"])
            done.append(await shop.take_in(file))
        progress.update(task, advance=1, description="Events")
        await shop.set_up_events()
        for file in shop.files(AFTER):
            progress.update(task, advance=1, description=file["name"])
            done.append(await shop.take_in(file))
    return done


async def reconcile(client: LocalClient, shop: DemoShop) -> None:
    """Online sales first, so that the events know what was gone; then each event that is over."""
    kinds = {channel["name"]: channel["kind"] for channel in shop.setup["channels"]}
    for name, channel_id in shop.channels.items():
        if kinds[name] != "stall":
            await client.post("/v1/reconciliations", {"channel_id": channel_id})
    for event in shop.setup["events"]:
        if any(day.get("counted_cash") for day in event["days"]):
            await client.post("/v1/reconciliations", {"event_id": shop.events[event["name"]]})


async def _show_event(console: Console, client: LocalClient, shop: DemoShop) -> None:
    event_id = shop.events[MAIN_EVENT]
    event = next(e for e in shop.setup["events"] if e["name"] == MAIN_EVENT)
    lines = await client.every("/v1/transactions", event=event_id)
    by_state = {
        state: [line for line in lines if line["match_state"] == state and line["kind"] != "refund"]
        for state in ("matched", "proposed", "unmatched")
    }
    show.matched(console, by_state["matched"], shop.zone)
    show.open_lines(console, by_state["proposed"], shop.zone)
    show.unmatched(console, by_state["unmatched"], shop.zone)
    show.refunds(console, [line for line in lines if line["kind"] == "refund"], shop.zone)
    first_day = dt.date.fromisoformat(min(day["day"] for day in event["days"]))
    show.take_downs(console, await client.every("/v1/take-downs"), first_day)
    show.result(console, f"the {MAIN_EVENT}", await client.get(f"/v1/events/{event_id}/result"))
    await _show_decisions(console, client, shop)


async def _show_decisions(console: Console, client: LocalClient, shop: DemoShop) -> None:
    path = f"/v1/events/{shop.events[MAIN_EVENT]}"
    decide.comparison(console, await client.get(f"{path}/comparison"))
    questions = {"prices": [{"percent": "-10"}], "wanted_net": WANTED_NET}
    asked = await client.post(f"{path}/what-ifs", questions)
    decide.what_if(console, f"the {MAIN_EVENT}", asked)
    coming = await client.post("/v1/forecasts", {"event_id": shop.events[NEXT_EVENT]})
    decide.forecast(console, coming)


async def _serve(
    console: Console, settings: Settings, pool: Pool, found: Database, token: str
) -> None:
    listener = listen(settings)
    show.heading(console, "Serving")
    console.print(f"API    {address(listener)}/v1")
    console.print(f"Docs   {address(listener)}/docs")
    console.print(f"Token  {token}", soft_wrap=True)
    console.print("Ctrl-C ends it.", style="dim")
    await serve_on(listener, settings, pool, found)
