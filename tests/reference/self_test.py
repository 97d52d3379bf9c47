"""Self-tests of metrics_check.py and flags_check.py: small invented tables, numbers worked out by hand.

METRICS.md sections 1 to 6. Each function either passes or raises; the last part of each list runs the whole
command on tables in a temporary folder, once as they should be and once with each column damaged.
"""

import contextlib
import io
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

import flags_check
import metrics_check
from definitions import HOUR_MS, Home, Settings, align, home_metrics, room_metrics, setback_mask, trail

MINUTE_MS = 60_000
HOURLY = {"A": [19, 19.5, 21, 25], "B": [20, 20, 22, 22]}
NOON = pd.Timestamp("2026-01-10 12:00").value // 1_000_000


def close(got, want, tolerance=1e-9):
    assert abs(got - want) <= tolerance, f"{got!r} is not {want!r}"


def home_of(start, step_min, rooms, **settings):
    s = Settings(step_ms=step_min * MINUTE_MS, **({"zone": "UTC"} | settings))
    t0 = pd.Timestamp(start).value // 1_000_000
    series = {}
    for room, x in rooms.items():
        x = np.array(x, float)
        t = t0 + np.arange(len(x)) * s.step_ms
        series[room] = (t[~np.isnan(x)], x[~np.isnan(x)])
    return Home(series, s)


def room(home, name="A", slice_name="all", u=0.5):
    return room_metrics(home, name, slice_name, u, np.ones(len(home.t), bool))


def value(parts, metric, part="value"):
    return parts[metric][part][0]


def interpolates_within_the_gap_and_never_beyond():
    t = np.array([2, 12, 60, 64]) * MINUTE_MS
    grid, x = align(t, np.array([20.0, 21.0, 30.0, 30.4]), 5 * MINUTE_MS, 30 * MINUTE_MS)
    assert grid.tolist() == [5 * MINUTE_MS, 10 * MINUTE_MS, 60 * MINUTE_MS]
    np.testing.assert_allclose(x, [20.3, 20.8, 30.0], atol=1e-12)
    assert len(align(t, np.array([20.0, 21.0, 30.0, 30.4]), 5 * MINUTE_MS, 48 * MINUTE_MS)[0]) == 12


def degree_hours_of_the_published_toy():
    home = home_of("2026-01-10 10:00", 60, {"A": [19.5] * 3 + [17.0] * 2 + [18.5] * 5}, band=(20.0, 24.0))
    parts = room(home)
    close(value(parts, "degree_hours_below"), 15.0)  # PUBLISHED.md 1.7
    close(value(parts, "hours_below_band"), 10.0)
    close(value(parts, "degree_hours_below", "low"), 10.0)  # limit 19.5: 2 x 2.5 + 5 x 1.0
    close(value(parts, "degree_hours_below", "high"), 20.0)  # limit 20.5: 10 cells, 0.5 K more each


def room_numbers_by_hand():
    parts = room(home_of("2026-01-10 12:00", 60, HOURLY, band=(20.0, 24.0)))
    want = {
        "coverage": 100, "mean": 21.125, "minimum": 19, "maximum": 25, "p05": 19.075, "median": 20.25, "p95": 24.4,
        "standard_deviation": (22.1875 / 3) ** 0.5, "hours_below_band": 2, "hours_above_band": 1, "hours_outside_band": 3,
        "share_outside_band": 75, "degree_hours_below": 1.5, "degree_hours_above": 1, "longest_below_band": 2,
        "longest_above_band": 1, "excursions_below": 1, "excursions_above": 1, "max_change_1h": 4, "max_change_2h": 5.5,
        "hours_over_drift_limit": 3,
    }  # fmt: skip
    assert parts.keys() == want.keys(), parts.keys() ^ want.keys()
    for metric, number in want.items():
        close(value(parts, metric), number)
    assert parts["hours_below_band"]["low"] == (1.0, 1.0)  # 19.5 lies on the moved limit: it is outside the count, but open
    assert parts["hours_outside_band"]["high"][0] == 3.0  # 19, 19.5 and 25


