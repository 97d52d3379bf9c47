//! Series that are copies of each other, whatever their files are named and wherever their times and levels lie.
//!
//! Of each series a sketch is kept: of its patterns of changes those with the smallest hashes, each with its place in time
//! and level. Two series of one logger share most patterns, all at one distance in time and level; patterns that two loggers
//! share by chance lie at any. Copies that were rounded anew share few patterns: they are told by their readings at the same
//! instants (`near`). A sketch takes 2 kB and 32 B a day, so that every series of a site can be held against every other.
//!
//! Settled here, and why:
//! - **Copies** are told from patterns of six changes, of which the 64 with the smallest hashes are kept: enough to find
//!   a copy that is moved in time or level, or a quarter as long, in any home of the site. Rounded anew (to °F and back)
//!   a copy is told by its readings at the same instants: the first of every 3 h within 0.06 K, over twelve or more that
//!   move. The span reaches to the first and last reading of the common time, unless what was kept of either differs
//!   there.

use std::collections::BTreeMap;

use super::near::Firsts;
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
/// Of a series with more patterns, where all are wanted, one in eight is enough.
const MANY: usize = 1000;

/// A pattern of changes, and where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Pattern {
    hash: u64,
    ms: i64,
    to_ms: i64,
    degc: f64,
}

/// What is kept of a series to find its copies.
#[derive(Clone, Debug, Default)]
pub struct Sketch {
    patterns: Vec<Pattern>,
    /// Patterns with a higher hash were left out.
    highest: u64,
    /// First and last reading, ms.
    ends: (i64, i64),
    firsts: Firsts,
    /// Of all its readings, where it changes often enough for its likeness to say something.
    whole: Option<Whole>,
    /// The same of any series.
    any: Option<Whole>,
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
    /// How far readings at the same instant lie apart where one was rounded anew, K; 0 for equal ones.
    pub apart_k: f64,
    /// The time of the first in which they agree, from the first to the last reading.
    pub span: Span,
}

impl Sketch {
    /// From the first to just after the last reading.
    pub fn record(&self) -> Span {
        Span { from: UtcTime::from_ms(self.ends.0), to: UtcTime::from_ms(self.ends.1 + 1) }
    }

    /// Of readings in order of time, in ms and °C; those without a value (NaN) are passed over. A series that hardly
    /// changes has no sketch.
    pub fn of(times_ms: &[i64], degc: &[f64]) -> Self {
        let (patterns, changes) = patterns(times_ms, degc);
        let highest = if patterns.len() > KEPT { patterns[KEPT - 1].hash } else { u64::MAX };
        let kept = patterns.into_iter().take(KEPT).collect();
        Self::with(kept, highest, changes, (times_ms, degc))
    }

    /// As [`Sketch::of`], with patterns enough to find a copy in a day that two series have in common; for series that are
    /// in memory anyway.
    pub fn full(times_ms: &[i64], degc: &[f64]) -> Self {
        let (mut patterns, changes) = patterns(times_ms, degc);
        if patterns.len() > MANY {
            patterns.retain(|p| p.hash.is_multiple_of(8));
        }
        Self::with(patterns, u64::MAX, changes, (times_ms, degc))
    }

    fn with(
        patterns: Vec<Pattern>,
        highest: u64,
        changes: usize,
        (times_ms, degc): (&[i64], &[f64]),
    ) -> Self {
        let mut there = times_ms.iter().zip(degc).filter(|(_, x)| !x.is_nan()).map(|(t, _)| *t);
        let ends = there.next().map_or((0, 0), |first| (first, there.next_back().unwrap_or(first)));
        let firsts = Firsts::of(times_ms, degc);
        let any = whole(times_ms, degc);
        let says = |whole: &Whole| {
            changes >= LEAST_CHANGES && whole.span.hours() >= LEAST_MS as f64 / HOUR_MS as f64
        };
        Self { patterns, highest, ends, firsts, whole: any.filter(says), any }
    }

    /// How many patterns it has.
    pub fn patterns(&self) -> usize {
        self.patterns.len()
    }

    /// Whether another series is a copy of this one, or the other way round, or both of a third.
    pub fn copy(&self, other: &Self) -> Option<Copy> {
        if let Some(own) = self.whole.filter(|own| other.whole == Some(*own)) {
            return Some(Copy { later_ms: 0, warmer_k: 0.0, apart_k: 0.0, span: own.span });
        }
        self.moved_copy(other).or_else(|| self.near_copy(other))
    }

    /// Whether another series has the same readings, however few they are or however little they change. Steady rooms may read
    /// alike: something else must say that they are one.
    pub fn same(&self, other: &Self) -> Option<Copy> {
        let own = self.any.filter(|own| other.any == Some(*own))?;
        Some(Copy { later_ms: 0, warmer_k: 0.0, apart_k: 0.0, span: own.span })
    }

