//! Several series sorted at each place by a sorting network, many places at once.

use std::hint::select_unpredictable;
use std::ops::Range;

/// Places looked at together, so that their values stay in the processor's cache.
const BLOCK: usize = 512;

/// Puts the values of several series in rising order at each place, as far as some ranks ask for: of what is handed on,
/// one slice for each series, that of a wanted rank holds the values of this rank at each place of a block; the others hold
/// any. Where a value is missing (NaN) all of them hold anything.
///
/// Shape: series of one length; blocks in order, each with its places.
pub fn ranks_by_block(
    series: &[&[f64]],
    wanted: &[usize],
    mut of_block: impl FnMut(Range<usize>, &[Vec<f64>]),
) {
    let places = series.first().map_or(0, |s| s.len());
    let network = Network::new(series.len(), wanted);
    let mut values: Vec<Vec<f64>> = series.iter().map(|_| Vec::with_capacity(BLOCK)).collect();
    for from in (0..places).step_by(BLOCK) {
        let block = from..(from + BLOCK).min(places);
        for (values, series) in values.iter_mut().zip(series) {
            values.clear();
            values.extend_from_slice(&series[block.clone()]);
        }
        network.apply(&mut values);
        of_block(block, &values);
    }
}

/// Which of several series are compared, one pair after the other, to put their values in order at each place: the same
/// for all places, so that many places are put in order at a time.
///
/// # Source
/// K. E. Batcher's merge exchange: D. E. Knuth, The Art of Computer Programming 3, 5.2.2, algorithm M (from memory).
struct Network {
    exchanges: Vec<Exchange>,
}

/// A pair of series, and which of the two values of a place is asked for afterwards.
struct Exchange {
    low: usize,
    high: usize,
    kept: Kept,
}

#[derive(Clone, Copy)]
enum Kept {
    Both,
    Lower,
    Higher,
}

impl Network {
    /// For so many series: no more exchanges than the wanted ranks depend on.
    fn new(series: usize, wanted: &[usize]) -> Self {
        let mut asked_for: Vec<bool> = (0..series).map(|rank| wanted.contains(&rank)).collect();
        let mut exchanges = Vec::new();
        for (low, high) in merge_exchange(series).into_iter().rev() {
            let kept = match (asked_for[low], asked_for[high]) {
                (true, true) => Kept::Both,
                (true, false) => Kept::Lower,
                (false, true) => Kept::Higher,
                (false, false) => continue,
            };
            (asked_for[low], asked_for[high]) = (true, true);
            exchanges.push(Exchange { low, high, kept });
        }
        exchanges.reverse();
        Self { exchanges }
    }

    fn apply(&self, series: &mut [Vec<f64>]) {
        for Exchange { low, high, kept } in &self.exchanges {
            let (before, from_high) = series.split_at_mut(*high);
            let pairs = before[*low].iter_mut().zip(&mut from_high[0]);
            match kept {
                Kept::Both => pairs.for_each(|(a, b)| (*a, *b) = (lower(*a, *b), higher(*a, *b))),
                Kept::Lower => pairs.for_each(|(a, b)| *a = lower(*a, *b)),
                Kept::Higher => pairs.for_each(|(a, b)| *b = higher(*a, *b)),
            }
        }
    }
}

/// Pairs of series, the one for the lower values first, that put all of them in order.
fn merge_exchange(series: usize) -> Vec<(usize, usize)> {
    let mut pairs = Vec::new();
    let half = series.next_power_of_two() / 2;
    let mut p = half;
    while p > 0 {
        let (mut q, mut r, mut apart) = (half, 0, p);
        loop {
            pairs.extend((0..series - apart).filter(|i| i & p == r).map(|low| (low, low + apart)));
            if q == p {
                break;
            }
            (apart, q, r) = (q - p, q / 2, p);
        }
        p /= 2;
    }
    pairs
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Series that wander, with ties.
    fn series(count: usize, places: usize) -> Vec<Vec<f64>> {
        let value = |k: usize| f64::from((k * 7919 % 61) as u32) / 4.0;
        (0..count).map(|s| (0..places).map(|i| value(s * 131 + i * 17)).collect()).collect()
    }

    #[test]
    fn wanted_ranks_are_those_that_sorting_at_each_place_gives() {
        for count in [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 13, 40] {
            let series = series(count, 1300);
            let slices: Vec<&[f64]> = series.iter().map(Vec::as_slice).collect();
            let all: Vec<usize> = (0..count).collect();
            for wanted in [&all[..], &all[count / 2..(count / 2 + 1).min(count)], &all[..count.min(1)]] {
                let mut next = 0;
                ranks_by_block(&slices, wanted, |block, ranked| {
                    assert_eq!((block.start, ranked.len()), (next, count));
                    next = block.end;
                    for i in block.clone() {
                        let mut sorted: Vec<f64> = series.iter().map(|s| s[i]).collect();
                        sorted.sort_unstable_by(f64::total_cmp);
                        for rank in wanted {
                            assert_eq!(ranked[*rank][i - block.start].to_bits(), sorted[*rank].to_bits());
                        }
                    }
                });
                assert_eq!(next, if count > 0 { 1300 } else { 0 });
            }
        }
    }
}
