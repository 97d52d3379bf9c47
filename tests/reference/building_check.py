"""Recompute heat rule, humidity, offsets between homes and the comparison of two periods from the aligned table.

    python building_check.py SITE.toml OUT_DIR [--compared DIR --before NAME --after NAME]

Written from METRICS.md (sections 5, 8, 10) and from the definitions that `evenrooms explain` prints, not from the Rust
code. Settings are read from the site file, placements from the roster. The bootstrap of the comparison is drawn again
with another generator, so its ends agree only roughly. Exit code 1 when something differs or nothing was compared.
"""

import argparse
import sys
import tomllib
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd

from aligned import read
from definitions import LAG_SHARES, trail

STEP = pd.Timedelta(minutes=5)
HOUR = 1 / 12
NOISE_K = 4e-6  # of a difference of two values in single precision
STATES = ("below", "too_close", "met", "no_data", "not_evaluated")


def degc(text):
    number, unit = text.split()
    return (float(number) - 32) * 5 / 9 if unit == "°F" else float(number)


def minutes(text):
    hour, minute = text.split(":")
    return int(hour) * 60 + int(minute)


class Checks:
    def __init__(self):
        self.counts, self.wrong = {}, []

    def same(self, what, where, got, want, tolerance):
        self.counts[what] = self.counts.get(what, 0) + 1
        missing = [x is None or pd.isna(x) for x in (got, want)]
        if missing == [True, True]:
            return
        if any(missing) or not abs(got - want) <= tolerance:
            self.wrong.append(f"{what}, {where}: {got} instead of {want}")

    def finish(self):
        for what, count in sorted(self.counts.items()):
            print(f"{what}: {count} compared")
        for line in self.wrong[:40]:
            print(line)
        print(f"{len(self.wrong)} differ")
        return 1 if self.wrong or not self.counts else 0


