"""Undo an import as one: its rows go, and what it changed is as it was before."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final
from uuid import UUID

import msgspec

from stallkeep.store import imports, matches
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import scope
from stallkeep.store.intake import CONTENT, lock_channel
from stallkeep.store.joined_sales import part_company
from stallkeep.store.shops import Shop
from stallkeep.work.import_errors import (
    ImportNotFoundError,
    ImportNotUndoableError,
    RowsAreMatchedError,
)
from stallkeep_importers.contract import Notice

_TOUCHED: Final = """
select t.id, t.match_state, t.version > 1 as comes_back, exists (
         select from ruling r where r.shop_id = t.shop_id and r.transaction_id = t.id) as ruled
  from transaction t where t.shop_id = $1 and t.import_id = $2
"""
_LATER: Final = """
select count(*) from transaction_version v join transaction t
    on t.shop_id = v.shop_id and t.id = v.transaction_id
 where v.shop_id = $1 and v.import_id = $2 and t.import_id is distinct from $2
"""
_from_version: Final = ", ".join(f"{name} = v.{name}" for name in CONTENT)
_RESTORE: Final = f"""
with back as (
  delete from transaction_version v
   where v.shop_id = $1 and v.replaced_by_import_id = $2 returning v.*
)
update transaction t
   set version = v.version, content_key = v.content_key, import_id = v.import_id, {_from_version}
  from back v where t.shop_id = $1 and t.id = v.transaction_id
"""  # noqa: S608 - only column names of the store
_DROP_WORDS: Final = """
delete from ruling where shop_id = $1 and transaction_id in (
  select id from transaction where shop_id = $1 and import_id = $2)
"""
_DROP_CONFLICTS: Final = """
delete from conflict where shop_id = $1 and transaction_id in (
  select id from transaction where shop_id = $1 and import_id = $2)
"""
_DROP: Final = "delete from transaction where shop_id = $1 and import_id = $2"
_DROP_COSTS: Final = "delete from cost where shop_id = $1 and import_id = $2"
_DROP_LISTINGS: Final = "delete from listing where shop_id = $1 and import_id = $2"
_DROP_ITEMS: Final = """
delete from item i where i.shop_id = $1 and i.import_id = $2
   and not exists (select from batch x where x.shop_id = $1 and x.item_id = i.id)
   and not exists (select from listing x where x.shop_id = $1 and x.item_id = i.id)
   and not exists (select from rail x where x.shop_id = $1 and x.item_id = i.id)
   and not exists (select from sale_line x where x.shop_id = $1 and x.item_id = i.id)
   and not exists (select from match_item x where x.shop_id = $1 and x.item_id = i.id)
   and not exists (select from piece_ruling x where x.shop_id = $1 and x.item_id = i.id)
   and not exists (select from conflict x where x.shop_id = $1 and x.item_id = i.id)
"""
_LEFT: Final = """
select tag_code from item where shop_id = $1 and import_id = $2 order by tag_code
"""
NAMED_CODES: Final = 10
"""Codes of pieces that a notice names, at most."""
KEPT_BY_HAND: Final = {
    "stubs": "stubs: put the event's stubs right (PUT /v1/events/{event_id}/stubs)",
    "stock-count": "a stock count: take it back at the event (DELETE /v1/events/{event_id}/count)",
}
"""What an importer's rows become that keeps no memory of its import, and where it is put right."""
NO_VERSIONS: Final = {"resale-listings": "listings", "expenses": "costs"}
"""What an importer's rows change without keeping what it was before."""
BOX_STAYS: Final = Notice(
    code="cash-box-stays",
    text="What it told of the cash box (float, counted cash, money taken out) stays with the days "
    "of the event: put it right there.",
)


