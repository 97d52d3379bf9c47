//! The part of a home's record that a number is about.

use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::ops::Range;

use chrono::{Datelike, Weekday};

use super::together::{self, Together};
use crate::grid::AlignedHome;
use crate::site::{Band, Home, Room, Site};

/// A part of a period.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slice {
    /// All hours.
    All,
    /// The hours that are not night.
    Day,
    /// The night hours of the site's band (22:00 to 06:00 unless it says otherwise).
    Night,
    /// Local days from Monday to Friday.
    MondayToFriday,
    /// Saturdays and Sundays.
    Weekend,
    /// Instants with an outdoor temperature from so many times 2 K on, up to 2 K more.
    Outdoor(i32),
}

/// Width of a bin of the outdoor temperature, in K.
pub(super) const OUTDOOR_BIN_K: i32 = 2;

impl Slice {
    /// The slices that every metric is given for.
    pub const ALL: [Slice; 3] = [Slice::All, Slice::Day, Slice::Night];

    /// The words in tables.
    pub fn words(self) -> String {
        match self {
            Slice::All => "all".to_owned(),
            Slice::Day => "day".to_owned(),
            Slice::Night => "night".to_owned(),
            Slice::MondayToFriday => "monday to friday".to_owned(),
            Slice::Weekend => "saturday and sunday".to_owned(),
            Slice::Outdoor(bin) => {
                format!("outdoor {} to {} °C", bin * OUTDOOR_BIN_K, (bin + 1) * OUTDOOR_BIN_K)
            }
        }
    }
}

/// The bin of an outdoor temperature.
fn bin(degc: f64) -> i32 {
    (degc / f64::from(OUTDOOR_BIN_K)).floor() as i32
}

/// The temperatures of a bin.
fn bounds(bin: i32) -> Range<f64> {
    f64::from(bin * OUTDOOR_BIN_K)..f64::from((bin + 1) * OUTDOOR_BIN_K)
}

/// Weekdays, weekends, and the outdoor bins that a period has, the coldest first.
pub(super) fn further_slices(aligned: &AlignedHome, period: &Range<usize>) -> Vec<Slice> {
    let outdoor = aligned.outdoor().map_or(&[][..], |o| &o[period.clone()]);
    let mut bins = BTreeSet::new();
    for same in outdoor.chunk_by(|a, b| a.to_bits() == b.to_bits() || (bounds(bin(*a)).contains(b))) {
        bins.extend(same.first().filter(|x| !x.is_nan()).map(|x| bin(*x)));
    }
    [Slice::MondayToFriday, Slice::Weekend].into_iter().chain(bins.into_iter().map(Slice::Outdoor)).collect()
}

/// Index ranges of a slice over the whole grid.
fn ranges_of(site: &Site, aligned: &AlignedHome, slice: Slice) -> Vec<Range<usize>> {
    let days = |weekend: bool| {
        let is =
            |from: usize| matches!(site.zone.date(aligned.time(from)).weekday(), Weekday::Sat | Weekday::Sun);
        let days = aligned.days().iter().filter(|d| is(d.from) == weekend).map(|d| d.from..d.to);
        joined(days)
    };
    match slice {
        Slice::All => std::iter::once(0..aligned.len()).collect(),
        Slice::Day => complement(aligned.night(), aligned.len()),
        Slice::Night => aligned.night().to_vec(),
        Slice::MondayToFriday => days(false),
        Slice::Weekend => days(true),
        Slice::Outdoor(wanted) => {
            let outdoor = aligned.outdoor().unwrap_or_default();
            let inside = bounds(wanted);
            let mut at = 0;
            let parts = outdoor.chunk_by(|a, b| inside.contains(a) == inside.contains(b)).map(|part| {
                at += part.len();
                (at - part.len()..at, inside.contains(&part[0]))
            });
            parts.filter(|(_, inside)| *inside).map(|(part, _)| part).collect()
        }
    }
}

/// Ranges in rising order, those that touch made one.
fn joined(ranges: impl Iterator<Item = Range<usize>>) -> Vec<Range<usize>> {
    let mut joined: Vec<Range<usize>> = Vec::new();
    for range in ranges {
        match joined.last_mut() {
            Some(last) if last.end == range.start => last.end = range.end,
            _ => joined.push(range),
        }
    }
    joined
}