class Building:
    """The aligned table and the weather as one wide frame per quantity, on whole local days."""

    def __init__(self, site_path, out):
        self.site = tomllib.loads(Path(site_path).read_text(encoding="utf-8"))
        self.zone = self.site["site"]["time_zone"]
        roster = pd.read_csv(Path(site_path).parent / self.site["site"]["roster"], comment="#", dtype=str, encoding="utf-8")
        roster.columns = [c.lower() for c in roster.columns]
        self.roster = roster.reindex(columns=[*roster.columns, *{"from", "to", "floor", "line"} - set(roster.columns)])
        aligned = read(out / "aligned.parquet")
        for column in ("home", "room"):
            aligned[column] = aligned[column].astype(object).where(aligned[column].notna(), "")
        self.metrics = pd.read_parquet(out / "metrics.parquet")
        for column in ("home", "room", "period", "slice", "metric"):
            self.metrics[column] = self.metrics[column].astype(object).where(self.metrics[column].notna(), "")
        self.homes = list(dict.fromkeys(self.roster.home))
        weather = read(out / "weather.parquet").set_index("time_utc").temperature_degc
        days = pd.concat([aligned.time_utc, weather.index.to_series()]).dt.tz_convert(self.zone).dt.normalize()
        ends = [days.min(), days.max() + pd.DateOffset(days=1)]
        for period in self.site.get("period", []):
            ends += [self.local(period["from"]), self.local(period["to"], end=True)]
        self.index = pd.date_range(min(ends).tz_convert("UTC"), max(ends).tz_convert("UTC"), freq=STEP, inclusive="left")
        wide = {key: g.set_index("time_utc") for key, g in aligned.groupby(["home", "room"], sort=False)}
        self.degc = {key: g.temperature_degc.reindex(self.index).to_numpy() for key, g in wide.items()}
        self.percent = {key: g.relative_humidity_percent.reindex(self.index).to_numpy() for key, g in wide.items()}
        self.suspect = {key: g.flag.reindex(self.index).to_numpy(dtype="float64") == 3 for key, g in wide.items()}
        self.accuracy = {key: g.accuracy_k.iloc[0] for key, g in wide.items()}
        self.outdoor = weather.reindex(self.index).to_numpy() if len(weather) else None
        local = self.index.tz_convert(self.zone)
        self.minute, self.month_day = local.hour * 60 + local.minute, local.month * 100 + local.day
        self.date = local.tz_localize(None).normalize()
        self.rooms = {home: list(dict.fromkeys(rows.room)) for home, rows in self.roster.groupby("home", sort=False)}
        self.heated = {(r.home, r.room): r.heated == "yes" for r in self.roster.itertuples()}
        doubted = self.metrics[(self.metrics.metric == "in_reference") & (self.metrics.value == 0)]
        self.heated |= {key: False for key in zip(doubted.home, doubted.room)}

    def local(self, text, end=False):
        text = str(text)
        stamp = pd.Timestamp(text)
        if end and len(text) <= 10:
            stamp += pd.DateOffset(days=1)
        return stamp.tz_localize(self.zone)

    def periods(self):
        for period in self.site.get("period", []):
            yield period["name"], self.span(period["from"], period["to"])

    def span(self, start, end):
        return np.asarray((self.index >= self.local(start)) & (self.index < self.local(end, end=True)))

    def placed(self, home, room):
        rows = self.roster[(self.roster.home == home) & (self.roster.room == room)]
        rows = rows[rows.logger.notna()]
        if rows.empty:
            return np.ones(len(self.index), bool)
        inside = np.zeros(len(self.index), bool)
        for row in rows.itertuples(index=False):
            row = dict(zip(rows.columns, row))
            mask = np.ones(len(self.index), bool)
            if pd.notna(row["from"]):
                mask &= self.index >= self.local(row["from"])
            if pd.notna(row["to"]):
                mask &= self.index < self.local(row["to"], end=True)
            inside |= mask
        return inside

    def between(self, home, room):
        """The coldest and warmest air that each value leaves possible: accuracy, lag where every logger has it stated."""
        x = self.degc.get((home, room), np.full(len(self.index), np.nan))
        u = self.accuracy.get((home, room), 0.5)
        rows = self.roster[(self.roster.home == home) & (self.roster.room == room) & self.roster.logger.notna()]
        lags = pd.to_numeric(rows.get("time_constant_min", pd.Series(np.nan, rows.index)))
        if rows.empty or lags.isna().any():
            return x - u, x + u
        t = self.index.as_unit("ms").astype("int64").to_numpy()
        placements = {}
        for start, end, lag in zip(rows["from"], rows["to"], lags):
            first = t[0] if pd.isna(start) else self.local(start).value // 1_000_000
            after = t[-1] + 1 if pd.isna(end) else self.local(end, end=True).value // 1_000_000
            placements[first, after, lag] = None
        home_of = SimpleNamespace(x={room: x}, t=t, settings=SimpleNamespace(step_ms=300_000))
        trails = trail(home_of, room, placements)
        ends = [share * trails for share in LAG_SHARES]
        return x + np.minimum(0, np.minimum(*ends) - u), x + np.maximum(0, np.maximum(*ends) + u)

    def found(self, home, room, period, metric, slice_name="all"):
        m = self.metrics
        rows = m[(m.home == home) & (m.room == room) & (m.period == period) & (m.metric == metric) & (m["slice"] == slice_name)]
        return None if rows.empty else float(rows.value.iloc[0])


# --- heat rule (METRICS, section 8) ---


def demands(b):
    """Per instant: the minimum that holds, and the one that may hold (outdoor temperature missing); NaN for none."""
    rule = b.site["heat_rule"]
    season = rule.get("season", {"from": "01-01", "to": "12-31"})
    holds, may = np.full(len(b.index), -np.inf), np.full(len(b.index), -np.inf)
    outdoor = b.outdoor if b.outdoor is not None else np.full(len(b.index), np.nan)
    for window in rule["window"]:
        of_window = window.get("season", season)
        first, last = (int(of_window[k].replace("-", "")) for k in ("from", "to"))
        md = b.month_day
        inside = (md >= first) & (md <= last) if first <= last else (md >= first) | (md <= last)
        start, end = minutes(window["from"]), minutes(window["to"])
        inside &= (b.minute >= start) & (b.minute < end) if start < end else (b.minute >= start) | (b.minute < end)
        inside = np.asarray(inside)
        minimum = degc(window["minimum"])
        if "when_outdoor_below" in window:
            unknown = inside & np.isnan(outdoor)
            may[unknown] = np.maximum(may[unknown], minimum)
            inside &= outdoor < degc(window["when_outdoor_below"])
        holds[inside] = np.maximum(holds[inside], minimum)
    return holds, may


