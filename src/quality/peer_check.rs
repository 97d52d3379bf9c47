//! Each logger beside the others of its home: what a room's air cannot do, and a logger can.
//!
//! A room is compared with the median of the home's other rooms at the same instants. Limits were set on simulated
//! homes with some room to what good loggers show there; the scoreboard holds what they find and what they raise falsely.

mod apart;
mod drift;
mod exchange;
mod late;
mod others;
mod restless;
mod step;
mod sun;

use std::ops::Range;

use crate::stats::{median, quantile};
use others::medians_of_others;

pub use apart::{Apart, Ends, apart};
pub use exchange::InRoom;
pub use late::{Late, LateIn};
pub use restless::Restless;
pub use sun::Sun;

const HOUR_MS: i64 = 3_600_000;
const HALF_HOUR_MS: i64 = HOUR_MS / 2;
const QUARTER_MS: i64 = HOUR_MS / 4;
const DAY_MS: i64 = 24 * HOUR_MS;

/// Rooms of one home at the same instants.
#[derive(Clone, Debug)]
pub struct PeerRooms<'a> {
    /// One series per room in °C, NaN where missing, all of the same length.
    pub degc: &'a [&'a [f64]],
    /// Local time of each instant, ms since midnight of 1970-01-01 by the wall clock.
    pub local_ms: &'a [i64],
    /// Time between instants.
    pub step_ms: i64,
    /// Outdoor temperature at the same instants, NaN where missing, where it is known.
    pub outdoor: Option<&'a [f64]>,
}

/// The rooms of a home, each with what the others do meanwhile.
#[derive(Clone, Debug)]
pub struct PeerCheck<'a> {
    rooms: PeerRooms<'a>,
    /// Median of the other rooms at each instant.
    others: Vec<Vec<f64>>,
    /// Change over half an hour, at each quarter of an hour of the grid, in units of what is usual in the room.
    bounded: Vec<Vec<f32>>,
    /// The sum over all rooms.
    bounded_in_all: Vec<f32>,
    /// How closely the changes of each room go with those of the others.
    follow: Vec<f64>,
    /// How each room goes up and down.
    habits: Vec<Option<restless::Habit>>,
    /// Where the logger of each room stands instead from some moment on.
    in_rooms: Vec<Option<InRoom>>,
    /// Local days, in order of time.
    days: Vec<Range<usize>>,
}

impl<'a> PeerCheck<'a> {
    /// Looks at all rooms together.
    pub fn new(rooms: PeerRooms<'a>) -> Self {
        let few = rooms.degc.len() < 3 || rooms.step_ms > HALF_HOUR_MS;
        let others = if few { Vec::new() } else { medians_of_others(rooms.degc) };
        let bounded = if few { Vec::new() } else { quarterly_changes(&rooms) };
        let mut bounded_in_all = vec![0.0; bounded.first().map_or(0, Vec::len)];
        for room in &bounded {
            bounded_in_all.iter_mut().zip(room).for_each(|(all, x)| *all += x);
        }
        let follow = late::follow(&bounded, &bounded_in_all);
        let days = local_days(rooms.local_ms);
        let wobbles: Vec<Vec<f64>> = match few {
            true => Vec::new(),
            false => rooms.degc.iter().map(|x| restless::wobble(x, rooms.step_ms)).collect(),
        };
        let habits = restless::Habit::of(&wobbles, &rooms, &days);
        let mut home =
            Self { rooms, others, bounded, bounded_in_all, follow, habits, in_rooms: Vec::new(), days };
        home.in_rooms = exchange::in_rooms(&home, &wobbles);
        home
    }

    /// Whether another room moves the same way at the time of a step, by half as much from the hour before to the hour after:
    /// then the home did something.
    fn moves_too(&self, room: usize, at: usize, by_k: f64) -> bool {
        let hour = (HOUR_MS / self.rooms.step_ms).max(1) as usize;
        let quarter = (QUARTER_MS / self.rooms.step_ms).max(1) as usize;
        let mean = |x: &[f64]| crate::stats::mean(&present(x));
        let moved = |x: &&[f64]| {
            let until = at.saturating_sub(quarter);
            let before = mean(&x[until.saturating_sub(hour)..until])?;
            Some((mean(&x[at..(at + hour).min(x.len())])? - before) * by_k.signum())
        };
        let others = self.rooms.degc.iter().enumerate().filter(|(r, _)| *r != room).map(|(_, x)| x);
        others.filter_map(moved).any(|k| k >= MOVES_TOO * by_k.abs())
    }

