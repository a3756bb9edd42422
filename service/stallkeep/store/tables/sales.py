"""What was sold to a customer, line by line."""

from __future__ import annotations

from sqlalchemy import Boolean, CheckConstraint, Index, PrimaryKeyConstraint, Table, text

from stallkeep.store.tables.columns import (
    bigint,
    column,
    created_at,
    day,
    integer,
    json,
    metadata,
    moment,
    one_of,
    refers_to,
    string,
    uuid,
    version,
)
from stallkeep.store.tables.transactions import METHODS

sale = Table(
    "sale",
    metadata,
    uuid("shop_id"),
    uuid("id"),
    uuid("channel_id"),
    uuid("event_id", null=True),
    string("origin"),
    string("method", null=True),
    bigint("total_minor"),
    bigint("tax_minor", null=True),
    column("tax_added", Boolean(), default="false"),
    json("taxes", default="'[]'"),
    bigint("cash_rounding_minor", default="0"),
    moment("sold_at", null=True),
    day("sold_on"),
    string("state", default="'done'"),
    uuid("transaction_id", null=True),
    string("note", null=True),
    created_at(),
    version(),
    PrimaryKeyConstraint("shop_id", "id"),
    refers_to("channel", "channel_id"),
    refers_to("event", "event_id"),
    refers_to("transaction", "transaction_id"),
    one_of("origin", ("stall", "typed", "match")),
    one_of("method", METHODS),
    one_of("state", ("done", "void")),
    Index(None, "shop_id", "event_id"),
    Index(None, "shop_id", "sold_on", "id"),
    Index(
        "sale_of_transaction_key",
        "shop_id",
        "transaction_id",
        unique=True,
        postgresql_where=text("transaction_id is not null and state = 'done'"),
    ),
)

sale_line = Table(
    "sale_line",
    metadata,
    uuid("shop_id"),
    uuid("sale_id"),
    integer("line_no"),
    uuid("item_id", null=True),
    string("title", null=True),
    integer("quantity", default="1"),
    bigint("price_minor"),
    bigint("cost_minor", null=True),
    bigint("tax_minor", null=True),
    string("state", default="'sold'"),
    PrimaryKeyConstraint("shop_id", "sale_id", "line_no"),
    refers_to("sale", "sale_id", cascade=True),
    refers_to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    one_of("state", ("sold", "returned")),
    Index(None, "shop_id", "item_id"),
)
