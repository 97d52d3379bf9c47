//! Whether rooms far below what is usual were held at that level: then there was heat, turned down or kept low.
//!
//! Settled here, and why:
//! - **What has no heat goes on falling**, towards outdoors; what a thermostat holds falls for some hours and then stands still.
//!   So half a day of it at one level tells, and a short time tells nothing.
//! - **A long fall is none of a thermostat**: a heavy or sheltered home without heat comes to rest at last, too, but takes days
//!   to get there.
//! - **A room that is held stands stiller than any other**: where half of the rooms do, a heavy one that is still on its way down
//!   to its setting says nothing against it.
//! - **When in doubt there was no heat**: every room that fell must be at 16 °C and more, whatever held it, and one heater alone
//!   holds no home.

use std::ops::Range;

use super::SERIOUS_COLD;
use crate::stats::median;

/// A room has fallen with the others where it lies so many K below the usual.
pub(super) const FALLS_K: f64 = 1.5;
/// Hours that it lasts at least, and hours that the fall before it takes at most.
const LEAST_H: f64 = 12.0;
const FALL_H: f64 = 30.0;
/// Hours from the start of the fall on that being near a level takes: for less nobody knows whether people were about, and what
/// falls slowly is near a level, too.
const NEAR_H: f64 = 20.0;
/// A room is held within so many K of its median, at such a share of the instants; and half of the rooms at such a share.
const LEVEL_K: f64 = 0.7;
const EACH: f64 = 0.75;
const HALF_OF_THEM: f64 = 0.9;

/// A room stands still within so many K of its median, at such a share of the instants, and at such a share no more than so many K
/// below it.
const STILL_K: f64 = 0.3;
const STILL: f64 = 0.75;
const NOT_BELOW_K: f64 = 0.5;
const NOT_BELOW: f64 = 0.95;
/// So many rooms must stand still, or all of fewer.
const SEVERAL: usize = 2;
/// Hours after the start of the fall within which it begins to stand still.
const STILL_FROM_H: f64 = 36.0;
/// Hours between two instants from which on it is tried.
const EVERY_H: f64 = 1.5;

/// A room in a time far below what is usual.
#[derive(Clone, Copy, Debug)]
pub(super) struct LowRoom<'a> {
    /// °C at each instant, NaN where nobody knows.
    pub(super) degc: &'a [f64],
    /// K below what is usual.
    pub(super) below: &'a [f64],
}

impl LowRoom<'_> {
    fn there(of: &[f64], low: &Range<usize>) -> Vec<f64> {
        of[low.clone()].iter().copied().filter(|x| !x.is_nan()).collect()
    }

    fn fell(&self, low: &Range<usize>) -> bool {
        median(Self::there(self.below, low)).is_some_and(|k| k >= FALLS_K)
    }
}