def a_logger_trails_a_rising_room():
    home = home_of("2026-01-10 12:00", 5, {"A": 18.02 + 0.25 * np.arange(24)}, band=(20.0, 24.0))
    trails = trail(home, "A", [(home.t[0], home.t[-1] + 1, 10)])
    np.testing.assert_allclose(trails, 0.5)  # 3 K/h for 10 min
    parts = room_metrics(home, "A", "all", 0.01, np.ones(24, bool), trails)
    for part, steps in (("value", 8), ("low", 6), ("high", 8)):  # 0.66 K more; the reading itself
        close(12 * value(parts, "hours_below_band", part), steps)
    close(12 * value(parts, "hours_above_band", "high"), 2)
    half = home.t[12]
    assert (trail(home, "A", [(home.t[0], half, 10), (half, half + 1, 10)])[12:] == 0).all()


def a_gap_and_the_edge_of_a_slice_end_a_run():
    x = [19.0, 19.0, np.nan, 19.0, 19.0, 19.0]
    parts = room(home_of("2026-01-10 03:00", 60, {"A": x}, band=(20.0, 24.0)))
    close(value(parts, "longest_below_band"), 3)
    close(value(parts, "excursions_below"), 2)
    home = home_of("2026-01-10 20:00", 60, {"A": [19.0] * 12 + [21.0] * 2}, band=(20.0, 24.0), night_band=(16.0, 24.0))
    close(value(room(home), "hours_below_band"), 4)  # 20, 21, 06 and 07 o'clock; the night band holds at night
    close(value(room(home, slice_name="day"), "longest_below_band"), 2)
    close(value(room(home, slice_name="night"), "hours_below_band"), 0)
    assert "max_change_2h" not in room(home_of("2026-01-10 20:00", 60, {"A": [20, 21] + [np.nan] * 8 + [20, 21]}), slice_name="day")


def ramps_and_their_unit_columns():
    x = [20.0, 20.0, 20.0, 20.0, 21.105, 21.105, 21.105, 21.105]
    for units, hours in (("C", 0.5), ("F", 0.0)):  # 1.105 K lies between 1.1 K and 2 degF = 1.111 K
        parts = room(home_of("2026-01-10 12:00", 5, {"A": x}, units=units))
        close(value(parts, "max_change_15min"), 1.105)
        close(value(parts, "hours_over_drift_limit"), hours)  # windows starting at 1, 2 and 3 cover instants 1 to 6


def setbacks_are_left_out_until_the_room_is_back():
    x = np.array([21.0] * 2 + [18.0] * 8 + [19.0, 20.5, 21.0] + [21.0] * 10)
    home = home_of("2026-01-10 20:00", 60, {"A": x}, setback=(22 * 60, 6 * 60), setback_target=21.0)
    assert np.flatnonzero(setback_mask(home, "A", 0.0)).tolist() == list(range(2, 11))  # 20.5 at 07:00 reaches the line
    home.x["A"][11:] = 19.0
    assert np.flatnonzero(setback_mask(home, "A", 0.0)).tolist() == list(range(2, 16))  # 6 h after 06:00


def local_days_of_23_and_25_hours():
    for date, hours, night in (("2026-03-08 18:00", 23, 7), ("2026-11-01 18:00", 25, 9)):
        home = home_of(date, 5, {"A": [20.0] * 3}, zone="America/Chicago")
        assert set(home.whole_day["all"]) == {hours * 12} and set(home.whole_day["night"]) == {night * 12}


def a_day_needs_three_quarters():
    full = home_of("2026-01-10", 60, {"A": [20.0] * 17 + [22.0]})
    close(value(room(full), "mean_daily_range"), 2.0)  # 18 of 24 hours
    assert "mean_daily_range" not in room(home_of("2026-01-10", 60, {"A": [20.0] * 16 + [22.0]}))


def evenness_by_hand():
    u = {"A": 0.5, "B": 0.5}
    parts = home_metrics(home_of("2026-01-10 12:00", 60, HOURLY), "all", ["A", "B"], u)
    want = {"spread_median": 1.0, "spread_p95": 2.7, "spread_maximum": 3.0, "hours_spread_over_limit": 1.0}
    want |= {"share_spread_over_limit": 25.0, "spread_noise_floor": 1.128379 * 0.25}
    for metric, number in want.items():
        close(parts["", metric]["value"][0], number)
    close(parts["A", "share_coldest"]["value"][0], 75)
    close(parts["B", "share_warmest"]["value"][0], 75)
    tied = home_metrics(home_of("2026-01-10 12:00", 60, {"A": [20, 20], "B": [20, 21]}), "all", ["A", "B"], u)
    close(tied["B", "share_coldest"]["value"][0], 25)
    assert ("", "spread_median") not in home_metrics(home_of("2026-01-10 12:00", 60, HOURLY), "all", ["A", "B", "C", "D"], u)


