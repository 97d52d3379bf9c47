//! How far a room follows the weather: its slope on the outdoor temperature, its level in the design cold, and from which
//! outdoor temperature on its heating no longer holds.
//!
//! Settled here, and why:
//! - **Days below 10 °C only**: in a real house seven rooms of eight followed the mild days of spring by more than 0.1 K/K, by sun
//!   and open windows, and none of them surely in winter.
//! - **A break counts where it is one of heating**: the room is heated, and its slope surely rises below the break and is larger than
//!   above. Any other bend is left to the scatter.
//! - **A room without heating of its own bends with the heated ones**: where the heating of one of them has a limit above the
//!   design cold, its level there is told by its own break, and where its days show none it is not told at all: a straight line
//!   knows nothing of the days on which the heating falls behind.

use super::daily::outdoor_mean;
use super::limits::DAY_COVERAGE;
use super::offset::{CONFIDENCE, NORMAL_95, carried, of_one_day};
use super::scope::clip;
use super::{Compute, Family, HomeScope, Interval, IntervalKind, Measured, Metric, Parts, Slice};
use crate::stats::{self, BrokenLine, DayLine};

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(slopes) };

metrics! {
    OUTDOOR_SLOPE = Metric {
        id: "outdoor_slope",
        unit: "K/K",
        definition: "by how much the room's mean by day (the hours that are not night; 75 % of them with values) rises for each K of the day's mean outdoor temperature: ordinary least squares over the days with an outdoor mean below 10 °C, from 10 days with 5 K of outdoor range on; low and high: its 90 % interval for days that resemble their neighbours (Newey and West, and no less than days as alike as these ask for), t with two degrees of freedom fewer than effective days; 0: the heating holds, 1: as the weather",
        source: "own definition; interval: W. K. Newey, K. D. West, Econometrica 55 (1987)",
    };
    MEAN_AT_DESIGN = Metric {
        id: "mean_at_design",
        unit: "°C",
        definition: "the room's mean by day at the site's design outdoor temperature, on the line of outdoor_slope (below limit_reached_at on the steeper one), with the 95 % prediction interval for one day, its line less sure for days that resemble their neighbours, widened by the sensor accuracy (root of the sum of squares); extrapolated where no day was as cold; no row of a room without heating where that of another room has a limit above it and the room's own days show no break",
        source: "own definition",
    };
    MEAN_ON_COLD_DAYS = Metric {
        id: "mean_on_cold_days",
        unit: "°C",
        definition: "the room's mean by day on the coldest quarter of the days of outdoor_slope; low and high: its 90 % interval, for those days as if they were not alike and for the sensor accuracy",
        source: "own definition; combined as in JCGM 100:2008 (GUM), G.4.1",
    };
    LIMIT_REACHED_AT = Metric {
        id: "limit_reached_at",
        unit: "°C",
        definition: "outdoor temperature below which a heated room follows the weather more than above: the break of a continuous line with one break, where it is surely better than a straight one (F test at 1 % on prewhitened residuals, at least 8 days on each side) and surely rises below it; low and high: the breaks that an F test at 5 % does not tell from the best, without an end where they reach to the eighth day from the edge",
        source: "own definition; D. J. Hudson, Journal of the American Statistical Association 61 (1966), from memory",
    };
}

/// Days as mild as this say more about sun and windows than about heating.
const COLD: f64 = 10.0;
/// Days on either side of a break.
const EACH_SIDE: usize = 8;
/// By how much a line must surely fall for each K to be drawn as one that falls, in K/K: below, it is heating that holds.
const STEEP: f64 = 0.1;
/// How sure a break must be.
const SURE: f64 = 0.01;
/// The likeness of neighbouring days that is taken out at most.
const MOST_ALIKE: f64 = 0.9;

/// A room by day on the cold days, in order of time.
struct ByDay {
    /// Mean outdoor temperature, and the room's mean by day.
    points: Vec<(f64, f64)>,
    instants: usize,
}

