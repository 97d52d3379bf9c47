"""Intervals and recovery times of an audit beside statsmodels, SciPy and lifelines.

usage: inference_check.py OUT_DIR --roster roster.csv --time-zone ZONE --design-outdoor DEGC [--margin K]

Reads aligned.parquet, metrics.parquet and events.parquet of a site without named periods; the slice `all` is compared.
The bootstrap's and the sensors' random numbers are made again here, so that they are compared to the last digits.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from lifelines import KaplanMeierFitter
from scipy import stats

from ledger import Ledger

DAY_SHARE, LEAST_DAYS, LINE_DAYS, LINE_K = 0.75, 7, 10, 5.0
RESAMPLES, BOOTSTRAP_SEED = 1000, 0x6576656E726F6F6D
DRAWS, SENSOR_SEED, SENSOR_INSTANTS = 400, 0x73656E736F72, 128
Z95 = 1.959964
WORD = (1 << 64) - 1


def splitmix(seed, count):
    """The first `count` numbers of splitmix64."""
    with np.errstate(over="ignore"):
        z = np.uint64(seed) + np.uint64(0x9E3779B97F4A7C15) * np.arange(1, count + 1, dtype=np.uint64)
        z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        return z ^ (z >> np.uint64(31))


def effective(x):
    """Effective number of days, from the lag-1 autocorrelation put right for its bias."""
    n, d = len(x), x - x.mean()
    r = ((n * (d[1:] @ d[:-1]) / (d @ d) + 1) / (n - 4)) if n > 4 and d @ d > 0 else 0.0
    r = min(max(r, 0.0), 0.9)
    return max(n * (1 - r) / (1 + r), min(3.0, n))


class Home:
    def __init__(self, rows, outdoor, rooms, heated, zone):
        self.x = rows.pivot(index="time_utc", columns="room", values="temperature_degc").reindex(columns=rooms)
        self.u = rows.groupby("room", observed=True).accuracy_k.first().reindex(rooms)
        step = self.x.index.to_series().diff().min()
        first = self.x.index[0].tz_convert(zone).normalize()
        last = self.x.index[-1].tz_convert(zone).normalize() + pd.Timedelta(days=1, hours=2)
        whole = pd.date_range(first.tz_convert("UTC"), last.normalize().tz_convert("UTC"), freq=step, inclusive="left")
        self.size = pd.Series(1, whole).groupby(whole.tz_convert(zone).date).size()
        self.day = pd.Index(self.x.index.tz_convert(zone).date)
        quorum = self.x.notna().sum(axis=1) >= max(2, len(rooms) - 1)
        self.seen = self.x[quorum]
        self.seen_day = self.day[quorum]
        self.outdoor = None if outdoor is None else self.daily(outdoor[self.x.index[0] : self.x.index[-1]], zone)
        self.heated = heated

    def daily(self, series, zone):
        """Means of the days with three quarters of their instants."""
        days = pd.Index(series.index.tz_convert(zone).date)
        grouped = series.groupby(days).agg(["mean", "size"])
        return grouped["mean"][grouped["size"] >= DAY_SHARE * self.size.reindex(grouped.index)]

    def offsets(self, room, zone):
        others = [r for r in self.heated if r != room]
        return self.daily((self.seen[room] - self.seen[others].mean(axis=1)).dropna(), zone)

    def sensors(self, room):
        """95 % half-width of the sensor error of an offset."""
        others = [r for r in self.heated if r != room and self.x[r].notna().any()]
        return np.hypot(self.u[room], np.sqrt((self.u[others] ** 2).sum()) / len(others))


def offset_parts(x, sensors, margin, heated):
    n = len(x)
    parts = {("offset_from_heated_mean", "value"): x.mean()}
    verdict = 0.0
    if n >= LEAST_DAYS:
        lag = int(4 * (n / 100) ** (2 / 9))
        fit = sm.OLS(x, np.ones(n)).fit(cov_type="HAC", cov_kwds={"maxlags": lag, "use_correction": True}, use_t=True)
        error, worth = max(fit.bse[0], x.std(ddof=1) / np.sqrt(effective(x))), effective(x)
        both = error**2 + (sensors / Z95) ** 2
        half = stats.t.ppf(0.95, both**2 * (worth - 1) / error**4) * np.sqrt(both)
        low, high = x.mean() - half, x.mean() + half
        parts |= {("offset_standard_error", "value"): fit.bse[0]}
        parts |= {("offset_from_heated_mean", "low"): low, ("offset_from_heated_mean", "high"): high}
        verdict = 1.0 if -margin < low and high < margin else -1.0 if low > margin or high < -margin else 0.0
    if not heated:
        parts["evenness_verdict", "value"] = verdict
    return parts


def design_parts(x, outdoor, sensors, design):
    both = pd.concat([x, outdoor], axis=1, keys=["offset", "outdoor"]).dropna()
    if len(both) < LINE_DAYS or np.ptp(both.outdoor) < LINE_K:
        return {}
    line = sm.OLS(both.offset, sm.add_constant(both.outdoor)).fit()
    at = line.get_prediction([[1.0, design]]).summary_frame(alpha=0.05).iloc[0]
    half = np.hypot(at.obs_ci_upper - at["mean"], sensors)
    return {("offset_at_design", k): v for k, v in (("value", at["mean"]), ("low", at["mean"] - half), ("high", at["mean"] + half))}


def spread_parts(home):
    x = home.seen.to_numpy()
    spread = np.nanmax(x, axis=1) - np.nanmin(x, axis=1)
    days = [spread[home.seen_day == d] for d in pd.unique(home.seen_day)]
    ps = (0.5, 0.95)
    value = np.quantile(spread, ps)
    parts = {(name, "value"): v for name, v in zip(("spread_median", "spread_p95"), value)}
    n = len(days)
    if n < LEAST_DAYS:
        return parts
    picks = ((splitmix(BOOTSTRAP_SEED, RESAMPLES * n) >> np.uint64(32)) * np.uint64(n)) >> np.uint64(32)
    drawn = np.array([np.quantile(np.concatenate([days[int(d)] for d in row]), ps) for row in picks.reshape(RESAMPLES, n)])
    typical = np.array([np.median(d) for d in days])
    worth = effective(typical)
    widening = np.sqrt(n / worth) * stats.t.ppf(0.975, worth - 1) / stats.norm.ppf(0.975)
    some = x[:: -(-len(x) // SENSOR_INSTANTS)]
    uniform = ((splitmix(SENSOR_SEED, DRAWS * x.shape[1]) >> np.uint64(11)).astype(float) + 0.5) / 2**53
    errors = stats.norm.ppf(uniform).reshape(DRAWS, -1) * (home.u.fillna(0.5).to_numpy() / 1.959964)
    ranges = [np.nanmax(some + e, axis=1) - np.nanmin(some + e, axis=1) for e in errors]
    moved = np.quantile(ranges, ps, axis=1).T - np.quantile(np.nanmax(some, axis=1) - np.nanmin(some, axis=1), ps)
    for k, name in enumerate(("spread_median", "spread_p95")):
        low, high = np.quantile(drawn[:, k], (0.025, 0.975))
        down, up = max(np.quantile(moved[:, k], 0.975), 0), max(-np.quantile(moved[:, k], 0.025), 0)
        parts[name, "low"] = max(value[k] - np.hypot((value[k] - low) * widening, down), 0)
        parts[name, "high"] = value[k] + np.hypot((high - value[k]) * widening, up)
    return parts


def recovery_parts(events):
    """Counts and Kaplan-Meier quantiles of a room's recoveries, by lifelines."""
    reached = ~events.censored.astype(bool)
    curve = KaplanMeierFitter().fit(events.duration_h, reached)
    parts = {("recovery_events", "value"): float(len(events)), ("recoveries_cut_off", "value"): float((~reached).sum())}
    for name, left in (("recovery_median", 0.5), ("recovery_p90", 0.1)):
        # A survival that equals the share but for float noise has reached it.
        at = curve.survival_function_.iloc[:, 0]
        at = at[at <= left + 1e-9]
        if len(at):
            parts[name, "value"] = at.index[0]
    if reached.any():
        rate = (events.limit - events.value) / events.duration_h
        parts["warm_up_rate", "value"] = rate[reached].median()
    return parts


