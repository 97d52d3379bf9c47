//! How far a quantile would move had other days been watched.

use std::borrow::Cow;
use std::iter::repeat_n;
use std::ops::Range;

use super::quantiles::sorted_quantile;
use super::random::Random;
use super::sorting_network::{higher, lower};

/// How many times the days are drawn anew.
pub const RESAMPLES: usize = 1000;
/// Where the drawing starts: always the same, so that results can be made again.
const SEED: u64 = 0x6576_656e_726f_6f6d;
/// Values per bucket of the sorted list, roughly; only speed depends on it.
const PER_BUCKET: usize = 64;
/// Values per bin before they are sorted, roughly; only speed depends on it.
const PER_BIN: usize = 2;
/// Values of a day that are counted together; more would not fit the small numbers that are quick to multiply.
const PER_PART: usize = i16::MAX as usize;

/// Values in rising order, each with its place: sorted once for all that is asked of some of them.
#[derive(Clone, Debug, Default)]
pub struct Rising {
    values: Vec<(f64, u32)>,
}

impl Rising {
    /// Of values with their places, NaN where missing; none of more than 2³² places.
    ///
    /// They are dealt into bins of equal width first, so that only the few values of a bin have to be sorted.
    pub fn of(values: &[f64], places: Range<usize>) -> Self {
        let there = || (places.start as u32..).zip(&values[places.clone()]).filter(|(_, x)| !x.is_nan());
        let (mut lowest, mut highest, mut count) = (f64::INFINITY, f64::NEG_INFINITY, 0);
        for (_, x) in there() {
            (lowest, highest, count) = (lower(lowest, *x), higher(highest, *x), count + 1);
        }
        let bins = count / PER_BIN + 1;
        let per_kelvin = (bins - 1) as f64 / (highest - lowest).max(f64::MIN_POSITIVE);
        let bin = |x: f64| (((x - lowest) * per_kelvin) as u32 as usize).min(bins - 1);
        let bin_of: Vec<u32> = there().map(|(_, x)| bin(*x) as u32).collect();
        // For each bin the place of its next value.
        let mut next = vec![0_usize; bins + 1];
        bin_of.iter().for_each(|bin| next[*bin as usize + 1] += 1);
        for k in 1..bins {
            next[k] += next[k - 1];
        }
        let mut dealt = vec![(0.0, 0); count];
        for ((place, x), bin) in there().zip(&bin_of) {
            let next = &mut next[*bin as usize];
            dealt[*next] = (*x, place);
            *next += 1;
        }
        let mut from = 0;
        for to in &next[..bins] {
            dealt[from..*to].sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
            from = *to;
        }
        Self { values: dealt }
    }
}

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
    /// Values in rising order, each with its part of a day.
    sorted: Vec<(f64, u32)>,
    /// For each day the number of its first part, and the number of all parts. Only very long days have several.
    first_part: Vec<usize>,
    /// For each edge of a bucket and each part: how many of the part's values lie before it.
    before: Vec<i16>,
    per_bucket: usize,
}

impl DayQuantiles {
    /// Of those values that lie in some days, given by the ranges of their places in order of time; days without values are
    /// no days.
    pub fn new(rising: &Rising, days: &[Vec<Range<usize>>]) -> Self {
        let (mut sorted, counts) = of_days(rising, days);
        let mut first_part = vec![0];
        // The next part of each day's values, and how many more this part takes.
        let mut next: Vec<(u32, usize)> = Vec::with_capacity(days.len());
        for count in counts {
            let first = first_part[first_part.len() - 1];
            next.push((first as u32, PER_PART));
            first_part.extend((count > 0).then_some(first + count.div_ceil(PER_PART)));
        }
        let parts = first_part[first_part.len() - 1];
        let per_bucket = PER_BUCKET.max(parts / 2);
        let mut counts = vec![0; parts];
        let mut before = Vec::with_capacity((sorted.len().div_ceil(per_bucket) + 1) * parts);
        before.extend_from_slice(&counts);
        for bucket in sorted.chunks_mut(per_bucket) {
            for (_, day_or_part) in bucket {
                let (part, room) = &mut next[*day_or_part as usize];
                if *room == 0 {
                    (*part, *room) = (*part + 1, PER_PART);
                }
                *room -= 1;
                counts[*part as usize] += 1;
                *day_or_part = *part;
            }
            before.extend_from_slice(&counts);
        }
        Self { sorted, first_part, before, per_bucket }
    }

    /// Days with values.
    pub fn days(&self) -> usize {
        self.first_part.len() - 1
    }