fn slopes(scope: &HomeScope<'_>, out: &mut Measured) {
    if scope.slice() != Slice::All || scope.aligned().outdoor().is_none() {
        return;
    }
    let by_day = scope.of_slice(Slice::Day);
    let rooms: Vec<(usize, ByDay, DayLine)> = (0..scope.rooms().len())
        .filter_map(|room| {
            let days = ByDay::of(&by_day, room, COLD);
            let line = carried(&days.points).then(|| DayLine::fit(&days.points)).flatten()?;
            Some((room, days, line))
        })
        .collect();
    let is_heated = |room: usize| scope.rooms()[room].heated.surely();
    let limit_of = |(room, days, _): &(usize, ByDay, DayLine)| {
        is_heated(*room).then(|| limit_of_heating(&days.points)).flatten()
    };
    let limits: Vec<Option<BrokenLine>> = rooms.iter().map(limit_of).collect();
    let design = scope.site().design_outdoor.map_or(f64::NEG_INFINITY, |design| design.degc());
    let falls_behind = limits.iter().flatten().any(|limit| limit.at > design);
    for ((room, days, line), limit) in rooms.iter().zip(limits) {
        let hours = days.instants as f64 * scope.aligned().step_h();
        if let Some((interval, parts)) = slope_interval(&days.points, line) {
            out.value_of_parts(Some(*room), &OUTDOOR_SLOPE, line.line.slope, (interval, parts), hours);
        }
        let accuracy = scope.room(*room).accuracy_k();
        if let Some((mean, interval)) = on_cold_days(&days.points, accuracy) {
            out.value_of_parts(Some(*room), &MEAN_ON_COLD_DAYS, mean, interval, hours);
        }
        if let Some(limit) = &limit {
            let (low, high) = limit.interval;
            let interval = Interval { low, high, kind: IntervalKind::Break };
            out.value_within(Some(*room), &LIMIT_REACHED_AT, limit.at, interval, hours);
        }
        let follows = falls_behind && !is_heated(*room);
        let bend = if follows { limit_of_heating(&days.points) } else { limit };
        if follows && bend.is_none() {
            continue;
        }
        if let Some((value, interval)) = at_design(scope, &days.points, line, bend.as_ref(), accuracy) {
            out.value_of_parts(Some(*room), &MEAN_AT_DESIGN, value, interval, hours);
        }
    }
}

impl ByDay {
    /// `scope`: the hours of the period that are not night; `below`: only days with an outdoor mean below it.
    fn of(scope: &HomeScope<'_>, room: usize, below: f64) -> Self {
        let (aligned, degc) = (scope.aligned(), scope.degc(room));
        let mut found = Self { points: Vec::new(), instants: 0 };
        for day in aligned.days() {
            let here = clip(scope.ranges(), &(day.from..day.to));
            let Some(outdoor) = outdoor_mean(aligned, day).filter(|x| *x < below && !here.is_empty()) else {
                continue;
            };
            let all: usize = here.iter().map(ExactSizeIterator::len).sum();
            let values = here.iter().flat_map(|range| &degc[range.clone()]).filter(|x| !x.is_nan());
            let (count, sum) = values.fold((0, 0.0), |(count, sum), x| (count + 1, sum + x));
            if count > 0 && count as f64 >= DAY_COVERAGE * all as f64 {
                found.points.push((outdoor, sum / count as f64));
                found.instants += count;
            }
        }
        found
    }
}

/// Places at which a line is given, from end to end.
const PLACES: usize = 9;

/// A room by day on the days of a period, and its line where the record carries one, for a picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AgainstOutdoors {
    /// The room, in roster order.
    pub room: usize,
    /// Of each day its mean outdoor temperature and the room's mean by day (the hours that are not night), in °C.
    pub days: Vec<[f32; 2]>,
    /// The line of `outdoor_slope` (with its break) from the coldest of its days, or the design temperature, to the mildest:
    /// outdoors, the room, and between what 95 % of single days lie, in °C; empty where there is none.
    pub line: Vec<[f32; 4]>,
    /// Where the line bends, and falls below that as one can see; `None`: it does not.
    pub limit: Option<LimitSeen>,
}

/// The outdoor temperature below which a room's line falls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LimitSeen {
    /// The break, in °C outdoors.
    pub at: f64,
    /// Its ends; `None`: on that side it reaches beyond the days that tell.
    pub ends: (Option<f64>, Option<f64>),
}

