//! How fast a room's temperature changes, outside setbacks.

use std::ops::Range;

use super::scope::{clip, complement};
use super::{Compute, FLOAT_NOISE_K, Family, Interval, IntervalKind, Measured, Metric, RoomScope};
use crate::clock::{HOUR_MS, Span};
use crate::stats::Windows;
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
    let limits = limits_k(scope.home().site().units);
    let accuracy = scope.accuracy_k();
    let mut windows: [Option<(f64, usize)>; 5] = [None; 5];
    let mut over = [0; 3];
    let mut measurable = 0;
    for stretch in stretches(scope) {
        let mut of_stretch = Windows::new(&scope.degc()[stretch.clone()]);
        let mut marks = Marks::new(stretch.len());
        for ((minutes, limit), window) in WINDOWS_MIN.into_iter().zip(limits).zip(&mut windows) {
            let steps = (minutes * 60_000 / aligned.step_ms()) as usize;
            if steps == 0 || stretch.len() <= steps {
                continue;
            }
            of_stretch.widen(steps + 1);
            let changes: Vec<f64> = of_stretch.changes().collect();
            let largest = highest(&changes);
            let (so_far, counted) = window.unwrap_or((largest, 0));
            *window = Some((so_far.max(largest), counted + stretch.len()));
            for (bit, moved) in [0.0, accuracy, -accuracy].into_iter().enumerate() {
                marks.mark(bit, steps + 1, &changes, limit + moved + FLOAT_NOISE_K);
            }
        }
        for (bit, over) in over.iter_mut().enumerate() {
            *over += marks.count(bit);
        }
    }
    for (metric, (largest, counted)) in METRICS.iter().zip(windows).filter_map(|(m, w)| Some((m, w?))) {
        measurable = measurable.max(counted);
        out.value(Some(scope.index()), metric, largest, counted as f64 * scope.step_h());
    }
    if measurable > 0 {
        let [value, low, high] = over.map(|instants| instants as f64 * scope.step_h());
        let interval = Interval { low, high, kind: IntervalKind::SensorAccuracy };
        let observed = measurable as f64 * scope.step_h();
        out.value_within(Some(scope.index()), &METRICS[5], value, interval, observed);
    }
}

/// Windows that are looked at together.
const TOGETHER: usize = 64;

fn highest(changes: &[f64]) -> f64 {
    changes.iter().fold(f64::NEG_INFINITY, |high, x| if *x > high { *x } else { high })
}

/// Instants of a stretch that lie in a window over its limit, one bit per limit.
struct Marks(Vec<u8>);

impl Marks {
    fn new(len: usize) -> Self {
        Self(vec![0; len])
    }

    /// Marks the instants of every window, `width` of them, with a change over the limit.
    fn mark(&mut self, bit: usize, width: usize, changes: &[f64], limit: f64) {
        let mut marked_to = 0;
        for (number, some) in changes.chunks(TOGETHER).enumerate() {
            // Most windows are far from any limit.
            if highest(some) <= limit {
                continue;
            }
            for (k, _) in some.iter().enumerate().filter(|(_, change)| **change > limit) {
                let at = number * TOGETHER + k;
                for mark in &mut self.0[marked_to.max(at)..at + width] {
                    *mark |= 1 << bit;
                }
                marked_to = at + width;
            }
        }
    }

    fn count(&self, bit: usize) -> usize {
        self.0.iter().filter(|mark| **mark & 1 << bit != 0).count()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlapping_windows_count_once() {
        let mut marks = Marks::new(12);
        let over = |at: &[usize]| (0..10).map(|i| f64::from(u8::from(at.contains(&i)))).collect::<Vec<_>>();
        marks.mark(0, 3, &over(&[0, 2, 9]), 0.5);
        marks.mark(1, 2, &over(&[4]), 0.5);
        marks.mark(0, 1, &over(&[1, 6]), 0.5);
        marks.mark(2, 1, &over(&[3]), 1.0);
        assert_eq!((marks.count(0), marks.count(1), marks.count(2)), (9, 2, 0));
    }
}
