//! One room after one setback.
//!
//! Settled here, and why:
//! - **Stays 15 min**: at the line at every grid instant, up to and with the first one 15 min after the crossing.

use std::ops::Range;

use super::super::{FLOAT_NOISE_K, HomeScope};
use crate::clock::{HOUR_MS, UtcTime};
use crate::grid::AlignedHome;
use crate::stats;

/// How long a room must stay at the line for it to count as reached.
const STAYS_MS: i64 = 15 * 60_000;
/// How long after that an overshoot is looked for.
const OVERSHOOT_MS: i64 = 2 * HOUR_MS;

/// A setback that ended: when recovery began, how long it may last, and what is to be reached in each room.
pub(super) struct SetbackEnd {
    pub(super) start: UtcTime,
    /// The next setback begins, or the longest recovery is over.
    pub(super) until: UtcTime,
    /// From when on a room that is not at the line is late.
    pub(super) late_from: UtcTime,
    /// Per room, in °C; `None` where it cannot be told.
    pub(super) targets: Vec<Option<f64>>,
    /// Mean outdoor temperature after it.
    pub(super) outdoor_degc: Option<f64>,
}

/// What became of a room after a setback.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Followed {
    /// It was at the line already.
    NoSetback,
    /// It had to recover.
    Recovery(Recovery),
}

/// A recovery, to its end or until it was cut off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Recovery {
    /// Temperature at the start.
    pub(super) start_degc: f64,
    /// Target minus tolerance.
    pub(super) line: f64,
    /// From the start until the line was reached, or until it was cut off.
    pub(super) hours: f64,
    /// Where the line was reached; `None`: it was cut off.
    pub(super) reached: Option<Reached>,
}

/// Where a line was reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reached {
    /// The first instant at the line.
    at: usize,
    /// When the line was crossed, shortly before.
    crossed_ms: f64,
}

impl Followed {
    pub(super) fn recovery(&self) -> Option<&Recovery> {
        match self {
            Followed::NoSetback => None,
            Followed::Recovery(recovery) => Some(recovery),
        }
    }
}

/// A room from the end of a setback until it is cut off, ready to be held against any line.
pub(super) struct Course<'a> {
    pub(super) end: &'a SetbackEnd,
    aligned: &'a AlignedHome,
    degc: &'a [f64],
    target: f64,
    /// Target minus tolerance.
    line: f64,
    /// The instant from which it is followed.
    first: usize,
    /// After the last instant at which the line may be reached.
    to: usize,
    cut_off: UtcTime,
    /// Instants warmer than all before them: at one of these any line is reached first.
    warmer: Vec<usize>,
}

impl<'a> Course<'a> {
    /// `None` where the room has no value at the end of the setback, or no target.
    pub(super) fn of(scope: &HomeScope<'a>, room: usize, end: &'a SetbackEnd) -> Option<Self> {
        let (aligned, degc) = (scope.aligned(), scope.degc(room));
        let target = (*end.targets.get(room)?)?;
        let first = aligned.index_from(end.start);
        degc.get(first).filter(|x| !x.is_nan())?;
        let last = aligned.index_from(end.until);
        let unbroken = scope.room(room).blocks().unbroken(&(first..(last + 1).min(degc.len())));
        let to = unbroken.first().map_or(first + 1, |run| run.end);
        let hole = (to <= last).then_some(to);
        Some(Self {
            end,
            aligned,
            degc,
            target,
            line: target - scope.site().recovery.tolerance.k(),
            first,
            to,
            cut_off: hole.map_or(end.until, |hole| aligned.time(hole - 1)),
            warmer: warmer_than_before(degc, first..to),
        })
    }

    /// How far above the line the room is on the median from when it would be late until it is cut off; below 0: under it.
    pub(super) fn later_above_line_k(&self) -> Option<f64> {
        let from = self.aligned.index_from(self.end.late_from).clamp(self.first, self.to);
        let later: Vec<f64> = self.degc[from..self.to].iter().copied().filter(|x| !x.is_nan()).collect();
        Some(stats::median(later)? - self.line)
    }