    /// How closely the changes of the other rooms of a room usually go with those of the rest; 0 where nobody knows.
    fn usually_follow(&self, room: usize) -> f64 {
        let others = self.follow.iter().enumerate().filter(|(r, _)| *r != room);
        median(others.map(|(_, x)| *x).collect()).unwrap_or(0.0)
    }

    /// The rooms, as they were given.
    pub(super) fn rooms(&self) -> &'a [&'a [f64]] {
        self.rooms.degc
    }

    /// The median of the other rooms at each instant; `None` where there are fewer than two or instants are too far apart.
    pub(super) fn others(&self, room: usize) -> Option<&[f64]> {
        self.others.get(room).map(Vec::as_slice)
    }

    /// Number of instants.
    pub(super) fn len(&self) -> usize {
        self.rooms.degc.first().map_or(0, |s| s.len())
    }

    /// Milliseconds from one instant to the next.
    pub(super) fn step_ms(&self) -> i64 {
        self.rooms.step_ms
    }
}

/// Instants of one local date that follow each other.
fn local_days(local_ms: &[i64]) -> Vec<Range<usize>> {
    let mut days: Vec<Range<usize>> = Vec::new();
    let mut of_day = 0..0;
    for (i, t) in local_ms.iter().enumerate() {
        if !of_day.contains(t) {
            let midnight = t - t.rem_euclid(DAY_MS);
            of_day = midnight..midnight + DAY_MS;
            days.push(i..i);
        }
        if let Some(day) = days.last_mut() {
            day.end = i + 1;
        }
    }
    days
}

/// Share of a step that another room must move by at the same time.
const MOVES_TOO: f64 = 0.5;

/// None where instants are more than a quarter of an hour apart.
fn quarterly_changes(rooms: &PeerRooms<'_>) -> Vec<Vec<f32>> {
    let per = (QUARTER_MS / rooms.step_ms) as usize;
    if per == 0 {
        return Vec::new();
    }
    let of_room = |s: &&[f64]| {
        let quarters = means(s, per);
        let change = |i: usize| if i < 2 { f64::NAN } else { quarters[i] - quarters[i - 2] };
        late::bounded(&(0..quarters.len()).map(change).collect::<Vec<_>>())
    };
    rooms.degc.iter().map(of_room).collect()
}

/// What speaks against a logger; each is `None` where nothing does, or the record cannot tell.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Doubts {
    /// A heater, an appliance or the sun warms it again and again.
    pub heat: Option<Heat>,
    /// It reads higher or lower from some moment on.
    pub shift: Option<Shift>,
    /// It moves away from the other rooms, slowly: K from start to end.
    pub drift_k: Option<f64>,
    /// The sun reaches it.
    pub sun: Option<Sun>,
    /// Its changes come later (or, below 0, earlier) than those of the other rooms.
    pub clock: Option<Late>,
    /// It goes up and down within two hours as no other of its home does.
    pub restless: Option<Restless>,
    /// It stands in the room of another logger from some moment on.
    pub in_room: Option<InRoom>,
}

/// Spells in which a logger stands far above the other rooms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heat {
    /// Hours of them in all.
    pub hours: f64,
    /// Local days that have some.
    pub days: usize,
    /// How far above the usual distance it stood in all of them, K.
    pub beyond_k: f64,
    /// Highest above the usual distance, K.
    pub most_k: f64,
}

/// A jump that stays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shift {
    /// Index of the first instant after it.
    pub at: usize,
    /// Index after the last instant that has other rooms to compare it with.
    pub to: usize,
    /// By how much, K.
    pub by_k: f64,
}

