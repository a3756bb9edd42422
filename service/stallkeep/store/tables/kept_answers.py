"""Answers kept for requests that are sent again under the same key."""

from __future__ import annotations

from sqlalchemy import LargeBinary

from stallkeep.store.tables.columns import (
    column,
    created_at,
    integer,
    json,
    of_shop,
    primary_key,
    string,
    table,
)

kept_answer = table(
    "kept_answer",
    string("key"),
    column("request_sha256", LargeBinary()),
    integer("status"),
    json("headers"),
    column("body", LargeBinary()),
    created_at(),
    primary_key("key"),
    of_shop(),
)
