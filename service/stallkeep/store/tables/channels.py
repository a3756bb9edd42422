"""Ways of selling, what each costs, and what is on offer there."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Index, PrimaryKeyConstraint, Table, UniqueConstraint, text

from stallkeep.store.tables.columns import (
    bigint,
    created_at,
    day,
    json,
    metadata,
    of_shop,
    one_of,
    refers_to,
    string,
    uuid,
    version,
)

CHANNEL_KINDS = ("online", "direct", "stall")
LISTING_STATES = ("live", "ended", "sold")

channel = Table(
    "channel",
    metadata,
    uuid("shop_id"),
    uuid("id"),
    string("name"),
    string("kind"),
    json("price_rule", null=True),
    created_at(),
    version(),
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "name"),
    of_shop(),
    one_of("kind", CHANNEL_KINDS),
)

fee_schedule = Table(
    "fee_schedule",
    metadata,
    uuid("shop_id"),
    uuid("channel_id"),
    day("valid_from"),
    json("terms"),
    PrimaryKeyConstraint("shop_id", "channel_id", "valid_from"),
    refers_to("channel", "channel_id", cascade=True),
)

listing = Table(
    "listing",
    metadata,
    uuid("shop_id"),
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
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "channel_id", "reference"),
    refers_to("channel", "channel_id"),
    refers_to("item", "item_id"),
    one_of("state", LISTING_STATES),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    Index(None, "shop_id", "item_id"),
    Index(
        "listing_live_ix", "shop_id", "channel_id", "id", postgresql_where=text("state = 'live'")
    ),
)
