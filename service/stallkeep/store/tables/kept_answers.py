"""Answers kept for requests that are sent again under the same key."""

from __future__ import annotations

from sqlalchemy import LargeBinary, PrimaryKeyConstraint, Table

from stallkeep.store.tables.columns import (
    column,
    created_at,
    integer,
    json,
    metadata,
    of_shop,
    string,
    uuid,
)

kept_answer = Table(
    "kept_answer",
    metadata,
    uuid("shop_id"),
    string("key"),
    column("request_sha256", LargeBinary()),
    integer("status"),
    json("headers"),
    column("body", LargeBinary()),
    created_at(),
    PrimaryKeyConstraint("shop_id", "key"),
    of_shop(),
)
