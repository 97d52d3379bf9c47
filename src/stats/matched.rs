//! The difference of two groups of days, matched on something that differs between days anyway.

use std::collections::BTreeMap;

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
    /// Where the day lies: what the bins are bins of.
    pub at: f64,
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
/// A bin with fewer than `least` days on either side is left out. The interval knows that days of one bin are not quite
/// alike: per group a line through the distances from the means of the bins (one slope for all bins) says what the days'
/// places within their bins make, and the interval lies around the difference at equal places. It is the middle 95 % of
/// 1,000 draws: in each, every day keeps its place, and gets the distance from the line that a day of its group, drawn with
/// replacement, has. Those distances are widened by √(n/(n − bins − 1)), because each is from means and a slope that the
/// day itself is in. Where the difference itself lies beyond an end, the interval is extended to it.
///
/// # Source
/// Own definition; bootstrap of residuals: B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapter 9;
/// adjusting for what groups differ in: analysis of covariance, a textbook method (from memory).
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
    let means = places(before.iter().chain(after));
    let (before, after) = (Side::new(before, &weights, &means), Side::new(after, &weights, &means));
    Matched {
        shared: weights.into_keys().collect(),
        left_out,
        days: (before.days, after.days),
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
    Some(matched_mean(after, &weights)? - matched_mean(before, &weights)?)
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

/// Mean of each bin's places.
fn places<'d>(days: impl Iterator<Item = &'d Binned>) -> BTreeMap<i64, f64> {
    means(days.map(|d| (d.bin, d.at)))
}

fn means(values: impl Iterator<Item = (i64, f64)>) -> BTreeMap<i64, f64> {
    let mut sums: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
    for (bin, value) in values {
        let sum = sums.entry(bin).or_default();
        (sum.0, sum.1) = (sum.0 + 1.0, sum.1 + value);
    }
    sums.into_iter().map(|(bin, (count, sum))| (bin, sum / count)).collect()
}

/// Mean of the days of bins with a weight, each bin with its own; `None` without such a bin.
fn matched_mean(days: &[Binned], weights: &BTreeMap<i64, f64>) -> Option<f64> {
    let all: f64 = weights.values().sum();
    let of_bins = means(days.iter().filter(|d| weights.contains_key(&d.bin)).map(|d| (d.bin, d.value)));
    (all > 0.0).then(|| of_bins.iter().map(|(bin, mean)| weights[bin] * mean).sum::<f64>() / all)
}

/// Days of shared bins before or after.
struct Side {
    days: usize,
    /// Their mean, each bin with its weight; `None` without a shared bin.
    mean: Option<f64>,
    /// The same at the places of all days, before and after.
    at_equal_places: f64,
    /// What each day counts in that.
    shares: Vec<f64>,
    /// How far each day is from the line, widened.
    distances: Vec<f64>,
}

impl Side {
    fn new(days: &[Binned], weights: &BTreeMap<i64, f64>, common: &BTreeMap<i64, f64>) -> Self {
        let kept: Vec<&Binned> = days.iter().filter(|d| weights.contains_key(&d.bin)).collect();
        let (own, values) = (places(kept.iter().copied()), means(kept.iter().map(|d| (d.bin, d.value))));
        let count = |bin: i64| kept.iter().filter(|d| d.bin == bin).count() as f64;
        let all: f64 = weights.values().sum();
        let share_of_bin: BTreeMap<i64, f64> = weights.iter().map(|(bin, w)| (*bin, w / all)).collect();
        let place: Vec<f64> = kept.iter().map(|d| d.at - own[&d.bin]).collect();
        let plain: Vec<f64> = kept.iter().map(|d| d.value - values[&d.bin]).collect();
        let squares: f64 = place.iter().map(|x| x * x).sum();
        let slope_of = |distances: &[f64]| {
            let sum: f64 = place.iter().zip(distances).map(|(x, y)| x * y).sum();
            if squares > 0.0 { sum / squares } else { 0.0 }
        };
        let slope = slope_of(&plain);
        // How far these days lie from the common places.
        let off: f64 = own.iter().map(|(bin, at)| share_of_bin[bin] * (at - common[bin])).sum();
        let pull = if squares > 0.0 { off / squares } else { 0.0 };
        let (n, estimated) = (kept.len() as f64, values.len() as f64 + 1.0);
        let widen = (n / (n - estimated).max(1.0)).sqrt();
        let mean = matched_mean(days, weights);
        Self {
            days: kept.len(),
            at_equal_places: mean.unwrap_or(0.0) - slope * off,
            mean,
            shares: kept
                .iter()
                .zip(&place)
                .map(|(d, x)| share_of_bin[&d.bin] / count(d.bin) - pull * x)
                .collect(),
            distances: plain.iter().zip(&place).map(|(y, x)| (y - slope * x) * widen).collect(),
        }
    }

