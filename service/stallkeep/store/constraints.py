"""Names for the constraints a request can break: the database's word as an error of ours."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import asyncpg

from stallkeep.domain import errors

Named = Mapping[str, tuple[type[errors.StallkeepError], str]]

NAMED: Named = {
    "channel_shop_id_name_key": (errors.NameTakenError, "The shop has a channel of this name"),
    "item_shop_id_tag_code_key": (errors.TagCodeTakenError, "Another piece has this tag code"),
    "item_sold_within_quantity": (
        errors.ItemAlreadySoldError,
        "More pieces would be sold than there are",
    ),
    "listing_shop_id_channel_id_reference_key": (
        errors.ReferenceTakenError,
        "The channel has a listing with this reference",
    ),
    "event_ends_after_start": (errors.RejectedInputError, "It would end before it starts"),
    "event_day_closes_after_opening": (
        errors.RejectedInputError,
        "The day would close before it opens",
    ),
}

USED_BY: Mapping[str, str] = {
    "batch": "batches",
    "channel": "channels",
    "column_map": "remembered layouts of files",
    "conflict": "contradictions that were shown",
    "cost": "costs",
    "cost_part": "shared costs",
    "event": "events",
    "import": "imports",
    "listing": "listings",
    "match": "matches of payments",
    "match_item": "payments that it may have been in",
    "piece_ruling": "what was seen of it after an event",
    "rail": "the rail of an event",
    "ruling": "what was said of a payment",
    "sale": "sales",
    "sale_line": "sales",
    "stub": "stubs",
    "transaction": "payments",
}
"""What rows of a table are, for whoever wants to remove what they refer to."""


@contextmanager
def naming_constraints() -> Iterator[None]:
    """Raise the error that `NAMED` has for a broken constraint; for others, one of its kind."""
    try:
        yield
    except asyncpg.IntegrityConstraintViolationError as error:
        raise _named(error) from error


def _named(error: asyncpg.IntegrityConstraintViolationError) -> errors.StallkeepError:
    name = error.constraint_name or ""
    if name in NAMED:
        kind, detail = NAMED[name]
        return kind(detail)
    if isinstance(error, asyncpg.ForeignKeyViolationError):
        if "still referenced" in (error.detail or ""):
            used_by = USED_BY.get(error.table_name or "", "something else")
            return errors.InUseError(
                f"It cannot be removed: {used_by} still refer to it. Take those back first, or "
                "leave it: what was traded is kept.",
                constraint=name,
            )
        return errors.RejectedInputError("It names something the shop does not have")
    if isinstance(error, asyncpg.UniqueViolationError):
        return errors.ConflictError("The shop has this already", constraint=name)
    return errors.RejectedInputError(f"A rule of the stock forbids this: {name}", constraint=name)
