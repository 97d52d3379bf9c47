//! A pyramid of the lowest and highest values of ever larger blocks of the grid, so that only what may matter is looked at
//! value by value.

use std::ops::Range;

/// Instants of a block that is looked at or passed over as a whole.
const BLOCK: usize = 64;
/// Instants of the smallest blocks; each level above has blocks twice as long.
const FINEST: usize = 4;

/// A room's values in blocks, from a few instants each up to the whole grid.
#[derive(Debug)]
pub(super) struct Blocks {
    /// The ends of each block, the finest level first; behind the last block of a level stand some without values.
    levels: Vec<Vec<Ends>>,
    /// Which instants of each [`BLOCK`] have a value: a bit each, the lowest the first instant's.
    present: Vec<u64>,
}

/// Lowest and highest of some values; the wrong way round, and infinite, where there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ends {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Ends {
    /// Of no values.
    pub(super) const NONE: Ends = Ends { low: f64::INFINITY, high: f64::NEG_INFINITY };

    /// NaN is no value.
    fn of(values: &[f64]) -> Self {
        values.iter().fold(Self::NONE, |ends, x| ends.with(Ends { low: *x, high: *x }))
    }

    #[inline]
    pub(super) fn with(self, other: Ends) -> Self {
        Ends {
            low: if other.low < self.low { other.low } else { self.low },
            high: if other.high > self.high { other.high } else { self.high },
        }
    }
}

/// What of a range lies in one block.
#[derive(Debug)]
pub(super) struct Part {
    /// The instants.
    pub(super) at: Range<usize>,
    /// The ends of the whole block.
    pub(super) ends: Ends,
    /// Whether every instant of the block has a value.
    pub(super) complete: bool,
}

impl Blocks {
    /// Of one value per grid instant, NaN where missing.
    pub(super) fn of(degc: &[f64]) -> Self {
        let (fours, rest) = degc.as_chunks::<FINEST>();
        let mut finest = Vec::with_capacity(fours.len() + 1 + FINEST);
        finest.extend(fours.iter().map(|four| Ends::of(four)));
        finest.extend((!rest.is_empty()).then(|| Ends::of(rest)));
        let mut levels = vec![finest];
        while let Some(below) = levels.last().filter(|level| level.len() > 1) {
            let mut level = Vec::with_capacity(below.len().div_ceil(2) + FINEST);
            let (pairs, rest) = below.as_chunks();
            level.extend(pairs.iter().map(|[one, next]| one.with(*next)).chain(rest.iter().copied()));
            levels.push(level);
        }
        levels.iter_mut().for_each(|level| level.extend([Ends::NONE; FINEST]));
        Self { levels, present: degc.chunks(BLOCK).map(presence).collect() }
    }

    /// The level with blocks of `len` instants, a power of two, or with one block for the whole grid.
    fn level(&self, len: usize) -> &[Ends] {
        let number = (len / FINEST).max(1).ilog2() as usize;
        &self.levels[number.min(self.levels.len() - 1)]
    }

