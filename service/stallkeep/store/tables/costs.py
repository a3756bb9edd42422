"""What the shop spent, and each event's part of what several share."""

from __future__ import annotations

from sqlalchemy import CheckConstraint

from stallkeep.store.tables.columns import (
    bigint,
    created_at,
    day,
    index,
    integer,
    json,
    of_shop,
    one_of,
    primary_key,
    refers_to,
    string,
    table,
    unique,
    uuid,
    version,
)

COST_KINDS = (
    "pitch_fee",
    "travel",
    "parking",
    "food",
    "lodging",
    "helpers",
    "supplies",
    "other",
)
COST_SPLITS = ("equal", "days", "shares")

cost = table(
    "cost",
    uuid("id"),
    uuid("event_id", null=True),
    string("kind"),
    bigint("amount_minor"),
    bigint("tax_minor", null=True),
    day("spent_on", null=True),
    string("note", null=True),
    json("trip", null=True),
    string("split_by", null=True),
    string("row_key", null=True),
    uuid("import_id", null=True),
    created_at(),
    version(),
    primary_key("id"),
    unique("row_key"),
    of_shop(),
    refers_to("event", "event_id"),
    one_of("kind", COST_KINDS),
    one_of("split_by", COST_SPLITS),
    CheckConstraint("event_id is null or split_by is null", name="of_one_event_or_split"),
    index("event_id"),
)

cost_part = table(
    "cost_part",
    uuid("cost_id"),
    uuid("event_id"),
    integer("position"),
    integer("share"),
    bigint("amount_minor"),
    bigint("tax_minor", null=True),
    primary_key("cost_id", "event_id"),
    unique("cost_id", "position"),
    refers_to("cost", "cost_id", cascade=True),
    refers_to("event", "event_id"),
    CheckConstraint("share > 0", name="share_positive"),
    index("event_id"),
)
