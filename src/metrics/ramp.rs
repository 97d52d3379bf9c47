//! How fast a room's temperature changes, outside setbacks.

use std::collections::VecDeque;
use std::ops::Range;

use super::scope::{clip, complement};
use super::{Compute, FLOAT_NOISE_K, Family, Interval, IntervalKind, Measured, Metric, RoomScope};
use crate::clock::{HOUR_MS, Span};
use crate::units::TemperatureUnit;

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Room(ramps) };

const ASHRAE_55: &str = "windows of the temperature drifts and ramps of ANSI/ASHRAE 55 (table of limits, from memory: 1.1, 1.7, 2.2, 2.8, 3.3 K or 2, 3, 4, 5, 6 °F in 0.25, 0.5, 1, 2, 4 h), written for operative temperature that the occupant does not control: a guide";

const fn window(id: &'static str, definition: &'static str) -> Metric {
    Metric { id, unit: "K", definition, source: ASHRAE_55 }
}

static METRICS: [Metric; 6] = [
    window(
        "max_change_15min",
        "largest highest-minus-lowest value inside any 15 min without a missing value, setbacks and the recovery from them left out",
    ),
    window(
        "max_change_30min",
        "largest highest-minus-lowest value inside any 30 min without a missing value, setbacks and the recovery from them left out",
    ),
    window(
        "max_change_1h",
        "largest highest-minus-lowest value inside any hour without a missing value, setbacks and the recovery from them left out",
    ),
    window(
        "max_change_2h",
        "largest highest-minus-lowest value inside any 2 h without a missing value, setbacks and the recovery from them left out",
    ),
    window(
        "max_change_4h",
        "largest highest-minus-lowest value inside any 4 h without a missing value, setbacks and the recovery from them left out",
    ),
    Metric {
        id: "hours_over_drift_limit",
        unit: "h",
        definition: "hours of the instants that lie in a window with a change over its limit; low and high with the limits moved by the sensor accuracy",
        source: ASHRAE_55,
    },
];

/// Window lengths in minutes.
const WINDOWS_MIN: [i64; 5] = [15, 30, 60, 120, 240];

/// The limits in K, each unit system by its own (rounded) column.
pub(super) fn limits_k(units: TemperatureUnit) -> [f64; 5] {
    match units {
        TemperatureUnit::Celsius => [1.1, 1.7, 2.2, 2.8, 3.3],
        TemperatureUnit::Fahrenheit => [2.0, 3.0, 4.0, 5.0, 6.0].map(|f| f * 5.0 / 9.0),
    }
}

/// A recovery is over when the room is this close to the target, or after [`RECOVERY_H`].
const RECOVERY_TOLERANCE_K: f64 = 0.5;
const RECOVERY_H: i64 = 6;

fn ramps(scope: &RoomScope<'_>, out: &mut Measured) {
    let aligned = scope.home().aligned();
    let degc = scope.degc();
    let stretches = stretches(scope);
    let limits = limits_k(scope.home().site().units);
    let accuracy = scope.accuracy_k();
    let mut over: [Vec<Range<usize>>; 3] = Default::default();
    let mut measurable = 0;
    for (k, (minutes, limit)) in WINDOWS_MIN.into_iter().zip(limits).enumerate() {
        let steps = (minutes * 60_000 / aligned.step_ms()) as usize;
        let mut largest: Option<f64> = None;
        let mut counted = 0;
        for stretch in stretches.iter().filter(|s| steps > 0 && s.len() > steps) {
            counted += stretch.len();
            changes(&degc[stretch.clone()], steps, |last, change| {
                largest = Some(largest.map_or(change, |l| l.max(change)));
                let window = stretch.start + last - steps..stretch.start + last + 1;
                for (over, moved) in over.iter_mut().zip([0.0, accuracy, -accuracy]) {
                    if change > limit + moved + FLOAT_NOISE_K {
                        over.push(window.clone());
                    }
                }
            });
        }
        measurable = measurable.max(counted);
        if let Some(largest) = largest {
            out.value(Some(scope.index()), &METRICS[k], largest, counted as f64 * scope.step_h());
        }
    }
    if measurable > 0 {
        let [value, low, high] = over.map(|ranges| covered(ranges) as f64 * scope.step_h());
        let interval = Interval { low, high, kind: IntervalKind::SensorAccuracy };
        out.value_within(
            Some(scope.index()),
            &METRICS[5],
            value,
            interval,
            measurable as f64 * scope.step_h(),
        );
    }
}