/// A home in one period and slice.
#[derive(Debug)]
pub struct HomeScope<'a> {
    site: &'a Site,
    home: &'a Home,
    aligned: &'a AlignedHome,
    slice: Slice,
    /// The slice over the whole grid, whatever the period.
    of_slice: Vec<Range<usize>>,
    /// The slice within the period.
    ranges: Vec<Range<usize>>,
    together: &'a Together,
    days: OnceCell<Vec<DayInScope>>,
}

/// The part of a local day that lies in a scope, and how many instants of the slice the whole day has.
pub(super) type DayInScope = (Vec<Range<usize>>, usize);

impl<'a> HomeScope<'a> {
    pub(super) fn new(
        site: &'a Site,
        home: &'a Home,
        aligned: &'a AlignedHome,
        together: &'a Together,
        slice: Slice,
        period: Range<usize>,
    ) -> Self {
        let of_slice = ranges_of(site, aligned, slice);
        let ranges = clip(&of_slice, &period);
        Self { site, home, aligned, slice, of_slice, ranges, together, days: OnceCell::new() }
    }

    /// One of its rooms.
    pub fn room(&'a self, index: usize) -> RoomScope<'a> {
        RoomScope { scope: self, index }
    }

    /// Rooms, in roster order.
    pub fn rooms(&self) -> &'a [Room] {
        &self.home.rooms
    }

    /// The site's settings.
    pub fn site(&self) -> &'a Site {
        self.site
    }

    /// Which slice this is.
    pub fn slice(&self) -> Slice {
        self.slice
    }

    /// The grid.
    pub fn aligned(&self) -> &'a AlignedHome {
        self.aligned
    }

    /// Index ranges, in order.
    pub fn ranges(&self) -> &[Range<usize>] {
        &self.ranges
    }

    /// Values of a room over the whole grid, NaN where missing.
    pub fn degc(&self, room: usize) -> &'a [f64] {
        self.aligned.rooms()[room].degc()
    }

    /// Grid instants that must be present for a spread: the site's quorum, else all rooms but one; never less than two.
    pub fn quorum(&self) -> usize {
        together::quorum(self.site, self.home)
    }

    /// The rooms at the same instants, over the whole grid.
    pub(super) fn together(&self) -> &'a Together {
        self.together
    }

    /// For each local day with an instant in the scope: its part of the scope, and how many instants of the slice the whole local day has.
    pub(super) fn days(&self) -> &[DayInScope] {
        let day = |d: &crate::grid::GridDay| {
            let whole = d.from..d.to;
            let here = clip(&self.ranges, &whole);
            (!here.is_empty()).then(|| (here, clip(&self.of_slice, &whole).iter().map(Range::len).sum()))
        };
        self.days.get_or_init(|| self.aligned.days().iter().filter_map(day).collect())
    }
}

/// A room in one period and slice.
#[derive(Clone, Copy, Debug)]
pub struct RoomScope<'a> {
    scope: &'a HomeScope<'a>,
    index: usize,
}

impl<'a> RoomScope<'a> {
    /// The home's scope.
    pub fn home(&self) -> &'a HomeScope<'a> {
        self.scope
    }

    /// Place of the room in the home.
    pub fn index(&self) -> usize {
        self.index
    }

