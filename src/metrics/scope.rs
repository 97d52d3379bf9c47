//! The part of a home's record that a number is about.
//!
//! Settled here, and why:
//! - **Slices** are index ranges; a run or window never reaches across the edge of one. `night` is the night of the band
//!   (22:00–06:00 unless the site says otherwise), `day` the rest. The night band holds at night in every slice.

use std::cell::OnceCell;
use std::ops::Range;

use super::heating::Heating;
use super::home_cache::{HomeCache, OUTDOOR_BIN_K};
use super::min_max_pyramid::{Blocks, Ends};
use super::offset::RoomOffsets;
use super::room_spread::{self, RoomSpread};
use crate::grid::AlignedHome;
use crate::site::{Band, Home, Room, Site};
use crate::stats::Rising;

/// A part of a period.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
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

/// A period, and what is looked at once for all its slices.
#[derive(Debug)]
pub(super) struct Period {
    range: Range<usize>,
    spreads: OnceCell<Rising>,
    without_heat: OnceCell<Vec<WithoutHeat>>,
}

/// A room (`None`: the home) and the times at which it lay far below what is usual.
pub(super) type WithoutHeat = (Option<usize>, Vec<LowTime>);

/// A time far below what is usual, as a range of the grid.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct LowTime {
    pub(super) at: Range<usize>,
    /// What the heating did meanwhile.
    pub(super) heating: Heating,
}

impl Period {
    /// Of instants of the grid.
    pub(super) fn new(range: Range<usize>) -> Self {
        Self { range, spreads: OnceCell::new(), without_heat: OnceCell::new() }
    }

    /// Its instants.
    pub(super) fn range(&self) -> &Range<usize> {
        &self.range
    }
}

/// A home in one period and slice.
#[derive(Debug)]
pub struct HomeScope<'a> {
    whole: &'a HomeCache<'a>,
    period: &'a Period,
    slice: Slice,
    /// The slice over the whole grid, whatever the period.
    of_slice: Vec<Range<usize>>,
    /// The slice within the period.
    ranges: Vec<Range<usize>>,
    days: OnceCell<Vec<DayInScope>>,
    offsets: OnceCell<Vec<RoomOffsets>>,
}

/// The part of a local day that lies in a scope, and how many instants of the slice the whole day has.
pub(super) type DayInScope = (Vec<Range<usize>>, usize);

impl<'a> HomeScope<'a> {
    pub(super) fn new(
        whole: &'a HomeCache<'a>,
        slice: Slice,
        of_slice: Vec<Range<usize>>,
        period: &'a Period,
    ) -> Self {
        let ranges = clip(&of_slice, period.range());
        let (days, offsets) = (OnceCell::new(), OnceCell::new());
        Self { whole, period, slice, of_slice, ranges, days, offsets }
    }

