"""First tables, walls between shops, and the rule that an item is sold once.

Revision: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy import Text
from sqlalchemy.dialects import postgresql

from stallkeep.store.news_triggers import NEWS, NEWS_FUNCTIONS

revision = "0001"
down_revision: str | None = None
branch_labels: str | None = None
depends_on: str | None = None

# A sale line takes its pieces off the stock, and gives them back when it is returned, voided or
# deleted; the check on item.sold then refuses to sell what is not there. Lines that come or go are
# counted statement by statement: a run of the matching writes thousands. The function keeps its
# plan, and one made for thousands of lines is to serve for one as well: hence its settings.
COUNT_SOLD = """
create function count_sold() returns trigger language plpgsql
set enable_hashjoin = off set enable_mergejoin = off set enable_seqscan = off as $body$
declare
    sign integer := case tg_op when 'INSERT' then 1 else -1 end;
begin
    update item i set sold = i.sold + sign * own.pieces
      from (select shop_id, item_id, sum(quantity)::integer as pieces from lines
             where item_id is not null and state = 'sold' group by shop_id, item_id) own
     where i.shop_id = own.shop_id and i.id = own.item_id;
    perform average_costs(own.shop_id, own.item_id)
       from (select distinct shop_id, item_id from lines
              where item_id is not null and state = 'sold') own
      where exists (select from batch b where b.shop_id = own.shop_id and b.item_id = own.item_id);
    return null;
end
$body$
"""
COUNT_CHANGED = """
create function count_changed() returns trigger language plpgsql as $body$
declare
    before_id uuid; before_n integer := 0; after_id uuid; after_n integer := 0;
begin
    if old.item_id is not null and old.state = 'sold' then
        before_id := old.item_id; before_n := old.quantity;
    end if;
    if new.item_id is not null and new.state = 'sold' then
        after_id := new.item_id; after_n := new.quantity;
    end if;
    if before_id is not distinct from after_id then
        if before_n <> after_n then
            update item set sold = sold + after_n - before_n
             where shop_id = new.shop_id and id = after_id;
            perform average_costs(new.shop_id, after_id);
        end if;
    else
        if before_n > 0 then
            update item set sold = sold - before_n
             where shop_id = old.shop_id and id = before_id;
            perform average_costs(old.shop_id, before_id);
        end if;
        if after_n > 0 then
            update item set sold = sold + after_n
             where shop_id = new.shop_id and id = after_id;
            perform average_costs(new.shop_id, after_id);
        end if;
    end if;
    return null;
end
$body$
"""
# What each sale of an item held in batches cost: the moving weighted average on its day, as
# domain/batches.py reckons it. Nothing is rounded but what a sale takes; the rest stays with the
# pieces left, so that all batches = all sales + stock. Any change of batches or sales, whatever its
# day, reckons the item anew. div, not /: the quotient of numerics has a limited number of digits.
AVERAGE_COSTS = """
create function average_costs(of_shop uuid, of_item uuid) returns void language plpgsql as $body$
declare
    batches cursor for select quantity, cost_minor, acquired_on from batch
        where shop_id = of_shop and item_id = of_item order by acquired_on nulls first, id;
    came record; line record; held numeric := 0; worth numeric := 0; taken numeric;
begin
    if not exists (select from batch where shop_id = of_shop and item_id = of_item) then
        return;
    end if;
    open batches;
    fetch batches into came;
    for line in
        select l.sale_id, l.line_no, l.quantity, l.cost_minor, s.sold_on
          from sale_line l join sale s on s.shop_id = l.shop_id and s.id = l.sale_id
         where l.shop_id = of_shop and l.item_id = of_item and l.state = 'sold'
         order by s.sold_on, l.sale_id, l.line_no
    loop
        while came.quantity is not null and
              (came.acquired_on is null or came.acquired_on <= line.sold_on or held < line.quantity)
        loop
            held := held + came.quantity;
            worth := worth + came.cost_minor;
            fetch batches into came;
        end loop;
        held := greatest(held, line.quantity);
        taken := div(2 * worth * line.quantity + held, 2 * held);
        held := held - line.quantity;
        worth := worth - taken;
        if line.cost_minor is distinct from taken then
            update sale_line set cost_minor = taken
             where shop_id = of_shop and sale_id = line.sale_id and line_no = line.line_no;
        end if;
    end loop;
    while came.quantity is not null loop
        held := held + came.quantity;
        worth := worth + came.cost_minor;
        fetch batches into came;
    end loop;
    close batches;
    if held > 0 then
        update item set cost_minor = div(2 * worth + held, 2 * held)
         where shop_id = of_shop and id = of_item;
    end if;
end
$body$
"""
COUNT_SOLD_TRIGGERS = (
    """
create trigger count_sold after insert on sale_line
referencing new table as lines for each statement execute function count_sold()
""",
    """
