//! Series that agree at the same instants to less than any two loggers do: one was written from the other, rounded anew,
//! as by way of °F, or with a constant added, as by a calibration.
//!
//! Of each series the first reading of every three hours is kept, four bytes each: enough to hold two series against each
//! other long after they were read.

use std::collections::BTreeMap;

use crate::clock::HOUR_MS;
use crate::stats::median;

const BLOCK_MS: i64 = 3 * HOUR_MS;
/// Two that agree are this close, K: twice what rounding to 0.1 °F moves a value, and what is lost here.
const NEAR_K: f64 = 0.06;
/// Two that lie at one distance are this close to it: loggers in one box may stand as steadily apart as [`NEAR_K`], but not as
/// two roundings to a hundredth.
const NEAR_LEVEL_K: f64 = 0.015;
/// Values are kept in these.
const STEP_K: f64 = 0.01;
/// Fewest common readings, and of them those that differ from the one before; of a hundred, those that must agree.
const LEAST_COMMON: usize = 12;
const LEAST_MOVES: usize = 12;
/// The same of two that lie at one distance: a week.
const LEAST_AT_LEVEL: usize = 56;
const LEAST_MOVES_AT_LEVEL: usize = 40;
const LEAST_SHARE: usize = 98;
/// By so many readings in a row, in bins of this width, series that may agree find each other.
const IN_A_ROW: usize = 4;
const BIN_K: f64 = 0.5;
/// Such keys that are kept.
const KEYS: usize = 64;

/// The first reading of a block.
#[derive(Clone, Copy, Debug, PartialEq)]
struct First {
    block: i32,
    after_s: u16,
    steps: i16,
}

impl First {
    fn ms(self) -> i64 {
        i64::from(self.block) * BLOCK_MS + i64::from(self.after_s) * 1000
    }

    fn degc(self) -> f64 {
        f64::from(self.steps) * STEP_K
    }
}

/// What is kept of a series.
#[derive(Clone, Debug, Default)]
pub(super) struct Firsts {
    firsts: Vec<First>,
    keys: Vec<u64>,
}

/// How near two series are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Near {
    /// How far the other lies above, K; 0 where only roundings lie between them.
    pub(super) warmer_k: f64,
    /// Largest distance of readings at the same instant from that, K.
    pub(super) apart_k: f64,
    /// First and last common reading that was seen, ms.
    pub(super) seen_ms: (i64, i64),
}

impl Firsts {
    /// Of readings in order of time, in °C; those without a value are passed over.
    pub(super) fn of(times_ms: &[i64], degc: &[f64]) -> Self {
        let mut firsts: Vec<First> = Vec::new();
        for (t, x) in times_ms.iter().zip(degc) {
            let block = t.div_euclid(BLOCK_MS);
            let steps = (x / STEP_K).round();
            let fits = steps.abs() < f64::from(i16::MAX);
            let Some(block) = i32::try_from(block).ok().filter(|_| fits) else { continue };
            if firsts.last().is_none_or(|last| last.block != block) {
                let after_s = (t.rem_euclid(BLOCK_MS) / 1000) as u16;
                firsts.push(First { block, after_s, steps: steps as i16 });
            }
        }
        let mut keys: Vec<u64> = firsts.windows(IN_A_ROW).filter_map(key).collect();
        keys.sort_unstable();
        keys.dedup();
        keys.truncate(KEYS);
        Self { firsts, keys }
    }

    /// By these, series that may agree find each other.
    pub(super) fn keys(&self) -> &[u64] {
        &self.keys
    }

    /// The readings that both have at the same instants.
    fn common<'a>(&'a self, other: &'a Self) -> impl Iterator<Item = (First, First)> + 'a {
        let theirs: BTreeMap<(i32, u16), First> =
            other.firsts.iter().map(|f| ((f.block, f.after_s), *f)).collect();
        self.firsts.iter().filter_map(move |own| Some((*own, *theirs.get(&(own.block, own.after_s))?)))
    }

    /// Whether both agree at the same instants over days in which they move.
    pub(super) fn near(&self, other: &Self) -> Option<Near> {
        let common: Vec<(First, First)> = self.common(other).collect();
        let warmer = |(a, b): &(First, First)| b.degc() - a.degc();
        let level_k = median(common.iter().map(warmer).collect()).unwrap_or(0.0);
        let (warmer_k, near_k, [least_common, least_moves]) = match level_k.abs() <= NEAR_K {
            true => (0.0, NEAR_K, [LEAST_COMMON, LEAST_MOVES]),
            false => (level_k, NEAR_LEVEL_K, [LEAST_AT_LEVEL, LEAST_MOVES_AT_LEVEL]),
        };
        let apart = |pair: &(First, First)| (warmer(pair) - warmer_k).abs();
        let near = || common.iter().filter(|pair| apart(pair) <= near_k + 1e-9);
        let both_move = |w: &&[(First, First)]| {
            let moves = |from: First, to: First| (to.degc() - from.degc()).abs() > NEAR_K;
            moves(w[0].0, w[1].0) && moves(w[0].1, w[1].1)
        };
        let moved = common.windows(2).filter(both_move).count();
        let agree = common.len() >= least_common
            && moved >= least_moves
            && near().count() * 100 >= common.len() * LEAST_SHARE;
        let (first, last) = (near().next()?, near().next_back()?);
        agree.then(|| Near {
            warmer_k,
            apart_k: near().map(apart).fold(0.0, f64::max),
            seen_ms: (first.0.ms(), last.0.ms()),
        })
    }

