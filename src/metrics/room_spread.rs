//! The spread between the rooms of a home at each instant, and which are at its ends, computed once for all slices and families.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::ops::Range;

use super::limits::FLOAT_NOISE_K;
use super::middle::{Few, LANES, Middles};
use crate::grid::AlignedHome;
use crate::site::{Home, Site};
use crate::stats::{self, DayDraws};

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
pub(super) struct RoomSpread {
    spread: Vec<f64>,
    coldest: Vec<AtEnd>,
    warmest: Vec<AtEnd>,
    /// The rooms that serve as a reference, by what lies in their middle: missing without a quorum.
    middles: Middles,
    /// The first that was asked for: slices have the same days nearly always.
    draws: OnceCell<DayDraws>,
}

impl RoomSpread {
    /// Looks at every instant of a home.
    pub(super) fn of(site: &Site, home: &Home, aligned: &AlignedHome) -> Self {
        let rooms: Vec<&[f64]> = aligned.rooms().iter().map(|r| r.degc()).collect();
        Self::of_rooms(&rooms, &serving(home, aligned), quorum(site, home))
    }

    /// Of values over the whole grid, which rooms serve as a reference, and how many must be present.
    fn of_rooms(rooms: &[&[f64]], serve: &[bool], quorum: usize) -> Self {
        let len = rooms.first().map_or(0, |room| room.len());
        let mut all = Self::with_capacity(len.next_multiple_of(LANES));
        let parts: Vec<(&[Few], &[f64])> = rooms.iter().map(|room| room.as_chunks()).collect();
        let mut values = vec![[f64::NAN; LANES]; rooms.len()];
        for k in 0..len.div_ceil(LANES) {
            for (few, (whole, rest)) in values.iter_mut().zip(&parts) {
                *few = whole.get(k).copied().unwrap_or_else(|| padded(rest));
            }
            all.add(&values, serve, quorum as f64);
        }
        all.truncate(len);
        all
    }

    fn with_capacity(len: usize) -> Self {
        let [coldest, warmest] = std::array::from_fn(|_| Vec::with_capacity(len));
        let spread = Vec::with_capacity(len);
        Self { spread, coldest, warmest, middles: Middles::with_capacity(len), draws: OnceCell::new() }
    }

    fn truncate(&mut self, len: usize) {
        self.spread.truncate(len);
        self.middles.truncate(len);
        for ends in [&mut self.coldest, &mut self.warmest] {
            ends.truncate(len);
        }
    }