    /// The quantile `p` of all values; `None` for none.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let at = p.clamp(0.0, 1.0) * self.sorted.len().checked_sub(1)? as f64;
        let low = self.sorted[at.floor() as usize].0;
        let high = self.sorted[(at.floor() as usize + 1).min(self.sorted.len() - 1)].0;
        Some(low + (high - low) * at.fract())
    }

    /// The median of each day, in order of time.
    pub fn medians_of_days(&self) -> Vec<f64> {
        // Dealt to the parts of their days in rising order, the values of each day are in rising order too.
        let mut place = self.first_of_parts();
        let mut by_part = vec![0.0; self.sorted.len()];
        for (x, part) in &self.sorted {
            let place = &mut place[*part as usize];
            by_part[*place] = *x;
            *place += 1;
        }
        // Now each place is where the next part begins.
        let end = |parts: usize| parts.checked_sub(1).map_or(0, |last| place[last]);
        let median = |parts: &[usize]| sorted_quantile(&by_part[end(parts[0])..end(parts[1])], 0.5);
        self.first_part.windows(2).filter_map(median).collect()
    }

    /// For each part how many values those before it have.
    fn first_of_parts(&self) -> Vec<usize> {
        let parts = self.first_part[self.days()];
        let counts = &self.before[self.before.len() - parts..];
        let mut before = 0;
        let first = |count: &i16| {
            before += *count as usize;
            before - *count as usize
        };
        counts.iter().map(first).collect()
    }

    /// The middle `confidence` of the quantiles of some draws, for each `p`; `None` for no values, and for draws of another
    /// number of days.
    pub fn intervals<const N: usize>(
        &self,
        ps: [f64; N],
        draws: &DayDraws,
        confidence: f64,
    ) -> Option<[(f64, f64); N]> {
        let mut found = vec![Vec::with_capacity(RESAMPLES); N];
        for of_days in draws.each().filter(|of_days| of_days.len() == self.days()) {
            let draw = self.draw(of_days);
            for (found, p) in found.iter_mut().zip(ps) {
                found.push(self.drawn_quantile(&draw, p)?);
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

    /// The values of days drawn so many times.
    fn draw<'t>(&self, of_days: &'t [i16]) -> Draw<'t> {
        let times = match self.first_part[self.days()] == self.days() {
            true => Cow::Borrowed(of_days),
            false => of_days
                .iter()
                .zip(self.first_part.windows(2))
                .flat_map(|(times, parts)| repeat_n(*times, parts[1] - parts[0]))
                .collect(),
        };
        let values = self.edges().checked_sub(1).map_or(0, |last| self.count_before(last, &times));
        Draw { times, values }
    }

    /// The quantile `p` with each day's values counted as many times as the day was drawn.
    fn drawn_quantile(&self, draw: &Draw<'_>, p: f64) -> Option<f64> {
        let at = p.clamp(0.0, 1.0) * draw.values.checked_sub(1).filter(|last| *last >= 0)? as f64;
        let rank = at.floor() as i32;
        let (from, mut seen) = self.bucket_of(rank, p, draw);
        let mut values = self.sorted[from * self.per_bucket..].iter();
        let mut value_of = |rank: i32, mut last: Option<f64>| {
            while seen <= rank {
                let (x, part) = values.next()?;
                seen += i32::from(draw.times[*part as usize]);
                last = Some(*x);
            }
            last
        };
        let low = value_of(rank, None)?;
        let high = value_of((rank + 1).min(draw.values - 1), Some(low))?;
        Some(low + (high - low) * at.fract())
    }

    fn edges(&self) -> usize {
        self.before.len() / self.first_part[self.days()].max(1)
    }

    /// How many of the values drawn lie before an edge.
    fn count_before(&self, edge: usize, times: &[i16]) -> i32 {
        let row = &self.before[edge * times.len()..(edge + 1) * times.len()];
        row.iter().zip(times).map(|(count, times)| i32::from(*count) * i32::from(*times)).sum()
    }

    /// A bucket in or shortly after which the drawn value lies that has `rank` others before it, and how many lie before the
    /// bucket.
    ///
    /// A draw's quantile lies near that of all values: the search starts from there, and goes on by as many buckets as the
    /// values that are missing would fill.
    fn bucket_of(&self, rank: i32, p: f64, draw: &Draw<'_>) -> (usize, i32) {
        let (mut from, mut seen, mut to) = (0, 0, self.edges() - 1);
        let mut edge = (p.clamp(0.0, 1.0) * to as f64) as usize;
        while to - from > 1 {
            edge = edge.clamp(from + 1, to - 1);
            let before = self.count_before(edge, &draw.times);
            if before <= rank {
                (from, seen) = (edge, before);
                if rank - before < self.per_bucket as i32 {
                    break;
                }
            } else {
                to = edge;
            }
            edge = edge.saturating_add_signed((rank - before) as isize / self.per_bucket as isize);
        }
        (from, seen)
    }
}

