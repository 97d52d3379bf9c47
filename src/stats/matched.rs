//! The difference of two groups of days, matched on something that differs between days anyway.

use std::collections::BTreeMap;

use super::quantiles::sorted_quantile;
use super::random::Random;

/// How many times the days are drawn anew.
const RESAMPLES: usize = 1000;
/// Where the drawing starts: always the same, so that results can be made again.
const SEED: u64 = 0x6d61_7463_6865_6421;

/// A day's value, and the bin that the day falls into.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Binned {
    /// The bin.
    pub bin: i64,
    /// The value.
    pub value: f64,
}

/// A bin with too few days on a side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// The bin.
    pub bin: i64,
    /// Days before.
    pub before: usize,
    /// Days after.
    pub after: usize,
}

/// What came of matching.
#[derive(Clone, Debug, PartialEq)]
pub struct Matched {
    /// Bins with enough days on both sides, rising.
    pub shared: Vec<i64>,
    /// Bins with too few, rising.
    pub left_out: Vec<LeftOut>,
    /// Days in shared bins: before, after.
    pub days: (usize, usize),
    /// Weighted means of the shared bins: before, after; `None` without a shared bin.
    pub means: Option<(f64, f64)>,
    /// 95 % interval of after less before.
    pub interval: Option<(f64, f64)>,
}

/// Means of two groups of days over the bins that both have, each bin weighted by its smaller number of days.
///
/// A bin with fewer than `least` days on either side is left out. The interval is the middle 95 % of the differences of
/// 1,000 draws: in each, the days of the shared bins are drawn anew with replacement, before and after apart, and
/// weighted anew; a bin that a draw leaves empty on a side does not count in that draw.
///
/// # Source
/// Own definition; percentile bootstrap: B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapter 13.
pub fn matched(before: &[Binned], after: &[Binned], least: usize) -> Matched {
    let (counts_before, counts_after) = (counts(before), counts(after));
    let bins: Vec<i64> = {
        let mut bins: Vec<i64> = counts_before.keys().chain(counts_after.keys()).copied().collect();
        bins.sort_unstable();
        bins.dedup();
        bins
    };
    let count = |of: &BTreeMap<i64, usize>, bin: &i64| of.get(bin).copied().unwrap_or(0);
    let sides = |bin: &i64| LeftOut {
        bin: *bin,
        before: count(&counts_before, bin),
        after: count(&counts_after, bin),
    };
    let (shared, left_out): (Vec<LeftOut>, Vec<LeftOut>) =
        bins.iter().map(sides).partition(|b| b.before >= least.max(1) && b.after >= least.max(1));
    let shared: Vec<i64> = shared.into_iter().map(|b| b.bin).collect();
    let kept = |days: &[Binned]| -> Vec<(usize, f64)> {
        days.iter().filter_map(|d| Some((shared.binary_search(&d.bin).ok()?, d.value))).collect()
    };
    let (before, after) = (kept(before), kept(after));
    Matched {
        left_out,
        days: (before.len(), after.len()),
        means: means(&before, &after, shared.len()),
        interval: interval(&before, &after, shared.len()),
        shared,
    }
}

fn counts(days: &[Binned]) -> BTreeMap<i64, usize> {
    let mut counts = BTreeMap::new();
    for day in days {
        *counts.entry(day.bin).or_insert(0) += 1;
    }
    counts
}

/// Weighted means over the bins that both sides have.
fn means(before: &[(usize, f64)], after: &[(usize, f64)], bins: usize) -> Option<(f64, f64)> {
    let sums = |days: &[(usize, f64)]| {
        let mut sums = vec![(0.0, 0.0); bins];
        for (bin, value) in days {
            sums[*bin].0 += 1.0;
            sums[*bin].1 += value;
        }
        sums
    };
    let (mut weight, mut total) = (0.0, (0.0, 0.0));
    for (b, a) in sums(before).into_iter().zip(sums(after)) {
        let smaller = f64::min(b.0, a.0);
        if smaller > 0.0 {
            weight += smaller;
            total = (total.0 + smaller * b.1 / b.0, total.1 + smaller * a.1 / a.0);
        }
    }
    (weight > 0.0).then(|| (total.0 / weight, total.1 / weight))
}

fn interval(before: &[(usize, f64)], after: &[(usize, f64)], bins: usize) -> Option<(f64, f64)> {
    let mut random = Random::new(SEED);
    let mut draw = |days: &[(usize, f64)]| -> Vec<(usize, f64)> {
        (0..days.len()).map(|_| days[random.below(days.len())]).collect()
    };
    let mut found = Vec::with_capacity(RESAMPLES);
    for _ in 0..RESAMPLES {
        let (before, after) = (draw(before), draw(after));
        found.extend(means(&before, &after, bins).map(|(b, a)| a - b));
    }
    found.sort_unstable_by(f64::total_cmp);
    Some((sorted_quantile(&found, 0.025)?, sorted_quantile(&found, 0.975)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(bin: i64, values: &[f64]) -> Vec<Binned> {
        values.iter().map(|value| Binned { bin, value: *value }).collect()
    }

    #[test]
    fn bins_are_weighted_by_their_smaller_side() {
        // Bin 0: 1 K colder after, weight 3; bin 1: 2 K warmer after, weight 4; bin 2 has two days only before.
        let before = [days(0, &[20.0; 5]), days(1, &[18.0; 4]), days(2, &[30.0; 2])].concat();
        let after = [days(0, &[19.0; 3]), days(1, &[20.0; 6]), days(2, &[0.0; 9])].concat();
        let found = matched(&before, &after, 3);
        assert_eq!(found.shared, [0, 1]);
        assert_eq!(found.left_out, [LeftOut { bin: 2, before: 2, after: 9 }]);
        assert_eq!(found.days, (9, 9));
        let (b, a) = found.means.unwrap();
        assert!((a - b - (4.0 * 2.0 - 3.0) / 7.0).abs() < 1e-12);
    }

    #[test]
    fn what_differs_only_by_weather_is_no_difference() {
        let side = |n: i64, of: i64| -> Vec<Binned> {
            (0..n).map(|i| Binned { bin: i % of, value: 10.0 + (i % of) as f64 }).collect()
        };
        let found = matched(&side(40, 4), &[side(9, 1), side(12, 4)].concat(), 3);
        let (b, a) = found.means.unwrap();
        assert!((a - b).abs() < 1e-12);
    }

    #[test]
    fn nothing_shared_gives_no_number() {
        let found = matched(&days(0, &[1.0; 9]), &days(1, &[1.0; 9]), 3);
        assert_eq!((found.means, found.interval, found.days), (None, None, (0, 0)));
        assert_eq!(found.left_out.len(), 2);
    }

    #[test]
    fn the_interval_of_a_mean_is_as_wide_as_theory_has_it() {
        // Deterministic values with standard deviation s: the interval of a mean of n is about ±1.96 s/√n.
        let values: Vec<f64> = (0..200).map(|i| f64::from((i * 73) % 200) / 200.0).collect();
        let found = matched(&days(0, &values), &days(0, &vec![1.0; 50]), 3);
        let (low, high) = found.interval.unwrap();
        let s = super::super::standard_deviation(&values).unwrap();
        let theory = 2.0 * 1.96 * s / (200.0_f64).sqrt();
        assert!(((high - low) / theory - 1.0).abs() < 0.1, "{low} {high} {theory}");
    }
}