/// Every room of a home on the outdoor temperature; `scope`: all hours of a period.
#[expect(clippy::cast_possible_truncation, reason = "for a picture")]
pub(super) fn against_outdoors(scope: &HomeScope<'_>) -> Vec<AgainstOutdoors> {
    let by_day = scope.of_slice(Slice::Day);
    let of_room = |room: usize| {
        let days = ByDay::of(&by_day, room, f64::INFINITY).points;
        let cold = ByDay::of(&by_day, room, COLD).points;
        let heated = scope.rooms()[room].heated.surely();
        let limit = if heated && carried(&cold) { limit_of_heating(&cold) } else { None };
        let design = scope.site().design_outdoor.map(|t| t.degc());
        AgainstOutdoors {
            room,
            days: days.iter().map(|(x, y)| [*x as f32, *y as f32]).collect(),
            line: drawn_line(&cold, limit.as_ref(), design)
                .into_iter()
                .map(|p| p.map(|x| x as f32))
                .collect(),
            limit: limit.as_ref().and_then(seen),
        }
    };
    let all = (0..scope.rooms().len()).map(of_room);
    all.filter(|room| !room.days.is_empty()).collect()
}

/// A break as a picture tells it: one below which the line surely falls by more than heating that holds lets it.
fn seen(limit: &BrokenLine) -> Option<LimitSeen> {
    let least = limit.slopes.0 - stats::normal_quantile((1.0 + CONFIDENCE) / 2.0) * limit.slope_error;
    let end = |x: f64| Some(x).filter(|x| x.is_finite());
    (least > STEEP)
        .then_some(LimitSeen { at: limit.at, ends: (end(limit.interval.0), end(limit.interval.1)) })
}

fn drawn_line(points: &[(f64, f64)], limit: Option<&BrokenLine>, design: Option<f64>) -> Vec<[f64; 4]> {
    let Some(line) = carried(points).then(|| DayLine::fit(points)).flatten() else { return Vec::new() };
    let (low, high) =
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), p| (a.min(p.0), b.max(p.0)));
    let low = design.map_or(low, |t| t.min(low));
    let at = |x: f64| {
        let (y, half) = match limit {
            Some(broken) => (broken.at(x), broken.prediction_half_width(x, 0.95)?),
            None => (line.at(x), line.one_day(x, 0.95)?),
        };
        Some([x, y, y - half, y + half])
    };
    let even = (0..PLACES).map(|i| low + (high - low) * i as f64 / (PLACES - 1) as f64);
    // A bend is drawn where it is.
    let mut places: Vec<f64> = even.chain(limit.map(|limit| limit.at)).collect();
    places.sort_unstable_by(f64::total_cmp);
    places.into_iter().filter_map(at).collect()
}

/// A sensor that is off by the same all the time changes no slope.
fn slope_interval(points: &[(f64, f64)], line: &DayLine) -> Option<(Interval, Parts)> {
    let error = stats::slope_error(points, &line.line)?;
    // Level and slope were both estimated from the days.
    let half_width = |confidence: f64| {
        Some(stats::t_quantile((1.0 + confidence) / 2.0, error.effective - 2.0)? * error.error)
    };
    let (half, slope) = (half_width(CONFIDENCE)?, line.line.slope);
    let interval = Interval { low: slope - half, high: slope + half, kind: IntervalKind::SlopeOverDays };
    Some((interval, Parts { sensor: None, days: half_width(0.95) }))
}

/// The mean over the coldest quarter of the days.
fn on_cold_days(points: &[(f64, f64)], accuracy_k: f64) -> Option<(f64, (Interval, Parts))> {
    let mut coldest = points.to_vec();
    coldest.sort_by(|a, b| a.0.total_cmp(&b.0));
    coldest.truncate(points.len().div_ceil(4));
    let values: Vec<f64> = coldest.iter().map(|p| p.1).collect();
    let (mean, error, n) = (
        stats::mean(&values)?,
        stats::standard_deviation(&values)? / (values.len() as f64).sqrt(),
        values.len() as f64,
    );
    let half = stats::combined_half_width(error, n, accuracy_k / NORMAL_95, CONFIDENCE);
    let interval = Interval { low: mean - half, high: mean + half, kind: IntervalKind::OverDays };
    let days = stats::t_quantile(0.975, n - 1.0)? * error;
    Some((mean, (interval, Parts { sensor: Some(accuracy_k), days: Some(days) })))
}

/// The break below which the heating no longer holds.
fn limit_of_heating(points: &[(f64, f64)]) -> Option<BrokenLine> {
    // Days that resemble their neighbours make a break less sure, never more.
    let plain = BrokenLine::fit(points, EACH_SIDE, 0.0).filter(|broken| broken.p < SURE)?;
    let left: Vec<f64> = points.iter().map(|(x, y)| y - plain.at(*x)).collect();
    let broken = BrokenLine::fit(points, EACH_SIDE, stats::likeness(&left).min(MOST_ALIKE))?;
    let (below, above) = broken.slopes;
    let surely_rises = below - stats::normal_quantile((1.0 + CONFIDENCE) / 2.0) * broken.slope_error > 0.0;
    (broken.p < SURE && below > above && surely_rises).then_some(broken)
}

