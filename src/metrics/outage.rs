//! Heating that stops: heated rooms far below what is usual for them at that hour of the day.
//!
//! Settled here, and why:
//! - **Most of the time without heat**: where a room's median is too cold at most hours of the day, and at the same hours some of
//!   its days are warm and at least 3 K above it, those days are what is usual: the median of a long outage is the outage.
//! - **Rooms without a value** are no witness: half of the heated rooms, and two of them, are enough. Where only one of them has
//!   values, a room without heating of its own must fall with it, for one room alone may have its window open.
//! - **A doubted reading is no witness of warmth**: a logger that may be stuck at 21 °C made a home without heat a warm one.
//! - **Held at a low level is not without heat**: people who go away turn it down (`held_low`). Nor is heating that gives all it
//!   can and does not keep up with a cold spell (`at_its_limit`). Each is told by a name of its own.

use std::ops::Range;

use chrono::{Datelike, Weekday};

use super::far_below::Meanwhile;
use super::heating::{FarBelow, Heating};
use super::held_low::{FALLS_K, LowRoom};
use super::scope::{LowTime, WithoutHeat};
use super::{Compute, Family, HomeCache, HomeScope, Measured, Metric, Period, RoomEvent, Slice};
use crate::clock::{HOUR_MS, Span};
use crate::grid::AlignedHome;
use crate::site::{Home, Site};
use crate::stats;
use crate::units::Celsius;

pub(super) static FAMILY: Family = Family { metrics: METRICS, compute: Compute::Home(outages) };

metrics! {
    HOURS_WITHOUT_HEAT = Metric {
        id: "hours_without_heat",
        unit: "h",
        definition: "hours of the events `no heat`: of a home, all of its heated rooms (of four and more all but one) together at least 3 K below their own median for that hour of the day in the five weeks around it (weekends apart from 4 of their days on), for 2 h or more; of a heated room, alone while the others hold; from the start of the fall until warm again, where it gets colder than the band (without one: than 18 °C); records of 7 days and more; readings that are suspect for 2 h and more are no witness of warmth; not where they were held at that level (`held low`), nor where the heating was at its limit (`fell behind`)",
        source: "own definition",
    };
}

/// So far below what is usual at that hour, in K, a room is without heat.
pub const OUT_K: f64 = 3.0;
/// For so many hours.
const LEAST_H: f64 = 2.0;
/// A rise above it for no longer than this does not end it, in hours: cold rooms waver about the line.
const BREAK_H: f64 = 1.0;
/// The fall begins where the rooms are last within so many K of the usual, and it is over where they come back to so many.
const BEGUN_K: f64 = 0.5;
const BACK_K: f64 = 1.0;
/// The fall is looked for so far back, and the return so far on, in hours.
const REACH_H: f64 = 48.0;
/// While one room is without heat the others hold: their median lies less than so many K below the usual.
const HOLDS_K: f64 = 1.5;
/// Share of the days, and of the hours of the day, that tell what is usual in a room that is too cold most of the time.
const WARM_DAYS: f64 = 0.1;
const WARM_HOURS: f64 = 0.75;
/// Days from which something is usual, and of a weekend from which it may have habits of its own.
const USUAL_DAYS: usize = 7;
const WEEKEND_DAYS: usize = 4;
/// Weeks on either side of one that tell what is usual in it.
const AROUND_WEEKS: usize = 2;
/// Who is no colder than the band, or than this where there is none, is not without heat: WHO Housing and health guidelines (2018).
const WARM_ALL_THE_SAME: Celsius = Celsius::new(18.0);
/// Hours that a day may have.
const HOURS: usize = 25;

fn outages(scope: &HomeScope<'_>, out: &mut Measured) {
    if scope.slice() != Slice::All {
        return;
    }
    for (room, outages) in found(scope) {
        let heated = heated(scope);
        report(scope, out, *room, outages, room.as_ref().map_or(&heated[..], std::slice::from_ref));
    }
}

