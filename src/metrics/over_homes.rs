//! What many homes have in common: the mean over homes, how much homes differ, and where a new home would lie.
//!
//! Settled here, and why:
//! - **Only where a home's number has an interval of its own that holds days and sensors**: offset, spread, slope on the
//!   outdoor temperature, and the logarithm of recovery. Of hours there are quantiles only.
//! - **One value per home and use**: of several rooms with one use the mean, and the mean of their errors, as if they erred
//!   together, which is never too sure.
//! - **An interval of 90 % is 3.29 standard errors wide, one of 95 % 3.92**: the words of the interval say which it is. A recovery's
//!   interval that begins at 0 h has no logarithm there: its upper half counts.
//! - **Homes that cannot be weighed** (no interval: a record under 7 days, a recovery median that was not reached) are counted.
//!   Where they are more than a tenth, no mean is given: the slow ones would be missing, and the others read as all.

use std::collections::BTreeMap;

use super::recovery::{RECOVERY_EVENTS, RECOVERY_MEDIAN};
use super::{
    Interval, IntervalKind, Metric, MetricRow, OFFSET_FROM_REFERENCE, OUTDOOR_SLOPE, Parts, SPREAD_MEDIAN,
    SPREAD_P95, Slice,
};
use crate::site::{Home, Purpose};
use crate::stats::{self, RandomEffects};

/// Homes that a random-effects mean needs.
pub const LEAST_HOMES: usize = 5;
/// Largest share of homes without a weight beside which a mean is given.
const MOST_LEFT_OUT: f64 = 0.1;
/// Share of intervals that hold what they are about.
const CONFIDENCE: f64 = 0.95;

const SOURCE: &str = "R. DerSimonian, N. Laird, Controlled Clinical Trials 7 (1986); interval: J. Hartung, G. Knapp, Statistics in Medicine 20 (2001), never narrower than without it; new home: J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, Journal of the Royal Statistical Society A 172 (2009)";

/// A metric that is given as a mean over homes.
#[derive(Debug)]
pub struct Pooled {
    /// Of each home.
    pub metric: &'static Metric,
    /// Whether it is its logarithm that is pooled.
    pub log: bool,
    /// Below that no home can lie, whatever an interval says.
    pub least: f64,
    /// The mean over homes.
    pub mean: &'static Metric,
    /// The standard deviation between homes.
    pub between: &'static Metric,
    /// One more home.
    pub new_home: &'static Metric,
}

/// Declares the metrics of each pooled one, from what it is called.
macro_rules! pooled {
    ($($of:ident, $log:literal, $least:expr, $unit:literal, $between_unit:literal, $words:literal, $differ:literal:
        $mean:ident $mean_id:literal, $between:ident $between_id:literal, $new:ident $new_id:literal;)+) => {
        metrics! {
            $(
                $mean = Metric {
                    id: $mean_id,
                    unit: $unit,
                    definition: concat!("mean over homes of ", $words, ", weighted by the inverse of the variance between homes and that of each home, which follows from its interval; low and high: its 95 % interval, t of one degree of freedom fewer than homes; from 5 homes on, and where no more than a tenth of the homes cannot be weighed; the row has no home; where rooms are put together, its room is their use"),
                    source: SOURCE,
                };
                $between = Metric {
                    id: $between_id,
                    unit: $between_unit,
                    definition: concat!("by how much homes differ in ", $words, $differ),
                    source: SOURCE,
                };
                $new = Metric {
                    id: $new_id,
                    unit: $unit,
                    definition: concat!("where one more home of the same kind would lie in ", $words, ": low and high are the 95 % prediction interval, t of two degrees of freedom fewer than homes; the value is the mean over homes again"),
                    source: SOURCE,
                };
            )+
        }

        /// What is pooled over homes, in the order of the tables.
        pub static POOLED: &[Pooled] = &[$(Pooled { metric: &$of, log: $log, least: $least, mean: &$mean, between: &$between, new_home: &$new }),+];
    };
}

pooled! {
    OFFSET_FROM_REFERENCE, false, f64::NEG_INFINITY, "K", "K", "offset_from_reference, by use of the rooms", ": standard deviation between homes, their own errors taken out":
        HOMES_OFFSET_MEAN "homes_offset_mean", HOMES_OFFSET_BETWEEN "homes_offset_between", HOMES_OFFSET_NEW "homes_offset_new";
    SPREAD_MEDIAN, false, 0.0, "K", "K", "spread_median", ": standard deviation between homes, their own errors taken out":
        HOMES_SPREAD_MEDIAN_MEAN "homes_spread_median_mean", HOMES_SPREAD_MEDIAN_BETWEEN "homes_spread_median_between", HOMES_SPREAD_MEDIAN_NEW "homes_spread_median_new";
    SPREAD_P95, false, 0.0, "K", "K", "spread_p95", ": standard deviation between homes, their own errors taken out":
        HOMES_SPREAD_P95_MEAN "homes_spread_p95_mean", HOMES_SPREAD_P95_BETWEEN "homes_spread_p95_between", HOMES_SPREAD_P95_NEW "homes_spread_p95_new";
    OUTDOOR_SLOPE, false, f64::NEG_INFINITY, "K/K", "K/K", "outdoor_slope, by use of the rooms", ": standard deviation between homes, their own errors taken out":
        HOMES_SLOPE_MEAN "homes_slope_mean", HOMES_SLOPE_BETWEEN "homes_slope_between", HOMES_SLOPE_NEW "homes_slope_new";
    RECOVERY_MEDIAN, true, 0.0, "h", "1", "recovery_median by use of the rooms, on the scale of its natural logarithm (the mean is a geometric one)", ": standard deviation of the natural logarithm between homes, their own errors taken out":
        HOMES_RECOVERY_MEAN "homes_recovery_mean", HOMES_RECOVERY_BETWEEN "homes_recovery_between", HOMES_RECOVERY_NEW "homes_recovery_new";
}

