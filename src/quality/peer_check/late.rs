//! A logger's clock beside the changes of the home's other rooms.
//!
//! Settled here, and why:
//! - **Changes count up to twice their usual size**, so that a shower or an airing is not the whole of a day.
//! - **Days are the evidence**: a clock is off where moving the record lets the changes follow those of the others better day
//!   by day, by so many standard errors of the days' gain. How closely they follow says little: steady rooms follow each other
//!   loosely, and are rarely moved.
//! - **A room may follow the others late by nature**, by up to some hours, never early: a weak heater, a thick wall. Then it
//!   follows them loosely, where a good record once moved goes with them as the other rooms do with each other.
//! - **Where they begin and end together**, a clock that is off would show: then the changes must say it far more surely.
//! - **Where all records of a home were started and read out together**, one that begins and ends whole hours apart from the
//!   others needs far less of its changes: they must only not speak against it.

use std::ops::Range;

use super::apart::{Apart, ByEnds};
use super::sun::LEAST_DAYS;
use super::{HOUR_MS, PeerCheck, QUARTER_MS};

/// A time by which a record is late.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Late {
    /// Hours; below 0 it is early.
    pub hours: f64,
    /// How closely its changes go with those of the other rooms when moved by it: 1 is wholly, 0 not at all.
    pub moved: f64,
    /// The same as they are.
    pub unmoved: f64,
    /// How closely the changes of the other rooms usually go with those of the rest.
    pub usual: f64,
    /// The part of the record that it is late in.
    pub part: LateIn,
    /// Whether the ends of its record stand as far from those of the others.
    pub by_ends: bool,
}

/// A part of a record, by index of instants.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum LateIn {
    /// All of it.
    Whole,
    /// From an instant on, give or take a day.
    From(usize),
    /// Before an instant, give or take a day.
    Until(usize),
}

const PER_HOUR: i64 = HOUR_MS / QUARTER_MS;
/// Quarters of an hour in a day.
const DAY: usize = 96;
/// Quarters by which a record is moved at most, either way: half a day, as where AM is taken for PM, and an hour.
const MOST: i64 = 13 * PER_HOUR;
/// All moves.
const MOVES: usize = 2 * MOST as usize + 1;
/// Least time by which a clock is called late or early, quarters of an hour.
const LATE: i64 = 3;

/// Standard errors by which the days' gain must lie above 0.
const ERRORS: f64 = 5.0;
/// How closely the changes must follow when moved; so late rooms come by nature at most, in quarters of an hour, and then they
/// must follow more closely. Moved by many hours they must follow more closely still: days are alike, and what the sun does to one
/// room goes with what the evening does to another.
const FIT: f64 = 0.25;
const LATE_BY_NATURE: Range<i64> = 1..25;
const FIT_IF_LATE: f64 = 0.35;
const FIT_IF_FAR: f64 = 0.55;
/// Most that may be left of it when they are not moved, by less than four hours and by more.
const LEFT: [f64; 2] = [0.55, 0.4];
const FAR: i64 = 4 * PER_HOUR;
/// How closely they must follow once moved, beside how closely the other rooms usually follow; a weak heater lets a room follow
/// late by hours; and beside the days of the right side.
const AS_OTHERS: f64 = 0.6;
const WEAK_HEATER: Range<i64> = 6..25;
const AS_OTHERS_IF_WEAK: f64 = 0.8;
const AS_BEFORE: f64 = 0.5;
/// Fewest days before and after a jump.
const SIDE_DAYS: usize = 4;
/// Standard errors by which the days of the right side must speak against the move.
const RIGHT_ERRORS: f64 = 2.0;
/// Quarters by which a side counts as right.
const RIGHT: i64 = 1;
/// The same, and how closely the changes must follow once moved, where the record begins and ends with the others.
const ERRORS_AGAINST_ENDS: f64 = 7.0;
const FIT_AGAINST_ENDS: f64 = 0.3;
/// Standard errors that are enough where the ends of records say the same: of all days, of those off, and of those right.
const ERRORS_WITH_ENDS: f64 = 0.5;
const SIDE_ERRORS_WITH_ENDS: [f64; 2] = [2.0, 1.0];
/// The same where the ends say it about, and the clock is stated by this export alone: then the site's time zone may be wrong.
const ERRORS_IF_STATED: f64 = 2.0;

