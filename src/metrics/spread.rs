//! How far apart the rooms of a home are at the same instant.

use super::offset::LEAST_DAYS;
use super::together::AtEnd;
use super::{
    Compute, EventKind, FLOAT_NOISE_K, Family, HomeScope, Interval, IntervalKind, Measured, Metric, RoomEvent,
};
use crate::clock::Span;
use crate::stats::{self, DayQuantiles};

pub(super) static FAMILY: Family = Family { metrics: &METRICS, compute: Compute::Home(spread) };

const OWN: &str = "own definition: highest minus lowest room at instants with the quorum (unless the site says otherwise all rooms but one, at least 2)";

const BOOTSTRAP: &str = "own definition: highest minus lowest room at instants with the quorum (unless the site says otherwise all rooms but one, at least 2); interval: H. R. Künsch, Annals of Statistics 17 (1989), blocks of one local day";

static METRICS: [Metric; 8] = [
    Metric {
        id: "spread_median",
        unit: "K",
        definition: "median of the room-to-room spread; from 7 days on low and high are its 95 % interval: whole local days drawn with replacement, 1,000 times, percentiles, widened for days that resemble their neighbours; and, as the root of the sum of squares, what 400 drawn sensor errors do to it, reflected",
        source: BOOTSTRAP,
    },
    Metric {
        id: "spread_p95",
        unit: "K",
        definition: "95th percentile of the room-to-room spread; low and high as for spread_median",
        source: BOOTSTRAP,
    },
    Metric { id: "spread_maximum", unit: "K", definition: "largest room-to-room spread", source: OWN },
    Metric {
        id: "hours_spread_over_limit",
        unit: "h",
        definition: "hours with a room-to-room spread over the site's limit",
        source: OWN,
    },
    Metric {
        id: "share_spread_over_limit",
        unit: "%",
        definition: "hours_spread_over_limit as a share of the hours with a spread",
        source: OWN,
    },
    Metric {
        id: "spread_noise_floor",
        unit: "K",
        definition: "spread to be expected of equally warm rooms from sensor error alone: d2(n) times the root mean square of half the accuracies; a spread under it says nothing about the home",
        source: "control-chart constant d2, NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1",
    },
    Metric {
        id: "share_coldest",
        unit: "%",
        definition: "share of the instants with a spread at which this room is the coldest; rooms that tie share the instant",
        source: OWN,
    },
    Metric {
        id: "share_warmest",
        unit: "%",
        definition: "share of the instants with a spread at which this room is the warmest; rooms that tie share the instant",
        source: OWN,
    },
];

/// Spreads of the instants with a quorum, with their places on the grid, and how often each room was at an end.
struct Spreads {
    values: Vec<f64>,
    at: Vec<usize>,
    coldest: Vec<f64>,
    warmest: Vec<f64>,
    over: Vec<Over>,
}

impl Spreads {
    /// The values of each local day.
    fn by_day(&self, scope: &HomeScope<'_>) -> Vec<&[f64]> {
        let place = |i: usize| self.at.partition_point(|at| *at < i);
        scope.aligned().days().iter().map(|d| &self.values[place(d.from)..place(d.to)]).collect()
    }
}

/// An unbroken run of spreads over the limit.
struct Over {
    from: usize,
    to: usize,
    largest: f64,
    censored: bool,
}

fn spread(scope: &HomeScope<'_>, out: &mut Measured) {
    noise_floor(scope, out);
    let spreads = walk(scope);
    let instants = spreads.values.len() as f64;
    if spreads.values.is_empty() {
        return;
    }
    let h = scope.aligned().step_h();
    let limit = scope.site().spread.limit.k();
    let over = spreads.values.iter().filter(|s| **s > limit + FLOAT_NOISE_K).count() as f64;
    let drawn = DayQuantiles::new(&spreads.by_day(scope));
    let quantile = |p| drawn.quantile(p).unwrap_or_default();
    let quantiles = [quantile(0.5), quantile(0.95)];
    let intervals = intervals(scope, &spreads, &drawn);
    for (k, (metric, value)) in METRICS.iter().zip(quantiles).enumerate() {
        match intervals.map(|i| i[k]) {
            Some(interval) => out.value_within(None, metric, value, interval, instants * h),
            None => out.value(None, metric, value, instants * h),
        }
    }
    let rows = [quantile(1.0), over * h, 100.0 * over / instants];
    for (metric, value) in METRICS[2..].iter().zip(rows) {
        out.value(None, metric, value, instants * h);
    }
    for (room, (coldest, warmest)) in spreads.coldest.iter().zip(&spreads.warmest).enumerate() {
        let seen = scope.room(room).hours_observed();
        if seen > 0.0 {
            out.value(Some(room), &METRICS[6], 100.0 * coldest / instants, instants * h);
            out.value(Some(room), &METRICS[7], 100.0 * warmest / instants, instants * h);
        }
    }
    let aligned = scope.aligned();
    out.events.extend(spreads.over.iter().map(|o| RoomEvent {
        room: None,
        kind: EventKind::SpreadOverLimit,
        span: Span { from: aligned.time(o.from), to: aligned.time(o.to) },
        value: o.largest,
        limit,
        censored: o.censored,
    }));
}

/// Instants at which it is asked what sensor error does.
const SENSOR_INSTANTS: usize = 128;