/// The values of days drawn anew.
struct Draw<'t> {
    /// How often each part of a day was drawn.
    times: Cow<'t, [i16]>,
    /// How many values that makes.
    values: i32,
}

/// Days drawn anew [`RESAMPLES`] times: always the same, so that one lot serves all values of as many days.
#[derive(Clone, Debug)]
pub struct DayDraws {
    days: usize,
    /// Draw after draw, how often each day was drawn.
    times: Vec<i16>,
}

impl DayDraws {
    /// As many days as there are in each draw, in blocks of `block` days that follow each other.
    pub fn new(days: usize, block: usize) -> Self {
        let mut random = Random::new(SEED);
        let mut times = vec![0; RESAMPLES * days];
        for times in times.chunks_exact_mut(days.max(1)) {
            draw(&mut random, block, times);
        }
        Self { days, times }
    }

    /// Days of each draw.
    pub fn days(&self) -> usize {
        self.days
    }

    fn each(&self) -> impl Iterator<Item = &[i16]> {
        self.times.chunks_exact(self.days.max(1))
    }
}

/// How often each of some days is drawn, added to `times`.
fn draw(random: &mut Random, block: usize, times: &mut [i16]) {
    let days = times.len();
    let block = block.clamp(1, days.max(1));
    if block == 1 {
        (0..days).for_each(|_| times[random.below(days)] += 1);
        return;
    }
    let starts = days + 1 - block;
    let mut drawn = 0;
    while drawn < days {
        let start = random.below(starts);
        let len = block.min(days - drawn);
        times[start..start + len].iter_mut().for_each(|t| *t += 1);
        drawn += len;
    }
}

/// No day: of a place that lies in none.
const NO_DAY: u32 = u32::MAX;

