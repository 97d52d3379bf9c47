"""METRICS.md in Python: written from that page, not from the Rust code.

Section 1 (local days, day and night), 4 (alignment), 5 (room metrics), 6 (evenness between rooms).

A metric is given as parts: {"value": (number, slack), "low": ..., "high": ...}; absent metrics are left out.
`slack` is how far the number moves when every limit moves by `Settings.eps`: the tables hold f32, so a value
that close to a limit may lie on either side of it in the f64 that evenrooms counted.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

HOUR_MS = 3_600_000
TIE_K = 1e-9  # K: closer than this is equal
D2 = dict(zip(range(2, 11), (1.128379, 1.692569, 2.058751, 2.325929, 2.534413, 2.704357, 2.847201, 2.970026, 3.077505)))
DRIFT_MIN = {"15min": 15, "30min": 30, "1h": 60, "2h": 120, "4h": 240}
DRIFT_K = {"C": (1.1, 1.7, 2.2, 2.8, 3.3), "F": tuple(f * 5 / 9 for f in (2, 3, 4, 5, 6))}
DAY_SHARE = 0.75  # of a local day's grid instants
RECOVERY_MS, RECOVERY_K = 6 * HOUR_MS, 0.5
DEFAULT_U_K = 0.5
LAG_SHARES, LAG_REACH_MS = (0.7, 1.3), 10 * 60_000


@dataclass(frozen=True)
class Settings:
    """What the site file settles; clock times are minutes after local midnight, limits in degC."""

    step_ms: int
    zone: str
    night: tuple = (22 * 60, 6 * 60)
    band: tuple | None = None
    night_band: tuple | None = None
    setback: tuple | None = None
    setback_target: float | None = None
    units: str = "C"
    spread_limit: float = 2.2
    eps: float = 1e-5


# --- section 4: alignment ---


def align(t, x, step_ms, max_gap_ms):
    """Grid instants and values of one logger (`instant` method): rising `t` in ms, usable readings `x` only."""
    if len(t) == 0:
        return np.array([], dtype="int64"), np.array([])
    grid = np.arange(-(-t[0] // step_ms), t[-1] // step_ms + 1) * step_ms
    before = np.searchsorted(t, grid, side="right") - 1
    after = np.minimum(before + 1, len(t) - 1)
    exact = t[before] == grid
    gap = np.where(exact, 1, t[after] - t[before])
    between = x[before] + (x[after] - x[before]) * ((grid - t[before]) / gap)
    kept = exact | (gap <= max_gap_ms)
    return grid[kept], np.where(exact, x[before], between)[kept]


# --- section 1: one home on the grid, local days, slices ---


def in_window(local, window):
    """Whether each local time lies in the half-open window, which may pass midnight."""
    minute = local.hour * 60 + local.minute
    start, end = window
    inside = (minute >= start) & (minute < end) if start <= end else (minute >= start) | (minute < end)
    return np.asarray(inside)


def local_days(local):
    return local.tz_localize(None).to_numpy().astype("datetime64[D]").astype("int64")


RECORD_ENDS_MS = 24 * HOUR_MS  # a hole of this length ends the record of a room


def most_record(series, step):
    """First and last instant at which at least half of the rooms record; where never so many do, at which most do."""
    changes = {}
    rooms = [t for t, _ in series.values() if len(t)]
    for t in rooms:
        ends = np.flatnonzero(np.diff(t) > RECORD_ENDS_MS + step)
        for a, b in zip(np.r_[0, ends + 1], np.r_[ends, len(t) - 1]):
            changes[t[a]] = changes.get(t[a], 0) + 1
            changes[t[b] + step] = changes.get(t[b] + step, 0) - 1
    times = np.array(sorted(changes))
    counts = np.cumsum([changes[t] for t in times])
    enough = min(-(-len(rooms) // 2), counts.max())
    there = np.flatnonzero(counts >= enough)
    return times[there[0]], times[there[-1] + 1] - step


class Home:
    """The aligned rooms of one home while most of them record (`most_record`); missing is NaN."""

    def __init__(self, series, settings):
        step = settings.step_ms
        first, last = most_record(series, step)
        self.settings = settings
        self.t = np.arange(first, last + step, step)
        self.x = {}
        for room, (t, x) in series.items():
            self.x[room] = np.full(len(self.t), np.nan)
            here = (t >= first) & (t <= last)
            self.x[room][(t[here] - first) // step] = x[here]
        wide = np.arange(first - 26 * HOUR_MS, last + 26 * HOUR_MS + step, step)  # every local day met, whole
        local = pd.DatetimeIndex(pd.to_datetime(wide, unit="ms", utc=True)).tz_convert(settings.zone)
        days, night = local_days(local), in_window(local, settings.night)
        inside = (wide >= first) & (wide <= last)
        self.day = days[inside]
        self.slices, self.whole_day = {}, {}
        for name, mask in (("all", np.ones(len(wide), bool)), ("day", ~night), ("night", night)):
            self.slices[name] = mask[inside]
            self.whole_day[name] = np.bincount(days[mask] - days[0], minlength=days[-1] - days[0] + 1)[self.day - days[0]]
        self.lower, self.upper = self._limits(night[inside])

    def _limits(self, night):
        band, at_night = self.settings.band, self.settings.night_band
        if band is None:
            return None, None
        at_night = at_night or band
        return np.where(night, at_night[0], band[0]), np.where(night, at_night[1], band[1])

    def daily(self, values, slice_name):
        """Values of the slice grouped by local day, days with too few left out (section 5: coverage >= 75 %)."""
        use = self.slices[slice_name] & ~np.isnan(values)
        frame = pd.DataFrame({"day": self.day[use], "x": values[use], "whole": self.whole_day[slice_name][use]})
        days = frame.groupby("day").agg(n=("x", "size"), mean=("x", "mean"), low=("x", "min"), high=("x", "max"), whole=("whole", "first"))
        return days[days.n >= DAY_SHARE * days.whole]


def joined(values, mask, gap=np.nan):
    """The unbroken stretches of `mask` one after another with `gap` between, so that nothing reaches across."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    pieces = []
    for start, end in zip(edges[::2], edges[1::2]):
        pieces += [values[start:end], [gap]]
    return np.concatenate(pieces[:-1]) if pieces else np.array([])