/// Unbroken stretches of values, setbacks and their recovery left out.
fn stretches(scope: &RoomScope<'_>) -> Vec<Range<usize>> {
    let degc = scope.degc();
    let left_out = setbacks(scope);
    let kept = complement(&left_out, degc.len());
    let mut stretches = Vec::new();
    for range in scope.home().ranges().iter().flat_map(|r| clip(&kept, r)) {
        let mut from = None;
        for i in range.clone() {
            match (degc[i].is_nan(), from) {
                (false, None) => from = Some(i),
                (true, Some(start)) => {
                    stretches.push(start..i);
                    from = None;
                }
                _ => {}
            }
        }
        stretches.extend(from.map(|start| start..range.end));
    }
    stretches
}

/// Index ranges of scheduled setbacks, each with the recovery after it; in order, not overlapping.
fn setbacks(scope: &RoomScope<'_>) -> Vec<Range<usize>> {
    let (aligned, degc) = (scope.home().aligned(), scope.degc());
    if aligned.is_empty() {
        return Vec::new();
    }
    let whole = Span { from: aligned.time(0), to: aligned.time(aligned.len()) };
    let mut ranges: Vec<Range<usize>> = Vec::new();
    for night in scope.home().site().setbacks_in(whole) {
        let (from, recovery) = (aligned.index_from(night.span.from), aligned.index_from(night.span.to));
        let latest = aligned.index_from(night.span.to.plus_ms(RECOVERY_H * HOUR_MS));
        let line = night.target.degc() - RECOVERY_TOLERANCE_K - FLOAT_NOISE_K;
        let end = (recovery..latest).find(|i| degc[*i] >= line).unwrap_or(latest);
        match ranges.last_mut() {
            Some(last) if from <= last.end => last.end = last.end.max(end),
            _ => ranges.push(from..end),
        }
    }
    ranges
}

/// Tells the change (highest minus lowest) of each window of `steps + 1` values, with the index of its last.
fn changes(values: &[f64], steps: usize, mut tell: impl FnMut(usize, f64)) {
    let (mut highs, mut lows): (VecDeque<usize>, VecDeque<usize>) = (VecDeque::new(), VecDeque::new());
    for (i, x) in values.iter().enumerate() {
        while highs.back().is_some_and(|j| values[*j] <= *x) {
            highs.pop_back();
        }
        while lows.back().is_some_and(|j| values[*j] >= *x) {
            lows.pop_back();
        }
        highs.push_back(i);
        lows.push_back(i);
        if highs[0] + steps < i {
            highs.pop_front();
        }
        if lows[0] + steps < i {
            lows.pop_front();
        }
        if i >= steps {
            tell(i, values[highs[0]] - values[lows[0]]);
        }
    }
}

/// How many indices lie in at least one of the ranges.
fn covered(mut ranges: Vec<Range<usize>>) -> usize {
    ranges.sort_unstable_by_key(|r| r.start);
    let mut end = 0;
    ranges.into_iter().fold(0, |count, r| {
        let new = r.end.saturating_sub(r.start.max(end));
        end = end.max(r.end);
        count + new
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_find_the_largest_change() {
        let mut seen = Vec::new();
        changes(&[20.0, 20.5, 22.0, 19.0], 2, |last, change| seen.push((last, change)));
        assert_eq!(seen, [(2, 2.0), (3, 3.0)]);
    }

    #[test]
    fn overlapping_windows_count_once() {
        assert_eq!(covered(vec![2..5, 0..3, 10..11]), 6);
    }
}