async def undo_import(pool: Pool, shop: Shop, import_id: UUID, *, release: bool) -> imports.Import:
    """Take back everything an import brought, in one transaction.

    Rows of it that were corrected by hand and taken after all go with it. Pieces it brought that
    are used elsewhere since (on a rail, sold) stay, and a notice names them.

    Args:
        pool: The service's pool.
        shop: The shop.
        import_id: The import.
        release: True also releases matches of its rows; without it such rows are asked about.

    Raises:
        ImportNotFoundError: The shop has no such import.
        ImportNotUndoableError: It is not done, a later import changed its rows again, or what it
            brought is the event's since (stubs, a stock count).
        RowsAreMatchedError: Rows are matched and *release* is False.
    """
    async with scope(pool, shop.shop_id) as con:
        for row in await imports.corrected_rows_of(con, shop.shop_id, import_id):
            await _undo(con, shop.shop_id, row, release=release)
        return await _undo(con, shop.shop_id, import_id, release=release)


async def _undo(
    con: Connection, shop_id: UUID, import_id: UUID, *, release: bool
) -> imports.Import:
    record = await imports.lock_import(con, shop_id, import_id)
    if record is None:
        raise ImportNotFoundError("There is no such import in this shop")
    if record.state != "done":
        raise ImportNotUndoableError(f"The import is {record.state}", state=record.state)
    if record.taken and record.importer in KEPT_BY_HAND:
        raise ImportNotUndoableError(
            f"The event has {KEPT_BY_HAND[record.importer]}", importer=record.importer
        )
    await lock_channel(con, shop_id, record.channel_id)
    await _refuse_if_changed_later(con, shop_id, import_id)
    touched = await con.fetch(_TOUCHED, shop_id, import_id)
    gone = [row for row in touched if not row["comes_back"]]
    matched = [row["id"] for row in gone if row["match_state"] == "matched" or row["ruled"]]
    if matched and not release:
        raise RowsAreMatchedError(
            f"{len(matched)} of its rows are matched or were decided on; undo with "
            "release=true to release those matches too",
            matched=len(matched),
        )
    ids = [row["id"] for row in gone]
    await part_company(con, shop_id, ids, "The import of another part of its sale was undone")
    await matches.release(con, shop_id, ids, also_decided=True)
    # What was known before this import keeps what a person said about it.
    back = [row["id"] for row in touched if row["comes_back"]]
    for open_again in await matches.release(con, shop_id, back, also_decided=False):
        await matches.set_state(con, shop_id, open_again, "unmatched", None)
    for statement in (
        _RESTORE,
        _DROP_WORDS,
        _DROP_CONFLICTS,
        _DROP,
        _DROP_COSTS,
        _DROP_LISTINGS,
        _DROP_ITEMS,
    ):
        await con.execute(statement, shop_id, import_id)
    left = [row["tag_code"] for row in await con.fetch(_LEFT, shop_id, import_id)]
    notices = [_left_notice(left)] if left else []
    if record.importer == "cash-tally" and record.taken > len(touched):
        notices.append(BOX_STAYS)
    if record.changed and record.importer in NO_VERSIONS:
        notices.append(_changed_notice(record.changed, NO_VERSIONS[record.importer]))
    values = {
        "state": "undone",
        "notices": [*record.notices, *map(msgspec.to_builtins, notices)],
    }
    return await imports.change_import(con, shop_id, import_id, values)


def _changed_notice(count: int, what: str) -> Notice:
    return Notice(
        code="changes-stay",
        text=f"{count} {what} there before were changed by this import and stay as it left them: "
        "send the file before it once more, or put them right by hand.",
    )


def _left_notice(codes: Sequence[str]) -> Notice:
    named = ", ".join(codes[:NAMED_CODES]) + (" …" if len(codes) > NAMED_CODES else "")
    pieces = "1 piece stays" if len(codes) == 1 else f"{len(codes)} pieces stay"
    return Notice(
        code="pieces-stay",
        text=f"{pieces} in stock, sold or taken to an event since this import brought them: "
        f"{named}. Remove those that are not yours.",
    )


async def _refuse_if_changed_later(con: Connection, shop_id: UUID, import_id: UUID) -> None:
    later = await con.fetchval(_LATER, shop_id, import_id)
    if later:
        raise ImportNotUndoableError(
            f"A later import changed {later} of its rows; undo that one first", rows=later
        )
