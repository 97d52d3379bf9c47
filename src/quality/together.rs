//! Loggers of a home that lie in one place at the start or the end of their records: in the box they came in, on a desk.
//!
//! Settled here, and why:
//! - **A box is no evidence**: rooms with open doors that cool together look like loggers that lie together. The time is
//!   suspect, so that it is used and nothing good rests on it, and the cells to paste stand beside it.
//! - **Rooms that keep their usual distances** at those hours are no box (`kept_places`).
//! - **Where rooms are alike anyway**, loggers in a box are told by standing still beside each other (`still`).

use std::ops::Range;

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::still::Still;
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::stats::median;

/// Fewest loggers, and shortest time, that are told: for some hours of a night without heat rooms are alike by themselves.
const LEAST_LOGGERS: usize = 3;
const LEAST_MS: i64 = 8 * HOUR_MS;
/// Of so many one may be far out, for so long.
const MANY: usize = 5;
const LONG_MS: i64 = 12 * HOUR_MS;
/// Loggers that lie together may differ by their own errors, K, or by one and a half of their usual step.
const TOGETHER_K: f64 = 1.0;
const TOGETHER_STEPS: f64 = 1.5;
/// In their rooms they lie so many times as far apart, and at least so far, K.
const TIMES_APART: f64 = 3.0;
const APART_K: f64 = 1.5;
/// Time in which they part, and the times after it (before it, at the end) that are held against the box.
const PARTING_MS: i64 = 90 * 60_000;
const SOON_MS: i64 = 3 * HOUR_MS;
const AFTER_MS: i64 = 24 * HOUR_MS;
/// Nobody leaves loggers in a box for longer.
const MOST_MS: i64 = 15 * 24 * HOUR_MS;
/// Instants beyond the limit that are let pass in a row, as time: a hand that reaches for one of them.
const PASSED_MS: i64 = 10 * 60_000;
/// The box must lie within this of the first or last time at which most loggers record.
const EDGE_MS: i64 = 12 * HOUR_MS;

/// The times in which the loggers of a home lie in one place.
pub(super) fn find(witnesses: &Witnesses<'_>, loggers: &[Logger<'_>]) -> Vec<Episode> {
    if loggers.len() < LEAST_LOGGERS {
        return Vec::new();
    }
    let steps: Vec<f64> =
        loggers.iter().map(|l| super::checks::resolution(l.flagged.readings().degc()).k()).collect();
    let ends: Vec<(i64, i64)> = loggers.iter().filter_map(ends_ms).collect();
    let (rooms, step_ms) = (witnesses.side.rooms(), witnesses.side.step_ms());
    let told = |found: InOnePlace| {
        let ms = (witnesses.time(found.range.start).ms(), witnesses.time(found.range.end).ms());
        let (from, to) = to_the_edge(ms, found.at_start, step_ms, &ends);
        let InOnePlace { loggers, spread_k, at_start, .. } = found;
        let span = Span { from: UtcTime::from_ms(from), to: UtcTime::from_ms(to) };
        Episode { span, seen: Seen::Together { loggers, spread_k, at_start } }
    };
    let mut all = in_one_place(rooms, step_ms, steps.clone(), Parting::AtOnce);
    let usual_step = median(steps).unwrap_or(0.0);
    for at_start in [true, false] {
        if all.iter().all(|found| found.at_start != at_start) {
            let still = super::still::at_edge(rooms, step_ms, usual_step, at_start);
            all.extend(still.map(|Still { range, spread_k }| InOnePlace {
                range,
                loggers: rooms.len(),
                spread_k,
                at_start,
            }));
        }
    }
    all.retain(|found| !super::kept_places::kept(rooms, step_ms, &found.range));
    all.into_iter().map(told).collect()
}

/// First and last reading of a logger in its room.
fn ends_ms(logger: &Logger<'_>) -> Option<(i64, i64)> {
    let times = logger.flagged.readings().times_ms();
    let here = |t: &&i64| logger.placed.contains(UtcTime::from_ms(**t));
    Some((*times.iter().find(here)?, *times.iter().rev().find(here)?))
}

