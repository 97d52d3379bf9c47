"""Run ioos_qc's QARTOD tests on readings.parquet and compare with what evenrooms says of each reading.

    python flags_check.py OUT_DIR --resolution-from-data
    python flags_check.py --self-test

Checked against METRICS.md section 2: gross range, spike (differential) and rate of change reading by reading, and the
roll-up flag; flat line and place rest on witnesses, of which ioos_qc knows nothing.
Differences that are meant, and are counted in the output:
- spike: a reading further than 2.5 intervals from a neighbour is not evaluated (2); ioos_qc looks at the index only
- rate of change across such a gap, or after a missing reading: either answer is taken
- rate of change: a change of at most one resolution step of the logger is never flagged (--resolution-from-data)
- a value within 1e-4 of a threshold: the table holds f32
Exit code 1 when something else differs or nothing could be compared.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd
from ioos_qc import qartod

from ledger import Ledger
from metrics_check import csv_table, table

FAIL_SPAN, SUSPECT_SPAN = (-40.0, 85.0), (2.0, 40.0)  # degC
SPIKE_SUSPECT, SPIKE_FAIL = 2.0, 3.0  # K
OFTEN_S = 600  # a logger that samples less often has no spike that fails
RATE_K_H = 30.0
GAP_INTERVALS = 2.5
NEAR = 1e-4  # K
KEYS = ["home", "room", "logger"]


def results(tests):
    """One array per test name from the `tests` column; 0 where the text does not name the test."""
    codes, texts = pd.factorize(tests)
    parsed = [dict(part.split("=") for part in text.split(";") if part) for text in texts]
    names = dict.fromkeys(name for one in parsed for name in one)
    return {name: np.array([int(one.get(name, 0)) for one in parsed], dtype="uint8")[codes] for name in names}


def resolution_of(x):
    """Smallest difference between two different values of a logger, K; 0 when it has only one value."""
    steps = np.diff(np.unique(x[~np.isnan(x)]))
    steps = steps[steps > NEAR]
    return float(steps.min()) if len(steps) else 0.0


class Series:
    """The readings of one logger in one room, in time order."""

    def __init__(self, rows, interval_s, place):
        self.place, self.interval_s = place, interval_s
        self.t = rows.time_utc.to_numpy()
        self.x = rows.temperature_degc.to_numpy(dtype=float)
        self.flag = rows.flag.to_numpy()
        self.said = results(rows.tests)
        step = np.diff(self.t) / 1000
        self.far = np.r_[False, step > GAP_INTERVALS * interval_s] if interval_s > 0 else np.zeros(len(self.t), bool)
        self.step_s = np.r_[np.nan, step]
        self.change = np.r_[np.nan, np.abs(np.diff(self.x))]

    def judge(self, ledger, test, want, near, reasons=()):
        """Compare one test; `reasons` are (text, rows) of differences that are meant, in order."""
        got = self.said.get(test)
        if got is None:
            return
        open_rows = (got != want) & (got != 0)
        for text, rows in (*reasons, (f"{test}: within {NEAR} of a threshold", near)):
            meant = open_rows & rows
            ledger.allow(text, meant.sum())
            open_rows &= ~meant
        where = np.flatnonzero((got != 0) & ((got == want) | open_rows))
        ledger.compare(test, got[where], want[where], 0, lambda i: self.where(where[i]))

    def where(self, i):
        return f"{self.place} {pd.Timestamp(self.t[i], unit='ms')} {self.x[i]!r} degC"


def check_gross_range(ledger, s):
    want = qartod.gross_range_test(s.x, FAIL_SPAN, SUSPECT_SPAN).filled(0)
    near = np.min([np.abs(s.x - limit) for limit in (*FAIL_SPAN, *SUSPECT_SPAN)], axis=0) < NEAR
    # Readings in the wrong unit fail as a whole: told from the other rooms, which this test does not know.
    whole = np.full(len(s.x), (s.said.get("gross_range", want) == 4)[~np.isnan(s.x)].all())
    s.judge(ledger, "gross_range", want, near, (("gross_range: a whole logger in another unit", whole),))


def check_spike(ledger, s):
    want = qartod.spike_test(s.x, SPIKE_SUSPECT, SPIKE_FAIL, method="differential").filled(0)
    if s.interval_s > OFTEN_S:
        want = np.where(want == 4, 3, want)
    apart = np.full(len(s.x), np.nan)
    before, after = np.abs(s.x[1:-1] - s.x[:-2]), np.abs(s.x[2:] - s.x[1:-1])
    apart[1:-1] = np.minimum(before, after)
    near = np.minimum(np.abs(apart - SPIKE_SUSPECT), np.abs(apart - SPIKE_FAIL)) < NEAR
    lonely = (s.far | np.r_[s.far[1:], False]) & ~np.isnan(s.x)
    if "spike" in s.said:
        ledger.allow("spike: a neighbour is further than 2.5 intervals away, 2 is asked for", (lonely & (want != 2)).sum())
    s.judge(ledger, "spike", np.where(lonely, 2, want), near & ~lonely)


def check_rate(ledger, s, resolution):
    limit = RATE_K_H / 3600
    want = qartod.rate_of_change_test(s.x, s.t.astype("datetime64[ms]"), limit).filled(0)
    low, high = limit * np.floor(s.step_s), limit * s.step_s  # ioos_qc counts whole seconds
    near = (s.change >= low - NEAR) & (s.change <= high + NEAR)
    said = s.said.get("rate_of_change", want)
    one_step = (s.change <= resolution + NEAR) & (want == 3) & (said == 1)
    after = (s.far | np.r_[False, np.isnan(s.x[:-1])]) & ~np.isnan(s.x)
    reasons = (("rate_of_change: at most one resolution step", one_step), ("rate_of_change: across a gap", after))
    s.judge(ledger, "rate_of_change", want, near, reasons)


def check_roll_up(ledger, s):
    """4 > 3 > 1 > 2 > 9 over every test but gap; a missing reading is 9."""
    said = [np.where(flags == 0, 9, flags) for name, flags in s.said.items() if name != "gap"]
    if not said:
        return
    want = np.where(np.isnan(s.x), 9, qartod.qartod_compare(said))
    ledger.compare("flag", s.flag, want, 0, s.where)
    odd = [~np.isin(flags, (0, 1, 2, 3, 4, 9)) for flags in s.said.values()]
    ledger.compare("codes other than 1 2 3 4 9", np.sum(odd), 0, 0, lambda i: s.place)


def check(out, ledger, resolution_from_data):
    readings, loggers = table(out, "readings"), csv_table(out / "loggers.csv")
    interval = loggers.groupby(KEYS).interval_s.max()
    for key, rows in readings.groupby(KEYS, sort=False):
        s = Series(rows.sort_values("time_utc"), interval.get(key, np.nan), "/".join(key))
        check_gross_range(ledger, s)
        check_spike(ledger, s)
        check_rate(ledger, s, resolution_of(s.x) if resolution_from_data else 0.0)
        check_roll_up(ledger, s)
    for test in ("gross_range", "spike", "rate_of_change", "flag"):
        if not ledger.families.get(test, (0,))[0]:
            ledger.difference(test, "no row could be compared")


def main(argv=None):
    parse = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parse.add_argument("out", nargs="?", type=Path)
    parse.add_argument("--resolution-from-data", action="store_true", help="take the logger's step from its own values")
    parse.add_argument("--self-test", action="store_true")
    args = parse.parse_args(argv)
    if args.self_test:
        import self_test

        return self_test.flags()
    if args.out is None:
        parse.error("OUT_DIR is missing")
    ledger = Ledger()
    check(args.out, ledger, args.resolution_from_data)
    return ledger.finish()


if __name__ == "__main__":
    sys.exit(main())
