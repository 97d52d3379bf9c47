//! Sun that reaches a logger: peaks at one time of day that the other rooms do not have.
//!
//! Settled here, and why:
//! - **On one day in five** a peak of 3 K is told by itself. In a grey winter the sun comes on fewer days: then both the distance to
//!   the others and the logger itself must have the peak within three hours, and no other time of day may have any, as where
//!   somebody cooks or showers.

use std::ops::Range;

use super::{DAY_MS, HALF_HOUR_MS, means};
use crate::stats::quantile;

/// Short warm peaks at one time of day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sun {
    /// Minutes after local midnight at which the peak stands.
    pub minute: i64,
    /// Height that one day in [`one_in`](Self::one_in) exceeds, K.
    pub peak_k: f64,
    /// Five, or ten where the sun came on few days.
    pub one_in: u32,
    /// Days with a peak over 2 K.
    pub days: usize,
}

/// Half hours of the day in which a peak is looked for (09:00 to 17:00), and how far from it the room must be back.
const SUNNY: Range<usize> = 18..34;
const BACK: usize = 6;
/// Height that one day in five must exceed, height of a day that counts, K, and fewest days in all and with a peak.
const PEAK_K: f64 = 3.0;
const DAY_PEAK_K: f64 = 2.0;
pub(super) const LEAST_DAYS: usize = 7;
const LEAST_PEAKS: usize = 5;

/// The same of a peak on few days: half hours to where it is back, height of a day, K, fewest days, height that one day in ten must
/// exceed, K; and height of what counts at other times of day, K, and most days that may have it.
const SOON_BACK: usize = 3;
const SHORT_PEAK_K: f64 = 2.0;
const LEAST_SHORT_PEAKS: usize = 4;
const SHORT_TENTH_K: f64 = 2.5;
const OTHER_PEAK_K: f64 = 1.2;
const MOST_OTHERS: usize = 1;
/// Half hours of the day at which the sun warms nothing in winter (18:00 to 07:00).
const DARK: [Range<usize>; 2] = [0..14, 36..48];

/// Peaks of a logger's half-hourly distances to the others; `own`: its temperatures at each instant.
pub(super) fn sun(halves: &[f64], own: &[f64], local_ms: &[i64], step_ms: i64) -> Option<Sun> {
    let per = (HALF_HOUR_MS / step_ms).max(1) as usize;
    let slot = |i: usize| (local_ms[i * per].rem_euclid(DAY_MS) / HALF_HOUR_MS) as usize;
    on_many_days(halves, slot).or_else(|| on_few_days(halves, &means(own, per), slot))
}

/// How far a half hour stands above both of those so many before and after it, K; NaN where one is missing.
fn height(values: &[f64], i: usize, back: usize) -> f64 {
    let (Some(before), Some(after)) = (i.checked_sub(back), values.get(i + back)) else { return f64::NAN };
    let missing = values[before].is_nan() || after.is_nan();
    if missing { f64::NAN } else { values[i] - values[before].max(*after) }
}

fn on_many_days(halves: &[f64], slot: impl Fn(usize) -> usize) -> Option<Sun> {
    let mut heights: Vec<Vec<f64>> = vec![Vec::new(); 48];
    for i in BACK..halves.len().saturating_sub(BACK) {
        let height = height(halves, i, BACK);
        if SUNNY.contains(&slot(i)) && !height.is_nan() {
            heights[slot(i)].push(height);
        }
    }
    let peak = |(slot, heights): (usize, Vec<f64>)| {
        let days = heights.iter().filter(|h| **h > DAY_PEAK_K).count();
        let long = heights.len() >= LEAST_DAYS && days >= LEAST_PEAKS;
        let peak_k = quantile(heights, 0.8).filter(|k| long && *k >= PEAK_K)?;
        Some(Sun { minute: slot as i64 * 30, peak_k, one_in: 5, days })
    };
    heights.into_iter().enumerate().filter_map(peak).max_by(|a, b| a.peak_k.total_cmp(&b.peak_k))
}

fn on_few_days(halves: &[f64], own: &[f64], slot: impl Fn(usize) -> usize) -> Option<Sun> {
    let mut heights: Vec<Vec<f64>> = vec![Vec::new(); 48];
    for i in SOON_BACK..halves.len().saturating_sub(SOON_BACK) {
        let both = [height(halves, i, SOON_BACK), height(own, i, SOON_BACK)];
        if both.iter().all(|k| !k.is_nan()) {
            heights[slot(i)].push(both[0].min(both[1]));
        }
    }
    let over = |slot: usize, k: f64| heights[slot].iter().filter(|h| **h > k).count();
    if DARK.into_iter().flatten().any(|slot| over(slot, OTHER_PEAK_K) > MOST_OTHERS) {
        return None;
    }
    let peak = |slot: usize| {
        let days = over(slot, SHORT_PEAK_K);
        let long = heights[slot].len() >= LEAST_DAYS && days >= LEAST_SHORT_PEAKS;
        let peak_k = quantile(heights[slot].clone(), 0.9).filter(|k| long && *k >= SHORT_TENTH_K)?;
        Some(Sun { minute: slot as i64 * 30, peak_k, one_in: 10, days })
    };
    SUNNY.filter_map(peak).max_by(|a, b| a.peak_k.total_cmp(&b.peak_k))
}
