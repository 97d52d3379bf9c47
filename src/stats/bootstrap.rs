//! How far a quantile would move had other days been watched.

use super::quantiles::{Bins, sorted_quantile};
use super::random::Random;

/// How many times the days are drawn anew.
pub const RESAMPLES: usize = 1000;
/// Where the drawing starts: always the same, so that results can be made again.
const SEED: u64 = 0x6576_656e_726f_6f6d;
/// Values per bucket of the sorted list, roughly; only speed depends on it.
const PER_BUCKET: usize = 64;

/// Values by local day, ready for their quantiles to be drawn anew.
///
/// Days are drawn whole and with replacement, as many as there are (blocks of the moving-block bootstrap; a block may be
/// several days that follow each other). A draw's quantile is of all values of its days. The values are sorted once; a
/// draw only counts them, so that it gives what sorting them anew would, to the last bit.
///
/// # Source
/// H. R. Künsch, "The jackknife and the bootstrap for general stationary observations", Annals of Statistics 17 (1989).
#[derive(Clone, Debug)]
pub struct DayQuantiles {
    /// Values in rising order, each with its day.
    sorted: Vec<(f64, u32)>,
    days: usize,
    /// For each edge of a bucket and each day: how many of the day's values lie before it.
    before: Vec<u32>,
    per_bucket: usize,
}

impl DayQuantiles {
    /// Values of days in order of time; days without values are no days.
    pub fn new(days: &[&[f64]]) -> Self {
        let kept: Vec<&[f64]> = days.iter().copied().filter(|d| !d.is_empty()).collect();
        let sorted = sorted_with_day(&kept);
        let per_bucket = PER_BUCKET.max(kept.len());
        let mut counts = vec![0; kept.len()];
        let mut before = counts.clone();
        for bucket in sorted.chunks(per_bucket) {
            bucket.iter().for_each(|(_, day)| counts[*day as usize] += 1);
            before.extend_from_slice(&counts);
        }
        Self { sorted, days: kept.len(), before, per_bucket }
    }

    /// Days with values.
    pub fn days(&self) -> usize {
        self.days
    }

    /// The quantile `p` of all values; `None` for none.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        self.drawn_quantile(&vec![1; self.days], p)
    }

    /// The middle `confidence` of the quantiles of [`RESAMPLES`] draws, for each `p`; `None` for no values.
    ///
    /// `block`: how many days that follow each other are drawn together.
    pub fn intervals<const N: usize>(
        &self,
        ps: [f64; N],
        block: usize,
        confidence: f64,
    ) -> Option<[(f64, f64); N]> {
        let mut random = Random::new(SEED);
        let mut found = vec![Vec::with_capacity(RESAMPLES); N];
        for _ in 0..RESAMPLES {
            let times = draw(&mut random, self.days, block);
            for (found, p) in found.iter_mut().zip(ps) {
                found.push(self.drawn_quantile(&times, p)?);
            }
        }
        let tail = (1.0 - confidence) / 2.0;
        let mut intervals = [(0.0, 0.0); N];
        for (interval, mut found) in intervals.iter_mut().zip(found) {
            found.sort_unstable_by(f64::total_cmp);
            *interval = (sorted_quantile(&found, tail)?, sorted_quantile(&found, 1.0 - tail)?);
        }
        Some(intervals)
    }

    /// The quantile `p` with each day's values counted as many times as the day was drawn.
    fn drawn_quantile(&self, times: &[u32], p: f64) -> Option<f64> {
        let all = self.count_before(self.edges().checked_sub(1)?, times);
        let at = p.clamp(0.0, 1.0) * all.checked_sub(1)? as f64;
        let rank = at.floor() as u64;
        let guess = (p.clamp(0.0, 1.0) * self.edges() as f64) as usize;
        let (mut from, mut seen) = self.bucket_of(rank, guess, times);
        from *= self.per_bucket;
        let mut low = None;
        for (x, day) in &self.sorted[from..] {
            seen += u64::from(times[*day as usize]);
            if seen > rank {
                low = low.or(Some(*x));
            }
            if seen > (rank + 1).min(all - 1) {
                let low = low?;
                return Some(low + (x - low) * at.fract());
            }
        }
        None
    }

    fn edges(&self) -> usize {
        self.before.len() / self.days.max(1)
    }

    fn count_before(&self, edge: usize, times: &[u32]) -> u64 {
        let row = &self.before[edge * self.days..(edge + 1) * self.days];
        row.iter().zip(times).map(|(count, times)| u64::from(*count) * u64::from(*times)).sum()
    }

    /// The bucket with the drawn value that has `rank` others before it, and how many lie before the bucket.
    ///
    /// A draw's quantile lies near that of all values: the search starts from there with steps that double.
    fn bucket_of(&self, rank: u64, guess: usize, times: &[u32]) -> (usize, u64) {
        let last = self.edges() - 1;
        let before = |edge: usize| self.count_before(edge, times);
        let (mut from, mut to) = (guess.min(last), guess.min(last));
        let mut step = 1;
        while from > 0 && before(from) > rank {
            to = from;
            from = from.saturating_sub(step);
            step *= 2;
        }
        step = 1;
        while to <= from || (to < last && before(to) <= rank) {
            from = from.max(to);
            to = (from + step).min(last);
            step *= 2;
            if from == last {
                break;
            }
        }
        while to - from > 1 {
            let middle = from.midpoint(to);
            if before(middle) <= rank { from = middle } else { to = middle }
        }
        (from, before(from))
    }
}

