//! Whether rooms far below what is usual were held at that level: then there was heat, turned down or kept low.
//!
//! Settled here, and why:
//! - **What has no heat goes on falling**, towards outdoors; what a thermostat holds falls for some hours and then stands still.
//!   So half a day of it at one level tells, and a short time tells nothing.
//! - **A long fall is none of a thermostat**: a heavy or sheltered home without heat comes to rest at last, too, but takes days
//!   to get there.
//! - **When in doubt there was no heat**: every room that fell must have been held, and below 16 °C nobody is told that there was
//!   heat, whatever held it.

use std::ops::Range;

use super::SERIOUS_COLD;
use crate::stats::median;

/// Hours that it lasts at least, and hours that the fall before it takes at most.
const LEAST_H: f64 = 12.0;
const FALL_H: f64 = 30.0;
/// A room is held within so many K of its median, at such a share of the instants; and half of the rooms at such a share.
const LEVEL_K: f64 = 0.7;
const EACH: f64 = 0.75;
const HALF_OF_THEM: f64 = 0.9;

/// A room in a time far below what is usual.
#[derive(Clone, Copy, Debug)]
pub(super) struct LowRoom<'a> {
    /// °C at each instant, NaN where nobody knows.
    pub(super) degc: &'a [f64],
    /// K below what is usual.
    pub(super) below: &'a [f64],
}

/// Whether rooms were held from the first to the last instant of `low`, in a fall that began with `from`; `fell_k`: so far below
/// what is usual a room has fallen with the others.
///
/// # Source
/// Own definition.
pub(super) fn is_held(
    rooms: &[LowRoom<'_>],
    from: usize,
    low: &Range<usize>,
    step_h: f64,
    fell_k: f64,
) -> bool {
    let fall_h = low.start.saturating_sub(from) as f64 * step_h;
    if (low.len() as f64) * step_h < LEAST_H || fall_h > FALL_H {
        return false;
    }
    let there = |of: &[f64]| of[low.clone()].iter().copied().filter(|x| !x.is_nan()).collect::<Vec<f64>>();
    let fell = |room: &&LowRoom<'_>| median(there(room.below)).is_some_and(|k| k >= fell_k);
    let mut shares: Vec<f64> =
        rooms.iter().filter(fell).filter_map(|room| share_at_its_level(&there(room.degc))).collect();
    shares.sort_unstable_by(f64::total_cmp);
    let least = shares.first().is_some_and(|share| *share >= EACH);
    least && shares[shares.len() / 2] >= HALF_OF_THEM
}

/// Share of the values that lie about their median, none where that is too cold for any setting; `None` of no values.
fn share_at_its_level(degc: &[f64]) -> Option<f64> {
    let level = median(degc.to_vec())?;
    if level < SERIOUS_COLD.degc() {
        return Some(0.0);
    }
    Some(degc.iter().filter(|x| (*x - level).abs() <= LEVEL_K).count() as f64 / degc.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half hours of two rooms that are at 21 °C for a day and then fall towards 0 °C outdoors with a time constant, but not below
    /// a level.
    fn held(constant_h: f64, level: f64, hours: usize) -> bool {
        let degc: Vec<f64> = (0..48 + 2 * hours)
            .map(|i| (21.0 * (-(i.saturating_sub(48) as f64) / 2.0 / constant_h).exp()).max(level))
            .collect();
        let below: Vec<f64> = degc.iter().map(|x| 21.0 - x).collect();
        let room = LowRoom { degc: &degc, below: &below };
        let first = below.iter().position(|k| *k >= 3.0).unwrap_or(below.len());
        is_held(&[room, room], 49, &(first..below.len()), 0.5, 1.5)
    }

    #[test]
    fn a_level_that_is_kept_for_a_day_had_heat() {
        assert!(held(50.0, 17.5, 36));
        assert!(!held(50.0, 17.5, 16), "not long enough");
        assert!(!held(50.0, 12.0, 72), "too cold for any setting");
    }

    #[test]
    fn what_goes_on_falling_had_none() {
        // 5, 50 and 200 h: from an open window to a heavy home.
        assert!(!held(5.0, -9.0, 48) && !held(50.0, -9.0, 48) && !held(200.0, -9.0, 72));
        // A sheltered home that comes to rest at 17 °C by its neighbours' heat, days later.
        let degc: Vec<f64> = (0..480).map(|i| 17.0 + 4.0 * (-(f64::from(i)) / 2.0 / 40.0).exp()).collect();
        let below: Vec<f64> = degc.iter().map(|x| 21.0 - x).collect();
        let room = LowRoom { degc: &degc, below: &below };
        let first = below.iter().position(|k| *k >= 3.0).unwrap();
        assert!(!is_held(&[room], 0, &(first..480), 0.5, 1.5));
    }

    #[test]
    fn one_room_that_falls_is_enough_for_no_heat() {
        let held: Vec<f64> = vec![17.0; 96];
        let falls: Vec<f64> = (0..96).map(|i| 17.0 - f64::from(i) / 20.0).collect();
        let below = vec![4.0; 96];
        let holds = LowRoom { degc: &held, below: &below };
        assert!(is_held(&[holds, holds, holds], 0, &(0..96), 0.5, 1.5));
        let mixed = [holds, holds, LowRoom { degc: &falls, below: &below }];
        assert!(!is_held(&mixed, 0, &(0..96), 0.5, 1.5));
        // Nobody knows: no heat.
        assert!(!is_held(
            &[LowRoom { degc: &[f64::NAN; 96], below: &[f64::NAN; 96] }],
            0,
            &(0..96),
            0.5,
            1.5
        ));
    }
}
