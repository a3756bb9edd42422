"""Which tables a shop takes along when it leaves."""

from __future__ import annotations

from stallkeep.store.tables import metadata

SECRET = {"token"}
MADE_AGAIN = {
    "kept_answer",
    "import_progress",
    "match_line",
    "match_news",
    "match_term",
    "stock_count",
    "stock_piece",
    "stock_term",
}
EXPORTED = metadata.tables.keys() - SECRET - MADE_AGAIN
