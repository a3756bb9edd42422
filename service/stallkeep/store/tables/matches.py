"""What each transaction was for, run by run."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Double

from stallkeep.store.tables.columns import (
    bigint,
    column,
    created_at,
    day,
    index,
    integer,
    json,
    one_of,
    primary_key,
    refers_to,
    string,
    table,
    uuid,
)

reconciliation = table(
    "reconciliation",
    uuid("id"),
    uuid("event_id", null=True),
    uuid("channel_id", null=True),
    day("from_on", null=True),
    day("to_on", null=True),
    string("engine"),
    json("counts"),
    json("report"),
    created_at(),
    primary_key("id"),
    refers_to("event", "event_id"),
    refers_to("channel", "channel_id"),
    index("event_id", "created_at"),
)

match = table(
    "match",
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
    primary_key("id"),
    refers_to("transaction", "transaction_id", cascade=True),
    refers_to("reconciliation", "reconciliation_id"),
    refers_to("sale", "sale_id"),
    one_of("state", ("matched", "proposed")),
    CheckConstraint("probability >= 0 and probability <= 1", name="probability_range"),
    index("transaction_id", "rank"),
    index("sale_id", name="match_of_sale_ix", where="sale_id is not null"),
    index(
        "transaction_id", name="match_one_matched_key", where="state = 'matched'", is_unique=True
    ),
)

match_item = table(
    "match_item",
    uuid("match_id"),
    uuid("item_id"),
    integer("quantity", default="1"),
    bigint("price_minor"),
    primary_key("match_id", "item_id"),
    refers_to("match", "match_id", cascade=True),
    refers_to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    index("item_id"),
)