/// Whether rooms were nearly at one level from the first to the last instant of `low`, in a fall that began with `from`.
///
/// # Source
/// Own definition.
pub(super) fn is_near_a_level(rooms: &[LowRoom<'_>], from: usize, low: &Range<usize>, step_h: f64) -> bool {
    let quickly = low.start.saturating_sub(from) as f64 * step_h <= FALL_H;
    let whole_h = low.end.saturating_sub(from) as f64 * step_h;
    let long = (low.len() as f64) * step_h >= LEAST_H && whole_h >= NEAR_H;
    let fallen = || rooms.iter().filter(|room| room.fell(low));
    quickly && long && at_one_level(fallen().map(|room| LowRoom::there(room.degc, low)))
}

/// Whether half of the rooms stand still to the last instant of `low`, in a fall that began with `from`, and none is too cold for
/// any setting.
///
/// # Source
/// Own definition.
pub(super) fn stands_still(rooms: &[LowRoom<'_>], from: usize, low: &Range<usize>, step_h: f64) -> bool {
    let fallen: Vec<&LowRoom<'_>> = rooms.iter().filter(|room| room.fell(low)).collect();
    let warm = |room: &&LowRoom<'_>| {
        median(LowRoom::there(room.degc, low)).is_some_and(|level| level >= SERIOUS_COLD.degc())
    };
    let still = || fallen.iter().filter(|room| is_still(room.degc, from, low.end, step_h)).count();
    let long = (low.len() as f64) * step_h >= LEAST_H;
    // Of two rooms one stands still by chance, too.
    let enough = |still: usize| 2 * still >= fallen.len() && still >= fallen.len().min(SEVERAL);
    long && !fallen.is_empty() && fallen.iter().all(warm) && enough(still())
}

/// Whether each of some rooms lies about its own level, and half of them closely.
fn at_one_level(rooms: impl Iterator<Item = Vec<f64>>) -> bool {
    let mut shares: Vec<f64> = rooms.filter_map(|degc| share_at_its_level(&degc)).collect();
    shares.sort_unstable_by(f64::total_cmp);
    let least = shares.first().is_some_and(|share| *share >= EACH);
    least && shares[shares.len() / 2] >= HALF_OF_THEM
}

/// Whether a room stands still for half a day and more, from soon after its fall began until `to`.
fn is_still(degc: &[f64], from: usize, to: usize, step_h: f64) -> bool {
    let steps = |hours: f64| ((hours / step_h).round() as usize).max(1);
    let last = (from + steps(STILL_FROM_H)).min(to.saturating_sub(steps(LEAST_H)));
    (from..=last).step_by(steps(EVERY_H)).any(|begin| {
        let there: Vec<f64> = degc[begin..to].iter().copied().filter(|x| !x.is_nan()).collect();
        let Some(level) = median(there.clone()) else { return false };
        let part = |count: usize| count as f64 / there.len() as f64;
        let about = there.iter().filter(|x| (*x - level).abs() <= STILL_K).count();
        let not_below = there.iter().filter(|x| *x - level >= -NOT_BELOW_K).count();
        there.len() * 2 >= to - begin && part(about) >= STILL && part(not_below) >= NOT_BELOW
    })
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

    fn is_held(rooms: &[LowRoom<'_>], from: usize, low: &Range<usize>) -> bool {
        is_near_a_level(rooms, from, low, 0.5) || stands_still(rooms, from, low, 0.5)
    }

    /// Half hours of two rooms that are at 21 °C for a day and then fall towards 0 °C outdoors with a time constant, but not below
    /// a level.
    fn held(constant_h: f64, level: f64, hours: usize) -> bool {
        let degc: Vec<f64> = (0..48 + 2 * hours)
            .map(|i| (21.0 * (-(i.saturating_sub(48) as f64) / 2.0 / constant_h).exp()).max(level))
            .collect();
        let below: Vec<f64> = degc.iter().map(|x| 21.0 - x).collect();
        let room = LowRoom { degc: &degc, below: &below };
        let first = below.iter().position(|k| *k >= 3.0).unwrap_or(below.len());
        is_held(&[room, room], 49, &(first..below.len()))
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
        assert!(!is_held(&[room], 0, &(first..480)));
    }

    #[test]
    fn rooms_that_stand_still_had_heat_though_a_heavy_one_is_still_falling() {
        // Three days of half hours: down to 18.5 °C in 24 h and then held; the heavy one falls on, to 18 °C.
        let course = |constant_h: f64, level: f64| -> Vec<f64> {
            (0..144).map(|i| (21.5 * (-f64::from(i) / 2.0 / constant_h).exp()).max(level)).collect()
        };
        let (light, heavy) = (course(80.0, 18.5), course(400.0, 16.0));
        let below: Vec<f64> = light.iter().map(|x| 21.5 - x).collect();
        let of = |degc| LowRoom { degc, below: &below };
        let first = below.iter().position(|k| *k >= 2.9).unwrap();
        let is = |rooms: &[LowRoom<'_>]| is_held(rooms, 0, &(first..144));
        assert!(
            is(&[of(&light), of(&light), of(&heavy)]) && is(&[of(&light), of(&light)]) && is(&[of(&light)])
        );
        // Of two rooms one may stand still by chance.
        assert!(!is(&[of(&light), of(&heavy)]));
        // One heater of three holds no home, and nobody holds one at 15 °C.
        assert!(!is(&[of(&light), of(&heavy), of(&heavy)]));
        let cold = course(60.0, 15.0);
        assert!(!is(&[of(&light), of(&cold)]) && !is(&[of(&cold), of(&cold)]));
    }

    #[test]
    fn one_room_that_falls_is_enough_for_no_heat() {
        let held: Vec<f64> = vec![17.0; 96];
        let falls: Vec<f64> = (0..96).map(|i| 17.0 - f64::from(i) / 20.0).collect();
        let below = vec![4.0; 96];
        let holds = LowRoom { degc: &held, below: &below };
        assert!(is_held(&[holds, holds, holds], 0, &(0..96)));
        let mixed = [holds, holds, LowRoom { degc: &falls, below: &below }];
        assert!(!is_held(&mixed, 0, &(0..96)));
        // Nobody knows: no heat.
        let nobody_knows = LowRoom { degc: &[f64::NAN; 96], below: &[f64::NAN; 96] };
        assert!(!is_held(&[nobody_knows], 0, &(0..96)));
    }
}
