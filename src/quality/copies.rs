//! Series that are copies of each other, whatever their files are named and wherever their times and levels lie.
//!
//! Of each series a sketch is kept: of its patterns of changes those with the smallest hashes, each with its place in time
//! and level. Two series of one logger share most patterns, all at one distance in time and level; patterns that two loggers
//! share by chance lie at any. A sketch takes 1.5 kB, so that every series of a site can be held against every other.

use std::collections::BTreeMap;

use crate::clock::{HOUR_MS, Span, UtcTime};

/// Changes that make a pattern, and patterns that are kept.
const CHANGES: usize = 6;
const KEPT: usize = 64;
/// Patterns that must agree, and the time over which they must lie.
const LEAST_SHARED: usize = 4;
const LEAST_MS: i64 = 36 * HOUR_MS;
/// Of the patterns that the shorter of two series has in the common time, so many must be shared: %.
const LEAST_SHARE: f64 = 30.0;
/// A change smaller than this, in K, is none; and levels are told apart to a tenth of it.
const NOISE_K: f64 = 1e-3;

/// A pattern of changes, and where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Pattern {
    hash: u64,
    ms: i64,
    degc: f64,
}

/// What is kept of a series to find its copies.
#[derive(Clone, Debug, Default)]
pub struct Sketch {
    patterns: Vec<Pattern>,
    /// Of all its readings, where it changes often enough for its likeness to say something.
    whole: Option<Whole>,
}

/// All readings of a series as one number, and their time.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Whole {
    hash: u64,
    span: Span,
}

/// Two series that are one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Copy {
    /// By how much the second is later than the first, ms.
    pub later_ms: i64,
    /// By how much the second is warmer than the first, K.
    pub warmer_k: f64,
    /// Part of the time of the first in which they were seen to agree.
    pub span: Span,
}

impl Sketch {
    /// Of readings in order of time, in ms and any unit; those without a value (NaN) are passed over. A series that hardly
    /// changes has no sketch.
    pub fn of(times_ms: &[i64], values: &[f64]) -> Self {
        let mut changes: Vec<(i64, f64, f64)> = Vec::new();
        let mut last = f64::NAN;
        for (t, x) in times_ms.iter().zip(values).filter(|(_, x)| !x.is_nan()) {
            if !last.is_nan() && (x - last).abs() > NOISE_K {
                changes.push((*t, x - last, *x));
            }
            last = *x;
        }
        let mut patterns: Vec<Pattern> = changes.windows(CHANGES).map(pattern).collect();
        patterns.sort_by_key(|p| (p.hash, p.ms));
        // A pattern that comes again, as of a value that flickers, says nothing of where a series lies.
        let mut kept: Vec<Pattern> = Vec::with_capacity(KEPT);
        for same in patterns.chunk_by(|a, b| a.hash == b.hash) {
            if let [one] = same {
                kept.push(*one);
            }
            if kept.len() == KEPT {
                break;
            }
        }
        Self { patterns: kept, whole: whole(times_ms, values, changes.len()) }
    }

    /// Whether another series is a copy of this one, or the other way round, or both of a third.
    pub fn copy(&self, other: &Self) -> Option<Copy> {
        if let Some(own) = self.whole.filter(|own| other.whole == Some(*own)) {
            return Some(Copy { later_ms: 0, warmer_k: 0.0, span: own.span });
        }
        let theirs: BTreeMap<u64, &Pattern> = other.patterns.iter().map(|p| (p.hash, p)).collect();
        let pairs = self.patterns.iter().filter_map(|own| Some((own, *theirs.get(&own.hash)?)));
        let mut groups: BTreeMap<(i64, i64), Vec<(&Pattern, &Pattern)>> = BTreeMap::new();
        for (own, their) in pairs {
            let level = ((their.degc - own.degc) / (10.0 * NOISE_K)).round() as i64;
            groups.entry(((their.ms - own.ms) / 1000, level)).or_default().push((own, their));
        }
        let most = groups.into_values().max_by_key(Vec::len)?;
        let from = most.iter().map(|(own, _)| own.ms).min()?;
        let to = most.iter().map(|(own, _)| own.ms).max()?;
        let (own, their) = *most.first()?;
        let later_ms = their.ms - own.ms;
        let share = 100.0 * most.len() as f64 / self.in_common_time(other, later_ms).max(1) as f64;
        let told = most.len() >= LEAST_SHARED && to - from >= LEAST_MS && share >= LEAST_SHARE;
        told.then(|| Copy {
            later_ms,
            warmer_k: their.degc - own.degc,
            span: Span { from: UtcTime::from_ms(from), to: UtcTime::from_ms(to + 1) },
        })
    }

    /// Patterns that the one with fewer of them has in the time that both have, once moved.
    fn in_common_time(&self, other: &Self, later_ms: i64) -> usize {
        let ends =
            |s: &Self| Some((s.patterns.iter().map(|p| p.ms).min()?, s.patterns.iter().map(|p| p.ms).max()?));
        let (Some(own), Some(their)) = (ends(self), ends(other)) else { return 0 };
        let common = own.0.max(their.0 - later_ms)..=own.1.min(their.1 - later_ms);
        let count = |s: &Self, by: i64| s.patterns.iter().filter(|p| common.contains(&(p.ms - by))).count();
        count(self, 0).min(count(other, later_ms))
    }

