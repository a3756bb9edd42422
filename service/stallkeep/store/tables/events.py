"""Markets: their days, what went along, and the stubs kept there."""

from __future__ import annotations

from sqlalchemy import Boolean, CheckConstraint, Time

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
    uuid,
    version,
)

EVENT_STATES = ("planned", "open", "closed")

event = table(
    "event",
    uuid("id"),
    uuid("channel_id"),
    string("name"),
    string("venue", null=True),
    string("pitch", null=True),
    string("kind", null=True),
    day("starts_on"),
    day("ends_on"),
    string("state", default="'planned'"),
    bigint("pitch_fee_minor", default="0"),
    json("own_minutes", default="'{}'"),
    json("learned", null=True),
    string("note", null=True),
    created_at(),
    version(),
    primary_key("id"),
    refers_to("channel", "channel_id"),
    one_of("state", EVENT_STATES),
    CheckConstraint("ends_on >= starts_on", name="ends_after_start"),
    CheckConstraint("pitch_fee_minor >= 0", name="pitch_fee_not_negative"),
    index("starts_on", "id"),
)

event_day = table(
    "event_day",
    uuid("event_id"),
    day("day"),
    column("opens_at", Time(), null=True),
    column("closes_at", Time(), null=True),
    bigint("pitch_fee_minor", default="0"),
    bigint("float_minor", null=True),
    bigint("counted_cash_minor", null=True),
    bigint("taken_out_minor", default="0"),
    column("every_cash_sale_noted", Boolean(), default="false"),
    primary_key("event_id", "day"),
    refers_to("event", "event_id", cascade=True),
    CheckConstraint("closes_at > opens_at", name="closes_after_opening"),
    CheckConstraint("pitch_fee_minor >= 0", name="pitch_fee_not_negative"),
    CheckConstraint("float_minor >= 0", name="float_not_negative"),
    CheckConstraint("counted_cash_minor >= 0", name="counted_cash_not_negative"),
)

rail = table(
    "rail",
    uuid("event_id"),
    uuid("item_id"),
    integer("quantity", default="1"),
    bigint("price_minor", null=True),
    moment("put_out_at", null=True),
    integer("counted_home", null=True),
    primary_key("event_id", "item_id"),
    refers_to("event", "event_id", cascade=True),
    refers_to("item", "item_id"),
    CheckConstraint("quantity > 0", name="quantity_positive"),
    CheckConstraint("counted_home >= 0", name="counted_home_not_negative"),
    CheckConstraint("price_minor >= 0", name="price_not_negative"),
    index("item_id"),
)

stub = table(
    "stub",
    uuid("event_id"),
    day("day"),
    integer("position"),
    string("tag_code"),
    bigint("price_minor", null=True),
    column("ordered", Boolean(), default="true"),
    primary_key("event_id", "day", "position"),
    refers_to("event", "event_id", cascade=True),
)