/// Times far below what is usual, in the whole record of a home, whatever its periods.
///
/// Empty for records of fewer than 7 days, which do not tell what is usual.
pub fn without_heat(site: &Site, home: &Home, aligned: &AlignedHome) -> Vec<FarBelow> {
    let whole = HomeCache::new(site, home, aligned);
    let period = Period::new(0..aligned.len());
    let mut found = Measured::default();
    outages(&whole.scope(Slice::All, &period), &mut found);
    let told = |e: RoomEvent| {
        let heating = Heating::told_by(e.kind)?;
        Some(FarBelow { room: e.room, span: e.span, goes_on: e.censored, heating })
    };
    found.events.into_iter().filter_map(told).collect()
}

/// Times without heat in the period, of the home and of each heated room alone; nothing where too few days tell what is usual.
pub(super) fn found<'a>(scope: &HomeScope<'a>) -> &'a [WithoutHeat] {
    scope.without_heat(|| find(scope))
}

fn heated(scope: &HomeScope<'_>) -> Vec<usize> {
    let is = |r: &usize| scope.rooms()[*r].heated.surely() && scope.room(*r).instants_observed() > 0;
    (0..scope.rooms().len()).filter(is).collect()
}

/// Who is no colder than this, in °C, is not without heat.
fn warm(scope: &HomeScope<'_>) -> f64 {
    scope.site().bands.occupied.map_or(WARM_ALL_THE_SAME, |band| band.lower).degc()
}

fn find(scope: &HomeScope<'_>) -> Vec<WithoutHeat> {
    let aligned = scope.aligned();
    let heated = heated(scope);
    if aligned.is_empty() || scope.days().len() < USUAL_DAYS {
        return Vec::new();
    }
    let Some(range) = scope.ranges().first().filter(|_| !heated.is_empty()).cloned() else {
        return Vec::new();
    };
    let hours = hours_of(scope, &range);
    let warm = warm(scope);
    let step_h = aligned.step_h();
    let of = |r: &usize| below_usual(&scope.degc(*r)[range.clone()], &hours, step_h, warm);
    let below: Vec<Vec<f64>> = heated
        .iter()
        .map(|r| without_doubtful_warmth(of(r), aligned.rooms()[*r].suspect(), &range, step_h))
        .collect();
    // Asked only where one room speaks for all.
    let lonely =
        heated.len() > 1 && (0..range.len()).any(|i| below.iter().filter(|b| !b[i].is_nan()).count() == 1);
    let follow: Vec<Vec<f64>> = match lonely {
        true => (0..scope.rooms().len()).filter(|r| !heated.contains(r)).map(|r| of(&r)).collect(),
        false => Vec::new(),
    };
    let rooms: Vec<LowRoom<'_>> = heated
        .iter()
        .zip(&below)
        .map(|(r, below)| LowRoom { degc: &scope.degc(*r)[range.clone()], below })
        .collect();
    let outdoor = aligned.outdoor().map_or(&[][..], |outdoor| &outdoor[range.clone()]);
    let on_grid = |course: &Course, meanwhile: Meanwhile<'_>, at: &[Range<usize>]| -> Vec<LowTime> {
        let one = |at: &Range<usize>| LowTime {
            at: at.start + range.start..at.end + range.start,
            heating: course.low(at).map_or(Heating::None, |low| meanwhile.heating(at, &low)),
        };
        at.iter().map(one).collect()
    };
    let home = Course::of_home(&below, &follow);
    let of_home = home.outages(step_h);
    let alone = |(k, room): (usize, &usize)| {
        // A home with one heated room has no outage of a room beside.
        if heated.len() == 1 {
            return (Some(*room), Vec::new());
        }
        let course = Course::of_room(&below, k, &of_home);
        // Of one room nobody is told that people were away.
        let meanwhile = Meanwhile { rooms: &rooms[k..=k], wet: &[], outdoor, step_h };
        (Some(*room), on_grid(&course, meanwhile, &course.outages(step_h)))
    };
    let wet = (0..scope.rooms().len())
        .filter(|r| scope.rooms()[*r].has_steam())
        .map(|r| &scope.degc(r)[range.clone()]);
    let wet: Vec<&[f64]> = wet.collect();
    let all = (None, on_grid(&home, Meanwhile { rooms: &rooms, wet: &wet, outdoor, step_h }, &of_home));
    std::iter::once(all).chain(heated.iter().enumerate().map(alone)).collect()
}

