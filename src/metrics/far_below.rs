//! What the heating did while rooms lay far below what is usual for them.
//!
//! Settled here, and why:
//! - **People at home do not live with a heating that is turned down for days**: a level that is only nearly kept tells of heating
//!   where nobody showered or cooked meanwhile, and nothing where somebody did; one that stands still tells either way.
//! - **An empty home without heat is without heat**: nobody knows whether it was turned off or failed. It is told by a name of its
//!   own, because who was away was not cold.

use std::ops::Range;

use super::at_its_limit::is_at_its_limit;
use super::heating::Heating;
use super::held_low::{LowRoom, is_near_a_level, stands_still};
use super::people::were_about;

/// What tells of the heating while rooms lay far below what is usual.
pub(super) struct Meanwhile<'a> {
    /// The heated rooms that may have fallen.
    pub(super) rooms: &'a [LowRoom<'a>],
    /// Rooms in which people shower and cook, °C.
    pub(super) wet: &'a [&'a [f64]],
    /// Outdoors, °C; empty where nobody measured.
    pub(super) outdoor: &'a [f64],
    pub(super) step_h: f64,
}

impl Meanwhile<'_> {
    /// What the heating did in a time, of which `low` lies far below what is usual.
    pub(super) fn heating(&self, at: &Range<usize>, low: &Range<usize>) -> Heating {
        let (rooms, step_h) = (self.rooms, self.step_h);
        if stands_still(rooms, at.start, low, step_h) {
            return Heating::HeldLow;
        }
        // Once the heat is back it is warm for a moment everywhere.
        let about = were_about(self.wet, &(at.start..low.end), step_h);
        match () {
            () if self.is_at_its_limit(at, low) => Heating::AtItsLimit,
            () if about != Some(true) && is_near_a_level(rooms, at.start, low, step_h) => Heating::HeldLow,
            () if about == Some(false) => Heating::NoneAndNobody,
            () => Heating::None,
        }
    }

    fn is_at_its_limit(&self, at: &Range<usize>, low: &Range<usize>) -> bool {
        let mean = |i: usize| {
            let here = self.rooms.iter().map(|room| room.degc[i]).filter(|x| !x.is_nan());
            let (count, sum) = here.fold((0.0, 0.0), |(count, sum), x| (count + 1.0, sum + x));
            if count > 0.0 { sum / count } else { f64::NAN }
        };
        let degc: Vec<f64> = (0..self.outdoor.len()).map(mean).collect();
        is_at_its_limit(&degc, self.outdoor, at, low, self.step_h)
    }
}
