"""Recompute evenrooms' tables with pandas and numpy and compare.

    python metrics_check.py OUT_DIR --band-lower 20 --band-upper 24 --time-zone America/Chicago
    python metrics_check.py OUT_DIR --raw wide.csv --raw-time date --raw-clock +01:00 --raw-columns T1:kitchen --home H1 ...
    python metrics_check.py --self-test

Checked against METRICS.md: section 3 (rows balance), 4 (alignment from readings.parquet), 5 (room metrics),
6 (spread, shares, offset; values only). Limits and bands in degC. Without --roster every accuracy is 0.5 K, placements
have no dates, and offset_from_reference is not judged (nothing else says which rooms are heated).
Co-location offsets are not applied: where loggers.csv has one, aligned values differ by it.
With --raw only the metrics of the raw export are compared, computed in f64 and without any quality test.
Exit code 1 when something differs or nothing could be compared.
"""

import argparse
import io
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from definitions import (
    CATEGORIES, DEFAULT_U_K, DRIFT_MIN, HOUR_MS, LIVED_IN, Home, Settings, align, comfort, home_metrics, room_metrics, trail,
)  # fmt: skip
from ledger import Ledger

PERIOD = "whole record"
SLICES = ("all", "day", "night")
BAND = ["hours_below_band", "hours_above_band", "hours_outside_band", "degree_hours_below", "degree_hours_above"]
SPREAD = ["spread_median", "spread_p95", "spread_maximum"]
STATISTICS = ["mean", "minimum", "maximum", "p05", "median", "p95", "standard_deviation"]
FAMILIES = [
    "coverage", *STATISTICS, "mean_daily_range", *BAND, "share_outside_band",
    "longest_below_band", "longest_above_band", "excursions_below", "excursions_above",
    *(f"max_change_{name}" for name in DRIFT_MIN), "hours_over_drift_limit",
    *SPREAD, "hours_spread_over_limit", "share_spread_over_limit", "spread_noise_floor",
    "share_coldest", "share_warmest", "offset_from_reference",
]  # fmt: skip
COMFORT = [*(f"share_category_{n}" for n in CATEGORIES), "share_outside_winter_range", "degree_hours_outside_winter_range"]
RAW_FAMILIES = [*STATISTICS, *BAND, "hours_over_drift_limit", *SPREAD, "hours_spread_over_limit"]
TEXT = ("home", "room", "logger", "period", "slice", "metric", "column", "heated", "from", "to")


# --- the tables ---


def tidy(frame):
    """Text columns without nulls, times as ms since the epoch."""
    for column in frame.columns.intersection(TEXT):
        frame[column] = frame[column].astype(object).where(frame[column].notna(), "").astype(str)
    if "time_utc" in frame:
        frame["time_utc"] = frame["time_utc"].astype("datetime64[ms, UTC]").astype("int64")
    return frame


def table(out, name):
    return tidy(pd.read_parquet(out / f"{name}.parquet"))


def csv_table(path, comments=False):
    lines = path.read_text(encoding="utf-8-sig").splitlines(keepends=True)
    text = "".join(line for line in lines if not (comments and line.startswith("#")))
    return tidy(pd.read_csv(io.StringIO(text), dtype={column: str for column in TEXT}, keep_default_na=False, na_values=[""]))


class Site:
    """Rooms of each home, accuracy, placements and heating, from loggers.csv and (when given) the roster."""

    def __init__(self, places, roster, zone):
        self.rooms, self.u, self.spans, self.lags, self.heated = {}, {}, {}, {}, None
        self.apart, self.lived_in = set(), set()
        for home, room in places:
            if room:
                self.rooms.setdefault(home, {})[room] = None
        if roster is None:
            return
        self.heated = set()
        for row in roster.to_dict("records"):
            key = (row["home"], row["room"])
            self.rooms.setdefault(key[0], {})[key[1]] = None
            u = pd.to_numeric(row.get("accuracy_k"))
            self.u[key] = max(self.u.get(key, 0.0), DEFAULT_U_K if pd.isna(u) else float(u))
            self.spans.setdefault(key, []).append([self._ms(row.get(edge, ""), zone) for edge in ("from", "to")])
            self.lags.setdefault(key, []).append(pd.to_numeric(row.get("time_constant_min", "") or np.nan))
            if row.get("heated", "").strip().lower() in ("true", "yes", "y", "1"):
                self.heated.add(key)
                if row.get("use", "").strip().lower() in LIVED_IN:
                    self.lived_in.add(key)

    def told(self, metrics):
        """Which records do not stand, and which rooms have no reference, as the metrics say: (home, room, slice)."""
        if self.heated is None:
            return
        key = lambda rows: set(zip(rows.home, rows.room))
        self.heated -= key(metrics[(metrics.metric == "in_reference") & (metrics.value == 0)])
        apart = metrics[metrics.metric == "reference_apart"]
        self.apart = set(zip(apart.home, apart.room, apart.slice))

    def trail(self, home, key):
        """How far the air may lie from each value; nothing unless every logger of the room has its time constant stated."""
        lags = np.array(self.lags.get(key, []), float)
        if not len(lags) or np.isnan(lags).any():
            return None
        first, after = home.t[0], home.t[-1] + 1
        spans = [(first if start is None else start, after if end is None else end) for start, end in self.spans[key]]
        # Two downloads of one placement are two rows of the roster.
        return trail(home, key[1], dict.fromkeys((*span, lag) for span, lag in zip(spans, lags)))

    @staticmethod
    def _ms(text, zone):
        if not text:
            return None
        return pd.Timestamp(text).tz_localize(zone, ambiguous=True, nonexistent="shift_forward").value // 1_000_000

    def placed(self, key, t):
        """Instants inside any placement of the room: half-open [from, to), open where the roster has no date."""
        inside = np.zeros(len(t), bool)
        for start, end in self.spans.get(key, [(None, None)]):
            inside |= (t >= (t[0] if start is None else start)) & (t < (t[-1] + 1 if end is None else end))
        return inside


