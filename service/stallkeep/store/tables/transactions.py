"""The canonical lines of money, and what they said before."""

from __future__ import annotations

from typing import Any

from sqlalchemy import ARRAY, CheckConstraint, Column, Text

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
    unique,
    uuid,
    version,
)

TRANSACTION_KINDS = ("payment", "refund", "fee", "payout", "sale", "adjustment")
METHODS = ("card", "cash", "online", "transfer", "other")
MATCH_STATES = ("unmatched", "proposed", "matched", "set_aside", "not_needed")


def _content() -> list[Column[Any]]:
    """The canonical record's fields, shared by the current row and its older versions."""
    return [
        string("kind"),
        bigint("amount_minor"),
        string("currency"),
        day("occurred_on"),
        moment("occurred_at", null=True),
        string("external_id", null=True),
        string("method", null=True),
        bigint("fee_minor", null=True),
        bigint("tip_minor", null=True),
        bigint("tax_minor", null=True),
        bigint("surcharge_minor", null=True),
        bigint("postage_minor", null=True),
        bigint("postage_cost_minor", null=True),
        string("reference", null=True),
        string("tag_code", null=True),
        string("title", null=True),
        integer("quantity", default="1"),
        string("note", null=True),
        string("related_id", null=True),
        string("payout_id", null=True),
        string("detail", null=True),
        bigint("refunded_minor", null=True),
        column("covers", ARRAY(Text()), null=True),
        json("more", null=True),
        uuid("import_id", null=True),
        bigint("record", null=True),
        bigint("line", null=True),
    ]


transaction = table(
    "transaction",
    uuid("id"),
    uuid("channel_id"),
    string("row_key"),
    integer("occurrence", default="1"),
    uuid("content_key"),
    version(),
    *_content(),
    moment("ordered_at"),
    uuid("event_id", null=True),
    string("match_state"),
    string("match_reason", null=True),
    created_at(),
    primary_key("id"),
    unique("channel_id", "row_key", "occurrence"),
    refers_to("channel", "channel_id"),
    refers_to("event", "event_id"),
    refers_to("import", "import_id"),
    one_of("kind", TRANSACTION_KINDS),
    one_of("method", METHODS),
    one_of("match_state", MATCH_STATES),
    CheckConstraint("currency ~ '^[A-Z]{3}$'", name="currency_code"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    CheckConstraint("occurrence > 0", name="occurrence_positive"),
    index("ordered_at", "id"),
    index("channel_id", "ordered_at", "id"),
    index(
        "event_id", "ordered_at", "id", name="transaction_of_event_ix", where="event_id is not null"
    ),
    index(
        "match_state",
        "ordered_at",
        "id",
        name="transaction_open_ix",
        where="match_state <> 'matched' and match_state <> 'not_needed'",
    ),
    index("import_id"),
)

transaction_version = table(
    "transaction_version",
    uuid("transaction_id"),
    integer("version"),
    uuid("content_key"),
    *_content(),
    moment("replaced_at", default="now()"),
    uuid("replaced_by_import_id", null=True),
    primary_key("transaction_id", "version"),
    refers_to("transaction", "transaction_id", cascade=True),
    index("replaced_by_import_id"),
)
