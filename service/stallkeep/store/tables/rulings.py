"""What people said about transactions and pieces."""

from __future__ import annotations

from sqlalchemy import ARRAY, Boolean, CheckConstraint, Uuid

from stallkeep.store.tables.columns import (
    column,
    index,
    integer,
    moment,
    one_of,
    primary_key,
    refers_to,
    string,
    table,
    uuid,
)

ruling = table(
    "ruling",
    uuid("id"),
    uuid("transaction_id"),
    string("kind"),
    column("item_ids", ARRAY(Uuid()), default="'{}'"),
    integer("pieces", null=True),
    uuid("related_transaction_id", null=True),
    column("is_income", Boolean(), default="true"),
    string("reason", null=True),
    string("said_by"),
    moment("said_at", default="now()"),
    moment("withdrawn_at", null=True),
    primary_key("id"),
    refers_to("transaction", "transaction_id"),
    one_of(
        "kind",
        ("confirmed", "refused", "set_aside", "no_piece", "count", "part_of_sale", "apart"),
    ),
    CheckConstraint(
        "(kind in ('part_of_sale', 'apart')) = (related_transaction_id is not null)",
        name="part_names_its_sale",
    ),
    index("transaction_id", "said_at"),
)

piece_ruling = table(
    "piece_ruling",
    uuid("id"),
    uuid("event_id"),
    uuid("item_id"),
    integer("still_here"),
    string("said_by"),
    moment("said_at", default="now()"),
    moment("withdrawn_at", null=True),
    primary_key("id"),
    refers_to("event", "event_id", cascade=True),
    refers_to("item", "item_id"),
    CheckConstraint("still_here >= 0", name="still_here_not_negative"),
    index("event_id"),
)
