//! Aligned homes → metric rows and events.
//!
//! A metric is a static value in a list: id, unit, definition, source. Metrics that share their work form a
//! [`Family`], one file each; the list of families is walked by the audit, `explain`, the Data Package and the
//! tests, so that a definition stands once, beside its code.
//!
//! Which hours count: each grid value stands for one step. A slice is a list of index ranges; nothing (a run, a
//! window) reaches across the edge of a range. A value equal to a limit is inside; differences are compared with
//! [`FLOAT_NOISE_K`] of room, because values are no finer than single precision.
//!
//! Settled here, and why:
//! - **Differences** are compared with a limit with 4e-6 K of room, because two values are held to 2e-6 K each (see
//!   `grid::single`); values themselves are compared as they are.
//! - **Weekdays and outdoor bins** (2 K, by the outdoor value at the instant) are given for a few metrics only: those
//!   that do not ask what came before, and without bootstrap intervals, because they multiply the rows.

/// Declares metrics, each a static by its own name, and the list of them in the order of the tables.
macro_rules! metrics {
    ($($(#[$doc:meta])* $name:ident = $metric:expr;)+) => {
        $(
            #[doc = concat!("The metric `", stringify!($name), "`; what it means stands in its fields.")]
            $(#[$doc])*
            pub static $name: Metric = $metric;
        )+
        /// The metrics above, in the order of the tables.
        pub(super) static METRICS: &[&Metric] = &[$(&$name),+];
    };
}

mod at_its_limit;
mod at_once;
mod band;
mod building;
mod classes;
mod cold;
mod cooling;
mod coverage;
mod daily;
mod distribution;
mod even_down_to;
mod event;
mod min_max_pyramid;

mod extremes;
mod factor;
mod far_below;
mod heat_rule;
mod heating;
mod held_low;
mod home_cache;
mod humidity;
mod index;
mod interval;
mod lag;
mod limits;
mod middle;
mod offset;
mod outage;
mod outdoor;
mod over_homes;
mod people;
mod pictures;
mod procedures;
mod ramp;
mod recipes;
mod recovery;
mod reference;
mod room_spread;
mod runs;
mod scope;
mod settled;
mod slope;
mod spread;

pub use at_once::{EVEN_P_ADJUSTED, UNEVEN_P_ADJUSTED, VERDICTS_AT_ONCE, at_once, is_of_many};
pub use band::{
    DEGREE_HOURS_ABOVE, DEGREE_HOURS_BELOW, EXCURSIONS_ABOVE, EXCURSIONS_BELOW, HOURS_ABOVE_BAND,
    HOURS_BELOW_BAND, HOURS_OUTSIDE_BAND, LONGEST_ABOVE_BAND, LONGEST_BELOW_BAND, SHARE_OUTSIDE_BAND,
};
pub use building::{
    BUILDING_MEDIAN, BUILDING_RANGE, OFFSET_FROM_BUILDING, OFFSET_FROM_FLOOR, OFFSET_FROM_LINE,
};
pub use building::{BuildingRows, HomeHours, whole_hours};
pub use classes::{
    DEGREE_HOURS_OUTSIDE_WINTER_RANGE, SHARE_CATEGORY_I, SHARE_CATEGORY_II, SHARE_CATEGORY_III,
    SHARE_CATEGORY_IV, SHARE_OUTSIDE_WINTER_RANGE,
};
pub use cold::{DAYS_BELOW_BAND, LONGEST_BELOW_16, SINCE_BELOW_16};
pub use cold::{SERIOUS_COLD, SERIOUS_COLD_H};
pub use cooling::{COOLING_FALLS, COOLING_TIME_CONSTANT, HOURS_TO_5, HOURS_TO_16};
pub use coverage::MOST_SUSPECT;
pub use coverage::{COVERAGE, SHARE_SUSPECT};
pub use daily::{
    DAY_DEGREE_HOURS_BELOW, DAY_HOURS_ABOVE_BAND, DAY_HOURS_BELOW_BAND, DAY_HOURS_SPREAD_OVER_LIMIT,
    DAY_MEAN, DAY_MINIMUM, DAY_OFFSET_FROM_REFERENCE, DAY_SPREAD,
};
pub use daily::{Daily, DayValue, daily, daily_with_error};
pub use distribution::{MAXIMUM, MEAN, MEAN_DAILY_RANGE, MEDIAN, MINIMUM, P05, P95, STANDARD_DEVIATION};
pub use even_down_to::{DAYS_TO_DECIDE, EVEN_DOWN_TO, OFFSET_ON_MEDIAN_DAY};
pub use event::{Event, EventKind};
pub use extremes::{HOURS_NEAR_FREEZING, HOURS_VERY_HOT};
pub use extremes::{NEAR_FREEZING, VERY_HOT};
pub use factor::TEMPERATURE_FACTOR;
pub use heat_rule::{
    HEAT_RULE_EPISODES, HEAT_RULE_HOURS_AS_READ, HEAT_RULE_HOURS_BELOW, HEAT_RULE_HOURS_MET,
    HEAT_RULE_HOURS_NO_DATA, HEAT_RULE_HOURS_NOT_EVALUATED, HEAT_RULE_HOURS_TOO_CLOSE,
    HEAT_RULE_LONGEST_EPISODE, HEAT_RULE_LOWEST_MARGIN, minima, shortfalls,
};
pub use heating::{FarBelow, Heating};
pub use humidity::{
    DEW_POINT_MEAN, HOURS_OVER_70_RH, HOURS_OVER_80_RH, HOURS_SURFACE_CONDENSATION, HOURS_SURFACE_OVER_80,
    RELATIVE_HUMIDITY_MEAN, RELATIVE_HUMIDITY_P95,
};
pub use index::MetricIndex;
pub use interval::{Interval, IntervalKind, Parts};
pub use limits::{DAY_COVERAGE, FLOAT_NOISE_K};
pub use offset::Evenness;
pub use offset::{
    EVEN_P, EVENNESS_VERDICT, IN_REFERENCE, OFFSET_AT_DESIGN, OFFSET_FROM_REFERENCE, OFFSET_STANDARD_ERROR,
    REFERENCE_APART, REFERENCE_ROOMS,
};
pub use outage::{HOURS_WITHOUT_HEAT, OUT_K, without_heat};
pub use outdoor::outdoor;
pub use outdoor::{OUTDOOR_MAXIMUM, OUTDOOR_MEAN, OUTDOOR_MINIMUM};
pub use over_homes::{
    HOMES_OFFSET_BETWEEN, HOMES_OFFSET_MEAN, HOMES_OFFSET_NEW, HOMES_RECOVERY_BETWEEN, HOMES_RECOVERY_MEAN,
    HOMES_RECOVERY_NEW, HOMES_SLOPE_BETWEEN, HOMES_SLOPE_MEAN, HOMES_SLOPE_NEW, HOMES_SPREAD_MEDIAN_BETWEEN,
    HOMES_SPREAD_MEDIAN_MEAN, HOMES_SPREAD_MEDIAN_NEW, HOMES_SPREAD_P95_BETWEEN, HOMES_SPREAD_P95_MEAN,
    HOMES_SPREAD_P95_NEW,
};
pub use over_homes::{
    LEAST_HOMES, MeanOfHomes, OfHome, OverHomes, POOLED, Pooled, PooledOfHome, pooled, rows_over_homes,
};
pub use pictures::{AgainstOutdoors, DayByHour, DayOfHours, DaySeen, LimitSeen, OffBand, Pictures, pictures};
pub use procedures::{PROCEDURES, Procedure};
pub use ramp::{
    HOURS_OVER_DRIFT_LIMIT, MAX_CHANGE_1H, MAX_CHANGE_2H, MAX_CHANGE_4H, MAX_CHANGE_15MIN, MAX_CHANGE_30MIN,
};
pub use recipes::{ALL_TAKE, RECIPES, Recipe, recipe};
pub use recovery::{
    LATE_RECOVERIES, NO_SETBACK, OVERSHOOT, RECOVERIES_CUT_OFF, RECOVERIES_UNKNOWN, RECOVERY_AT_DESIGN,
    RECOVERY_EVENTS, RECOVERY_MEDIAN, RECOVERY_MEDIAN_COLDER, RECOVERY_MEDIAN_MILDER, RECOVERY_OUTDOOR_SPLIT,
    RECOVERY_P90, SETBACKS_FOUND, WARM_UP_RATE,
};
pub use recovery::{Morning, Mornings, granted_h};
pub use room_spread::quorum;
pub use scope::{HomeScope, RoomScope, Slice};
pub use settled::HOURS_BELOW_SETTLED;
pub use slope::{LIMIT_REACHED_AT, MEAN_AT_DESIGN, MEAN_ON_COLD_DAYS, OUTDOOR_SLOPE};
pub use spread::{
    HOURS_SPREAD_OVER_LIMIT, SHARE_COLDEST, SHARE_SPREAD_OVER_LIMIT, SHARE_WARMEST, SPREAD_MAXIMUM,
    SPREAD_MEDIAN, SPREAD_NOISE_FLOOR, SPREAD_P95,
};

use home_cache::HomeCache;
use scope::Period;

use crate::clock::Span;
use crate::grid::AlignedHome;
use crate::site::{Home, Site, WHOLE_RECORD};

/// A metric: what its rows mean. There is one static of each, and code asks for it by that name.
#[derive(Debug)]
pub struct Metric {
    /// The name in tables.
    pub id: &'static str,
    /// Unit of the value: `h`, `K`, `°C`, `%`, `K·h`, `1`.
    pub unit: &'static str,
    /// What it says, in one sentence.
    pub definition: &'static str,
    /// Where the definition comes from.
    pub source: &'static str,
}

/// Two are the same where they are the same static.
impl PartialEq for Metric {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
    }
}

impl Eq for Metric {}

/// Metrics computed together.
#[derive(Debug)]
pub struct Family {
    /// The metrics.
    pub metrics: &'static [&'static Metric],
    /// How.
    pub compute: Compute,
}

/// What a family looks at.
#[derive(Debug)]
pub enum Compute {
    /// One room at a time.
    Room(fn(&RoomScope<'_>, &mut Measured)),
    /// All rooms of a home.
    Home(fn(&HomeScope<'_>, &mut Measured)),
}

/// Every family, in the order of the tables.
pub const FAMILIES: [&Family; 18] = [
    &coverage::FAMILY,
    &distribution::FAMILY,
    &band::FAMILY,
    &settled::FAMILY,
    &cold::FAMILY,
    &extremes::FAMILY,
    &ramp::FAMILY,
    &spread::FAMILY,
    &offset::FAMILY,
    &even_down_to::FAMILY,
    &factor::FAMILY,
    &slope::FAMILY,
    &recovery::FAMILY,
    &outage::FAMILY,
    &cooling::FAMILY,
    &heat_rule::FAMILY,
    &humidity::FAMILY,
    &classes::FAMILY,
];

/// Every metric, in the order of the tables.
pub fn all() -> impl Iterator<Item = &'static Metric> {
    FAMILIES
        .iter()
        .flat_map(|f| f.metrics)
        .chain(outdoor::METRICS)
        .chain(building::METRICS)
        .chain(over_homes::METRICS)
        .chain(at_once::METRICS)
        .chain(daily::METRICS)
        .copied()
}

/// One number: a row of the metrics table.
#[derive(Clone, Debug, PartialEq)]
pub struct MetricRow {
    /// The home.
    pub home: String,
    /// The room; `None` for the home as a whole. Of the building: the use of the rooms that were taken together.
    pub room: Option<String>,
    /// The period.
    pub period: String,
    /// The slice of the period.
    pub slice: Slice,
    /// The metric.
    pub metric: &'static Metric,
    /// The value, in the metric's unit.
    pub value: f64,
    /// The interval, where there is one.
    pub interval: Option<Interval>,
    /// What the interval is made of.
    pub parts: Parts,
    /// Hours with a value that the number rests on.
    pub hours_observed: f64,
}

/// Collects what the families find in one scope.
#[derive(Debug, Default)]
pub struct Measured {
    pub(crate) values: Vec<Value>,
    pub(crate) events: Vec<RoomEvent>,
}

#[derive(Debug)]
pub(crate) struct Value {
    room: Option<usize>,
    metric: &'static Metric,
    value: f64,
    interval: Option<Interval>,
    parts: Parts,
    hours_observed: f64,
}

#[derive(Debug)]
pub(crate) struct RoomEvent {
    room: Option<usize>,
    kind: EventKind,
    span: Span,
    value: f64,
    limit: f64,
    censored: bool,
}

impl Measured {
    /// Adds a number; a number that is not finite is a bug, and stops the run: it would be read as one.
    fn value(&mut self, room: Option<usize>, metric: &'static Metric, value: f64, hours_observed: f64) {
        assert!(value.is_finite(), "{} is {value}", metric.id);
        let (interval, parts) = (None, Parts::default());
        self.values.push(Value { room, metric, value, interval, parts, hours_observed });
    }

    fn value_within(
        &mut self,
        room: Option<usize>,
        metric: &'static Metric,
        value: f64,
        interval: Interval,
        hours_observed: f64,
    ) {
        self.value_of_parts(room, metric, value, (interval, Parts::default()), hours_observed);
    }

    fn value_of_parts(
        &mut self,
        room: Option<usize>,
        metric: &'static Metric,
        value: f64,
        (interval, parts): (Interval, Parts),
        hours_observed: f64,
    ) {
        assert!(value.is_finite(), "{} is {value}", metric.id);
        self.values.push(Value { room, metric, value, interval: Some(interval), parts, hours_observed });
    }
}

/// Metric rows and events of a home.
#[derive(Debug, Default)]
pub struct Computed {
    /// Rows, by period, slice, room (the home itself last) and metric.
    pub rows: Vec<MetricRow>,
    /// Events, by room (the home itself last), kind and time.
    pub events: Vec<Event>,
    /// The periods that were looked at: the site's, or the one of the record.
    pub periods: Vec<(String, Span)>,
}

/// Computes every family for a home: for each period and slice each room in roster order, then the home.
///
/// By weekday and outdoor temperature there are only metrics that do not ask what came before. Events are taken from
/// the slice `all`. A metric that a room's data cannot give has no row.
pub fn compute(site: &Site, home: &Home, aligned: &AlignedHome) -> Computed {
    let whole = HomeCache::new(site, home, aligned);
    let mut computed = Computed { periods: judged_periods(aligned), ..Computed::default() };
    for (period, range) in periods(aligned) {
        let within = Period::new(range);
        for slice in Slice::ALL {
            let scope = whole.scope(slice, &within);
            let mut measured = Measured::default();
            for room in 0..home.rooms.len() {
                let scope = scope.room(room);
                for family in FAMILIES {
                    if let Compute::Room(compute) = family.compute {
                        compute(&scope, &mut measured);
                    }
                }
            }
            for family in FAMILIES {
                if let Compute::Home(compute) = family.compute {
                    compute(&scope, &mut measured);
                }
            }
            computed.rows.extend(rows_of(home, &period, slice, measured.values));
            if slice == Slice::All {
                let event = |e: RoomEvent| Event {
                    home: home.name.clone(),
                    room: e.room.map(|r| home.rooms[r].name.clone()),
                    period: period.clone(),
                    kind: e.kind,
                    span: e.span,
                    value: e.value,
                    limit: e.limit,
                    censored: e.censored,
                };
                computed.events.extend(measured.events.into_iter().map(event));
            }
        }
        for slice in whole.further_slices(&within) {
            let scope = whole.scope(slice, &within);
            computed.rows.extend(rows_of(home, &period, slice, in_further_slice(&scope)));
        }
    }
    computed
}

/// Metrics that are given by weekday and outdoor temperature too: those that do not ask what came before.
static FURTHER: [&Metric; 7] = [
    &MEAN,
    &MINIMUM,
    &HOURS_BELOW_BAND,
    &HOURS_ABOVE_BAND,
    &DEGREE_HOURS_BELOW,
    &SPREAD_MEDIAN,
    &HOURS_SPREAD_OVER_LIMIT,
];

fn in_further_slice(scope: &HomeScope<'_>) -> Vec<Value> {
    let mut measured = Measured::default();
    for room in 0..scope.rooms().len() {
        distribution::mean_and_minimum(&scope.room(room), &mut measured);
        band::without_runs(&scope.room(room), &mut measured);
    }
    spread::without_intervals(scope, &mut measured);
    measured.values.retain(|v| FURTHER.contains(&v.metric));
    measured.values
}

fn rows_of(home: &Home, period: &str, slice: Slice, values: Vec<Value>) -> Vec<MetricRow> {
    let row = |v: Value| MetricRow {
        home: home.name.clone(),
        room: v.room.map(|r| home.rooms[r].name.clone()),
        period: period.to_owned(),
        slice,
        metric: v.metric,
        value: v.value,
        interval: v.interval,
        parts: v.parts,
        hours_observed: v.hours_observed,
    };
    values.into_iter().map(row).collect()
}

/// The periods that are looked at, with their names: the site's, or the one of the record.
pub fn judged_periods(aligned: &AlignedHome) -> Vec<(String, Span)> {
    let span =
        |range: std::ops::Range<usize>| Span { from: aligned.time(range.start), to: aligned.time(range.end) };
    periods(aligned).into_iter().map(|(name, range)| (name, span(range))).collect()
}

fn periods(aligned: &AlignedHome) -> Vec<(String, std::ops::Range<usize>)> {
    match aligned.periods() {
        [] => vec![(WHOLE_RECORD.to_owned(), aligned.most_record())],
        named => named.to_vec(),
    }
}