create trigger count_sold_end after delete on sale_line
referencing old table as lines for each statement execute function count_sold()
""",
    """
create trigger count_sold_change after update on sale_line
for each row execute function count_changed()
""",
)

# nullif: once a transaction that set it has ended the setting is '' and not NULL.
WALL = """
create policy shop_only on {table}
 using (shop_id = nullif(current_setting('app.shop_id', true), '')::uuid)
 with check (shop_id = nullif(current_setting('app.shop_id', true), '')::uuid)
"""
TABLES = (
    "shop",
    "channel",
    "item",
    "batch",
    "kept_answer",
    "token",
    "column_map",
    "event",
    "fee_schedule",
    "listing",
    "cost",
    "cost_part",
    "event_day",
    "import",
    "import_progress",
    "piece_ruling",
    "rail",
    "reconciliation",
    "stub",
    "reject",
    "match_news",
    "match_line",
    "match_term",
    "stock_piece",
    "stock_term",
    "stock_count",
    "transaction",
    "conflict",
    "ruling",
    "sale",
    "transaction_version",
    "match",
    "sale_line",
    "match_item",
)


def upgrade() -> None:
    """Make everything."""
    op.create_table(
        "shop",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column(
            "languages", sa.ARRAY(sa.Text()), server_default=sa.text("'{en}'"), nullable=False
        ),
        sa.Column("match_threshold", sa.Double(), server_default=sa.text("0.99"), nullable=False),
        sa.Column("tax_mode", sa.Text(), server_default=sa.text("'none'"), nullable=False),
        sa.Column(
            "tax_rates",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'[]'"),
            nullable=False,
        ),
        sa.Column("tax_round_per", sa.Text(), server_default=sa.text("'receipt'"), nullable=False),
        sa.Column("tax_parts_apart", sa.Boolean(), server_default=sa.text("false"), nullable=False),
        sa.Column("reclaims_tax", sa.Boolean(), server_default=sa.text("false"), nullable=False),
        sa.Column("tax_from", sa.Date(), nullable=True),
        sa.Column(
            "tax_before",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'[]'"),
            nullable=False,
        ),
        sa.Column("cash_step_minor", sa.BigInteger(), nullable=True),
        sa.Column("price_points", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint("currency ~ '^[A-Z]{3}$'", name=op.f("shop_currency_code")),
        sa.CheckConstraint("tax_mode in ('none', 'included', 'added')", name=op.f("shop_tax_mode")),
        sa.CheckConstraint("tax_round_per in ('line', 'receipt')", name=op.f("shop_tax_round_per")),
        sa.CheckConstraint("cash_step_minor > 0", name=op.f("shop_cash_step_positive")),
        sa.CheckConstraint(
            "match_threshold > 0.5 and match_threshold <= 1", name=op.f("shop_threshold_range")
        ),
        sa.PrimaryKeyConstraint("shop_id", name=op.f("shop_pkey")),
    )
    op.create_table(
        "channel",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("price_rule", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint("kind in ('online', 'direct', 'stall')", name=op.f("channel_kind")),
        sa.ForeignKeyConstraint(["shop_id"], ["shop.shop_id"], name=op.f("channel_shop_id_fkey")),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("channel_pkey")),
        sa.UniqueConstraint("shop_id", "name", name=op.f("channel_shop_id_name_key")),
    )
    op.create_table(
        "item",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("tag_code", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("category", sa.Text(), nullable=True),
        sa.Column("size", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("quantity", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("sold", sa.Integer(), server_default=sa.text("0"), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=True),
        sa.Column("floor_minor", sa.BigInteger(), nullable=True),
        sa.Column("cost_minor", sa.BigInteger(), nullable=True),
        sa.Column("acquired_on", sa.Date(), nullable=True),
        sa.Column("reserved_until", sa.Date(), nullable=True),
        sa.Column("margin_scheme", sa.Boolean(), server_default=sa.text("false"), nullable=False),
        sa.Column("import_id", sa.Uuid(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint("cost_minor >= 0", name=op.f("item_cost_not_negative")),
        sa.CheckConstraint("floor_minor >= 0", name=op.f("item_floor_not_negative")),
        sa.CheckConstraint("price_minor >= 0", name=op.f("item_price_not_negative")),
        sa.CheckConstraint("quantity >= 0", name=op.f("item_quantity_not_negative")),
        sa.CheckConstraint(
            "sold >= 0 and sold <= quantity", name=op.f("item_sold_within_quantity")
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shop.shop_id"], name=op.f("item_shop_id_fkey")),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("item_pkey")),
        sa.UniqueConstraint("shop_id", "tag_code", name=op.f("item_shop_id_tag_code_key")),
    )
    op.create_index(
        op.f("item_shop_id_created_at_id_ix"), "item", ["shop_id", "created_at", "id"], unique=False
    )
    op.create_table(
        "batch",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("cost_minor", sa.BigInteger(), nullable=False),
        sa.Column("acquired_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("batch_quantity_positive")),
        sa.CheckConstraint("cost_minor >= 0", name=op.f("batch_cost_not_negative")),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("batch_shop_id_item_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("batch_pkey")),
    )
    op.create_index(op.f("batch_shop_id_item_id_ix"), "batch", ["shop_id", "item_id"], unique=False)
    op.create_table(
        "kept_answer",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("request_sha256", sa.LargeBinary(), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("headers", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=False),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.ForeignKeyConstraint(
            ["shop_id"], ["shop.shop_id"], name=op.f("kept_answer_shop_id_fkey")
        ),
        sa.PrimaryKeyConstraint("shop_id", "key", name=op.f("kept_answer_pkey")),
    )
    op.create_table(
        "token",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("secret_sha256", sa.LargeBinary(), nullable=False),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("role in ('owner', 'helper')", name=op.f("token_role")),
        sa.ForeignKeyConstraint(["shop_id"], ["shop.shop_id"], name=op.f("token_shop_id_fkey")),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("token_pkey")),
    )
    op.create_table(
        "column_map",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("importer", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.Text(), nullable=False),
        sa.Column("options", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.Column("headers", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=True),
        sa.Column("confirmed_by", sa.Text(), nullable=False),
        sa.Column(
            "confirmed_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("column_map_shop_id_channel_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id"], ["shop.shop_id"], name=op.f("column_map_shop_id_fkey")
        ),
        sa.PrimaryKeyConstraint("shop_id", "importer", "fingerprint", name=op.f("column_map_pkey")),
    )
    op.create_table(
        "event",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("venue", sa.Text(), nullable=True),
        sa.Column("pitch", sa.Text(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=True),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=False),
        sa.Column("state", sa.Text(), server_default=sa.text("'planned'"), nullable=False),
        sa.Column("pitch_fee_minor", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column(
            "own_minutes",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'{}'"),
            nullable=False,
        ),
        sa.Column("learned", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint("state in ('planned', 'open', 'closed')", name=op.f("event_state")),
        sa.CheckConstraint("ends_on >= starts_on", name=op.f("event_ends_after_start")),
        sa.CheckConstraint("pitch_fee_minor >= 0", name=op.f("event_pitch_fee_not_negative")),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("event_shop_id_channel_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("event_pkey")),
    )
    op.create_index(
        op.f("event_shop_id_starts_on_id_ix"), "event", ["shop_id", "starts_on", "id"], unique=False
    )
    op.create_table(
        "fee_schedule",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("valid_from", sa.Date(), nullable=False),
        sa.Column("terms", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("fee_schedule_shop_id_channel_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint(
            "shop_id", "channel_id", "valid_from", name=op.f("fee_schedule_pkey")
        ),
    )
    op.create_table(
        "listing",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("reference", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=True),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("listed_on", sa.Date(), nullable=True),
        sa.Column("ended_on", sa.Date(), nullable=True),
        sa.Column("import_id", sa.Uuid(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint("state in ('live', 'ended', 'sold')", name=op.f("listing_state")),
        sa.CheckConstraint("price_minor >= 0", name=op.f("listing_price_not_negative")),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("listing_shop_id_channel_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("listing_shop_id_item_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("listing_pkey")),
        sa.UniqueConstraint(
            "shop_id",
            "channel_id",
            "reference",
            name=op.f("listing_shop_id_channel_id_reference_key"),
        ),
    )
    op.create_index(
        "listing_live_ix",
        "listing",
        ["shop_id", "channel_id", "id"],
        unique=False,
        postgresql_where=sa.text("state = 'live'"),
    )
    op.create_index(
        op.f("listing_shop_id_item_id_ix"), "listing", ["shop_id", "item_id"], unique=False
    )
    op.create_table(
        "cost",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("tax_minor", sa.BigInteger(), nullable=True),
        sa.Column("spent_on", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("trip", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column("split_by", sa.Text(), nullable=True),
        sa.Column("row_key", sa.Text(), nullable=True),
        sa.Column("import_id", sa.Uuid(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint(
            "kind in ('pitch_fee', 'travel', 'parking', 'food', 'lodging', 'helpers', 'supplies', 'other')",
            name=op.f("cost_kind"),
        ),
        sa.CheckConstraint("split_by in ('equal', 'days', 'shares')", name=op.f("cost_split_by")),
        sa.CheckConstraint(
            "event_id is null or split_by is null", name=op.f("cost_of_one_event_or_split")
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("cost_shop_id_event_id_fkey"),
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shop.shop_id"], name=op.f("cost_shop_id_fkey")),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("cost_pkey")),
        sa.UniqueConstraint("shop_id", "row_key", name=op.f("cost_shop_id_row_key_key")),
    )
    op.create_index(op.f("cost_shop_id_event_id_ix"), "cost", ["shop_id", "event_id"], unique=False)
    op.create_table(
        "cost_part",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("cost_id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("share", sa.Integer(), nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("tax_minor", sa.BigInteger(), nullable=True),
        sa.CheckConstraint("share > 0", name=op.f("cost_part_share_positive")),
        sa.ForeignKeyConstraint(
            ["shop_id", "cost_id"],
            ["cost.shop_id", "cost.id"],
            name=op.f("cost_part_shop_id_cost_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("cost_part_shop_id_event_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "cost_id", "event_id", name=op.f("cost_part_pkey")),
        sa.UniqueConstraint(
            "shop_id", "cost_id", "position", name=op.f("cost_part_shop_id_cost_id_position_key")
        ),
    )
    op.create_index(
        op.f("cost_part_shop_id_event_id_ix"),
        "cost_part",
        ["shop_id", "event_id"],
        unique=False,
    )
    op.create_table(
        "event_day",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("opens_at", sa.Time(), nullable=True),
        sa.Column("closes_at", sa.Time(), nullable=True),
        sa.Column("pitch_fee_minor", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("float_minor", sa.BigInteger(), nullable=True),
        sa.Column("counted_cash_minor", sa.BigInteger(), nullable=True),
        sa.Column("taken_out_minor", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column(
            "every_cash_sale_noted", sa.Boolean(), server_default=sa.text("false"), nullable=False
        ),
        sa.CheckConstraint("closes_at > opens_at", name=op.f("event_day_closes_after_opening")),
        sa.CheckConstraint(
            "counted_cash_minor >= 0", name=op.f("event_day_counted_cash_not_negative")
        ),
        sa.CheckConstraint("float_minor >= 0", name=op.f("event_day_float_not_negative")),
        sa.CheckConstraint("pitch_fee_minor >= 0", name=op.f("event_day_pitch_fee_not_negative")),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("event_day_shop_id_event_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "event_id", "day", name=op.f("event_day_pkey")),
    )
    op.create_table(
        "import",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("importer", sa.Text(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=True),
        sa.Column("event_id", sa.Uuid(), nullable=True),
        sa.Column("file_name", sa.Text(), nullable=False),
        sa.Column("file_sha256", sa.LargeBinary(), nullable=True),
        sa.Column("file_bytes", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column(
            "options",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'{}'"),
            nullable=False,
        ),
        sa.Column("layout", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column(
            "notices",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'[]'"),
            nullable=False,
        ),
        sa.Column(
            "skips",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'{}'"),
            nullable=False,
        ),
        sa.Column("problem", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column("rows_read", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("taken", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("changed", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("known", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("rejected", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("skipped", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column("bytes_read", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.Column(
            "started_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("finished_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "state <> 'done' or rows_read = taken + known + rejected + skipped",
            name=op.f("import_counts_add_up"),
        ),
        sa.CheckConstraint(
            "state in ('running', 'done', 'failed', 'undone')", name=op.f("import_state")
        ),
        sa.CheckConstraint("changed <= taken", name=op.f("import_changed_are_taken")),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("import_shop_id_channel_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("import_shop_id_event_id_fkey"),
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shop.shop_id"], name=op.f("import_shop_id_fkey")),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("import_pkey")),
    )
    op.create_index(
        op.f("import_shop_id_started_at_id_ix"),
        "import",
        ["shop_id", "started_at", "id"],
        unique=False,
    )
    op.create_table(
        "piece_ruling",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("still_here", sa.Integer(), nullable=False),
        sa.Column("said_by", sa.Text(), nullable=False),
        sa.Column(
            "said_at", sa.DateTime(timezone=True), server_default=sa.text("now()"), nullable=False
        ),
        sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("still_here >= 0", name=op.f("piece_ruling_still_here_not_negative")),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("piece_ruling_shop_id_event_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("piece_ruling_shop_id_item_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("piece_ruling_pkey")),
    )
    op.create_index(
        op.f("piece_ruling_shop_id_event_id_ix"),
        "piece_ruling",
        ["shop_id", "event_id"],
        unique=False,
    )
    op.create_table(
        "rail",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("quantity", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=True),
        sa.Column("put_out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("counted_home", sa.Integer(), nullable=True),
        sa.CheckConstraint("counted_home >= 0", name=op.f("rail_counted_home_not_negative")),
        sa.CheckConstraint("price_minor >= 0", name=op.f("rail_price_not_negative")),
        sa.CheckConstraint("quantity > 0", name=op.f("rail_quantity_positive")),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("rail_shop_id_event_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("rail_shop_id_item_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "event_id", "item_id", name=op.f("rail_pkey")),
    )
    op.create_index(op.f("rail_shop_id_item_id_ix"), "rail", ["shop_id", "item_id"], unique=False)
    op.create_table(
        "reconciliation",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=True),
        sa.Column("channel_id", sa.Uuid(), nullable=True),
        sa.Column("from_on", sa.Date(), nullable=True),
        sa.Column("to_on", sa.Date(), nullable=True),
        sa.Column("engine", sa.Text(), nullable=False),
        sa.Column("counts", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.Column("report", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("reconciliation_shop_id_channel_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("reconciliation_shop_id_event_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("reconciliation_pkey")),
    )
    op.create_index(
        op.f("reconciliation_shop_id_event_id_created_at_ix"),
        "reconciliation",
        ["shop_id", "event_id", "created_at"],
        unique=False,
    )
    op.create_table(
        "stub",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("tag_code", sa.Text(), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=True),
        sa.Column("ordered", sa.Boolean(), server_default=sa.text("true"), nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("stub_shop_id_event_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "event_id", "day", "position", name=op.f("stub_pkey")),
    )
    op.create_table(
        "import_progress",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("import_id", sa.Uuid(), nullable=False),
        sa.Column("rows_read", sa.BigInteger(), nullable=False),
        sa.Column("bytes_read", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(
            ["shop_id", "import_id"],
            ["import.shop_id", "import.id"],
            name=op.f("import_progress_shop_id_import_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "import_id", name=op.f("import_progress_pkey")),
    )
    op.create_table(
        "reject",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("import_id", sa.Uuid(), nullable=False),
        sa.Column("record", sa.BigInteger(), nullable=False),
        sa.Column("line", sa.BigInteger(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("column_name", sa.Text(), nullable=True),
        sa.Column("value", sa.Text(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("advice", sa.Text(), nullable=False),
        sa.Column("cells", postgresql.JSONB(astext_type=Text()), nullable=False),
        sa.Column("state", sa.Text(), server_default=sa.text("'open'"), nullable=False),
        sa.CheckConstraint("state in ('open', 'taken', 'dismissed')", name=op.f("reject_state")),
        sa.ForeignKeyConstraint(
            ["shop_id", "import_id"],
            ["import.shop_id", "import.id"],
            name=op.f("reject_shop_id_import_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "import_id", "record", name=op.f("reject_pkey")),
    )
    op.create_table(
        "transaction",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("row_key", sa.Text(), nullable=False),
        sa.Column("occurrence", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("content_key", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("occurred_on", sa.Date(), nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("external_id", sa.Text(), nullable=True),
        sa.Column("method", sa.Text(), nullable=True),
        sa.Column("fee_minor", sa.BigInteger(), nullable=True),
        sa.Column("tip_minor", sa.BigInteger(), nullable=True),
        sa.Column("tax_minor", sa.BigInteger(), nullable=True),
        sa.Column("surcharge_minor", sa.BigInteger(), nullable=True),
        sa.Column("postage_minor", sa.BigInteger(), nullable=True),
        sa.Column("postage_cost_minor", sa.BigInteger(), nullable=True),
        sa.Column("reference", sa.Text(), nullable=True),
        sa.Column("tag_code", sa.Text(), nullable=True),
        sa.Column("title", sa.Text(), nullable=True),
        sa.Column("quantity", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("related_id", sa.Text(), nullable=True),
        sa.Column("payout_id", sa.Text(), nullable=True),
        sa.Column("detail", sa.Text(), nullable=True),
        sa.Column("refunded_minor", sa.BigInteger(), nullable=True),
        sa.Column("covers", sa.ARRAY(sa.Text()), nullable=True),
        sa.Column("more", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column("import_id", sa.Uuid(), nullable=True),
        sa.Column("record", sa.BigInteger(), nullable=True),
        sa.Column("line", sa.BigInteger(), nullable=True),
        sa.Column("ordered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=True),
        sa.Column("match_state", sa.Text(), nullable=False),
        sa.Column("match_reason", sa.Text(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.CheckConstraint("currency ~ '^[A-Z]{3}$'", name=op.f("transaction_currency_code")),
        sa.CheckConstraint(
            "kind in ('payment', 'refund', 'fee', 'payout', 'sale', 'adjustment')",
            name=op.f("transaction_kind"),
        ),
        sa.CheckConstraint(
            "match_state in ('unmatched', 'proposed', 'matched', 'set_aside', 'not_needed')",
            name=op.f("transaction_match_state"),
        ),
        sa.CheckConstraint(
            "method in ('card', 'cash', 'online', 'transfer', 'other')",
            name=op.f("transaction_method"),
        ),
        sa.CheckConstraint("occurrence > 0", name=op.f("transaction_occurrence_positive")),
        sa.CheckConstraint("quantity > 0", name=op.f("transaction_quantity_positive")),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("transaction_shop_id_channel_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("transaction_shop_id_event_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "import_id"],
            ["import.shop_id", "import.id"],
            name=op.f("transaction_shop_id_import_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("transaction_pkey")),
        sa.UniqueConstraint(
            "shop_id",
            "channel_id",
            "row_key",
            "occurrence",
            name=op.f("transaction_shop_id_channel_id_row_key_occurrence_key"),
        ),
    )
    op.create_index(
        "transaction_of_event_ix",
        "transaction",
        ["shop_id", "event_id", "ordered_at", "id"],
        unique=False,
        postgresql_where=sa.text("event_id is not null"),
    )
    op.create_index(
        "transaction_open_ix",
        "transaction",
        ["shop_id", "match_state", "ordered_at", "id"],
        unique=False,
        postgresql_where=sa.text("match_state <> 'matched' and match_state <> 'not_needed'"),
    )
    op.create_index(
        op.f("transaction_shop_id_channel_id_ordered_at_id_ix"),
        "transaction",
        ["shop_id", "channel_id", "ordered_at", "id"],
        unique=False,
    )
    op.create_index(
        op.f("transaction_shop_id_import_id_ix"),
        "transaction",
        ["shop_id", "import_id"],
        unique=False,
    )
    op.create_index(
        op.f("transaction_shop_id_ordered_at_id_ix"),
        "transaction",
        ["shop_id", "ordered_at", "id"],
        unique=False,
    )
    op.create_table(
        "conflict",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=True),
        sa.Column("transaction_id", sa.Uuid(), nullable=True),
        sa.Column("event_id", sa.Uuid(), nullable=True),
        sa.Column("detail", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), server_default=sa.text("'open'"), nullable=False),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("settled_by", sa.Text(), nullable=True),
        sa.CheckConstraint("state in ('open', 'settled')", name=op.f("conflict_state")),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("conflict_shop_id_event_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("conflict_shop_id_item_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "transaction_id"],
            ["transaction.shop_id", "transaction.id"],
            name=op.f("conflict_shop_id_transaction_id_fkey"),
        ),
        sa.ForeignKeyConstraint(["shop_id"], ["shop.shop_id"], name=op.f("conflict_shop_id_fkey")),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("conflict_pkey")),
    )
    op.create_index(
        "conflict_open_ix",
        "conflict",
        ["shop_id", "created_at", "id"],
        unique=False,
        postgresql_where=sa.text("state = 'open'"),
    )
    op.create_table(
        "ruling",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("transaction_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("item_ids", sa.ARRAY(sa.Uuid()), server_default=sa.text("'{}'"), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=True),
        sa.Column("related_transaction_id", sa.Uuid(), nullable=True),
        sa.Column("is_income", sa.Boolean(), server_default=sa.text("true"), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("said_by", sa.Text(), nullable=False),
        sa.Column(
            "said_at", sa.DateTime(timezone=True), server_default=sa.text("now()"), nullable=False
        ),
        sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "kind in ('confirmed', 'refused', 'set_aside', 'no_piece', 'count', "
            "'part_of_sale', 'apart')",
            name=op.f("ruling_kind"),
        ),
        sa.CheckConstraint(
            "(kind in ('part_of_sale', 'apart')) = (related_transaction_id is not null)",
            name=op.f("ruling_part_names_its_sale"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "transaction_id"],
            ["transaction.shop_id", "transaction.id"],
            name=op.f("ruling_shop_id_transaction_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("ruling_pkey")),
    )
    op.create_index(
        op.f("ruling_shop_id_transaction_id_said_at_ix"),
        "ruling",
        ["shop_id", "transaction_id", "said_at"],
        unique=False,
    )
    op.create_table(
        "sale",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("event_id", sa.Uuid(), nullable=True),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.Column("method", sa.Text(), nullable=True),
        sa.Column("total_minor", sa.BigInteger(), nullable=False),
        sa.Column("tax_minor", sa.BigInteger(), nullable=True),
        sa.Column("tax_added", sa.Boolean(), server_default=sa.text("false"), nullable=False),
        sa.Column(
            "taxes",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'[]'"),
            nullable=False,
        ),
        sa.Column(
            "cash_rounding_minor", sa.BigInteger(), server_default=sa.text("0"), nullable=False
        ),
        sa.Column("sold_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("sold_on", sa.Date(), nullable=False),
        sa.Column("state", sa.Text(), server_default=sa.text("'done'"), nullable=False),
        sa.Column("transaction_id", sa.Uuid(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.CheckConstraint(
            "method in ('card', 'cash', 'online', 'transfer', 'other')", name=op.f("sale_method")
        ),
        sa.CheckConstraint("origin in ('stall', 'typed', 'match')", name=op.f("sale_origin")),
        sa.CheckConstraint("state in ('done', 'void')", name=op.f("sale_state")),
        sa.ForeignKeyConstraint(
            ["shop_id", "channel_id"],
            ["channel.shop_id", "channel.id"],
            name=op.f("sale_shop_id_channel_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "event_id"],
            ["event.shop_id", "event.id"],
            name=op.f("sale_shop_id_event_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "transaction_id"],
            ["transaction.shop_id", "transaction.id"],
            name=op.f("sale_shop_id_transaction_id_fkey"),
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("sale_pkey")),
    )
    op.create_index(
        "sale_of_transaction_key",
        "sale",
        ["shop_id", "transaction_id"],
        unique=True,
        postgresql_where=sa.text("transaction_id is not null and state = 'done'"),
    )
    op.create_index(op.f("sale_shop_id_event_id_ix"), "sale", ["shop_id", "event_id"], unique=False)
    op.create_index(
        op.f("sale_shop_id_sold_on_id_ix"), "sale", ["shop_id", "sold_on", "id"], unique=False
    )
    op.create_table(
        "transaction_version",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("transaction_id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("content_key", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("amount_minor", sa.BigInteger(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("occurred_on", sa.Date(), nullable=False),
        sa.Column("occurred_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("external_id", sa.Text(), nullable=True),
        sa.Column("method", sa.Text(), nullable=True),
        sa.Column("fee_minor", sa.BigInteger(), nullable=True),
        sa.Column("tip_minor", sa.BigInteger(), nullable=True),
        sa.Column("tax_minor", sa.BigInteger(), nullable=True),
        sa.Column("surcharge_minor", sa.BigInteger(), nullable=True),
        sa.Column("postage_minor", sa.BigInteger(), nullable=True),
        sa.Column("postage_cost_minor", sa.BigInteger(), nullable=True),
        sa.Column("reference", sa.Text(), nullable=True),
        sa.Column("tag_code", sa.Text(), nullable=True),
        sa.Column("title", sa.Text(), nullable=True),
        sa.Column("quantity", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("related_id", sa.Text(), nullable=True),
        sa.Column("payout_id", sa.Text(), nullable=True),
        sa.Column("detail", sa.Text(), nullable=True),
        sa.Column("refunded_minor", sa.BigInteger(), nullable=True),
        sa.Column("covers", sa.ARRAY(sa.Text()), nullable=True),
        sa.Column("more", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column("import_id", sa.Uuid(), nullable=True),
        sa.Column("record", sa.BigInteger(), nullable=True),
        sa.Column("line", sa.BigInteger(), nullable=True),
        sa.Column(
            "replaced_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.Column("replaced_by_import_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(
            ["shop_id", "transaction_id"],
            ["transaction.shop_id", "transaction.id"],
            name=op.f("transaction_version_shop_id_transaction_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint(
            "shop_id", "transaction_id", "version", name=op.f("transaction_version_pkey")
        ),
    )
    op.create_index(
        op.f("transaction_version_shop_id_replaced_by_import_id_ix"),
        "transaction_version",
        ["shop_id", "replaced_by_import_id"],
        unique=False,
    )
    op.create_table(
        "match",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("transaction_id", sa.Uuid(), nullable=False),
        sa.Column("reconciliation_id", sa.Uuid(), nullable=True),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("explanation", sa.Text(), server_default=sa.text("'pieces'"), nullable=False),
        sa.Column("rank", sa.Integer(), nullable=False),
        sa.Column("probability", sa.Double(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column(
            "evidence",
            postgresql.JSONB(astext_type=Text()),
            server_default=sa.text("'[]'"),
            nullable=False,
        ),
        sa.Column("piece_group", postgresql.JSONB(astext_type=Text()), nullable=True),
        sa.Column("sale_id", sa.Uuid(), nullable=True),
        sa.Column("related_transaction_id", sa.Uuid(), nullable=True),
        sa.Column("decided_by", sa.Text(), nullable=True),
        sa.Column(
            "created_at",
            sa.DateTime(timezone=True),
            server_default=sa.text("now()"),
            nullable=False,
        ),
        sa.CheckConstraint("state in ('matched', 'proposed')", name=op.f("match_state")),
        sa.CheckConstraint(
            "probability >= 0 and probability <= 1", name=op.f("match_probability_range")
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "reconciliation_id"],
            ["reconciliation.shop_id", "reconciliation.id"],
            name=op.f("match_shop_id_reconciliation_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "sale_id"],
            ["sale.shop_id", "sale.id"],
            name=op.f("match_shop_id_sale_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "transaction_id"],
            ["transaction.shop_id", "transaction.id"],
            name=op.f("match_shop_id_transaction_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "id", name=op.f("match_pkey")),
    )
    op.create_index(
        "match_one_matched_key",
        "match",
        ["shop_id", "transaction_id"],
        unique=True,
        postgresql_where=sa.text("state = 'matched'"),
    )
    op.create_index(
        op.f("match_shop_id_transaction_id_rank_ix"),
        "match",
        ["shop_id", "transaction_id", "rank"],
        unique=False,
    )
    op.create_index(
        "match_of_sale_ix",
        "match",
        ["shop_id", "sale_id"],
        unique=False,
        postgresql_where=sa.text("sale_id is not null"),
    )
    op.create_table(
        "sale_line",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("sale_id", sa.Uuid(), nullable=False),
        sa.Column("line_no", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=True),
        sa.Column("title", sa.Text(), nullable=True),
        sa.Column("quantity", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=False),
        sa.Column("cost_minor", sa.BigInteger(), nullable=True),
        sa.Column("tax_minor", sa.BigInteger(), nullable=True),
        sa.Column("state", sa.Text(), server_default=sa.text("'sold'"), nullable=False),
        sa.CheckConstraint("state in ('sold', 'returned')", name=op.f("sale_line_state")),
        sa.CheckConstraint("quantity > 0", name=op.f("sale_line_quantity_positive")),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("sale_line_shop_id_item_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "sale_id"],
            ["sale.shop_id", "sale.id"],
            name=op.f("sale_line_shop_id_sale_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "sale_id", "line_no", name=op.f("sale_line_pkey")),
    )
    op.create_index(
        op.f("sale_line_shop_id_item_id_ix"), "sale_line", ["shop_id", "item_id"], unique=False
    )
    op.create_table(
        "match_item",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("match_id", sa.Uuid(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("quantity", sa.Integer(), server_default=sa.text("1"), nullable=False),
        sa.Column("price_minor", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("match_item_quantity_positive")),
        sa.ForeignKeyConstraint(
            ["shop_id", "item_id"],
            ["item.shop_id", "item.id"],
            name=op.f("match_item_shop_id_item_id_fkey"),
        ),
        sa.ForeignKeyConstraint(
            ["shop_id", "match_id"],
            ["match.shop_id", "match.id"],
            name=op.f("match_item_shop_id_match_id_fkey"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("shop_id", "match_id", "item_id", name=op.f("match_item_pkey")),
    )
    op.create_index(
        op.f("match_item_shop_id_item_id_ix"), "match_item", ["shop_id", "item_id"], unique=False
    )
    op.create_table(
        "match_news",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("id", sa.Uuid(), server_default=sa.text("gen_random_uuid()"), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("subject", sa.Uuid(), nullable=True),
        sa.Column("term", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "kind in ('all', 'import', 'line', 'item', 'term')", name=op.f("match_news_kind")
        ),
        sa.PrimaryKeyConstraint("shop_id", "channel_id", "id", name=op.f("match_news_pkey")),
    )
    op.create_table(
        "match_line",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("transaction_id", sa.Uuid(), nullable=False),
        sa.Column("terms", sa.ARRAY(sa.BigInteger()), nullable=False),
        sa.PrimaryKeyConstraint(
            "shop_id", "channel_id", "transaction_id", name=op.f("match_line_pkey")
        ),
    )
    op.create_table(
        "match_term",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("term", sa.BigInteger(), nullable=False),
        sa.Column("transaction_id", sa.Uuid(), nullable=False),
        sa.PrimaryKeyConstraint("shop_id", "term", "transaction_id", name=op.f("match_term_pkey")),
    )
    op.create_table(
        "stock_piece",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("terms", sa.ARRAY(sa.BigInteger()), nullable=False),
        sa.PrimaryKeyConstraint("shop_id", "channel_id", "item_id", name=op.f("stock_piece_pkey")),
    )
    op.create_table(
        "stock_term",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("term", sa.BigInteger(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.PrimaryKeyConstraint("shop_id", "term", "item_id", name=op.f("stock_term_pkey")),
    )
    op.create_table(
        "stock_count",
        sa.Column("shop_id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("term", sa.BigInteger(), nullable=False),
        sa.Column("items_then", sa.BigInteger(), nullable=False),
        sa.Column("items_now", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("shop_id", "channel_id", "term", name=op.f("stock_count_pkey")),
    )
    op.execute(AVERAGE_COSTS)
    op.execute(COUNT_SOLD)
    op.execute(COUNT_CHANGED)
    for statement in COUNT_SOLD_TRIGGERS:
        op.execute(statement)
    for statement in NEWS:
        op.execute(statement)
    for table in TABLES:
        op.execute(f'alter table "{table}" enable row level security')
        op.execute(f'alter table "{table}" force row level security')
        op.execute(WALL.format(table=f'"{table}"'))


def downgrade() -> None:
    """Remove everything."""
    for table in reversed(TABLES):
        op.drop_table(table)
    op.execute("drop function count_sold()")
    op.execute("drop function count_changed()")
    op.execute("drop function average_costs(uuid, uuid)")
    for name in NEWS_FUNCTIONS:
        op.execute(f"drop function news_of_{name}()")