/// Values of all days in rising order, each with its day.
///
/// They are dealt into bins of equal width first, so that only the few values of a bin have to be sorted.
fn sorted_with_day(days: &[&[f64]]) -> Vec<(f64, u32)> {
    let all = || (0_u32..).zip(days).flat_map(|(day, values)| values.iter().map(move |x| (*x, day)));
    let bins = Bins::of(days.iter().flat_map(|d| d.iter().copied()));
    let mut next = bins.firsts();
    let mut dealt = vec![(0.0, 0); bins.len()];
    for (x, day) in all() {
        let place = &mut next[bins.bin(x)];
        dealt[*place] = (x, day);
        *place += 1;
    }
    let mut from = 0;
    for to in next {
        dealt[from..to].sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        from = to;
    }
    dealt
}

/// How often each of `days` days is drawn, in blocks of `block` days that follow each other.
fn draw(random: &mut Random, days: usize, block: usize) -> Vec<u32> {
    let block = block.clamp(1, days.max(1));
    let starts = days + 1 - block;
    let (mut times, mut drawn) = (vec![0; days], 0);
    while drawn < days {
        let start = random.below(starts);
        let len = block.min(days - drawn);
        times[start..start + len].iter_mut().for_each(|t| *t += 1);
        drawn += len;
    }
    times
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::quantile;

    /// Values that wander, with ties, and days of unequal length.
    fn days() -> Vec<Vec<f64>> {
        let value = |i: usize| ((i * 7919) % 523) as f64 / 100.0 + (i / 90) as f64 * 0.1;
        (0..9).map(|d| (0..60 + d * 17).map(|i| value(d * 97 + i)).collect()).collect()
    }

    #[test]
    fn counting_gives_what_sorting_each_draw_gives_to_the_last_bit() {
        let days = days();
        let slices: Vec<&[f64]> = days.iter().map(Vec::as_slice).collect();
        let fast = DayQuantiles::new(&slices);
        let mut random = Random::new(SEED);
        for block in [1, 3] {
            for _ in 0..200 {
                let times = draw(&mut random, days.len(), block);
                let drawn = || {
                    let days = days.iter().zip(&times);
                    days.flat_map(|(d, times)| d.iter().copied().cycle().take(d.len() * *times as usize))
                        .collect()
                };
                for p in [0.0, 0.05, 0.5, 0.95, 1.0] {
                    let want = quantile(drawn(), p).map(f64::to_bits);
                    assert_eq!(fast.drawn_quantile(&times, p).map(f64::to_bits), want);
                }
            }
        }
    }

    #[test]
    fn every_draw_has_as_many_days_as_there_are() {
        let mut random = Random::new(SEED);
        for block in [1, 2, 5, 40] {
            assert_eq!(draw(&mut random, 28, block).iter().sum::<u32>(), 28);
        }
    }

    #[test]
    fn one_day_cannot_vary_and_no_day_has_nothing() {
        let one = DayQuantiles::new(&[&[1.0, 2.0, 4.0]]);
        assert_eq!(one.intervals([0.5], 1, 0.95), Some([(2.0, 2.0)]));
        assert_eq!(DayQuantiles::new(&[&[]]).quantile(0.5), None);
        assert_eq!(DayQuantiles::new(&[]).intervals([0.5], 1, 0.95), None);
    }
}
