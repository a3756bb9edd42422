"""The same export through data-frame libraries, without any of our checks; run by service_ways.

Needs an interpreter with pandas, polars, sqlalchemy, psycopg and adbc-driver-postgresql. Prints
the seconds from reading the file to the commit.
"""

# mypy: ignore-errors

from __future__ import annotations

import sys
import time
import uuid

ZONE = "Europe/Berlin"


def with_pandas(url: str, export: str, shop_id: uuid.UUID, channel_id: uuid.UUID) -> float:
    """`read_csv` and `to_sql` as they come, into the same table."""
    import pandas as pd  # noqa: PLC0415
    from sqlalchemy import Uuid, create_engine  # noqa: PLC0415

    engine = create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.connect():
        pass
    begun = time.perf_counter()
    frame = pd.read_csv(export)
    local = pd.to_datetime(frame["Date"] + " " + frame["Time"])
    moments = local.dt.tz_localize(ZONE, ambiguous=True, nonexistent="shift_forward")
    ids = [uuid.uuid4() for _ in range(len(frame))]
    amounts = (frame["Amount"] * 100).round().astype("int64")
    pd.DataFrame(
        {
            "shop_id": shop_id,
            "id": ids,
            "channel_id": channel_id,
            "row_key": frame["Transaction ID"],
            "content_key": ids,
            "kind": (amounts < 0).map({True: "refund", False: "payment"}),
            "amount_minor": amounts,
            "currency": frame["Currency"],
            "occurred_on": local.dt.date,
            "occurred_at": moments,
            "external_id": frame["Transaction ID"],
            "method": "card",
            "fee_minor": (frame["Fee"] * 100).round().astype("int64"),
            "note": frame["Note"],
            "ordered_at": moments,
            "match_state": "unmatched",
        }
    ).to_sql(
        "transaction",
        engine,
        if_exists="append",
        index=False,
        chunksize=10_000,
        dtype=dict.fromkeys(("shop_id", "id", "channel_id", "content_key"), Uuid()),
    )
    return time.perf_counter() - begun


def with_polars(url: str, export: str, shop_id: uuid.UUID, channel_id: uuid.UUID) -> float:
    """`read_csv` and `write_database` by its fastest engine, which speaks COPY."""
    import polars as pl  # noqa: PLC0415

    begun = time.perf_counter()
    frame = pl.read_csv(export)
    local = (pl.col("Date") + " " + pl.col("Time")).str.to_datetime("%Y-%m-%d %H:%M:%S")
    moment = local.dt.replace_time_zone(ZONE, ambiguous="earliest", non_existent="null")
    ids = pl.Series([uuid.uuid4().bytes for _ in range(len(frame))], dtype=pl.Binary)
    amount = (pl.col("Amount") * 100).round().cast(pl.Int64)
    rows = frame.select(
        shop_id=pl.lit(shop_id.bytes, pl.Binary),
        id=ids,
        channel_id=pl.lit(channel_id.bytes, pl.Binary),
        row_key=pl.col("Transaction ID"),
        content_key=ids,
        kind=pl.when(amount < 0).then(pl.lit("refund")).otherwise(pl.lit("payment")),
        amount_minor=amount,
        currency=pl.col("Currency"),
        occurred_on=local.dt.date(),
        occurred_at=moment,
        external_id=pl.col("Transaction ID"),
        method=pl.lit("card"),
        fee_minor=(pl.col("Fee") * 100).round().cast(pl.Int64),
        note=pl.col("Note"),
        ordered_at=moment,
        match_state=pl.lit("unmatched"),
    )
    rows = rows.with_columns(pl.col("ordered_at", "occurred_at").fill_null(strategy="forward"))
    rows.write_database("transaction", url, if_table_exists="append", engine="adbc")
    return time.perf_counter() - begun


if __name__ == "__main__":
    name, url, export, shop_id, channel_id = sys.argv[1:]
    way = {"pandas": with_pandas, "polars": with_polars}[name]
    print(way(url, export, uuid.UUID(shop_id), uuid.UUID(channel_id)))  # noqa: T201
