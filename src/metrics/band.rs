//! Hours, degree-hours and runs outside the comfort band.

use super::lag::{Lag, margins_k};
use super::min_max_pyramid::{Ends, Part};
use super::runs::{Beyond, Run, Runs};
use super::{Compute, EventKind, Family, Interval, IntervalKind, Measured, Metric, RoomEvent, RoomScope};
use crate::clock::Span;
use crate::site::Band;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Room(band) };

const HOURS: &str = "own definition; hours outside a range as in ISO 7730:2005, annex H, method A";
const DEGREE_HOURS: &str = "own definition; degree-hours as in EN 15251:2007, annex F, method B";
const RUNS: &str = "own definition";

metrics! {
    HOURS_BELOW_BAND = Metric {
        id: "hours_below_band",
        unit: "h",
        definition: "hours with a value below the lower limit of the band; low and high count with the limit moved by the sensor accuracy (certainly, possibly), low without and high with suspect readings, and by how far the room is ahead of its loggers where the roster states `time_constant_min` of each",
        source: HOURS,
    };
    HOURS_ABOVE_BAND = Metric {
        id: "hours_above_band",
        unit: "h",
        definition: "hours with a value above the upper limit of the band; low and high as for hours_below_band",
        source: HOURS,
    };
    HOURS_OUTSIDE_BAND = Metric {
        id: "hours_outside_band",
        unit: "h",
        definition: "hours_below_band plus hours_above_band; low and high count each hour once",
        source: HOURS,
    };
    SHARE_OUTSIDE_BAND = Metric {
        id: "share_outside_band",
        unit: "%",
        definition: "hours_outside_band as a share of the hours observed",
        source: HOURS,
    };
    DEGREE_HOURS_BELOW = Metric {
        id: "degree_hours_below",
        unit: "K·h",
        definition: "sum over the hours of how far the room lies below the lower limit of the band; low and high with the limit moved as for hours_below_band",
        source: DEGREE_HOURS,
    };
    DEGREE_HOURS_ABOVE = Metric {
        id: "degree_hours_above",
        unit: "K·h",
        definition: "sum over the hours of how far the room lies above the upper limit of the band; low and high with the limit moved as for hours_below_band",
        source: DEGREE_HOURS,
    };
    LONGEST_BELOW_BAND = Metric {
        id: "longest_below_band",
        unit: "h",
        definition: "longest unbroken run below the band; a missing value ends a run",
        source: RUNS,
    };
    LONGEST_ABOVE_BAND = Metric {
        id: "longest_above_band",
        unit: "h",
        definition: "longest unbroken run above the band; a missing value ends a run",
        source: RUNS,
    };
    EXCURSIONS_BELOW = Metric {
        id: "excursions_below",
        unit: "1",
        definition: "number of unbroken runs below the band",
        source: RUNS,
    };
    EXCURSIONS_ABOVE = Metric {
        id: "excursions_above",
        unit: "1",
        definition: "number of unbroken runs above the band",
        source: RUNS,
    };
}

/// Steps and degree-steps on one side of the band: as measured, certainly, possibly.
#[derive(Clone, Copy, Default)]
struct Side {
    steps: [usize; 3],
    degree_steps: [f64; 3],
}

