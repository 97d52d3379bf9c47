//! Whether a logger came from a colder place: what no room does by itself.
//!
//! Settled here, and why:
//! - **A room does not warm, or cool for good, within half an hour**: heating brings 2 to 4 K in an hour, and a window that stood
//!   open leaves cold walls behind. A level that lies 4 K and more below the one that is kept from then on, and is left by a jump
//!   that makes most of that way, is that of another place, whichever other loggers lay there too.
//! - **At the start only**: who is without heat at the end of a record waits for somebody, and a logger that was taken away before
//!   it was read out does not; the first mistake is the worse one.
//! - **Used, and counted both ways**: a jump is strange, but no witness.

use std::ops::Range;

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::peer_check::present;
use super::place::record;
use crate::clock::HOUR_MS;
use crate::stats::{median, quantile};

/// Time within which no room changes its level, and the least such change, K: between readings, and from one to the next.
const AT_ONCE_MS: i64 = HOUR_MS / 2;
const JUMP_K: f64 = 4.0;
/// The same of a logger that reads more seldom, an hour apart at most.
const SELDOM_MS: i64 = HOUR_MS + HOUR_MS / 12;
const SELDOM_JUMP_K: f64 = 6.0;
/// Least difference of the two levels, K, and the share of it that the jump makes.
const LEVELS_K: f64 = 4.0;
const SHARE: f64 = 0.7;
/// How long either level is looked at, and how long the colder one lasts at least: a window is shut sooner.
const LEVEL_MS: i64 = 6 * HOUR_MS;
const LEAST_MS: i64 = 2 * HOUR_MS;
/// Latest end, and largest share of the record, of the time before: later it is a room that was cold.
const LATEST_MS: i64 = 5 * 24 * HOUR_MS;
const MOST_OF_RECORD: f64 = 0.34;
/// It is never warmer than this below the later level, K, but for one instant in twenty.
const BELOW_K: f64 = 3.0;
/// Share of the jump by which the logger moves at once at no other time.
const ELSEWHERE: f64 = 0.6;

/// The time at the start of a logger's record that it spent in a colder place; `None` where nothing tells of one.
///
/// # Source
/// Own definition.
pub(super) fn brought(witnesses: &Witnesses<'_>, logger: &Logger<'_>) -> Option<Episode> {
    let side = witnesses.side;
    let range = record(witnesses, logger)?;
    let interval_ms = logger.flagged.readings().interval_ms()?;
    let reach_ms = AT_ONCE_MS.max(interval_ms + side.step_ms());
    if reach_ms > SELDOM_MS {
        return None;
    }
    let beside = side.rooms().iter().enumerate().filter(|(r, _)| *r != logger.room);
    let mut beside = beside.map(|(_, x)| x[range.clone()].iter().any(|x| !x.is_nan())).peekable();
    // A record of another time than the rest of the home is told as that.
    if beside.peek().is_some() && !beside.any(|there| there) {
        return None;
    }
    let step = Step { ms: side.step_ms(), reach_ms };
    let own = &side.rooms()[logger.room][range.clone()];
    let (until, jump_k) = step.leaves_the_cold(own)?;
    let span = witnesses.span(range.start..range.start + until);
    Some(Episode { span, seen: Seen::Brought { jump_k } })
}

/// The grid, and within what time a logger may jump.
struct Step {
    ms: i64,
    reach_ms: i64,
}

impl Step {
    fn instants(&self, ms: i64) -> usize {
        (ms / self.ms).max(1) as usize
    }

    /// Instants of the cold at the start of a record, the way up included, and by how much it jumps, K.
    fn leaves_the_cold(&self, own: &[f64]) -> Option<(usize, f64)> {
        let reach = self.instants(self.reach_ms);
        let first = own.iter().position(|x| !x.is_nan())?;
        let latest = self.instants(LATEST_MS).min((MOST_OF_RECORD * own.len() as f64) as usize);
        let from = first + self.instants(LEAST_MS);
        let rise = |i: usize| own[i + reach] - own[i];
        let places =
            || (from..(first + latest).min(own.len().saturating_sub(reach))).filter(|i| !rise(*i).is_nan());
        let at = places().max_by(|a, b| rise(*a).total_cmp(&rise(*b)))?;
        let jump_k = rise(at);
        let least_k = if self.reach_ms > AT_ONCE_MS { SELDOM_JUMP_K } else { JUMP_K };
        let level = self.instants(LEVEL_MS);
        let before = &own[first.max(at.saturating_sub(level))..=at];
        let after = &own[at + reach..(at + reach + level).min(own.len())];
        let (low, high) = (median(present(before))?, median(present(after))?);
        let warmest = quantile(present(&own[first..=at]), 0.95)?;
        let told = jump_k >= least_k
            && high - low >= LEVELS_K
            && jump_k >= SHARE * (high - low)
            && warmest <= high - BELOW_K
            && self.is_alone(own, at + reach..own.len(), reach, jump_k);
        told.then_some((at + reach, jump_k))
    }

    /// Whether it moves as far at once at no time of a range.
    fn is_alone(&self, own: &[f64], range: Range<usize>, reach: usize, jump_k: f64) -> bool {
        let last = range.end.saturating_sub(reach);
        // How the level is reached belongs to the jump.
        !(range.start + reach..last).any(|i| (own[i + reach] - own[i]).abs() >= ELSEWHERE * jump_k)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP: Step = Step { ms: 300_000, reach_ms: AT_ONCE_MS };

    /// Ten days of a room every 5 min, `cold_h` hours of a colder place first, and a rise that takes so many instants.
    fn record(cold_h: usize, rise: usize) -> Vec<f64> {
        let cold = cold_h * 12;
        let room = |i: usize| 21.0 + (i as f64 / 288.0 * std::f64::consts::TAU).sin();
        let share = |i: usize| ((i as f64 - cold as f64) / rise as f64).clamp(0.0, 1.0);
        (0..2880).map(|i| 12.0 + share(i) * (room(i) - 12.0)).collect()
    }

    #[test]
    fn a_jump_out_of_the_cold_is_no_warming_room() {
        let (until, jump_k) = STEP.leaves_the_cold(&record(48, 4)).unwrap();
        assert!((48 * 12..48 * 12 + 12).contains(&until), "{until}");
        assert!(jump_k > 7.0, "{jump_k}");
        // Two hours of the same way are a room whose heating came on.
        assert_eq!(STEP.leaves_the_cold(&record(48, 24)), None);
        // An hour of it is an open window.
        assert_eq!(STEP.leaves_the_cold(&record(1, 4)), None);
    }

    #[test]
    fn a_room_that_jumps_as_far_again_is_aired() {
        let mut aired = record(48, 4);
        aired[2000..2012].fill(12.0);
        assert_eq!(STEP.leaves_the_cold(&aired), None);
    }

    #[test]
    fn a_record_without_values_tells_nothing() {
        assert_eq!(STEP.leaves_the_cold(&[]), None);
        assert_eq!(STEP.leaves_the_cold(&[f64::NAN; 3000]), None);
    }
}
