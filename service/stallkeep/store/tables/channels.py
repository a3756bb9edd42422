"""Ways of selling, what each costs, and what is on offer there."""

from __future__ import annotations

from sqlalchemy import CheckConstraint

from stallkeep.store.tables.columns import (
    bigint,
    created_at,
    day,
    index,
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

CHANNEL_KINDS = ("online", "direct", "stall")
LISTING_STATES = ("live", "ended", "sold")

channel = table(
    "channel",
    uuid("id"),
    string("name"),
    string("kind"),
    json("price_rule", null=True),
    created_at(),
    version(),
    primary_key("id"),
    unique("name"),
    of_shop(),
    one_of("kind", CHANNEL_KINDS),
)

fee_schedule = table(
    "fee_schedule",
    uuid("channel_id"),
    day("valid_from"),
    json("terms"),
    primary_key("channel_id", "valid_from"),
    refers_to("channel", "channel_id", cascade=True),
)

listing = table(
    "listing",
    uuid("id"),
    uuid("channel_id"),
    uuid("item_id"),
    string("reference"),
    string("title"),
    bigint("price_minor", null=True),
    string("state"),
    day("listed_on", null=True),
    day("ended_on", null=True),
    uuid("import_id", null=True),
    created_at(),
    version(),
    primary_key("id"),
    unique("channel_id", "reference"),
    refers_to("channel", "channel_id"),
    refers_to("item", "item_id"),
    one_of("state", LISTING_STATES),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    index("item_id"),
    index("channel_id", "id", name="listing_live_ix", where="state = 'live'"),
)
