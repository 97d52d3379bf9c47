//! One number per local day, for comparisons of periods.

use std::ops::Range;

use super::home_cache::HomeCache;
use super::limits::DAY_COVERAGE;
use super::room_spread::serving;
use super::scope::Period;
use super::{FLOAT_NOISE_K, HomeScope, Metric, Slice};
use crate::clock::Span;
use crate::grid::{AlignedHome, GridDay};
use crate::site::{Home, Site};
use crate::units::KelvinDiff;

const OWN: &str = "own definition; days with values for at least 75 % of their hours";
const PER_DAY: &str = "own definition; days with values for at least 75 % of their hours; stretched from the hours observed to 24 h";

// What is compared from day to day.
metrics! {
    DAY_MEAN = Metric { id: "day_mean", unit: "°C", definition: "mean of a local day's aligned values", source: OWN };
    DAY_MINIMUM = Metric { id: "day_minimum", unit: "°C", definition: "lowest aligned value of a local day", source: OWN };
    DAY_HOURS_BELOW_BAND = Metric {
        id: "day_hours_below_band",
        unit: "h",
        definition: "hours of a local day below the lower limit of the band",
        source: PER_DAY,
    };
    DAY_HOURS_ABOVE_BAND = Metric {
        id: "day_hours_above_band",
        unit: "h",
        definition: "hours of a local day above the upper limit of the band",
        source: PER_DAY,
    };
    DAY_DEGREE_HOURS_BELOW = Metric {
        id: "day_degree_hours_below",
        unit: "K·h",
        definition: "sum over the hours of a local day of how far the room lies below the lower limit of the band",
        source: PER_DAY,
    };
    DAY_OFFSET_FROM_REFERENCE = Metric {
        id: "day_offset_from_reference",
        unit: "K",
        definition: "mean over a local day of the difference between the room and the median of the heated rooms whose record stands (for one of them: of the others) at instants with a quorum",
        source: OWN,
    };
    DAY_SPREAD = Metric {
        id: "day_spread",
        unit: "K",
        definition: "mean over a local day of the room-to-room spread at instants with a quorum",
        source: OWN,
    };
    DAY_HOURS_SPREAD_OVER_LIMIT = Metric {
        id: "day_hours_spread_over_limit",
        unit: "h",
        definition: "hours of a local day with a room-to-room spread over the site's limit",
        source: PER_DAY,
    };
}

/// Numbers of a room (`None`: of the home) from day to day.
#[derive(Clone, Debug)]
pub struct Daily {
    /// The room.
    pub room: Option<usize>,
    /// What.
    pub metric: &'static Metric,
    /// Days that have the number, in order.
    pub days: Vec<DayValue>,
}

/// A number of a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayValue {
    /// The local day.
    pub span: Span,
    /// Mean outdoor temperature of the day, in °C; `None` where less than 75 % of its hours have one.
    pub outdoor_degc: Option<f64>,
    /// The number, in the metric's unit.
    pub value: f64,
}

/// Every daily number of a home: rooms in roster order, then the home.
pub fn daily(site: &Site, home: &Home, aligned: &AlignedHome) -> Vec<Daily> {
    of_rooms(site, home, aligned, 0..home.rooms.len())
}

/// Numbers of one room and of the home, had the room's loggers read by so much less all the time.
pub fn daily_with_error(site: &Site, home: &Home, aligned: &AlignedHome, room: usize, k: f64) -> Vec<Daily> {
    let moved = aligned.clone().with_room_moved(room, KelvinDiff::new(-k));
    of_rooms(site, home, &moved, room..room + 1)
}

/// Daily numbers of some rooms, and of the home.
fn of_rooms(site: &Site, home: &Home, aligned: &AlignedHome, rooms: Range<usize>) -> Vec<Daily> {
    let whole = HomeCache::new(site, home, aligned);
    let period = Period::new(0..aligned.len());
    let scope = whole.scope(Slice::All, &period);
    let days: Vec<(GridDay, Span, Option<f64>)> = aligned
        .days()
        .iter()
        .map(|d| (*d, Span { from: aligned.time(d.from), to: aligned.time(d.to) }, outdoor_mean(aligned, d)))
        .collect();
    let mut found = Vec::new();
    let mut add = |room, metrics: &[&'static Metric], of_day: &dyn Fn(&GridDay) -> OfDay| {
        let first = found.len();
        found.extend(metrics.iter().map(|metric| Daily { room, metric, days: Vec::new() }));
        for (day, span, outdoor_degc) in &days {
            for (metric, value) in of_day(day) {
                let Some(daily) = found[first..].iter_mut().find(|d: &&mut Daily| d.metric == metric) else {
                    continue;
                };
                daily.days.extend(value.map(|value| DayValue {
                    span: *span,
                    outdoor_degc: *outdoor_degc,
                    value,
                }));
            }
        }
    };
    for room in rooms {
        add(Some(room), &OF_ROOM, &|day| of_room(&scope, room, day));
    }
    add(None, &OF_HOME, &|day| of_home(&scope, day));
    found.retain(|d: &Daily| !d.days.is_empty());
    found
}