/// A box with the readings on its outer side: the grid leaves out those for which too few loggers record, and what is cut
/// off by `from` and `to` of the box must not stay behind as a reading or two of a room.
///
/// `ends`: first and last reading of each logger. One that goes on for longer than loggers take to part stays a room's.
pub(crate) fn to_the_edge(
    (from, to): (i64, i64),
    at_start: bool,
    step_ms: i64,
    ends: &[(i64, i64)],
) -> (i64, i64) {
    if at_start {
        let outer = ends.iter().map(|e| e.0).filter(|first| (from - PARTING_MS..from).contains(first));
        return (outer.min().map_or(from, |first| first.div_euclid(step_ms) * step_ms), to);
    }
    let outer = ends.iter().map(|e| e.1).filter(|last| (to..to + PARTING_MS).contains(last));
    (from, outer.max().map_or(to, |last| (last.div_euclid(step_ms) + 1) * step_ms))
}

/// What must become of loggers that lay in one place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Parting {
    /// They part at once, and stay apart: evidence enough to doubt readings.
    AtOnce,
    /// They lie apart in the middle of the rest of the record: enough to ask a person.
    InTheLongRun,
}

/// Loggers that lie in one place.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct InOnePlace {
    /// When, as places on the grid.
    pub(crate) range: Range<usize>,
    /// How many they are.
    pub(crate) loggers: usize,
    /// Their median spread meanwhile, and afterwards (before, at the end), K.
    pub(crate) spread_k: (f64, f64),
    /// At the start, else at the end.
    pub(crate) at_start: bool,
}

/// The time at the start, and that at the end, in which all loggers that record lie together and after (before) which they
/// part; `steps_k`: the resolution of each logger.
///
/// A home whose rooms are always alike parts nowhere, and nothing is said of it. One room that goes its own way, as in an
/// outage or beside an open window, is no parting: without the logger that is furthest out the others must lie apart
/// too. One that is far out in the box already counts for nothing.
///
/// # Source
/// Own definition.
pub(crate) fn in_one_place(
    rooms: &[&[f64]],
    step_ms: i64,
    steps_k: Vec<f64>,
    parting: Parting,
) -> Vec<InOnePlace> {
    if rooms.len() < LEAST_LOGGERS {
        return Vec::new();
    }
    // One coarse logger among fine ones does not make the others differ.
    let Some(usual_step) = median(steps_k) else { return Vec::new() };
    let limit = TOGETHER_K.max(TOGETHER_STEPS * usual_step.min(1.0));
    let spreads = spreads(rooms);
    let found = |at_start| {
        let search = Search { step_ms, limit, at_start, parting };
        let all = search.in_box(&spreads, LEAST_MS, |s| s.all);
        // What a person is asked about is said of all loggers.
        let but_one = || search.but_one(rooms, &spreads).filter(|_| parting == Parting::AtOnce);
        all.or_else(but_one)
    };
    [true, false].into_iter().filter_map(found).collect()
}

/// The rooms at one instant.
#[derive(Clone, Copy)]
struct Spread {
    /// Rooms with a value.
    rooms: usize,
    /// Highest less lowest; NaN with fewer than three.
    all: f64,
    /// The same without the room that is furthest out.
    without_one: f64,
}

