"""What the matching of channels remembers from run to run (see DEVELOPERS.md).

What has happened since a channel's last run, what each of its sales looks at, and its stock by
words and prices. All of it can be made again from the rest; there is no foreign key, for each
costs every row.
"""

from __future__ import annotations

from sqlalchemy import ARRAY, BigInteger, Index, PrimaryKeyConstraint, Table, Uuid

from stallkeep.store.tables.columns import bigint, column, metadata, one_of, string, uuid

match_news = Table(
    "match_news",
    metadata,
    uuid("shop_id"),
    uuid("channel_id"),
    column("id", Uuid(), default="gen_random_uuid()"),
    string("kind"),
    uuid("subject", null=True),
    bigint("term", null=True),
    PrimaryKeyConstraint("shop_id", "channel_id", "id"),
    one_of("kind", ("all", "import", "line", "item", "term")),
)

match_term = Table(
    "match_term",
    metadata,
    uuid("shop_id"),
    uuid("transaction_id"),
    bigint("term"),
    PrimaryKeyConstraint("shop_id", "transaction_id", "term"),
    Index(None, "shop_id", "term", "transaction_id"),
)

stock_piece = Table(
    "stock_piece",
    metadata,
    uuid("shop_id"),
    uuid("channel_id"),
    uuid("item_id"),
    column("terms", ARRAY(BigInteger())),
    PrimaryKeyConstraint("shop_id", "channel_id", "item_id"),
)

stock_term = Table(
    "stock_term",
    metadata,
    uuid("shop_id"),
    bigint("term"),
    uuid("item_id"),
    PrimaryKeyConstraint("shop_id", "term", "item_id"),
)

stock_count = Table(
    "stock_count",
    metadata,
    uuid("shop_id"),
    uuid("channel_id"),
    bigint("term"),
    bigint("items_then"),
    bigint("items_now"),
    PrimaryKeyConstraint("shop_id", "channel_id", "term"),
)