/// What the clock of one room's logger is off by, over the instants in which it stood there.
pub(super) fn late(
    home: &PeerCheck<'_>,
    room: usize,
    placed: Range<usize>,
    apart: Option<&Apart>,
) -> Option<Late> {
    let per = (QUARTER_MS / home.rooms.step_ms) as usize;
    let own = home.bounded.get(room)?;
    let quarters = placed.start.div_ceil(per)..(placed.end / per).min(own.len());
    let x = own.get(quarters.clone())?;
    let all = &home.bounded_in_all[quarters.clone()];
    let y: Vec<f32> = all.iter().zip(x).map(|(all, x)| all - x).collect();
    let with_others = apart.is_some_and(Apart::is_with_others);
    let days = Days::of(x, &y, home.usually_follow(room), with_others)?;
    let found = match apart.and_then(Apart::by_ends) {
        Some(ByEnds::Both(k)) => days.as_ends_say(k),
        Some(ByEnds::Last(k)) => days.as_one_end_says(k, true),
        Some(ByEnds::First(k)) => days.as_one_end_says(k, false),
        None => None,
    };
    let as_stated = || days.as_stated(apart?.as_stated()?);
    let found = found.or_else(as_stated).or_else(|| days.since_a_day()).or_else(|| days.throughout())?;
    let at_instant = |quarter: usize| (quarters.start + quarter) * per;
    let part = match found.part {
        LateIn::Whole => LateIn::Whole,
        LateIn::From(day) => LateIn::From(at_instant(day * DAY)),
        LateIn::Until(day) => LateIn::Until(at_instant(day * DAY)),
    };
    Some(Late { part, ..found })
}

/// Changes in units of twice their usual size, at most 1 either way; 0 where missing or where nothing changes.
pub(super) fn bounded(changes: &[f64]) -> Vec<f32> {
    let (count, sum) = changes.iter().fold((0_u32, 0.0), |(count, sum), c| match c.abs() {
        size if size > 0.0 => (count + 1, sum + size),
        _ => (count, sum),
    });
    let usual = 2.0 * sum / f64::from(count.max(1));
    let one = |c: &f64| if c.is_nan() || usual <= 0.0 { 0.0 } else { (c / usual).clamp(-1.0, 1.0) as f32 };
    changes.iter().map(one).collect()
}

/// How closely each room's changes go with those of the others, as they are.
pub(super) fn follow(bounded: &[Vec<f32>], in_all: &[f32]) -> Vec<f64> {
    let one = |x: &Vec<f32>| {
        let y: Vec<f32> = in_all.iter().zip(x).map(|(all, x)| all - x).collect();
        let sizes = (f64::from(product(x, x)) * f64::from(product(&y, &y))).sqrt();
        if sizes > 0.0 { f64::from(product(x, &y)) / sizes } else { 0.0 }
    };
    bounded.iter().map(one).collect()
}

/// How the changes of each day go with those of the others, for each time by which the record may be late.
struct Days {
    /// One row per day, [`MOVES`] each, in shares of what would be a whole day's at best.
    goes_with: Vec<[f32; MOVES]>,
    /// How closely the other rooms usually follow.
    usual: f64,
    /// Standard errors that are asked for, and how closely the changes must follow at least.
    errors: f64,
    fit: f64,
}

/// Place of a move in a row.
const fn place(k: i64) -> usize {
    (k + MOST) as usize
}

impl Days {
    /// `None` where there are too few days, or nothing changes.
    fn of(x: &[f32], y: &[f32], usual: f64, with_others: bool) -> Option<Self> {
        let days = y.len() / DAY;
        let squares = |v: &[f32]| f64::from(product(v, v));
        let best = (squares(x) * squares(y)).sqrt() / days as f64;
        if days < LEAST_DAYS || best <= 0.0 {
            return None;
        }
        // What lies beyond the ends has no changes.
        let most = MOST as usize;
        let mut wide = vec![0.0; x.len() + 2 * most];
        wide[most..most + x.len()].copy_from_slice(x);
        let of_day = |day: usize| {
            let of_others = &y[day * DAY..(day + 1) * DAY];
            let one = |k: usize| product(&wide[day * DAY + k..][..DAY], of_others) / best as f32;
            std::array::from_fn(one)
        };
        let (errors, fit) = if with_others { (ERRORS_AGAINST_ENDS, FIT_AGAINST_ENDS) } else { (ERRORS, FIT) };
        Some(Self { goes_with: (0..days).map(of_day).collect(), usual, errors, fit })
    }

