//! Whether a run of one value is that of a stuck logger: it takes a witness to say so.

use std::ops::Range;

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::repeats::{Repeat, resolution_without};
use crate::clock::HOUR_MS;
use crate::stats::{Line, median, t_quantile};

/// Hours over which changes are held against each other: long enough for a room to follow.
const CHANGE_H: usize = 6;
/// Hours of a day.
const DAY_H: usize = 24;
/// Steps of its resolution by which the room must have moved.
const STEPS: f64 = 3.0;
/// A room that surely follows the others and is expected to move by less, in steps, is as they are: nothing is strange
/// about one value.
const AS_STEADY: f64 = 1.5;
/// How a room follows the others where its own record cannot tell: by a fifth at least.
const DEFAULT_SLOPE: f64 = 0.2;
/// Fewest changes, not overlapping, from which a slope is taken.
const LEAST_CHANGES: f64 = 8.0;
/// A run of at least this share of a record leaves too little to tell how the room follows.
const MOST_OF_RECORD: f64 = 0.5;

/// Resolution of a fine logger, and from which one is coarse, K.
const FINE_K: f64 = 0.1;
const COARSE_K: f64 = 0.4;

/// Who moved while a logger did not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Witness {
    /// The other rooms of the home.
    Rooms,
    /// The outdoor air.
    Outdoors,
}

/// By how much a witness moved, and the room with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Who.
    pub witness: Witness,
    /// From its lowest to its highest hour during the run, K.
    pub by_k: f64,
    /// By how much the room must at least have moved then, K.
    pub room_k: f64,
}

/// Means of whole hours of the grid.
#[derive(Debug)]
pub struct Hourly {
    rooms: Vec<Vec<f64>>,
    outdoor: Option<Vec<f64>>,
    per_hour: usize,
}

impl Hourly {
    /// Of all rooms and the outdoor air.
    pub(super) fn of(witnesses: &Witnesses<'_>) -> Self {
        let per_hour = (HOUR_MS / witnesses.side.step_ms()).max(1) as usize;
        Self {
            rooms: witnesses.side.rooms().iter().map(|r| super::across::means(r, per_hour)).collect(),
            outdoor: witnesses.outdoor.map(|o| super::across::means(o, per_hour)),
            per_hour,
        }
    }

    /// The median of the other rooms in each hour; NaN where there is none.
    fn others(&self, room: usize) -> Vec<f64> {
        let hours = self.rooms.first().map_or(0, Vec::len);
        let at = |h: usize| {
            let others = self.rooms.iter().enumerate().filter(|(r, _)| *r != room).map(|(_, s)| s[h]);
            median(others.filter(|x| !x.is_nan()).collect()).unwrap_or(f64::NAN)
        };
        (0..hours).map(at).collect()
    }

    /// Whole hours within a range of the grid.
    fn hours(&self, range: &Range<usize>) -> Range<usize> {
        range.start.div_ceil(self.per_hour)..range.end / self.per_hour
    }
}

/// The runs of a logger, each stuck or only flat.
///
/// # Source
/// METRICS, section 2: own definition.
pub(super) fn judge(
    hourly: &Hourly,
    witnesses: &Witnesses<'_>,
    logger: &Logger<'_>,
    runs: &[Repeat],
) -> Vec<Episode> {
    if runs.is_empty() {
        return Vec::new();
    }
    let readings = logger.flagged.readings();
    let others = hourly.others(logger.room);
    let spans: Vec<Range<usize>> = runs.iter().map(|run| hourly.hours(&witnesses.within(run.span))).collect();
    let record_h = match (readings.times_ms().first(), readings.times_ms().last()) {
        (Some(a), Some(b)) => (b - a) as f64 / HOUR_MS as f64,
        _ => 0.0,
    };
    let run_h: f64 = runs.iter().map(|run| run.span.hours()).sum();
    let own = &hourly.rooms[logger.room];
    let own_record = run_h < MOST_OF_RECORD * record_h;
    let slope = |witness: &[f64]| if own_record { slope_of(own, witness, &spans) } else { None };
    let by_rooms = slope(&others);
    let by_outdoor = hourly.outdoor.as_ref().and_then(|o| Some((o, slope(o)?)));
    let judged = |(run, hours): (&Repeat, &Range<usize>)| {
        let step_k = resolution_without(readings, runs, run.degc);
        let range =
            |series: &[f64]| range_of(&series[hours.start.min(series.len())..hours.end.min(series.len())]);
        let moved = |witness, by_k: f64, slope: f64| {
            Some(Moved { witness, by_k, room_k: slope * by_k }).filter(|m| m.room_k >= STEPS * step_k)
        };
        let by_k = range(&others);
        let told =
            moved(Witness::Rooms, by_k, by_rooms.map_or(DEFAULT_SLOPE, |slope| slope.least)).or_else(|| {
                by_outdoor
                    .as_ref()
                    .and_then(|(series, slope)| moved(Witness::Outdoors, range(series), slope.least))
            });
        let (degc, longest_other_h) = (run.degc, run.longest_other_h);
        let seen = match told {
            Some(moved) => Seen::Stuck { degc, longest_other_h, moved },
            None if by_rooms.is_some_and(|s| s.least > 0.0 && s.likely * by_k < AS_STEADY * step_k) => {
                return None;
            }
            None if run.span.hours() < least_flat_h(step_k) => return None,
            None if own_record && daily_range(own, &spans).is_some_and(|k| k < STEPS * step_k) => {
                return None;
            }
            // A coarse logger repeats itself for most of a record where nothing moves it by a step or two.
            None if !own_record && step_k >= COARSE_K && DEFAULT_SLOPE * by_k < as_steady(run) * step_k => {
                return None;
            }
            None => Seen::Flat { degc, longest_other_h },
        };
        Some(Episode { span: run.span, seen })
    };
    runs.iter().zip(&spans).filter_map(judged).collect()
}

