//! Series that are the same series: copies, stale copies, and two downloads of one logger.
//!
//! Which series may be the same is told as an audit tells copies; here, where all are in memory, each reading is compared.

use std::collections::BTreeSet;

use super::Candidate;
use crate::quality::copies::{self, Sketch};

/// Fewest equal readings, with this many different values, that make two series one.
const MIN_EQUAL: usize = 10;
const MIN_DIFFERENT: usize = 3;
/// Series with fewer patterns are held against all others: there is little to hold.
const FEW_PATTERNS: usize = 24;
/// Of the time of a copy that was rounded anew, so much must be seen to agree, in %.
const MOST_OF_IT: f64 = 95.0;
/// Changes at which a quick look looks.
const LOOKED_AT: usize = 24;

/// The readings of a series in order of time, as they are compared.
struct Prints {
    keys: Vec<(i64, u64)>,
    /// The readings that differ from those before them.
    changes: Vec<(i64, u64)>,
    sketch: Sketch,
}

impl Prints {
    fn of(candidate: &Candidate<'_>) -> Self {
        Self::new(&candidate.series.readings, |x| candidate.degc(x))
    }

    fn new(readings: &[(i64, f64)], degc: impl Fn(f64) -> f64) -> Self {
        let mut keys: Vec<(i64, u64)> = readings.iter().map(|r| (r.0, r.1.to_bits())).collect();
        keys.sort_unstable();
        keys.dedup();
        let changes: Vec<(i64, u64)> =
            keys.windows(2).filter(|w| w[0].1 != w[1].1).map(|w| (w[1].0, w[1].1)).collect();
        let (times_ms, degc): (Vec<i64>, Vec<f64>) =
            keys.iter().map(|(t, x)| (*t, degc(f64::from_bits(*x)))).unzip();
        Self { sketch: Sketch::full(&times_ms, &degc), keys, changes }
    }

    fn ends(&self) -> Option<(i64, i64)> {
        Some((self.keys.first()?.0, self.keys.last()?.0))
    }

    /// A quick look: whether half of a few changes of the one stand in the other, where that has readings.
    fn may_be(&self, other: &Self) -> bool {
        let (small, large) = if self.keys.len() <= other.keys.len() { (self, other) } else { (other, self) };
        let Some((from, to)) = large.ends() else { return false };
        let first = small.changes.partition_point(|c| c.0 < from);
        let inside = &small.changes[first..small.changes.partition_point(|c| c.0 <= to).max(first)];
        let every = (inside.len() / LOOKED_AT).max(1);
        let looked_at = || inside.iter().step_by(every);
        let found = looked_at().filter(|c| large.keys.binary_search(c).is_ok()).count();
        found > 0 && found * 2 >= looked_at().count()
    }

    /// How many readings stand in both; 0 where too few different values make chance likely.
    fn count_equal(&self, other: &Self) -> usize {
        let (Some(a), Some(b)) = (self.ends(), other.ends()) else { return 0 };
        if a.0 > b.1 || b.0 > a.1 {
            return 0;
        }
        let (small, large) = if self.keys.len() <= other.keys.len() { (self, other) } else { (other, self) };
        let equal = small.keys.iter().filter(|k| large.keys.binary_search(k).is_ok()).map(|k| k.1);
        let equal: Vec<u64> = equal.collect();
        let different: BTreeSet<u64> = equal.iter().copied().collect();
        if different.len() >= MIN_DIFFERENT { equal.len() } else { 0 }
    }

    /// How many readings lie in the time of another series.
    fn count_between(&self, other: &Self) -> usize {
        let Some((from, to)) = other.ends() else { return 0 };
        self.keys.partition_point(|k| k.0 <= to) - self.keys.partition_point(|k| k.0 < from)
    }
}

/// Pairs that may be the same series: they share a pattern, or one of them has few.
fn pairs(prints: &[Prints]) -> BTreeSet<(usize, usize)> {
    let sketches: Vec<&Sketch> = prints.iter().map(|p| &p.sketch).collect();
    let mut pairs: BTreeSet<(usize, usize)> = copies::likely(&sketches, 1).into_iter().collect();
    let few = |p: &Prints| p.sketch.patterns() < FEW_PATTERNS && p.keys.len() >= MIN_EQUAL;
    for (at, _) in prints.iter().enumerate().filter(|(_, p)| few(p)) {
        let others = (0..prints.len()).filter(|o| *o != at);
        pairs.extend(others.map(|o| (at.min(o), at.max(o))));
    }
    pairs
}

/// Takes out copies and stale copies, and gives downloads of one logger one name; says what was left out, and why.
pub(super) fn settle(candidates: &mut Vec<Candidate<'_>>) -> Vec<(String, String)> {
    let prints: Vec<Prints> = candidates.iter().map(Prints::of).collect();
    let mut pairs = pairs(&prints);
    pairs.retain(|(a, b)| candidates[*a].series.in_utc == candidates[*b].series.in_utc);
    let mut same: Vec<(usize, usize, usize)> = pairs
        .iter()
        .copied()
        .filter(|(a, b)| prints[*a].may_be(&prints[*b]))
        .map(|(a, b)| (a, b, prints[a].count_equal(&prints[b])))
        .filter(|(_, _, equal)| *equal >= MIN_EQUAL)
        .collect();
    let mut copies = copies(candidates, &prints, &same);
    let rounded = rounded_anew(candidates, &prints, &pairs);
    for (copy, whole) in &rounded {
        copies[*copy] = copies[*copy].or(Some(*whole));
    }
    same.retain(|(a, b, _)| copies[*a].is_none() && copies[*b].is_none());
    join_downloads(candidates, &prints, &same);
    let mut left_out = Vec::new();
    for (at, whole) in copies.iter().enumerate() {
        let Some(whole) = whole else { continue };
        let (copy, large) = (&candidates[at], &candidates[*whole]);
        let equal = prints[at].keys.len() == prints[*whole].keys.len();
        let what = match equal {
            _ if rounded.contains(&(at, *whole)) => "rounded anew, the same readings as",
            true => "the same readings as",
            false => "an older copy, wholly contained in",
        };
        let column = copy.column.as_ref().map_or(String::new(), |c| format!(" (column {c})"));
        left_out.push((format!("{}{column}", copy.file), format!("{what} {}", large.file)));
    }
    let mut at = 0;
    candidates.retain(|_| {
        at += 1;
        copies[at - 1].is_none()
    });
    left_out
}

