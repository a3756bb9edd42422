"""Every table, a file for each subject. ``shop_id`` leads every key and every foreign key.

Money is ``bigint`` in minor units, a state is text with a check, a moment is ``timestamptz``.
Row level security, triggers and grants stand in the migrations; a test holds both together.
"""

from stallkeep.store.tables.channel_memory import (
    match_line,
    match_news,
    match_term,
    stock_count,
    stock_piece,
    stock_term,
)
from stallkeep.store.tables.channels import LISTING_STATES, channel, fee_schedule, listing
from stallkeep.store.tables.columns import metadata
from stallkeep.store.tables.conflicts import conflict
from stallkeep.store.tables.costs import cost, cost_part
from stallkeep.store.tables.events import EVENT_STATES, event, event_day, rail, stub
from stallkeep.store.tables.imports import column_map, import_, import_progress, reject
from stallkeep.store.tables.items import batch, item
from stallkeep.store.tables.kept_answers import kept_answer
from stallkeep.store.tables.matches import match, match_item, reconciliation
from stallkeep.store.tables.rulings import piece_ruling, ruling
from stallkeep.store.tables.sales import sale, sale_line
from stallkeep.store.tables.shops import shop, token
from stallkeep.store.tables.transactions import transaction, transaction_version

__all__ = [
    "EVENT_STATES",
    "LISTING_STATES",
    "batch",
    "channel",
    "column_map",
    "conflict",
    "cost",
    "cost_part",
    "event",
    "event_day",
    "fee_schedule",
    "import_",
    "import_progress",
    "item",
    "kept_answer",
    "listing",
    "match",
    "match_item",
    "match_line",
    "match_news",
    "match_term",
    "metadata",
    "piece_ruling",
    "rail",
    "reconciliation",
    "reject",
    "ruling",
    "sale",
    "sale_line",
    "shop",
    "stock_count",
    "stock_piece",
    "stock_term",
    "stub",
    "token",
    "transaction",
    "transaction_version",
]
