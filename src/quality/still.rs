//! Loggers of a home that lie in one place in an evenly warm home: told by standing still beside each other.
//!
//! Settled here, and why:
//! - **How far apart they lie says nothing** where rooms are alike. In one air the distances between loggers stand still, by day
//!   too; in rooms they move with doors, people and heat, most at some hours and hardly at night. So each hour is held against
//!   the same hour of the other days, and enough hours must be such in which rooms usually move.
//! - **The end is sharp**: loggers that are taken to their rooms move apart within hours, and keep moving.

use std::ops::Range;

use crate::clock::HOUR_MS;
use crate::stats::{mean, median};

/// Distances are held against those of so many hours before.
const LAG: usize = 3;
/// Hours of a day, shortest and longest time that is told, and fewest hours of a record.
const DAY: usize = 24;
const LEAST: usize = 8;
const MOST: usize = 15 * DAY;
const RECORD: usize = 7 * DAY;
/// Share of what is usual at those hours by which distances move in one air at most, all the while; from which on an hour is one
/// of rooms, over so many hours, and what the day after must come to.
const STILL: f64 = 0.25;
const MOVES: f64 = 0.55;
const HOURS_OF_ROOMS: usize = 4;
const AFTER: f64 = 0.6;
/// What is usual at those hours must be so much, K, and as a share of the usual step of the loggers: else nobody can tell.
const TELLS_K: f64 = 0.06;
const TELLS_STEPS: f64 = 0.4;
/// Loggers in one air read alike, but for what they are off by, K; the one furthest out may have been in a hand meanwhile, or be
/// far off: a cupboard with a boiler is no box.
const ALIKE_K: f64 = 1.0;
const FURTHEST_K: f64 = 3.0;

/// A time at one end of the record in which all loggers stand still beside each other.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Still {
    /// When, as places on the grid.
    pub(super) range: Range<usize>,
    /// Median spread meanwhile, and in the day after (before, at the end), K.
    pub(super) spread_k: (f64, f64),
}

/// Rooms at one hour: their distances to the median of all, NaN where missing, and their spread.
struct Hour {
    away: Vec<f64>,
    spread: f64,
}

/// The time at the start, or at the end, of a record in which the loggers lie in one place; `usual_step_k`: the resolution of
/// most loggers. `None` where fewer than three record, where the record is short, or where rooms always stand still.
///
/// # Source
/// Own definition.
pub(super) fn at_edge(rooms: &[&[f64]], step_ms: i64, usual_step_k: f64, at_start: bool) -> Option<Still> {
    let per = usize::try_from(HOUR_MS / step_ms).ok().filter(|per| *per >= 1)?;
    let mut hours = hours(rooms, per);
    if !at_start {
        hours.reverse();
    }
    let first = hours.iter().position(|h| !h.spread.is_nan())?;
    let hours = &hours[first..];
    if hours.len() < RECORD {
        return None;
    }
    let moves: Vec<f64> = (0..hours.len()).map(|h| moved(hours, h)).collect();
    let usual = usual_of_day(&moves);
    let least = TELLS_K.max(TELLS_STEPS * usual_step_k);
    let run = still_run(&moves, &usual)?;
    let of = |range: Range<usize>, values: &dyn Fn(usize) -> f64| {
        mean(&range.map(values).filter(|x| !x.is_nan()).collect::<Vec<_>>())
    };
    // Of the first hours nobody knows how far they moved.
    let inside = LAG..run;
    let usual_inside = of(inside.clone(), &|h| usual[h % DAY])?;
    let after = run + LAG..(run + LAG + DAY).min(moves.len());
    let is_still = of(inside, &|h| moves[h])? <= STILL * usual_inside && usual_inside >= least;
    let then_moves = of(after.clone(), &|h| moves[h])? >= AFTER * of(after.clone(), &|h| usual[h % DAY])?;
    let spread =
        |range: Range<usize>| median(range.map(|h| hours[h].spread).filter(|s| !s.is_nan()).collect());
    let spread_k = (spread(0..run)?, spread(after)?);
    let (furthest, next) = most_away(&hours[..run])?;
    let alike = next <= ALIKE_K && furthest <= FURTHEST_K;
    let places = |h: usize| {
        if at_start { (first + h) * per } else { rooms[0].len() - ((first + h) * per).min(rooms[0].len()) }
    };
    let (a, b) = (places(0), places(run));
    (is_still && then_moves && alike).then(|| Still { range: a.min(b)..a.max(b), spread_k })
}

/// The rooms hour by hour.
fn hours(rooms: &[&[f64]], per: usize) -> Vec<Hour> {
    let len = rooms.first().map_or(0, |room| room.len());
    let of_room = |room: &&[f64], from: usize| {
        let there: Vec<f64> =
            room[from..(from + per).min(len)].iter().copied().filter(|x| !x.is_nan()).collect();
        if there.len() * 2 >= per { mean(&there).unwrap_or(f64::NAN) } else { f64::NAN }
    };
    let one = |from: usize| {
        let values: Vec<f64> = rooms.iter().map(|room| of_room(room, from)).collect();
        let there: Vec<f64> = values.iter().copied().filter(|x| !x.is_nan()).collect();
        let enough = there.len() >= 3;
        let middle = median(there.clone()).filter(|_| enough).unwrap_or(f64::NAN);
        let (low, high) =
            there.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(*x), h.max(*x)));
        Hour {
            away: values.iter().map(|x| x - middle).collect(),
            spread: if enough { high - low } else { f64::NAN },
        }
    };
    (0..len).step_by(per).map(one).collect()
}