/// For each series the one of which it is a copy.
fn copies(
    candidates: &[Candidate<'_>],
    prints: &[Prints],
    same: &[(usize, usize, usize)],
) -> Vec<Option<usize>> {
    // Of two equal ones the longer name is the copy's.
    let rank = |at: usize| (std::cmp::Reverse(prints[at].keys.len()), candidates[at].file.len(), at);
    let mut copies: Vec<Option<usize>> = vec![None; prints.len()];
    for (a, b, equal) in same {
        let (copy, whole) = if rank(*a) > rank(*b) { (*a, *b) } else { (*b, *a) };
        if *equal == prints[copy].keys.len() && copies[copy].is_none_or(|known| rank(whole) < rank(known)) {
            copies[copy] = Some(whole);
        }
    }
    copies
}

/// Copies that were rounded anew, as by way of °F: each with the series that it is a copy of.
fn rounded_anew(
    candidates: &[Candidate<'_>],
    prints: &[Prints],
    pairs: &BTreeSet<(usize, usize)>,
) -> Vec<(usize, usize)> {
    let rank = |at: usize| (std::cmp::Reverse(prints[at].keys.len()), candidates[at].file.len(), at);
    let of_pair = |(a, b): &(usize, usize)| {
        let (copy, whole) = if rank(*a) > rank(*b) { (*a, *b) } else { (*b, *a) };
        // What lies at another level may be another logger: that is told, and left to a person.
        let rounded = |c: &copies::Copy| c.apart_k > 0.0 && c.warmer_k.abs() < f64::EPSILON;
        let found = prints[copy].sketch.copy(&prints[whole].sketch).filter(rounded)?;
        let (first, last) = prints[copy].ends()?;
        let hours = (last - first) as f64 / 3_600_000.0;
        (found.span.hours() * 100.0 >= hours * MOST_OF_IT).then_some((copy, whole))
    };
    let mut found: Vec<(usize, usize)> = pairs.iter().filter_map(of_pair).collect();
    // A copy of a copy is told as one of the whole.
    found.sort_by_key(|(copy, whole)| (*copy, rank(*whole)));
    found.dedup_by_key(|(copy, _)| *copy);
    found
}

/// Two files whose readings agree where they overlap are two downloads of one logger.
fn join_downloads(candidates: &mut [Candidate<'_>], prints: &[Prints], same: &[(usize, usize, usize)]) {
    for new in 1..candidates.len() {
        let download = same.iter().find(|(a, b, equal)| {
            let overlap = prints[*a].count_between(&prints[*b]).min(prints[*b].count_between(&prints[*a]));
            *b == new && equal * 20 >= overlap * 19
        });
        let Some((old, _, _)) = download else { continue };
        let (before, rest) = candidates.split_at_mut(new);
        let (old, new) = (&before[*old], &mut rest[0]);
        new.logger = old.logger.clone();
        (new.home, new.home_read, new.room, new.guess) =
            (old.home.clone(), old.home_read, old.room.clone(), old.guess);
        new.nowhere = old.nowhere.clone();
        (new.said, new.clock) = (old.said.clone(), new.clock.take().or_else(|| old.clock.clone()));
        new.notes.push(format!("check: a second download of the logger in {}", old.file));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings every ten minutes in steps of half a degree, each logger in its own way.
    fn readings(logger: i64, rows: std::ops::Range<i64>) -> Vec<(i64, f64)> {
        let mix = |n: i64| (n * 1_000_003 + logger).cast_unsigned().wrapping_mul(0x9e37_79b9_7f4a_7c15);
        let noise = |n: i64| (mix(n) ^ mix(n) >> 29).wrapping_mul(0xbf58_476d_1ce4_e5b9) >> 62;
        rows.map(|n| (n * 600_000, 20.0 + noise(n) as f64 / 2.0)).collect()
    }

    fn print_of(readings: &[(i64, f64)]) -> Prints {
        Prints::new(readings, |x| x)
    }

    #[test]
    fn loggers_of_the_same_minutes_are_not_all_held_against_each_other() {
        let prints: Vec<Prints> = (0..60).map(|k| print_of(&readings(k, 0..1500))).collect();
        let held = pairs(&prints).into_iter().filter(|(a, b)| prints[*a].may_be(&prints[*b])).count();
        assert!(held < 60, "{held} of 1770");
    }

    #[test]
    fn copies_and_overlaps_are_held_against_each_other() {
        let whole = print_of(&readings(1, 0..1500));
        for part in [200..700, 0..1500, 1400..2000] {
            let prints = [print_of(&readings(1, part.clone())), print_of(&readings(1, 0..1500))];
            assert!(pairs(&prints).contains(&(0, 1)), "{part:?}");
            assert!(prints[0].may_be(&whole), "{part:?}");
        }
        let short = print_of(&readings(1, 300..320));
        assert_eq!(short.count_equal(&whole), 20);
        assert!(pairs(&[short, whole]).contains(&(0, 1)), "of few changes all are looked at");
    }
}