def check_heat_rule(b, checks):
    holds, may = demands(b)
    for home in b.homes:
        for room in b.rooms[home]:
            x = b.degc.get((home, room), np.full(len(b.index), np.nan))
            (coldest, warmest), placed = b.between(home, room), b.placed(home, room)
            suspect = b.suspect.get((home, room), np.zeros(len(b.index), bool))
            for period, mask in b.periods():
                use = mask & placed & (np.isfinite(holds) | np.isfinite(may))
                state = np.full(len(b.index), "", dtype=object)
                with np.errstate(invalid="ignore"):
                    below = np.isfinite(holds) & (warmest < holds - NOISE_K)
                    met = coldest >= holds - NOISE_K
                # A suspect reading makes nothing certain.
                below, met = below & ~suspect, met & ~suspect
                state[use] = "too_close"
                state[use & met] = "met"
                state[use & np.isnan(x)] = "no_data"
                state[use & (may > holds)] = "not_evaluated"
                state[use & below] = "below"
                judged = np.isin(state, ["below", "too_close", "met"])
                for name in STATES:
                    got = b.found(home, room, period, f"heat_rule_hours_{name}")
                    there = use.any() if name in ("no_data", "not_evaluated") else judged.any()
                    want = (state == name).sum() * HOUR if there else None
                    checks.same("heat rule hours", f"{home} {room} {period} {name}", got, want, 1e-9)
                got, want = b.found(home, room, period, "heat_rule_hours_as_read"), None
                if judged.any():
                    want = (judged & (x < holds - NOISE_K)).sum() * HOUR
                checks.same("heat rule hours", f"{home} {room} {period} as read", got, want, 1e-9)
                runs = episodes(state[mask & placed])
                want = float(len(runs)) if judged.any() else None
                checks.same("heat rule episodes", f"{home} {room} {period}", b.found(home, room, period, "heat_rule_episodes"), want, 0)
                want = max(runs, default=0) * HOUR if judged.any() else None
                checks.same("heat rule longest", f"{home} {room} {period}", b.found(home, room, period, "heat_rule_longest_episode"), want, 1e-9)


def episodes(states):
    """Lengths of runs of below, bridging up to six steps too close to call."""
    letters = "".join({"below": "B", "too_close": "c"}.get(s, ".") for s in states)
    lengths, at = [], 0
    while (start := letters.find("B", at)) >= 0:
        end = start + 1
        while True:
            rest = letters[end:]
            close = len(rest) - len(rest.lstrip("c"))
            if rest.startswith("B"):
                end += 1
            elif 0 < close <= 6 and rest[close : close + 1] == "B":
                end += close + 1
            else:
                break
        lengths.append(end - start)
        at = end
    return lengths


# --- humidity ---


def vapour(t):
    return 6.112 * np.exp(17.62 * t / (243.12 + t))


