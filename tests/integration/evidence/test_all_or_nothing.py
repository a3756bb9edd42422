"""An import is one transaction: broken, killed or refused, nothing of it stays."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store import intake
from stallkeep.work import choose_importer
from stallkeep.work.import_errors import (
    ImporterFailedError,
    ImporterNotFoundError,
    ImportQuestionError,
    ImportRefusedError,
)
from stallkeep.work.named_pieces import PiecePrice
from stallkeep.work.read_import import settle_dead_imports
from stallkeep.work.rule_on_transaction import confirm
from stallkeep.work.undo_import import undo_import
from stallkeep_importers.contract import Layout, Notice, Options, Outcome
from stallkeep_importers.finder import Loaded

HEADER = "Date,Time,Transaction ID,Amount,Currency,Fee,Note\n"
ROWS = "".join(f"2026-09-11,10:{n % 60:02}:00,p-{n},12.00,EUR,0.30,\n" for n in range(50))
COUNT = "select count(*)::int as n from transaction where shop_id = $1"
STATES = "select state, problem ->> 'code' as code from import where shop_id = $1 order by id"


async def counted(world: World) -> int:
    number: int = (await world.rows(COUNT))[0]["n"]
    return number


class _BreaksLate:
    """Reads like the card reader's importer and breaks at the end."""

    contract = 1
    name = "card-reader-payments"
    title = "Breaks late"
    gives = frozenset({"transaction"})

    def __init__(self) -> None:
        self._inner = choose_importer._loaded().importers[self.name]
        self.recognise = self._inner.recognise

    def read(self, stream: BinaryIO, options: Options) -> Iterator[Layout | Notice | Outcome]:
        yield from self._inner.read(stream, options)
        raise ZeroDivisionError("a fault of the importer")