    /// A range block by block.
    #[inline]
    pub(super) fn parts(&self, range: &Range<usize>) -> impl Iterator<Item = Part> + use<'_> {
        let (from, to) = (range.start, range.end);
        let blocks = if from < to { from / BLOCK..to.div_ceil(BLOCK) } else { 0..0 };
        let level = self.level(BLOCK);
        blocks.map(move |block| Part {
            at: from.max(block * BLOCK)..to.min((block + 1) * BLOCK),
            ends: level[block],
            complete: self.present[block] == u64::MAX,
        })
    }

    /// For each block of a range its first instant, and which of its instants are in the range and have a value.
    fn present(&self, range: &Range<usize>) -> impl Iterator<Item = (usize, u64)> + use<'_> {
        let (from, to) = (range.start, range.end);
        let blocks = if from < to { from / BLOCK..to.div_ceil(BLOCK) } else { 0..0 };
        blocks.map(move |block| {
            let first = block * BLOCK;
            let after_start = u64::MAX << from.saturating_sub(first);
            let before_end = u64::MAX >> (first + BLOCK).saturating_sub(to);
            (first, self.present[block] & after_start & before_end)
        })
    }

    /// How many values are present in a range.
    pub(super) fn count(&self, range: &Range<usize>) -> usize {
        self.present(range).map(|(_, present)| present.count_ones() as usize).sum()
    }

    /// Lowest and highest of the values in a range.
    pub(super) fn ends(&self, degc: &[f64], range: &Range<usize>) -> Ends {
        self.ends_by(BLOCK, range, |edge| self.ends_by(FINEST, edge, |few| Ends::of(&degc[few.clone()])))
    }

    /// From the blocks of one length that lie within, and from what they leave at the edges.
    fn ends_by(&self, len: usize, range: &Range<usize>, of_edge: impl Fn(&Range<usize>) -> Ends) -> Ends {
        let (first, last) = (range.start.div_ceil(len), range.end / len);
        if first >= last {
            return of_edge(range);
        }
        let [before, after] = [range.start..first * len, last * len..range.end];
        let edges = of_edge(&before).with(of_edge(&after));
        self.level(len)[first..last].iter().fold(edges, |ends, block| ends.with(*block))
    }

    /// The values present in some ranges, in order, side by side.
    pub(super) fn values(&self, degc: &[f64], ranges: &[Range<usize>]) -> Vec<f64> {
        let mut values = Vec::with_capacity(ranges.iter().map(Range::len).sum());
        for (first, present) in ranges.iter().flat_map(|range| self.present(range)) {
            runs(present).for_each(|run| values.extend_from_slice(&degc[first + run.start..first + run.end]));
        }
        values
    }

    /// The unbroken runs of values in a range.
    pub(super) fn unbroken(&self, range: &Range<usize>) -> Vec<Range<usize>> {
        let mut unbroken: Vec<Range<usize>> = Vec::new();
        for (first, present) in self.present(range) {
            for run in runs(present) {
                match unbroken.last_mut() {
                    Some(last) if last.end == first + run.start => last.end = first + run.end,
                    _ => unbroken.push(first + run.start..first + run.end),
                }
            }
        }
        unbroken
    }

    /// What the changes (highest minus lowest value) in windows of `steps` steps do not exceed, told from blocks about
    /// `fineness` times shorter than the windows: a power of two up to [`FINEST`]. Fine ones say it more closely.
    pub(super) fn changes(&self, steps: usize, firsts: Range<usize>, fineness: usize) -> Changes<'_> {
        let len = (steps.next_power_of_two() / fineness).max(FINEST);
        Changes { level: self.level(len), len, reach: steps.div_ceil(len), firsts }
    }
}

/// Bounds of the changes in windows, for the windows that begin in the same block together.
#[derive(Debug)]
pub(super) struct Changes<'a> {
    level: &'a [Ends],
    len: usize,
    /// A window ends at the latest so many blocks after the one in which it begins.
    reach: usize,
    /// The first instants of the windows.
    firsts: Range<usize>,
}

impl Changes<'_> {
    /// For each block the most that a change may be, whatever values are missing.
    #[inline]
    pub(super) fn most(&self) -> impl Iterator<Item = (usize, f64)> + use<'_> {
        let (first, last) = (self.firsts.start / self.len, self.firsts.end.div_ceil(self.len));
        let reached = self.level[first..last.max(first) + self.reach].windows(self.reach + 1);
        (first..).zip(reached).map(|(block, reached)| {
            let Ends { low, high } = match reached {
                [one, next] => one.with(*next),
                more => more.iter().fold(Ends::NONE, |ends, other| ends.with(*other)),
            };
            (block, high - low)
        })
    }

    /// The first instants of the windows that begin in a block.
    pub(super) fn firsts_in(&self, block: usize) -> Range<usize> {
        self.firsts.start.max(block * self.len)..self.firsts.end.min((block + 1) * self.len)
    }
}

