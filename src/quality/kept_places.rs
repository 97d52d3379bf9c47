//! Whether loggers that seem to lie in one place keep the distances of their rooms meanwhile: then they are in them.
//!
//! Settled here, and why:
//! - **A box takes the rooms' own distances away** and leaves what the loggers are off by. Rooms that are alike for a night, or while
//!   nobody is at home, stay as far apart as they are at those hours of all other days, and in the same order.

use std::ops::Range;

use crate::clock::HOUR_MS;
use crate::stats::median;

/// Share of their distances by which they differ from the usual ones where they are kept; of smaller distances, K, nothing is said.
const DIFFER: f64 = 0.65;
const APART_K: f64 = 0.15;
/// Instants a room is looked at, and fewest of them.
const LOOK_MS: i64 = HOUR_MS / 2;
const LEAST: usize = 8;
const LEAST_ROOMS: usize = 3;

/// Whether the rooms (°C on a grid, NaN where missing) lie in `range` as they do at the same hours of the day outside of it.
///
/// `false` where too few are there to tell.
///
/// # Source
/// Own definition.
pub(super) fn kept(rooms: &[&[f64]], step_ms: i64, range: &Range<usize>) -> bool {
    let every = (LOOK_MS / step_ms).max(1) as usize;
    let day = (24 * HOUR_MS / step_ms) as usize;
    let at_those_hours = |i: usize| range.len() >= day || (i + day - range.start % day) % day < range.len();
    let len = rooms.first().map_or(0, |room| room.len());
    let mut inside: Vec<Vec<f64>> = vec![Vec::new(); rooms.len()];
    let mut outside = inside.clone();
    for i in (0..len).step_by(every).filter(|i| range.contains(i) || at_those_hours(*i)) {
        let values = || rooms.iter().map(|room| room[i]);
        let there: Vec<f64> = values().filter(|x| !x.is_nan()).collect();
        let Some(middle) = median(there.clone()).filter(|_| there.len() >= LEAST_ROOMS) else { continue };
        let side = if range.contains(&i) { &mut inside } else { &mut outside };
        values().enumerate().filter(|(_, x)| !x.is_nan()).for_each(|(r, x)| side[r].push(x - middle));
    }
    let level = |side: Vec<f64>| (side.len() >= LEAST).then(|| median(side)).flatten();
    let pairs: Vec<(f64, f64)> =
        inside.into_iter().zip(outside).filter_map(|(a, b)| Some((level(a)?, level(b)?))).collect();
    let squares = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(|pair| of(pair).powi(2)).sum::<f64>();
    let (own, changed) = (squares(|pair| pair.0), squares(|pair| pair.0 - pair.1));
    let told = pairs.len() >= LEAST_ROOMS && own >= APART_K.powi(2) * pairs.len() as f64;
    told && changed <= DIFFER.powi(2) * own
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_MS: i64 = 600_000;

    fn rooms(of: impl Fn(usize, usize) -> f64) -> Vec<Vec<f64>> {
        (0..4).map(|r| (0..1440).map(|i| of(r, i)).collect()).collect()
    }

    fn is_kept(of: impl Fn(usize, usize) -> f64, range: Range<usize>) -> bool {
        let rooms = rooms(of);
        let degc: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
        kept(&degc, STEP_MS, &range)
    }

    #[test]
    fn rooms_that_are_alike_at_night_keep_their_order() {
        // By night 0.3 K apart each, by day 1 K.
        let usual = |r: usize, i: usize| 20.0 + r as f64 * if i % 144 < 48 { 0.3 } else { 1.0 };
        assert!(is_kept(usual, 0..48) && is_kept(usual, 1296..1344));
        // In a box they are off by other amounts.
        let off = [0.2, -0.1, 0.3, -0.3];
        let boxed = |r: usize, i: usize| if i < 60 { 20.0 + off[r] } else { usual(r, i) };
        assert!(!is_kept(boxed, 0..60));
    }

    #[test]
    fn nothing_is_said_of_rooms_that_are_not_apart_or_not_there() {
        assert!(!is_kept(|r, _| 20.0 + 0.05 * r as f64, 0..60));
        assert!(!is_kept(|r, i| if r < 2 { 20.0 + r as f64 + i as f64 * 1e-4 } else { f64::NAN }, 0..60));
        assert!(!is_kept(|r, _| 20.0 + r as f64, 0..1440), "no other days");
    }
}
