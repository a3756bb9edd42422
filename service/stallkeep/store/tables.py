"""Every table. ``shop_id`` leads every primary key, unique key and foreign key.

Money is ``bigint`` in minor units, a state is text with a check, a moment is ``timestamptz``.
Row level security, triggers and grants stand in the migrations; a test holds both together.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import (
    ARRAY,
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Double,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    PrimaryKeyConstraint,
    Table,
    Text,
    Time,
    UniqueConstraint,
    Uuid,
    text,
)
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.types import TypeEngine

metadata = MetaData(
    naming_convention={
        "ix": "%(table_name)s_%(column_0_N_name)s_ix",
        "uq": "%(table_name)s_%(column_0_N_name)s_key",
        "ck": "%(table_name)s_%(constraint_name)s",
        "fk": "%(table_name)s_%(column_0_N_name)s_fkey",
        "pk": "%(table_name)s_pkey",
    }
)


def _col(
    name: str, kind: TypeEngine[Any], *, null: bool = False, default: str | None = None
) -> Column[Any]:
    return Column(
        name, kind, nullable=null, server_default=None if default is None else text(default)
    )


def _uuid(name: str, *, null: bool = False) -> Column[Any]:
    return _col(name, Uuid(), null=null)


def _text(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    return _col(name, Text(), null=null, default=default)


def _minor(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    return _col(name, BigInteger(), null=null, default=default)


def _int(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    return _col(name, Integer(), null=null, default=default)


def _at(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    return _col(name, DateTime(timezone=True), null=null, default=default)


def _day(name: str, *, null: bool = False) -> Column[Any]:
    return _col(name, Date(), null=null)


def _json(name: str, *, null: bool = False, default: str | None = None) -> Column[Any]:
    return _col(name, JSONB(), null=null, default=default)


def _one_of(name: str, column: str, words: Sequence[str]) -> CheckConstraint:
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} in ({listed})", name=name)


def _to(
    table: str, *columns: str, target: Sequence[str] = ("id",), cascade: bool = False
) -> ForeignKeyConstraint:
    return ForeignKeyConstraint(
        ["shop_id", *columns],
        [f"{table}.shop_id", *(f"{table}.{name}" for name in target)],
        ondelete="CASCADE" if cascade else None,
    )


def _of_shop() -> ForeignKeyConstraint:
    return ForeignKeyConstraint(["shop_id"], ["shop.shop_id"])


def _created() -> Column[Any]:
    return _at("created_at", default="now()")


def _version() -> Column[Any]:
    return _int("version", default="1")


CHANNEL_KINDS = ("online", "direct", "stall")
EVENT_STATES = ("planned", "open", "closed")
LISTING_STATES = ("live", "ended", "sold")
COST_KINDS = (
    "pitch_fee",
    "travel",
    "parking",
    "food",
    "lodging",
    "helpers",
    "supplies",
    "other",
)
COST_SPLITS = ("equal", "days", "shares")
TRANSACTION_KINDS = ("payment", "refund", "fee", "payout", "sale", "adjustment")
METHODS = ("card", "cash", "online", "transfer", "other")
MATCH_STATES = ("unmatched", "proposed", "matched", "set_aside", "not_needed")

shop = Table(
    "shop",
    metadata,
    _uuid("shop_id"),
    _text("name"),
    _text("currency"),
    _text("time_zone"),
    _col("languages", ARRAY(Text()), default="'{en}'"),
    _col("match_threshold", Double(), default="0.99"),
    _text("tax_mode", default="'none'"),
    _json("tax_rates", default="'[]'"),
    _text("tax_round_per", default="'receipt'"),
    _col("tax_parts_apart", Boolean(), default="false"),
    _col("reclaims_tax", Boolean(), default="false"),
    _minor("cash_step_minor", null=True),
    _json("price_points", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id"),
    CheckConstraint("currency ~ '^[A-Z]{3}$'", name="currency_code"),
    CheckConstraint("match_threshold > 0.5 and match_threshold <= 1", name="threshold_range"),
    _one_of("tax_mode", "tax_mode", ("none", "included", "added")),
    _one_of("tax_round_per", "tax_round_per", ("line", "receipt")),
    CheckConstraint("cash_step_minor > 0", name="cash_step_positive"),
)

token = Table(
    "token",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _text("name"),
    _text("role"),
    _col("secret_sha256", LargeBinary()),
    _created(),
    _at("revoked_at", null=True),
    PrimaryKeyConstraint("shop_id", "id"),
    _of_shop(),
    _one_of("role", "role", ("owner", "helper")),
)

channel = Table(
    "channel",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _text("name"),
    _text("kind"),
    _json("price_rule", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "name"),
    _of_shop(),
    _one_of("kind", "kind", CHANNEL_KINDS),
)

fee_schedule = Table(
    "fee_schedule",
    metadata,
    _uuid("shop_id"),
    _uuid("channel_id"),
    _day("valid_from"),
    _json("terms"),
    PrimaryKeyConstraint("shop_id", "channel_id", "valid_from"),
    _to("channel", "channel_id", cascade=True),
)

item = Table(
    "item",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _text("tag_code"),
    _text("title"),
    _text("category", null=True),
    _text("size", null=True),
    _text("note", null=True),
    _int("quantity", default="1"),
    _int("sold", default="0"),
    _minor("price_minor", null=True),
    _minor("floor_minor", null=True),
    _minor("cost_minor", null=True),
    _day("acquired_on", null=True),
    _day("reserved_until", null=True),
    _col("margin_scheme", Boolean(), default="false"),
    _uuid("import_id", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "tag_code"),
    _of_shop(),
    CheckConstraint("quantity >= 0", name="quantity_not_negative"),
    CheckConstraint("sold >= 0 and sold <= quantity", name="sold_within_quantity"),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    CheckConstraint("floor_minor >= 0", name="floor_not_negative"),
    CheckConstraint("cost_minor >= 0", name="cost_not_negative"),
    Index(None, "shop_id", "created_at", "id"),
)

batch = Table(
    "batch",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("item_id"),
    _int("quantity"),
    _minor("cost_minor"),
    _day("acquired_on", null=True),
    _text("note", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("item", "item_id", cascade=True),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    CheckConstraint("cost_minor >= 0", name="cost_not_negative"),
    Index(None, "shop_id", "item_id"),
)

listing = Table(
    "listing",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("channel_id"),
    _uuid("item_id"),
    _text("reference"),
    _text("title"),
    _minor("price_minor", null=True),
    _text("state"),
    _day("listed_on", null=True),
    _day("ended_on", null=True),
    _uuid("import_id", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "channel_id", "reference"),
    _to("channel", "channel_id"),
    _to("item", "item_id"),
    _one_of("state", "state", LISTING_STATES),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    Index(None, "shop_id", "item_id"),
    Index(
        "listing_live_ix", "shop_id", "channel_id", "id", postgresql_where=text("state = 'live'")
    ),
)

event = Table(
    "event",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("channel_id"),
    _text("name"),
    _text("venue", null=True),
    _text("pitch", null=True),
    _text("kind", null=True),
    _day("starts_on"),
    _day("ends_on"),
    _text("state", default="'planned'"),
    _minor("pitch_fee_minor", default="0"),
    _json("own_minutes", default="'{}'"),
    _json("learned", null=True),
    _text("note", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("channel", "channel_id"),
    _one_of("state", "state", EVENT_STATES),
    CheckConstraint("ends_on >= starts_on", name="ends_after_start"),
    CheckConstraint("pitch_fee_minor >= 0", name="pitch_fee_not_negative"),
    Index(None, "shop_id", "starts_on", "id"),
)

event_day = Table(
    "event_day",
    metadata,
    _uuid("shop_id"),
    _uuid("event_id"),
    _day("day"),
    _col("opens_at", Time(), null=True),
    _col("closes_at", Time(), null=True),
    _minor("pitch_fee_minor", default="0"),
    _minor("float_minor", null=True),
    _minor("counted_cash_minor", null=True),
    _minor("taken_out_minor", default="0"),
    _col("every_cash_sale_noted", Boolean(), default="false"),
    PrimaryKeyConstraint("shop_id", "event_id", "day"),
    _to("event", "event_id", cascade=True),
    CheckConstraint("closes_at > opens_at", name="closes_after_opening"),
    CheckConstraint("pitch_fee_minor >= 0", name="pitch_fee_not_negative"),
    CheckConstraint("float_minor >= 0", name="float_not_negative"),
    CheckConstraint("counted_cash_minor >= 0", name="counted_cash_not_negative"),
)

rail = Table(
    "rail",
    metadata,
    _uuid("shop_id"),
    _uuid("event_id"),
    _uuid("item_id"),
    _int("quantity", default="1"),
    _minor("price_minor", null=True),
    _at("put_out_at", null=True),
    _int("counted_home", null=True),
    PrimaryKeyConstraint("shop_id", "event_id", "item_id"),
    _to("event", "event_id", cascade=True),
    _to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    CheckConstraint("counted_home >= 0", name="counted_home_not_negative"),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    Index(None, "shop_id", "item_id"),
)

stub = Table(
    "stub",
    metadata,
    _uuid("shop_id"),
    _uuid("event_id"),
    _day("day"),
    _int("position"),
    _text("tag_code"),
    _minor("price_minor", null=True),
    _col("ordered", Boolean(), default="true"),
    PrimaryKeyConstraint("shop_id", "event_id", "day", "position"),
    _to("event", "event_id", cascade=True),
)

cost = Table(
    "cost",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("event_id", null=True),
    _text("kind"),
    _minor("amount_minor"),
    _minor("tax_minor", null=True),
    _day("spent_on", null=True),
    _text("note", null=True),
    _json("trip", null=True),
    _text("split_by", null=True),
    _text("row_key", null=True),
    _uuid("import_id", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "row_key"),
    _of_shop(),
    _to("event", "event_id"),
    _one_of("kind", "kind", COST_KINDS),
    _one_of("split_by", "split_by", COST_SPLITS),
    CheckConstraint("event_id is null or split_by is null", name="of_one_event_or_split"),
    Index(None, "shop_id", "event_id"),
)

cost_part = Table(
    "cost_part",
    metadata,
    _uuid("shop_id"),
    _uuid("cost_id"),
    _uuid("event_id"),
    _int("position"),
    _int("share"),
    _minor("amount_minor"),
    _minor("tax_minor", null=True),
    PrimaryKeyConstraint("shop_id", "cost_id", "event_id"),
    UniqueConstraint("shop_id", "cost_id", "position"),
    _to("cost", "cost_id", cascade=True),
    _to("event", "event_id"),
    CheckConstraint("share > 0", name="share_positive"),
    Index(None, "shop_id", "event_id"),
)

import_ = Table(
    "import",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _text("importer"),
    _uuid("channel_id", null=True),
    _uuid("event_id", null=True),
    _text("file_name"),
    _col("file_sha256", LargeBinary(), null=True),
    _minor("file_bytes", default="0"),
    _text("state"),
    _json("options", default="'{}'"),
    _json("layout", null=True),
    _json("notices", default="'[]'"),
    _json("skips", default="'{}'"),
    _json("problem", null=True),
    _minor("rows_read", default="0"),
    _minor("taken", default="0"),
    _minor("changed", default="0"),
    _minor("known", default="0"),
    _minor("rejected", default="0"),
    _minor("skipped", default="0"),
    _minor("bytes_read", default="0"),
    _at("started_at", default="now()"),
    _at("finished_at", null=True),
    PrimaryKeyConstraint("shop_id", "id"),
    _of_shop(),
    _to("channel", "channel_id"),
    _to("event", "event_id"),
    _one_of("state", "state", ("running", "done", "failed", "undone")),
    CheckConstraint(
        "state <> 'done' or rows_read = taken + known + rejected + skipped", name="counts_add_up"
    ),
    CheckConstraint("changed <= taken", name="changed_are_taken"),
    Index(None, "shop_id", "started_at", "id"),
)

# A table of its own: each row taken in looks its import up (a foreign key), past all versions of
# that row, and none of them can be cleared away before the import's transaction has ended.
import_progress = Table(
    "import_progress",
    metadata,
    _uuid("shop_id"),
    _uuid("import_id"),
    _minor("rows_read"),
    _minor("bytes_read"),
    PrimaryKeyConstraint("shop_id", "import_id"),
    _to("import", "import_id", cascade=True),
)

reject = Table(
    "reject",
    metadata,
    _uuid("shop_id"),
    _uuid("import_id"),
    _minor("record"),
    _minor("line"),
    _text("code"),
    _text("column_name", null=True),
    _text("value", null=True),
    _text("reason"),
    _text("advice"),
    _json("cells"),
    _text("state", default="'open'"),
    PrimaryKeyConstraint("shop_id", "import_id", "record"),
    _to("import", "import_id", cascade=True),
    _one_of("state", "state", ("open", "taken", "dismissed")),
)


def _content() -> list[Column[Any]]:
    """The canonical record's fields, shared by the current row and its older versions."""
    return [
        _text("kind"),
        _minor("amount_minor"),
        _text("currency"),
        _day("occurred_on"),
        _at("occurred_at", null=True),
        _text("external_id", null=True),
        _text("method", null=True),
        _minor("fee_minor", null=True),
        _minor("tip_minor", null=True),
        _minor("tax_minor", null=True),
        _minor("surcharge_minor", null=True),
        _minor("postage_minor", null=True),
        _minor("postage_cost_minor", null=True),
        _text("reference", null=True),
        _text("tag_code", null=True),
        _text("title", null=True),
        _int("quantity", default="1"),
        _text("note", null=True),
        _text("related_id", null=True),
        _text("payout_id", null=True),
        _text("detail", null=True),
        _minor("refunded_minor", null=True),
        _col("covers", ARRAY(Text()), null=True),
        _json("more", null=True),
        _uuid("import_id", null=True),
        _minor("record", null=True),
        _minor("line", null=True),
    ]


