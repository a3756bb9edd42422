"""What an import that was taken still leaves to a person, and files that are taken after all."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.database import Clone
from tests.evidence_world import World, make_world

from stallkeep.store import imports
from stallkeep.store.engine import scope
from stallkeep.work.import_folder import import_folder, leave_failed
from stallkeep.work.import_report import import_report

LISTINGS = "Listing,Title,Price,Status\n"
SAME_TITLE = LISTINGS + "L-1,Navy wool coat,72.00,live\nL-2,Oak stool,30.00,live\n"
OFFERS = "listings.csv"


async def _listed(world: World, text: str) -> imports.Import:
    return await world.take_in(text, channel=world.online, importer="resale-listings")


async def test_new_pieces_are_counted_and_those_of_a_known_title_are_named(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    told = {notice["code"]: notice["text"] for notice in (await _listed(world, SAME_TITLE)).notices}
    assert told["new-pieces"].startswith("2 new pieces were taken into stock, without a cost")
    assert "'Navy wool coat' (996AAD)" in told["perhaps-in-stock"]
    assert "Oak stool" not in told["perhaps-in-stock"]
    assert (await _listed(world, SAME_TITLE)).notices == []


async def test_one_new_piece_is_no_doubt(database: Clone) -> None:
    world = await make_world(database.pool)
    (notice,) = (await _listed(world, LISTINGS + "L-2,Oak stool,30.00,live\n")).notices
    assert notice["text"].startswith("1 new piece was taken into stock")


async def test_pieces_that_may_stand_twice_need_a_person(database: Clone, tmp_path: Path) -> None:
    world = await make_world(database.pool)
    folder = tmp_path / "Tidelist"
    folder.mkdir()
    (folder / OFFERS).write_text(SAME_TITLE.replace("Listing,", "Listing ID,"))
    done = await import_folder(world.pool, world.shop, tmp_path)
    (file,) = done.files
    assert file.taken_in is not None, file.problem
    assert (file.taken_in.taken, file.taken_in.rejected) == (2, 0)
    assert file.needs_a_person


async def test_a_file_of_which_no_row_is_taken_is_perhaps_of_another_kind(
    database: Clone,
) -> None:
    world = await make_world(database.pool)
    done = await world.take_in(
        "Date,Transaction ID,Amount,Status\n2026-09-11,p-1,24.00,on the shelf\n",
        importer="card-reader-payments",
    )
    async with scope(world.pool, world.shop.shop_id) as con:
        rejects = await imports.list_rejects(con, world.shop.shop_id, done.id, 10, 0)
    report = import_report(done, rejects)
    assert "--importer NAME" in report
    assert "resale-listings" in report


async def test_a_column_that_is_asked_about_is_named_in_the_command(
    database: Clone, tmp_path: Path
) -> None:
    world = await make_world(database.pool)
    (tmp_path / "Tidelist").mkdir()
    (tmp_path / "Tidelist" / "ventes.csv").write_text(
        "Date de vente,Commande,Nom acheteur,E-mail client,Contact,Titre,Prix de vente,Total,"
        "Commission,TVA sur commission\n"
        "2026-01-22 09:54,P-7300,Jo Bloggs,jo@mail.example,jo@mail.example,Lampe,15.50,15.50,"
        "1.71,0.34\n"
    )
    await import_folder(world.pool, world.shop, tmp_path)
    report = (tmp_path / "failed/Tidelist/ventes.csv.report.txt").read_text()
    assert "--column fee='HEADING'" in report
    assert "  TVA sur commission: 0.34" in report
    assert "  Nom acheteur\n" in report
    (stored,) = await world.rows("select problem::text as told from import where shop_id = $1")
    for text in (report, stored["told"]):
        assert "Bloggs" not in text
        assert "mail.example" not in text


@pytest.mark.parametrize("folder", ["failed", "failed/Tidelist"])
def test_a_file_that_is_taken_after_all_goes_from_failed_to_done(
    tmp_path: Path, folder: str
) -> None:
    path = tmp_path / folder / "may.csv"
    path.parent.mkdir(parents=True)
    path.write_text("x")
    path.with_name("may.csv.report.txt").write_text("nothing was taken")
    moved = leave_failed(path, "all was taken\n")
    assert moved == tmp_path / folder.replace("failed", "done") / "may.csv"
    assert moved.with_name("may.csv.report.txt").read_text().endswith("all was taken\n")
    assert list((tmp_path / folder).iterdir()) == []


def test_a_file_that_never_failed_stays_where_it_lies(tmp_path: Path) -> None:
    path = tmp_path / "failed" / "mine.csv"
    path.parent.mkdir()
    path.write_text("x")
    assert leave_failed(path, "all was taken\n") is None
    assert path.exists()