/// How far the rooms moved beside each other within [`LAG`] hours, K: the mean but for the one that moved most.
fn moved(hours: &[Hour], at: usize) -> f64 {
    let Some(before) = at.checked_sub(LAG) else { return f64::NAN };
    let pairs = hours[at].away.iter().zip(&hours[before].away);
    let mut moves: Vec<f64> = pairs.map(|(now, then)| (now - then).abs()).filter(|k| !k.is_nan()).collect();
    moves.sort_unstable_by(f64::total_cmp);
    moves.pop();
    if moves.len() >= 2 { mean(&moves).unwrap_or(f64::NAN) } else { f64::NAN }
}

/// What is usual at each hour of the day, as they come.
fn usual_of_day(moves: &[f64]) -> Vec<f64> {
    let of = |slot: usize| {
        let days = moves.iter().skip(slot).step_by(DAY).copied().filter(|k| !k.is_nan());
        median(days.collect()).unwrap_or(f64::NAN)
    };
    (0..DAY).map(of).collect()
}

/// Hours from the edge on until the rooms move as they usually do; `None` where that is too short or too long.
fn still_run(moves: &[f64], usual: &[f64]) -> Option<usize> {
    let is_room = |at: usize| {
        let window = at..(at + HOURS_OF_ROOMS).min(moves.len());
        let sum = |of: &dyn Fn(usize) -> f64| window.clone().map(of).filter(|x| !x.is_nan()).sum::<f64>();
        sum(&|h| moves[h]) > MOVES * sum(&|h| usual[h % DAY])
    };
    let end = (LAG..moves.len()).find(|at| is_room(*at))?;
    // The hours that tell of rooms begin within the window.
    let mut run = end;
    while run < end + HOURS_OF_ROOMS && moves.get(run).is_some_and(|k| *k <= MOVES * usual[run % DAY]) {
        run += 1;
    }
    (LEAST..=MOST).contains(&run).then_some(run)
}

/// How far the two loggers that are furthest out lie from the middle of all, in the median of their time, K.
fn most_away(hours: &[Hour]) -> Option<(f64, f64)> {
    let rooms = hours.first()?.away.len();
    let of_room =
        |r: usize| median(hours.iter().map(|h| h.away[r]).filter(|x| !x.is_nan()).collect()).map(f64::abs);
    let mut away: Vec<f64> = (0..rooms).filter_map(of_room).collect();
    away.sort_unstable_by(f64::total_cmp);
    match away[..] {
        [.., next, furthest] => Some((furthest, next)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_MS: i64 = 600_000;

    /// Five evenly warm rooms of two weeks, which move by some tenths of a kelvin by day and hardly at night.
    fn room(r: usize, i: usize) -> f64 {
        let (day, hour) = (i / 144, (i % 144) as f64 / 6.0);
        let peak = |at: f64| (-((hour - at) / 1.3_f64).powi(2)).exp();
        let busy = 0.3 + 0.2 * ((day * 7 + r * 3) % 5) as f64;
        21.0 + 0.1 * r as f64 + busy * (peak(7.0 + r as f64) + 0.7 * peak(19.0 - r as f64))
    }

    fn told(of: impl Fn(usize, usize) -> f64, at_start: bool) -> Option<(usize, usize)> {
        let rooms: Vec<Vec<f64>> = (0..5).map(|r| (0..2016).map(|i| of(r, i)).collect()).collect();
        let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
        at_edge(&degc, STEP_MS, 0.01, at_start).map(|still| (still.range.start / 6, still.range.end / 6))
    }

    fn in_a_box(r: usize, i: usize) -> f64 {
        20.8 + 0.15 * r as f64 + 0.5 * (i as f64 / 144.0 * std::f64::consts::TAU).sin()
    }

    #[test]
    fn a_box_in_an_even_home_is_told_at_both_ends() {
        let (from, to) = told(|r, i| if i < 40 * 6 { in_a_box(r, i) } else { room(r, i) }, true).unwrap();
        assert!(from == 0 && (38..=44).contains(&to), "{from} to {to}");
        let (from, to) = told(|r, i| if i >= 300 * 6 { in_a_box(r, i) } else { room(r, i) }, false).unwrap();
        assert!((294..=304).contains(&from) && to == 336, "{from} to {to}");
    }

    #[test]
    fn rooms_are_no_box_by_night_alone_and_no_still_home_is_one() {
        assert_eq!(told(room, true), None);
        assert_eq!(told(room, false), None);
        assert_eq!(told(in_a_box, true), None, "always still");
        // A night in the box: rooms do not move then either.
        assert_eq!(told(|r, i| if i < 5 * 6 { in_a_box(r, i) } else { room(r, i) }, true), None);
        // Still for two days, each at a level of its own: nobody is at home.
        let away = |r: usize, i: usize| if i < 48 * 6 { 18.0 + 1.4 * r as f64 } else { room(r, i) };
        assert_eq!(told(away, true), None);
    }
}
