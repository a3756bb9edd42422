"""What was sold to a customer, line by line."""

from __future__ import annotations

from sqlalchemy import Boolean, CheckConstraint

from stallkeep.store.tables.columns import (
    bigint,
    column,
    created_at,
    day,
    index,
    integer,
    json,
    moment,
    one_of,
    primary_key,
    refers_to,
    string,
    table,
    uuid,
    version,
)
from stallkeep.store.tables.transactions import METHODS

sale = table(
    "sale",
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
    primary_key("id"),
    refers_to("channel", "channel_id"),
    refers_to("event", "event_id"),
    refers_to("transaction", "transaction_id"),
    one_of("origin", ("stall", "typed", "match")),
    one_of("method", METHODS),
    one_of("state", ("done", "void")),
    index("event_id"),
    index("sold_on", "id"),
    index(
        "transaction_id",
        name="sale_of_transaction_key",
        where="transaction_id is not null and state = 'done'",
        is_unique=True,
    ),
)

sale_line = table(
    "sale_line",
    uuid("sale_id"),
    integer("line_no"),
    uuid("item_id", null=True),
    string("title", null=True),
    integer("quantity", default="1"),
    bigint("price_minor"),
    bigint("cost_minor", null=True),
    bigint("tax_minor", null=True),
    string("state", default="'sold'"),
    primary_key("sale_id", "line_no"),
    refers_to("sale", "sale_id", cascade=True),
    refers_to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    one_of("state", ("sold", "returned")),
    index("item_id"),
)
