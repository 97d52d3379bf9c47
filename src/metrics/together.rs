//! The rooms of a home at the same instants, looked at once for all slices and families.

use super::FLOAT_NOISE_K;
use crate::grid::AlignedHome;
use crate::site::{Home, Site};

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
    heated_sum: Vec<f64>,
    heated: Vec<u16>,
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
        let mut present = vec![0_u16; len];
        let (mut sum, mut of_heated) = (vec![0.0; len], vec![0_u16; len]);
        for (room, heated) in rooms.iter().zip(heated) {
            for (i, x) in room.iter().enumerate() {
                low[i] = if *x < low[i] { *x } else { low[i] };
                high[i] = if *x > high[i] { *x } else { high[i] };
                present[i] += u16::from(!x.is_nan());
            }
            for (i, x) in room.iter().enumerate().filter(|_| *heated) {
                sum[i] += if x.is_nan() { 0.0 } else { *x };
                of_heated[i] += u16::from(!x.is_nan());
            }
        }
        for i in 0..len {
            let counts = usize::from(present[i]) >= quorum;
            self.spread.push(if counts { high[i] - low[i] } else { f64::NAN });
            self.coldest.push(at_end(rooms, i, |x| x <= low[i] + FLOAT_NOISE_K));
            self.warmest.push(at_end(rooms, i, |x| x >= high[i] - FLOAT_NOISE_K));
            self.heated.push(if counts { of_heated[i] } else { 0 });
        }
        self.heated_sum.append(&mut sum);
    }

    /// Highest minus lowest room at each instant in K; NaN without a quorum.
    pub(super) fn spread(&self) -> &[f64] {
        &self.spread
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
        let (count, sum) = match is_heated {
            true => (f64::from(self.heated[i]) - 1.0, self.heated_sum[i] - x),
            false => (f64::from(self.heated[i]), self.heated_sum[i]),
        };
        if count > 0.0 { x - sum / count } else { f64::NAN }
    }
}

fn at_end(rooms: &[&[f64]], i: usize, is: impl Fn(f64) -> bool) -> AtEnd {
    let mut found = AtEnd::Several;
    let mut count = 0;
    for (room, values) in rooms.iter().enumerate() {
        if is(values[i]) {
            found = AtEnd::One(room as u16);
            count += 1;
        }
    }
    if count == 1 { found } else { AtEnd::Several }
}

/// Rooms that must be present for a spread: the site's quorum, else all rooms but one; never less than two.
pub(super) fn quorum(site: &Site, home: &Home) -> usize {
    site.spread.quorum.unwrap_or(home.rooms.len().saturating_sub(1)).max(2)
}