def an_offset_is_against_the_other_heated_rooms():
    home = home_of("2026-01-10", 60, {"A": [21.0] * 24, "B": [20.0] * 24, "C": [18.0] * 24})
    parts = home_metrics(home, "all", ["A", "B", "C"], dict.fromkeys("ABC", 0.5), heated={"A", "B"})
    for name, offset in (("A", 1.0), ("B", -1.0), ("C", -2.5)):
        close(parts[name, "offset_from_reference"]["value"][0], offset)
    hot = home_of("2026-01-10", 60, {"A": [21.0] * 24, "B": [20.0] * 24, "C": [20.5] * 24, "D": [27.0] * 24})
    parts = home_metrics(hot, "all", list("ABCD"), dict.fromkeys("ABCD", 0.5), heated=set("ABCD"))
    for name, offset in (("A", 0.5), ("B", -1.0), ("C", -0.5), ("D", 6.5)):
        close(parts[name, "offset_from_reference"]["value"][0], offset)


def write_tables(out, changed=None):
    """HOURLY as evenrooms' tables, metrics from the definitions checked above.

    `changed` = (table, column, what to add); the column "rows" drops (1) or repeats (-1) one.
    """
    rows = []
    for place, xs in HOURLY.items():
        for i, x in enumerate(xs):
            said = f"gross_range=1;spike={2 if i in (0, 3) else 1};rate_of_change=1;gap=2"
            rows.append(("H1", place, f"L{place}", NOON + i * HOUR_MS, x, said, i))
    readings = pd.DataFrame(rows, columns=["home", "room", "logger", "time_utc", "temperature_degc", "tests", "line"])
    readings["flag"] = 1
    series = {("H1", r): (NOON + np.arange(4) * HOUR_MS, np.array(x, float)) for r, x in HOURLY.items()}
    site = metrics_check.Site(series, None, "UTC")
    found, observed = metrics_check.expected(series, site, Settings(60 * MINUTE_MS, "UTC", band=(20.0, 24.0)))
    rows = []
    for (home, place, part, metric), parts in found.items():
        numbers = [parts.get(p, (None,))[0] for p in ("value", "low", "high")]
        rows.append((home, place or None, "whole record", part, metric, *numbers, observed.get((home, place, part), 4.0)))
    counts = {"rows_seen": 5, "rows_kept": 4, "rows_set_aside": 1, "interval_s": 3600}
    columns = ["home", "room", "period", "slice", "metric", "value", "low", "high", "hours_observed"]
    tables = {
        "readings": readings,
        "aligned": readings[["home", "room", "time_utc", "temperature_degc"]].copy(),
        "metrics": pd.DataFrame(rows, columns=columns),
        "loggers": pd.DataFrame({"home": "H1", "room": ["A", "B"], "logger": ["LA", "LB"]} | counts),
    }
    if changed:
        name, column, add = changed
        if column == "rows":
            tables[name] = tables[name][add:] if add > 0 else pd.concat([tables[name], tables[name][add:]])
        else:
            tables[name][column] = tables[name][column].str.replace("=1", "=4") if add is None else tables[name][column] + add
    for name, frame in tables.items():
        if "time_utc" in frame:
            frame["time_utc"] = pd.to_datetime(frame.time_utc, unit="ms", utc=True).astype("datetime64[ms, UTC]")
            frame["temperature_degc"] = frame.temperature_degc.astype("float32")
        frame.to_csv(out / "loggers.csv", index=False) if name == "loggers" else frame.to_parquet(out / f"{name}.parquet")


def outcome(command, changed=None, empty=False):
    with tempfile.TemporaryDirectory() as folder, contextlib.redirect_stdout(io.StringIO()) as printed:
        out = Path(folder)
        write_tables(out, changed)
        if empty:
            for name in ("readings", "aligned", "metrics"):
                pd.read_parquet(out / f"{name}.parquet")[:0].to_parquet(out / f"{name}.parquet")
            (out / "loggers.csv").write_text((out / "loggers.csv").read_text().splitlines()[0] + "\n")
        return command(out), printed.getvalue()


