"""Files taken in, the rows they could not take, and how files of a layout are read."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, LargeBinary

from stallkeep.store.tables.columns import (
    bigint,
    column,
    index,
    json,
    moment,
    of_shop,
    one_of,
    primary_key,
    refers_to,
    string,
    table,
    uuid,
)

import_ = table(
    "import",
    uuid("id"),
    string("importer"),
    uuid("channel_id", null=True),
    uuid("event_id", null=True),
    string("file_name"),
    column("file_sha256", LargeBinary(), null=True),
    bigint("file_bytes", default="0"),
    string("state"),
    json("options", default="'{}'"),
    json("layout", null=True),
    json("notices", default="'[]'"),
    json("skips", default="'{}'"),
    json("problem", null=True),
    bigint("rows_read", default="0"),
    bigint("taken", default="0"),
    bigint("changed", default="0"),
    bigint("known", default="0"),
    bigint("rejected", default="0"),
    bigint("skipped", default="0"),
    bigint("bytes_read", default="0"),
    moment("started_at", default="now()"),
    moment("finished_at", null=True),
    primary_key("id"),
    of_shop(),
    refers_to("channel", "channel_id"),
    refers_to("event", "event_id"),
    one_of("state", ("running", "done", "failed", "undone")),
    CheckConstraint(
        "state <> 'done' or rows_read = taken + known + rejected + skipped", name="counts_add_up"
    ),
    CheckConstraint("changed <= taken", name="changed_are_taken"),
    index("started_at", "id"),
)

# A table of its own: each row taken in looks its import up (a foreign key), past all versions of
# that row, and none of them can be cleared away before the import's transaction has ended.
import_progress = table(
    "import_progress",
    uuid("import_id"),
    bigint("rows_read"),
    bigint("bytes_read"),
    primary_key("import_id"),
    refers_to("import", "import_id", cascade=True),
)

reject = table(
    "reject",
    uuid("import_id"),
    bigint("record"),
    bigint("line"),
    string("code"),
    string("column_name", null=True),
    string("value", null=True),
    string("reason"),
    string("advice"),
    json("cells"),
    string("state", default="'open'"),
    primary_key("import_id", "record"),
    refers_to("import", "import_id", cascade=True),
    one_of("state", ("open", "taken", "dismissed")),
)

column_map = table(
    "column_map",
    string("importer"),
    string("fingerprint"),
    json("options"),
    json("headers"),
    uuid("channel_id", null=True),
    string("confirmed_by"),
    moment("confirmed_at", default="now()"),
    primary_key("importer", "fingerprint"),
    of_shop(),
    refers_to("channel", "channel_id"),
)
