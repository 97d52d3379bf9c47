//! One room after one setback.

use super::super::{FLOAT_NOISE_K, HomeScope};
use super::SetbackEnd;
use crate::clock::{HOUR_MS, UtcTime};

/// How long a room must stay at the line for it to count as reached.
const STAYS_MS: i64 = 15 * 60_000;
/// How long after that an overshoot is looked for.
const OVERSHOOT_MS: i64 = 2 * HOUR_MS;

/// What became of a room after a setback.
pub(super) enum Followed {
    /// It was at the line already.
    NoSetback,
    /// It had to recover.
    Recovery(Recovery),
}

/// A recovery, to its end or until it was cut off.
pub(super) struct Recovery {
    /// Temperature at the start.
    pub(super) start_degc: f64,
    /// Target minus tolerance.
    pub(super) line: f64,
    /// From the start until the line was reached, or until it was cut off.
    pub(super) hours: f64,
    /// Whether the line was reached.
    pub(super) reached: bool,
    /// Largest excess over the target soon after.
    pub(super) overshoot_k: Option<f64>,
}

impl Followed {
    pub(super) fn recovery(&self) -> Option<&Recovery> {
        match self {
            Followed::NoSetback => None,
            Followed::Recovery(recovery) => Some(recovery),
        }
    }
}

/// Follows a room from the end of a setback; `None` where it has no value then, or no target. The line lies `raised_k` higher
/// than it should.
pub(super) fn follow(
    scope: &HomeScope<'_>,
    room: usize,
    end: &SetbackEnd,
    raised_k: f64,
) -> Option<Followed> {
    let (aligned, degc) = (scope.aligned(), scope.degc(room));
    let target = (*end.targets.get(room)?)?;
    let line = target - scope.site().recovery.tolerance.k() + raised_k;
    let first = aligned.index_from(end.start);
    let start_degc = degc.get(first).copied().filter(|x| !x.is_nan())?;
    if at_line(start_degc, line) {
        return Some(Followed::NoSetback);
    }
    let hours = |t: f64| (t - end.start.ms() as f64) / HOUR_MS as f64;
    let cut_off = |t: UtcTime| {
        let hours = hours(t.min(end.until).ms() as f64).max(0.0);
        Followed::Recovery(Recovery { start_degc, line, hours, reached: false, overshoot_k: None })
    };
    let mut i = first;
    while aligned.time(i) < end.until {
        i += 1;
        let Some(now) = degc.get(i).copied().filter(|x| !x.is_nan()) else {
            return Some(cut_off(aligned.time(i - 1)));
        };
        if !at_line(now, line) || at_line(degc[i - 1], line) {
            continue;
        }
        let share = (line - degc[i - 1]) / (now - degc[i - 1]);
        let crossed_ms = aligned.time(i - 1).ms() as f64 + share.clamp(0.0, 1.0) * aligned.step_ms() as f64;
        let after = |ms: i64| UtcTime::from_ms(crossed_ms as i64 + ms);
        // To have stayed it must still be there at the first instant after that time.
        let stay = i..(aligned.index_from(after(STAYS_MS)) + 1).clamp(i + 1, degc.len());
        let soon = i..aligned.index_from(after(OVERSHOOT_MS + 1)).max(i + 1);
        if crossed_ms <= end.until.ms() as f64 && degc[stay].iter().all(|x| at_line(*x, line)) {
            let soon = degc[soon].iter().copied().filter(|x| !x.is_nan());
            let overshoot_k = soon.reduce(f64::max).map(|highest| (highest - target).max(0.0));
            let hours = hours(crossed_ms);
            return Some(Followed::Recovery(Recovery {
                start_degc,
                line,
                hours,
                reached: true,
                overshoot_k,
            }));
        }
    }
    Some(cut_off(end.until))
}

fn at_line(x: f64, line: f64) -> bool {
    x >= line - FLOAT_NOISE_K
}