/// Intervals of median and 95th percentile: over days, and for what the sensors may have done.
fn intervals(scope: &HomeScope<'_>, spreads: &Spreads, drawn: &DayQuantiles) -> Option<[Interval; 2]> {
    if drawn.days() < LEAST_DAYS {
        return None;
    }
    let over_days = drawn.intervals([0.5, 0.95], 1, 0.95)?;
    let by_day = spreads.by_day(scope);
    let typical: Vec<f64> = by_day.iter().filter_map(|d| stats::median(d.to_vec())).collect();
    let widening = stats::widening(&typical, 0.95);
    let every = spreads.at.len().div_ceil(SENSOR_INSTANTS);
    let rooms = scope.rooms().len();
    let rows: Vec<f64> =
        spreads.at.iter().step_by(every).flat_map(|i| (0..rooms).map(|r| scope.degc(r)[*i])).collect();
    let deviations: Vec<f64> = (0..rooms).map(|r| scope.room(r).accuracy_k() / 1.959964).collect();
    let sensors = stats::range_error(&rows, &deviations, [0.5, 0.95]);
    let interval = |k: usize| {
        let value = drawn.quantile([0.5, 0.95][k])?;
        let (low, high) = over_days[k];
        let below = ((value - low) * widening).hypot(sensors[k].0);
        let above = ((high - value) * widening).hypot(sensors[k].1);
        Some(Interval { low: (value - below).max(0.0), high: value + above, kind: IntervalKind::DaysDrawn })
    };
    Some([interval(0)?, interval(1)?])
}

/// Median and hours over the limit, and nothing else.
pub(super) fn without_intervals(scope: &HomeScope<'_>, out: &mut Measured) {
    let spreads = scope.ranges().iter().flat_map(|r| &scope.together().spread()[r.clone()]);
    let values: Vec<f64> = spreads.copied().filter(|s| !s.is_nan()).collect();
    let limit = scope.site().spread.limit.k() + FLOAT_NOISE_K;
    let (h, instants) = (scope.aligned().step_h(), values.len() as f64);
    let over = values.iter().filter(|s| **s > limit).count() as f64;
    if let Some(median) = stats::median(values) {
        out.value(None, &METRICS[0], median, instants * h);
        out.value(None, &METRICS[3], over * h, instants * h);
    }
}

/// n is the number of rooms with a value in the scope.
fn noise_floor(scope: &HomeScope<'_>, out: &mut Measured) {
    let seen: Vec<usize> =
        (0..scope.rooms().len()).filter(|r| scope.room(*r).instants_observed() > 0).collect();
    let Some(factor) = stats::expected_range_factor(seen.len()) else { return };
    let squares: f64 = seen.iter().map(|r| (scope.room(*r).accuracy_k() / 2.0).powi(2)).sum();
    let hours = seen.iter().map(|r| scope.room(*r).hours_observed()).fold(f64::INFINITY, f64::min);
    out.value(None, &METRICS[5], factor * (squares / seen.len() as f64).sqrt(), hours);
}

fn walk(scope: &HomeScope<'_>) -> Spreads {
    let rooms: Vec<&[f64]> = (0..scope.rooms().len()).map(|r| scope.degc(r)).collect();
    let limit = scope.site().spread.limit.k() + FLOAT_NOISE_K;
    let together = scope.together();
    let instants = scope.ranges().iter().map(|r| r.len()).sum();
    let mut found = Spreads {
        values: Vec::with_capacity(instants),
        at: Vec::with_capacity(instants),
        coldest: vec![0.0; rooms.len()],
        warmest: vec![0.0; rooms.len()],
        over: Vec::new(),
    };
    for range in scope.ranges() {
        let mut open: Option<Over> = None;
        let mut after_hole = true;
        for i in range.clone() {
            let spread = together.spread()[i];
            let missing = spread.is_nan();
            if !missing {
                found.values.push(spread);
                found.at.push(i);
                share(together.coldest(i), &rooms, i, &mut found.coldest, f64::min);
                share(together.warmest(i), &rooms, i, &mut found.warmest, f64::max);
            }
            match (spread > limit, &mut open) {
                (true, Some(run)) => (run.to, run.largest) = (i + 1, run.largest.max(spread)),
                (true, None) => {
                    open = Some(Over { from: i, to: i + 1, largest: spread, censored: after_hole });
                }
                (false, _) => {
                    found.over.extend(open.take().map(|o| Over { censored: o.censored || missing, ..o }));
                }
            }
            after_hole = missing;
        }
        found.over.extend(open.map(|o| Over { censored: true, ..o }));
    }
    found
}

/// Counts one instant for the room at an end; rooms that tie share it.
fn share(at_end: AtEnd, rooms: &[&[f64]], i: usize, counts: &mut [f64], pick: fn(f64, f64) -> f64) {
    if let AtEnd::One(room) = at_end {
        counts[usize::from(room)] += 1.0;
        return;
    }
    let end = rooms.iter().map(|room| room[i]).fold(f64::NAN, pick);
    let ties = |room: &&[f64]| (room[i] - end).abs() <= FLOAT_NOISE_K;
    let among = rooms.iter().filter(|room| ties(room)).count() as f64;
    for (count, _) in counts.iter_mut().zip(rooms).filter(|(_, room)| ties(room)) {
        *count += 1.0 / among;
    }
}