/// How far a room usually moves in a day, without the days of some hours: the median range; `None` for fewer than two days.
/// A room that moves by less than a few steps in a day repeats itself.
fn daily_range(own: &[f64], without: &[Range<usize>]) -> Option<f64> {
    let free = |day: &Range<usize>| !without.iter().any(|run| run.start < day.end && day.start < run.end);
    let days = (0..own.len() / DAY_H).map(|d| d * DAY_H..(d + 1) * DAY_H).filter(free);
    let present = |day: &Range<usize>| own[day.clone()].iter().filter(|x| !x.is_nan()).count() >= DAY_H / 2;
    let ranges: Vec<f64> = days.filter(present).map(|day| range_of(&own[day])).collect();
    if ranges.len() < 2 { None } else { median(ranges) }
}

/// Without a witness only so long a run is suspect, in hours: a day of a fine logger, and of a coarse one in proportion,
/// because it repeats itself for so much longer in a steady room; five days at most.
fn least_flat_h(step_k: f64) -> f64 {
    24.0 * (step_k / FINE_K).clamp(1.0, 5.0)
}

/// By how many steps a coarse logger of which nothing else is known must be expected to move: by less where it stood still
/// for long, because a room does not stay in the middle between two steps for weeks.
fn as_steady(run: &Repeat) -> f64 {
    if run.span.hours() >= LONG_DAYS * DAY_H as f64 { LONG_STEADY } else { AS_STEADY }
}

const LONG_DAYS: f64 = 10.0;
const LONG_STEADY: f64 = 1.0;

/// Highest less lowest; 0 where there are no values.
fn range_of(values: &[f64]) -> f64 {
    let present = || values.iter().copied().filter(|x| !x.is_nan());
    let range = present().fold(f64::MIN, f64::max) - present().fold(f64::MAX, f64::min);
    range.max(0.0)
}

/// How a room follows a witness.
#[derive(Clone, Copy, Debug)]
struct Slope {
    likely: f64,
    /// Its lower 95 % limit.
    least: f64,
}

/// How a room's changes over six hours follow those of a witness, without some hours; `None` where too few are left.
/// Changes that overlap count for what they are worth.
fn slope_of(own: &[f64], witness: &[f64], without: &[Range<usize>]) -> Option<Slope> {
    let free = |h: usize| !without.iter().any(|run| h < run.end && run.start <= h + CHANGE_H);
    let last = own.len().min(witness.len()).saturating_sub(CHANGE_H);
    let change = |s: &[f64], h: usize| s[h + CHANGE_H] - s[h];
    let points: Vec<(f64, f64)> = (0..last)
        .filter(|h| free(*h))
        .map(|h| (change(witness, h), change(own, h)))
        .filter(|(x, y)| !x.is_nan() && !y.is_nan())
        .collect();
    let worth = points.len() as f64 / CHANGE_H as f64;
    if worth < LEAST_CHANGES {
        return None;
    }
    let line = Line::fit(&points)?;
    let half = t_quantile(0.975, worth - 2.0)? * line.slope_error * (CHANGE_H as f64).sqrt();
    Some(Slope { likely: line.slope, least: line.slope - half })
}
