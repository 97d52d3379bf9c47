//! How fast a room's temperature changes, outside setbacks.
//!
//! Settled here, and why:
//! - **Setbacks in ramps**: left out from setback start until the room is within 0.5 K of the target, at most 6 h after
//!   the recovery starts.
//! - **Ramp windows** that the step does not divide have no number of their own; a change over the limit in the shorter
//!   window that the grid has is one in the longer window too, and counts among the hours.

use std::ops::Range;

use super::min_max_pyramid::Blocks;
use super::scope::{clip, complement};
use super::{Compute, FLOAT_NOISE_K, Family, Interval, IntervalKind, Measured, Metric, RoomScope};
use crate::clock::{HOUR_MS, Span};
use crate::stats::Windows;
use crate::units::TemperatureUnit;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(ramps) };

const ASHRAE_55: &str = "windows of the temperature drifts and ramps of ANSI/ASHRAE 55 (table of limits, from memory: 1.1, 1.7, 2.2, 2.8, 3.3 K or 2, 3, 4, 5, 6 °F in 0.25, 0.5, 1, 2, 4 h), written for operative temperature that the occupant does not control: a guide";

const fn window(id: &'static str, definition: &'static str) -> Metric {
    Metric { id, unit: "K", definition, source: ASHRAE_55 }
}

metrics! {
    MAX_CHANGE_15MIN = window(
        "max_change_15min",
        "largest highest-minus-lowest value inside any 15 min without a missing value, setbacks and the recovery from them left out; only where the step divides the window",
    );
    MAX_CHANGE_30MIN = window(
        "max_change_30min",
        "largest highest-minus-lowest value inside any 30 min without a missing value, setbacks and the recovery from them left out; only where the step divides the window",
    );
    MAX_CHANGE_1H = window(
        "max_change_1h",
        "largest highest-minus-lowest value inside any hour without a missing value, setbacks and the recovery from them left out",
    );
    MAX_CHANGE_2H = window(
        "max_change_2h",
        "largest highest-minus-lowest value inside any 2 h without a missing value, setbacks and the recovery from them left out",
    );
    MAX_CHANGE_4H = window(
        "max_change_4h",
        "largest highest-minus-lowest value inside any 4 h without a missing value, setbacks and the recovery from them left out",
    );
    HOURS_OVER_DRIFT_LIMIT = Metric {
        id: "hours_over_drift_limit",
        unit: "h",
        definition: "hours of the instants that lie in a window with a change over its limit; low and high with the limits moved by the sensor accuracy",
        source: ASHRAE_55,
    };
}

/// Window lengths in minutes, each with its metric.
const WINDOWS_MIN: [(i64, &Metric); 5] = [
    (15, &MAX_CHANGE_15MIN),
    (30, &MAX_CHANGE_30MIN),
    (60, &MAX_CHANGE_1H),
    (120, &MAX_CHANGE_2H),
    (240, &MAX_CHANGE_4H),
];

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
    let limits = limits_k(scope.home().site().units);
    let stretches = stretches(scope);
    let mut over = [const { Marked(Vec::new()) }; 3];
    let mut measurable = 0;
    for ((minutes, metric), limit) in WINDOWS_MIN.into_iter().zip(limits) {
        let (window_ms, step_ms) = (minutes * 60_000, scope.home().aligned().step_ms());
        let steps = (window_ms / step_ms) as usize;
        let long_enough = stretches.iter().filter(|s| steps > 0 && s.len() > steps);
        let counted: usize = long_enough.clone().map(Range::len).sum();
        if counted == 0 {
            continue;
        }
        let mut change = Change::new(steps, limit, scope.accuracy_k());
        long_enough.for_each(|stretch| change.look(scope.degc(), scope.blocks(), stretch, &mut over));
        measurable = measurable.max(counted);
        // A grid that does not divide the window tells of a shorter one: a change over the limit there is one here too.
        if window_ms % step_ms == 0 {
            out.value(Some(scope.index()), metric, change.largest, counted as f64 * scope.step_h());
        }
    }
    if measurable > 0 {
        let [value, low, high] = over.map(|marked| marked.count() as f64 * scope.step_h());
        let interval = Interval { low, high, kind: IntervalKind::SensorAccuracy };
        let observed = measurable as f64 * scope.step_h();
        out.value_within(Some(scope.index()), &HOURS_OVER_DRIFT_LIMIT, value, interval, observed);
    }
}

/// Windows that are looked at together.
const TOGETHER: usize = 256;

/// The change in windows of one length.
struct Change {
    steps: usize,
    /// The limit in K, and moved by the sensor accuracy against and for the finding.
    limits: [f64; 3],
    largest: f64,
    /// A change up to here matters to nothing: it is over no limit, and not the largest.
    idle: f64,
    windows: Windows,
}

impl Change {
    fn new(steps: usize, limit: f64, accuracy: f64) -> Self {
        let limits = [0.0, accuracy, -accuracy].map(|moved| limit + moved + FLOAT_NOISE_K);
        let none = f64::NEG_INFINITY;
        Self { steps, limits, largest: none, idle: none, windows: Windows::new(&[]) }
    }