def check_humidity(b, checks):
    factor = b.site.get("humidity", {}).get("surface_factor", 0.75)
    for (home, room), rh in b.percent.items():
        if not home:
            continue
        for period, mask in b.periods():
            use = mask & ~np.isnan(rh)
            t, h = b.degc[home, room][use], rh[use]
            want = {}
            if len(h):
                g = np.log(h[h > 0] / 100) + 17.62 * t[h > 0] / (243.12 + t[h > 0])
                want = {
                    "relative_humidity_mean": h.mean(),
                    "relative_humidity_p95": np.quantile(h, 0.95),
                    "dew_point_mean": (243.12 * g / (17.62 - g)).mean(),
                    "hours_over_70_rh": (h > 70).sum() * HOUR,
                    "hours_over_80_rh": (h > 80).sum() * HOUR,
                }
                known = b.outdoor is not None and ~np.isnan(b.outdoor[use])
                if np.any(known):
                    out = b.outdoor[use][known]
                    surface = h[known] * vapour(t[known]) / vapour(out + factor * (t[known] - out))
                    want["hours_surface_over_80"] = (surface >= 80).sum() * HOUR
                    want["hours_surface_condensation"] = (surface >= 100).sum() * HOUR
            for metric in ("relative_humidity_mean", "relative_humidity_p95", "dew_point_mean", "hours_over_70_rh",
                           "hours_over_80_rh", "hours_surface_over_80", "hours_surface_condensation"):  # fmt: skip
                where = f"{home} {room} {period} {metric}"
                checks.same("humidity", where, b.found(home, room, period, metric), want.get(metric), 1e-8)


# --- a home beside the others, and further slices ---


def check_building(b, checks):
    hours = {}
    for home in b.homes:
        x = np.column_stack([b.degc.get((home, r), np.full(len(b.index), np.nan)) for r in b.rooms[home]])
        rooms = x.shape[1]
        quorum = (~np.isnan(x)).sum(axis=1) >= max(1, min(rooms, max(2, rooms - 1)))
        means = pd.Series(np.where(quorum, np.nansum(x, axis=1) / np.maximum(1, (~np.isnan(x)).sum(axis=1)), np.nan), b.index)
        hourly = means.resample("1h")
        hours[home] = hourly.mean().where(hourly.count() >= 6).astype("float32").astype("float64")
    hours = pd.DataFrame(hours)
    words = b.roster.groupby("home")[["floor", "line"]].first()
    for period in b.site.get("period", []):
        start, end = b.local(period["from"]), b.local(period["to"], end=True)
        inside = hours[(hours.index >= start) & (hours.index < end)]
        for metric, column in (("offset_from_building", None), ("offset_from_floor", "floor"), ("offset_from_line", "line")):
            for home in b.homes:
                others = [o for o in b.homes if o != home and (column is None or words[column].get(o) == words[column].get(home))]
                if column is not None and pd.isna(words[column].get(home)):
                    others = []
                rest = inside[others]
                enough = (rest.notna().sum(axis=1) >= 3) & inside[home].notna()
                offset = (inside[home] - rest.median(axis=1))[enough]
                want = offset.mean() if len(offset) else None
                checks.same(metric, f"{home} {period['name']}", b.found(home, "", period["name"], metric), want, 1e-6)


def check_slices(b, checks):
    weekend = b.date.day_of_week >= 5
    slices = {"monday to friday": ~weekend, "saturday and sunday": weekend}
    if b.outdoor is not None:
        bins = np.floor(b.outdoor / 2)
        slices |= {f"outdoor {int(k) * 2} to {int(k) * 2 + 2} °C": bins == k for k in np.unique(bins[~np.isnan(bins)])}
    for (home, room), x in b.degc.items():
        if not home:
            continue
        for period, mask in b.periods():
            for name, inside in slices.items():
                values = x[mask & np.asarray(inside) & ~np.isnan(x)]
                want = values.mean() if len(values) else None
                checks.same("mean by slice", f"{home} {room} {period} {name}", b.found(home, room, period, "mean", name), want, 1e-8)


# --- comparison (METRICS, section 10) ---


