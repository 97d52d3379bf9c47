//! Hours, degree-hours and runs outside the comfort band.

use super::lag::{Lag, margins_k};
use super::{Compute, EventKind, Family, Interval, IntervalKind, Measured, Metric, RoomEvent, RoomScope};
use crate::clock::Span;
use crate::site::Band;

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Room(band) };

const HOURS: &str = "own definition; hours outside a range as in ISO 7730:2005, annex H, method A";
const DEGREE_HOURS: &str = "own definition; degree-hours as in EN 15251:2007, annex F, method B";
const RUNS: &str = "own definition";

static METRICS: [Metric; 10] = [
    Metric {
        id: "hours_below_band",
        unit: "h",
        definition: "hours with a value below the lower limit of the band; low and high count with the limit moved by the sensor accuracy (certainly, possibly), and by how far the room is ahead of its loggers where the roster states `time_constant_min` of each",
        source: HOURS,
    },
    Metric {
        id: "hours_above_band",
        unit: "h",
        definition: "hours with a value above the upper limit of the band; low and high as for hours_below_band",
        source: HOURS,
    },
    Metric {
        id: "hours_outside_band",
        unit: "h",
        definition: "hours_below_band plus hours_above_band; low and high count each hour once",
        source: HOURS,
    },
    Metric {
        id: "share_outside_band",
        unit: "%",
        definition: "hours_outside_band as a share of the hours observed",
        source: HOURS,
    },
    Metric {
        id: "degree_hours_below",
        unit: "K·h",
        definition: "sum over the hours of how far the room lies below the lower limit of the band; low and high with the limit moved as for hours_below_band",
        source: DEGREE_HOURS,
    },
    Metric {
        id: "degree_hours_above",
        unit: "K·h",
        definition: "sum over the hours of how far the room lies above the upper limit of the band; low and high with the limit moved as for hours_below_band",
        source: DEGREE_HOURS,
    },
    Metric {
        id: "longest_below_band",
        unit: "h",
        definition: "longest unbroken run below the band; a missing value ends a run",
        source: RUNS,
    },
    Metric {
        id: "longest_above_band",
        unit: "h",
        definition: "longest unbroken run above the band; a missing value ends a run",
        source: RUNS,
    },
    Metric {
        id: "excursions_below",
        unit: "1",
        definition: "number of unbroken runs below the band",
        source: RUNS,
    },
    Metric {
        id: "excursions_above",
        unit: "1",
        definition: "number of unbroken runs above the band",
        source: RUNS,
    },
];

/// Steps and degree-steps on one side of the band: as measured, certainly, possibly.
#[derive(Clone, Copy, Default)]
struct Side {
    steps: [f64; 3],
    degree_steps: [f64; 3],
}

impl Side {
    /// `limits`: as stated, and moved against and for the finding.
    fn add(&mut self, limits: [f64; 3], beyond: impl Fn(f64) -> f64) {
        for (k, limit) in limits.into_iter().enumerate() {
            let beyond_k = beyond(limit);
            if beyond_k > 0.0 {
                self.steps[k] += 1.0;
                self.degree_steps[k] += beyond_k;
            }
        }
    }
}

/// Unbroken runs on one side of the band.
#[derive(Default)]
struct Runs {
    open: Option<Run>,
    done: Vec<Run>,
}

#[derive(Clone, Copy)]
struct Run {
    from: usize,
    to: usize,
    extreme: f64,
    limit: f64,
    deepest: f64,
    censored: bool,
}

impl Runs {
    fn step(&mut self, i: usize, beyond_k: Option<f64>, value: f64, limit: f64, after_hole: bool) {
        let Some(beyond) = beyond_k.filter(|b| *b > 0.0) else { return self.end(beyond_k.is_none()) };
        let run = self.open.get_or_insert(Run {
            from: i,
            to: i,
            extreme: value,
            limit,
            deepest: beyond,
            censored: after_hole,
        });
        run.to = i + 1;
        if beyond > run.deepest {
            (run.extreme, run.limit, run.deepest) = (value, limit, beyond);
        }
    }

    fn end(&mut self, broken_off: bool) {
        if let Some(mut run) = self.open.take() {
            run.censored |= broken_off;
            self.done.push(run);
        }
    }
}

pub(super) fn band(scope: &RoomScope<'_>, out: &mut Measured) {
    by_lag::<true>(scope, out);
}

