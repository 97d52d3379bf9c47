//! A logger's clock beside the changes of the home's other rooms.

use std::ops::Range;

use super::moves::{correlation, nearly_best, product};
use super::{HOUR_MS, LEAST_DAYS, QUARTER_MS, SideBySide};

/// A time by which a record is late.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Late {
    /// Hours; below 0 it is early.
    pub hours: f64,
    /// Correlation of the changes when moved by it, and as they are.
    pub moved: f64,
    /// As they are.
    pub unmoved: f64,
    /// The part of the record that it is late in.
    pub part: LateIn,
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
/// Least time by which a clock is called late or early, hours.
const LATE_H: f64 = 0.75;

/// What the clock of one room's logger is off by, over the instants in which it stood there.
pub(super) fn late(home: &SideBySide<'_>, room: usize, placed: Range<usize>) -> Option<Late> {
    let (changes, others) = (home.changes.get(room)?, home.changes_of_others.get(room)?);
    let per = (QUARTER_MS / home.rooms.step_ms) as usize;
    let (from, to) = (placed.start.div_ceil(per), placed.end / per);
    let (changes, others) = (changes.get(from..to)?, others.get(from..to)?);
    let at_instant = |part: LateIn| match part {
        LateIn::Whole => LateIn::Whole,
        LateIn::From(quarter) => LateIn::From((from + quarter) * per),
        LateIn::Until(quarter) => LateIn::Until((from + quarter) * per),
    };
    let found = from_a_day(changes, others).or_else(|| throughout(changes, others))?;
    Some(Late { part: at_instant(found.part), ..found })
}

/// Hours by which a record is moved at most, either way, where it may be late as a whole.
const MOST_H: i64 = 9;
/// How much better the changes must fit when moved.
const BETTER: f64 = 0.4;

/// How well changes must fit when moved: slow rooms follow the others by up to an hour and a half by nature, but
/// never so closely, and none runs ahead.
fn fits(hours: f64) -> f64 {
    match hours {
        h if h > 1.5 => 0.55,
        h if h > 0.0 => 0.75,
        _ => 0.6,
    }
}

fn throughout(changes: &[f64], others: &[f64]) -> Option<Late> {
    let least = LEAST_DAYS * DAY;
    let at = |k: i64| correlation(changes, others, k, least);
    // A correlation is at most 1: where the changes fit as they are, no clock can be off.
    let unmoved = at(0).filter(|unmoved| *unmoved <= 1.0 - BETTER)?;
    let best =
        nearly_best(changes, others, MOST_H * PER_HOUR, least).into_iter().filter_map(|k| Some((k, at(k)?)));
    let (k, moved) = best.max_by(|a, b| a.1.total_cmp(&b.1))?;
    let hours = k as f64 / PER_HOUR as f64;
    let is_off = hours.abs() >= LATE_H && moved >= fits(hours) && moved - unmoved >= BETTER;
    is_off.then_some(Late { hours, moved, unmoved, part: LateIn::Whole })
}

/// Quarters of an hour in a day.
const DAY: usize = 96;
/// Quarters by which a part of a record is moved at most, either way: half a day, as where AM is taken for PM.
const MOST: i64 = 48;
/// Fewest days before and after a jump.
const SIDE_DAYS: usize = 5;
/// How closely the changes must follow those of the other rooms on both sides, each by its own clock; how much better than
/// by the clock of the other side; and how many standard errors the gain of its days lies above that of the others.
///
/// Set on real records of churches and of a house, moved at a random day, and on simulated homes that lose their heat: of
/// those that were not moved none came near all three.
const FIT: f64 = 0.3;
const GAIN: f64 = 0.3;
const ERRORS: f64 = 7.0;
/// Most hours by which the side counts as right that is.
const RIGHT_H: f64 = 0.5;
/// A jump that lets the fit fall by less is not looked for.
const LEAST_FALL: f64 = 0.1;