    fn len(&self) -> usize {
        self.goes_with.len()
    }

    fn mean(&self, days: Range<usize>, k: i64) -> f64 {
        let n = days.len() as f64;
        self.goes_with[days].iter().map(|day| f64::from(day[place(k)])).sum::<f64>() / n
    }

    /// Standard errors by which the days go better with the others when moved by `k` than by `not`.
    fn errors(&self, days: Range<usize>, k: i64, not: i64) -> f64 {
        let n = days.len() as f64;
        let gain = |day: &[f32; MOVES]| f64::from(day[place(k)]) - f64::from(day[place(not)]);
        let mean = self.goes_with[days.clone()].iter().map(gain).sum::<f64>() / n;
        let squares: f64 = self.goes_with[days].iter().map(|day| (gain(day) - mean).powi(2)).sum();
        let error = (squares / (n - 1.0) / n).sqrt();
        if error > 0.0 { mean / error } else { 0.0 }
    }

    fn sums(&self) -> [f64; MOVES] {
        let mut sums = [0.0; MOVES];
        self.goes_with.iter().for_each(|day| add(&mut sums, day));
        sums
    }

    fn told(&self, k: i64, off: Range<usize>, part: LateIn, by_ends: bool) -> Late {
        let (moved, unmoved) = (self.mean(off.clone(), k), self.mean(off, 0));
        Late { hours: clock_hours(k), moved, unmoved, usual: self.usual, part, by_ends }
    }

    /// Whether the changes of some days follow closely enough by another clock, and not by their own.
    fn follows(&self, off: Range<usize>, k: i64) -> bool {
        let (moved, unmoved) = (self.mean(off.clone(), k), self.mean(off, 0));
        let is_far = k.abs() >= FAR;
        let least = if is_far {
            FIT_IF_FAR
        } else if LATE_BY_NATURE.contains(&k) {
            FIT_IF_LATE.max(self.fit)
        } else {
            self.fit
        };
        let left = LEFT[usize::from(is_far)];
        let as_others = if WEAK_HEATER.contains(&k) { AS_OTHERS_IF_WEAK } else { AS_OTHERS };
        moved >= least.max(as_others * self.usual) && unmoved <= left * moved
    }

    /// A clock that is off in all of the record.
    fn throughout(&self) -> Option<Late> {
        let (k, _) = best(&self.sums())?;
        let all = 0..self.len();
        let is_off = k.abs() >= LATE && self.errors(all.clone(), k, 0) >= self.errors;
        (is_off && self.follows(all.clone(), k)).then(|| self.told(k, all, LateIn::Whole, false))
    }

    /// Both ends stand `k` quarters from those of the others.
    fn as_ends_say(&self, k: i64) -> Option<Late> {
        let all = 0..self.len();
        let errors = self.errors(all.clone(), k, 0);
        (errors >= ERRORS_WITH_ENDS).then(|| self.told(k, all, LateIn::Whole, true))
    }

    /// Its clock alone is stated, and its record stands about `k` quarters from those of the others.
    fn as_stated(&self, k: i64) -> Option<Late> {
        let all = 0..self.len();
        let errors = self.errors(all.clone(), k, 0);
        (errors >= ERRORS_IF_STATED).then(|| self.told(k, all, LateIn::Whole, false))
    }

    /// One end stands `k` quarters from those of the others: from which day on, or until which, it does.
    fn as_one_end_says(&self, k: i64, last: bool) -> Option<Late> {
        let sides = self.sides(2)?;
        let gain = |day: &[f32; MOVES]| f64::from(day[place(k)]) - f64::from(day[place(0)]);
        let total: f64 = self.goes_with.iter().map(gain).sum();
        let mut before: f64 = self.goes_with[..sides.start].iter().map(gain).sum();
        let mut found: Option<(f64, usize)> = None;
        for day in sides {
            let gained = if last { total - 2.0 * before } else { 2.0 * before - total };
            if found.is_none_or(|(most, _)| gained > most) {
                found = Some((gained, day));
            }
            before += gain(&self.goes_with[day]);
        }
        let (_, day) = found?;
        let (right, off) = if last { (0..day, day..self.len()) } else { (day..self.len(), 0..day) };
        let part = if last { LateIn::From(day) } else { LateIn::Until(day) };
        let [of_off, of_right] = SIDE_ERRORS_WITH_ENDS;
        let is_off = self.errors(off.clone(), k, 0) >= of_off && self.errors(right, 0, k) >= of_right;
        is_off.then(|| self.told(k, off, part, true))
    }