    /// Values over the whole grid, NaN where missing.
    pub fn degc(&self) -> &'a [f64] {
        self.scope.degc(self.index)
    }

    /// Relative humidity over the whole grid in %, NaN where missing; `None` where the room has none.
    pub fn humidity_percent(&self) -> Option<&'a [f64]> {
        self.scope.aligned.rooms()[self.index].humidity_percent()
    }

    /// Accuracy of the room's loggers, in K.
    pub fn accuracy_k(&self) -> f64 {
        self.scope.aligned.rooms()[self.index].accuracy().k()
    }

    /// Hours that one value stands for.
    pub fn step_h(&self) -> f64 {
        self.scope.aligned.step_h()
    }

    /// The values present, in order, side by side.
    pub fn values(&self) -> Vec<f64> {
        let degc = self.degc();
        let mut values = vec![0.0; self.scope.ranges.iter().map(Range::len).sum()];
        let mut count = 0;
        for range in &self.scope.ranges {
            for x in &degc[range.clone()] {
                values[count] = *x;
                count += usize::from(!x.is_nan());
            }
        }
        values.truncate(count);
        values
    }

    /// Grid instants with a value.
    pub fn instants_observed(&self) -> usize {
        let degc = self.degc();
        let count =
            |r: &Range<usize>| degc[r.clone()].iter().map(|x| usize::from(!x.is_nan())).sum::<usize>();
        self.scope.ranges.iter().map(count).sum()
    }

    /// Hours with a value.
    pub fn hours_observed(&self) -> f64 {
        self.instants_observed() as f64 * self.step_h()
    }

    /// The parts of the scope in which a logger stood in the room; all of it when none ever did.
    pub fn placed_ranges(&self) -> Vec<Range<usize>> {
        let placed = self.scope.aligned.rooms()[self.index].placed();
        match self.scope.home.rooms[self.index].placements.is_empty() {
            true => self.scope.ranges.clone(),
            false => placed.iter().flat_map(|p| clip(&self.scope.ranges, p)).collect(),
        }
    }

    /// Grid instants of the scope at which a logger stood in the room; all of them when none ever did.
    pub fn instants_placed(&self) -> usize {
        self.placed_ranges().iter().map(Range::len).sum()
    }

    /// The parts of a range, in order, and the band that holds in each.
    pub(super) fn bands_in(&self, range: &Range<usize>) -> Vec<(Range<usize>, Option<Band>)> {
        let bands = &self.scope.site.bands;
        let Some(night) = bands.night else { return vec![(range.clone(), bands.occupied)] };
        let mut parts = Vec::new();
        let mut from = range.start;
        for hours in clip(self.scope.aligned.night(), range) {
            parts.push((from..hours.start, bands.occupied));
            from = hours.end;
            parts.push((hours, Some(night)));
        }
        parts.push((from..range.end, bands.occupied));
        parts.retain(|(part, _)| !part.is_empty());
        parts
    }

    /// The band that holds at an instant.
    pub fn band_at(&self, i: usize) -> Option<Band> {
        let bands = &self.scope.site.bands;
        let night = bands.night.filter(|_| {
            let nights = self.scope.aligned.night();
            let after = nights.partition_point(|n| n.end <= i);
            nights.get(after).is_some_and(|n| n.contains(&i))
        });
        night.or(bands.occupied)
    }
}

/// The parts of some ranges that lie within another.
pub(super) fn clip(ranges: &[Range<usize>], within: &Range<usize>) -> Vec<Range<usize>> {
    let from = ranges.partition_point(|r| r.end <= within.start);
    let here = ranges[from..].iter().take_while(|r| r.start < within.end);
    here.map(|r| r.start.max(within.start)..r.end.min(within.end)).filter(|r| !r.is_empty()).collect()
}

/// What `ranges` leave of `0..len`.
pub(super) fn complement(ranges: &[Range<usize>], len: usize) -> Vec<Range<usize>> {
    let starts = std::iter::once(0).chain(ranges.iter().map(|r| r.end));
    let ends = ranges.iter().map(|r| r.start).chain(std::iter::once(len));
    starts.zip(ends).map(|(a, b)| a..b).filter(|r| !r.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bins_hold_their_lower_end_and_touching_ranges_are_one() {
        assert_eq!([-2.0, -0.1, 0.0, 1.9, 2.0].map(bin), [-1, -1, 0, 0, 1]);
        for x in [-7.3, -2.0, -0.1, 0.0, 1.9, 2.0, 11.999] {
            assert!(bounds(bin(x)).contains(&x));
        }
        assert_eq!(Slice::Outdoor(-1).words(), "outdoor -2 to 0 °C");
        assert_eq!(joined([0..2, 2..5, 7..8].into_iter()), [0..5, 7..8]);
    }

    #[test]
    fn ranges_are_clipped_and_complemented() {
        let nights = [0..2, 6..8];
        assert_eq!(complement(&nights, 10), [2..6, 8..10]);
        assert_eq!(clip(&nights, &(1..7)), [1..2, 6..7]);
        assert!(clip(&nights, &(3..5)).is_empty());
    }
}
