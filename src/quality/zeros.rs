//! Bursts of exactly 0.0: what a logger writes that has nothing to say.

use super::episodes::{Episode, Seen};
use crate::clock::{Span, UtcTime};
use crate::exports::Readings;
use crate::units::Celsius;

/// A room does not get so far from one reading to the next, K.
const JUMP_K: f64 = 5.0;
/// Float noise, K.
const NOISE_K: f64 = 1e-9;

/// The bursts of a record in order of time: readings of exactly 0.0 (°C, or °F for a logger that writes those), entered and
/// left by a jump within one step. At the ends of a record, and beside a hole, the other jump is enough for two and more. A room that cools to 0
/// °C gets there by and by.
///
/// # Source
/// Own definition.
pub(super) fn bursts(readings: &Readings) -> Vec<Episode> {
    let (times, degc) = (readings.times_ms(), readings.degc());
    let Some(interval_ms) = readings.interval_ms() else { return Vec::new() };
    let nothing = [0.0, Celsius::from_degf(0.0).degc()];
    let is = |i: usize, zero: f64| (degc[i] - zero).abs() < NOISE_K;
    let mut found = Vec::new();
    for zero in nothing {
        // Whether there is a jump between two neighbours; `None` where nothing is known of the one that is no zero.
        let jump = |zero_at: usize, other: Option<usize>| {
            let other = other.filter(|o| *o < degc.len() && !degc[*o].is_nan())?;
            let near = (times[other] - times[zero_at]).abs() <= interval_ms * 5 / 2;
            near.then(|| (degc[other] - zero).abs() > JUMP_K)
        };
        let mut i = 0;
        while i < degc.len() {
            if !is(i, zero) {
                i += 1;
                continue;
            }
            let end = (i..degc.len()).find(|k| !is(*k, zero)).unwrap_or(degc.len());
            let jumps = [jump(i, i.checked_sub(1)), jump(end - 1, Some(end))];
            // A single reading of which only one neighbour is known may be any.
            let is_known = end - i > 1 || !jumps.contains(&None);
            // What lies between its neighbours is on the way from one to the other, in a hand or out into the frost.
            let off = |at: Option<usize>| at.and_then(|at| degc.get(at)).map_or(f64::NAN, |x| x - zero);
            let passes = off(i.checked_sub(1)) * off(Some(end)) < 0.0;
            if is_known && !passes && jumps.contains(&Some(true)) && !jumps.contains(&Some(false)) {
                let span =
                    Span { from: UtcTime::from_ms(times[i]), to: UtcTime::from_ms(times[end - 1] + 1) };
                found.push(Episode { span, seen: Seen::Zeros { degc: zero, readings: end - i } });
            }
            i = end;
        }
    }
    found.sort_by_key(|e| e.span.from);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many readings each burst of a record has, of readings every 10 min.
    fn told(degc: &[f64]) -> Vec<usize> {
        let rows: Vec<(i64, Option<f64>)> = (0..).zip(degc).map(|(i, x)| (i * 600_000, Some(*x))).collect();
        let readings = |e: Episode| match e.seen {
            Seen::Zeros { readings, .. } => readings,
            _ => 0,
        };
        bursts(&Readings::from_series(&rows)).into_iter().map(readings).collect()
    }

    #[test]
    fn what_jumps_to_zero_and_back_is_a_burst() {
        assert_eq!(told(&[21.0, 21.1, 0.0, 21.0, 0.0, 0.0, 21.1, 21.0]), [1, 2]);
        // At the end of a record one jump is enough for two.
        assert_eq!(told(&[21.0, 21.1, 21.0, 0.0, 0.0]), [2]);
        assert!(told(&[21.0, 21.1, 21.0, 0.0]).is_empty());
    }

    #[test]
    fn what_passes_zero_on_its_way_is_none() {
        assert!(told(&[4.0, 2.0, 0.0, -2.0, -4.0]).is_empty(), "by and by");
        assert!(told(&[-7.0, -6.5, 0.0, 8.0, 14.0]).is_empty(), "in a hand");
        assert!(told(&[21.0, 12.0, 0.0, -8.0, -8.1]).is_empty(), "out into the frost");
    }
}