    /// Target minus tolerance, in °C.
    pub(super) fn line(&self) -> f64 {
        self.line
    }

    /// The value so long after the start, in °C; NaN from where the room is cut off.
    pub(super) fn after(&self, ms: i64) -> f64 {
        let at = self.aligned.index_from(self.end.start.plus_ms(ms));
        if at < self.to { self.degc[at] } else { f64::NAN }
    }

    /// What became of the room, did the line lie `raised_k` higher than it should.
    pub(super) fn follow(&self, raised_k: f64) -> Followed {
        let line = self.line + raised_k;
        let start_degc = self.degc[self.first];
        if at_line(start_degc, line) {
            return Followed::NoSetback;
        }
        let recovery = |ms: f64, reached| {
            let hours = (ms - self.end.start.ms() as f64) / HOUR_MS as f64;
            Followed::Recovery(Recovery { start_degc, line, hours, reached })
        };
        let is_there = |i: &usize| at_line(self.degc[*i], line);
        let first = self.warmer.partition_point(|i| !is_there(i));
        let mut next = self.warmer.get(first).copied();
        while let Some(at) = next {
            if let Some(crossed_ms) = self.stays_from(at, line) {
                return recovery(crossed_ms, Some(Reached { at, crossed_ms }));
            }
            let fell = (at + 1..self.to).find(|i| !is_there(i));
            next = fell.and_then(|fell| (fell + 1..self.to).find(is_there));
        }
        let cut_off = self.cut_off.min(self.end.until).max(self.end.start);
        recovery(cut_off.ms() as f64, None)
    }

    /// When the line was crossed before the instant `at`, which is the first to be there; `None` where the room did not stay.
    fn stays_from(&self, at: usize, line: f64) -> Option<f64> {
        let (before, now) = (self.degc[at - 1], self.degc[at]);
        let share = (line - before) / (now - before);
        let crossed_ms =
            self.aligned.time(at - 1).ms() as f64 + share.clamp(0.0, 1.0) * self.aligned.step_ms() as f64;
        // To have stayed it must still be there at the first instant after that time.
        let to = (self.index_after(crossed_ms, STAYS_MS) + 1).clamp(at + 1, self.degc.len());
        let stays = self.degc[at..to].iter().all(|x| at_line(*x, line));
        (crossed_ms <= self.end.until.ms() as f64 && stays).then_some(crossed_ms)
    }

    /// Largest excess over the target soon after the line was reached.
    pub(super) fn overshoot_k(&self, reached: &Reached) -> f64 {
        let to = self.index_after(reached.crossed_ms, OVERSHOOT_MS + 1).max(reached.at + 1);
        let soon = self.degc[reached.at..to].iter().copied().filter(|x| !x.is_nan());
        (soon.fold(f64::NEG_INFINITY, f64::max) - self.target).max(0.0)
    }

    /// The first instant that long after a time.
    fn index_after(&self, crossed_ms: f64, ms: i64) -> usize {
        self.aligned.index_from(UtcTime::from_ms(crossed_ms as i64 + ms))
    }
}

/// The instants of a range that are warmer than all of it before them.
fn warmer_than_before(degc: &[f64], range: Range<usize>) -> Vec<usize> {
    let mut highest = f64::NEG_INFINITY;
    let mut warmer = Vec::with_capacity(range.len());
    for (i, x) in range.clone().zip(&degc[range]) {
        if *x > highest {
            highest = *x;
            warmer.push(i);
        }
    }
    warmer
}

fn at_line(x: f64, line: f64) -> bool {
    x >= line - FLOAT_NOISE_K
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_first_reached_where_it_was_never_as_warm_before() {
        let degc: Vec<f64> = (0..80).map(|i| 18.0 + f64::from(i * 7919 % 53) / 20.0).collect();
        let warmer = warmer_than_before(&degc, 5..70);
        for line in (0..60).map(|k| 17.9 + f64::from(k) / 20.0) {
            let first = (5..70).find(|i| at_line(degc[*i], line));
            assert_eq!(warmer.iter().copied().find(|i| at_line(degc[*i], line)), first, "{line}");
        }
    }
}
