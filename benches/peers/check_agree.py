#!/usr/bin/env python3
"""check_agree.py AUDIT PEER: the numbers of an audit with the peers' tests against those of a peer.

Every aligned value (4e-6 K: both keep them in single precision) and the metrics of each room (1e-6; degree-hours 1e-6 K
of each hour they rest on, because the peers sum values before they are cut to single precision). One definition
cannot be set alike: the audit asks for a spike only where both neighbours are within 2.5 intervals, the peers where they
are within 30 min of each other. So a few readings beside lost ones may differ: at most one aligned value in 10,000 may be on
one side only, and the metrics are compared of the rooms whose values are the same.
"""
import sys
import polars as pl

METRICS = {"mean": "mean", "hours_below_band": "h_below20", "hours_above_band": "h_above25",
           "degree_hours_below": "dh_below20", "degree_hours_above": "dh_above25"}
audit, peer = sys.argv[1:3]
bad = 0

words = pl.col("home", "room").cast(pl.String)
ours = (pl.scan_parquet(f"{audit}/aligned.parquet")
        .select(words, pl.col("time_utc").dt.replace_time_zone(None).cast(pl.Datetime("ms")).alias("time"), "temperature_degc").collect())
theirs = pl.scan_parquet(f"{peer}/aligned/*.parquet").select(words, pl.col("time").cast(pl.Datetime("ms")), "temp_c").collect()
both = ours.join(theirs, on=["home", "room", "time"], how="full", coalesce=True)
apart = both.filter(pl.col("temperature_degc").is_null() | pl.col("temp_c").is_null() | ((pl.col("temperature_degc") - pl.col("temp_c")).abs() > 4e-6))
limit = len(both) // 10_000
print(f"aligned: {len(both)} values, {len(apart)} differ, {limit} may")
bad += len(apart) > limit
strange = apart.select("home", "room").unique()

wide = (pl.read_csv(f"{audit}/metrics.csv", infer_schema_length=None)
        .filter(pl.col("slice") == "all", pl.col("room").is_not_null(), pl.col("metric").is_in(list(METRICS)))
        .pivot(on="metric", index=["home", "room"], values="value"))
rooms = pl.read_csv(f"{peer}/metrics_room.csv").join(wide, on=["home", "room"], suffix="_ours")
same = rooms.join(strange, on=["home", "room"], how="anti")
print(f"rooms: {len(rooms)}, of which {len(same)} with the same values at all instants")
bad += len(same) < len(rooms) * 0.8
for name, column in METRICS.items():
    mine = same["mean_ours"] if name == "mean" else same[name]
    hours = same["h" + column.removeprefix("dh")].clip(1) if column.startswith("dh_") else 1
    error = ((mine - same[column]).abs() / hours).max()
    bad += error > 1e-6
    print(f"{name:20s} max |difference| {error:.2e}", "" if error <= 1e-6 else "  <-- DIFFERS")
sys.exit(bool(bad))
