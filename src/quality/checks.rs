//! The tests themselves: plain functions over times and values, each with its edges as published.
//!
//! Values are in °C, NaN where a reading has none; times in milliseconds, rising. Each answer has one flag per reading.

use std::collections::VecDeque;
use std::ops::Range;

use super::Flag;
use crate::site::{GrossRange, Spike, SpikeMethod};
use crate::units::{Celsius, KelvinDiff, KelvinPerHour};

/// Below this, in K, a difference is float noise and no step of a logger.
const NOISE_K: f64 = 1e-4;

/// Gross range: outside the sensor's span fails, outside what a room can be is suspect; a value equal to a limit passes.
///
/// # Source
/// QARTOD manual, gross range test; edges as in ioos_qc 3.0 (`gross_range_test`).
pub fn gross_range(degc: &[f64], limits: &GrossRange) -> Vec<Flag> {
    degc.iter().map(|x| gross_range_of(*x, limits)).collect()
}

/// [`gross_range`] of one value.
pub(super) fn gross_range_of(x: f64, limits: &GrossRange) -> Flag {
    let outside = |(low, high): (Celsius, Celsius)| x < low.degc() || x > high.degc();
    match x {
        x if x.is_nan() => Flag::Missing,
        _ if outside(limits.fail) => Flag::Fail,
        _ if outside(limits.suspect) => Flag::Suspect,
        _ => Flag::Good,
    }
}

/// Spike: how far a reading stands out from its neighbours.
///
/// The first and last reading, and those beside a missing value or further than `reach_ms` from a neighbour, are
/// not evaluated. Limits are strict.
///
/// # Source
/// QARTOD manual, spike test; both methods and edges as in ioos_qc 3.0 (`spike_test`). The reach is our own.
pub fn spike(times_ms: &[i64], degc: &[f64], limits: &Spike, reach_ms: Option<i64>) -> Vec<Flag> {
    (0..degc.len()).map(|i| spike_at(times_ms, degc, i, limits, reach_ms)).collect()
}

/// [`spike`] of one reading.
pub(super) fn spike_at(
    times_ms: &[i64],
    degc: &[f64],
    i: usize,
    limits: &Spike,
    reach_ms: Option<i64>,
) -> Flag {
    if degc[i].is_nan() {
        return Flag::Missing;
    }
    if i == 0 || i + 1 == degc.len() {
        return Flag::NotEvaluated;
    }
    let (before, x, after) = (degc[i - 1], degc[i], degc[i + 1]);
    let far =
        reach_ms.is_some_and(|r| times_ms[i] - times_ms[i - 1] > r || times_ms[i + 1] - times_ms[i] > r);
    if before.is_nan() || after.is_nan() || far {
        return Flag::NotEvaluated;
    }
    let height = match limits.method {
        SpikeMethod::Average => (x - (before + after) / 2.0).abs(),
        SpikeMethod::Differential if (x - before) * (after - x) < 0.0 => {
            (x - before).abs().min((after - x).abs())
        }
        SpikeMethod::Differential => 0.0,
    };
    match height {
        h if h > limits.fail.k() => Flag::Fail,
        h if h > limits.suspect.k() => Flag::Suspect,
        _ => Flag::Good,
    }
}

/// Rate of change: faster than the limit from the reading before is suspect; the flag falls on the later reading.
///
/// The first reading, and one after a missing value, pass. A change of one resolution step never flags, however
/// short the interval (our own addition).
///
/// # Source
/// QARTOD manual, rate of change test; edges as in ioos_qc 3.0 (`rate_of_change_test`).
pub fn rate_of_change(
    times_ms: &[i64],
    degc: &[f64],
    limit: KelvinPerHour,
    resolution: KelvinDiff,
) -> Vec<Flag> {
    (0..degc.len()).map(|i| rate_of_change_at(times_ms, degc, i, limit, resolution)).collect()
}

/// [`rate_of_change`] of one reading.
pub(super) fn rate_of_change_at(
    times_ms: &[i64],
    degc: &[f64],
    i: usize,
    limit: KelvinPerHour,
    resolution: KelvinDiff,
) -> Flag {
    if degc[i].is_nan() {
        return Flag::Missing;
    }
    if i == 0 || degc[i - 1].is_nan() {
        return Flag::Good;
    }
    let change = (degc[i] - degc[i - 1]).abs();
    let hours = (times_ms[i] - times_ms[i - 1]) as f64 / 3_600_000.0;
    let fast = change > resolution.k() + NOISE_K && change > limit.k_per_h() * hours;
    if fast { Flag::Suspect } else { Flag::Good }
}