    /// Goes on with the values of all rooms at the next instants.
    fn add(&mut self, rooms: &[Few], serve: &[bool], quorum: f64) {
        let (mut low, mut high) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
        let mut present = [0.0; LANES];
        for x in rooms {
            for i in 0..LANES {
                (low[i], high[i]) = (stats::lower(low[i], x[i]), stats::higher(high[i], x[i]));
                present[i] += if x[i].is_nan() { 0.0 } else { 1.0 };
            }
        }
        let mut spread = [f64::NAN; LANES];
        for i in 0..LANES {
            let enough = present[i] >= quorum;
            spread[i] = if enough { high[i] - low[i] } else { f64::NAN };
            (low[i], high[i]) = (low[i] + FLOAT_NOISE_K, high[i] - FLOAT_NOISE_K);
        }
        self.spread.extend_from_slice(&spread);
        let serving = rooms.iter().zip(serve).filter(|(_, serves)| **serves).map(|(x, _)| x);
        self.middles.add(serving, present.map(|count| count >= quorum));
        self.coldest.extend_from_slice(&at_end(rooms, low, |x, limit| x <= limit));
        self.warmest.extend_from_slice(&at_end(rooms, high, |x, limit| x >= limit));
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

    /// How much warmer a room that reads `x` is than the reference at an instant with a quorum: for a room that serves, the
    /// median of the others that do, else of all; NaN where that cannot be said.
    pub(super) fn difference(&self, x: f64, serves: bool, i: usize) -> f64 {
        x - self.middles.at(i).reference(x, serves).degc
    }

    /// As [`RoomSpread::difference`], at each instant of a range; `degc` is the room's series over the whole grid.
    pub(super) fn differences(
        &self,
        degc: &[f64],
        serves: bool,
        range: Range<usize>,
    ) -> impl Iterator<Item = f64> {
        let middles = self.middles.of(range.clone());
        degc[range].iter().zip(middles).map(move |(x, middle)| x - middle.reference(*x, serves).degc)
    }

    /// How far the two rooms lie apart between which the reference is at an instant, in K; NaN where it is one room, or
    /// none.
    pub(super) fn apart(&self, x: f64, serves: bool, i: usize) -> f64 {
        self.middles.at(i).reference(x, serves).apart_k
    }
}

/// Which rooms serve as a reference: those that are surely heated and whose record stands.
pub(super) fn serving(home: &Home, aligned: &AlignedHome) -> Vec<bool> {
    home.rooms.iter().zip(aligned.rooms()).map(|(r, x)| r.heated.surely() && x.stands()).collect()
}

/// What a room counts for that is at an end, beside its number: more than the number of any room.
const ALONE: u32 = 1 << u16::BITS;

/// At each instant the room that is at the limit or beyond, if there is only one.
fn at_end(rooms: &[Few], limits: Few, is: impl Fn(f64, f64) -> bool) -> [AtEnd; LANES] {
    let mut sums = [0.0; LANES];
    for (number, values) in (ALONE..).zip(rooms) {
        let number = f64::from(number);
        for i in 0..LANES {
            sums[i] += if is(values[i], limits[i]) { number } else { 0.0 };
        }
    }
    let mut ends = [AtEnd::Several; LANES];
    for (end, sum) in ends.iter_mut().zip(sums) {
        let number = (sum as u32).wrapping_sub(ALONE);
        *end = if number < ALONE { AtEnd::One(number as u16) } else { AtEnd::Several };
    }
    ends
}

/// Values behind which some are missing.
fn padded(values: &[f64]) -> Few {
    std::array::from_fn(|i| values.get(i).copied().unwrap_or(f64::NAN))
}

/// Rooms that must be present for a spread: the site's quorum, else all rooms but one; never less than two.
pub fn quorum(site: &Site, home: &Home) -> usize {
    site.spread.quorum.unwrap_or(home.rooms.len().saturating_sub(1)).max(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rooms with ties and holes.
    fn rooms(len: usize) -> Vec<Vec<f64>> {
        let value = |k: usize| if k % 11 < 3 { f64::NAN } else { 20.0 + (k * 7919 % 13) as f64 / 10.0 };
        (0..5).map(|r| (0..len).map(|i| value(i * 31 + r * r * 17)).collect()).collect()
    }

    /// The only room within float noise of `end`.
    fn only(values: &[f64], end: f64) -> AtEnd {
        let there: Vec<usize> =
            (0..values.len()).filter(|r| (values[*r] - end).abs() <= FLOAT_NOISE_K).collect();
        if let [one] = there[..] { AtEnd::One(one as u16) } else { AtEnd::Several }
    }

    #[test]
    fn few_instants_at_a_time_give_what_each_gives() {
        let heated = [true, false, true, true, false];
        for (len, quorum) in [(0, 2), (1, 2), (203, 2), (204, 4), (205, 5)] {
            let rooms = rooms(len);
            let slices: Vec<&[f64]> = rooms.iter().map(Vec::as_slice).collect();
            let together = RoomSpread::of_rooms(&slices, &heated, quorum);
            assert_eq!((together.spread().len(), together.coldest.len()), (len, len));
            for i in 0..len {
                let values: Vec<f64> = rooms.iter().map(|room| room[i]).collect();
                let there = || values.iter().copied().filter(|x| !x.is_nan());
                if there().count() < quorum {
                    assert!(together.spread()[i].is_nan());
                    assert!(together.difference(values[0], true, i).is_nan());
                    continue;
                }
                let (low, high) = (there().fold(99.0, f64::min), there().fold(-99.0, f64::max));
                assert_eq!(together.spread()[i].to_bits(), (high - low).to_bits());
                assert_eq!(
                    (together.coldest(i), together.warmest(i)),
                    (only(&values, low), only(&values, high))
                );
                for (room, x) in values.iter().enumerate() {
                    let others = |r: &usize| heated[*r] && *r != room && !values[*r].is_nan();
                    let others: Vec<f64> = (0..5).filter(others).map(|r| values[r]).collect();
                    let expected = x - stats::median(others).unwrap_or(f64::NAN);
                    let difference = together.difference(*x, heated[room], i);
                    assert!(
                        (difference - expected).abs() < 1e-12 || difference.is_nan() && expected.is_nan()
                    );
                }
            }
        }
    }
}