    fn moved_copy(&self, other: &Self) -> Option<Copy> {
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
        let (later_ms, warmer_k) = (their.ms - own.ms, their.degc - own.degc);
        let share = 100.0 * most.len() as f64 / self.in_common_time(other, later_ms).max(1) as f64;
        let told = most.len() >= LEAST_SHARED && to - from >= LEAST_MS && share >= LEAST_SHARE;
        told.then(|| {
            let shared: Vec<u64> = most.iter().map(|(own, _)| own.hash).collect();
            let to = most.iter().map(|(own, _)| own.to_ms).max().unwrap_or(to);
            let (from, to) = self.stretched(other, (later_ms, warmer_k), (from, to), &shared);
            Copy { later_ms, warmer_k, apart_k: 0.0, span: span(from, to) }
        })
    }

    /// The time in which both were seen to agree, to the first and the last reading that agree.
    fn stretched(
        &self,
        other: &Self,
        (later_ms, warmer_k): (i64, f64),
        seen: (i64, i64),
        shared: &[u64],
    ) -> (i64, i64) {
        let ends = self.common_ends(other, later_ms);
        if later_ms == 0 {
            return self.firsts.stretch(&other.firsts, warmer_k, seen, ends);
        }
        // Patterns of the one that the other would have too, if it went on as it does where they agree.
        let differs = |s: &Self, o: &Self, by: i64, within: (i64, i64)| {
            let inside = |p: &Pattern| p.ms - by > within.0 && p.to_ms - by < within.1;
            s.patterns.iter().any(|p| inside(p) && p.hash <= o.highest && !shared.contains(&p.hash))
        };
        let differ = |within| differs(self, other, 0, within) || differs(other, self, later_ms, within);
        let from = if differ((ends.0, seen.0)) { seen.0 } else { ends.0 };
        let to = if differ((seen.1, ends.1)) { seen.1 } else { ends.1 };
        (from.min(seen.0), to.max(seen.1))
    }

    /// First and last time that both have, once moved.
    fn common_ends(&self, other: &Self, later_ms: i64) -> (i64, i64) {
        (self.ends.0.max(other.ends.0 - later_ms), self.ends.1.min(other.ends.1 - later_ms))
    }