/// What is pooled of a metric; `None`: there are quantiles only.
pub fn pooled(metric: &str) -> Option<&'static Pooled> {
    POOLED.iter().find(|pooled| pooled.metric.id == metric)
}

impl Pooled {
    /// Value and standard error of a room's or home's number on the scale on which it is pooled; `interval`: its ends and the
    /// words that say what it is. `None` where they cannot carry it.
    pub fn estimate(&self, value: f64, interval: Option<(f64, f64, &str)>) -> Option<(f64, f64)> {
        let (low, high, words) = interval?;
        let confidence = match words {
            w if w.starts_with("90 %") => 0.9,
            w if w.starts_with("95 %") => 0.95,
            _ => return None,
        };
        let half = stats::normal_quantile((1.0 + confidence) / 2.0);
        let (value, error) = match self.log {
            false => (value, (high - low) / (2.0 * half)),
            true if value <= 0.0 => return None,
            true if low <= 0.0 => (libm::log(value), libm::log(high / value) / half),
            true => (libm::log(value), libm::log(high / low) / (2.0 * half)),
        };
        (value.is_finite() && error.is_finite() && error > 0.0).then_some((value, error))
    }

    /// Whether a metric says that a room or home has something to be pooled, so that it is missing where it cannot be.
    pub fn asks_for(&self, metric: &str, value: f64) -> bool {
        match self.log {
            true => metric == RECOVERY_EVENTS.id && value > 0.0,
            false => metric == self.metric.id,
        }
    }
}

/// What is known of one home, or of its rooms with one use.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OfHome {
    /// Rooms of which there is something to be known, and those with a number.
    asked: u32,
    valued: u32,
    /// Rooms with value and error, the sums of both, and of the hours behind them.
    rooms: u32,
    values: f64,
    errors: f64,
    hours: f64,
}

impl OfHome {
    /// Adds a room's number, or that of the home itself, with the hours behind it.
    pub fn add(&mut self, estimate: Option<(f64, f64)>, hours: f64) {
        self.valued += 1;
        if let Some((value, error)) = estimate {
            self.rooms += 1;
            self.values += value;
            self.errors += error;
            self.hours += hours;
        }
    }

    /// There is something to be known of a room, whatever came of it.
    pub const fn ask(&mut self) {
        self.asked += 1;
    }

    /// Whether a room of which there is something to be known has no number: a recovery that was not reached.
    pub const fn is_open(&self) -> bool {
        self.valued < self.asked
    }

    /// Value and variance; none where a room of which there is something to be known has none.
    fn estimate(&self) -> Option<(f64, f64)> {
        let rooms = f64::from(self.rooms);
        let error = self.errors / rooms;
        (self.rooms > 0 && self.rooms >= self.asked).then(|| (self.values / rooms, error * error))
    }
}

/// What homes have in common.
#[derive(Clone, Debug, PartialEq)]
pub struct OverHomes {
    /// Homes with a weight.
    pub homes: usize,
    /// Homes that cannot be weighed.
    pub left_out: usize,
    /// Hours behind the numbers of the homes with a weight.
    pub hours: f64,
    /// Mean, standard deviation between homes (of logarithms where these are pooled), and the ends of both intervals; else why
    /// there is no mean.
    pub told: Result<MeanOfHomes, String>,
}

/// A mean over homes, in the unit of the metric.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanOfHomes {
    /// The mean.
    pub mean: f64,
    /// Its 95 % interval.
    pub interval: (f64, f64),
    /// Standard deviation between homes.
    pub between: f64,
    /// 95 % prediction interval of one more home.
    pub new_home: (f64, f64),
}