    /// The same home and period in another slice.
    pub(super) fn of_slice(&self, slice: Slice) -> HomeScope<'a> {
        self.whole.scope(slice, self.period)
    }

    /// For each room its offsets from day to day, and what they are held against.
    pub(super) fn offsets(&'a self) -> &'a [RoomOffsets] {
        self.offsets.get_or_init(|| RoomOffsets::of(self))
    }

    /// Times without heat in the period: of the home, then of rooms alone.
    pub(super) fn without_heat(&self, find: impl FnOnce() -> Vec<WithoutHeat>) -> &'a [WithoutHeat] {
        self.period.without_heat.get_or_init(find)
    }

    /// One of its rooms.
    pub fn room(&'a self, index: usize) -> RoomScope<'a> {
        RoomScope { scope: self, index }
    }

    /// Rooms, in roster order.
    pub fn rooms(&self) -> &'a [Room] {
        &self.whole.home.rooms
    }

    /// The home.
    pub(super) fn home(&self) -> &'a Home {
        self.whole.home
    }

    /// The site's settings.
    pub fn site(&self) -> &'a Site {
        self.whole.site
    }

    /// Which slice this is.
    pub fn slice(&self) -> Slice {
        self.slice
    }

    /// The grid.
    pub fn aligned(&self) -> &'a AlignedHome {
        self.whole.aligned
    }

    /// Index ranges, in order.
    pub fn ranges(&self) -> &[Range<usize>] {
        &self.ranges
    }

    /// Values of a room over the whole grid, NaN where missing.
    pub fn degc(&self, room: usize) -> &'a [f64] {
        self.whole.aligned.rooms()[room].degc()
    }

    /// Grid instants that must be present for a spread: the site's quorum, else all rooms but one; never less than two.
    pub fn quorum(&self) -> usize {
        room_spread::quorum(self.whole.site, self.whole.home)
    }

    /// The rooms at the same instants, over the whole grid.
    pub(super) fn together(&self) -> &'a RoomSpread {
        self.whole.together()
    }

    /// The spreads of the whole period in rising order, each with its instant.
    pub(super) fn spreads_of_period(&self) -> &'a Rising {
        let rising = || Rising::of(self.whole.together().spread(), self.period.range.clone());
        self.period.spreads.get_or_init(rising)
    }

    /// For each local day with an instant in the scope: its part of the scope, and how many instants of the slice the whole local day has.
    pub(super) fn days(&self) -> &[DayInScope] {
        let day = |d: &crate::grid::GridDay| {
            let whole = d.from..d.to;
            let here = clip(&self.ranges, &whole);
            (!here.is_empty()).then(|| (here, clip(&self.of_slice, &whole).iter().map(Range::len).sum()))
        };
        self.days.get_or_init(|| self.whole.aligned.days().iter().filter_map(day).collect())
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
        self.scope.whole.aligned.rooms()[self.index].humidity_percent()
    }

    /// Accuracy of the room's loggers against the true temperature (95 % half-width), in K.
    pub fn accuracy_k(&self) -> f64 {
        self.scope.whole.aligned.rooms()[self.index].accuracy().absolute.k()
    }

    /// The same against the loggers of the other rooms, in K.
    pub fn relative_k(&self) -> f64 {
        self.scope.whole.aligned.rooms()[self.index].accuracy().relative.k()
    }

    /// Hours that one value stands for.
    pub fn step_h(&self) -> f64 {
        self.scope.whole.aligned.step_h()
    }

    /// The values in blocks of the grid.
    pub(super) fn blocks(&self) -> &'a Blocks {
        self.scope.whole.blocks(self.index)
    }

    /// The values present, in order, side by side.
    pub fn values(&self) -> Vec<f64> {
        self.blocks().values(self.degc(), &self.scope.ranges)
    }

    /// Lowest and highest value in some ranges.
    pub(super) fn ends(&self, ranges: &[Range<usize>]) -> Ends {
        let ends = ranges.iter().map(|range| self.blocks().ends(self.degc(), range));
        ends.fold(Ends::NONE, Ends::with)
    }

    /// Grid instants with a value in some ranges.
    pub(super) fn count(&self, ranges: &[Range<usize>]) -> usize {
        ranges.iter().map(|range| self.blocks().count(range)).sum()
    }

    /// Grid instants with a value.
    pub fn instants_observed(&self) -> usize {
        self.count(&self.scope.ranges)
    }

    /// Whether any value of the room rests on a suspect reading, anywhere on the grid.
    pub(super) fn any_suspect(&self) -> bool {
        !self.scope.whole.aligned.rooms()[self.index].suspect().is_empty()
    }

    /// The parts of a range whose values rest on suspect readings.
    pub(super) fn suspect_in(&self, range: &Range<usize>) -> Vec<Range<usize>> {
        clip(self.scope.whole.aligned.rooms()[self.index].suspect(), range)
    }

    /// Grid instants whose value rests on a suspect reading.
    pub(super) fn instants_suspect(&self) -> usize {
        self.scope.ranges.iter().map(|range| self.count(&self.suspect_in(range))).sum()
    }

    /// Whether a value at an instant rests on a suspect reading.
    pub(super) fn is_suspect(&self, i: usize) -> bool {
        let suspect = self.scope.whole.aligned.rooms()[self.index].suspect();
        suspect.get(suspect.partition_point(|r| r.end <= i)).is_some_and(|r| r.contains(&i))
    }

    /// Whether so much of the room's time is suspect that no pass may rest on it.
    pub(super) fn mostly_doubtful(&self) -> bool {
        let observed = self.instants_observed() as f64;
        self.any_suspect()
            && self.instants_suspect() as f64 > super::coverage::MOST_SUSPECT / 100.0 * observed
    }

    /// Hours with a value.
    pub fn hours_observed(&self) -> f64 {
        self.instants_observed() as f64 * self.step_h()
    }

    /// The parts of the scope in which a logger stood in the room; all of it when none ever did.
    pub fn placed_ranges(&self) -> Vec<Range<usize>> {
        let placed = self.scope.whole.aligned.rooms()[self.index].placed();
        match self.scope.whole.home.rooms[self.index].placements.is_empty() {
            true => self.scope.ranges.clone(),
            false => placed.iter().flat_map(|p| clip(&self.scope.ranges, p)).collect(),
        }
    }

    /// Grid instants of the scope at which a logger stood in the room; all of them when none ever did.
    pub fn instants_placed(&self) -> usize {
        self.placed_ranges().iter().map(Range::len).sum()
    }

    /// The parts of a range, in order, and the band that holds in each.
    pub(super) fn bands_in(
        &self,
        range: &Range<usize>,
    ) -> impl Iterator<Item = (Range<usize>, Option<Band>)> + use<'a> {
        let bands = &self.scope.whole.site.bands;
        let nights = bands.night.map_or(&[][..], |_| self.scope.whole.aligned.night());
        let mut nights = nights[nights.partition_point(|n| n.end <= range.start)..].iter().peekable();
        let (mut from, end) = (range.start, range.end);
        std::iter::from_fn(move || {
            while nights.next_if(|n| n.end <= from).is_some() {}
            let (to, band) = match nights.peek() {
                Some(night) if night.start <= from => (night.end.min(end), bands.night),
                Some(night) => (night.start.min(end), bands.occupied),
                None => (end, bands.occupied),
            };
            let part = from..to;
            from = to;
            (!part.is_empty()).then_some((part, band))
        })
    }

    /// The band that holds at an instant.
    pub fn band_at(&self, i: usize) -> Option<Band> {
        let bands = &self.scope.whole.site.bands;
        let night = bands.night.filter(|_| {
            let nights = self.scope.whole.aligned.night();
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
    fn bins_have_words() {
        assert_eq!(Slice::Outdoor(-1).words(), "outdoor -2 to 0 °C");
    }

    #[test]
    fn ranges_are_clipped_and_complemented() {
        let nights = [0..2, 6..8];
        assert_eq!(complement(&nights, 10), [2..6, 8..10]);
        assert_eq!(clip(&nights, &(1..7)), [1..2, 6..7]);
        assert!(clip(&nights, &(3..5)).is_empty());
    }
}