# --- sections 3 and 4 ---


def check_balance(ledger, loggers, readings):
    seen, kept = loggers.rows_seen.to_numpy(), loggers.rows_kept.to_numpy()
    names = (loggers.home + "/" + loggers.room + "/" + loggers.logger).tolist()
    ledger.compare("rows balance", seen, kept + loggers.rows_set_aside.to_numpy(), 0, lambda i: names[i])
    keys = ["home", "room", "logger"]
    # The weather series has no home: its rows balance above, its readings are in no table of rooms.
    want = loggers[loggers.home != ""].groupby(keys).rows_kept.sum()
    want = want[want > 0]
    got = readings.groupby(keys).size()
    both = want.index.union(got.index)
    got, want = got.reindex(both, fill_value=0), want.reindex(both, fill_value=0)
    ledger.compare("readings kept", got, want, 0, lambda i: "/".join(both[i]))


def realign(ledger, readings, loggers, step_ms, least_gap_ms):
    """{(home, room): (t, low, high)}; low and high differ only where two loggers of a room have the same instant."""
    interval = loggers.groupby(["home", "room", "logger"]).interval_s.max()
    pieces = {}
    for key, rows in readings.groupby(["home", "room", "logger"], sort=False):
        t = rows.time_utc.to_numpy()
        if (np.diff(t) <= 0).any():
            ledger.difference("readings rise", f"{'/'.join(key)}: times are not strictly rising")
            rows = rows.sort_values("time_utc").drop_duplicates("time_utc")
        rows = rows[rows.flag.isin([1, 2]) & rows.temperature_degc.notna()]
        gap = np.nanmax([least_gap_ms, 2.5 * 1000 * interval.get(key, np.nan)])
        grid, x = align(rows.time_utc.to_numpy(), rows.temperature_degc.to_numpy(dtype=float), step_ms, gap)
        pieces.setdefault(key[:2], []).append(pd.DataFrame({"t": grid, "x": x}))
    rooms = {}
    for key, frames in pieces.items():
        merged = pd.concat(frames).groupby("t").x.agg(["min", "max", "size"])
        ledger.allow("instants with two loggers in one room, any value between theirs taken", (merged["size"] > 1).sum())
        rooms[key] = (merged.index.to_numpy(dtype="int64"), merged["min"].to_numpy(), merged["max"].to_numpy())
    return rooms


def rooms_of(aligned):
    groups = aligned.groupby(["home", "room"], sort=False)
    return {key: (rows.time_utc.to_numpy(), rows.temperature_degc.to_numpy(dtype=float)) for key, rows in groups}


def check_alignment(ledger, want, aligned):
    got = rooms_of(aligned)
    nothing = np.array([], dtype="int64"), np.array([]), np.array([])
    for key in sorted(want.keys() | got.keys()):
        t, low, high = want.get(key, nothing)
        got_t, got_x = got.get(key, nothing[:2])
        if len(np.unique(got_t)) != len(got_t) or np.isnan(got_x).any():
            ledger.difference("aligned values", f"{'/'.join(key)}: repeated instants or missing values as rows")
            continue
        for name, extra in (("only in evenrooms", np.setdiff1d(got_t, t)), ("only in the reference", np.setdiff1d(t, got_t))):
            if len(extra):
                ledger.difference("aligned instants", f"{'/'.join(key)}: {len(extra)} {name}, first {pd.Timestamp(extra[0], unit='ms')}")
        ledger.compare("aligned instants", len(got_t), len(t), 0, lambda i: "/".join(key))
        both, i, j = np.intersect1d(t, got_t, return_indices=True)
        nearest = np.clip(got_x[j], low[i], high[i])
        tolerance = np.maximum(4e-6, 1.05 * np.spacing(np.abs(nearest).astype("float32")))
        ledger.compare("aligned values", got_x[j], nearest, tolerance, lambda n: f"{'/'.join(key)} {pd.Timestamp(both[n], unit='ms')}")


