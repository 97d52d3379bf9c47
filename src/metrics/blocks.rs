//! Lowest and highest values of blocks of the grid, so that only what may matter is looked at value by value.

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
    /// Whether every instant of a [`BLOCK`] has a value.
    complete: Vec<bool>,
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
        let mut finest: Vec<Ends> = fours.iter().map(|four| Ends::of(four)).collect();
        finest.extend((!rest.is_empty()).then(|| Ends::of(rest)));
        let mut levels = vec![finest];
        while let Some(below) = levels.last().filter(|level| level.len() > 1) {
            let joined = |pair: &[Ends]| pair.iter().fold(Ends::NONE, |ends, other| ends.with(*other));
            levels.push(below.chunks(2).map(joined).collect());
        }
        levels.iter_mut().for_each(|level| level.extend([Ends::NONE; FINEST]));
        let complete = degc.chunks(BLOCK).map(|block| !block.iter().fold(false, |nan, x| nan | x.is_nan()));
        Self { levels, complete: complete.collect() }
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
            complete: self.complete[block],
        })
    }

    /// How many of the values, the same as they were made of, are present in a range.
    pub(super) fn count(&self, degc: &[f64], range: &Range<usize>) -> usize {
        let present = |part: Part| match part.complete {
            true => part.at.len(),
            false => degc[part.at].iter().map(|x| usize::from(!x.is_nan())).sum(),
        };
        self.parts(range).map(present).sum()
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
        for part in ranges.iter().flat_map(|range| self.parts(range)) {
            match part.complete {
                true => values.extend_from_slice(&degc[part.at]),
                false => values.extend(degc[part.at].iter().filter(|x| !x.is_nan())),
            }
        }
        values
    }

    /// The unbroken runs of values in a range.
    pub(super) fn unbroken(&self, degc: &[f64], range: &Range<usize>) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        let mut add = |more: Range<usize>| match runs.last_mut() {
            Some(last) if last.end == more.start => last.end = more.end,
            _ => runs.push(more),
        };
        for part in self.parts(range) {
            match part.complete {
                true => add(part.at),
                false => part.at.filter(|i| !degc[*i].is_nan()).for_each(|i| add(i..i + 1)),
            }
        }
        runs
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
                assert_eq!(blocks.count(&degc, &range), present.len());
                assert_eq!(blocks.values(&degc, std::slice::from_ref(&range)), present);
                assert_eq!(blocks.ends(&degc, &range), Ends::of(&present));
                let runs = blocks.unbroken(&degc, &range);
                let within: Vec<usize> = runs.iter().cloned().flatten().collect();
                assert_eq!(within, range.clone().filter(|i| !degc[*i].is_nan()).collect::<Vec<_>>());
                assert!(runs.windows(2).all(|two| two[0].end < two[1].start));
                let parts: Vec<usize> = blocks.parts(&range).flat_map(|part| part.at).collect();
                assert_eq!(parts, range.collect::<Vec<_>>());
            }
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