def runs(flags):
    """Lengths of the runs of true."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return edges[1::2] - edges[::2]


def bounded(count, eps):
    """A count and how far it moves when its limit moves by `eps`."""
    value = float(count(0.0))
    return value, max(abs(float(count(eps)) - value), abs(float(count(-eps)) - value))


# --- section 5: room metrics ---


def trail(home, room, placements):
    """How far the air lies from each value: the time constant times the slope over 10 min to either side.

    `placements`: (from, to, time constant in min) of each logger, half-open; the slope never reaches across an edge, and
    where a value is missing on one side it is that of the other side.
    """
    x, step = home.x[room], home.settings.step_ms
    reach = max(1, round(LAG_REACH_MS / step))
    found = np.zeros(len(x))
    for start, end, minutes in placements:
        own = np.flatnonzero((home.t >= start) & (home.t < end))
        for i in own[~np.isnan(x[own])]:
            before, after = max(i - reach, own[0]), min(i + reach, own[-1])
            before, after = (before if not np.isnan(x[before]) else i), (after if not np.isnan(x[after]) else i)
            if after > before:
                found[i] = minutes * 60_000 * (x[after] - x[before]) / ((after - before) * step)
    return found


def room_metrics(home, room, slice_name, u, placed, trails=None):
    """Every section 5 metric of one room and slice; `placed` marks the instants of its placements, `trails` is `trail`."""
    s, mask = home.settings, home.slices[slice_name]
    hour = s.step_ms / HOUR_MS
    y = joined(home.x[room], mask)
    present = y[~np.isnan(y)]
    found = {}
    asked = int((mask & placed).sum())
    if asked:
        found["coverage"] = 100 * len(present) / asked
    if len(present):
        found |= {"mean": present.mean(), "minimum": present.min(), "maximum": present.max()}
        found |= dict(zip(("p05", "median", "p95"), np.quantile(present, (0.05, 0.5, 0.95))))
        if len(present) > 1:
            found["standard_deviation"] = present.std(ddof=1)
        days = home.daily(home.x[room], slice_name)
        if len(days):
            found["mean_daily_range"] = (days.high - days.low).mean()
    parts = {metric: {"value": (float(value), 0.0)} for metric, value in found.items()}
    if len(present) and s.band:
        trails = joined(np.zeros(len(mask)) if trails is None else trails, mask)
        parts |= band_metrics(y, joined(home.lower, mask), joined(home.upper, mask), u, trails, hour, s.eps)
    return parts | ramp_metrics(home, room, mask, hour)


def band_metrics(y, lower, upper, u, trails, hour, eps):
    """Hours, degree-hours and runs outside the band; `w` widens the finding, -u for low and +u for high.

    `trails` > 0: the air is warmer than it looks, by 0.7 to 1.3 of that; the air lies within u of there, or at y.
    """
    ends = [share * trails for share in LAG_SHARES]
    colder, warmer = y + np.minimum(u, np.minimum(*ends)), y + np.maximum(-u, np.maximum(*ends))
    seen = {0: (y, y), -1: (warmer, colder), 1: (colder, warmer)}

    def below(w, way=0):
        return seen[way][0] < lower + w

    def above(w, way=0):
        return seen[way][1] > upper - w

    def three(count, eps):
        ways = (("value", 0), ("low", -1), ("high", 1))
        return {part: bounded(lambda e: count(e + way * u, way), eps) for part, way in ways}

    parts = {
        "hours_below_band": three(lambda w, way: hour * below(w, way).sum(), eps),
        "hours_above_band": three(lambda w, way: hour * above(w, way).sum(), eps),
        "hours_outside_band": three(lambda w, way: hour * (below(w, way) | above(w, way)).sum(), eps),
        # every cell may be half an f32 step off, the same way: 2e-6 K where eps is 1e-5
        "degree_hours_below": three(lambda w, way: hour * np.nansum(np.maximum(0, lower + w - seen[way][0])), eps / 5),
        "degree_hours_above": three(lambda w, way: hour * np.nansum(np.maximum(0, seen[way][1] - upper + w)), eps / 5),
    }
    share = 100 / (hour * np.count_nonzero(~np.isnan(y)))
    parts["share_outside_band"] = {"value": tuple(share * v for v in parts["hours_outside_band"]["value"])}
    for side, flags in (("below", below), ("above", above)):
        parts[f"longest_{side}_band"] = {"value": bounded(lambda w: hour * max(runs(flags(w)), default=0), eps)}
        near = float(flags(eps).sum() - flags(-eps).sum())
        parts[f"excursions_{side}"] = {"value": (float(len(runs(flags(0.0)))), near)}
    return parts


CATEGORIES = {"i": 21.0, "ii": 20.0, "iii": 18.0, "iv": 17.0}  # EN 16798-1, heating season, up to 25 degC
WINTER = (20.0, 24.0)  # ISO 7730, category B
LIVED_IN = ("living", "bedroom", "kitchen")


def comfort(home, room, u):
    """Shares of the hours within the categories and outside of the winter range, of a heated room to live in, whole time."""
    eps, hour = home.settings.eps, home.settings.step_ms / HOUR_MS
    x = home.x[room][~np.isnan(home.x[room])]
    if not len(x):
        return {}
    share, ways = 100 / len(x), (("low", -u), ("value", 0.0), ("high", u))

    def within(lower, wider):
        value, slack = bounded(lambda e: ((x >= lower - wider - e) & (x <= 25.0 + wider + e)).sum(), eps)
        return share * value, share * slack

    def beyond(wider):
        return np.maximum(WINTER[0] + wider - x, x - WINTER[1] + wider)

    parts = {f"share_category_{n}": {part: within(lower, w) for part, w in ways} for n, lower in CATEGORIES.items()}
    outside = {part: bounded(lambda e: (beyond(w + e) > 0).sum(), eps) for part, w in ways}
    parts["share_outside_winter_range"] = {part: (share * v, share * s) for part, (v, s) in outside.items()}
    hours = {part: bounded(lambda e: hour * np.maximum(0, beyond(w + e)).sum(), eps / 5) for part, w in ways}
    return parts | {"degree_hours_outside_winter_range": hours}


def setback_mask(home, room, shift):
    """Instants that no ramp may use: from setback start until the room is back at the line, or for 6 h of recovery."""
    s, t = home.settings, home.t
    out = np.zeros(len(t), bool)
    if s.setback is None:
        return out
    line = s.setback_target - RECOVERY_K + shift
    days = np.arange(home.day[0] - 2, home.day[-1] + 2)
    start, end = s.setback
    starts = local_to_ms(days, start, s.zone)
    recoveries = local_to_ms(days + (end <= start), end, s.zone)
    for i, j, k in zip(*(np.searchsorted(t, at) for at in (starts, recoveries, recoveries + RECOVERY_MS))):
        back = np.flatnonzero(home.x[room][j:k] >= line)
        out[i : (j + back[0] if len(back) else k)] = True
    return out


def local_to_ms(days, minute, zone):
    """UTC ms of a local clock time on each day; a skipped time moves to the next that exists, of two the first."""
    naive = pd.DatetimeIndex(days.astype("datetime64[D]").astype("datetime64[ms]")) + pd.Timedelta(minutes=minute)
    local = naive.tz_localize(zone, ambiguous=np.ones(len(naive), bool), nonexistent="shift_forward")
    return local.tz_convert("UTC").as_unit("ms").asi8


def ramp_metrics(home, room, mask, hour):
    """max_change_* and hours_over_drift_limit, for the setback line as given and moved by eps either way."""
    s, seen = home.settings, {}
    for shift in (0.0, s.eps, -s.eps) if s.setback else (0.0,):
        out = setback_mask(home, room, shift)
        if out.tobytes() not in seen:
            seen[out.tobytes()] = drift(joined(np.where(out, np.nan, home.x[room]), mask), s, hour)
    first, *others = seen.values()
    parts = {}
    for metric, (value, slack) in first.items():
        slack += max((abs(other.get(metric, (0.0, 0.0))[0] - value) for other in others), default=0.0)
        parts[metric] = {"value": (value, slack)}
    return parts


def drift(y, s, hour):
    """Changes inside windows of floor(L / step) + 1 consecutive present instants."""
    changes, found = {}, {}
    for (name, minutes), limit in zip(DRIFT_MIN.items(), DRIFT_K[s.units]):
        width = minutes * 60_000 // s.step_ms + 1
        if width < 2 or len(y) < width:
            continue
        windows = np.lib.stride_tricks.sliding_window_view(y, width)
        change = windows.max(axis=1) - windows.min(axis=1)
        if not np.isnan(change).all():
            changes[width] = (change, limit)
            if minutes * 60_000 % s.step_ms == 0:
                found[f"max_change_{name}"] = (float(np.nanmax(change)), 0.0)

    def hours_over(shift):
        edge = np.zeros(len(y) + 1, int)
        for width, (change, limit) in changes.items():
            start = np.flatnonzero(change > limit + TIE_K - shift)
            np.add.at(edge, start, 1)
            np.add.at(edge, start + width, -1)
        return hour * (np.cumsum(edge) > 0).sum()

    if changes:
        found["hours_over_drift_limit"] = bounded(hours_over, s.eps)
    return found


# --- section 6: evenness between rooms ---


def home_metrics(home, slice_name, rooms, u, heated=None, apart=frozenset()):
    """{(room, metric): parts}, room "" for the home; `rooms` are all its rooms.

    `heated`: the heated rooms whose record stands, or None (not known); `apart`: rooms whose reference would be two rooms
    surely further apart than the margin, so that they have none.
    """
    s, hour = home.settings, home.settings.step_ms / HOUR_MS
    with_data = [r for r in rooms if r in home.x and not np.isnan(home.x[r][home.slices[slice_name]]).all()]
    parts = {}
    if len(with_data) in D2:
        sigma = np.sqrt(np.mean([(u[r] / 2) ** 2 for r in with_data]))
        parts["", "spread_noise_floor"] = {"value": (float(D2[len(with_data)] * sigma), 0.0)}
    if len(with_data) < 2:
        return parts
    x = np.column_stack([home.x[r] for r in with_data])
    quorum = home.slices[slice_name] & ((~np.isnan(x)).sum(axis=1) >= max(2, len(rooms) - 1))
    if not quorum.any():
        return parts
    spread = np.nanmax(x[quorum], axis=1) - np.nanmin(x[quorum], axis=1)
    for metric, value in zip(("spread_median", "spread_p95", "spread_maximum"), np.quantile(spread, (0.5, 0.95, 1.0))):
        parts["", metric] = {"value": (float(value), 0.0)}
    over, slack = bounded(lambda e: (spread > s.spread_limit + TIE_K - e).sum(), s.eps)
    parts["", "hours_spread_over_limit"] = {"value": (hour * over, hour * slack)}
    parts["", "share_spread_over_limit"] = {"value": (100 * over / len(spread), 100 * slack / len(spread))}
    for metric, sign in (("share_coldest", 1), ("share_warmest", -1)):
        for room, part in zip(with_data, extreme_shares(sign * x[quorum], max(s.eps, TIE_K))):
            parts[room, metric] = {"value": part}
    for room in [r for r in with_data if r not in apart] if heated is not None else []:
        others = [i for i, r in enumerate(with_data) if r in heated and r != room]
        offset = np.full(len(home.t), np.nan)
        use = quorum & (~np.isnan(x[:, others])).any(axis=1) & ~np.isnan(home.x[room])
        offset[use] = home.x[room][use] - np.nanmedian(x[use][:, others], axis=1) if use.any() else 0.0
        days = home.daily(offset, slice_name)
        if len(days):
            parts[room, "offset_from_reference"] = {"value": (float(days["mean"].mean()), 0.0)}
    return parts


def extreme_shares(x, eps):
    """Per column (share of rows where it is the least, ties shared equally; slack for rows decided by under `eps`)."""
    least = np.nanmin(x, axis=1, keepdims=True)
    tied, near = x <= least + TIE_K, x <= least + eps
    open_rows = near.sum(axis=1) != tied.sum(axis=1)
    share = 100 * (tied / tied.sum(axis=1, keepdims=True)).mean(axis=0)
    return [(float(v), float(100 * (open_rows & near[:, i]).mean())) for i, v in enumerate(share)]
