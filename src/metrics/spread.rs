//! How far apart the rooms of a home are at the same instant.
//!
//! Settled here, and why:
//! - **Ties** for coldest and warmest room share the instant.

use std::ops::Range;

use super::offset::LEAST_DAYS;
use super::room_spread::AtEnd;
use super::{
    Compute, EventKind, FLOAT_NOISE_K, Family, HomeScope, Interval, IntervalKind, Measured, Metric, Parts,
    RoomEvent, Slice,
};
use crate::clock::Span;
use crate::stats::{self, DayQuantiles};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(spread) };

const OWN: &str = "own definition: highest minus lowest room at instants with the quorum (unless the site says otherwise all rooms but one, at least 2)";

const BOOTSTRAP: &str = "own definition: highest minus lowest room at instants with the quorum (unless the site says otherwise all rooms but one, at least 2); interval: H. R. Künsch, Annals of Statistics 17 (1989), blocks of one local day";

metrics! {
    SPREAD_MEDIAN = Metric {
        id: "spread_median",
        unit: "K",
        definition: "median of the room-to-room spread; from 7 days on low and high are its 95 % interval: whole local days drawn with replacement, 1,000 times, percentiles, widened for days that resemble their neighbours; and, as the root of the sum of squares, what the sensors may have done to it: low, what 400 drawn sensor errors do to it, reflected; high, what the two least accurate sensors may have hidden between the two rooms that are truly furthest apart (root of the sum of squares)",
        source: BOOTSTRAP,
    };
    SPREAD_P95 = Metric {
        id: "spread_p95",
        unit: "K",
        definition: "95th percentile of the room-to-room spread; low and high as for spread_median",
        source: BOOTSTRAP,
    };
    SPREAD_MAXIMUM = Metric { id: "spread_maximum", unit: "K", definition: "largest room-to-room spread", source: OWN };
    HOURS_SPREAD_OVER_LIMIT = Metric {
        id: "hours_spread_over_limit",
        unit: "h",
        definition: "hours with a room-to-room spread over the site's limit; low and high with the limit moved by the accuracy of two loggers (root of the sum of squares), low without and high with suspect readings",
        source: OWN,
    };
    SHARE_SPREAD_OVER_LIMIT = Metric {
        id: "share_spread_over_limit",
        unit: "%",
        definition: "hours_spread_over_limit as a share of the hours with a spread; low and high likewise",
        source: OWN,
    };
    SPREAD_NOISE_FLOOR = Metric {
        id: "spread_noise_floor",
        unit: "K",
        definition: "spread to be expected of equally warm rooms from sensor error alone: d2(n) times the root mean square of half the accuracies; a spread under it says nothing about the home",
        source: "control-chart constant d2, NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1",
    };
    SHARE_COLDEST = Metric {
        id: "share_coldest",
        unit: "%",
        definition: "share of the instants with a spread at which this room is the coldest; rooms that tie share the instant",
        source: OWN,
    };
    SHARE_WARMEST = Metric {
        id: "share_warmest",
        unit: "%",
        definition: "share of the instants with a spread at which this room is the warmest; rooms that tie share the instant",
        source: OWN,
    };
}

/// Spreads of the instants with a quorum, with their places on the grid.
struct Spreads {
    values: Vec<f64>,
    at: Vec<usize>,
}