# --- sections 5 and 6 ---


def expected(series, site, settings):
    """{(home, room, slice, metric): parts} and {(home, room, slice): hours observed} for every home with data."""
    found, observed = {}, {}
    for home_id in sorted({home for home, _ in series} | site.rooms.keys()):
        rooms = list(dict.fromkeys([*site.rooms.get(home_id, {}), *(r for h, r in series if h == home_id)]))
        of_home = {r: series[home_id, r] for r in rooms if (home_id, r) in series}
        if not any(len(t) for t, _ in of_home.values()):
            continue
        home = Home(of_home, settings)
        home.x |= {r: np.full(len(home.t), np.nan) for r in rooms if r not in home.x}
        u = {r: site.u.get((home_id, r), DEFAULT_U_K) for r in rooms}
        heated = None if site.heated is None else {r for r in rooms if (home_id, r) in site.heated}
        for slice_name in SLICES:
            for room in rooms:
                trails = site.trail(home, (home_id, room))
                present = home.slices[slice_name] & ~np.isnan(home.x[room])
                observed[home_id, room, slice_name] = present.sum() * settings.step_ms / HOUR_MS
                placed = site.placed((home_id, room), home.t)
                for metric, parts in room_metrics(home, room, slice_name, u[room], placed, trails).items():
                    found[home_id, room, slice_name, metric] = parts
            apart = {r for r in rooms if (home_id, r, slice_name) in site.apart}
            for room in rooms if slice_name == "all" else []:
                if (home_id, room) in site.lived_in:
                    for metric, parts in comfort(home, room, u[room]).items():
                        found[home_id, room, slice_name, metric] = parts
            for (room, metric), parts in home_metrics(home, slice_name, rooms, u, heated, apart).items():
                found[home_id, room, slice_name, metric] = parts
    return found, observed


def check_metrics(ledger, metrics, found, observed, families, rel, floor):
    """Compare every family; a metric absent on one side only is a difference."""
    rows = metrics[(metrics.period == PERIOD) & metrics.slice.isin(SLICES) & metrics.metric.isin(families) & metrics.value.notna()]
    rows = rows[rows.home != ""]
    keys = ["home", "room", "slice", "metric"]
    for key in rows[rows.duplicated(keys)][keys].itertuples(index=False):
        ledger.difference(key.metric, f"{name(key)}: more than one row")
    got = {tuple(row[k] for k in keys): row for row in rows.to_dict("records")}
    slices = {(key[0], key[2]) for key in got}
    for key in sorted(got.keys() | found.keys(), key=lambda k: (families.index(k[3]) if k[3] in families else -1, k)):
        family, parts = key[3], found.get(key)
        if family not in families or (key[1] == "" and (key[0], key[2]) not in slices):
            continue
        if parts is None or key not in got:
            side = ("evenrooms", got[key]["value"]) if parts is None else ("the reference", parts["value"][0])
            ledger.difference(family, f"{name(key)}: only {side[0]} has it ({side[1]!r})")
            continue
        for part, (want, slack) in parts.items():
            value = got[key][part]
            value = np.nan if value is None else value
            ledger.compare(family, value, want, slack + floor + rel * abs(want), lambda i: f"{name(key)} {part}")
        if family == "mean":
            ledger.compare("hours_observed", got[key]["hours_observed"], observed[key[:3]], 1e-9, lambda i: name(key))


def name(key):
    return " ".join(key[:3]) if key[1] else f"{key[0]} {key[2]}"


def raw_series(args, step_ms, least_gap_ms):
    """Aligned rooms straight from a wide export in f64, and whether every value was read at its grid instant."""
    raw = pd.read_csv(args.raw, dtype=str, skipinitialspace=True, keep_default_na=False)
    time = pd.to_datetime(raw[args.raw_time].str.strip()).dt.tz_localize(f"UTC{args.raw_clock}").dt.tz_convert("UTC")
    time = time.dt.as_unit("ms").astype("int64").to_numpy()
    series, exact = {}, True
    for pair in args.raw_columns.split(","):
        column, room = pair.split(":")
        x = np.array([float(cell) if cell.strip() else np.nan for cell in raw[column]])
        frame = pd.DataFrame({"t": time, "x": x}).dropna().drop_duplicates("t").sort_values("t")
        t = frame.t.to_numpy()
        series[args.home, room] = align(t, frame.x.to_numpy(), step_ms, max(least_gap_ms, 2.5 * np.median(np.diff(t))))
        exact &= bool(np.isin(series[args.home, room][0], t).all())
    return series, exact


