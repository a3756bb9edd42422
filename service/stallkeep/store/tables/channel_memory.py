"""What the matching of channels remembers from run to run (see DEVELOPERS.md).

What has happened since a channel's last run, what each of its sales looks at, and its stock by
words and prices. All of it can be made again from the rest; there is no foreign key, for each
costs every row.
"""

from __future__ import annotations

from sqlalchemy import ARRAY, BigInteger, Uuid

from stallkeep.store.tables.columns import (
    bigint,
    column,
    one_of,
    primary_key,
    string,
    table,
    uuid,
)

match_news = table(
    "match_news",
    uuid("channel_id"),
    column("id", Uuid(), default="gen_random_uuid()"),
    string("kind"),
    uuid("subject", null=True),
    bigint("term", null=True),
    primary_key("channel_id", "id"),
    one_of("kind", ("all", "import", "line", "item", "term")),
)

match_line = table(
    "match_line",
    uuid("channel_id"),
    uuid("transaction_id"),
    column("terms", ARRAY(BigInteger())),
    primary_key("channel_id", "transaction_id"),
)

match_term = table(
    "match_term",
    bigint("term"),
    uuid("transaction_id"),
    primary_key("term", "transaction_id"),
)

stock_piece = table(
    "stock_piece",
    uuid("channel_id"),
    uuid("item_id"),
    column("terms", ARRAY(BigInteger())),
    primary_key("channel_id", "item_id"),
)

stock_term = table(
    "stock_term",
    bigint("term"),
    uuid("item_id"),
    primary_key("term", "item_id"),
)

stock_count = table(
    "stock_count",
    uuid("channel_id"),
    bigint("term"),
    bigint("items_then"),
    bigint("items_now"),
    primary_key("channel_id", "term"),
)