/// The values that lie in some days, in rising order, each with the number of its day; and how many each day has.
fn of_days(rising: &Rising, days: &[Vec<Range<usize>>]) -> (Vec<(f64, u32)>, Vec<usize>) {
    let places = days.iter().flatten().map(|range| range.end).max().unwrap_or(0);
    let mut day_of = vec![NO_DAY; places];
    for (day, ranges) in (0..).zip(days) {
        ranges.iter().for_each(|range| day_of[range.clone()].fill(day));
    }
    // Each value is written, and stays where it has a day: there is nothing to guess for the processor.
    let (mut sorted, mut len) = (vec![(0.0, 0); rising.values.len() + 1], 0);
    for (x, place) in &rising.values {
        let day = day_of.get(*place as usize).copied().unwrap_or(NO_DAY);
        sorted[len] = (*x, day);
        len += usize::from(day != NO_DAY);
    }
    sorted.truncate(len);
    let mut counts = vec![0; days.len()];
    sorted.iter().for_each(|(_, day)| counts[*day as usize] += 1);
    (sorted, counts)
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

    /// The quantiles of days that follow each other.
    fn day_quantiles(days: &[&[f64]]) -> DayQuantiles {
        let ends = days.iter().scan(0, |end, day| {
            *end += day.len();
            Some(*end)
        });
        let ranges = ends.zip(days).map(|(end, day)| std::iter::once(end - day.len()..end).collect());
        let values = days.concat();
        DayQuantiles::new(&Rising::of(&values, 0..values.len()), &ranges.collect::<Vec<_>>())
    }

    #[test]
    fn counting_gives_what_sorting_each_draw_gives_to_the_last_bit() {
        let days = days();
        let slices: Vec<&[f64]> = days.iter().map(Vec::as_slice).collect();
        let fast = day_quantiles(&slices);
        let mut random = Random::new(SEED);
        for block in [1, 3] {
            for _ in 0..200 {
                let mut of_days = [0; 9];
                draw(&mut random, block, &mut of_days);
                let draw = fast.draw(&of_days);
                let drawn = || {
                    let days = days.iter().zip(&of_days);
                    days.flat_map(|(d, times)| d.iter().copied().cycle().take(d.len() * *times as usize))
                        .collect()
                };
                for p in [0.0, 0.05, 0.5, 0.95, 1.0] {
                    let want = quantile(drawn(), p).map(f64::to_bits);
                    assert_eq!(fast.drawn_quantile(&draw, p).map(f64::to_bits), want);
                }
            }
        }
    }

    #[test]
    fn medians_of_days_are_those_of_each_day() {
        let days = days();
        let slices: Vec<&[f64]> =
            days.iter().map(Vec::as_slice).chain([[].as_slice(), &[1.5], &[2.0, 1.0]]).collect();
        let each: Vec<u64> =
            slices.iter().filter_map(|d| quantile(d.to_vec(), 0.5)).map(f64::to_bits).collect();
        let medians = day_quantiles(&slices).medians_of_days();
        assert_eq!(medians.into_iter().map(f64::to_bits).collect::<Vec<_>>(), each);
    }

    #[test]
    fn some_places_of_some_days_are_as_if_there_were_no_others() {
        let value = |i: usize| if i % 31 == 7 { f64::NAN } else { (i * 7919 % 523) as f64 / 100.0 };
        let values: Vec<f64> = (0..900).map(value).collect();
        let rising = Rising::of(&values, 100..700);
        let one = |start: usize, end: usize| vec![Range { start, end }];
        let days = [vec![110..150, 160..170], vec![], one(300, 360), one(800, 900)];
        let of_day = |day: &Vec<Range<usize>>| -> Vec<f64> {
            let there = day.iter().flat_map(|range| &values[range.clone()]).filter(|x| !x.is_nan());
            there.copied().collect()
        };
        let some = DayQuantiles::new(&rising, &days);
        let alone: Vec<Vec<f64>> = days[..3].iter().map(of_day).collect();
        let alone = day_quantiles(&alone.iter().map(Vec::as_slice).collect::<Vec<_>>());
        assert_eq!((some.days(), &some.before), (2, &alone.before));
        assert_eq!(some.medians_of_days(), alone.medians_of_days());
        assert_eq!(some.quantile(0.3), alone.quantile(0.3));
    }

    #[test]
    fn every_draw_has_as_many_days_as_there_are() {
        for block in [1, 2, 5, 40] {
            let draws = DayDraws::new(28, block);
            assert_eq!(draws.each().count(), RESAMPLES);
            assert!(draws.each().all(|times| times.iter().sum::<i16>() == 28));
        }
    }

    #[test]
    fn very_long_days_are_counted_in_parts() {
        // One value far off leaves all others in one bin.
        let value = |i: usize| if i == 77 { 1e9 } else { (i * 7919 % 10_007) as f64 / 100.0 };
        let days: Vec<Vec<f64>> = (0..3).map(|d| (0..PER_PART * (d + 1) / 2).map(value).collect()).collect();
        let slices: Vec<&[f64]> = days.iter().map(Vec::as_slice).collect();
        let fast = day_quantiles(&slices);
        assert_eq!((fast.days(), fast.first_part.as_slice()), (3, [0, 1, 2, 4].as_slice()));
        let times = [2, 0, 1];
        let draw = fast.draw(&times);
        let drawn: Vec<f64> = days.iter().zip(times).flat_map(|(d, n)| d.repeat(n as usize)).collect();
        assert_eq!(*draw.times, [2, 0, 1, 1]);
        assert_eq!(fast.drawn_quantile(&draw, 0.3), quantile(drawn, 0.3));
        assert_eq!(fast.quantile(0.3), quantile(days.concat(), 0.3));
        assert_eq!(fast.medians_of_days()[2].to_bits(), quantile(days[2].clone(), 0.5).unwrap().to_bits());
    }

    #[test]
    fn one_day_cannot_vary_and_no_day_has_nothing() {
        let one = day_quantiles(&[&[1.0, 2.0, 4.0]]);
        assert_eq!(one.intervals([0.5], &DayDraws::new(1, 1), 0.95), Some([(2.0, 2.0)]));
        assert_eq!(day_quantiles(&[&[]]).quantile(0.5), None);
        assert_eq!(day_quantiles(&[]).intervals([0.5], &DayDraws::new(0, 1), 0.95), None);
    }

    #[test]
    fn between_two_values_a_quantile_lies_as_far_as_its_rank_does() {
        let days = day_quantiles(&[&[4.0, 1.0], &[2.0]]);
        let quantiles = [0.0, 0.25, 0.5, 0.75, 1.0].map(|p| days.quantile(p).unwrap());
        assert_eq!(quantiles.map(f64::to_bits), [1.0, 1.5, 2.0, 3.0, 4.0].map(f64::to_bits));
    }
}