/// Distances below the usual of a room without those of suspect readings that are warm: what may be a stuck logger is no witness
/// that a home was. Cold ones stay, for in a home that freezes all are suspect.
fn without_doubtful_warmth(
    mut below: Vec<f64>,
    suspect: &[Range<usize>],
    range: &Range<usize>,
    step_h: f64,
) -> Vec<f64> {
    for doubted in suspect {
        let here = doubted.start.max(range.start)..doubted.end.min(range.end);
        let here = here.start.saturating_sub(range.start)..here.end.saturating_sub(range.start);
        let Some(run) = below.get_mut(here) else { continue };
        let warm = run.iter().filter(|k| **k < OUT_K).count();
        // Where it was cold meanwhile, its warm end is a room that warms up.
        if 2 * warm > run.len() && run.len() as f64 * step_h >= LEAST_H {
            run.iter_mut().filter(|k| **k < OUT_K).for_each(|k| *k = f64::NAN);
        }
    }
    below
}

/// For each instant of a range: whether it lies on a weekend, and hours since local midnight.
fn hours_of(scope: &HomeScope<'_>, range: &Range<usize>) -> Vec<(bool, usize)> {
    let aligned = scope.aligned();
    let zone = scope.site().zone;
    let mut hours = vec![(false, 0); range.len()];
    for day in aligned.days() {
        let here = day.from.max(range.start)..day.to.min(range.end);
        if here.is_empty() {
            continue;
        }
        // Noon has the date of its day in every zone.
        let noon = aligned.time(day.from).plus_ms((day.to - day.from) as i64 / 2 * aligned.step_ms());
        let weekend = matches!(zone.date(noon).weekday(), Weekday::Sat | Weekday::Sun);
        let first = aligned.time(day.from).ms();
        for i in here {
            let hour = (aligned.time(i).ms() - first) / HOUR_MS;
            hours[i - range.start] = (weekend, (hour as usize).min(HOURS - 1));
        }
    }
    hours
}

/// How far a room lies below its usual level for that hour, in K; NaN where it has no value, or the hour nothing usual.
///
/// What is usual changes with the season: each week is held against the five weeks around it.
fn below_usual(degc: &[f64], hours: &[(bool, usize)], step_h: f64, warm: f64) -> Vec<f64> {
    let week = ((7.0 * 24.0 / step_h) as usize).max(1);
    let mut below = Vec::with_capacity(degc.len());
    for from in (0..degc.len()).step_by(week) {
        let to = (from + week).min(degc.len());
        let around = from.saturating_sub(AROUND_WEEKS * week)..(to + AROUND_WEEKS * week).min(degc.len());
        let usual = usual(&degc[around.clone()], &hours[around], step_h, warm);
        let of = |(x, (weekend, hour)): (&f64, &(bool, usize))| usual[*hour][usize::from(*weekend)] - x;
        below.extend(degc[from..to].iter().zip(&hours[from..to]).map(of));
    }
    below
}

/// What is usual in each hour of the day, on days of the week and on weekends; NaN where an hour has no value.
///
/// It is the median, but for a room that is below `warm` most of the time, and not always: see the head of this file.
fn usual(degc: &[f64], hours: &[(bool, usize)], step_h: f64, warm: f64) -> Vec<[f64; 2]> {
    // Two values an hour say what is usual in it.
    let every = ((0.5 / step_h) as usize).max(1);
    let per_hour = 1.0 / (step_h * every as f64);
    let mut weekdays: Vec<Vec<f64>> = vec![Vec::new(); HOURS];
    let mut weekends: Vec<Vec<f64>> = vec![Vec::new(); HOURS];
    for (x, (weekend, hour)) in degc.iter().zip(hours).step_by(every).filter(|(x, _)| !x.is_nan()) {
        if *weekend { &mut weekends[*hour] } else { &mut weekdays[*hour] }.push(*x);
    }
    let of_hour = |(of_week, of_weekend): (Vec<f64>, Vec<f64>)| {
        let together = || Level::of([of_week.as_slice(), &of_weekend].concat(), warm);
        // So few weekends have no habits of their own; nor has a record of nothing else.
        let few = (of_weekend.len() as f64) < WEEKEND_DAYS as f64 * per_hour * 0.75 || of_week.is_empty();
        if few {
            return [together(); 3];
        }
        let own = [&of_week, &of_weekend].map(|values| Level::of(values.clone(), warm));
        // Where neither is cold, both together are not.
        let all = if own.iter().any(|level| level.median < warm) { together() } else { own[0] };
        [own[0], own[1], all]
    };
    let levels: Vec<[Level; 3]> = weekdays.into_iter().zip(weekends).map(of_hour).collect();
    let known = || levels.iter().filter(|[_, _, all]| !all.median.is_nan());
    let split = known().filter(|[_, _, all]| all.warm_days.is_some()).count();
    let mostly_out = split > 0 && split as f64 >= WARM_HOURS * known().count() as f64;
    let usual = |[of_week, of_weekend, all]: [Level; 3]| {
        [of_week, of_weekend].map(|own| match mostly_out {
            true => own.warm_days.or(all.warm_days).unwrap_or(own.median),
            false => own.median,
        })
    };
    levels.into_iter().map(usual).collect()
}