def compare(ledger, got, parts, names):
    """Every part on both sides; a number that only one side has is a difference."""
    for metric in names:
        for part in ("value", "low", "high"):
            if metric in RECOVERY and part != "value":
                continue
            # Events are held to the millisecond; the quantiles of Student's distribution agree to six digits.
            slack = 3e-7 + 5e-6 * abs(parts.get((metric, part), 0.0)) if metric in RECOVERY else 1e-6
            have = got.get(metric, {}).get(part, np.nan)
            want = parts.get((metric, part), np.nan)
            if not (pd.isna(have) and pd.isna(want)):
                ledger.compare(f"{metric} {part}", have, want, slack, lambda i: got["where"])


OFFSET = ["offset_from_heated_mean", "offset_standard_error", "evenness_verdict"]
RECOVERY = ["recovery_events", "recoveries_cut_off", "recovery_median", "recovery_p90", "warm_up_rate"]


def check(args, ledger):
    rows, metrics = (pd.read_parquet(args.out / f"{t}.parquet") for t in ("aligned", "metrics"))
    events = pd.read_parquet(args.out / "events.parquet")
    events = events[events.kind == "setback recovery"]
    roster = pd.read_csv(args.roster, dtype=str, comment="#", keep_default_na=False)
    metrics = metrics[metrics.slice == "all"]
    outdoor = rows[rows.home.isna()].set_index("time_utc").temperature_degc
    outdoor = outdoor if len(outdoor) else None
    for name, of_home in rows[rows.home.notna()].groupby("home", observed=True):
        listed = roster[roster.home == name]
        rooms = list(dict.fromkeys(listed.room))
        heated = set(listed.room[listed.heated.str.lower().isin(("yes", "true", "y", "1"))])
        home = Home(of_home, outdoor, rooms, heated, args.time_zone)
        of_metrics = metrics[metrics.home == name]

        def got(room):
            mine = of_metrics[of_metrics.room.isna() if room is None else of_metrics.room == room]
            return {"where": f"{name} {room or ''}"} | mine.set_index("metric")[["value", "low", "high"]].to_dict("index")

        compare(ledger, got(None), spread_parts(home), ["spread_median", "spread_p95"])
        for room in rooms:
            x = home.offsets(room, args.time_zone)
            if len(x):
                parts = offset_parts(x.to_numpy(), home.sensors(room), args.margin, room in heated)
                if outdoor is not None:
                    parts |= design_parts(x, home.outdoor, home.sensors(room), args.design_outdoor)
                compare(ledger, got(room), parts, [*OFFSET, "offset_at_design"])
            mine = events[(events.home == name) & (events.room == room)]
            if len(mine):
                compare(ledger, got(room), recovery_parts(mine), RECOVERY)


def main(argv=None):
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("out", type=Path)
    parse.add_argument("--roster", type=Path, required=True)
    parse.add_argument("--time-zone", required=True)
    parse.add_argument("--design-outdoor", type=float, required=True)
    parse.add_argument("--margin", type=float, default=2.0)
    ledger = Ledger()
    check(parse.parse_args(argv), ledger)
    return ledger.finish()


if __name__ == "__main__":
    sys.exit(main())