/// Looks at one room over the instants in which one logger stood there; `apart`: where its record begins and ends beside the
/// others.
///
/// No answer where fewer than two other rooms have values at the same time, or instants are more than half an hour apart.
///
/// # Source
/// Own definition; limits from simulated homes.
pub fn compare(home: &PeerCheck<'_>, room: usize, placed: Range<usize>, apart: Option<&Apart>) -> Doubts {
    let rooms = &home.rooms;
    let Some(others) = home.others.get(room).map(|o| &o[placed.clone()]) else { return Doubts::default() };
    let x = &rooms.degc[room][placed.clone()];
    let local_ms = &rooms.local_ms[placed.clone()];
    let away: Vec<f64> = x.iter().zip(others).map(|(x, m)| x - m).collect();
    let halves = means(&away, (HALF_HOUR_MS / rooms.step_ms).max(1) as usize);
    let last = away.iter().rposition(|k| !k.is_nan()).map_or(0, |i| i + 1);
    let shift = step::step(x, others, rooms.step_ms);
    let shift = shift.filter(|s| !home.moves_too(room, s.at + placed.start, s.by_k));
    let shift = shift.map(|s| Shift { at: s.at + placed.start, to: last + placed.start, ..s });
    Doubts {
        heat: heat(&halves, x, local_ms, rooms.step_ms),
        drift_k: if shift.is_none() { drift::drift(home, x, others, &placed) } else { None },
        shift,
        sun: sun::sun(&halves, x, local_ms, rooms.step_ms),
        clock: late::late(home, room, placed, apart),
        restless: restless::restless(&home.habits, room),
        in_room: home.in_rooms.get(room).copied().flatten(),
    }
}

/// Means of so many values each, NaN where none is present.
pub(super) fn means(values: &[f64], per: usize) -> Vec<f64> {
    let mean = |chunk: &[f64]| {
        let (mut count, mut sum) = (0.0, 0.0);
        for x in chunk {
            let there = !x.is_nan();
            count += f64::from(u8::from(there));
            sum += if there { *x } else { 0.0 };
        }
        sum / count
    };
    values.chunks(per).map(mean).collect()
}

/// The values that are there.
pub(super) fn present(values: &[f64]) -> Vec<f64> {
    values.iter().copied().filter(|x| !x.is_nan()).collect()
}

/// Height above the usual distance to the other rooms, K, that counts as a spell of heat.
const HEAT_K: f64 = 5.0;
/// A room that the sun or its own heating moves far every day moves further at times: the height in ranges of the middle
/// half of its distances.
const TIMES_RANGE: f64 = 3.0;
/// Fewest half hours of it in all, and days, and days as a share of those of the record: a few sunny days in spring are none;
/// most of the record that it may take up; a room that lies so far above the others always is a hot room, K.
const LEAST_HEAT: usize = 4;
const HEAT_DAYS: usize = 2;
const HEAT_SHARE_OF_DAYS: f64 = 0.05;
const MOST_HEAT: f64 = 0.3;
const HOT_ROOM_K: f64 = 5.0;

/// Half hours that a spell lasts: a shower is over sooner, and what lasts for longer is no heater that comes and goes.
const SPELL: std::ops::RangeInclusive<usize> = 3..=24;

/// The spells, in half hours, in which something holds.
fn spells(halves: &[f64], holds: impl Fn(f64) -> bool) -> Vec<Range<usize>> {
    let mut all = Vec::new();
    let mut from = 0;
    for run in halves.chunk_by(|a, b| holds(*a) == holds(*b)) {
        if holds(run[0]) && SPELL.contains(&run.len()) {
            all.push(from..from + run.len());
        }
        from += run.len();
    }
    all
}

/// From the lowest half hour of the two hours before a spell to its highest, K.
fn warmed(own: &[f64], spell: &Range<usize>) -> f64 {
    let before =
        own[spell.start.saturating_sub(4)..spell.start].iter().copied().fold(f64::INFINITY, f64::min);
    own[spell.clone()].iter().copied().fold(f64::NEG_INFINITY, f64::max) - before
}

/// Share of the height by which the logger itself must have grown warmer since two hours before a spell: where the others
/// cool, it only stays.
const OWN_SHARE: f64 = 0.5;