/// Hours and degree-hours, but no runs: where neighbours in time are not neighbours in the scope.
pub(super) fn without_runs(scope: &RoomScope<'_>, out: &mut Measured) {
    by_lag::<false>(scope, out);
}

fn by_lag<const RUNS: bool>(scope: &RoomScope<'_>, out: &mut Measured) {
    match Lag::of(scope) {
        Some(lag) => count::<RUNS>(scope, out, IntervalKind::SensorAccuracyAndLag, |i| lag.range_k(i)),
        None => count::<RUNS>(scope, out, IntervalKind::SensorAccuracy, |_| (0.0, 0.0)),
    }
}

/// `lag_k`: between which distances from its value the room is at an instant, but for the sensor accuracy.
fn count<const RUNS: bool>(
    scope: &RoomScope<'_>,
    out: &mut Measured,
    kind: IntervalKind,
    lag_k: impl Fn(usize) -> (f64, f64),
) {
    let degc = scope.degc();
    let accuracy = scope.accuracy_k();
    let (mut below, mut above) = (Side::default(), Side::default());
    let (mut runs_below, mut runs_above) = (Runs::default(), Runs::default());
    let (mut observed, mut possibly_outside) = (0.0, 0.0);
    for range in scope.home().ranges() {
        let mut after_hole = true;
        for (part, band) in scope.bands_in(range) {
            let Some(Band { lower, upper }) = band else { return };
            let (lower, upper) = (lower.degc(), upper.degc());
            for (i, x) in part.clone().zip(degc[part].iter().copied()) {
                let here = !x.is_nan();
                let (under, over) = margins_k(lag_k(i), accuracy);
                observed += f64::from(u8::from(here));
                // Nearly all values lie surely inside, where there is nothing to add.
                if x < lower + under || x > upper - over {
                    below.add([lower, lower - over, lower + under], |limit| limit - x);
                    above.add([upper, upper + under, upper - over], |limit| x - limit);
                    possibly_outside += 1.0;
                }
                if RUNS {
                    runs_below.step(i, here.then_some(lower - x), x, lower, after_hole);
                    runs_above.step(i, here.then_some(x - upper), x, upper, after_hole);
                    after_hole = !here;
                }
            }
        }
        runs_below.end(true);
        runs_above.end(true);
    }
    if observed > 0.0 {
        report(scope, out, [&below, &above], [observed, possibly_outside], kind);
    }
    if RUNS && observed > 0.0 {
        report_runs(scope, out, &runs_below.done, 0, EventKind::BelowBand, observed);
        report_runs(scope, out, &runs_above.done, 1, EventKind::AboveBand, observed);
    }
}

fn report(
    scope: &RoomScope<'_>,
    out: &mut Measured,
    [below, above]: [&Side; 2],
    [observed, possibly_outside]: [f64; 2],
    kind: IntervalKind,
) {
    let (room, h) = (Some(scope.index()), scope.step_h());
    let interval = |low: f64, high: f64| Interval { low, high, kind };
    let outside = [below.steps[0] + above.steps[0], below.steps[1] + above.steps[1], possibly_outside];
    let hours = |steps: [f64; 3]| steps.map(|s| s * h);
    let share = outside.map(|s| 100.0 * s / observed);
    let rows = [
        hours(below.steps),
        hours(above.steps),
        hours(outside),
        share,
        hours(below.degree_steps),
        hours(above.degree_steps),
    ];
    for (metric, [value, low, high]) in METRICS.iter().zip(rows) {
        out.value_within(room, metric, value, interval(low, high), observed * h);
    }
}

fn report_runs(
    scope: &RoomScope<'_>,
    out: &mut Measured,
    runs: &[Run],
    side: usize,
    kind: EventKind,
    observed: f64,
) {
    let (room, h) = (Some(scope.index()), scope.step_h());
    let longest = runs.iter().map(|r| r.to - r.from).max().unwrap_or(0);
    out.value(room, &METRICS[6 + side], longest as f64 * h, observed * h);
    out.value(room, &METRICS[8 + side], runs.len() as f64, observed * h);
    let aligned = scope.home().aligned();
    out.events.extend(runs.iter().map(|r| RoomEvent {
        room,
        kind,
        span: Span { from: aligned.time(r.from), to: aligned.time(r.to) },
        value: r.extreme,
        limit: r.limit,
        censored: r.censored,
    }));
}