    /// Days at which a clock may jump.
    fn sides(&self, least: usize) -> Option<Range<usize>> {
        let last = (self.len() + 1).checked_sub(least)?;
        Some(least..last).filter(|sides| !sides.is_empty())
    }

    /// A clock that was right before some day and off after it, or the other way round.
    fn since_a_day(&self) -> Option<Late> {
        let sides = self.sides(SIDE_DAYS)?;
        let all = self.sums();
        let mut before = [0.0; MOVES];
        let mut found: Option<(f64, usize, i64, bool)> = None;
        for (day, of_day) in self.goes_with.iter().enumerate() {
            if sides.contains(&day) {
                let after: [f64; MOVES] = std::array::from_fn(|k| all[k] - before[k]);
                for (right, off, late_after) in [(&before, &after, true), (&after, &before, false)] {
                    let (k, sum) = best(off)?;
                    let fits = sum + as_it_is(right);
                    if found.is_none_or(|(most, ..)| fits > most) {
                        found = Some((fits, day, k, late_after));
                    }
                }
            }
            add(&mut before, of_day);
        }
        let (_, day, k, late_after) = found?;
        let (right, off) = if late_after { (0..day, day..self.len()) } else { (day..self.len(), 0..day) };
        let part = if late_after { LateIn::From(day) } else { LateIn::Until(day) };
        let is_off = k.abs() >= LATE
            && self.errors(off.clone(), k, 0) >= self.errors
            && self.errors(right.clone(), 0, k) >= RIGHT_ERRORS
            && self.mean(off.clone(), k) >= AS_BEFORE * self.mean(right, 0);
        (is_off && self.follows(off.clone(), k)).then(|| self.told(k, off, part, false))
    }
}

/// Hours that a clock may be off by: clocks are set to whole hours, and a quarter beside them is what the look at quarters makes.
fn clock_hours(k: i64) -> f64 {
    let hours = k as f64 / PER_HOUR as f64;
    if (hours - hours.round()).abs() <= 0.25 { hours.round() } else { hours }
}

fn add(sums: &mut [f64; MOVES], day: &[f32; MOVES]) {
    sums.iter_mut().zip(day).for_each(|(sum, x)| *sum += f64::from(*x));
}

/// The move with the largest sum.
fn best(sums: &[f64; MOVES]) -> Option<(i64, f64)> {
    let best = sums.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
    best.map(|(at, sum)| (at as i64 - MOST, sum))
}

/// The sum of a side whose clock is right.
fn as_it_is(sums: &[f64; MOVES]) -> f64 {
    sums[place(-RIGHT)..=place(RIGHT)].iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// Sum of the products of values at the same places, several at a time.
fn product(x: &[f32], y: &[f32]) -> f32 {
    const LANES: usize = 16;
    let len = x.len().min(y.len());
    let ((x, x_rest), (y, y_rest)) = (x[..len].as_chunks::<LANES>(), y[..len].as_chunks::<LANES>());
    let mut lanes = [0.0; LANES];
    for (x, y) in x.iter().zip(y) {
        for lane in 0..LANES {
            lanes[lane] += x[lane] * y[lane];
        }
    }
    lanes.iter().sum::<f32>() + x_rest.iter().zip(y_rest).map(|(x, y)| x * y).sum::<f32>()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Changes that come and go within a day, not alike from day to day.
    fn changes() -> Vec<f32> {
        (0..(LEAST_DAYS + 2) * DAY).map(|i| ((i * 7919 % 523) as f32 - 261.0) / 300.0).collect()
    }

    #[test]
    fn what_goes_with_itself_does_so_wholly_however_strong_it_is() {
        let (x, once) = (changes(), LEAST_DAYS + 2);
        for strong in [1.0, 4.0] {
            let y: Vec<f32> = x.iter().map(|change| change * strong).collect();
            let days = Days::of(&x, &y, 1.0, true).unwrap();
            assert_eq!(days.len(), once);
            assert!((days.mean(0..once, 0) - 1.0).abs() < 1e-4, "{}", days.mean(0..once, 0));
        }
        assert!(Days::of(&x, &vec![0.0; x.len()], 1.0, true).is_none(), "nothing changes");
        assert!(Days::of(&x[..DAY], &x[..DAY], 1.0, true).is_none(), "one day");
    }
}