def the_metrics_command_sees_damage():
    def command(out):
        return metrics_check.main([str(out), "--step-min", "60", "--band-lower", "20", "--band-upper", "24"])

    code, printed = outcome(command)
    assert code == 0 and "mean: 4 rows, max difference 0" in printed, printed
    damage = [("metrics", column, 0.1) for column in ("value", "low", "high", "hours_observed")]
    damage += [(name, "temperature_degc", 1e-4) for name in ("readings", "aligned")]
    damage += [("aligned", "time_utc", HOUR_MS), ("loggers", "rows_seen", 1), ("loggers", "rows_kept", -1)]
    damage += [(name, "rows", add) for name in ("readings", "aligned", "metrics") for add in (1, -1)]
    for changed in damage:
        code, printed = outcome(command, changed)
        assert code == 1 and "differences, the first" in printed, (changed, printed)
    code, printed = outcome(command, empty=True)
    assert code == 1 and "nothing was compared" in printed, printed


def the_flags_command_sees_damage():
    def command(out):
        return flags_check.main([str(out), "--resolution-from-data"])

    code, printed = outcome(command)
    assert code == 0 and "spike: 8 rows" in printed and "flag: 8 rows" in printed, printed
    for changed in (("readings", "flag", 1), ("readings", "temperature_degc", 60), ("readings", "tests", None)):
        assert outcome(command, changed)[0] == 1, changed
    assert outcome(command, empty=True)[0] == 1


def ioos_qc_still_answers_as_published():
    x = [10, 12, 999.99, 13, 15, 40, 9, 9]  # PUBLISHED.md 4.2
    assert flags_check.qartod.spike_test(x, 25, 50).tolist() == [2, 4, 4, 4, 1, 3, 1, 2]
    flags = flags_check.qartod.gross_range_test([0, 5, 1, 4, -0.001, 5.001, 0.5, np.nan], (0, 5), (1, 4))
    assert flags.tolist() == [3, 3, 1, 1, 4, 4, 3, 9]
    said = flags_check.results(pd.Series(["gross_range=1;spike=3", "gross_range=4;gap=2"]))
    assert {k: v.tolist() for k, v in said.items()} == {"gross_range": [1, 4], "spike": [3, 0], "gap": [0, 2]}
    close(flags_check.resolution_of(np.array([20.0, 20.5, np.nan, 21.5, 20.0])), 0.5)


def meant_differences_are_counted():
    t = np.array([0, 30, 60, 90, 600, 630]) * 1000  # a 0.5 K logger every 30 s, 60 K/h per step, and a gap
    rows = pd.DataFrame({"time_utc": t, "temperature_degc": [20, 20.5, 20.5, 21.5, 40, 40], "flag": 1})
    for third, differences in (("3", 0), ("1", 1)):  # the change of 1 K at 90 s must be flagged
        rows["tests"] = [f"spike={a};rate_of_change={b}" for a, b in zip("211222", "111" + third + "21")]
        ledger, s = flags_check.Ledger(), flags_check.Series(rows, 30, "H1/A/L")
        flags_check.check_rate(ledger, s, flags_check.resolution_of(s.x))
        flags_check.check_spike(ledger, s)
        assert ledger.count == differences, ledger.first
        assert sorted(ledger.allowed.values()) == [1, 1, 2], ledger.allowed


def run(tests):
    for test in tests:
        test()
        print(f"passed: {test.__name__.replace('_', ' ')}")
    return 0


def metrics():
    """What `metrics_check.py --self-test` runs."""
    return run([
        interpolates_within_the_gap_and_never_beyond, degree_hours_of_the_published_toy, room_numbers_by_hand, a_logger_trails_a_rising_room,
        a_gap_and_the_edge_of_a_slice_end_a_run, ramps_and_their_unit_columns, setbacks_are_left_out_until_the_room_is_back,
        local_days_of_23_and_25_hours, a_day_needs_three_quarters, evenness_by_hand,
        an_offset_is_against_the_other_heated_rooms, the_metrics_command_sees_damage,
    ])  # fmt: skip


def flags():
    """What `flags_check.py --self-test` runs."""
    return run([ioos_qc_still_answers_as_published, meant_differences_are_counted, the_flags_command_sees_damage])