def daily(b, home, error=(None, 0.0)):
    """{(room, metric): series by local day}, days with 75 % of their instants only; `error`: what a room's loggers read too much."""
    whole = pd.Series(1, b.date).groupby(level=0).sum()

    def by_day(values, how="mean"):
        groups = pd.Series(values, b.date).groupby(level=0)
        return getattr(groups, how)()[groups.count() >= 0.75 * whole]

    rooms = b.rooms[home]
    x = {r: b.degc.get((home, r), np.full(len(b.index), np.nan)) for r in rooms}
    if error[0] is not None:
        x[error[0]] = x[error[0]] - error[1]
    stack = np.column_stack([x[r] for r in rooms])
    present = (~np.isnan(stack)).sum(axis=1)
    quorum = present >= max(2, len(rooms) - 1)
    band = b.site.get("band")
    found = {}
    for r in rooms:
        found[r, "day_mean"], found[r, "day_minimum"] = by_day(x[r]), by_day(x[r], "min")
        if band:
            night = band.get("night", {})
            start, end = minutes(night.get("from", "22:00")), minutes(night.get("to", "06:00"))
            at_night = np.asarray((b.minute >= start) | (b.minute < end))
            lower = np.where(at_night, degc(night.get("lower", band["lower"])), degc(band["lower"]))
            upper = np.where(at_night, degc(night.get("upper", band["upper"])), degc(band["upper"]))
            none = np.isnan(x[r])
            found[r, "day_hours_below_band"] = 24 * by_day(np.where(none, np.nan, x[r] < lower))
            found[r, "day_hours_above_band"] = 24 * by_day(np.where(none, np.nan, x[r] > upper))
            found[r, "day_degree_hours_below"] = 24 * by_day(np.where(none, np.nan, np.maximum(0, lower - x[r])))
        others = [o for o in rooms if o != r and b.heated[home, o]]
        if others:
            rest = np.column_stack([x[o] for o in others])
            middle = np.full(len(rest), np.nan)
            some = (~np.isnan(rest)).any(axis=1)
            middle[some] = np.nanmedian(rest[some], axis=1)
            found[r, "day_offset_from_reference"] = by_day(np.where(quorum, x[r] - middle, np.nan))
    with np.errstate(invalid="ignore"):
        filled = np.where(quorum[:, None], stack, 0.0)
        spread = np.where(quorum, np.nanmax(filled, axis=1) - np.nanmin(filled, axis=1), np.nan)
    limit = float(b.site.get("spread", {}).get("limit", "2.2 K").split()[0])
    found["", "day_spread"] = by_day(spread)
    found["", "day_hours_spread_over_limit"] = 24 * by_day(np.where(np.isnan(spread), np.nan, spread > limit + NOISE_K))
    outdoor = by_day(b.outdoor) if b.outdoor is not None else pd.Series(dtype=float)
    return found, outdoor


def matched(before, after):
    """Weighted means over the shared bins."""
    total = weight = 0.0
    for bin_ in sorted(set(before.index) & set(after.index)):
        one, other = before.loc[[bin_]], after.loc[[bin_]]
        if min(len(one), len(other)) >= 3:
            w = min(len(one), len(other))
            total, weight = total + w * np.array([one.mean(), other.mean()]), weight + w
    return total / weight if weight else None


def drawn(before, after, moved, rng):
    """Distances from a line within the bins drawn anew, and the differences `moved` by each logger's steady error.

    `before` and `after`: frames of `at` (outdoor) and `value` by bin. The line is ordinary least squares with a mean per
    bin and one slope, here with dummies for the bins."""
    counts = [s.groupby(level=0).size() for s in (before, after)]
    weights = pd.concat(counts, axis=1, keys=[0, 1]).dropna().min(axis=1)
    weights = weights[weights >= 3]
    middle = matched(before["value"], after["value"])
    common = pd.concat([before["at"], after["at"]]).groupby(level=0).mean()
    shares = weights / weights.sum()
    level, differences = 0.0, 0.0
    for side, sign in ((before, -1), (after, 1)):
        side = side[side.index.isin(weights.index)]
        x = np.column_stack([side.index.to_numpy()[:, None] == weights.index.to_numpy(), side["at"] - common.reindex(side.index).to_numpy()])
        hat = np.linalg.pinv(x)
        solved = hat @ side["value"].to_numpy()
        residuals = side["value"].to_numpy() - x @ solved
        residuals = residuals * np.sqrt(len(side) / max(len(side) - len(weights) - 1, 1))
        # Each day's part in the weighted levels of the bins at the common places.
        parts = shares.to_numpy() @ hat[:-1]
        level = level + sign * (shares.to_numpy() @ solved[:-1])
        differences = differences + sign * residuals[rng.integers(0, len(side), (4000, len(side)))] @ parts
    difference = middle[1] - middle[0]
    low, high = np.quantile(level + differences, (0.025, 0.975))
    low, high = difference - min(low, difference), max(high, difference) - difference
    shifts = np.array([[m[1] - m[0] for m in pair] for pair in moved]).reshape(-1, 2) - difference
    low = np.hypot(low, np.sqrt((np.maximum(-shifts, 0).max(axis=1) ** 2).sum()))
    high = np.hypot(high, np.sqrt((np.maximum(shifts, 0).max(axis=1) ** 2).sum()))
    return difference - low, difference + high


