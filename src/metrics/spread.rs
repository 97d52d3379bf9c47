//! How far apart the rooms of a home are at the same instant.

use super::offset::LEAST_DAYS;
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
    let values = walk(scope).values;
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
        (0..scope.rooms().len()).filter(|r| scope.room(*r).present().next().is_some()).collect();
    let Some(factor) = stats::expected_range_factor(seen.len()) else { return };
    let squares: f64 = seen.iter().map(|r| (scope.room(*r).accuracy_k() / 2.0).powi(2)).sum();
    let hours = seen.iter().map(|r| scope.room(*r).hours_observed()).fold(f64::INFINITY, f64::min);
    out.value(None, &METRICS[5], factor * (squares / seen.len() as f64).sqrt(), hours);
}

fn walk(scope: &HomeScope<'_>) -> Spreads {
    let rooms: Vec<&[f64]> = (0..scope.rooms().len()).map(|r| scope.degc(r)).collect();
    let limit = scope.site().spread.limit.k() + FLOAT_NOISE_K;
    let quorum = scope.quorum();
    let mut found = Spreads {
        values: Vec::new(),
        at: Vec::new(),
        coldest: vec![0.0; rooms.len()],
        warmest: vec![0.0; rooms.len()],
        over: Vec::new(),
    };
    for range in scope.ranges() {
        let mut open: Option<Over> = None;
        let mut after_hole = true;
        for i in range.clone() {
            let spread = at(&rooms, i, quorum, &mut found.coldest, &mut found.warmest);
            found.values.extend(spread);
            found.at.extend(spread.map(|_| i));
            match (spread.filter(|s| *s > limit), &mut open) {
                (Some(s), Some(run)) => (run.to, run.largest) = (i + 1, run.largest.max(s)),
                (Some(s), None) => open = Some(Over { from: i, to: i + 1, largest: s, censored: after_hole }),
                (None, _) => found
                    .over
                    .extend(open.take().map(|o| Over { censored: o.censored || spread.is_none(), ..o })),
            }
            after_hole = spread.is_none();
        }
        found.over.extend(open.map(|o| Over { censored: true, ..o }));
    }
    found
}

/// The spread at one instant, where there is a quorum; counts who was coldest and warmest.
fn at(rooms: &[&[f64]], i: usize, quorum: usize, coldest: &mut [f64], warmest: &mut [f64]) -> Option<f64> {
    let (mut low, mut high, mut present) = (f64::INFINITY, f64::NEG_INFINITY, 0);
    for x in rooms.iter().map(|room| room[i]).filter(|x| !x.is_nan()) {
        (low, high, present) = (low.min(x), high.max(x), present + 1);
    }
    if present < quorum {
        return None;
    }
    share(rooms, i, coldest, |x| x <= low + FLOAT_NOISE_K);
    share(rooms, i, warmest, |x| x >= high - FLOAT_NOISE_K);
    Some(high - low)
}

/// Shares one instant among the rooms that are at the end.
fn share(rooms: &[&[f64]], i: usize, counts: &mut [f64], at_end: impl Fn(f64) -> bool) {
    let ties = rooms.iter().filter(|room| at_end(room[i])).count() as f64;
    for (count, _) in counts.iter_mut().zip(rooms).filter(|(_, room)| at_end(room[i])) {
        *count += 1.0 / ties;
    }
}
