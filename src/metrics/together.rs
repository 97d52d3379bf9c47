//! The rooms of a home at the same instants, looked at once for all slices and families.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::ops::Range;

use super::FLOAT_NOISE_K;
use crate::grid::AlignedHome;
use crate::site::{Home, Site};
use crate::stats::{self, DayDraws};

/// Instants looked at together, so that their values stay in the processor's cache.
const BLOCK: usize = 512;

/// Which room is at an end of the spread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum AtEnd {
    /// One room.
    One(u16),
    /// Several within float noise.
    Several,
}

/// What the rooms are together at each grid instant.
#[derive(Debug, Default)]
pub(super) struct Together {
    spread: Vec<f64>,
    coldest: Vec<AtEnd>,
    warmest: Vec<AtEnd>,
    /// Sum over the heated rooms, and how many are there: none without a quorum.
    heated_sum: Vec<f64>,
    heated: Vec<f64>,
    /// The first that was asked for: slices have the same days nearly always.
    draws: OnceCell<DayDraws>,
}

impl Together {
    /// Looks at every instant of a home.
    pub(super) fn of(site: &Site, home: &Home, aligned: &AlignedHome) -> Self {
        let rooms: Vec<&[f64]> = aligned.rooms().iter().map(|r| r.degc()).collect();
        let heated: Vec<bool> = home.rooms.iter().map(|r| r.heated).collect();
        let mut all = Self::default();
        for from in (0..aligned.len()).step_by(BLOCK) {
            let to = (from + BLOCK).min(aligned.len());
            let block: Vec<&[f64]> = rooms.iter().map(|r| &r[from..to]).collect();
            all.add(&block, &heated, quorum(site, home));
        }
        all
    }

    fn add(&mut self, rooms: &[&[f64]], heated: &[bool], quorum: usize) {
        let len = rooms.first().map_or(0, |r| r.len());
        let (mut low, mut high) = (vec![f64::INFINITY; len], vec![f64::NEG_INFINITY; len]);
        let mut present = vec![0.0; len];
        let (mut sum, mut of_heated) = (vec![0.0; len], vec![0.0; len]);
        for (room, heated) in rooms.iter().zip(heated) {
            for (((low, high), present), x) in low.iter_mut().zip(&mut high).zip(&mut present).zip(*room) {
                (*low, *high) = (stats::lower(*low, *x), stats::higher(*high, *x));
                *present += if x.is_nan() { 0.0 } else { 1.0 };
            }
            if *heated {
                for ((sum, count), x) in sum.iter_mut().zip(&mut of_heated).zip(*room) {
                    *sum += if x.is_nan() { 0.0 } else { *x };
                    *count += if x.is_nan() { 0.0 } else { 1.0 };
                }
            }
        }
        let quorum = quorum as f64;
        let range = |((low, high), present): ((&f64, &f64), &f64)| {
            if *present >= quorum { high - low } else { f64::NAN }
        };
        self.spread.extend(low.iter().zip(&high).zip(&present).map(range));
        let counted = |(count, present): (&f64, &f64)| if *present >= quorum { *count } else { 0.0 };
        self.heated.extend(of_heated.iter().zip(&present).map(counted));
        self.heated_sum.append(&mut sum);
        low.iter_mut().for_each(|x| *x += FLOAT_NOISE_K);
        high.iter_mut().for_each(|x| *x -= FLOAT_NOISE_K);
        self.coldest.extend(at_end(rooms, &low, |x, limit| x <= limit));
        self.warmest.extend(at_end(rooms, &high, |x, limit| x >= limit));
    }

    /// Highest minus lowest room at each instant in K; NaN without a quorum.
    pub(super) fn spread(&self) -> &[f64] {
        &self.spread
    }

    /// Days drawn anew, one at a time, as many as `days`.
    pub(super) fn draws(&self, days: usize) -> Cow<'_, DayDraws> {
        let first = self.draws.get_or_init(|| DayDraws::new(days, 1));
        if first.days() == days { Cow::Borrowed(first) } else { Cow::Owned(DayDraws::new(days, 1)) }
    }

    /// The coldest room at an instant with a quorum.
    pub(super) fn coldest(&self, i: usize) -> AtEnd {
        self.coldest[i]
    }

    /// The warmest room at an instant with a quorum.
    pub(super) fn warmest(&self, i: usize) -> AtEnd {
        self.warmest[i]
    }

    /// How much warmer a room that reads `x` is than the (other) heated rooms at an instant with a quorum; NaN where that
    /// cannot be said.
    pub(super) fn difference(&self, x: f64, is_heated: bool, i: usize) -> f64 {
        beyond_others(x, is_heated, self.heated[i], self.heated_sum[i])
    }

    /// As [`Together::difference`], at each instant of a range; `degc` is the room's series over the whole grid.
    pub(super) fn differences(
        &self,
        degc: &[f64],
        is_heated: bool,
        range: Range<usize>,
    ) -> impl Iterator<Item = f64> {
        let heated = self.heated[range.clone()].iter().zip(&self.heated_sum[range.clone()]);
        degc[range]
            .iter()
            .zip(heated)
            .map(move |(x, (count, sum))| beyond_others(*x, is_heated, *count, *sum))
    }
}

/// How much a room that reads `x` is beyond the mean of the `count` heated rooms, of which it may be one.
#[inline]
fn beyond_others(x: f64, is_heated: bool, count: f64, sum: f64) -> f64 {
    let (count, sum) = if is_heated { (count - 1.0, sum - x) } else { (count, sum) };
    let difference = x - sum / count;
    if count > 0.0 { difference } else { f64::NAN }
}

/// At each instant the room that is at the limit or beyond, if there is only one.
fn at_end(rooms: &[&[f64]], limits: &[f64], is: impl Fn(f64, f64) -> bool) -> impl Iterator<Item = AtEnd> {
    // How many rooms, and the sum of their numbers: of a single room its own.
    let (mut counts, mut numbers) = (vec![0.0; limits.len()], vec![0.0; limits.len()]);
    for (room, values) in (0_u16..).zip(rooms) {
        let room = f64::from(room);
        for (((count, number), x), limit) in counts.iter_mut().zip(&mut numbers).zip(*values).zip(limits) {
            let there = is(*x, *limit);
            *count += if there { 1.0 } else { 0.0 };
            *number += if there { room } else { 0.0 };
        }
    }
    let end = |(count, number): (f64, f64)| {
        if count < 1.5 && count > 0.5 { AtEnd::One(number as u16) } else { AtEnd::Several }
    };
    counts.into_iter().zip(numbers).map(end)
}

/// Rooms that must be present for a spread: the site's quorum, else all rooms but one; never less than two.
pub(super) fn quorum(site: &Site, home: &Home) -> usize {
    site.spread.quorum.unwrap_or(home.rooms.len().saturating_sub(1)).max(2)
}
