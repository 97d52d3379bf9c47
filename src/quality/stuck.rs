//! Whether a run of one value is that of a stuck logger: it takes a witness to say so.
//!
//! Settled here, and why:
//! - **Stuck** needs a witness, as METRICS has it, with two additions of ours: up to four runs may be those of a stuck
//!   logger, each held against the longest run that is none (a logger that sticks twice would otherwise excuse itself),
//!   and the resolution of a logger that never read anything else is the coarsest common step that its value lies on.
//!   Where the run is half of the record or more, the room is taken to follow the others by a fifth. A room that surely
//!   follows the others and is expected to move by less than one and a half steps meanwhile is as steady as the others:
//!   nothing is said of it.

use std::collections::VecDeque;
use std::ops::Range;

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::repeats::{Repeat, resolution_without, step_of};
use crate::clock::{HOUR_MS, Span, UtcTime};
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

/// A run of a coarse logger that is shorter than its steps allow counts where it lasts for so many hours, for this share of the
/// record, and so many times as long as the longest other run.
const UNLIKE_H: f64 = 36.0;
const UNLIKE_SHARE: f64 = 0.1;
const UNLIKE_TIMES: f64 = 4.0;

/// A run without a witness must be so many times as long as the other rooms would repeat a value.
const TIMES_BESIDE: f64 = 3.0;
/// Rooms that stay within a step for so many hours are steady: one of them may do so for as long as it likes.
const STEADY_H: f64 = 48.0;
/// A room does not move by more than the others do, whatever its changes say.
const MOST_SLOPE: f64 = 1.0;

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
    /// Room and resolution, K, of each logger that ever changed.
    steps: Vec<(usize, f64)>,
}

