"""The shop itself, and the tokens its people come in with."""

from __future__ import annotations

from sqlalchemy import ARRAY, Boolean, CheckConstraint, Double, LargeBinary, Text

from stallkeep.store.tables.columns import (
    bigint,
    column,
    created_at,
    day,
    json,
    moment,
    of_shop,
    one_of,
    primary_key,
    string,
    table,
    uuid,
    version,
)

shop = table(
    "shop",
    string("name"),
    string("currency"),
    string("time_zone"),
    column("languages", ARRAY(Text()), default="'{en}'"),
    column("match_threshold", Double(), default="0.99"),
    string("tax_mode", default="'none'"),
    json("tax_rates", default="'[]'"),
    string("tax_round_per", default="'receipt'"),
    column("tax_parts_apart", Boolean(), default="false"),
    column("reclaims_tax", Boolean(), default="false"),
    day("tax_from", null=True),
    json("tax_before", default="'[]'"),
    bigint("cash_step_minor", null=True),
    json("price_points", null=True),
    created_at(),
    version(),
    primary_key(),
    CheckConstraint("currency ~ '^[A-Z]{3}$'", name="currency_code"),
    CheckConstraint("match_threshold > 0.5 and match_threshold <= 1", name="threshold_range"),
    one_of("tax_mode", ("none", "included", "added")),
    one_of("tax_round_per", ("line", "receipt")),
    CheckConstraint("cash_step_minor > 0", name="cash_step_positive"),
)

token = table(
    "token",
    uuid("id"),
    string("name"),
    string("role"),
    column("secret_sha256", LargeBinary()),
    created_at(),
    moment("revoked_at", null=True),
    primary_key("id"),
    of_shop(),
    one_of("role", ("owner", "helper")),
)