impl Spreads {
    fn of(scope: &HomeScope<'_>) -> Self {
        let spread = scope.together().spread();
        let instants = scope.ranges().iter().map(|r| r.len()).sum();
        let (mut values, mut at, mut count) = (vec![0.0; instants], vec![0; instants], 0);
        for range in scope.ranges() {
            for (i, x) in range.clone().zip(&spread[range.clone()]) {
                (values[count], at[count]) = (*x, i);
                count += usize::from(!x.is_nan());
            }
        }
        values.truncate(count);
        at.truncate(count);
        Self { values, at }
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
    let hours_of_rooms: Vec<f64> = (0..scope.rooms().len()).map(|r| scope.room(r).hours_observed()).collect();
    noise_floor(scope, &hours_of_rooms, out);
    let spreads = Spreads::of(scope);
    let instants = spreads.values.len() as f64;
    if spreads.values.is_empty() {
        return;
    }
    let h = scope.aligned().step_h();
    let limit = scope.site().spread.limit.k();
    let over = spreads.values.iter().filter(|s| **s > limit + FLOAT_NOISE_K).count() as f64;
    let days: Vec<Vec<Range<usize>>> = scope.days().iter().map(|(day, _)| day.clone()).collect();
    let drawn = DayQuantiles::new(scope.spreads_of_period(), &days);
    let quantile = |p| drawn.quantile(p).unwrap_or_default();
    let intervals = intervals(scope, &spreads.at, &drawn);
    for (k, (metric, value)) in
        [(&SPREAD_MEDIAN, quantile(0.5)), (&SPREAD_P95, quantile(0.95))].into_iter().enumerate()
    {
        match intervals.map(|i| i[k]) {
            Some(interval) => out.value_of_parts(None, metric, value, interval, instants * h),
            None => out.value(None, metric, value, instants * h),
        }
    }
    out.value(None, &SPREAD_MAXIMUM, quantile(1.0), instants * h);
    let [certain, possible] = over_for_sure(scope, &spreads, limit);
    let kind = IntervalKind::SensorAccuracy;
    for (metric, factor) in [(&HOURS_SPREAD_OVER_LIMIT, h), (&SHARE_SPREAD_OVER_LIMIT, 100.0 / instants)] {
        let interval = Interval { low: certain * factor, high: possible * factor, kind };
        out.value_within(None, metric, over * factor, interval, instants * h);
    }
    let coldest = times_at_end(scope, &spreads.at, |i| scope.together().coldest(i), f64::min);
    let warmest = times_at_end(scope, &spreads.at, |i| scope.together().warmest(i), f64::max);
    for (room, (coldest, warmest)) in coldest.iter().zip(&warmest).enumerate() {
        if hours_of_rooms[room] > 0.0 {
            out.value(Some(room), &SHARE_COLDEST, 100.0 * coldest / instants, instants * h);
            out.value(Some(room), &SHARE_WARMEST, 100.0 * warmest / instants, instants * h);
        }
    }
    // Events are taken from no other slice.
    if scope.slice() == Slice::All {
        events(scope, limit, out);
    }
}

/// Instants with a spread over the limit moved by the accuracy of two loggers against the finding, without suspect readings,
/// and moved for it, with them.
fn over_for_sure(scope: &HomeScope<'_>, spreads: &Spreads, limit: f64) -> [f64; 2] {
    let rooms = 0..scope.rooms().len();
    let u = two_least_accurate(scope);
    let suspect: Vec<usize> = rooms.filter(|r| scope.room(*r).any_suspect()).collect();
    let sound = |i: usize| suspect.iter().all(|r| !scope.room(*r).is_suspect(i));
    let each = || spreads.values.iter().zip(&spreads.at);
    let certain = each().filter(|(s, i)| **s > limit + u + FLOAT_NOISE_K && sound(**i)).count();
    let possible = each().filter(|(s, _)| **s > limit - u + FLOAT_NOISE_K).count();
    [certain as f64, possible as f64]
}

/// What the two least accurate loggers may do to a difference of two rooms, 95 % half-width.
fn two_least_accurate(scope: &HomeScope<'_>) -> f64 {
    let mut accuracies: Vec<f64> = (0..scope.rooms().len()).map(|r| scope.room(r).relative_k()).collect();
    accuracies.sort_by(|a, b| b.total_cmp(a));
    accuracies.iter().take(2).map(|k| k * k).sum::<f64>().sqrt()
}

fn events(scope: &HomeScope<'_>, limit: f64, out: &mut Measured) {
    let aligned = scope.aligned();
    out.events.extend(runs_over(scope, limit + FLOAT_NOISE_K).iter().map(|o| RoomEvent {
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
///
/// `at`: the instants with a spread.
fn intervals(scope: &HomeScope<'_>, at: &[usize], drawn: &DayQuantiles) -> Option<[(Interval, Parts); 2]> {
    if drawn.days() < LEAST_DAYS {
        return None;
    }
    let draws = scope.together().draws(drawn.days());
    let over_days = drawn.intervals([0.5, 0.95], &draws, 0.95)?;
    let widening = stats::widening(&drawn.medians_of_days(), 0.95);
    let every = at.len().div_ceil(SENSOR_INSTANTS);
    let rooms = scope.rooms().len();
    let rows: Vec<f64> =
        at.iter().step_by(every).flat_map(|i| (0..rooms).map(|r| scope.degc(r)[*i])).collect();
    let deviations: Vec<f64> = (0..rooms).map(|r| scope.room(r).relative_k() / 1.959964).collect();
    let sensors = stats::range_error(&rows, &deviations, [0.5, 0.95]);
    // The two rooms that are truly furthest apart seem no further apart than all rooms do: that errors bring other rooms to the
    // ends makes a spread larger, but no error of other rooms hides what lies between these two.
    let hidden = two_least_accurate(scope);
    let interval = |k: usize| {
        let value = drawn.quantile([0.5, 0.95][k])?;
        let (low, high) = over_days[k];
        let days = ((value - low) * widening, (high - value) * widening);
        let (below, above) = (days.0.hypot(sensors[k]), days.1.hypot(hidden));
        let kind = IntervalKind::DaysDrawn;
        let interval = Interval { low: (value - below).max(0.0), high: value + above, kind };
        let half = |sides: (f64, f64)| Some((sides.0 + sides.1) / 2.0);
        Some((interval, Parts { sensor: half((sensors[k], hidden)), days: half(days) }))
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
        out.value(None, &SPREAD_MEDIAN, median, instants * h);
        out.value(None, &HOURS_SPREAD_OVER_LIMIT, over * h, instants * h);
    }
}

/// n is the number of rooms with a value in the scope.
fn noise_floor(scope: &HomeScope<'_>, hours_of_rooms: &[f64], out: &mut Measured) {
    let seen: Vec<usize> = (0..scope.rooms().len()).filter(|r| hours_of_rooms[*r] > 0.0).collect();
    let Some(factor) = stats::expected_range_factor(seen.len()) else { return };
    let squares: f64 = seen.iter().map(|r| (scope.room(*r).relative_k() / 2.0).powi(2)).sum();
    let hours = seen.iter().map(|r| hours_of_rooms[*r]).fold(f64::INFINITY, f64::min);
    out.value(None, &SPREAD_NOISE_FLOOR, factor * (squares / seen.len() as f64).sqrt(), hours);
}

/// Unbroken runs of spreads over a limit.
fn runs_over(scope: &HomeScope<'_>, limit: f64) -> Vec<Over> {
    let mut found = Vec::new();
    for range in scope.ranges() {
        let mut open: Option<Over> = None;
        let mut after_hole = true;
        for (i, spread) in range.clone().zip(&scope.together().spread()[range.clone()]) {
            let missing = spread.is_nan();
            match (*spread > limit, &mut open) {
                (true, Some(run)) => (run.to, run.largest) = (i + 1, run.largest.max(*spread)),
                (true, None) => {
                    open = Some(Over { from: i, to: i + 1, largest: *spread, censored: after_hole });
                }
                (false, _) => {
                    found.extend(open.take().map(|o| Over { censored: o.censored || missing, ..o }));
                }
            }
            after_hole = missing;
        }
        found.extend(open.map(|o| Over { censored: true, ..o }));
    }
    found
}

/// How often each room is at an end of the spread at some instants; rooms that tie share the instant.
fn times_at_end(
    scope: &HomeScope<'_>,
    at: &[usize],
    end: impl Fn(usize) -> AtEnd,
    pick: fn(f64, f64) -> f64,
) -> Vec<f64> {
    let rooms: Vec<&[f64]> = (0..scope.rooms().len()).map(|r| scope.degc(r)).collect();
    let mut times = vec![0.0; rooms.len()];
    // Since a room last tied.
    let mut alone = vec![0_u32; rooms.len()];
    for i in at {
        if let AtEnd::One(room) = end(*i) {
            alone[usize::from(room)] += 1;
            continue;
        }
        let end = rooms.iter().map(|room| room[*i]).fold(f64::NAN, pick);
        let ties = |room: &usize| (rooms[*room][*i] - end).abs() <= FLOAT_NOISE_K;
        let among = (0..rooms.len()).filter(ties).count() as f64;
        for room in (0..rooms.len()).filter(ties) {
            times[room] = with_ones(times[room], std::mem::take(&mut alone[room])) + 1.0 / among;
        }
    }
    times.into_iter().zip(alone).map(|(times, alone)| with_ones(times, alone)).collect()
}

/// A sum (0 or more) to which 1 is added so many times, one after the other: in one step where nothing is rounded.
fn with_ones(sum: f64, ones: u32) -> f64 {
    let at_once = sum + f64::from(ones);
    let exact = (at_once - f64::from(ones)).total_cmp(&sum).is_eq();
    if exact { at_once } else { (0..ones).fold(sum, |sum, _| sum + 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ones_added_at_once_are_ones_added_one_by_one() {
        for sum in [0.0, 0.5, 1.0 / 3.0, 2.0 / 7.0 + 1.0 / 3.0, 1e-17, 1e15 + 0.125, 4e15 / 3.0] {
            for ones in [0, 1, 2, 3, 62, 1000, 4097, 51_840] {
                let one_by_one = (0..ones).fold(sum, |sum, _| sum + 1.0);
                assert_eq!(with_ones(sum, ones).to_bits(), one_by_one.to_bits(), "{sum} {ones}");
            }
        }
    }
}