    /// The hashes of the whole and of the patterns, by which series that may be copies find each other.
    pub fn hashes(&self) -> impl Iterator<Item = u64> {
        self.whole.iter().map(|whole| whole.hash).chain(self.patterns.iter().map(|p| p.hash))
    }
}

/// Fewest changes of a series that is told to be equal to another as a whole: two steady rooms may read alike.
const LEAST_CHANGES: usize = 24;

fn whole(times_ms: &[i64], values: &[f64], changes: usize) -> Option<Whole> {
    let (first, last) = (*times_ms.first()?, *times_ms.last()?);
    if changes < LEAST_CHANGES || last - first < LEAST_MS {
        return None;
    }
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for (t, x) in times_ms.iter().zip(values) {
        hash = (hash ^ (*t as u64) ^ x.to_bits().rotate_left(17)).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        hash ^= hash >> 29;
    }
    let span = Span { from: UtcTime::from_ms(first), to: UtcTime::from_ms(last + 1) };
    Some(Whole { hash, span })
}

/// A pattern: how long each change came after the one before, and by how much.
fn pattern(changes: &[(i64, f64, f64)]) -> Pattern {
    let (first_ms, _, degc) = changes[0];
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut mix = |word: i64| {
        hash = (hash ^ word as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        hash ^= hash >> 29;
    };
    for pair in changes.windows(2) {
        mix((pair[1].0 - pair[0].0) / 1000);
        mix((pair[1].1 / NOISE_K).round() as i64);
    }
    Pattern { hash, ms: first_ms, degc }
}

/// Pairs of series that are copies, by their places; each pair once, in order.
///
/// Only series that share a pattern are held against each other: the work grows with the number of series, not with that of
/// their pairs.
pub fn pairs(sketches: &[&Sketch]) -> Vec<(usize, usize, Copy)> {
    let mut of_hash: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (at, sketch) in sketches.iter().enumerate() {
        sketch.hashes().for_each(|hash| of_hash.entry(hash).or_default().push(at));
    }
    let mut shared: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for places in of_hash.values().filter(|places| places.len() <= MOST_ALIKE) {
        for (k, a) in places.iter().enumerate() {
            places[k + 1..].iter().for_each(|b| *shared.entry((*a, *b)).or_default() += 1);
        }
    }
    let equal = |a: usize, b: usize| sketches[a].whole.is_some() && sketches[a].whole == sketches[b].whole;
    let likely = shared.into_iter().filter(|((a, b), count)| *count >= LEAST_SHARED || equal(*a, *b));
    likely.filter_map(|((a, b), _)| Some((a, b, sketches[a].copy(sketches[b])?))).collect()
}

/// A pattern that more series have than this is no pattern of one logger.
const MOST_ALIKE: usize = 32;

#[cfg(test)]
mod tests {
    use super::*;

    /// A room of two weeks in steps of a tenth of a degree, from a seed.
    fn room(seed: u64) -> (Vec<i64>, Vec<f64>) {
        let mut state = seed;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) % 100
        };
        let mut x = 200;
        let values = (0..2016).map(|_| {
            x += match next() {
                0..8 => 1,
                92..100 => -1,
                _ => 0,
            };
            f64::from(x) / 10.0
        });
        ((0..2016).map(|i| i * 600_000).collect(), values.collect())
    }

    fn sketch((times, values): &(Vec<i64>, Vec<f64>)) -> Sketch {
        Sketch::of(times, values)
    }

    #[test]
    fn a_copy_is_found_wherever_it_lies_in_time_and_level() {
        let one = room(1);
        let moved =
            (one.0.iter().map(|t| t + 5 * HOUR_MS).collect(), one.1.iter().map(|x| x + 0.7).collect());
        let copy = sketch(&one).copy(&sketch(&moved)).unwrap();
        assert_eq!(copy.later_ms, 5 * HOUR_MS);
        assert!((copy.warmer_k - 0.7).abs() < 1e-9);
        let older = (one.0[..600].to_vec(), one.1[..600].to_vec());
        assert_eq!(sketch(&one).copy(&sketch(&older)).unwrap().later_ms, 0, "an older download");
        assert_eq!(pairs(&[&sketch(&room(2)), &sketch(&one), &sketch(&moved)]).len(), 1);
    }

    #[test]
    fn two_loggers_are_no_copies_however_coarse_they_are() {
        assert_eq!(sketch(&room(1)).copy(&sketch(&room(2))), None);
        // Two values that flicker between two steps, at the same times.
        let flicker = |k: usize, from: usize| {
            let values = (from..2016).map(|i| if (i / k).is_multiple_of(2) { 20.0 } else { 20.5 }).collect();
            sketch(&((from as i64..2016).map(|i| i * 600_000).collect(), values))
        };
        assert_eq!(flicker(1, 0).copy(&flicker(1, 2)), None, "a pattern that comes again tells nothing");
        assert_eq!(flicker(3, 0).copy(&flicker(1, 0)), None);
        assert!(flicker(1, 0).copy(&flicker(1, 0)).is_some(), "equal from the first reading to the last");
    }

    #[test]
    fn a_steady_or_empty_series_has_no_copy() {
        let steady = Sketch::of(&[0, 1000, 2000], &[20.0, 20.0, f64::NAN]);
        assert_eq!(steady.copy(&steady), None);
    }
}