def of_periods(series, spans, names):
    days = [[pd.Timestamp(text[:10]) for text in spans[name]] for name in names]
    return [series[(series.index >= start) & (series.index <= end)] for start, end in days]


def with_bins(sides, outdoor):
    """Frames of `at` and `value` by bin."""
    both = [pd.DataFrame({"at": outdoor.reindex(s.index), "value": s}).dropna(subset="at") for s in sides]
    return [frame.set_index(np.floor(frame["at"] / 2)) for frame in both]


def values(frames):
    return [frame["value"] for frame in frames]


def check_comparison(b, compared, names, checks):
    rows = pd.read_csv(compared / "comparison.csv", keep_default_na=False)
    rows = {(r.home, r.room, r.metric): r for r in rows.itertuples()}
    number = lambda text: float(text) if text != "" else None  # noqa: E731
    spans = {p["name"]: (str(p["from"]), str(p["to"])) for p in b.site["period"]}
    rng = np.random.default_rng(7)
    for home in b.homes:
        found, outdoor = daily(b, home)
        errors = {r: b.accuracy[home, r] for r in b.rooms[home] if (home, r) in b.accuracy}
        with_error = {r: [daily(b, home, (r, sign * u))[0] for sign in (1, -1)] for r, u in errors.items()}
        for (room, metric), series in found.items():
            sides = of_periods(series, spans, names)
            row = rows.pop((home, room, metric), None)
            where = f"{home} {room} {metric}"
            if row is None:
                if any(len(s) for s in sides):
                    checks.same("comparison", where, None, 1.0, 0)
                continue
            for side, days, mean in zip(sides, (row.days_before, row.days_after), (row.all_days_before, row.all_days_after)):
                checks.same("comparison days", where, float(days), float(len(side)), 0)
                checks.same("comparison, all days", where, number(mean), side.mean() if len(side) else None, 1e-8)
            binned = with_bins(sides, outdoor)
            want = matched(*values(binned))
            got = [number(row.before), number(row.after)]
            for g, w in zip(got, want if want is not None else (None, None)):
                checks.same("comparison, matched", where, g, w, 1e-8)
            if want is not None:
                # An error of another room's logger is no error of this room's number, or leaves its difference as it is.
                pairs = [
                    [matched(*values(with_bins(of_periods(f[room, metric], spans, names), outdoor))) for f in pair]
                    for r, pair in with_error.items() if room in ("", r)
                ]  # fmt: skip
                low, high = drawn(*binned, pairs, rng)
                width = max(high - low, 1e-6)
                checks.same("comparison, low", where, number(row.low), low, 0.25 * width)
                checks.same("comparison, high", where, number(row.high), high, 0.25 * width)
    for key in rows:
        checks.same("comparison", " ".join(key), 1.0, None, 0)


def main():
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("site", type=Path)
    parse.add_argument("out", type=Path)
    parse.add_argument("--compared", type=Path)
    parse.add_argument("--before")
    parse.add_argument("--after")
    args = parse.parse_args()
    b, checks = Building(args.site, args.out), Checks()
    check_heat_rule(b, checks)
    check_humidity(b, checks)
    check_building(b, checks)
    check_slices(b, checks)
    if args.compared:
        check_comparison(b, args.compared, (args.before, args.after), checks)
    return checks.finish()


if __name__ == "__main__":
    sys.exit(main())