impl Side {
    /// `limits`: as stated, and moved against and for the finding.
    #[inline]
    fn add(&mut self, values: &[f64], limits: [f64; 3], beyond: impl Fn(f64, f64) -> f64) {
        for x in values {
            for (k, limit) in limits.iter().enumerate() {
                let beyond_k = beyond(*x, *limit);
                self.steps[k] += usize::from(beyond_k > 0.0);
                self.degree_steps[k] += if beyond_k > 0.0 { beyond_k } else { 0.0 };
            }
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
    let lag = Lag::of(scope);
    let Some(outside) = Outside::of::<RUNS>(scope, lag.as_ref()) else { return };
    let observed = scope.instants_observed() as f64;
    if observed == 0.0 {
        return;
    }
    let kind = match lag {
        Some(_) => IntervalKind::SensorAccuracyAndLag,
        None => IntervalKind::SensorAccuracy,
    };
    report(scope, out, [&outside.below, &outside.above], [observed, outside.possibly as f64], kind);
    if RUNS {
        report_runs(scope, out, &outside.runs_below.done, &BELOW, observed);
        report_runs(scope, out, &outside.runs_above.done, &ABOVE, observed);
    }
}

/// What lies outside the band.
#[derive(Default)]
struct Outside {
    below: Side,
    above: Side,
    possibly: usize,
    runs_below: Runs,
    runs_above: Runs,
}

impl Outside {
    /// In a scope; `None` where it has hours without a band.
    fn of<const RUNS: bool>(scope: &RoomScope<'_>, lag: Option<&Lag<'_>>) -> Option<Self> {
        let (degc, accuracy) = (scope.degc(), scope.accuracy_k());
        let mut outside = Self::default();
        for range in scope.home().ranges() {
            let mut after_hole = true;
            for (hours, band) in scope.bands_in(range) {
                let band = band?;
                for part in scope.blocks().parts(&hours) {
                    let values = &degc[part.at.clone()];
                    match lag {
                        Some(lag) => {
                            outside.add_each(&part, values, band, |i| margins_k(lag.range_k(i), accuracy))
                        }
                        None => outside.add(&part, values, band, margins_k((0.0, 0.0), accuracy)),
                    }
                    if RUNS {
                        outside.go_on(&part, values, band, after_hole);
                        after_hole = values.last().is_some_and(|x| x.is_nan());
                    }
                }
            }
            outside.runs_below.end(true);
            outside.runs_above.end(true);
        }
        if scope.any_suspect() {
            outside.without_suspects(scope);
        }
        Some(outside)
    }

    /// What is certain is certain without suspect readings; as read, and possibly, it is with them.
    fn without_suspects(&mut self, scope: &RoomScope<'_>) {
        let mut suspect = Self::default();
        for range in scope.home().ranges().iter().flat_map(|range| scope.suspect_in(range)) {
            for (hours, band) in scope.bands_in(&range) {
                let Some(band) = band else { continue };
                let margins = margins_k((0.0, 0.0), scope.accuracy_k());
                for part in scope.blocks().parts(&hours) {
                    suspect.add(&part, &scope.degc()[part.at.clone()], band, margins);
                }
            }
        }
        for (side, suspect) in [(&mut self.below, suspect.below), (&mut self.above, suspect.above)] {
            side.steps[1] = side.steps[1].saturating_sub(suspect.steps[1]);
            side.degree_steps[1] = (side.degree_steps[1] - suspect.degree_steps[1]).max(0.0);
        }
    }

    /// Adds values whose margins below and above, in K, are the same.
    fn add(&mut self, part: &Part, values: &[f64], band: Band, (under, over): (f64, f64)) {
        let (lower, upper) = (band.lower.degc(), band.upper.degc());
        let (least, most) = (lower + under, upper - over);
        let (some_below, some_above) = (part.ends.low < least, part.ends.high > most);
        if some_below {
            self.below.add(values, [lower, lower - over, least], |x, limit| limit - x);
        }
        if some_above {
            self.above.add(values, [upper, upper + under, most], |x, limit| x - limit);
        }
        // In a narrow band a value may lie on both sides.
        if some_below || some_above {
            self.possibly += values.iter().map(|x| usize::from((*x < least) | (*x > most))).sum::<usize>();
        }
    }

    /// Adds values of which each has its own margins.
    fn add_each(&mut self, part: &Part, values: &[f64], band: Band, margins: impl Fn(usize) -> (f64, f64)) {
        for (i, x) in part.at.clone().zip(values) {
            let of_one = Part { at: i..i + 1, ends: Ends { low: *x, high: *x }, complete: !x.is_nan() };
            self.add(&of_one, &[*x], band, margins(i));
        }
    }

    fn go_on(&mut self, part: &Part, values: &[f64], band: Band, after_hole: bool) {
        let (lower, upper) = (band.lower.degc(), band.upper.degc());
        self.runs_below.go_on(part, values, &Beyond { limit: lower, by: |x| lower - x }, after_hole);
        self.runs_above.go_on(part, values, &Beyond { limit: upper, by: |x| x - upper }, after_hole);
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
    let [steps_below, steps_above] = [below, above].map(|side| side.steps.map(|steps| steps as f64));
    let outside = [steps_below[0] + steps_above[0], steps_below[1] + steps_above[1], possibly_outside];
    let hours = |steps: [f64; 3]| steps.map(|s| s * h);
    let share = outside.map(|s| 100.0 * s / observed);
    let rows = [
        (&HOURS_BELOW_BAND, hours(steps_below)),
        (&HOURS_ABOVE_BAND, hours(steps_above)),
        (&HOURS_OUTSIDE_BAND, hours(outside)),
        (&SHARE_OUTSIDE_BAND, share),
        (&DEGREE_HOURS_BELOW, hours(below.degree_steps)),
        (&DEGREE_HOURS_ABOVE, hours(above.degree_steps)),
    ];
    for (metric, [value, low, high]) in rows {
        out.value_within(room, metric, value, interval(low, high), observed * h);
    }
}

/// The metrics and the events that tell of the runs on one side of the band.
struct RunsToldAs {
    longest: &'static Metric,
    count: &'static Metric,
    kind: EventKind,
}

static BELOW: RunsToldAs =
    RunsToldAs { longest: &LONGEST_BELOW_BAND, count: &EXCURSIONS_BELOW, kind: EventKind::BelowBand };
static ABOVE: RunsToldAs =
    RunsToldAs { longest: &LONGEST_ABOVE_BAND, count: &EXCURSIONS_ABOVE, kind: EventKind::AboveBand };

fn report_runs(scope: &RoomScope<'_>, out: &mut Measured, runs: &[Run], told_as: &RunsToldAs, observed: f64) {
    let (room, h) = (Some(scope.index()), scope.step_h());
    let longest = runs.iter().map(|r| r.at.len()).max().unwrap_or(0);
    out.value(room, told_as.longest, longest as f64 * h, observed * h);
    out.value(room, told_as.count, runs.len() as f64, observed * h);
    let aligned = scope.home().aligned();
    out.events.extend(runs.iter().map(|r| RoomEvent {
        room,
        kind: told_as.kind,
        span: Span { from: aligned.time(r.at.start), to: aligned.time(r.at.end) },
        value: r.extreme,
        limit: r.limit,
        censored: r.censored,
    }));
}
