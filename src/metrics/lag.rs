//! How far a logger trails its room, from its time constant and the slope of what it shows.
//!
//! Settled here, and why:
//! - **Lag of loggers** (`time_constant_min` τ of the roster: 63.2 % of a step in the air of a room): a logger shows T
//!   where the air is at T + τ · dT/dt, so that the direction is known and only τ is not. The air lies within the sensor
//!   accuracy of T + 0.7 to 1.3 τ · dT/dt, or at the value itself, which is never called impossible. The slope is that of
//!   the aligned values over 10 min to either side (over 5 min it follows the steps of coarse loggers), within one
//!   placement, from one side only where the other is missing. It moves the limits of the hours and degree-hours outside
//!   the band, and those of the heat rule (of a mean: by the mean of its rooms). Unless it is stated for every logger of
//!   a room (of a mean: of all its rooms), nothing is assumed: the interval is of `sensor accuracy` alone and too narrow
//!   on ramps; with it, `sensor accuracy and lag`. Values are never put right. Times of recovery may be earlier
//!   by the lag, stated or not, for there it decides. Hours over the ramp limits and evenness leave it out: a ramp that
//!   lasts longer than τ is shown as steep as it is, and all rooms of a home trail alike.

use std::ops::Range;

use super::RoomScope;

/// How far true and stated time constants differ, as a share: moving air and the mounting change them.
pub(super) const UNSURE: f64 = 0.3;

/// The slope is taken over this long to either side, in hours: long enough that one step of a coarse logger is no ramp.
const REACH_H: f64 = 1.0 / 6.0;

/// The lag of a room's loggers, placement by placement.
///
/// A logger whose case follows the air with the time constant τ shows T, where the air is at T + τ · dT/dt: a rising room
/// is warmer than it looks, a falling one colder. Because τ changes with the air around the logger, the air is taken to lie
/// anywhere from 0.7 to 1.3 of τ · dT/dt off.
///
/// # Source
/// Own definition; first-order lag as in WMO-No. 8, Guide to Instruments and Methods of Observation (time constant: 63.2 %
/// of a step; from memory). The share of 0.3 is common practice, no published source.
#[derive(Clone, Debug)]
pub(super) struct Lag<'a> {
    degc: &'a [f64],
    /// Where a logger stood, and its time constant in steps of the grid.
    pieces: Vec<(Range<usize>, f64)>,
    reach: usize,
}

impl<'a> Lag<'a> {
    /// The lag in a room; `None` unless each of its loggers has its time constant stated.
    pub(super) fn of(scope: &RoomScope<'a>) -> Option<Self> {
        let aligned = scope.home().aligned();
        let placements = &scope.home().rooms()[scope.index()].placements;
        let piece = |p: &crate::site::Placement| {
            let tau_h = p.time_constant_min? / 60.0;
            let placed = aligned.index_from(p.span.from)..aligned.index_from(p.span.to);
            Some((placed, tau_h / scope.step_h()))
        };
        let pieces: Vec<_> = placements.iter().map(piece).collect::<Option<_>>()?;
        let reach = (REACH_H / scope.step_h()).round().max(1.0) as usize;
        (!pieces.is_empty()).then_some(Self { degc: scope.degc(), pieces, reach })
    }

    /// Whether the room has a value at an instant.
    pub(super) fn has(&self, i: usize) -> bool {
        !self.degc[i].is_nan()
    }

    /// Between which distances from the value the air lies at an instant, in K, the smaller first: both positive while the
    /// room warms up. Without a value on either side nothing is known of a slope, and both are 0.
    #[inline]
    pub(super) fn range_k(&self, i: usize) -> (f64, f64) {
        let Some((placed, steps)) = self.pieces.iter().find(|(p, _)| p.contains(&i)) else {
            return (0.0, 0.0);
        };
        let present = |at: usize| if self.degc[at].is_nan() { i } else { at };
        let from = present(i.saturating_sub(self.reach).max(placed.start));
        let to = present((i + self.reach).min(placed.end - 1));
        let trail_k = steps * (self.degc[to] - self.degc[from]) / (to - from).max(1) as f64;
        let (least, most) = ((1.0 - UNSURE) * trail_k, (1.0 + UNSURE) * trail_k);
        (least.min(most), least.max(most))
    }
}

/// How far below and above its value a room may be, in K: the lag and the sensor accuracy, and in any case the value itself.
#[inline]
pub(super) fn margins_k((least, most): (f64, f64), accuracy_k: f64) -> (f64, f64) {
    ((accuracy_k - least).max(0.0), (accuracy_k + most).max(0.0))
}
