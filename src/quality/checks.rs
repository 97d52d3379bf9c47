//! The tests themselves: plain functions over times and values, each with its edges as published.
//!
//! Values are in °C, NaN where a reading has none; times in milliseconds, rising. Each answer has one flag per reading.
//!
//! Settled here, and why:
//! - **Gap test**: its answer is kept but does not enter the roll-up, because it speaks of the time before a reading.

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
    }

    #[test]
    fn one_resolution_step_is_no_fast_change() {
        let times = [0, 10_000, 20_000];
        let flags =
            rate_of_change(&times, &[20.0, 20.5, 22.0], KelvinPerHour::new(30.0), KelvinDiff::new(0.5));
        assert_eq!(flags, [Flag::Good, Flag::Good, Flag::Suspect]);
    }

    #[test]
    fn a_neighbour_just_within_reach_is_one() {
        let limits =
            Spike { suspect: KelvinDiff::new(1.0), fail: KelvinDiff::new(3.0), method: SpikeMethod::Average };
        let of = |times: [i64; 3]| spike(&times, &[20.0, 22.0, 20.0], &limits, Some(900_000))[1];
        assert_eq!(of([0, 900_000, 1_800_000]), Flag::Suspect);
        assert_eq!(of([0, 900_001, 1_800_000]), Flag::NotEvaluated);
        assert_eq!(of([0, 900_000, 1_800_001]), Flag::NotEvaluated);
    }
}