    /// A span in which both were seen to be equal but for a distance in level, made as long as their common readings are
    /// equal; `ends`: first and last time that both have.
    pub(super) fn stretch(
        &self,
        other: &Self,
        warmer_k: f64,
        seen_ms: (i64, i64),
        ends: (i64, i64),
    ) -> (i64, i64) {
        let common: Vec<(i64, bool)> = self
            .common(other)
            .map(|(a, b)| (a.ms(), (b.degc() - a.degc() - warmer_k).abs() <= STEP_K + 1e-9))
            .collect();
        let before = common.iter().rev().filter(|c| c.0 < seen_ms.0);
        let after = common.iter().filter(|c| c.0 > seen_ms.1);
        let from = edge(before, seen_ms.0, ends.0);
        let to = edge(after, seen_ms.1, ends.1);
        (from, to)
    }
}

/// As far as readings are equal; to the end where no other reading stands between, or only a block without one.
fn edge<'a>(outwards: impl Iterator<Item = &'a (i64, bool)>, seen: i64, end: i64) -> i64 {
    let mut last = seen;
    for (ms, equal) in outwards {
        if !equal {
            return last;
        }
        last = *ms;
    }
    if (last - end).abs() <= 2 * BLOCK_MS { end } else { last }
}

/// Readings in a row that are not all one value, as a number that is the same at any level.
fn key(row: &[First]) -> Option<u64> {
    let in_a_row = row.windows(2).all(|w| w[1].block == w[0].block + 1);
    let (low, high) = row.iter().fold((i16::MAX, i16::MIN), |(l, h), f| (l.min(f.steps), h.max(f.steps)));
    let moves = f64::from(high) - f64::from(low) > NEAR_K / STEP_K;
    let words = row.iter().flat_map(|f| {
        [i64::from(f.block), i64::from(f.after_s), ((f.degc() - row[0].degc()) / BIN_K).round() as i64]
    });
    (in_a_row && moves).then(|| super::copies::hash_of(words))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten days of one room every five minutes: a swing over the day, and what a logger adds by itself.
    fn logger(noise: u64, resolution: f64) -> (Vec<i64>, Vec<f64>) {
        let mut state = noise;
        let values = (0..2880).map(|i| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let own = ((state >> 33) % 1000) as f64 / 1000.0 - 0.5;
            let room = 20.0 + 1.7 * (f64::from(i) / 288.0 * std::f64::consts::TAU).sin();
            ((room + 0.3 * own) / resolution).round() * resolution
        });
        ((0..2880).map(|i| i * 300_000 + 7_000).collect(), values.collect())
    }

    fn firsts((times, degc): &(Vec<i64>, Vec<f64>)) -> Firsts {
        Firsts::of(times, degc)
    }

    #[test]
    fn a_copy_by_way_of_fahrenheit_is_near() {
        let one = logger(1, 0.1);
        let by_degf = |x: f64| (((x * 1.8 + 32.0) * 10.0).round() / 10.0 - 32.0) / 1.8;
        let other = (one.0.clone(), one.1.iter().map(|x| by_degf(*x)).collect());
        let near = firsts(&one).near(&firsts(&other)).unwrap();
        assert!(near.apart_k > 0.0 && near.apart_k < 0.05, "{near:?}");
        let shared = firsts(&one).keys().iter().filter(|k| firsts(&other).keys().contains(k)).count();
        assert!(shared >= 4, "{shared}: they find each other");
    }

    #[test]
    fn a_copy_at_another_level_that_was_rounded_anew_is_near() {
        let one = logger(1, 0.01);
        let other = (one.0.clone(), one.1.iter().map(|x| ((x + 1.9681) * 16.0).round() / 16.0).collect());
        assert_eq!(firsts(&one).near(&firsts(&other)), None, "sixteenths hide it");
        let other = (one.0.clone(), one.1.iter().map(|x| ((x + 1.9681) * 100.0).round() / 100.0).collect());
        let near = firsts(&one).near(&firsts(&other)).unwrap();
        assert!((near.warmer_k - 1.97).abs() < 0.02 && near.apart_k < 0.02, "{near:?}");
        let shared = firsts(&one).keys().iter().filter(|k| firsts(&other).keys().contains(k)).count();
        assert!(shared >= 4, "{shared}: they find each other");
    }

    #[test]
    fn two_loggers_side_by_side_are_not_near() {
        for resolution in [0.01, 0.1, 0.5] {
            let near = firsts(&logger(1, resolution)).near(&firsts(&logger(2, resolution)));
            assert_eq!(near, None, "{resolution}");
        }
        let steady = (logger(1, 0.1).0, vec![12.0; 2880]);
        assert_eq!(firsts(&steady).near(&firsts(&steady)), None, "a steady room says nothing");
    }

    #[test]
    fn a_stretch_ends_where_readings_differ() {
        let one = logger(1, 0.1);
        let mut other = one.clone();
        other.1[2000..].iter_mut().for_each(|x| *x += 1.0);
        let ends = (one.0[0], one.0[2879]);
        let seen = (one.0[700], one.0[900]);
        let (from, to) = firsts(&one).stretch(&firsts(&other), 0.0, seen, ends);
        assert_eq!(from, ends.0);
        assert!((one.0[1960]..one.0[2000]).contains(&to));
    }
}
