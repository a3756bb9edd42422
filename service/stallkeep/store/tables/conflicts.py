"""Claims that contradict each other, for a person to see."""

from __future__ import annotations

from sqlalchemy import Index, PrimaryKeyConstraint, Table, text

from stallkeep.store.tables.columns import (
    created_at,
    metadata,
    moment,
    of_shop,
    one_of,
    refers_to,
    string,
    uuid,
)

conflict = Table(
    "conflict",
    metadata,
    uuid("shop_id"),
    uuid("id"),
    string("kind"),
    uuid("item_id", null=True),
    uuid("transaction_id", null=True),
    uuid("event_id", null=True),
    string("detail"),
    string("state", default="'open'"),
    created_at(),
    moment("settled_at", null=True),
    string("settled_by", null=True),
    PrimaryKeyConstraint("shop_id", "id"),
    of_shop(),
    refers_to("item", "item_id"),
    refers_to("transaction", "transaction_id"),
    refers_to("event", "event_id"),
    one_of("state", ("open", "settled")),
    Index(
        "conflict_open_ix", "shop_id", "created_at", "id", postgresql_where=text("state = 'open'")
    ),
)