/// How many intervals of sameness make a reading suspect, and how many make it fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FlatCounts {
    /// Intervals until suspect.
    pub suspect: usize,
    /// Intervals until fail.
    pub fail: usize,
}

/// Flat line: the last `count + 1` readings lie within less than `within` of each other.
///
/// The first `count` readings pass; a missing value is skipped, so that a flat run goes on across it; fewer than three readings pass.
///
/// # Source
/// QARTOD manual, flat line test; window and edges as in ioos_qc 3.0 (`flat_line_test`).
pub fn flat_line(degc: &[f64], counts: FlatCounts, within: KelvinDiff) -> Vec<Flag> {
    let mut flags: Vec<Flag> =
        degc.iter().map(|x| if x.is_nan() { Flag::Missing } else { Flag::Good }).collect();
    if degc.len() < 3 {
        return flags;
    }
    for (count, level) in [(counts.suspect, Flag::Suspect), (counts.fail, Flag::Fail)] {
        for part in where_flat(degc, count, within) {
            for (i, range) in window_ranges(&degc[part.clone()], count) {
                if range < within.k() && flags[part.start + i] != Flag::Missing {
                    flags[part.start + i] = level;
                }
            }
        }
    }
    flags
}

/// The parts of a record outside of which no window of `count + 1` readings is flat.
///
/// Each window holds a whole block of half its length: where no block is flat, no window is, and none is looked at.
fn where_flat(degc: &[f64], count: usize, within: KelvinDiff) -> Vec<Range<usize>> {
    let length = count.div_ceil(2).max(1);
    let mut parts: Vec<Range<usize>> = Vec::new();
    for (number, block) in degc.chunks_exact(length).enumerate() {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for x in block {
            low = if *x < low { *x } else { low };
            high = if *x > high { *x } else { high };
        }
        if high - low < within.k() {
            let (start, end) = (number * length, (number + 1) * length);
            let part = end.saturating_sub(count + 1)..(start + count + 1).min(degc.len());
            match parts.last_mut() {
                Some(last) if part.start <= last.end => last.end = part.end,
                _ => parts.push(part),
            }
        }
    }
    parts
}

/// [`flat_line`], with the whole run marked and not only its end: the first hours of a stuck logger are stuck too.
pub fn flat_line_whole_run(degc: &[f64], counts: FlatCounts, within: KelvinDiff) -> Vec<Flag> {
    let ends = flat_line(degc, counts, within);
    let is_flat = |flag: &Flag| matches!(flag, Flag::Suspect | Flag::Fail);
    if !ends.iter().fold(false, |any, flag| any | is_flat(flag)) {
        return ends;
    }
    let mut flags = ends.clone();
    for (count, level) in [(counts.suspect, Flag::Suspect), (counts.fail, Flag::Fail)] {
        let mut marked_from = flags.len();
        for i in (0..ends.len()).rev().filter(|i| ends[*i] >= level && ends[*i] != Flag::Missing) {
            let from = i.saturating_sub(count);
            for flag in flags[from..i.min(marked_from)].iter_mut().filter(|f| **f < level) {
                *flag = level;
            }
            marked_from = from;
        }
    }
    flags
}

/// Max − min of each window of `count + 1` readings, with the index of its last; windows of missing values alone are left out.
fn window_ranges(degc: &[f64], count: usize) -> impl Iterator<Item = (usize, f64)> {
    let (mut highs, mut lows): (VecDeque<usize>, VecDeque<usize>) = (VecDeque::new(), VecDeque::new());
    (0..degc.len()).filter_map(move |i| {
        let x = degc[i];
        if !x.is_nan() {
            while highs.back().is_some_and(|j| degc[*j] <= x) {
                highs.pop_back();
            }
            while lows.back().is_some_and(|j| degc[*j] >= x) {
                lows.pop_back();
            }
            highs.push_back(i);
            lows.push_back(i);
        }
        while highs.front().is_some_and(|j| j + count < i) {
            highs.pop_front();
        }
        while lows.front().is_some_and(|j| j + count < i) {
            lows.pop_front();
        }
        let (high, low) = (*highs.front()?, *lows.front()?);
        (i >= count).then(|| (i, degc[high] - degc[low]))
    })
}