fn at_design(
    scope: &HomeScope<'_>,
    points: &[(f64, f64)],
    line: &DayLine,
    limit: Option<&BrokenLine>,
    accuracy_k: f64,
) -> Option<(f64, (Interval, Parts))> {
    let design = scope.site().design_outdoor?.degc();
    let beyond = points.iter().all(|p| p.0 > design);
    let (value, half) = match limit {
        Some(broken) => (broken.at(design), broken.prediction_half_width(design, 0.95)?),
        None => (line.at(design), line.one_day(design, 0.95)?),
    };
    Some((value, of_one_day(value, half, accuracy_k, beyond)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days of weather and of a room that resemble the days before them; `bend`: how much steeper below −2 °C.
    fn days(seed: u32, n: usize, bend: f64) -> Vec<(f64, f64)> {
        let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(12_345);
        let mut noise = move || {
            let mut sum = 0.0;
            for _ in 0..12 {
                state = state.wrapping_mul(1_103_515_245).wrapping_add(12_345) & 0x7fff_ffff;
                sum += f64::from(state) / f64::from(0x7fff_ffff);
            }
            sum - 6.0
        };
        let (mut weather, mut own) = (0.0, 0.0);
        (0..n)
            .map(|_| {
                (weather, own) = (0.7 * weather + 3.0 * noise(), 0.6 * own + 0.2 * noise());
                let outdoor: f64 = weather - 1.0;
                (outdoor, 21.0 + 0.03 * outdoor + bend * (outdoor + 2.0).min(0.0) + own)
            })
            .collect()
    }

    #[test]
    fn a_limit_is_found_where_it_is() {
        let found: Vec<BrokenLine> = (1..=10).filter_map(|s| limit_of_heating(&days(s, 90, 0.5))).collect();
        assert!(found.len() >= 9, "{} of 10", found.len());
        let held = found.iter().filter(|b| b.interval.0 <= -2.0 && -2.0 <= b.interval.1).count();
        assert!(held + 1 >= found.len(), "{held} of {}", found.len());
    }

    #[test]
    fn a_limit_is_told_only_where_the_line_falls_below_it() {
        let told = |bend: f64| {
            (1..=10).filter_map(|s| limit_of_heating(&days(s, 90, bend))).filter_map(|b| seen(&b)).count()
        };
        assert!(told(0.5) >= 9, "{} of 10", told(0.5));
        // A bend that is sure and small is one of the table, and no sentence beside a line that looks flat.
        let small = (1..=10).filter_map(|s| limit_of_heating(&days(s, 90, 0.12)));
        let steep: Vec<BrokenLine> = small.filter(|b| b.slopes.0 < STEEP && seen(b).is_some()).collect();
        assert!(steep.is_empty(), "{steep:?}");
        let mut broken = limit_of_heating(&days(1, 90, 0.5)).unwrap();
        (broken.slopes, broken.slope_error) = ((0.09, 0.0), 0.001);
        assert_eq!(seen(&broken), None);
        (broken.slopes, broken.interval) = ((0.5, 0.0), (f64::NEG_INFINITY, -1.0));
        assert_eq!(seen(&broken).unwrap().ends, (None, Some(-1.0)));
    }

    #[test]
    fn days_that_resemble_their_neighbours_break_no_straight_line() {
        let broken = (1..=150).filter(|s| limit_of_heating(&days(*s, 60, 0.0)).is_some()).count();
        assert!(broken <= 3, "{broken} of 150 at 1 %");
    }

    #[test]
    fn the_interval_of_a_slope_holds_it() {
        let held = |seed: u32| {
            let points = days(seed, 40, 0.0);
            let line = DayLine::fit(&points).unwrap();
            let (interval, parts) = slope_interval(&points, &line).unwrap();
            assert!(parts.sensor.is_none() && parts.days.is_some());
            interval.low <= 0.03 && 0.03 <= interval.high
        };
        let count = (1..=400).filter(|seed| held(*seed)).count();
        assert!((360..=396).contains(&count), "{count} of 400 where 360 are claimed");
    }
}
