"""Take one file of this machine in: find out who reads it and where its rows belong."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, Final

import msgspec

from stallkeep.store import imports
from stallkeep.store.connection import Connection, Pool
from stallkeep.store.engine import read_scope
from stallkeep.store.shops import Shop
from stallkeep.work.import_errors import ImportRefusedError, PlaceNeededError
from stallkeep.work.import_file import ImportOrder, Upload, import_file, options_for
from stallkeep.work.import_order import HowFar, readable, unseen
from stallkeep.work.known_layout import importer_for
from stallkeep.work.place_for import Place, named_place, place_for


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """What a person said about a file; what is left out is found out.

    Attributes:
        importer: Name of the importer.
        place: Name of the channel or event that the rows belong to.
        answers: Option → value, as the importers' contract names them.
        by: Who said it.
    """

    importer: str | None = None
    place: str | None = None
    answers: Mapping[str, Any] = {}
    by: str = ""


_NAMES: Final = """
select name from channel where shop_id = $1
union all select name from event where shop_id = $1
 order by name
"""
NOTHING_SAID: Final = Said()


async def import_path(  # noqa: PLR0917 - the last two are left out by most
    pool: Pool,
    shop: Shop,
    path: Path,
    said: Said,
    folder: str | None = None,
    show: Callable[[HowFar], None] = unseen,
) -> imports.Import:
    """Take a file in.

    Args:
        pool: The service's pool.
        shop: The shop.
        path: The file.
        said: What a person said about it.
        folder: Name of the folder it lies in, which may be that of a channel or an event.
        show: Told how far it has come.

    Raises:
        FileNotFoundError: There is no such file.
        ImportRefusedError: It cannot be read.
        StallkeepError: Nothing was taken, as `import_file` says, or the place is not clear.
    """
    with _opened(path) as file:
        name = readable(path.name)
        options = options_for(shop, name, said.answers)
        async with read_scope(pool, shop.shop_id) as con:
            importer = await importer_for(con, shop, said.importer, file, options)
            if said.place is not None:
                place = await named_place(con, shop, said.place)
                place = place or await _unknown(con, shop, said.place)
            else:
                place = await place_for(con, shop, importer, file, options=options, folder=folder)
        if place.doubt is not None:
            raise PlaceNeededError(place.doubt, parameter="channel")
        order = ImportOrder(
            importer=importer.name,
            channel_id=place.channel_id,
            event_id=place.event_id,
            answers=said.answers,
            by=said.by,
        )
        size = file.seek(0, os.SEEK_END)
        return await import_file(pool, shop, Upload(file, name, size), order, show)


@contextmanager
def _opened(path: Path) -> Iterator[BinaryIO]:
    try:
        with path.open("rb") as file:
            yield file
    except FileNotFoundError:
        raise
    except OSError as error:
        raise ImportRefusedError(
            f"It cannot be read: {error.strerror}",
            reason_code="unreadable",
            advice="See that whoever runs this may read it, and that its disk is well.",
        ) from error


async def _unknown(con: Connection, shop: Shop, name: str) -> Place:
    rows = await con.fetch(_NAMES, shop.shop_id)
    alike = sum(row["name"].lower() == name.lower() for row in rows)
    if alike > 1:
        return Place(
            doubt=f"{alike} events are called {name!r}: give one of them another name, or name the "
            "channel; rows find their event by their day."
        )
    names = ", ".join(row["name"] for row in rows) or "none yet"
    return Place(doubt=f"No channel or event is called {name!r}. There are: {names}.")
