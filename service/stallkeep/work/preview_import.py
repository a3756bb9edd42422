"""Read a file as an import would, and take nothing in."""

from __future__ import annotations

import asyncio
from collections import Counter
from itertools import islice
from typing import Any, Final

import msgspec

from stallkeep.store.column_maps import find_column_map
from stallkeep.store.connection import Pool
from stallkeep.store.engine import read_scope
from stallkeep.store.shops import Shop
from stallkeep.work.check_place import refuse_second_place, with_place
from stallkeep.work.choose_importer import Claim, claims
from stallkeep.work.harmless_facts import harmless_facts
from stallkeep.work.import_file import (
    ImportOrder,
    Upload,
    digest_of,
    options_for,
    sample_of,
)
from stallkeep.work.known_layout import importer_for
from stallkeep_importers.contract import (
    Importer,
    ImportStop,
    Layout,
    Notice,
    Options,
    QuestionError,
    Reject,
    Skip,
)

FIRST_ROWS: Final = 10


class Preview(msgspec.Struct, kw_only=True):
    """How a file would be read.

    Attributes:
        importer: The one that would read it.
        claims: Every importer that takes the file for its own, surest first.
        layout: Dialect and column map.
        counts: Outcomes by kind over the whole file.
        first: The first rows as they would be taken, money in minor units.
        rejects: The first rows that would be rejected.
        notices: What was assumed.
        question: What must be answered first, if anything.
        refusal: Why the file cannot be taken, if so.
    """

    importer: str
    claims: list[Claim]
    layout: Layout | None
    counts: dict[str, int]
    first: list[dict[str, Any]]
    rejects: list[dict[str, Any]]
    notices: list[str]
    question: dict[str, Any] | None
    refusal: dict[str, Any] | None


async def preview_import(pool: Pool, shop: Shop, upload: Upload, order: ImportOrder) -> Preview:
    """Show what would become of a file; a layout met before is read as it was answered then.

    Raises:
        ImportRefusedError: No importer takes the file for its own.
        ImportQuestionError: Several do, equally.
        PlaceUnknownError: The shop has no such channel or event.
        PlacesDifferError: The event is on another channel than the one named.
        FileIsElsewhereError: The very file was taken in for another channel or event.
    """
    options = options_for(shop, upload.name, order.answers)
    digest = await asyncio.to_thread(digest_of, upload.file)
    async with read_scope(pool, shop.shop_id) as con:
        order = await with_place(con, shop, order)
        importer = await importer_for(con, shop, order.importer, upload.file, options)
        if order.channel_id is not None:
            await refuse_second_place(con, shop, importer, order, digest)
    seen = claims(sample_of(upload.file), options)
    shown = await asyncio.to_thread(_look, importer, upload, options, seen)
    fingerprint = _fingerprint(shown)
    if fingerprint is None:
        return shown
    async with read_scope(pool, shop.shop_id) as con:
        kept = await find_column_map(con, shop.shop_id, importer.name, fingerprint)
    if kept is None or not kept.options:
        return shown
    remembered = options_for(shop, upload.name, {**kept.options, **order.answers})
    return await asyncio.to_thread(_look, importer, upload, remembered, seen)


def _fingerprint(shown: Preview) -> str | None:
    if shown.layout is not None:
        return shown.layout.fingerprint
    asked = None if shown.question is None else shown.question.get("fingerprint")
    return asked if isinstance(asked, str) else None


def _look(importer: Importer, upload: Upload, options: Options, seen: list[Claim]) -> Preview:
    shown = Preview(
        importer=importer.name,
        claims=seen,
        layout=None,
        counts={},
        first=[],
        rejects=[],
        notices=[],
        question=None,
        refusal=None,
    )
    counts: Counter[str] = Counter()
    upload.file.seek(0)
    reading = iter(importer.read(upload.file, options))
    try:
        while batch := list(islice(reading, 4096)):
            for outcome in batch:
                _note(shown, counts, outcome)
    except QuestionError as question:
        shown.question = {
            **_stop(question),
            "parameter": question.parameter,
            "choices": [msgspec.to_builtins(choice) for choice in question.choices],
        }
    except ImportStop as stop:
        shown.refusal = _stop(stop)
    shown.counts = dict(counts)
    return shown


def _stop(stop: ImportStop) -> dict[str, Any]:
    told = {"code": stop.code, "detail": stop.detail, "advice": stop.advice}
    return {**told, **harmless_facts(stop.facts)}


def _note(shown: Preview, counts: Counter[str], outcome: object) -> None:
    if isinstance(outcome, Layout):
        shown.layout = outcome
        shown.notices += outcome.notices
    elif isinstance(outcome, Notice):
        shown.notices.append(outcome.text)
    elif isinstance(outcome, Skip):
        counts["skip"] += 1
    elif isinstance(outcome, Reject):
        counts["reject"] += 1
        if len(shown.rejects) < FIRST_ROWS:
            shown.rejects.append(msgspec.to_builtins(outcome))
    else:
        row = msgspec.to_builtins(outcome)
        counts[row["type"]] += 1
        if len(shown.first) < FIRST_ROWS:
            shown.first.append({name: value for name, value in row.items() if value is not None})
