"""The stock: items, and the batches of those held in number."""

from __future__ import annotations

from sqlalchemy import Boolean, CheckConstraint

from stallkeep.store.tables.columns import (
    bigint,
    column,
    created_at,
    day,
    index,
    integer,
    of_shop,
    primary_key,
    refers_to,
    string,
    table,
    unique,
    uuid,
    version,
)

item = table(
    "item",
    uuid("id"),
    string("tag_code"),
    string("title"),
    string("category", null=True),
    string("size", null=True),
    string("note", null=True),
    integer("quantity", default="1"),
    integer("sold", default="0"),
    bigint("price_minor", null=True),
    bigint("floor_minor", null=True),
    bigint("cost_minor", null=True),
    day("acquired_on", null=True),
    day("reserved_until", null=True),
    column("margin_scheme", Boolean(), default="false"),
    uuid("import_id", null=True),
    created_at(),
    version(),
    primary_key("id"),
    unique("tag_code"),
    of_shop(),
    CheckConstraint("quantity >= 0", name="quantity_not_negative"),
    CheckConstraint("sold >= 0 and sold <= quantity", name="sold_within_quantity"),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    CheckConstraint("floor_minor >= 0", name="floor_not_negative"),
    CheckConstraint("cost_minor >= 0", name="cost_not_negative"),
    index("created_at", "id"),
)

batch = table(
    "batch",
    uuid("id"),
    uuid("item_id"),
    integer("quantity"),
    bigint("cost_minor"),
    day("acquired_on", null=True),
    string("note", null=True),
    created_at(),
    version(),
    primary_key("id"),
    refers_to("item", "item_id", cascade=True),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    CheckConstraint("cost_minor >= 0", name="cost_not_negative"),
    index("item_id"),
)
