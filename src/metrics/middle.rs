//! The middle of the rooms that a home's other rooms are held against, at each instant.
//!
//! Settled here, and why:
//! - **The median**, because one room that is kept hot, or whose heating is broken, would move a mean, and make its good
//!   neighbours look uneven. A room that serves itself is held against the median of the others.

use std::ops::Range;

use crate::stats;

/// Instants looked at together: few enough for the processor to keep all that is said of them at hand.
pub(super) const LANES: usize = 4;
/// Values at such instants.
pub(super) type Few = [f64; LANES];

/// What lies in the middle of some rooms at one instant, so that the median of all, and of all but one, can be told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Middle {
    /// Of an odd number the one in the middle; of an even number NaN.
    middle: f64,
    /// The next below and above the middle; NaN where there is none.
    below: f64,
    above: f64,
}

/// What a room is held against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reference {
    /// In °C; NaN where there is none.
    pub(super) degc: f64,
    /// How far the two rooms lie apart that it is the mean of, in K; NaN where it is one room.
    pub(super) apart_k: f64,
}

impl Middle {
    const NONE: Self = Self { middle: f64::NAN, below: f64::NAN, above: f64::NAN };

    /// Of values in rising order.
    fn of(sorted: impl Fn(usize) -> f64, count: usize) -> Self {
        let half = count / 2;
        match count {
            0 => Self::NONE,
            1 => Self { middle: sorted(0), ..Self::NONE },
            _ if count.is_multiple_of(2) => {
                Self { middle: f64::NAN, below: sorted(half - 1), above: sorted(half) }
            }
            _ => Self { middle: sorted(half), below: sorted(half - 1), above: sorted(half + 1) },
        }
    }

    /// What a room that reads `x` is held against; one that `serves` is one of the rooms, and left out.
    #[inline]
    pub(super) fn reference(self, x: f64, serves: bool) -> Reference {
        let Self { middle, below, above } = self;
        let between = |low: f64, high: f64| Reference { degc: (low + high) / 2.0, apart_k: high - low };
        let one = |degc: f64| Reference { degc, apart_k: f64::NAN };
        match (serves, middle.is_nan()) {
            (false, true) => between(below, above),
            (false, false) => one(middle),
            // Without one of the lower half that of the upper half is in the middle.
            (true, true) => one(if x <= below { above } else { below }),
            (true, false) if x < middle => between(middle, above),
            (true, false) if x > middle => between(below, middle),
            (true, false) => between(below, above),
        }
    }
}

/// The middle at each grid instant.
#[derive(Debug, Default)]
pub(super) struct Middles {
    middle: Vec<f64>,
    below: Vec<f64>,
    above: Vec<f64>,
    /// Kept for its memory.
    sorted: Vec<Few>,
}

impl Middles {
    pub(super) fn with_capacity(len: usize) -> Self {
        let [middle, below, above] = std::array::from_fn(|_| Vec::with_capacity(len));
        Self { middle, below, above, sorted: Vec::new() }
    }

    pub(super) fn truncate(&mut self, len: usize) {
        for values in [&mut self.middle, &mut self.below, &mut self.above] {
            values.truncate(len);
        }
    }

    /// Goes on with the next instants; `enough`: at which of them as many rooms are present as it takes.
    pub(super) fn add<'a>(&mut self, rooms: impl Iterator<Item = &'a Few>, enough: [bool; LANES]) {
        self.sorted.clear();
        let mut count = [0_usize; LANES];
        for x in rooms {
            // What is missing comes last.
            self.sorted.push(x.map(|x| if x.is_nan() { f64::INFINITY } else { x }));
            for i in 0..LANES {
                count[i] += usize::from(!x[i].is_nan());
            }
            for k in (1..self.sorted.len()).rev() {
                let (low, high) = (self.sorted[k - 1], self.sorted[k]);
                for i in 0..LANES {
                    self.sorted[k - 1][i] = stats::lower(low[i], high[i]);
                    self.sorted[k][i] = stats::higher(low[i], high[i]);
                }
            }
        }
        for i in 0..LANES {
            let here = if enough[i] { count[i] } else { 0 };
            let Middle { middle, below, above } = Middle::of(|k| self.sorted[k][i], here);
            self.middle.push(middle);
            self.below.push(below);
            self.above.push(above);
        }
    }

    pub(super) fn at(&self, i: usize) -> Middle {
        Middle { middle: self.middle[i], below: self.below[i], above: self.above[i] }
    }

    pub(super) fn of(&self, range: Range<usize>) -> impl Iterator<Item = Middle> {
        let ends = self.below[range.clone()].iter().zip(&self.above[range.clone()]);
        let middles = self.middle[range].iter().zip(ends);
        middles.map(|(middle, (below, above))| Middle { middle: *middle, below: *below, above: *above })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The middle of rooms at one instant.
    fn middle(degc: &[f64]) -> Middle {
        let mut middles = Middles::default();
        let rooms: Vec<Few> = degc.iter().map(|x| [*x; LANES]).collect();
        middles.add(rooms.iter(), [true; LANES]);
        middles.at(0)
    }

    #[test]
    fn each_is_held_against_the_median_of_the_others() {
        for degc in [&[21.0][..], &[21.0, 19.0], &[21.0, 27.0, 20.0], &[20.0, 20.0, 20.0, 27.0, 21.0, 20.0]] {
            let all = stats::median(degc.to_vec()).unwrap();
            assert!((middle(degc).reference(0.0, false).degc - all).abs() < 1e-12);
            for (room, x) in degc.iter().enumerate() {
                let others = degc.iter().enumerate().filter(|(r, _)| *r != room).map(|(_, x)| *x);
                let expected = stats::median(others.collect());
                let found = Some(middle(degc).reference(*x, true).degc).filter(|degc| !degc.is_nan());
                assert_eq!(found, expected, "{degc:?} {room}");
            }
        }
    }

    #[test]
    fn how_far_apart_its_two_rooms_are_is_known() {
        let apart = |x: f64, serves: bool| middle(&[15.0, 21.0, 21.5]).reference(x, serves).apart_k;
        for (x, k) in [(15.0, 0.5), (21.0, 6.5), (21.5, 6.0)] {
            assert!((apart(x, true) - k).abs() < 1e-12);
        }
        assert!(apart(18.0, false).is_nan(), "it is one room");
        assert!((middle(&[15.0, 21.0]).reference(18.0, false).apart_k - 6.0).abs() < 1e-12);
    }

    #[test]
    fn without_rooms_there_is_no_reference() {
        assert!(middle(&[]).reference(20.0, false).degc.is_nan());
        assert!(middle(&[f64::NAN]).reference(20.0, false).degc.is_nan());
        assert!(middle(&[20.0]).reference(20.0, true).degc.is_nan());
    }
}
