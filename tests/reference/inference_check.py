"""Intervals, slopes on the weather and recovery times of an audit beside statsmodels, SciPy and lifelines.

usage: inference_check.py OUT_DIR --roster roster.csv --time-zone ZONE --design-outdoor DEGC --setback 22:00-06:00
           --setback-target DEGC [--margin K]

Reads aligned.parquet, weather.parquet, metrics.parquet and events.parquet of a site without named periods; the slice `all` is compared.
The bootstrap's and the sensors' random numbers are made again here, so that they are compared to the last digits.
Recoveries are followed again for the ends of their intervals, with the line moved by each sensor error. At the end each
kind of number that agreed is damaged in a copy of the metrics, and the check must see it.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from lifelines import KaplanMeierFitter, LogNormalAFTFitter
from scipy import optimize, stats

from aligned import read
from definitions import most_record
from ledger import Ledger

DAY_SHARE, LEAST_DAYS, LINE_DAYS, LINE_K, COLD = 0.75, 7, 10, 5.0, 10.0
RESAMPLES, BOOTSTRAP_SEED = 1000, 0x6576656E726F6F6D
DRAWS, SENSOR_SEED, SENSOR_INSTANTS = 400, 0x73656E736F72, 128
Z95 = 1.959964
TOLERANCE_K, NOISE_K, LONGEST, STAYS = 0.5, 4e-6, pd.Timedelta(hours=6), pd.Timedelta(minutes=15)
ERRORS = np.arange(-5, 6) * 0.5
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


def alike(x, largest=0.999):
    """As `effective`, of values around 0, without a largest likeness."""
    n = len(x)
    r = (n * (x[1:] @ x[:-1]) / (x @ x) + 1) / (n - 4) if n > 4 and x @ x > 0 else 0.0
    r = min(max(r, 0.0), largest)
    return max(n * (1 - r) / (1 + r), min(3.0, n))


def bartlett(n):
    return min(int(4 * (n / 100) ** (2 / 9)), n - 1)


def over_days(x, outdoor):
    """Error of a mean over days, that by Newey and West alone, and how many days it is worth: at the record's mean weather."""
    both = pd.DataFrame({"x": x, "outdoor": outdoor}).dropna()
    if len(both) >= 14 and len(both) >= 0.9 * len(x) and np.ptp(both.outdoor) >= LINE_K:
        line = sm.OLS(both.x, sm.add_constant(both.outdoor)).fit()
        left, used, deviation = line.resid.to_numpy(), 2, np.sqrt(line.mse_resid)
        worth = alike(left)
    else:
        left, used, deviation, worth = np.asarray(x), 1, np.std(x, ddof=1), effective(np.asarray(x))
    n = len(left)
    hac = sm.OLS(left, np.ones(n)).fit(cov_type="HAC", cov_kwds={"maxlags": bartlett(n), "use_correction": False})
    newey = hac.bse[0] * np.sqrt(n / (n - used))
    return max(newey, deviation / np.sqrt(worth)), newey, worth