async def test_a_broken_importer_leaves_nothing(
    database: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    world = await make_world(database.pool)
    broken = Loaded({"card-reader-payments": _BreaksLate()}, {}, ())
    monkeypatch.setattr(choose_importer, "_loaded", lambda: broken)
    with pytest.raises(ImporterFailedError):
        await world.take_in(HEADER + ROWS, importer="card-reader-payments")
    assert await counted(world) == 0
    assert await world.rows(STATES) == [{"state": "failed", "code": "importer-failed"}]


async def test_a_database_error_at_the_end_leaves_nothing(
    database: Clone, monkeypatch: pytest.MonkeyPatch
) -> None:
    world = await make_world(database.pool)

    async def fails(*_: object) -> None:
        raise RuntimeError("cut off")

    monkeypatch.setattr(intake, "store_rejects", fails)
    with pytest.raises(RuntimeError, match="cut off"):
        await world.take_in(HEADER + ROWS)
    assert await counted(world) == 0
    monkeypatch.undo()
    assert (await world.take_in(HEADER + ROWS)).taken == 50


_CHILD = """
import asyncio, io, sys, uuid
from stallkeep.store.engine import open_pool, scope
from stallkeep.store import intake
from stallkeep.store.shops import find_shop
from stallkeep.work.import_file import ImportOrder, Upload, import_file

async def stuck(*_):
    print("half-way", flush=True)
    await asyncio.sleep(60)

async def main(url, shop_id, channel):
    shop_id = uuid.UUID(shop_id)
    async with open_pool(url, role="stallkeep_app") as pool:
        async with scope(pool, shop_id) as con:
            shop = await find_shop(con, shop_id)
        intake.store_rejects = stuck
        data = sys.stdin.buffer.read()
        upload = Upload(io.BytesIO(data), "night.csv", len(data))
        await import_file(pool, shop, upload, ImportOrder(channel_id=uuid.UUID(channel)))

asyncio.run(main(*sys.argv[1:]))
"""


async def test_a_process_killed_half_way_loses_and_doubles_nothing(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    arguments = [database.admin_url, str(world.shop.shop_id), str(world.stall)]
    child = subprocess.Popen(  # noqa: ASYNC220, S603 - our own code, in a process to be killed
        [sys.executable, "-c", _CHILD, *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=tmp_path,
    )
    assert child.stdin is not None
    assert child.stdout is not None
    child.stdin.write((HEADER + ROWS).encode())
    child.stdin.close()
    assert child.stdout.readline() == b"half-way\n"
    os.kill(child.pid, signal.SIGKILL)
    child.wait()
    child.stdout.close()
    assert await counted(world) == 0
    await _until_noticed(world)
    assert await world.rows(STATES) == [{"state": "failed", "code": "interrupted"}]
    again = await world.take_in(HEADER + ROWS)
    assert (again.taken, again.known) == (50, 0)


async def _until_noticed(world: World) -> None:
    """The server notices a client's death in its own time."""
    end = time.monotonic() + 20
    while time.monotonic() < end:
        if await settle_dead_imports(world.pool, world.shop.shop_id):
            return
    raise AssertionError("the dead import was never noticed")


async def test_a_row_that_cannot_be_read_is_kept_whole_with_its_reason(database: Clone) -> None:
    world = await make_world(database.pool)
    bad = "2026-09-11,11:00:00,p-x,twelve,EUR,0.30,cash?\n"
    done = await world.take_in(HEADER + ROWS + bad)
    assert (done.rows_read, done.taken, done.rejected) == (52, 50, 1)
    assert done.rows_read == done.taken + done.known + done.rejected + done.skipped
    (kept,) = await world.rows("select * from reject where shop_id = $1")
    assert (kept["line"], kept["column_name"], kept["value"]) == (52, "Amount", "twelve")
    assert "p-x" in kept["cells"]
    assert kept["reason"]
    assert kept["advice"]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "The file is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(200), "This is a picture"),
        (b"%PDF-1.7\n1 0 obj\n", "This is a PDF document"),
        (b"PK\x03\x04" + bytes(100), "This is a zip archive"),
        (b"just a letter to a friend\nwith two lines\n", "No importer knows this kind of file"),
        (b"Foo,Bar,Baz\n1,2,3\n4,5,6\n", "No importer knows this kind of file"),
    ],
    ids=["empty", "picture", "pdf", "zip", "letter", "unknown columns"],
)
async def test_what_is_no_export_is_refused_by_name(
    database: Clone, data: bytes, says: str
) -> None:
    world = await make_world(database.pool)
    with pytest.raises(ImportRefusedError, match=says) as caught:
        await world.take_in(data)
    assert caught.value.facts["advice"]
    assert await counted(world) == 0


async def test_unknown_columns_under_a_named_importer_are_asked_about(database: Clone) -> None:
    world = await make_world(database.pool)
    file = "Wann,Was,Wieviel\n2026-09-11 10:00,x,12.00\n2026-09-13 10:00,y,13.00\n"
    with pytest.raises(ImportQuestionError) as caught:
        await world.take_in(
            file.replace("Wann", "Qqq").replace("Wieviel", "Zzz"), importer="card-reader-payments"
        )
    assert caught.value.facts["question"]["parameter"] == "columns"  # type: ignore[index]


async def test_a_confirmed_column_map_is_remembered_for_the_layout(database: Clone) -> None:
    world = await make_world(database.pool)
    file = "Qqq,Www,Zzz\n2026-09-11 10:00,a,12.00\n2026-09-13 10:00,b,13.00\n"
    columns = {"date": "Qqq", "amount": "Zzz"}
    await world.take_in(file, importer="card-reader-payments", answers={"columns": columns})
    later = file.replace("12.00", "14.00")
    done = await world.take_in(later, importer="card-reader-payments")
    assert (done.taken, done.known) == (1, 1)


async def test_an_unknown_importer_is_named_with_those_there_are(database: Clone) -> None:
    world = await make_world(database.pool)
    with pytest.raises(ImporterNotFoundError, match="card-reader-payments"):
        await world.take_in(HEADER, importer="nobody")


async def test_a_row_with_a_nul_is_a_reject_and_kept(database: Clone) -> None:
    world = await make_world(database.pool)
    bad = b"2026-09-11,11:00:00,p-x,5\x00.00,EUR,0.30,\n"
    done = await world.take_in((HEADER + ROWS).encode() + bad)
    assert (done.taken, done.rejected) == (50, 1)
    (kept,) = await world.rows("select cells from reject where shop_id = $1")
    assert "p-x" in kept["cells"]
    assert (await world.rows(STATES))[0]["state"] == "done"


async def test_a_persons_word_survives_the_undoing_of_a_later_import(database: Clone) -> None:
    world = await make_world(database.pool)
    row = "2026-09-11,10:12:00,p-1,{},EUR,0.30,\n"
    await world.take_in(HEADER + row.format("24.00"))
    (found,) = await world.rows("select id from transaction where shop_id = $1")
    pieces = [PiecePrice(tag_code="A17AH1")]
    await confirm(world.pool, world.shop, found["id"], pieces, "Ada")
    second = await world.take_in(HEADER + row.format("25.00"))
    await undo_import(world.pool, world.shop, second.id, release=True)
    (left,) = await world.rows(
        "select match_state, amount_minor from transaction where shop_id = $1"
    )
    assert left == {"match_state": "matched", "amount_minor": 2400}
    sold = await world.rows("select tag_code from item where shop_id = $1 and sold = 1")
    assert sold == [{"tag_code": "A17AH1"}]