fn spreads(rooms: &[&[f64]]) -> Vec<Spread> {
    let at = |i: usize| {
        // The two lowest and the two highest.
        let (mut count, mut low, mut high) = (0, [f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for x in rooms.iter().map(|room| room[i]).filter(|x| !x.is_nan()) {
            count += 1;
            low = [low[0].min(x), low[1].min(low[0].max(x))];
            high = [high[0].max(x), high[1].max(high[0].min(x))];
        }
        let without = |n: usize| (0..=n).map(|k| high[k] - low[n - k]).fold(f64::INFINITY, f64::min);
        match count >= LEAST_LOGGERS {
            true => Spread { rooms: count, all: without(0), without_one: without(1) },
            false => Spread { rooms: count, all: f64::NAN, without_one: f64::NAN },
        }
    };
    (0..rooms.first().map_or(0, |r| r.len())).map(at).collect()
}

/// How one end of the record is looked through.
#[derive(Clone, Copy, Debug)]
struct Search {
    step_ms: i64,
    /// How far apart those that lie together may be, K.
    limit: f64,
    at_start: bool,
    parting: Parting,
}

impl Search {
    fn per(&self, ms: i64) -> usize {
        (ms / self.step_ms).max(1) as usize
    }

    /// From the edge inwards, whichever edge it is.
    fn place(&self, k: usize, len: usize) -> usize {
        if self.at_start { k } else { len - 1 - k }
    }

    /// Times that begin near the edge in which the rooms lie together, seen from the edge.
    fn runs(&self, spreads: &[Spread], of: fn(&Spread) -> f64) -> Vec<Range<usize>> {
        let spread = |k: usize| spreads[self.place(k, spreads.len())];
        let near = |k: usize| of(&spread(k)) <= self.limit;
        let Some(first) = (0..spreads.len()).find(|k| !spread(*k).all.is_nan()) else { return Vec::new() };
        runs(first..spreads.len(), near, first + self.per(EDGE_MS), self.per(PASSED_MS))
    }

    /// The first time of some length in which the rooms lie together, and after which they part.
    fn in_box(&self, spreads: &[Spread], least_ms: i64, of: fn(&Spread) -> f64) -> Option<InOnePlace> {
        let long = |run: &Range<usize>| (self.per(least_ms)..=self.per(MOST_MS)).contains(&run.len());
        let runs = self.runs(spreads, of);
        let (run, inside, outside) =
            runs.iter().filter(|run| long(run)).find_map(|run| self.parted(spreads, run))?;
        let (a, b) = (self.place(run.start, spreads.len()), self.place(run.end - 1, spreads.len()));
        let range = a.min(b)..a.max(b) + 1;
        let loggers = spreads[range.clone()].iter().map(|s| s.rooms).max()?;
        Some(InOnePlace { range, loggers, spread_k: (inside, outside), at_start: self.at_start })
    }

    /// A time together with the median spread in it and after it, where the rooms part then.
    fn parted(&self, spreads: &[Spread], run: &Range<usize>) -> Option<(Range<usize>, f64, f64)> {
        let len = spreads.len();
        let middle = |from: usize, to: usize, of: fn(&Spread) -> f64| {
            let values = (from.min(len)..to.min(len)).map(|k| of(&spreads[self.place(k, len)]));
            median(values.filter(|s| !s.is_nan()).collect())
        };
        let parted = run.end + self.per(PARTING_MS);
        let whole: fn(&Spread) -> f64 = |s| s.all;
        let without: fn(&Spread) -> f64 = |s| s.without_one;
        let inside = middle(run.start, run.end, whole)?;
        let apart = |k: f64, box_k: f64| k >= TIMES_APART * box_k && k >= APART_K;
        if self.parting == Parting::InTheLongRun {
            let rest = middle(parted, len, whole)?;
            return apart(rest, inside).then_some((run.clone(), inside, rest));
        }
        let within = middle(run.start, run.end, without)?;
        let soon = middle(parted, parted + self.per(SOON_MS), without)?;
        let later = middle(parted, parted + self.per(AFTER_MS), without)?;
        let outside = middle(parted, parted + self.per(AFTER_MS), whole)?;
        (apart(soon, within) && apart(later, within)).then_some((run.clone(), inside, outside))
    }

    /// The same without the logger that is far out in the box: one that is stuck, in another unit or outside of it does
    /// not keep the others from lying together.
    fn but_one(&self, rooms: &[&[f64]], spreads: &[Spread]) -> Option<InOnePlace> {
        if rooms.len() < MANY {
            return None;
        }
        let long = |run: &Range<usize>| run.len() >= self.per(LONG_MS);
        let run = self
            .runs(spreads, |s| if s.rooms >= MANY { s.without_one } else { f64::NAN })
            .into_iter()
            .find(long)?;
        let out = furthest(rooms, run.map(|k| self.place(k, spreads.len())))?;
        let others: Vec<&[f64]> =
            rooms.iter().enumerate().filter(|(r, _)| *r != out).map(|(_, s)| *s).collect();
        self.in_box(&self::spreads(&others), LONG_MS, |s| s.all)
    }
}

/// The room that mostly is furthest from the middle of all.
fn furthest(rooms: &[&[f64]], places: impl Iterator<Item = usize>) -> Option<usize> {
    let mut off: Vec<Vec<f64>> = vec![Vec::new(); rooms.len()];
    for i in places {
        let Some(middle) = median(rooms.iter().map(|s| s[i]).filter(|x| !x.is_nan()).collect()) else {
            continue;
        };
        for (off, room) in off.iter_mut().zip(rooms).filter(|(_, room)| !room[i].is_nan()) {
            off.push((room[i] - middle).abs());
        }
    }
    let medians = off.into_iter().enumerate().filter_map(|(r, off)| Some((r, median(off)?)));
    medians.max_by(|a, b| a.1.total_cmp(&b.1)).map(|(r, _)| r)
}

/// Runs of what is near that begin no later than `latest`; so many others in a row do not end one.
fn runs(
    places: Range<usize>,
    near: impl Fn(usize) -> bool,
    latest: usize,
    passed: usize,
) -> Vec<Range<usize>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for k in places {
        match runs.last_mut() {
            Some(run) if k - run.end <= passed && near(k) => run.end = k + 1,
            Some(run) if k - run.end <= passed => {}
            _ if k > latest => break,
            _ if near(k) => runs.push(k..k + 1),
            _ => {}
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exports::Readings;
    use crate::quality::Flagged;
    use crate::quality::peer_check::{PeerCheck, PeerRooms};
    use crate::site::QualityLimits;

    const STEP_MS: i64 = 600_000;

    /// What is said of four loggers of ten days, by room and instant.
    fn said(of: impl Fn(usize, usize) -> f64) -> Vec<(bool, i64, i64)> {
        said_of(4, of)
    }

    fn said_of(loggers: usize, of: impl Fn(usize, usize) -> f64) -> Vec<(bool, i64, i64)> {
        let rooms: Vec<Vec<f64>> = (0..loggers).map(|r| (0..1440).map(|i| of(r, i)).collect()).collect();
        let flagged: Vec<Flagged> = rooms
            .iter()
            .map(|room| {
                let series: Vec<(i64, Option<f64>)> =
                    (0..).zip(room).map(|(i, x)| (i * STEP_MS, Some(*x))).collect();
                Flagged::new(Readings::from_series(&series), &QualityLimits::default())
            })
            .collect();
        let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
        let local_ms: Vec<i64> = (0..1440).map(|i| i * STEP_MS).collect();
        let side =
            PeerCheck::new(PeerRooms { degc: &degc, local_ms: &local_ms, step_ms: STEP_MS, outdoor: None });
        let witnesses = Witnesses { side: &side, outdoor: None, first: UtcTime::from_ms(0) };
        let loggers: Vec<Logger<'_>> = (0..)
            .zip(&flagged)
            .map(|(room, flagged)| Logger { room, flagged, placed: Span::ALWAYS })
            .collect();
        let hour = |t: UtcTime| t.ms() / HOUR_MS;
        find(&witnesses, &loggers)
            .iter()
            .map(|e| match e.seen {
                Seen::Together { at_start, .. } => (at_start, hour(e.span.from), hour(e.span.to)),
                _ => unreachable!("nothing else is looked for"),
            })
            .collect()
    }

    fn in_a_box(i: usize) -> f64 {
        20.0 - (i % 144) as f64 * 0.02
    }

    #[test]
    fn loggers_in_a_box_are_told_at_both_ends() {
        let apart = |r: usize, i: usize| 20.0 + 1.5 * r as f64 + (i % 7) as f64 * 0.1;
        let of = |until: usize, from: usize| {
            move |r: usize, i: usize| if i < until || i >= from { in_a_box(i) } else { apart(r, i) }
        };
        assert_eq!(said(of(144, 1440)), [(true, 0, 24)]);
        assert_eq!(said(of(0, 1380)), [(false, 230, 240)]);
        assert!(said(of(12, 1440)).is_empty(), "two hours may be chance");
        assert!(said(apart).is_empty());
    }

    #[test]
    fn one_logger_outside_of_the_box_does_not_keep_the_others_from_lying_together() {
        // Afterwards the others are no further apart than rooms are: the one outside was taken off once, not twice.
        let of = |outside: f64| {
            move |r: usize, i: usize| match r {
                5 => outside + (i % 9) as f64 * 0.1,
                r if i < 300 => in_a_box(i) + 0.1 * r as f64,
                r => 20.0 + [0.0, 0.2, 1.7, 1.9, 2.0][r] + (i % 7) as f64 * 0.1,
            }
        };
        assert_eq!(said_of(6, of(15.0)), [(true, 0, 50)]);
        assert!(said_of(4, |r, i| if r == 3 { 15.0 } else { in_a_box(i) + 2.0 * r as f64 }).is_empty());
    }

    #[test]
    fn rooms_that_are_always_alike_lie_in_no_box() {
        assert!(said(|r, i| in_a_box(i) + 0.2 * r as f64).is_empty());
        // One room goes its own way: no heat, a window, a logger outdoors.
        let one = |r: usize, i: usize| in_a_box(i) + if r == 2 && i > 300 { -9.0 } else { 0.1 * r as f64 };
        assert!(said(one).is_empty());
        // All cool without heat, each at its own pace.
        let pace = |r: usize| 200.0 + 80.0 * r as f64;
        let cooling = move |r: usize, i: usize| {
            if i < 300 { 20.0 } else { -5.0 + 25.0 * (-(i as f64 - 300.0) / pace(r)).exp() }
        };
        assert!(said(cooling).is_empty());
        // They drift apart over days.
        assert!(said(|r, i| in_a_box(i) + r as f64 * (i as f64 / 500.0)).is_empty());
    }

    #[test]
    fn a_run_goes_on_over_a_few_that_are_not_near_and_begins_in_time() {
        let of = |near: &[usize], latest, passed| runs(0..10, |k| near.contains(&k), latest, passed);
        assert_eq!(of(&[2, 3, 6], 4, 2), vec![Range { start: 2, end: 7 }]);
        assert_eq!(
            of(&[2, 3, 6], 4, 1),
            vec![Range { start: 2, end: 4 }],
            "6 is too late for a run of its own"
        );
        assert_eq!(of(&[0, 5], 5, 1), vec![Range { start: 0, end: 1 }, Range { start: 5, end: 6 }]);
        assert_eq!(of(&[], 9, 1), Vec::<Range<usize>>::new());
    }

    #[test]
    fn a_box_reaches_to_the_readings_just_outside() {
        let (from, to) = (4 * PARTING_MS, 8 * PARTING_MS);
        let at_end = |last: i64| to_the_edge((from, to), false, STEP_MS, &[(0, last)]);
        assert_eq!(at_end(to - 1), (from, to));
        assert_eq!(at_end(to + 1), (from, to + STEP_MS));
        assert_eq!(at_end(to + PARTING_MS), (from, to), "a logger that goes on is a room's");
        let at_start = |first: i64| to_the_edge((from, to), true, STEP_MS, &[(first, to)]);
        assert_eq!(at_start(from), (from, to));
        assert_eq!(at_start(from - 1), (from - STEP_MS, to));
        assert_eq!(at_start(from - PARTING_MS - 1), (from, to));
    }
}