/// A clock that was right before some day and off after it, or the other way round.
///
/// The day and the two clocks are those by which the changes of the record follow those of the others best, day by day. A
/// change counts up to twice its usual size only, so that a shower or an airing is not the whole of a day.
fn from_a_day(changes: &[f64], others: &[f64]) -> Option<Late> {
    let (x, y) = (bounded(changes)?, bounded(others)?);
    let beside = Beside { x: &x, y: &y };
    let days = y.len() / DAY;
    let sides = SIDE_DAYS..(days + 1).checked_sub(SIDE_DAYS).filter(|last| *last > SIDE_DAYS)?;
    let falls = |day: &usize| (beside.fit(0..*day, 0) - beside.fit(*day..days, 0)).abs() >= LEAST_FALL;
    let some_fall = sides.clone().any(|day| falls(&day));
    let (day, before, after) = some_fall.then(|| beside.two_clocks(days, sides))??;
    let gain = |side: Range<usize>, by: i64, not: i64| beside.fit(side.clone(), by) - beside.fit(side, not);
    let (gain_before, gain_after) = (gain(0..day, before, after), gain(day..days, after, before));
    let follows = beside.fit(0..day, before).min(beside.fit(day..days, after)) >= FIT;
    let gains: Vec<f64> = (0..days).map(|d| beside.product(d, after) - beside.product(d, before)).collect();
    let is_sure = standard_errors(&gains[day..], &gains[..day]).is_some_and(|t| t >= ERRORS);
    if !follows || !is_sure || gain_before.min(gain_after) < GAIN {
        return None;
    }
    let hours = |k: i64| k as f64 / PER_HOUR as f64;
    let late_after = hours(after).abs() >= hours(before).abs();
    let (off, right, side) = if late_after { (after, before, day..days) } else { (before, after, 0..day) };
    let part = if late_after { LateIn::From(day * DAY) } else { LateIn::Until(day * DAY) };
    let is_off = hours(right).abs() <= RIGHT_H && hours(off - right).abs() >= LATE_H;
    let (moved, unmoved) = (beside.fit(side.clone(), off), beside.fit(side, right));
    is_off.then_some(Late { hours: hours(off - right), moved, unmoved, part })
}

/// Changes in units of twice their usual size, at most 1 either way; 0 where missing. `None` where nothing changes.
fn bounded(changes: &[f64]) -> Option<Vec<f64>> {
    let (count, sum) = changes.iter().fold((0_u32, 0.0), |(count, sum), c| match c.abs() {
        size if size > 0.0 => (count + 1, sum + size),
        _ => (count, sum),
    });
    let usual = sum / f64::from(count);
    let one = |c: &f64| if c.is_nan() { 0.0 } else { (c / (2.0 * usual)).clamp(-1.0, 1.0) };
    (count > 0).then(|| changes.iter().map(one).collect())
}

/// Bounded changes of a record and of the other rooms.
struct Beside<'a> {
    x: &'a [f64],
    y: &'a [f64],
}

impl Beside<'_> {
    /// A day of the others and what the record shows `k` quarters later.
    fn days(&self, days: Range<usize>, k: i64) -> (&[f64], &[f64]) {
        let (from, to) = ((days.start * DAY) as i64, (days.end * DAY).min(self.y.len()) as i64);
        let (from, to) = (from.max(-k), to.min(self.x.len() as i64 - k));
        if from >= to {
            return (&[], &[]);
        }
        (&self.x[(from + k) as usize..(to + k) as usize], &self.y[from as usize..to as usize])
    }

    fn product(&self, day: usize, k: i64) -> f64 {
        let (x, y) = self.days(day..day + 1, k);
        product(x, y)
    }

    /// Cosine of the two series over some days, the record moved; 0 where nothing changes.
    fn fit(&self, days: Range<usize>, k: i64) -> f64 {
        let (x, y) = self.days(days, k);
        let sizes = (product(x, x) * product(y, y)).sqrt();
        if sizes > 0.0 { product(x, y) / sizes } else { 0.0 }
    }

    /// The day at which one clock best gives way to another, with the quarters by which the record is late before and after.
    fn two_clocks(&self, days: usize, sides: Range<usize>) -> Option<(usize, i64, i64)> {
        let by_day = |day: usize| (-MOST..=MOST).map(|k| self.product(day, k)).collect();
        let products: Vec<Vec<f64>> = (0..days).map(by_day).collect();
        let add = |sums: &mut Vec<f64>, day: &[f64]| sums.iter_mut().zip(day).for_each(|(s, p)| *s += p);
        let mut all = vec![0.0; 2 * MOST as usize + 1];
        products.iter().for_each(|day| add(&mut all, day));
        let best = |sums: &[f64]| {
            let best = sums.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
            best.map(|(at, sum)| (at as i64 - MOST, sum))
        };
        let mut before = vec![0.0; all.len()];
        let mut found: Option<(f64, (usize, i64, i64))> = None;
        for (day, of_day) in products.iter().enumerate() {
            if sides.contains(&day) {
                let after: Vec<f64> = all.iter().zip(&before).map(|(all, before)| all - before).collect();
                let ((k0, sum0), (k1, sum1)) = (best(&before)?, best(&after)?);
                if found.is_none_or(|(sum, _)| sum0 + sum1 > sum) {
                    found = Some((sum0 + sum1, (day, k0, k1)));
                }
            }
            add(&mut before, of_day);
        }
        found.map(|(_, clocks)| clocks)
    }
}

/// How far the mean of some values lies above that of others, in standard errors of the difference (Welch).
fn standard_errors(above: &[f64], below: &[f64]) -> Option<f64> {
    let parts = |values: &[f64]| {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        (mean, values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0) / n)
    };
    let ((mean_above, var_above), (mean_below, var_below)) = (parts(above), parts(below));
    let error = (var_above + var_below).sqrt();
    (error > 0.0).then(|| (mean_above - mean_below) / error)
}
