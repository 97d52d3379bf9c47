//! Quantiles by linear interpolation between order statistics.

use super::sorting_network::{higher, lower};

/// The quantile `p` (0 to 1) of values sorted in rising order; `None` for no values.
///
/// # Source
/// R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996), definition 7.
pub fn sorted_quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let at = p.clamp(0.0, 1.0) * last as f64;
    let (low, share) = (at.floor() as usize, at.fract());
    let high = (low + 1).min(last);
    Some(sorted[low] + (sorted[high] - sorted[low]) * share)
}

/// The quantile `p` of values in any order; `None` for no values.
pub fn quantile(mut values: Vec<f64>, p: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = p.clamp(0.0, 1.0) * last as f64;
    let (_, low, above) = values.select_nth_unstable_by(at.floor() as usize, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(*low);
    Some(*low + (high - *low) * at.fract())
}

/// The median of values in rising order when the one of a rank, if there is one, is taken out; `None` where nothing is left.
pub fn median_without<T>(sorted: &[(f64, T)], rank: usize) -> Option<f64> {
    let left = sorted.len() - usize::from(rank < sorted.len());
    let at = |i: usize| sorted[i + usize::from(i >= rank)].0;
    match left {
        0 => None,
        n if n % 2 == 1 => Some(at(n / 2)),
        n => Some((at(n / 2 - 1) + at(n / 2)) / 2.0),
    }
}

/// Values from which counting them into bins is worth it.
const MANY: usize = 64;
/// Most bins from the lowest to the highest value.
const MOST_BINS: usize = 4096;
/// From here on numbers of double precision have no fraction: 2⁵².
const WHOLE_NUMBERS: f64 = 4_503_599_627_370_496.0;

/// Some quantiles of values in any order, by counting: the values are not sorted, and the answers are those of
/// [`sorted_quantile`] to the last bit. `None` for no values.
///
/// # Source
/// As [`sorted_quantile`].
pub fn quantiles<const N: usize>(values: &[f64], ps: [f64; N]) -> Option<[f64; N]> {
    let last = values.len().checked_sub(1)?;
    let pairs = ps.map(|p| ranks(last, p));
    let of_ranks = match values.len() {
        few if few < MANY => {
            let mut sorted = values.to_vec();
            sorted.sort_unstable_by(f64::total_cmp);
            pairs.map(|pair| pair.map(|rank| sorted[rank]))
        }
        _ => Bins::of(values).ranked(values, pairs),
    };
    let share = |p: f64| (p.clamp(0.0, 1.0) * last as f64).fract();
    Some(std::array::from_fn(|k| {
        let [low, high] = of_ranks[k];
        low + (high - low) * share(ps[k])
    }))
}

/// The ranks between which a quantile lies.
fn ranks(last: usize, p: f64) -> [usize; 2] {
    let low = (p.clamp(0.0, 1.0) * last as f64).floor() as usize;
    [low, (low + 1).min(last)]
}

/// Values looked at side by side, so that one comparison does not wait for another.
const LANES: usize = 8;

/// Infinite, and the wrong way round, for no values.
fn lowest_and_highest(values: &[f64]) -> (f64, f64) {
    let (mut lowest, mut highest) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let (chunks, rest) = values.as_chunks::<LANES>();
    for chunk in chunks {
        for k in 0..LANES {
            (lowest[k], highest[k]) = (lower(lowest[k], chunk[k]), higher(highest[k], chunk[k]));
        }
    }
    let lowest = lowest.into_iter().chain(rest.iter().copied()).fold(f64::INFINITY, lower);
    let highest = highest.into_iter().chain(rest.iter().copied()).fold(f64::NEG_INFINITY, higher);
    (lowest, highest)
}

/// Values counted into bins of equal width.
struct Bins {
    /// The bin of each value: a larger value never lies in a lower one.
    of_values: Vec<u16>,
    /// For each bin, how many values lie in lower ones.
    firsts: Vec<u32>,
}

impl Bins {
    fn of(values: &[f64]) -> Self {
        let (lowest, highest) = lowest_and_highest(values);
        let bins = (values.len() / 2).next_power_of_two().min(MOST_BINS);
        let top = (bins - 1) as f64;
        let per_kelvin = top / (highest - lowest);
        // Values that are all the same lie in one bin.
        let per_kelvin = if per_kelvin.is_finite() { per_kelvin } else { 0.0 };
        let bin = |x: &f64| {
            let at = (x - lowest) * per_kelvin;
            let at = if at < top { at } else { top };
            // The sum has no room for a fraction: its last bits are the nearest whole number.
            (at + WHOLE_NUMBERS).to_bits() as u16
        };
        let of_values: Vec<u16> = values.iter().map(bin).collect();
        let mut counts = vec![0; bins];
        of_values.iter().for_each(|bin| counts[usize::from(*bin) & (bins - 1)] += 1);
        let mut before = 0;
        counts.iter_mut().for_each(|count| before += std::mem::replace(count, before));
        Self { of_values, firsts: counts }
    }

    /// The values of some ranks.
    fn ranked<const N: usize>(&self, values: &[f64], ranks: [[usize; 2]; N]) -> [[f64; 2]; N] {
        let bin_of = |rank: usize| self.firsts.partition_point(|first| *first as usize <= rank) - 1;
        let mut wanted = vec![false; self.firsts.len()];
        ranks.iter().flatten().for_each(|rank| wanted[bin_of(*rank)] = true);
        let mut inside = self.those_in(&wanted, values);
        inside.sort_unstable_by(f64::total_cmp);
        // Of the values in lower bins, only those in wanted ones are inside.
        let ranked = |rank: usize| {
            let lower = wanted[..bin_of(rank)].iter().enumerate().filter(|(_, wanted)| **wanted);
            let lower: usize = lower.map(|(bin, _)| self.count(bin)).sum();
            inside[lower + rank - self.firsts[bin_of(rank)] as usize]
        };
        ranks.map(|pair| pair.map(ranked))
    }

    /// The values in a bin.
    fn count(&self, bin: usize) -> usize {
        let next = self.firsts.get(bin + 1).map_or(self.of_values.len(), |next| *next as usize);
        next - self.firsts[bin] as usize
    }

    /// The values that lie in some bins.
    fn those_in(&self, wanted: &[bool], values: &[f64]) -> Vec<f64> {
        let count: usize = (0..wanted.len()).filter(|bin| wanted[*bin]).map(|bin| self.count(bin)).sum();
        // Each value is written, and stays where its bin is wanted: there is nothing to guess for the processor.
        let mut inside = vec![0.0; count + 1];
        let mut len = 0;
        for (x, bin) in values.iter().zip(&self.of_values) {
            inside[len] = *x;
            len += usize::from(wanted[usize::from(*bin)]);
        }
        inside.truncate(len);
        inside
    }
}

/// The median of values in any order; `None` for no values.
pub fn median(values: Vec<f64>) -> Option<f64> {
    quantile(values, 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_values_have_quantiles_too() {
        assert_eq!(sorted_quantile(&[], 0.5), None);
        assert_eq!(sorted_quantile(&[20.0], 0.95), Some(20.0));
        assert_eq!(median(vec![3.0, 1.0, 2.0, 10.0]), Some(2.5));
        assert_eq!(quantiles(&[], [0.5]), None);
    }

    #[test]
    fn the_median_of_the_others_leaves_one_out() {
        let sorted = [(1.0, 0), (2.0, 1), (4.0, 2), (8.0, 3)];
        let without: Vec<f64> = (0..4).map(|rank| median_without(&sorted, rank).unwrap()).collect();
        assert_eq!(without, [4.0, 4.0, 2.0, 2.0]);
        let five = [(1.0, 0), (2.0, 1), (4.0, 2), (8.0, 3), (9.0, 4)];
        assert_eq!(
            (0..5).map(|r| median_without(&five, r).unwrap()).collect::<Vec<_>>(),
            [6.0, 6.0, 5.0, 3.0, 3.0]
        );
    }

    #[test]
    fn counting_gives_what_sorting_gives_to_the_last_bit() {
        let ps = [0.0, 0.05, 0.5, 0.95, 0.999, 1.0];
        let wander = |i: u32| f64::from(i.wrapping_mul(2_654_435_761) >> 12).sqrt() / 50.0;
        let one_far_off = |i: u32| if i == 77 { 1e9 } else { wander(i % 700) };
        let wide = |i: u32| if i.is_multiple_of(2) { f64::MAX } else { f64::from(i) - f64::MAX };
        let values: [&dyn Fn(u32) -> f64; 5] =
            [&wander, &one_far_off, &|_| 21.5, &|i| f64::from(i % 3) - 1.0, &wide];
        for value in values {
            for n in [1, 2, 63, 64, 100, 3001, 20_000] {
                let values: Vec<f64> = (0..n).map(value).collect();
                let mut sorted = values.clone();
                sorted.sort_unstable_by(f64::total_cmp);
                let want = ps.map(|p| sorted_quantile(&sorted, p).unwrap().to_bits());
                assert_eq!(quantiles(&values, ps).unwrap().map(f64::to_bits), want);
                assert_eq!(ps.map(|p| quantile(values.clone(), p).unwrap().to_bits()), want);
            }
        }
    }
}