/// Levels of an hour of the day over some weeks, in °C.
#[derive(Clone, Copy)]
struct Level {
    median: f64,
    /// The median of the days that are warm, where the median of all is not.
    warm_days: Option<f64>,
}

impl Level {
    fn of(values: Vec<f64>, warm: f64) -> Self {
        let all = values.len() as f64;
        let median = stats::median(values.clone()).unwrap_or(f64::NAN);
        // A median that is unknown is none that is cold.
        if median.is_nan() || median >= warm {
            return Self { median, warm_days: None };
        }
        let above: Vec<f64> = values.into_iter().filter(|x| *x >= warm && *x >= median + OUT_K).collect();
        let enough = above.len() as f64 >= WARM_DAYS * all;
        Self { median, warm_days: if enough { stats::median(above) } else { None } }
    }
}

/// What decides about an outage, instant by instant, in K below the usual; NaN: nobody knows.
struct Course {
    /// The one that must lie far below.
    least: Vec<f64>,
    /// The one that tells when it began and ended.
    middle: Vec<f64>,
}

impl Course {
    /// All heated rooms together that have a value; of four and more one may hold, with a heater of its own or in the sun.
    /// `follow`: rooms without heating of their own, asked where one heated room alone has a value.
    fn of_home(below: &[Vec<f64>], follow: &[Vec<f64>]) -> Self {
        let n = below.first().map_or(0, Vec::len);
        let (mut least, mut middle) = (vec![f64::NAN; n], vec![f64::NAN; n]);
        let mut here = Vec::with_capacity(below.len());
        for i in 0..n {
            here.clear();
            here.extend(below.iter().map(|room| room[i]).filter(|k| !k.is_nan()));
            if here.is_empty() || 2 * here.len() < below.len() {
                continue;
            }
            here.sort_unstable_by(f64::total_cmp);
            middle[i] = here[here.len() / 2];
            let bears_out = || follow.iter().any(|room| room[i] >= FALLS_K);
            if here.len() > 1 || below.len() == 1 || bears_out() {
                least[i] = here[usize::from(here.len() >= 4)];
            }
        }
        Self { least, middle }
    }

    /// One room, where the others hold; not during outages of the home.
    fn of_room(below: &[Vec<f64>], room: usize, of_home: &[Range<usize>]) -> Self {
        let others: Vec<Vec<f64>> =
            below.iter().enumerate().filter(|(k, _)| *k != room).map(|(_, b)| b.clone()).collect();
        let others = Self::of_home(&others, &[]).middle;
        let mut least: Vec<f64> = below[room]
            .iter()
            .zip(&others)
            .map(|(own, others)| if *others < HOLDS_K { *own } else { f64::NAN })
            .collect();
        of_home.iter().for_each(|at| least[at.clone()].fill(f64::NAN));
        Self { middle: below[room].clone(), least }
    }

    /// From the start of the fall until warm again.
    fn outages(&self, step_h: f64) -> Vec<Range<usize>> {
        let steps = |hours: f64| (hours / step_h).round() as usize;
        let mut cold: Vec<Range<usize>> = Vec::new();
        for i in (0..self.least.len()).filter(|i| self.least[*i] >= OUT_K) {
            match cold.last_mut() {
                Some(last) if i - last.end <= steps(BREAK_H) => last.end = i + 1,
                _ => cold.push(i..i + 1),
            }
        }
        let mut told: Vec<Range<usize>> = Vec::new();
        for at in cold.into_iter().filter(|at| at.len() as f64 * step_h >= LEAST_H) {
            let whole = self.widened(&at, steps(REACH_H));
            match told.last_mut() {
                Some(last) if whole.start <= last.end => last.end = last.end.max(whole.end),
                _ => told.push(whole),
            }
        }
        told
    }

