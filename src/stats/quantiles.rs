//! Quantiles by linear interpolation between order statistics.

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
const MANY: usize = 2048;
/// Bins from the lowest to the highest value.
const BINS: usize = 4096;
/// From here on numbers of double precision have no fraction: 2⁵².
const WHOLE_NUMBERS: f64 = 4_503_599_627_370_496.0;

/// Some quantiles of values in any order, by counting: the values are not sorted, and the answers are those of
/// [`sorted_quantile`] to the last bit. `None` for no values.
///
/// # Source
/// As [`sorted_quantile`].
pub fn quantiles<const N: usize>(values: &[f64], ps: [f64; N]) -> Option<[f64; N]> {
    if values.len() < MANY {
        let mut sorted = values.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let mut answers = [0.0; N];
        for (answer, p) in answers.iter_mut().zip(ps) {
            *answer = sorted_quantile(&sorted, p)?;
        }
        return Some(answers);
    }
    let bins = Bins::between(lowest_and_highest(values), values.iter().copied());
    let ranked = bins.ranked(values, &ps.map(|p| ranks(values.len() - 1, p)).concat());
    let answer = |(p, pair): (f64, &[f64])| {
        let share = (p.clamp(0.0, 1.0) * (values.len() - 1) as f64).fract();
        pair[0] + (pair[1] - pair[0]) * share
    };
    let mut answers = [0.0; N];
    for (slot, from) in answers.iter_mut().zip(ps.into_iter().zip(ranked.chunks(2)).map(answer)) {
        *slot = from;
    }
    Some(answers)
}

/// The ranks between which a quantile lies.
fn ranks(last: usize, p: f64) -> [usize; 2] {
    let low = (p.clamp(0.0, 1.0) * last as f64).floor() as usize;
    [low, (low + 1).min(last)]
}

fn lower(a: f64, b: f64) -> f64 {
    if a < b { a } else { b }
}

fn higher(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// Values looked at side by side, so that one comparison does not wait for another.
const LANES: usize = 8;

/// Infinite, and the wrong way round, for no values.
fn lowest_and_highest(values: &[f64]) -> (f64, f64) {
    let (mut lowest, mut highest) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let (chunks, rest) = values.as_chunks::<LANES>();
    for chunk in chunks {
        for ((lowest, highest), x) in lowest.iter_mut().zip(&mut highest).zip(chunk) {
            (*lowest, *highest) = (lower(*x, *lowest), higher(*x, *highest));
        }
    }
    let lowest = lowest.into_iter().chain(rest.iter().copied()).fold(f64::INFINITY, lower);
    let highest = highest.into_iter().chain(rest.iter().copied()).fold(f64::NEG_INFINITY, higher);
    (lowest, highest)
}

/// How many values lie in each of many bins of equal width.
pub(super) struct Bins {
    lowest: f64,
    per_kelvin: f64,
    counts: Vec<u32>,
}

impl Bins {
    /// Of values from `lowest` to `highest`.
    fn between((lowest, highest): (f64, f64), values: impl Iterator<Item = f64>) -> Self {
        let per_kelvin = (BINS - 1) as f64 / (highest - lowest);
        // Values that are all the same lie in one bin.
        let per_kelvin = if per_kelvin.is_finite() { per_kelvin } else { 0.0 };
        let mut bins = Self { lowest, per_kelvin, counts: vec![0; BINS] };
        values.for_each(|x| {
            let bin = bins.bin(x);
            bins.counts[bin] += 1;
        });
        bins
    }

    /// A larger value never lies in a lower bin.
    #[inline]
    pub(super) fn bin(&self, x: f64) -> usize {
        let at = (x - self.lowest) * self.per_kelvin;
        let at = if at < (BINS - 1) as f64 { at } else { (BINS - 1) as f64 };
        // The sum has no room for a fraction: its last bits are the nearest whole number.
        (at + WHOLE_NUMBERS).to_bits() as usize % BINS
    }

    /// For each bin, how many values lie in lower ones.
    pub(super) fn firsts(&self) -> Vec<usize> {
        let mut before = 0;
        let first = |count: &u32| {
            before += *count as usize;
            before - *count as usize
        };
        self.counts.iter().map(first).collect()
    }

    /// The values of some ranks.
    fn ranked(&self, values: &[f64], ranks: &[usize]) -> Vec<f64> {
        let firsts = self.firsts();
        let bin_of = |rank: &usize| firsts.partition_point(|first| first <= rank) - 1;
        let bins: Vec<usize> = ranks.iter().map(bin_of).collect();
        let mut wanted = [false; BINS];
        bins.iter().for_each(|bin| wanted[*bin] = true);
        let mut inside = self.those_in(&wanted, values);
        inside.sort_unstable_by(f64::total_cmp);
        // Bins keep the order of their values, so that a bin is one run of them.
        let ranked = |(rank, bin): (&usize, &usize)| {
            let run = inside.partition_point(|x| self.bin(*x) < *bin);
            inside[run + rank - firsts[*bin]]
        };
        ranks.iter().zip(&bins).map(ranked).collect()
    }

    /// The values that lie in some bins.
    fn those_in(&self, wanted: &[bool; BINS], values: &[f64]) -> Vec<f64> {
        let counts = self.counts.iter().zip(wanted).filter(|(_, wanted)| **wanted);
        // Each value is written, and stays where its bin is wanted: there is nothing to guess for the processor.
        let mut inside = vec![0.0; counts.map(|(count, _)| *count as usize).sum::<usize>() + 1];
        let mut len = 0;
        for x in values {
            inside[len] = *x;
            len += usize::from(wanted[self.bin(*x)]);
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
            for n in [1, 2, 100, 3001, 20_000] {
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
