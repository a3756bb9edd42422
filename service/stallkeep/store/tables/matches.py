"""What each transaction was for, run by run."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Double, Index, PrimaryKeyConstraint, Table, text

from stallkeep.store.tables.columns import (
    bigint,
    column,
    created_at,
    day,
    integer,
    json,
    metadata,
    one_of,
    refers_to,
    string,
    uuid,
)

reconciliation = Table(
    "reconciliation",
    metadata,
    uuid("shop_id"),
    uuid("id"),
    uuid("event_id", null=True),
    uuid("channel_id", null=True),
    day("from_on", null=True),
    day("to_on", null=True),
    string("engine"),
    json("counts"),
    json("report"),
    created_at(),
    PrimaryKeyConstraint("shop_id", "id"),
    refers_to("event", "event_id"),
    refers_to("channel", "channel_id"),
    Index(None, "shop_id", "event_id", "created_at"),
)

match = Table(
    "match",
    metadata,
    uuid("shop_id"),
    uuid("id"),
    uuid("transaction_id"),
    uuid("reconciliation_id", null=True),
    string("state"),
    string("explanation", default="'pieces'"),
    integer("rank"),
    column("probability", Double()),
    string("reason"),
    json("evidence", default="'[]'"),
    json("piece_group", null=True),
    uuid("sale_id", null=True),
    uuid("related_transaction_id", null=True),
    string("decided_by", null=True),
    created_at(),
    PrimaryKeyConstraint("shop_id", "id"),
    refers_to("transaction", "transaction_id", cascade=True),
    refers_to("reconciliation", "reconciliation_id"),
    refers_to("sale", "sale_id"),
    one_of("state", ("matched", "proposed")),
    CheckConstraint("probability >= 0 and probability <= 1", name="probability_range"),
    Index(None, "shop_id", "transaction_id", "rank"),
    Index("match_of_sale_ix", "shop_id", "sale_id", postgresql_where=text("sale_id is not null")),
    Index(
        "match_one_matched_key",
        "shop_id",
        "transaction_id",
        unique=True,
        postgresql_where=text("state = 'matched'"),
    ),
)

match_item = Table(
    "match_item",
    metadata,
    uuid("shop_id"),
    uuid("match_id"),
    uuid("item_id"),
    integer("quantity", default="1"),
    bigint("price_minor"),
    PrimaryKeyConstraint("shop_id", "match_id", "item_id"),
    refers_to("match", "match_id", cascade=True),
    refers_to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    Index(None, "shop_id", "item_id"),
)