    /// How far the mean of other days is from this one.
    fn drawn(&self, random: &mut Random) -> f64 {
        let count = self.distances.len();
        self.shares.iter().map(|share| share * self.distances[random.below(count)]).sum()
    }
}

fn interval(before: &Side, after: &Side) -> Option<(f64, f64)> {
    let difference = after.mean? - before.mean?;
    let at_equal_places = after.at_equal_places - before.at_equal_places;
    let mut random = Random::new(SEED);
    let mut found: Vec<f64> = (0..RESAMPLES)
        .map(|_| at_equal_places + after.drawn(&mut random) - before.drawn(&mut random))
        .collect();
    found.sort_unstable_by(f64::total_cmp);
    let tail = (1.0 - CONFIDENCE) / 2.0;
    let (low, high) = (sorted_quantile(&found, tail)?, sorted_quantile(&found, 1.0 - tail)?);
    Some((low.min(difference), high.max(difference)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(bin: i64, values: &[f64]) -> Vec<Binned> {
        values.iter().map(|value| Binned { bin, at: bin as f64, value: *value }).collect()
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
            (0..n)
                .map(|i| Binned { bin: i % of, at: (i % of) as f64, value: 10.0 + (i % of) as f64 })
                .collect()
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
    fn few_days_in_a_bin_say_less() {
        let width = |of: &[Binned], level: &[Binned]| {
            let (low, high) = matched(of, level, 3).interval.unwrap();
            high - low
        };
        // Of the same ten values, each one of five in a bin hides more of its distance in the bin's mean than one of ten.
        let values: Vec<f64> = (0..10).map(|i| f64::from(i % 2)).collect();
        let split = [days(0, &values[..5]), days(1, &values[5..])].concat();
        let level = [days(0, &[1.0; 9]), days(1, &[1.0; 9])].concat();
        assert!(width(&split, &level) > width(&days(0, &values), &days(0, &[1.0; 9])));
    }

    #[test]
    fn what_places_within_a_bin_make_is_no_chance() {
        // Values follow the place, 0.5 per unit; after, the days of the bin lie 0.4 higher, and the values 1 more besides.
        let day = |at: f64, more: f64| Binned { bin: 0, at, value: 0.5 * at + more };
        let before: Vec<Binned> = (0..12).map(|i| day(f64::from(i % 6) * 0.2, 0.0)).collect();
        let after: Vec<Binned> = (0..12).map(|i| day(0.4 + f64::from(i % 6) * 0.2, 1.0)).collect();
        let found = matched(&before, &after, 3);
        let (b, a) = found.means.unwrap();
        assert!((a - b - 1.2).abs() < 1e-12, "the plain difference holds what the places make");
        let (low, high) = found.interval.unwrap();
        assert!((low - 1.0).abs() < 1e-9 && (high - 1.2).abs() < 1e-9, "{low} {high}");
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

    #[test]
    fn the_difference_alone_is_that_of_the_whole() {
        let before = [days(0, &[20.0; 5]), days(1, &[18.0; 4]), days(2, &[30.0; 2])].concat();
        let after = [days(0, &[19.0; 3]), days(1, &[20.0; 6]), days(2, &[0.0; 9])].concat();
        let difference = matched_difference(&before, &after, 3).unwrap();
        assert!((difference - (4.0 * 2.0 - 3.0) / 7.0).abs() < 1e-12, "{difference}");
        assert_eq!(matched_difference(&days(0, &[1.0; 9]), &days(1, &[1.0; 9]), 3), None);
    }
}