impl OverHomes {
    /// Of what is known of each home.
    pub fn of<'h>(pooled: &Pooled, homes: impl Iterator<Item = &'h OfHome>) -> Self {
        let (mut known, mut left_out) = (Vec::new(), 0);
        for home in homes.filter(|home| home.asked > 0) {
            match home.estimate() {
                Some((value, variance)) => known.push((value, variance, home.hours)),
                None => left_out += 1,
            }
        }
        // Sums do not depend on the order of homes, which pseudonyms change.
        known.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2)));
        let estimates: Vec<(f64, f64)> =
            known.iter().map(|(value, variance, _)| (*value, *variance)).collect();
        let hours = known.iter().map(|(.., hours)| hours).sum();
        let homes = estimates.len();
        let told = match () {
            () if homes < LEAST_HOMES => {
                Err(format!("{homes} homes with an interval, {LEAST_HOMES} are needed"))
            }
            () if left_out as f64 > MOST_LEFT_OUT * (homes + left_out) as f64 => Err(format!(
                "{left_out} of {} homes have no interval of their own, more than a tenth: the others do not stand for all",
                homes + left_out
            )),
            () => mean_of_homes(pooled, &estimates).ok_or_else(|| "the numbers cannot be weighed".to_owned()),
        };
        Self { homes, left_out, hours, told }
    }
}

fn mean_of_homes(pooled: &Pooled, estimates: &[(f64, f64)]) -> Option<MeanOfHomes> {
    let effects = RandomEffects::of(estimates)?;
    let back = |x: f64| if pooled.log { libm::exp(x) } else { x };
    let both = |(low, high): (f64, f64)| (back(low).max(pooled.least), back(high));
    let told = MeanOfHomes {
        mean: back(effects.mean),
        interval: both(effects.interval(CONFIDENCE)?),
        between: effects.between_deviation(),
        new_home: both(effects.prediction(CONFIDENCE)?),
    };
    let ends = [told.interval.0, told.interval.1, told.new_home.0, told.new_home.1];
    ends.iter().all(|x| x.is_finite()).then_some(told)
}

/// Place of a pooled metric, period and use: what is kept of each home, by these.
type Place = (usize, String, Option<Purpose>);

/// What is kept of a home, until all homes are read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PooledOfHome(Vec<(Place, OfHome)>);

impl PooledOfHome {
    /// Of its rows.
    pub fn of(home: &Home, rows: &[MetricRow]) -> Self {
        let mut known: Vec<(Place, OfHome)> = Vec::new();
        for row in rows.iter().filter(|row| row.slice == Slice::All) {
            for (at, pooled) in POOLED.iter().enumerate() {
                let (own, asks) = (row.metric == pooled.metric, pooled.asks_for(row.metric.id, row.value));
                if !own && !asks {
                    continue;
                }
                let of_room = |name: &String| home.rooms.iter().find(|r| r.name == *name).map(|r| r.purpose);
                let place = (at, row.period.clone(), row.room.as_ref().and_then(of_room));
                let found = known.iter().position(|(of, _)| *of == place).unwrap_or_else(|| {
                    known.push((place, OfHome::default()));
                    known.len() - 1
                });
                let of_home = &mut known[found].1;
                if asks {
                    of_home.ask();
                }
                if own {
                    of_home.add(pooled.estimate(row.value, told(row)), row.hours_observed);
                }
            }
        }
        Self(known)
    }
}

fn told(row: &MetricRow) -> Option<(f64, f64, &'static str)> {
    row.interval.map(|i| (i.low, i.high, i.kind.words()))
}

/// Rows of the building (their home is empty): per pooled metric, period and use the mean over its homes, how much they differ, and one more home.
pub fn rows_over_homes(homes: &[PooledOfHome]) -> Vec<MetricRow> {
    let mut of_place: BTreeMap<(usize, &str, &str), Vec<&OfHome>> = BTreeMap::new();
    for ((at, period, purpose), of_home) in homes.iter().flat_map(|home| &home.0) {
        of_place.entry((*at, period, purpose.map_or("", Purpose::word))).or_default().push(of_home);
    }
    let of = |((at, period, purpose), homes): ((usize, &str, &str), Vec<&OfHome>)| {
        let pooled = &POOLED[at];
        let over = OverHomes::of(pooled, homes.into_iter());
        over.told.as_ref().map_or(Vec::new(), |told| three_rows(pooled, (period, purpose), told, over.hours))
    };
    of_place.into_iter().flat_map(of).collect()
}

fn three_rows(
    pooled: &Pooled,
    (period, purpose): (&str, &str),
    told: &MeanOfHomes,
    hours: f64,
) -> Vec<MetricRow> {
    let row = |metric: &'static Metric, value: f64, interval: Option<Interval>| MetricRow {
        home: String::new(),
        room: (!purpose.is_empty()).then(|| purpose.to_owned()),
        period: period.to_owned(),
        slice: Slice::All,
        metric,
        value,
        interval,
        parts: Parts::default(),
        hours_observed: hours,
    };
    let within = |(low, high): (f64, f64), kind| Some(Interval { low, high, kind });
    vec![
        row(pooled.mean, told.mean, within(told.interval, IntervalKind::OverHomes)),
        row(pooled.between, told.between, None),
        row(pooled.new_home, told.mean, within(told.new_home, IntervalKind::NewHome)),
    ]
}