impl Hourly {
    /// Of all rooms and the outdoor air.
    pub(super) fn of(witnesses: &Witnesses<'_>, loggers: &[Logger<'_>]) -> Self {
        let per_hour = (HOUR_MS / witnesses.side.step_ms()).max(1) as usize;
        Self {
            rooms: witnesses.side.rooms().iter().map(|r| super::peer_check::means(r, per_hour)).collect(),
            outdoor: witnesses.outdoor.map(|o| super::peer_check::means(o, per_hour)),
            per_hour,
            steps: loggers
                .iter()
                .filter_map(|l| Some((l.room, step_of(l.flagged.readings().degc())?)))
                .collect(),
        }
    }

    /// The coarsest resolution of the loggers of other rooms, K; infinite where none is known.
    fn coarsest_beside(&self, room: usize) -> f64 {
        let others = self.steps.iter().filter(|(r, _)| *r != room).map(|(_, step)| *step);
        others.reduce(f64::max).unwrap_or(f64::INFINITY)
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

    /// From the lowest to the highest hour of the rooms beside one: of the one that moves most but one, because the one that
    /// moves most may have been outdoors; of a single one, its own.
    fn most_but_one(&self, room: usize, hours: &Range<usize>) -> f64 {
        let mut ranges = self.beside(room, hours, range_of);
        if ranges.len() > 1 { ranges[1] } else { ranges.pop().unwrap_or(0.0) }
    }

    /// Hours for which the rooms beside one would have repeated a value, read in steps of `step_k`: the longest but one,
    /// because one of them may be stuck as well.
    fn would_repeat_h(&self, room: usize, hours: &Range<usize>, step_k: f64) -> Option<f64> {
        let mut longest = self.beside(room, hours, |series| longest_repeat(series, step_k) as f64);
        if longest.len() > 1 { Some(longest[1]) } else { longest.pop() }
    }

    /// Whether other rooms have values, but none then.
    fn is_alone(&self, room: usize, hours: &Range<usize>) -> bool {
        let any = |hours: &Range<usize>| !self.beside(room, hours, |_| 0.0).is_empty();
        !any(hours) && any(&(0..self.rooms[room].len()))
    }

    /// Something of each of the other rooms that has hours then, largest first.
    fn beside(&self, room: usize, hours: &Range<usize>, of: impl Fn(&[f64]) -> f64) -> Vec<f64> {
        let others = self.rooms.iter().enumerate().filter(|(r, _)| *r != room);
        let then = others.map(|(_, s)| &s[hours.start.min(s.len())..hours.end.min(s.len())]);
        let present = then.filter(|s| s.iter().any(|x| !x.is_nan()));
        let mut all: Vec<f64> = present.map(of).collect();
        all.sort_by(|a, b| b.total_cmp(a));
        all
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
    let record = match (readings.times_ms().first(), readings.times_ms().last()) {
        (Some(from), Some(to)) => Span { from: UtcTime::from_ms(*from), to: UtcTime::from_ms(*to) },
        _ => return Vec::new(),
    };
    let of_another_time = hourly.is_alone(logger.room, &hourly.hours(&witnesses.within(record)));
    let run_h: f64 = runs.iter().map(|run| run.span.hours()).sum();
    let own = &hourly.rooms[logger.room];
    let own_record = run_h < MOST_OF_RECORD * record.hours();
    let slope = |witness: &[f64]| if own_record { slope_of(own, witness, &spans) } else { None };
    let by_rooms = slope(&others);
    let by_outdoor = hourly.outdoor.as_ref().and_then(|o| Some((o, slope(o)?)));
    let judged = |(run, hours): (&Repeat, &Range<usize>)| {
        let step_k = resolution_without(readings, runs, run.degc, hourly.coarsest_beside(logger.room));
        let range =
            |series: &[f64]| range_of(&series[hours.start.min(series.len())..hours.end.min(series.len())]);
        let moved = |witness, by_k: f64, slope: f64| {
            Some(Moved { witness, by_k, room_k: slope * by_k }).filter(|m| m.room_k >= STEPS * step_k)
        };
        let by_k = range(&others).min(hourly.most_but_one(logger.room, hours));
        let told =
            moved(Witness::Rooms, by_k, by_rooms.map_or(DEFAULT_SLOPE, |slope| slope.least)).or_else(|| {
                by_outdoor
                    .as_ref()
                    .and_then(|(series, slope)| moved(Witness::Outdoors, range(series), slope.least))
            });
        let (degc, longest_other_h) = (run.degc, run.longest_other_h);
        let unlike = unlike_itself(run, record.hours());
        let seen = match told {
            Some(moved) => Seen::Stuck { degc, longest_other_h, moved },
            None if by_rooms.is_some_and(|s| s.least > 0.0 && s.likely * by_k < AS_STEADY * step_k) => {
                return None;
            }
            None if !unlike && run.span.hours() < least_flat_h(step_k) => return None,
            None if !unlike && own_record && daily_range(own, &spans).is_some_and(|k| k < STEPS * step_k) => {
                return None;
            }
            // In another time than the rest of the home nobody tells what a coarse logger should have done, nor any whose whole
            // record lies there.
            None if (step_k >= COARSE_K && hourly.is_alone(logger.room, hours)) || of_another_time => {
                return None;
            }
            // Rooms that would repeat a value for as long, had they such a logger, make nothing strange of it; what a fine
            // logger wrote before and after tells more.
            None if (!own_record || step_k >= COARSE_K)
                && hourly
                    .would_repeat_h(logger.room, hours, step_k)
                    .is_some_and(|h| h > STEADY_H || run.span.hours() < TIMES_BESIDE * h) =>
            {
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

/// Whether a run is so much longer than any other of its record that even a coarse logger would not repeat itself so.
fn unlike_itself(run: &Repeat, record_h: f64) -> bool {
    let hours = run.span.hours();
    hours >= UNLIKE_H && hours >= UNLIKE_SHARE * record_h && hours >= UNLIKE_TIMES * run.longest_other_h
}

/// The longest time for which a series of hours stays within one step, in hours: a logger that has such steps may then
/// repeat one value.
fn longest_repeat(series: &[f64], step_k: f64) -> usize {
    let present: Vec<f64> = series.iter().copied().filter(|x| !x.is_nan()).collect();
    let (mut lowest, mut highest) = (VecDeque::new(), VecDeque::new());
    let (mut start, mut longest) = (0, 0);
    for (i, x) in present.iter().enumerate() {
        push(&mut lowest, i, |last: usize| present[last] >= *x);
        push(&mut highest, i, |last: usize| present[last] <= *x);
        while present[highest[0]] - present[lowest[0]] >= step_k {
            start += 1;
            for ends in [&mut lowest, &mut highest] {
                if ends[0] < start {
                    ends.pop_front();
                }
            }
        }
        longest = longest.max(i + 1 - start);
    }
    longest
}

/// Puts a place behind those that it does not outdo.
fn push(places: &mut VecDeque<usize>, place: usize, outdone: impl Fn(usize) -> bool) {
    while places.back().is_some_and(|last| outdone(*last)) {
        places.pop_back();
    }
    places.push_back(place);
}

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
    Some(Slope { likely: line.slope, least: (line.slope - half).min(MOST_SLOPE) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_stay_within_a_step_does_not_depend_on_where_the_steps_lie() {
        let series = [20.4, 20.6, 20.4, 20.6, 21.3, 21.4, f64::NAN, 21.5];
        assert_eq!(longest_repeat(&series, 1.0), 5);
        assert_eq!(longest_repeat(&series, 0.5), 4);
        assert_eq!(longest_repeat(&series, 0.05), 1);
        assert_eq!(longest_repeat(&[], 1.0), 0);
    }
}