/// Whether so many instants are enough of a day.
fn enough(count: usize, day: &GridDay) -> bool {
    count > 0 && count as f64 >= DAY_COVERAGE * (day.to - day.from) as f64
}

/// Mean outdoor temperature of a local day; `None` where less than 75 % of it has one.
pub(super) fn outdoor_mean(aligned: &AlignedHome, day: &GridDay) -> Option<f64> {
    let values = aligned.outdoor()?[day.from..day.to].iter().filter(|x| !x.is_nan());
    let (count, sum) = values.fold((0, 0.0), |(count, sum), x| (count + 1, sum + x));
    enough(count, day).then(|| sum / count as f64)
}

/// What a day gives: each metric at most once.
type OfDay = Vec<(&'static Metric, Option<f64>)>;

/// Metrics of a room.
static OF_ROOM: [&Metric; 6] = [
    &DAY_MEAN,
    &DAY_MINIMUM,
    &DAY_HOURS_BELOW_BAND,
    &DAY_HOURS_ABOVE_BAND,
    &DAY_DEGREE_HOURS_BELOW,
    &DAY_OFFSET_FROM_REFERENCE,
];
/// Metrics of a home.
static OF_HOME: [&Metric; 2] = [&DAY_SPREAD, &DAY_HOURS_SPREAD_OVER_LIMIT];

fn of_room(scope: &HomeScope<'_>, room: usize, day: &GridDay) -> OfDay {
    let of_room = scope.room(room);
    let degc = &of_room.degc()[day.from..day.to];
    let present = || (day.from..).zip(degc).filter(|(_, x)| !x.is_nan()).map(|(i, x)| (i, *x));
    let count = present().count();
    if !enough(count, day) {
        return Vec::new();
    }
    let mean = present().map(|(_, x)| x).sum::<f64>() / count as f64;
    let lowest = present().map(|(_, x)| x).fold(f64::INFINITY, f64::min);
    let to_day = 24.0 / count as f64;
    let beyond = |how_far: &dyn Fn(crate::site::Band, f64) -> f64, count_only: bool| {
        let each = present().map(|(i, x)| {
            let k = how_far(of_room.band_at(i)?, x).max(0.0);
            Some(if count_only { f64::from(u8::from(k > 0.0)) } else { k })
        });
        each.sum::<Option<f64>>().map(|sum| sum * to_day)
    };
    let below = |band: crate::site::Band, x: f64| band.lower.degc() - x;
    let above = |band: crate::site::Band, x: f64| x - band.upper.degc();
    vec![
        (&DAY_MEAN, Some(mean)),
        (&DAY_MINIMUM, Some(lowest)),
        (&DAY_HOURS_BELOW_BAND, beyond(&below, true)),
        (&DAY_HOURS_ABOVE_BAND, beyond(&above, true)),
        (&DAY_DEGREE_HOURS_BELOW, beyond(&below, false)),
        (&DAY_OFFSET_FROM_REFERENCE, offset(scope, room, day)),
    ]
}

fn offset(scope: &HomeScope<'_>, room: usize, day: &GridDay) -> Option<f64> {
    let serves = serving(scope.home(), scope.aligned())[room];
    let degc = scope.degc(room);
    let differences = (day.from..day.to).map(|i| scope.together().difference(degc[i], serves, i));
    let (count, sum) =
        differences.filter(|d| !d.is_nan()).fold((0, 0.0), |(count, sum), d| (count + 1, sum + d));
    enough(count, day).then(|| sum / count as f64)
}

fn of_home(scope: &HomeScope<'_>, day: &GridDay) -> OfDay {
    let spreads = scope.together().spread()[day.from..day.to].iter().copied();
    let spreads: Vec<f64> = spreads.filter(|s| !s.is_nan()).collect();
    if !enough(spreads.len(), day) {
        return Vec::new();
    }
    let limit = scope.site().spread.limit.k() + FLOAT_NOISE_K;
    let over = spreads.iter().filter(|s| **s > limit).count() as f64;
    let count = spreads.len() as f64;
    vec![
        (&DAY_SPREAD, Some(spreads.iter().sum::<f64>() / count)),
        (&DAY_HOURS_SPREAD_OVER_LIMIT, Some(over * 24.0 / count)),
    ]
}