/// Which of the values of a block are present, a bit each.
fn presence(block: &[f64]) -> u64 {
    let bit = |(i, x): (usize, &f64)| u64::from(!x.is_nan()) << i;
    match block.len() == BLOCK && !block.iter().fold(false, |nan, x| nan | x.is_nan()) {
        true => u64::MAX,
        false => block.iter().enumerate().map(bit).sum(),
    }
}

/// The runs of ones, from the lowest bit on.
fn runs(mut bits: u64) -> impl Iterator<Item = Range<usize>> {
    std::iter::from_fn(move || {
        let from = bits.trailing_zeros();
        let to = from + (!bits.checked_shr(from)?).trailing_zeros();
        bits &= u64::MAX.checked_shl(to).unwrap_or(0);
        Some(from as usize..to as usize)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values that wander, with holes of several lengths.
    fn degc(len: usize) -> Vec<f64> {
        let hole = |i: usize| i % 97 == 5 || (200..290).contains(&i) || (640..643).contains(&i);
        let value = |i: usize| 20.0 + ((i * 7919) % 263) as f64 / 100.0 + (i / 50 % 7) as f64;
        (0..len).map(|i| if hole(i) { f64::NAN } else { value(i) }).collect()
    }

    fn ranges(len: usize) -> Vec<Range<usize>> {
        let ends = [0, 1, 3, 4, 7, 63, 64, 65, 128, 190, 203, 215, 291, 512, 640, 643, 701];
        let ranges = ends.iter().flat_map(|from| ends.iter().map(move |to| *from..*to));
        ranges.filter(|r| r.start <= r.end && r.end <= len).collect()
    }

    #[test]
    fn blocks_give_what_looking_at_every_value_gives() {
        for len in [0, 1, 5, 64, 65, 130, 701] {
            let degc = degc(len);
            let blocks = Blocks::of(&degc);
            for range in ranges(len) {
                let present: Vec<f64> = degc[range.clone()].iter().copied().filter(|x| !x.is_nan()).collect();
                assert_eq!(blocks.count(&range), present.len());
                assert_eq!(blocks.values(&degc, std::slice::from_ref(&range)), present);
                assert_eq!(blocks.ends(&degc, &range), Ends::of(&present));
                let runs = blocks.unbroken(&range);
                let within: Vec<usize> = runs.iter().cloned().flatten().collect();
                assert_eq!(within, range.clone().filter(|i| !degc[*i].is_nan()).collect::<Vec<_>>());
                assert!(runs.windows(2).all(|two| two[0].end < two[1].start));
                let parts: Vec<usize> = blocks.parts(&range).flat_map(|part| part.at).collect();
                assert_eq!(parts, range.collect::<Vec<_>>());
            }
        }
    }

    #[test]
    fn runs_of_ones_are_the_ones() {
        for bits in [0, 1, u64::MAX, 1 << 63, 0b1011_0111, u64::MAX << 7, !(1 << 40)] {
            let ones: Vec<usize> = runs(bits).flatten().collect();
            assert_eq!(ones, (0..64).filter(|i| bits >> i & 1 == 1).collect::<Vec<_>>());
            assert_eq!(runs(bits).count(), (0..64).filter(|i| (bits & !(bits << 1)) >> i & 1 == 1).count());
        }
    }

    #[test]
    fn no_change_exceeds_what_blocks_say() {
        let degc = degc(701);
        let blocks = Blocks::of(&degc);
        for steps in [1, 2, 3, 4, 5, 12, 48, 64, 300, 699, 700] {
            for (from, fineness) in [0, 1, 4, 100].into_iter().flat_map(|from| [1, 2, 4].map(|f| (from, f))) {
                let firsts = from..(701 - steps).max(from);
                let mut seen = from;
                let changes = blocks.changes(steps, firsts.clone(), fineness);
                for (some, most) in changes.most().map(|(block, most)| (changes.firsts_in(block), most)) {
                    assert_eq!(some.start, seen);
                    seen = some.end;
                    for i in some {
                        let Ends { low, high } = Ends::of(&degc[i..=i + steps]);
                        assert!(high - low <= most, "{steps} from {i}");
                    }
                }
                assert_eq!(seen, firsts.end);
            }
        }
    }
}