    fn near_copy(&self, other: &Self) -> Option<Copy> {
        let near = self.firsts.near(&other.firsts)?;
        let ends = self.common_ends(other, 0);
        let edge = |seen: i64, end: i64| if (seen - end).abs() <= 6 * HOUR_MS { end } else { seen };
        let span = span(edge(near.seen_ms.0, ends.0), edge(near.seen_ms.1, ends.1));
        Some(Copy { later_ms: 0, warmer_k: near.warmer_k, apart_k: near.apart_k, span })
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

    /// The hashes of the whole, of the patterns and of readings in a row, by which series that may be copies find each other.
    pub fn hashes(&self) -> impl Iterator<Item = u64> {
        let whole = self.whole.iter().map(|whole| whole.hash);
        whole.chain(self.patterns.iter().map(|p| p.hash)).chain(self.firsts.keys().iter().copied())
    }
}

/// The span from a first to a last reading.
fn span(from: i64, to: i64) -> Span {
    Span { from: UtcTime::from_ms(from), to: UtcTime::from_ms(to + 1) }
}

/// The patterns of a series in order of their hashes, and how often it changes.
fn patterns(times_ms: &[i64], degc: &[f64]) -> (Vec<Pattern>, usize) {
    let mut changes: Vec<(i64, f64, f64)> = Vec::new();
    let mut last = f64::NAN;
    for (t, x) in times_ms.iter().zip(degc).filter(|(_, x)| !x.is_nan()) {
        if !last.is_nan() && (x - last).abs() > NOISE_K {
            changes.push((*t, x - last, *x));
        }
        last = *x;
    }
    let mut patterns: Vec<Pattern> = changes.windows(CHANGES).map(pattern).collect();
    patterns.sort_by_key(|p| (p.hash, p.ms));
    // A pattern that comes again, as of a value that flickers, says nothing of where a series lies.
    let once = patterns.chunk_by(|a, b| a.hash == b.hash).filter_map(|same| match same {
        [one] => Some(*one),
        _ => None,
    });
    (once.collect(), changes.len())
}

/// Fewest changes of a series that is told to be equal to another as a whole: two steady rooms may read alike.
const LEAST_CHANGES: usize = 24;

fn whole(times_ms: &[i64], values: &[f64]) -> Option<Whole> {
    let (first, last) = (*times_ms.first()?, *times_ms.last()?);
    let words = times_ms.iter().zip(values).map(|(t, x)| t ^ x.to_bits().rotate_left(17).cast_signed());
    Some(Whole { hash: hash_of(words), span: span(first, last) })
}

/// A number for numbers in a row.
pub(super) fn hash_of(words: impl Iterator<Item = i64>) -> u64 {
    words.fold(0xcbf2_9ce4_8422_2325_u64, |hash, word| {
        let hash = (hash ^ word.cast_unsigned()).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        hash ^ (hash >> 29)
    })
}

/// A pattern: how long each change came after the one before, and by how much.
fn pattern(changes: &[(i64, f64, f64)]) -> Pattern {
    let (first_ms, _, degc) = changes[0];
    let words = changes
        .windows(2)
        .flat_map(|pair| [(pair[1].0 - pair[0].0) / 1000, (pair[1].1 / NOISE_K).round() as i64]);
    let to_ms = changes[changes.len() - 1].0;
    Pattern { hash: hash_of(words), ms: first_ms, to_ms, degc }
}

/// Pairs of series that are copies, by their places; each pair once, in order.
///
/// Only series that share a hash are held against each other: the work grows with the number of series, not with that of
/// their pairs.
pub fn pairs(sketches: &[&Sketch]) -> Vec<(usize, usize, Copy)> {
    let likely = likely(sketches, LEAST_SHARED);
    likely.into_iter().filter_map(|(a, b)| Some((a, b, sketches[a].copy(sketches[b])?))).collect()
}

/// Pairs of series that share so many hashes, or are equal as a whole.
pub fn likely(sketches: &[&Sketch], least: usize) -> Vec<(usize, usize)> {
    let mut of_hash: Vec<(u64, usize)> = sketches
        .iter()
        .enumerate()
        .flat_map(|(at, sketch)| sketch.hashes().map(move |hash| (hash, at)))
        .collect();
    of_hash.sort_unstable();
    let mut shared: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for same in of_hash.chunk_by(|a, b| a.0 == b.0).filter(|same| same.len() > 1) {
        for (k, (_, a)) in same.iter().enumerate() {
            // Of a hash that very many share, neighbours are enough: copies of one logger share others too.
            let next = if same.len() <= MOST_ALIKE { same.len() } else { (k + 2).min(same.len()) };
            same[k + 1..next].iter().for_each(|(_, b)| *shared.entry((*a, *b)).or_default() += 1);
        }
    }
    let equal = |a: usize, b: usize| sketches[a].whole.is_some() && sketches[a].whole == sketches[b].whole;
    let enough = shared.into_iter().filter(|((a, b), count)| *count >= least || equal(*a, *b));
    enough.map(|(pair, _)| pair).collect()
}

/// Of a hash that more series have than this, not all pairs are counted.
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
    fn a_copy_is_told_from_its_first_to_its_last_equal_reading() {
        let one = room(1);
        let part = (one.0[333..1777].to_vec(), one.1[333..1777].to_vec());
        let (first, last) = (one.0[333], one.0[1776]);
        let seen = |copy: Copy| (copy.span.from.ms(), copy.span.to.ms() - 1);
        assert_eq!(seen(sketch(&one).copy(&sketch(&part)).unwrap()), (first, last));
        let later = (part.0.iter().map(|t| t + HOUR_MS).collect(), part.1.clone());
        assert_eq!(seen(sketch(&one).copy(&sketch(&later)).unwrap()), (first, last), "an hour later");
        let back = sketch(&later).copy(&sketch(&one)).unwrap();
        assert_eq!(seen(back), (first + HOUR_MS, last + HOUR_MS));
        // From the middle on it is another logger.
        let mut half = one.clone();
        half.1[1008..].copy_from_slice(&room(2).1[1008..]);
        let (from, to) = seen(sketch(&one).copy(&sketch(&half)).unwrap());
        assert_eq!(from, one.0[0]);
        assert!((one.0[900]..one.0[1050]).contains(&to), "{}", to / 600_000);
    }

    #[test]
    fn a_copy_by_way_of_fahrenheit_is_found_and_a_neighbour_is_not() {
        let swing = |i: usize| 1.5 * (i as f64 / 144.0 * std::f64::consts::TAU).sin();
        let in_a_room = |seed: u64| {
            let (times, noise) = room(seed);
            let values = noise.iter().enumerate().map(|(i, x)| 20.0 + swing(i) + (x - 20.0) * 0.3);
            let values: Vec<f64> = values.map(|x| (x * 10.0).round() / 10.0).collect();
            (times, values)
        };
        let by_degf = |x: f64| (((x * 1.8 + 32.0) * 10.0).round() / 10.0 - 32.0) / 1.8;
        let one = in_a_room(1);
        let other = (one.0.clone(), one.1.iter().map(|x| by_degf(*x)).collect());
        let found = pairs(&[&sketch(&one), &sketch(&in_a_room(2)), &sketch(&other)]);
        assert_eq!(found.iter().map(|(a, b, _)| (*a, *b)).collect::<Vec<_>>(), [(0, 2)], "{found:?}");
        let copy = found[0].2;
        assert!(copy.apart_k > 0.0 && copy.apart_k < 0.06, "{copy:?}");
        assert_eq!((copy.span.from.ms(), copy.span.to.ms() - 1), (one.0[0], one.0[2015]));
    }

    #[test]
    fn copies_of_one_series_that_are_very_many_are_found() {
        let sketches: Vec<Sketch> = (0..40).map(|_| sketch(&room(1))).collect();
        assert!(pairs(&sketches.iter().collect::<Vec<_>>()).len() >= 39);
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