/// Gap: more than the limit passed since the reading before; the flag falls on the reading after the gap.
///
/// DIFFERS from ioos_qc in one place: the first reading is not evaluated (there it copies the second's flag).
///
/// # Source
/// ioos_qc 3.0 (`time_gap_test`), after the QARTOD manual's timing/gap test.
pub fn gap(times_ms: &[i64], longer_than_ms: i64) -> Vec<Flag> {
    (0..times_ms.len()).map(|i| gap_at(times_ms, i, longer_than_ms)).collect()
}

/// [`gap`] of one reading.
pub(super) fn gap_at(times_ms: &[i64], i: usize, longer_than_ms: i64) -> Flag {
    match i.checked_sub(1) {
        None => Flag::NotEvaluated,
        Some(before) if times_ms[i] - times_ms[before] > longer_than_ms => Flag::Fail,
        Some(_) => Flag::Good,
    }
}

/// The logger's resolution: the smallest change from one reading to the next; 0 when nothing ever changed.
pub fn resolution(degc: &[f64]) -> KelvinDiff {
    // Several side by side, so that none waits for the one before.
    let mut smallest = [f64::INFINITY; 8];
    let later = degc.get(1..).unwrap_or_default();
    for (from, to) in degc.chunks(smallest.len()).zip(later.chunks(smallest.len())) {
        for ((smallest, from), to) in smallest.iter_mut().zip(from).zip(to) {
            let change = (to - from).abs();
            let change = if change > NOISE_K { change } else { f64::INFINITY };
            *smallest = if change < *smallest { change } else { *smallest };
        }
    }
    let smallest = smallest.into_iter().fold(f64::INFINITY, f64::min);
    KelvinDiff::new(if smallest.is_finite() { smallest } else { 2.0 * NOISE_K })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_nothing_out() {
        assert!(gap(&[], 1).is_empty());
        assert!(
            spike(
                &[],
                &[],
                &Spike {
                    suspect: KelvinDiff::new(1.0),
                    fail: KelvinDiff::new(2.0),
                    method: SpikeMethod::Average
                },
                None
            )
            .is_empty()
        );
        assert_eq!(
            flat_line(&[20.0, 20.0], FlatCounts { suspect: 2, fail: 3 }, KelvinDiff::new(0.1)),
            [Flag::Good, Flag::Good]
        );
    }

    #[test]
    fn looking_only_where_a_record_may_be_flat_misses_nothing() {
        let value = |i: usize| match i % 97 {
            0..40 => f64::from(u8::try_from(i / 97 % 7).unwrap()),
            40..44 => f64::NAN,
            k => (k * 31 % 17) as f64,
        };
        let x: Vec<f64> = (0..2000).map(value).collect();
        for count in [2, 3, 10, 35, 38, 39, 40, 43, 44, 60] {
            let within = KelvinDiff::new(0.5);
            let everywhere: Vec<usize> =
                window_ranges(&x, count).filter(|(_, range)| *range < 0.5).map(|(i, _)| i).collect();
            let parts = where_flat(&x, count, within).into_iter();
            let looked_at = parts.flat_map(|p| {
                window_ranges(&x[p.clone()], count)
                    .filter(|(_, range)| *range < 0.5)
                    .map(|(i, _)| i + p.start)
                    .collect::<Vec<_>>()
            });
            assert_eq!(looked_at.collect::<Vec<_>>(), everywhere, "{count}");
        }
    }

    #[test]
    fn one_resolution_step_is_no_fast_change() {
        let times = [0, 10_000, 20_000];
        let flags =
            rate_of_change(&times, &[20.0, 20.5, 22.0], KelvinPerHour::new(30.0), KelvinDiff::new(0.5));
        assert_eq!(flags, [Flag::Good, Flag::Good, Flag::Suspect]);
    }

    #[test]
    fn the_whole_flat_run_is_marked() {
        let x = [18.0, 18.5, 19.0, 20.0, 20.0, 20.0, 20.0, 20.0, 21.0, 20.0, 20.0, 20.0];
        let counts = FlatCounts { suspect: 2, fail: 4 };
        let numbers = |flags: Vec<Flag>| flags.into_iter().map(Flag::number).collect::<Vec<_>>();
        assert_eq!(
            numbers(flat_line(&x, counts, KelvinDiff::new(0.01))),
            [1, 1, 1, 1, 1, 3, 3, 4, 1, 1, 1, 3]
        );
        assert_eq!(
            numbers(flat_line_whole_run(&x, counts, KelvinDiff::new(0.01))),
            [1, 1, 1, 4, 4, 4, 4, 4, 1, 3, 3, 3]
        );
    }
}