    /// From the first to the last instant of an outage that lies far below what is usual.
    fn low(&self, at: &Range<usize>) -> Option<Range<usize>> {
        let is_low = |i: &usize| self.least[*i] >= OUT_K;
        Some(at.clone().find(is_low)?..at.clone().rev().find(is_low)? + 1)
    }

    fn widened(&self, at: &Range<usize>, reach: usize) -> Range<usize> {
        let from = at.start.saturating_sub(reach);
        let start = (from..at.start).rev().find(|i| self.middle[*i] <= BEGUN_K).map_or(at.start, |i| i + 1);
        let to = (at.end + reach).min(self.middle.len());
        // Where it never comes back it lasts to its last value.
        let last = || (at.start..to).rev().find(|i| !self.middle[*i].is_nan()).map_or(at.end, |i| i + 1);
        let end = (at.end..to).find(|i| self.middle[*i] <= BACK_K).unwrap_or_else(last);
        start..end.max(at.end)
    }
}

fn report(
    scope: &HomeScope<'_>,
    out: &mut Measured,
    room: Option<usize>,
    outages: &[LowTime],
    rooms: &[usize],
) {
    let Some(range) = scope.ranges().first() else { return };
    let aligned = scope.aligned();
    let step_h = aligned.step_h();
    let warm = warm(scope);
    let is_cold =
        |low: &&LowTime| rooms.iter().any(|r| scope.degc(*r)[low.at.clone()].iter().any(|x| *x < warm));
    let outages: Vec<&LowTime> = outages.iter().filter(is_cold).collect();
    let observed = rooms.iter().map(|r| scope.room(*r).hours_observed()).fold(0.0, f64::max);
    let hours: usize = outages.iter().filter(|low| low.heating.is_none()).map(|low| low.at.len()).sum();
    out.value(room, &HOURS_WITHOUT_HEAT, hours as f64 * step_h, observed);
    for LowTime { at, heating } in outages {
        let lowest = rooms.iter().flat_map(|r| &scope.degc(*r)[at.clone()]).fold(f64::NAN, |a, b| a.min(*b));
        let before = rooms
            .iter()
            .filter_map(|r| scope.degc(*r)[range.start..at.start].iter().rev().find(|x| !x.is_nan()));
        let before = before.fold(f64::NAN, |a, b| a.min(*b));
        let has_value = |i: usize| rooms.iter().any(|r| !scope.degc(*r)[i].is_nan());
        out.events.push(RoomEvent {
            room,
            kind: heating.event(room.is_some()),
            span: Span { from: aligned.time(at.start), to: aligned.time(at.end) },
            value: lowest,
            limit: if before.is_nan() { lowest + OUT_K } else { before },
            censored: !(at.end..range.end).any(has_value),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 14 days of 48 half hours at 21 °C, 18 °C by night.
    fn usual() -> (Vec<f64>, Vec<(bool, usize)>) {
        let hours: Vec<(bool, usize)> = (0..14 * 48).map(|i| (i / 48 % 7 >= 5, i % 48 / 2)).collect();
        let degc = hours.iter().map(|(_, h)| if *h < 6 { 18.0 } else { 21.0 }).collect();
        (degc, hours)
    }

    #[test]
    fn a_setback_is_usual_and_a_night_without_heat_is_not() {
        let (mut degc, hours) = usual();
        assert!(below_usual(&degc, &hours, 0.5, 18.0).iter().all(|k| *k == 0.0));
        // From 20:00 of the fourth day to 6:00 of the next it falls to 12 °C.
        let from = 3 * 48 + 40;
        for (k, x) in degc[from..from + 20].iter_mut().enumerate() {
            *x = 21.0 - 9.0 * ((k + 1) as f64 / 10.0).min(1.0);
        }
        let below = below_usual(&degc, &hours, 0.5, 18.0);
        let outages = Course::of_home(&[below.clone(), below], &[]).outages(0.5);
        assert_eq!((outages.len(), outages[0].clone()), (1, from..from + 20));
    }

    #[test]
    fn an_outage_of_most_of_the_record_is_no_usual_level() {
        let (degc, hours) = usual();
        let mut cold = degc.clone();
        // From the fifth day on it is at 11 °C: of ten days of fourteen the median knows nothing else.
        cold[4 * 48..].fill(11.0);
        let below = below_usual(&cold, &hours, 0.5, 18.0);
        let outages = Course::of_home(&[below.clone(), below], &[]).outages(0.5);
        assert_eq!((outages.len(), outages[0].clone()), (1, 4 * 48..14 * 48));
        // Sun at noon on a third of the days makes nothing usual of it in a room that is cold by its setting.
        let sunny = |i: usize| hours[i].1 == 12 && (i / 48).is_multiple_of(3);
        let set_low: Vec<f64> = (0..degc.len()).map(|i| if sunny(i) { 20.0 } else { 16.0 }).collect();
        let below = below_usual(&set_low, &hours, 0.5, 18.0);
        assert!(Course::of_home(&[below.clone(), below], &[]).outages(0.5).is_empty());
    }

    #[test]
    fn one_room_that_still_records_speaks_for_the_home_where_another_falls_with_it() {
        let (degc, hours) = usual();
        let mut cold = degc.clone();
        cold[200..230].iter_mut().for_each(|x| *x -= 6.0);
        let mut halfway = degc.clone();
        halfway[200..230].iter_mut().for_each(|x| *x -= 3.0);
        let of = |degc: &[f64]| below_usual(degc, &hours, 0.5, 18.0);
        let heated = [of(&cold), vec![f64::NAN; degc.len()]];
        let told = Course::of_home(&heated, &[of(&halfway)]).outages(0.5);
        assert_eq!((told.len(), told[0].clone()), (1, 200..230));
        assert!(Course::of_home(&heated, &[of(&degc)]).outages(0.5).is_empty(), "a window of one room");
        assert!(Course::of_home(&heated, &[]).outages(0.5).is_empty());
    }

    #[test]
    fn weekends_have_habits_of_their_own() {
        let (mut degc, hours) = usual();
        for (x, (weekend, hour)) in degc.iter_mut().zip(&hours) {
            if *weekend && (8..16).contains(hour) {
                *x = 16.0;
            }
        }
        let below = below_usual(&degc, &hours, 0.5, 18.0);
        assert!(Course::of_home(&[below.clone(), below], &[]).outages(0.5).is_empty());
    }

    #[test]
    fn one_room_is_told_alone_and_not_while_all_are_cold() {
        let (degc, hours) = usual();
        let cold = |from: usize, to: usize| {
            let mut own = degc.clone();
            own[from..to].iter_mut().for_each(|x| *x -= 4.0);
            below_usual(&own, &hours, 0.5, 18.0)
        };
        let one = [cold(100, 120), cold(0, 0), cold(0, 0)];
        let home = Course::of_home(&one, &[]).outages(0.5);
        assert!(home.is_empty());
        let alone = Course::of_room(&one, 0, &home).outages(0.5);
        assert_eq!((alone.len(), alone[0].clone()), (1, 100..120));
        assert!(Course::of_room(&one, 1, &home).outages(0.5).is_empty());
        let all = [cold(100, 120), cold(100, 120), cold(100, 120)];
        let home = Course::of_home(&all, &[]).outages(0.5);
        assert_eq!((home.len(), home[0].clone()), (1, 100..120));
        assert!(Course::of_room(&all, 0, &home).outages(0.5).is_empty());
    }

    #[test]
    fn what_is_short_or_never_comes_back_is_told_as_that() {
        let course = |least: Vec<f64>| Course { middle: least.clone(), least };
        let mut short = vec![0.0; 40];
        short[10..13].fill(5.0);
        assert!(course(short).outages(0.5).is_empty());
        let mut lasting = vec![0.0; 40];
        lasting[10..].fill(5.0);
        lasting[38..].fill(f64::NAN);
        let outages = course(lasting).outages(0.5);
        assert_eq!((outages.len(), outages[0].clone()), (1, 10..38));
    }
}