# --- the command ---


def arguments(argv):
    def window(text):
        return tuple(int(clock[:2]) * 60 + int(clock[3:]) for clock in text.split("-"))

    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("out", nargs="?", type=Path)
    parse.add_argument("--self-test", action="store_true")
    parse.add_argument("--step-min", type=float, default=5)
    parse.add_argument("--max-gap-min", type=float, default=30)
    for limit in ("band-lower", "band-upper", "night-lower", "night-upper", "setback-target"):
        parse.add_argument(f"--{limit}", type=float)
    parse.add_argument("--night", type=window, default=(22 * 60, 6 * 60))
    parse.add_argument("--setback", type=window, help="every day, like 22:00-06:00")
    parse.add_argument("--time-zone", default="UTC")
    parse.add_argument("--units", choices=("C", "F"), default="C")
    parse.add_argument("--spread-limit", type=float, default=2.2)
    parse.add_argument("--roster", type=Path)
    parse.add_argument("--from", dest="source", choices=("aligned", "readings"), default="aligned", help="what the metrics are computed from")
    parse.add_argument("--raw", type=Path)
    parse.add_argument("--raw-time", default="date")
    parse.add_argument("--raw-clock", default="+00:00")
    parse.add_argument("--raw-columns")
    parse.add_argument("--home")
    args = parse.parse_args(argv)
    if (args.setback is None) != (args.setback_target is None):
        parse.error("--setback and --setback-target go together")
    for pair in (("band_lower", "band_upper"), ("night_lower", "night_upper")):
        if (getattr(args, pair[0]) is None) != (getattr(args, pair[1]) is None):
            parse.error(f"{pair[0]} and {pair[1]} go together")
    if args.raw and not (args.raw_columns and args.home):
        parse.error("--raw needs --raw-columns and --home")
    if args.out is None and not args.self_test:
        parse.error("OUT_DIR is missing")
    return args


def settings_of(args, eps):
    def pair(lower, upper):
        return None if lower is None else (lower, upper)

    return Settings(
        step_ms=round(args.step_min * 60_000), zone=args.time_zone, night=args.night,
        band=pair(args.band_lower, args.band_upper), night_band=pair(args.night_lower, args.night_upper),
        setback=args.setback, setback_target=args.setback_target, units=args.units, spread_limit=args.spread_limit, eps=eps,
    )  # fmt: skip


def check(args, ledger):
    step_ms, gap_ms = round(args.step_min * 60_000), args.max_gap_min * 60_000
    metrics = table(args.out, "metrics")
    roster = csv_table(args.roster, comments=True) if args.roster else None
    if args.raw:
        series, exact = raw_series(args, step_ms, gap_ms)
        site = Site(series, roster, args.time_zone)
        found, observed = expected(series, site, settings_of(args, 0.0 if exact else 1e-9))
        check_metrics(ledger, metrics[metrics.home == args.home], found, observed, RAW_FAMILIES, 1e-6, 1e-9)
        return
    readings, aligned, loggers = table(args.out, "readings"), table(args.out, "aligned"), csv_table(args.out / "loggers.csv")
    check_balance(ledger, loggers, readings)
    ours = realign(ledger, readings, loggers, step_ms, gap_ms)
    check_alignment(ledger, ours, aligned)
    if args.source == "readings":
        series = {key: (t, (low + high) / 2) for key, (t, low, high) in ours.items()}
    else:
        series = rooms_of(aligned)
    site = Site([*zip(loggers.home, loggers.room)], roster, args.time_zone)
    site.told(metrics)
    found, observed = expected(series, site, settings_of(args, 1e-5))
    families = [*FAMILIES, *COMFORT]
    if site.heated is None:
        families = [f for f in FAMILIES if f != "offset_from_reference"]
        print("offset_from_reference and comfort: not compared, no --roster says which rooms are heated")
    check_metrics(ledger, metrics, found, observed, families, 1e-6, 5e-6)


def main(argv=None):
    args = arguments(argv)
    if args.self_test:
        import self_test

        return self_test.metrics()
    ledger = Ledger()
    check(args, ledger)
    return ledger.finish()


if __name__ == "__main__":
    sys.exit(main())
