//! What is computed once of a home over its whole grid, and kept for all periods, slices and families.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::ops::Range;

use chrono::{Datelike, Weekday};

use super::min_max_pyramid::Blocks;
use super::room_spread::RoomSpread;
use super::scope::{HomeScope, Period, Slice, clip, complement};
use crate::grid::{AlignedHome, joined};
use crate::site::{Home, Site};

/// Width of a bin of the outdoor temperature, in K.
pub(super) const OUTDOOR_BIN_K: i32 = 2;

/// The bin of an outdoor temperature.
fn bin(degc: f64) -> i32 {
    (degc / f64::from(OUTDOOR_BIN_K)).floor() as i32
}

/// The temperatures of a bin.
fn bounds(bin: i32) -> Range<f64> {
    f64::from(bin * OUTDOOR_BIN_K)..f64::from((bin + 1) * OUTDOOR_BIN_K)
}

/// A home and its grid.
#[derive(Debug)]
pub(super) struct HomeCache<'a> {
    pub(super) site: &'a Site,
    pub(super) home: &'a Home,
    pub(super) aligned: &'a AlignedHome,
    /// The rooms at the same instants.
    together: OnceCell<RoomSpread>,
    blocks: Vec<OnceCell<Blocks>>,
    outdoor_bins: OnceCell<BTreeMap<i32, Vec<Range<usize>>>>,
}

impl<'a> HomeCache<'a> {
    pub(super) fn new(site: &'a Site, home: &'a Home, aligned: &'a AlignedHome) -> Self {
        let blocks = aligned.rooms().iter().map(|_| OnceCell::new()).collect();
        Self { site, home, aligned, together: OnceCell::new(), blocks, outdoor_bins: OnceCell::new() }
    }

    /// The rooms at the same instants, over the whole grid.
    pub(super) fn together(&self) -> &RoomSpread {
        self.together.get_or_init(|| RoomSpread::of(self.site, self.home, self.aligned))
    }

    /// A slice within a period.
    pub(super) fn scope(&'a self, slice: Slice, period: &'a Period) -> HomeScope<'a> {
        HomeScope::new(self, slice, self.ranges_of(slice), period)
    }

    /// The values of a room in blocks.
    pub(super) fn blocks(&self, room: usize) -> &Blocks {
        self.blocks[room].get_or_init(|| Blocks::of(self.aligned.rooms()[room].degc()))
    }

    /// Weekdays, weekends, and the outdoor bins that a period has, the coldest first.
    pub(super) fn further_slices(&self, period: &Period) -> Vec<Slice> {
        let bins = self.outdoor_bins().iter().filter(|(_, ranges)| !clip(ranges, period.range()).is_empty());
        [Slice::MondayToFriday, Slice::Weekend]
            .into_iter()
            .chain(bins.map(|(bin, _)| Slice::Outdoor(*bin)))
            .collect()
    }

    /// Index ranges of a slice over the whole grid.
    fn ranges_of(&self, slice: Slice) -> Vec<Range<usize>> {
        let aligned = self.aligned;
        match slice {
            Slice::All => std::iter::once(0..aligned.len()).collect(),
            Slice::Day => complement(aligned.night(), aligned.len()),
            Slice::Night => aligned.night().to_vec(),
            Slice::MondayToFriday => self.days_of(false),
            Slice::Weekend => self.days_of(true),
            Slice::Outdoor(bin) => self.outdoor_bins().get(&bin).cloned().unwrap_or_default(),
        }
    }

    /// Index ranges of the days of a weekend, or of the others.
    fn days_of(&self, weekend: bool) -> Vec<Range<usize>> {
        let weekday = |from: usize| self.site.zone.date(self.aligned.time(from)).weekday();
        let is = |from: usize| matches!(weekday(from), Weekday::Sat | Weekday::Sun);
        joined(self.aligned.days().iter().filter(|d| is(d.from) == weekend).map(|d| d.from..d.to))
    }

    fn outdoor_bins(&self) -> &BTreeMap<i32, Vec<Range<usize>>> {
        self.outdoor_bins.get_or_init(|| outdoor_bins(self.aligned.outdoor().unwrap_or_default()))
    }
}

/// Where an outdoor temperature lies in which bin, in one walk.
fn outdoor_bins(outdoor: &[f64]) -> BTreeMap<i32, Vec<Range<usize>>> {
    let mut bins: BTreeMap<i32, Vec<Range<usize>>> = BTreeMap::new();
    let mut at = 0;
    while let Some(degc) = outdoor.get(at) {
        let inside = bounds(bin(*degc));
        let len = outdoor[at..].iter().take_while(|x| inside.contains(x)).count();
        if len > 0 {
            bins.entry(bin(*degc)).or_default().push(at..at + len);
        }
        // A missing temperature lies in no bin.
        at += len.max(1);
    }
    bins
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bins_hold_their_lower_end() {
        assert_eq!([-2.0, -0.1, 0.0, 1.9, 2.0].map(bin), [-1, -1, 0, 0, 1]);
        for x in [-7.3, -2.0, -0.1, 0.0, 1.9, 2.0, 11.999] {
            assert!(bounds(bin(x)).contains(&x));
        }
    }

    #[test]
    fn one_walk_finds_what_a_walk_per_bin_finds() {
        let wander = |i: u32| f64::from(i.wrapping_mul(2_654_435_761) >> 20) / 900.0 - 2.0;
        let outdoor: Vec<f64> = (0..900)
            .map(|i| if (300..310).contains(&i) || i % 83 == 0 { f64::NAN } else { wander(i / 7) })
            .collect();
        let bins = outdoor_bins(&outdoor);
        assert!(bins.len() > 2);
        for wanted in -4..5 {
            let inside = bounds(wanted);
            let within = (0..outdoor.len()).filter(|i| inside.contains(&outdoor[*i])).map(|i| i..i + 1);
            assert_eq!(bins.get(&wanted).cloned().unwrap_or_default(), joined(within));
        }
    }
}
