"""Claims that contradict each other, for a person to see."""

from __future__ import annotations

from stallkeep.store.tables.columns import (
    created_at,
    index,
    moment,
    of_shop,
    one_of,
    primary_key,
    refers_to,
    string,
    table,
    uuid,
)

conflict = table(
    "conflict",
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
    primary_key("id"),
    of_shop(),
    refers_to("item", "item_id"),
    refers_to("transaction", "transaction_id"),
    refers_to("event", "event_id"),
    one_of("state", ("open", "settled")),
    index("created_at", "id", name="conflict_open_ix", where="state = 'open'"),
)