transaction = Table(
    "transaction",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("channel_id"),
    _text("row_key"),
    _int("occurrence", default="1"),
    _uuid("content_key"),
    _version(),
    *_content(),
    _at("ordered_at"),
    _uuid("event_id", null=True),
    _text("match_state"),
    _text("match_reason", null=True),
    _created(),
    PrimaryKeyConstraint("shop_id", "id"),
    UniqueConstraint("shop_id", "channel_id", "row_key", "occurrence"),
    _to("channel", "channel_id"),
    _to("event", "event_id"),
    _to("import", "import_id"),
    _one_of("kind", "kind", TRANSACTION_KINDS),
    _one_of("method", "method", METHODS),
    _one_of("match_state", "match_state", MATCH_STATES),
    CheckConstraint("currency ~ '^[A-Z]{3}$'", name="currency_code"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    CheckConstraint("occurrence > 0", name="occurrence_positive"),
    Index(None, "shop_id", "ordered_at", "id"),
    Index(None, "shop_id", "channel_id", "ordered_at", "id"),
    Index(
        "transaction_of_event_ix",
        "shop_id",
        "event_id",
        "ordered_at",
        "id",
        postgresql_where=text("event_id is not null"),
    ),
    Index(
        "transaction_open_ix",
        "shop_id",
        "match_state",
        "ordered_at",
        "id",
        postgresql_where=text("match_state <> 'matched' and match_state <> 'not_needed'"),
    ),
    Index(None, "shop_id", "import_id"),
)

transaction_version = Table(
    "transaction_version",
    metadata,
    _uuid("shop_id"),
    _uuid("transaction_id"),
    _int("version"),
    _uuid("content_key"),
    *_content(),
    _at("replaced_at", default="now()"),
    _uuid("replaced_by_import_id", null=True),
    PrimaryKeyConstraint("shop_id", "transaction_id", "version"),
    _to("transaction", "transaction_id", cascade=True),
    Index(None, "shop_id", "replaced_by_import_id"),
)

reconciliation = Table(
    "reconciliation",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("event_id", null=True),
    _uuid("channel_id", null=True),
    _day("from_on", null=True),
    _day("to_on", null=True),
    _text("engine"),
    _json("counts"),
    _json("report"),
    _created(),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("event", "event_id"),
    _to("channel", "channel_id"),
    Index(None, "shop_id", "event_id", "created_at"),
)

sale = Table(
    "sale",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("channel_id"),
    _uuid("event_id", null=True),
    _text("origin"),
    _text("method", null=True),
    _minor("total_minor"),
    _minor("tax_minor", null=True),
    _col("tax_added", Boolean(), default="false"),
    _json("taxes", default="'[]'"),
    _minor("cash_rounding_minor", default="0"),
    _at("sold_at", null=True),
    _day("sold_on"),
    _text("state", default="'done'"),
    _uuid("transaction_id", null=True),
    _text("note", null=True),
    _created(),
    _version(),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("channel", "channel_id"),
    _to("event", "event_id"),
    _to("transaction", "transaction_id"),
    _one_of("origin", "origin", ("stall", "typed", "match")),
    _one_of("method", "method", METHODS),
    _one_of("state", "state", ("done", "void")),
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
    _uuid("shop_id"),
    _uuid("sale_id"),
    _int("line_no"),
    _uuid("item_id", null=True),
    _text("title", null=True),
    _int("quantity", default="1"),
    _minor("price_minor"),
    _minor("cost_minor", null=True),
    _minor("tax_minor", null=True),
    _text("state", default="'sold'"),
    PrimaryKeyConstraint("shop_id", "sale_id", "line_no"),
    _to("sale", "sale_id", cascade=True),
    _to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    _one_of("state", "state", ("sold", "returned")),
    Index(None, "shop_id", "item_id"),
)

match = Table(
    "match",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("transaction_id"),
    _uuid("reconciliation_id", null=True),
    _text("state"),
    _text("explanation", default="'pieces'"),
    _int("rank"),
    _col("probability", Double()),
    _text("reason"),
    _json("evidence", default="'[]'"),
    _json("piece_group", null=True),
    _uuid("sale_id", null=True),
    _uuid("related_transaction_id", null=True),
    _text("decided_by", null=True),
    _created(),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("transaction", "transaction_id", cascade=True),
    _to("reconciliation", "reconciliation_id"),
    _to("sale", "sale_id"),
    _one_of("state", "state", ("matched", "proposed")),
    CheckConstraint("probability >= 0 and probability <= 1", name="probability_range"),
    Index(None, "shop_id", "transaction_id", "rank"),
    Index("match_of_sale_ix", "shop_id", "sale_id", postgresql_where=text("sale_id is not null")),
    Index(
        "match_one_matched_key",
        "shop_id",
        "transaction_id",
        unique=True,
        postgresql_where=text("state = 'matched'"),
    ),
)

match_item = Table(
    "match_item",
    metadata,
    _uuid("shop_id"),
    _uuid("match_id"),
    _uuid("item_id"),
    _int("quantity", default="1"),
    _minor("price_minor"),
    PrimaryKeyConstraint("shop_id", "match_id", "item_id"),
    _to("match", "match_id", cascade=True),
    _to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    Index(None, "shop_id", "item_id"),
)

# What the matching of channels remembers from run to run (see DEVELOPERS.md): what has happened
# since a channel's last run, what each of its sales looks at, and its stock by words and prices.
# All of it can be made again from the rest; there is no foreign key, for each costs every row.
match_news = Table(
    "match_news",
    metadata,
    _uuid("shop_id"),
    _uuid("channel_id"),
    _col("id", Uuid(), default="gen_random_uuid()"),
    _text("kind"),
    _uuid("subject", null=True),
    _minor("term", null=True),
    PrimaryKeyConstraint("shop_id", "channel_id", "id"),
    _one_of("kind", "kind", ("all", "import", "line", "item", "term")),
)

match_term = Table(
    "match_term",
    metadata,
    _uuid("shop_id"),
    _uuid("transaction_id"),
    _minor("term"),
    PrimaryKeyConstraint("shop_id", "transaction_id", "term"),
    Index(None, "shop_id", "term", "transaction_id"),
)

stock_term = Table(
    "stock_term",
    metadata,
    _uuid("shop_id"),
    _uuid("channel_id"),
    _uuid("item_id"),
    _minor("term"),
    PrimaryKeyConstraint("shop_id", "channel_id", "item_id", "term"),
    Index(None, "shop_id", "term", "item_id"),
)

stock_count = Table(
    "stock_count",
    metadata,
    _uuid("shop_id"),
    _uuid("channel_id"),
    _minor("term"),
    _minor("items_then"),
    _minor("items_now"),
    PrimaryKeyConstraint("shop_id", "channel_id", "term"),
)

ruling = Table(
    "ruling",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("transaction_id"),
    _text("kind"),
    _col("item_ids", ARRAY(Uuid()), default="'{}'"),
    _int("pieces", null=True),
    _uuid("related_transaction_id", null=True),
    _col("is_income", Boolean(), default="true"),
    _text("reason", null=True),
    _text("said_by"),
    _at("said_at", default="now()"),
    _at("withdrawn_at", null=True),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("transaction", "transaction_id"),
    _one_of(
        "kind",
        "kind",
        ("confirmed", "refused", "set_aside", "no_piece", "count", "part_of_sale"),
    ),
    CheckConstraint(
        "(kind = 'part_of_sale') = (related_transaction_id is not null)",
        name="part_names_its_sale",
    ),
    Index(None, "shop_id", "transaction_id", "said_at"),
)

piece_ruling = Table(
    "piece_ruling",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _uuid("event_id"),
    _uuid("item_id"),
    _int("still_here"),
    _text("said_by"),
    _at("said_at", default="now()"),
    _at("withdrawn_at", null=True),
    PrimaryKeyConstraint("shop_id", "id"),
    _to("event", "event_id", cascade=True),
    _to("item", "item_id"),
    CheckConstraint("still_here >= 0", name="still_here_not_negative"),
    Index(None, "shop_id", "event_id"),
)

conflict = Table(
    "conflict",
    metadata,
    _uuid("shop_id"),
    _uuid("id"),
    _text("kind"),
    _uuid("item_id", null=True),
    _uuid("transaction_id", null=True),
    _uuid("event_id", null=True),
    _text("detail"),
    _text("state", default="'open'"),
    _created(),
    _at("settled_at", null=True),
    _text("settled_by", null=True),
    PrimaryKeyConstraint("shop_id", "id"),
    _of_shop(),
    _to("item", "item_id"),
    _to("transaction", "transaction_id"),
    _to("event", "event_id"),
    _one_of("state", "state", ("open", "settled")),
    Index(
        "conflict_open_ix", "shop_id", "created_at", "id", postgresql_where=text("state = 'open'")
    ),
)

column_map = Table(
    "column_map",
    metadata,
    _uuid("shop_id"),
    _text("importer"),
    _text("fingerprint"),
    _json("options"),
    _json("headers"),
    _uuid("channel_id", null=True),
    _text("confirmed_by"),
    _at("confirmed_at", default="now()"),
    PrimaryKeyConstraint("shop_id", "importer", "fingerprint"),
    _of_shop(),
    _to("channel", "channel_id"),
)

kept_answer = Table(
    "kept_answer",
    metadata,
    _uuid("shop_id"),
    _text("key"),
    _col("request_sha256", LargeBinary()),
    _int("status"),
    _json("headers"),
    _col("body", LargeBinary()),
    _created(),
    PrimaryKeyConstraint("shop_id", "key"),
    _of_shop(),
)