/// Spells far above the usual distance to the other rooms, on several days, into which the logger grew warmer itself.
fn heat(halves: &[f64], own: &[f64], local_ms: &[i64], step_ms: i64) -> Option<Heat> {
    let per = (HALF_HOUR_MS / step_ms).max(1) as usize;
    let values = present(halves);
    let usual = median(values.clone()).filter(|k| *k < HOT_ROOM_K && values.len() >= LEAST_SIDE)?;
    let usual_range = quantile(values.clone(), 0.75)? - quantile(values.clone(), 0.25)?;
    let limit_k = HEAT_K.max(TIMES_RANGE * usual_range);
    let mut hot = spells(halves, |k| k - usual > limit_k);
    if hot.is_empty() {
        return None;
    }
    let own = means(own, per);
    hot.retain(|spell| warmed(&own, spell) >= OWN_SHARE * limit_k);
    let hot: Vec<usize> = hot.into_iter().flatten().collect();
    let most_k = hot.iter().map(|h| halves[*h] - usual).fold(0.0, f64::max);
    let mut days: Vec<i64> = hot.iter().map(|h| local_ms[h * per].div_euclid(DAY_MS)).collect();
    days.dedup();
    let seldom = (hot.len() as f64) < MOST_HEAT * values.len() as f64;
    // What is as far below at other times is taken somewhere else.
    let cold = halves.iter().filter(|k| usual - **k > limit_k).count();
    let seldom = seldom && 2 * cold <= hot.len();
    let often = days.len() as f64 >= HEAT_SHARE_OF_DAYS * values.len() as f64 / 48.0;
    let told = hot.len() >= LEAST_HEAT && days.len() >= HEAT_DAYS && often && seldom;
    told.then(|| Heat { hours: hot.len() as f64 / 2.0, days: days.len(), beyond_k: limit_k, most_k })
}

/// Least jump within a quarter of an hour that stays, K.
const SHIFT_K: f64 = 2.0;
/// Half hours before and after that are looked at closely, and fewest in all on either side.
const NEAR: usize = 72;
const LEAST_SIDE: usize = 96;
/// Most jumps that are looked at.
const MOST_JUMPS: usize = 30;

pub(super) fn shift(x: &[f64], halves: &[f64], step_ms: i64) -> Option<Shift> {
    let reach = (HALF_HOUR_MS / 2 / step_ms).max(1) as usize;
    let per = (HALF_HOUR_MS / step_ms).max(1) as usize;
    let mut jumps = jumps(x, reach);
    jumps.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    jumps.truncate(MOST_JUMPS);
    let stays = |(at, jump): (usize, f64)| {
        let (before, after) = halves.split_at((at / per).min(halves.len()));
        // The half hour of the jump belongs to neither side.
        let after = after.get(1..)?;
        let near = side_difference(
            &before[before.len().saturating_sub(NEAR)..],
            &after[..after.len().min(NEAR)],
            NEAR / 2,
        )?;
        let is_shift = |k: f64| k.signum() == jump.signum() && k.abs() >= SHIFT_K;
        // Most jumps are over within hours: the whole record is asked only about those that are not.
        let stayed = is_shift(near) && is_shift(side_difference(before, after, LEAST_SIDE)?);
        stayed.then_some(Shift { at, to: at, by_k: near })
    };
    let found = jumps.into_iter().filter_map(stays);
    found.max_by(|a, b| a.by_k.abs().total_cmp(&b.by_k.abs()))
}

/// Instants looked at together for jumps, of which there are few.
const LOOKED_AT: usize = 64;

/// Changes by [`SHIFT_K`] or more over `reach` instants, each with the instant at its end.
fn jumps(x: &[f64], reach: usize) -> Vec<(usize, f64)> {
    let mut jumps = Vec::new();
    let pairs = x.get(reach..).unwrap_or_default().chunks(LOOKED_AT).zip(x.chunks(LOOKED_AT));
    for (from, (later, earlier)) in (reach..).step_by(LOOKED_AT).zip(pairs) {
        let changes = || later.iter().zip(earlier).map(|(later, earlier)| later - earlier);
        if changes().fold(false, |is_far, k| is_far | (k.abs() >= SHIFT_K)) {
            jumps.extend((from..).zip(changes()).filter(|(_, k)| k.abs() >= SHIFT_K));
        }
    }
    jumps
}

fn side_difference(before: &[f64], after: &[f64], least: usize) -> Option<f64> {
    let (before, after) = (present(before), present(after));
    (before.len() >= least && after.len() >= least).then_some(median(after)? - median(before)?)
}

#[cfg(test)]
#[path = "peer_check_tests.rs"]
mod tests;
