"""Recognise a layout that was taken in before: by which importer, and so without asking again."""

from __future__ import annotations

from io import BytesIO
from typing import BinaryIO

from stallkeep.store.column_maps import importers_met, last_importer
from stallkeep.store.connection import Connection
from stallkeep.store.shops import Shop
from stallkeep.work.choose_importer import choose_importer, installed
from stallkeep.work.import_order import SAMPLE_BYTES, sample_of
from stallkeep_importers.contract import Importer, ImportStop, Layout, Options


async def importer_for(
    con: Connection, shop: Shop, name: str | None, file: BinaryIO, options: Options
) -> Importer:
    """Take the named importer, the one that last took this layout in, or the one that is surest.

    Raises:
        ImporterNotFoundError: No importer has this name.
        ImportRefusedError: None takes the file for its own.
        ImportQuestionError: Two are about equally sure, and neither met the layout before.
    """
    sample = sample_of(file)
    if name is None:
        name = await _met_before(con, shop, sample, options)
    return choose_importer(name, sample, options)


async def _met_before(con: Connection, shop: Shop, sample: bytes, options: Options) -> str | None:
    beginning = sample if len(sample) < SAMPLE_BYTES else sample[: sample.rfind(b"\n") + 1]
    marks = {}
    for name in await importers_met(con, shop.shop_id):
        importer = installed(name)
        mark = importer and layout_mark(importer, BytesIO(beginning), options)
        if mark:
            marks[name] = mark
    return await last_importer(con, shop.shop_id, marks)


def layout_mark(importer: Importer, file: BinaryIO, options: Options) -> str | None:
    """Give the fingerprint of a file's layout as an importer sees it; None without one."""
    file.seek(0)
    try:
        first = next(iter(importer.read(file, options)), None)
    except ImportStop as stop:
        told = stop.facts.get("fingerprint")
        return told if isinstance(told, str) else None
    except Exception:  # noqa: BLE001 - an importer's own fault; another one may know the file
        return None
    finally:
        file.seek(0)
    return first.fingerprint if isinstance(first, Layout) else None