    /// Looks at the windows of an unbroken stretch of values, closely only where they may matter.
    fn look(&mut self, degc: &[f64], blocks: &Blocks, stretch: &Range<usize>, over: &mut [Marked; 3]) {
        let mut open = stretch.start..stretch.start;
        let coarse = blocks.changes(self.steps, stretch.start..stretch.end - self.steps, 1);
        for (block, most) in coarse.most() {
            if most <= self.idle {
                continue;
            }
            let fine = blocks.changes(self.steps, coarse.firsts_in(block), 4);
            for (block, most) in fine.most() {
                if most <= self.idle {
                    continue;
                }
                let firsts = fine.firsts_in(block);
                if open.end != firsts.start || open.len() >= TOGETHER {
                    self.look_closely(degc, &open, over);
                    open.start = firsts.start;
                }
                open.end = firsts.end;
            }
        }
        self.look_closely(degc, &open, over);
    }

    /// `firsts`: the first instants of the windows.
    fn look_closely(&mut self, degc: &[f64], firsts: &Range<usize>, over: &mut [Marked; 3]) {
        if firsts.is_empty() {
            return;
        }
        self.windows.start(&degc[firsts.start..firsts.end + self.steps]);
        self.windows.widen(self.steps + 1);
        let highest = |high: f64, change: f64| if change > high { change } else { high };
        let largest = self.windows.changes().fold(f64::NEG_INFINITY, highest);
        self.largest = highest(self.largest, largest);
        let lowest_limit = self.limits.into_iter().fold(f64::INFINITY, f64::min);
        self.idle = lowest_limit.min(self.largest);
        if largest <= lowest_limit {
            return;
        }
        for (first, change) in firsts.clone().zip(self.windows.changes()) {
            for (limit, over) in self.limits.iter().zip(&mut *over) {
                if change > *limit {
                    over.add(first..first + self.steps + 1);
                }
            }
        }
    }
}

/// Instants that lie in a window over its limit, as ranges that may overlap.
struct Marked(Vec<Range<usize>>);

impl Marked {
    fn add(&mut self, window: Range<usize>) {
        match self.0.last_mut() {
            Some(last) if (last.start..=last.end).contains(&window.start) => {
                last.end = last.end.max(window.end);
            }
            _ => self.0.push(window),
        }
    }

    /// How many there are, each counted once.
    fn count(mut self) -> usize {
        self.0.sort_unstable_by_key(|range| range.start);
        let (mut count, mut counted_to) = (0, 0);
        for range in self.0 {
            count += range.end.saturating_sub(range.start.max(counted_to));
            counted_to = counted_to.max(range.end);
        }
        count
    }
}

/// Unbroken stretches of values, setbacks and their recovery left out.
fn stretches(scope: &RoomScope<'_>) -> Vec<Range<usize>> {
    let kept = complement(&setbacks(scope), scope.degc().len());
    let ranges = scope.home().ranges().iter().flat_map(|r| clip(&kept, r));
    ranges.flat_map(|range| scope.blocks().unbroken(&range)).collect()
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
        let count = |windows: &[Range<usize>]| {
            let mut marked = Marked(Vec::new());
            windows.iter().for_each(|window| marked.add(window.clone()));
            marked.count()
        };
        let counts = (count(&[0..3, 2..5, 9..12, 1..2, 6..7]), count(&[4..6, 4..6]), count(&[]));
        assert_eq!(counts, (9, 2, 0));
    }

    #[test]
    fn blocks_pass_over_nothing_that_matters() {
        let calm = |i: usize| ((i * 7919) % 263) as f64 / 1000.0 + (i as f64 / 40.0).sin();
        let degc: Vec<f64> = (0..3000).map(|i| calm(i) + if i % 511 < 9 { 2.5 } else { 0.0 }).collect();
        let blocks = Blocks::of(&degc);
        for stretch in [0..3000, 1..2999, 13..90, 100..113, 1000..1800] {
            for (steps, limit) in [(1, 1.1), (3, 1.1), (12, 2.2), (48, 3.3), (700, 3.3)] {
                if stretch.len() <= steps {
                    continue;
                }
                let mut change = Change::new(steps, limit, 0.5);
                let mut over = [const { Marked(Vec::new()) }; 3];
                change.look(&degc, &blocks, &stretch, &mut over);
                let (mut largest, mut marks) = (f64::NEG_INFINITY, vec![[false; 3]; degc.len()]);
                for first in stretch.start..stretch.end - steps {
                    let window = &degc[first..=first + steps];
                    let (low, high) = window
                        .iter()
                        .fold((9.0, -9.0), |(low, high), x| (f64::min(low, *x), f64::max(high, *x)));
                    largest = f64::max(largest, high - low);
                    for k in (0..3).filter(|k| high - low > change.limits[*k]) {
                        marks[first..=first + steps].iter_mut().for_each(|mark| mark[k] = true);
                    }
                }
                let counts = [0, 1, 2].map(|k| marks.iter().filter(|mark| mark[k]).count());
                assert_eq!((change.largest, over.map(Marked::count)), (largest, counts));
            }
        }
    }
}