class Home:
    def __init__(self, rows, outdoor, rooms, heated, zone):
        self.x = rows.pivot(index="time_utc", columns="room", values="temperature_degc").reindex(columns=rooms)
        by_room = rows.groupby("room", observed=True)
        self.u = by_room.accuracy_k.first().reindex(rooms)
        self.against_others = by_room.relative_accuracy_k.first().reindex(rooms)
        step = self.x.index.to_series().diff().min()
        ms = self.x.index.astype("datetime64[ms, UTC]").astype("int64").to_numpy()
        recorded = {room: (ms[self.x[room].notna()], None) for room in rooms}
        begins, ends = most_record(recorded, int(step / pd.Timedelta(milliseconds=1)))
        self.x = self.x[(ms >= begins) & (ms <= ends)]
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
        return self.daily((self.seen[room] - self.seen[others].median(axis=1)).dropna(), zone)

    def by_day(self, room, zone):
        """Means of the hours from 6:00 to 22:00, of days with three quarters of them."""
        local = self.x.index.tz_convert(zone)
        x = self.x[room][(local.hour >= 6) & (local.hour < 22)].dropna()
        days = pd.Index(x.index.tz_convert(zone).date)
        grouped, step = x.groupby(days).agg(["mean", "size"]), self.x.index.to_series().diff().min()
        return grouped["mean"][grouped["size"] >= DAY_SHARE * (pd.Timedelta(hours=16) / step)]

    def factor(self, room, outdoor, zone):
        """(reference - room) / (reference - outdoors) of each day with 5 K between them, and that distance."""
        others = [r for r in self.heated if r != room]
        both = pd.DataFrame({"x": self.seen[room], "reference": self.seen[others].median(axis=1), "out": outdoor.reindex(self.seen.index)})
        means = both.dropna()
        means = pd.DataFrame({k: self.daily(means[k], zone) for k in means})
        means = means[means.reference - means.out >= LINE_K]
        return (means.reference - means.x) / (means.reference - means.out), means.reference - means.out, means.out

    def sensors(self, room):
        """95 % half-width of the sensor error of an offset: the room's, and those of the rooms that the median is."""
        others = [r for r in self.seen.columns if r in self.heated and r != room]
        some = self.seen[others].iloc[:: -(-len(self.seen) // SENSOR_INSTANTS)]
        times = dict.fromkeys(others, 0.0)
        for row in some.itertuples(index=False):
            there = sorted((x, place) for place, x in enumerate(row) if not np.isnan(x))
            for middle in ((len(there) - 1) // 2, len(there) // 2) if there else ():
                times[others[there[middle][1]]] += 0.5
        total = max(sum(times.values()), 1.0)
        u = self.against_others
        return np.hypot(u[room], np.sqrt(sum((n / total * u[r]) ** 2 for r, n in times.items())))


def with_parts(name, mean, error, worth, sensors):
    """The 90 % interval of a mean over days, and what sensors and days have in it."""
    both = error**2 + (sensors / Z95) ** 2
    half = stats.t.ppf(0.95, both**2 * (worth - 1) / error**4) * np.sqrt(both)
    parts = {(name, "value"): mean, (name, "low"): mean - half, (name, "high"): mean + half}
    return parts | {(name, "sensor"): sensors, (name, "days"): stats.t.ppf(0.975, worth - 1) * error}


def offset_parts(x, outdoor, sensors, margin):
    parts = {("offset_from_reference", "value"): x.mean()}
    verdict = 0.0
    if len(x) >= LEAST_DAYS:
        error, newey, worth = over_days(x, outdoor)
        parts |= with_parts("offset_from_reference", x.mean(), error, worth, sensors)
        parts |= {("offset_standard_error", "value"): newey}
        low, high = parts["offset_from_reference", "low"], parts["offset_from_reference", "high"]
        verdict = 1.0 if -margin < low and high < margin else -1.0 if low > margin or high < -margin else 0.0
        if verdict == 0.0:
            parts |= decide_parts(x, error, worth, sensors, margin)
        both = error**2 + (sensors / Z95) ** 2
        p = stats.t.sf((margin - abs(x.mean())) / np.sqrt(both), both**2 * (worth - 1) / error**4)
        parts |= {("even_p", "value"): min(max(p, NEAREST_P), 1 - NEAREST_P)}
    return parts | {("evenness_verdict", "value"): verdict}


def decide_parts(x, error, worth, sensors, margin):
    """More days like these until the interval no longer reaches across the margin."""
    s, h = sensors / Z95 * stats.norm.ppf(0.95), stats.t.ppf(0.95, worth - 1) * error
    gap, quartile = abs(margin - abs(x.mean())), stats.t.ppf(0.75, worth - 1) * error
    at = lambda g: max(len(x) * (h**2 / (g**2 - s**2) - 1), 0.0) if g > s else np.nan
    if np.isnan(at(gap)):
        return {}
    return {("days_to_decide", k): at(g) for k, g in (("value", gap), ("low", gap + quartile), ("high", max(gap - quartile, 0)))}


def worth_of_line(x, line):
    """How many days that are not alike say as much about a line."""
    left = line.resid.to_numpy()
    return min(alike(((x - x.mean()) * line.resid).to_numpy()), alike(left))


def one_day(x, line, at):
    """The line, and half of the 95 % interval of one more day: the variance of the line grows with days that are alike."""
    row = line.get_prediction([[1.0, at]])
    grown = line.scale + len(x) / worth_of_line(x, line) * row.se_mean[0] ** 2
    return row.predicted_mean[0], stats.t.ppf(0.975, line.df_resid) * np.sqrt(grown)


def even_parts(x, outdoor, sensors, margin):
    """The prediction band of a day's offset at the median outdoor temperature, and how far down it lies inside."""
    both = pd.concat([x, outdoor], axis=1, keys=["offset", "outdoor"]).dropna()
    if len(both) < LINE_DAYS or np.ptp(both.outdoor) < LINE_K:
        return {}
    line = sm.OLS(both.offset, sm.add_constant(both.outdoor)).fit()

    def band(at):
        mean, days = one_day(both.outdoor, line, at)
        return mean, np.hypot(days, sensors)

    beyond = lambda at: sum(np.abs(band(at)[:1])) + band(at)[1] - margin
    median, coldest = both.outdoor.median(), both.outdoor.min()
    mean, half = band(median)
    parts = {("offset_on_median_day", k): v for k, v in (("value", mean), ("low", mean - half), ("high", mean + half))}
    if beyond(median) <= 0:
        inside = beyond(coldest) <= 0
        parts["even_down_to", "value"] = coldest if inside else optimize.brentq(beyond, coldest, median, xtol=1e-9)
        if inside:
            parts["even_down_to", "high"] = coldest
    return parts


def slope_parts(by_day, outdoor, accuracy, design):
    """The line of a room's mean by day on the outdoor temperature of cold days."""
    both = pd.concat([by_day, outdoor], axis=1, keys=["y", "x"]).dropna()
    both = both[both.x < COLD]
    if len(both) < LINE_DAYS or np.ptp(both.x) < LINE_K:
        return {}
    n, line = len(both), sm.OLS(both.y, sm.add_constant(both.x)).fit()
    hac = sm.OLS(both.y, sm.add_constant(both.x)).fit(cov_type="HAC", cov_kwds={"maxlags": bartlett(n), "use_correction": False})
    worth = worth_of_line(both.x, line)
    error = max(hac.bse["x"] * np.sqrt(n / (n - 2)), line.bse["x"] * np.sqrt(n / worth))
    half = stats.t.ppf(0.95, worth - 2) * error
    slope = line.params["x"]
    parts = {("outdoor_slope", "value"): slope, ("outdoor_slope", "low"): slope - half, ("outdoor_slope", "high"): slope + half}
    mean, days = one_day(both.x, line, design)
    half = np.hypot(days, accuracy)
    return parts | {("mean_at_design", k): v for k, v in (("value", mean), ("low", mean - half), ("high", mean + half))}


def design_parts(x, outdoor, sensors, design):
    both = pd.concat([x, outdoor], axis=1, keys=["offset", "outdoor"]).dropna()
    if len(both) < LINE_DAYS or np.ptp(both.outdoor) < LINE_K:
        return {}
    line = sm.OLS(both.offset, sm.add_constant(both.outdoor)).fit()
    mean, days = one_day(both.outdoor, line, design)
    half = np.hypot(days, sensors)
    return {("offset_at_design", k): v for k, v in (("value", mean), ("low", mean - half), ("high", mean + half))}


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
    hidden = np.sqrt(np.sum(np.sort(home.u.fillna(0.5).to_numpy())[-2:] ** 2))
    for k, name in enumerate(("spread_median", "spread_p95")):
        low, high = np.quantile(drawn[:, k], (0.025, 0.975))
        down = max(np.quantile(moved[:, k], 0.975), 0)
        parts[name, "low"] = max(value[k] - np.hypot((value[k] - low) * widening, down), 0)
        parts[name, "high"] = value[k] + np.hypot((high - value[k]) * widening, hidden)
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


def design_recovery(events, outdoor, design):
    """Median recovery time in the design cold, by the log-normal accelerated failure time model of lifelines."""
    six = lambda start: outdoor[start : start + LONGEST - pd.Timedelta(seconds=1)]
    step = outdoor.index.to_series().diff().min()
    whole = LONGEST / step
    means = [six(t).mean() if len(six(t)) >= DAY_SHARE * whole else np.nan for t in events.from_utc]
    frame = pd.DataFrame({"hours": events.duration_h.to_numpy(), "reached": ~events.censored.astype(bool).to_numpy(), "x": means})
    frame = frame.dropna()
    fitter = LogNormalAFTFitter().fit(frame, "hours", "reached")
    return float(fitter.predict_median(pd.DataFrame({"x": [design]})).iloc[0])


def followed(x, starts, line):
    """Hours to the line and whether it was reached, per start at which the room is below it."""
    times, step = [], x.index[1] - x.index[0]
    for start in starts:
        if pd.isna(x.get(start, np.nan)) or x[start] >= line - NOISE_K:
            continue
        mine = x[start : start + LONGEST + step]
        hole = mine.index[mine.isna()].min()
        last = min(start + LONGEST, (x.index[-1] if pd.isna(hole) else hole - step))
        there = x >= line - NOISE_K
        hours, reached = (last - start) / pd.Timedelta(hours=1), False
        for before, now in zip(mine.index[:-1], mine.index[1:]):
            if pd.isna(mine[now]):
                break
            if there[now] and not there[before]:
                crossed = before + min(max((line - x[before]) / (x[now] - x[before]), 0), 1) * step
                until = (crossed + STAYS).ceil(step)
                if crossed <= start + LONGEST and there[now:until].all():
                    hours, reached = (crossed - start) / pd.Timedelta(hours=1), True
                    break
        times.append((hours, reached))
    return times


def share_growth(hours, p):
    """Growth of the error of a share, from bivariate normal probabilities."""
    n, worth = len(hours), effective(np.array(hours))
    r, z = (n - worth) / (n + worth), stats.norm.ppf(p)
    total = 1.0
    for k in range(1, n):
        if r**k <= 1e-3:
            break
        both = stats.multivariate_normal.cdf([z, z], cov=[[1, r**k], [r**k, 1]])
        total += 2 * (1 - k / n) * (both - p * p) / (p * (1 - p))
    return np.sqrt(total)


def belief(times, p, growth):
    """How sure it is that the quantile has come, from each time on: for the lower and for the upper end."""
    if not times:
        return pd.DataFrame({"low": [1.0], "high": [1.0]}, index=[0.0])
    table = KaplanMeierFitter().fit(*zip(*times)).event_table
    table = table[table.observed > 0]
    n, d = table.at_risk, table.observed
    left = (1 - d / n).cumprod()
    some = left > 1e-12
    n, d, left = n[some], d[some], left[some]
    error = growth * np.sqrt((d / (n * (n - d))).cumsum()) / -np.log(left)
    sure = pd.Series(stats.norm.cdf((np.log(-np.log(left)) - np.log(-np.log(1 - p))) / error), left.index)
    ends = pd.DataFrame({"low": sure, "high": sure}).reindex(table.index)
    return ends.fillna({"low": 1.0}).ffill().fillna(0.0)


def most_lag_h(placements):
    """By how long the loggers of a room trail its air at most: 1.3 of the stated time constants, else a quarter of an hour."""
    stated = pd.to_numeric(placements.get("time_constant_min", pd.Series(np.nan, placements.index)))
    return (15.0 if stated.isna().any() or not len(stated) else 1.3 * stated.max()) / 60


def recovery_ends(x, accuracy, starts, target, lag_h):
    """Ends of the intervals of the recovery quantiles of a room."""
    moved = [followed(x, starts, target - TOLERANCE_K + e * accuracy / Z95) for e in ERRORS]
    weights = np.diff(np.r_[0, stats.norm.cdf(ERRORS[1:] - 0.25), 1])
    hours = [t for t, _ in moved[len(ERRORS) // 2]]
    parts = {}
    if len(hours) < LEAST_DAYS:
        return parts
    for name, p in (("recovery_median", 0.5), ("recovery_p90", 0.9)):
        growth = share_growth(hours, p)
        beliefs = [belief(times, p, growth) for times in moved]
        at = np.unique(np.r_[0.0, np.concatenate([b.index for b in beliefs])])
        sure = sum(w * b.reindex(at, method="ffill").fillna(0.0) for w, b in zip(weights, beliefs))
        high = sure.index[sure.high >= 0.975]
        low = sure.index[sure.low >= (0.025 if len(high) else 0.05)]
        parts |= {(name, "low"): max(low[0] - lag_h, 0), (name, "high"): high[0] if len(high) else np.nan}
    return parts


def compare(ledger, got, parts, names):
    """Every part on both sides; a number that only one side has is a difference."""
    for metric in names:
        for part in ("value", "low", "high", "sensor", "days"):
            if part in ("sensor", "days") and (metric, part) not in parts:
                continue
            # Events are held to the millisecond; the quantiles of Student's distribution agree to six digits.
            slack = 3e-7 + 5e-6 * abs(parts.get((metric, part), 0.0)) if metric in RECOVERY else 1e-6
            # lifelines stops where its own search does.
            slack = 1e-3 * abs(parts.get((metric, part), 0.0)) if metric == AT_DESIGN else slack
            have = got.get(metric, {}).get(part, np.nan)
            want = parts.get((metric, part), np.nan)
            if not (pd.isna(have) and pd.isna(want)):
                ledger.compare(f"{metric} {part}", have, want, slack, lambda i: got["where"])


NEAREST_P = 1e-6  # a p value is told no nearer to 0 and to 1
OFFSET = ["offset_from_reference", "offset_standard_error", "evenness_verdict", "even_p", "days_to_decide"]
WEATHER = ["offset_at_design", "offset_on_median_day", "even_down_to", "temperature_factor"]
SLOPE = ["outdoor_slope", "mean_at_design"]
AT_DESIGN = "recovery_at_design"
# What a building need not have.
MAY_LACK = ["days_to_decide", AT_DESIGN]
RECOVERY = ["recovery_events", "recoveries_cut_off", "recovery_median", "recovery_p90", "warm_up_rate"]


def expected(args, metrics):
    """Home, room (or None), what the reference finds, and the metrics it speaks of."""
    rows, events = read(args.out / "aligned.parquet"), pd.read_parquet(args.out / "events.parquet")
    events = events[events.kind == "setback recovery"]
    roster = pd.read_csv(args.roster, dtype=str, comment="#", keep_default_na=False)
    outdoor = read(args.out / "weather.parquet").set_index("time_utc").temperature_degc
    outdoor = outdoor if len(outdoor) else None
    for name, of_home in rows.groupby("home"):
        listed = roster[roster.home == name]
        rooms = list(dict.fromkeys(listed.room))
        heated = set(listed.room[listed.heated.str.lower().isin(("yes", "true", "y", "1"))])
        heated_by_roster = set(heated)
        told = metrics[metrics.home == name]
        heated -= set(told.room[(told.metric == "in_reference") & (told.value == 0)])
        apart = set(told.room[told.metric == "reference_apart"])
        home = Home(of_home, outdoor, rooms, heated, args.time_zone)
        yield name, None, spread_parts(home), ["spread_median", "spread_p95"]
        grid = pd.date_range(home.x.index[0], home.x.index[-1], freq=home.x.index.to_series().diff().min())
        days = pd.unique(pd.Index(grid.tz_convert(args.time_zone).date))
        starts = [pd.Timestamp(f"{d} {args.setback.split('-')[1]}", tz=args.time_zone).tz_convert("UTC") for d in days]
        for room in rooms:
            x = home.offsets(room, args.time_zone)
            if len(x) and room not in apart:
                weather = home.outdoor.reindex(x.index).to_numpy() if outdoor is not None else np.full(len(x), np.nan)
                parts = offset_parts(x.to_numpy(), weather, home.sensors(room), args.margin)
                if outdoor is not None:
                    parts |= design_parts(x, home.outdoor, home.sensors(room), args.design_outdoor)
                    parts |= even_parts(x, home.outdoor, home.sensors(room), args.margin)
                    if room not in heated_by_roster:
                        factor, apart, out = home.factor(room, outdoor, args.time_zone)
                        if len(factor) >= LEAST_DAYS:
                            error, _, worth = over_days(factor.to_numpy(), out.to_numpy())
                            parts |= with_parts("temperature_factor", factor.mean(), error, worth, home.sensors(room) / apart.mean())
                yield name, room, parts, [*OFFSET, *WEATHER]
            if outdoor is not None:
                found = slope_parts(home.by_day(room, args.time_zone), home.daily(outdoor, args.time_zone), home.u[room], args.design_outdoor)
                broken = ((told.room == room) & (told.metric == "limit_reached_at")).any()
                yield name, room, found, SLOPE[:1] if broken else SLOPE
            mine = events[(events.home == name) & (events.room == room)]
            if len(mine):
                parts = recovery_parts(mine)
                designed = told[(told.room == room) & (told.metric == AT_DESIGN)]
                if len(designed):
                    # Which records carry it is not asked again, nor are its ends, which rest on the sensor.
                    parts[AT_DESIGN, "value"] = design_recovery(mine, outdoor, args.design_outdoor)
                    parts |= {(AT_DESIGN, part): designed[part].iloc[0] for part in ("low", "high")}
                lag_h = most_lag_h(roster[(roster.home == name) & (roster.room == room)])
                ends = recovery_ends(home.x[room].reindex(grid), home.u[room], starts, args.setback_target, lag_h)
                yield name, room, parts | {k: v for k, v in ends.items() if (k[0], "value") in parts}, [*RECOVERY, AT_DESIGN]


def hold(ledger, metrics, found):
    """Metrics beside what was found."""
    for name, room, parts, names in found:
        mine = metrics[(metrics.home == name) & (metrics.room.isna() if room is None else metrics.room == room)]
        got = mine.set_index("metric")[["value", "low", "high", "sensor", "days"]].to_dict("index")
        compare(ledger, {"where": f"{name} {room or ''}"} | got, parts, names)


def unseen_damage(metrics, found):
    """Numbers whose damage is not seen; each was compared at least once, or is named too."""
    names = dict.fromkeys(n for *_, names in found for n in names)
    for metric in names:
        rows = metrics.metric == metric
        for part in ("value", "low", "high"):
            there = rows & metrics[part].notna()
            if not there.any():
                if part == "value" and metric not in MAY_LACK:
                    yield f"{metric} is nowhere"
                continue
            for damage, to in (("moved", metrics.loc[there, part] * (1.01 if metric == AT_DESIGN else 1) + 1e-3), ("lost", np.nan)):
                damaged, seen = metrics.copy(), Ledger()
                damaged.loc[there, part] = to
                hold(seen, damaged, found)
                if seen.count < there.sum():
                    yield f"{metric} {part} {damage}: seen {seen.count} times of {there.sum()}"
        open_ends = rows & metrics.low.notna() & metrics.high.isna()
        if open_ends.any():
            damaged, seen = metrics.copy(), Ledger()
            damaged.loc[open_ends, "high"] = 9.9
            hold(seen, damaged, found)
            if seen.count < open_ends.sum():
                yield f"{metric} with an upper end of its own making: seen {seen.count} times"


def main(argv=None):
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("out", type=Path)
    parse.add_argument("--roster", type=Path, required=True)
    parse.add_argument("--time-zone", required=True)
    parse.add_argument("--design-outdoor", type=float, required=True)
    parse.add_argument("--setback", required=True)
    parse.add_argument("--setback-target", type=float, required=True)
    parse.add_argument("--margin", type=float, default=2.0)
    args = parse.parse_args(argv)
    metrics = pd.read_parquet(args.out / "metrics.parquet")
    metrics = metrics[metrics.slice == "all"]
    ledger, found = Ledger(), list(expected(args, metrics))
    hold(ledger, metrics, found)
    unseen = list(unseen_damage(metrics, found))
    for text in unseen:
        print(f"damage not seen: {text}")
    return ledger.finish() or int(bool(unseen))


if __name__ == "__main__":
    sys.exit(main())
