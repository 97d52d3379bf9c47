//! Several series, put in order at each place.

use std::hint::select_unpredictable;
use std::ops::Range;

/// Places looked at together, so that their values stay in the processor's cache.
const BLOCK: usize = 512;

/// Puts the values of several series in rising order at each place: of what is handed on, the first holds the lowest
/// value of each place of a block and the last the highest. Missing values (NaN) count as infinitely high.
///
/// Shape: series of one length; blocks in order, each with its places.
pub fn rising_by_block(series: &[&[f64]], mut of_block: impl FnMut(Range<usize>, &[Vec<f64>])) {
    let places = series.first().map_or(0, |s| s.len());
    let there = |x: &f64| if x.is_nan() { f64::INFINITY } else { *x };
    for from in (0..places).step_by(BLOCK) {
        let block = from..(from + BLOCK).min(places);
        let mut values: Vec<Vec<f64>> =
            series.iter().map(|s| s[block.clone()].iter().map(there).collect()).collect();
        put_in_order(&mut values);
        of_block(block, &values);
    }
}

/// Puts the values of several series, none of them NaN, in rising order at each place.
///
/// Which series are compared is the same for all places, so that many places are put in order at a time.
///
/// # Source
/// K. E. Batcher's merge exchange: D. E. Knuth, The Art of Computer Programming 3, 5.2.2, algorithm M (from memory).
pub(super) fn put_in_order(series: &mut [Vec<f64>]) {
    let half = series.len().next_power_of_two() / 2;
    let mut p = half;
    while p > 0 {
        let (mut q, mut r, mut apart) = (half, 0, p);
        loop {
            for low in (0..series.len() - apart).filter(|i| i & p == r) {
                let (before, from_high) = series.split_at_mut(low + apart);
                exchange(&mut before[low], &mut from_high[0]);
            }
            if q == p {
                break;
            }
            (apart, q, r) = (q - p, q / 2, p);
        }
        p /= 2;
    }
}

/// The lower value of each pair into `low`, the higher into `high`.
fn exchange(low: &mut [f64], high: &mut [f64]) {
    for (low, high) in low.iter_mut().zip(high) {
        let (a, b) = (*low, *high);
        (*low, *high) = (lower(a, b), higher(a, b));
    }
}

/// The lower of two values; `a` where one of them is NaN. A choice, never a branch: which it is cannot be foreseen.
#[inline]
pub fn lower(a: f64, b: f64) -> f64 {
    select_unpredictable(b < a, b, a)
}

/// The higher of two values; as [`lower`].
#[inline]
pub fn higher(a: f64, b: f64) -> f64 {
    select_unpredictable(b > a, b, a)
}

/// The quantile `p` at each place of series in rising order; none for no series.
///
/// # Source
/// As [`super::sorted_quantile`].
pub(super) fn quantile_at_each(rising: &[Vec<f64>], p: f64) -> Vec<f64> {
    let Some(last) = rising.len().checked_sub(1) else { return Vec::new() };
    let at = p.clamp(0.0, 1.0) * last as f64;
    let (low, share) = (at.floor() as usize, at.fract());
    let high = (low + 1).min(last);
    rising[low].iter().zip(&rising[high]).map(|(low, high)| low + (high - low) * share).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::sorted_quantile;

    /// Series that wander, with ties and holes.
    fn series(count: usize, places: usize) -> Vec<Vec<f64>> {
        let value = |k: usize| if k % 29 == 3 { f64::NAN } else { f64::from((k * 7919 % 61) as u32) / 4.0 };
        (0..count).map(|s| (0..places).map(|i| value(s * 131 + i * 17)).collect()).collect()
    }

    #[test]
    fn it_is_what_sorting_at_each_place_gives() {
        for count in [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 13, 40] {
            let series = series(count, 1300);
            let slices: Vec<&[f64]> = series.iter().map(Vec::as_slice).collect();
            let mut next = 0;
            rising_by_block(&slices, |block, rising| {
                assert_eq!((block.start, rising.len()), (next, count));
                next = block.end;
                for i in block.clone() {
                    let mut sorted: Vec<f64> =
                        series.iter().map(|s| if s[i].is_nan() { f64::INFINITY } else { s[i] }).collect();
                    sorted.sort_unstable_by(f64::total_cmp);
                    assert_eq!(rising.iter().map(|r| r[i - block.start]).collect::<Vec<_>>(), sorted);
                }
            });
            assert_eq!(next, if count > 0 { 1300 } else { 0 });
        }
    }

    #[test]
    fn quantiles_at_each_place_are_those_of_the_place() {
        let mut rising = series(12, 50);
        rising.iter_mut().flatten().filter(|x| x.is_nan()).for_each(|x| *x = -1.0);
        put_in_order(&mut rising);
        for p in [0.0, 0.3, 0.5, 0.95, 1.0] {
            let of_place = |i: usize| {
                let sorted: Vec<f64> = rising.iter().map(|r| r[i]).collect();
                sorted_quantile(&sorted, p).unwrap()
            };
            assert_eq!(quantile_at_each(&rising, p), (0..50).map(of_place).collect::<Vec<_>>());
        }
        assert!(quantile_at_each(&[], 0.5).is_empty());
    }
}
