//! The difference of two groups of days, matched on something that differs between days anyway.

use std::collections::BTreeMap;

use super::persistence::error_growth;
use super::quantiles::sorted_quantile;
use super::random::Random;

/// The share of draws in the interval.
const CONFIDENCE: f64 = 0.95;
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

/// Means of two groups of days over the bins that both have, each bin weighted by its smaller number of days; the days of
/// each group in order of time.
///
/// A bin with fewer than `least` days on either side is left out. The interval is the middle 95 % of the differences of
/// 1,000 draws: in each, every day keeps its bin, and gets the distance from the mean of a bin that a day of its group,
/// drawn with replacement, has. Those distances are widened first: by √(n/(n − bins)), because each is from a mean that
/// the day itself is in, and by [`error_growth`], because days resemble the day before.
///
/// # Source
/// Own definition; bootstrap of residuals: B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapter 9.
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
    let weights: BTreeMap<i64, f64> = shared.iter().map(|b| (b.bin, b.before.min(b.after) as f64)).collect();
    let (before, after) = (Side::new(before, &weights), Side::new(after, &weights));
    Matched {
        shared: weights.into_keys().collect(),
        left_out,
        days: (before.shares.len(), after.shares.len()),
        means: before.mean.zip(after.mean),
        interval: interval(&before, &after),
    }
}

/// After less before over the shared bins, as [`matched`] has it.
pub fn matched_difference(before: &[Binned], after: &[Binned], least: usize) -> Option<f64> {
    let (counts_before, counts_after) = (counts(before), counts(after));
    let weight = |(bin, n): (&i64, &usize)| {
        let smaller = (*n).min(*counts_after.get(bin)?);
        (smaller >= least.max(1)).then_some((*bin, smaller as f64))
    };
    let weights = counts_before.iter().filter_map(weight).collect();
    Some(Side::new(after, &weights).mean? - Side::new(before, &weights).mean?)
}

impl Matched {
    /// The same with errors in the interval that are steady, and independent of each other and of the days: for each, what
    /// the difference would be at either end of its own 95 % interval. They and the days are added as squares.
    #[must_use]
    pub fn with_steady_errors(mut self, moved: &[[f64; 2]]) -> Self {
        let Some((difference, (low, high))) = self.means.map(|(b, a)| a - b).zip(self.interval) else {
            return self;
        };
        let reach = |sign: f64| {
            let furthest = |ends: &[f64; 2]| ends.iter().map(|d| sign * (d - difference)).fold(0.0, f64::max);
            moved.iter().map(|ends| furthest(ends).powi(2)).sum::<f64>().sqrt()
        };
        let below = (difference - low).hypot(reach(-1.0));
        let above = (high - difference).hypot(reach(1.0));
        self.interval = Some((difference - below, difference + above));
        self
    }
}

fn counts(days: &[Binned]) -> BTreeMap<i64, usize> {
    let mut counts = BTreeMap::new();
    for day in days {
        *counts.entry(day.bin).or_insert(0) += 1;
    }
    counts
}

/// Days of shared bins before or after.
struct Side {
    /// Their mean, each bin with its weight; `None` without a shared bin.
    mean: Option<f64>,
    /// What each day counts in it, in order of time.
    shares: Vec<f64>,
    /// How far each day is from the mean of its bin, widened.
    distances: Vec<f64>,
}

impl Side {
    fn new(days: &[Binned], weights: &BTreeMap<i64, f64>) -> Self {
        let kept: Vec<&Binned> = days.iter().filter(|d| weights.contains_key(&d.bin)).collect();
        let mut sums: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
        for day in &kept {
            let sum = sums.entry(day.bin).or_default();
            (sum.0, sum.1) = (sum.0 + 1.0, sum.1 + day.value);
        }
        let all: f64 = weights.values().sum();
        let shares: Vec<f64> = kept.iter().map(|d| weights[&d.bin] / (all * sums[&d.bin].0)).collect();
        let plain: Vec<f64> = kept.iter().map(|d| d.value - sums[&d.bin].1 / sums[&d.bin].0).collect();
        let (n, bins) = (kept.len() as f64, sums.len() as f64);
        let own_mean = (n / (n - bins).max(1.0)).sqrt();
        let widen = if kept.len() > 1 { own_mean * error_growth(&plain) } else { 1.0 };
        let of_bin = |(bin, sum): (&i64, &(f64, f64))| weights[bin] * sum.1 / sum.0;
        let mean = (all > 0.0).then(|| sums.iter().map(of_bin).sum::<f64>() / all);
        Self { mean, shares, distances: plain.iter().map(|d| d * widen).collect() }
    }

    /// How far the mean of other days is from this one.
    fn drawn(&self, random: &mut Random) -> f64 {
        let count = self.distances.len();
        self.shares.iter().map(|share| share * self.distances[random.below(count)]).sum()
    }
}

fn interval(before: &Side, after: &Side) -> Option<(f64, f64)> {
    let difference = after.mean? - before.mean?;
    let mut random = Random::new(SEED);
    let mut found: Vec<f64> =
        (0..RESAMPLES).map(|_| difference + after.drawn(&mut random) - before.drawn(&mut random)).collect();
    found.sort_unstable_by(f64::total_cmp);
    let tail = (1.0 - CONFIDENCE) / 2.0;
    Some((sorted_quantile(&found, tail)?, sorted_quantile(&found, 1.0 - tail)?))
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

    #[test]
    fn days_that_resemble_the_day_before_and_few_days_in_a_bin_say_less() {
        let width = |values: &[f64]| {
            let (low, high) = matched(&days(0, values), &days(0, &[1.0; 9]), 3).interval.unwrap();
            high - low
        };
        let quick: Vec<f64> = (0..40).map(|i| f64::from(i % 2)).collect();
        let slow: Vec<f64> = (0..40).map(|i| f64::from(i / 8 % 2)).collect();
        assert!(width(&slow) > 1.8 * width(&quick), "{} {}", width(&slow), width(&quick));
        // Of the same ten values, each one of five in a bin hides more of its distance in the bin's mean than one of ten.
        let values: Vec<f64> = (0..10).map(|i| f64::from(i % 2)).collect();
        let split = [days(0, &values[..5]), days(1, &values[5..])].concat();
        let level = [days(0, &[1.0; 9]), days(1, &[1.0; 9])].concat();
        let (low, high) = matched(&split, &level, 3).interval.unwrap();
        assert!(high - low > width(&values));
    }

    #[test]
    fn a_steady_error_widens_the_side_it_can_reach() {
        let found = matched(&days(0, &[1.0, 2.0, 3.0]), &days(0, &[4.0, 5.0, 6.0]), 3);
        let (low, high) = found.interval.unwrap();
        assert_eq!(found.clone().with_steady_errors(&[[3.0, 3.0]]), found, "an error that cancels");
        // 3 K apart; one error could make it 2 K, another 1 K or 5 K.
        let (wide_low, wide_high) = found.with_steady_errors(&[[2.0, 3.0], [1.0, 5.0]]).interval.unwrap();
        assert!((3.0 - wide_low - (3.0 - low).hypot(1.0_f64.hypot(2.0))).abs() < 1e-12);
        assert!((wide_high - 3.0 - (high - 3.0).hypot(2.0)).abs() < 1e-12);
    }
}
