//! How warm the other homes were in the same hours, and which of their rooms were below the minimum too.
//!
//! Settled here, and why:
//! - **The other homes have no name** in what the two parties get: their rooms tell when other people were cold or at home.
//!   Who made the sheet sees on the terminal which they are.

use super::Complaint;
use crate::clock::{Span, UtcTime};
use crate::units::KelvinDiff;

/// Rooms of other homes that are named on the terminal; more are counted.
const NAMED: usize = 4;

/// The other homes in the same hours.
#[derive(Debug, Default)]
pub struct Others {
    /// Whether these are the hours in which the home was too cold; else all of the time.
    pub of_shortfall: bool,
    /// How many whole hours.
    pub hours: usize,
    /// Other homes with a record of at least half of them, the coldest first.
    pub homes: Vec<OtherHome>,
    /// Their rooms that were below the minimum of the heat rule while this home was, the longest first.
    pub below_too: Vec<BelowToo>,
    /// Lowest and highest home hour by hour in the whole time, in °C.
    pub ranges: Vec<(UtcTime, [f64; 2])>,
}

/// Another home.
#[derive(Debug)]
pub struct OtherHome {
    /// Its name.
    pub name: String,
    /// By how much it was warmer on the mean over the hours that both have, in K.
    pub warmer_k: f64,
}

/// A room of another home that was below the minimum in the same hours.
#[derive(Debug)]
pub struct BelowToo {
    /// The home.
    pub home: String,
    /// The room; `None`: the mean of its rooms.
    pub room: Option<String>,
    /// For how many hours, even with the sensor accuracy added.
    pub hours: f64,
}

impl Others {
    /// By how much the median home was warmer, in K; `None` without any.
    pub fn median_warmer_k(&self) -> Option<f64> {
        let n = self.homes.len();
        (n > 0).then(|| f64::midpoint(self.homes[(n - 1) / 2].warmer_k, self.homes[n / 2].warmer_k))
    }

    /// How many homes had a room that was below the minimum with this one.
    pub fn homes_below(&self) -> usize {
        let mut names: Vec<&str> = self.below_too.iter().map(|b| b.home.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        names.len()
    }

    /// The coldest first, the longest first.
    pub fn sorted(mut self) -> Self {
        self.homes.sort_by(|a, b| a.warmer_k.total_cmp(&b.warmer_k));
        self.below_too.sort_by(|a, b| b.hours.total_cmp(&a.hours));
        self
    }
}

/// Hours that two lists of times share; times of one list may lie over each other, and count once.
pub fn shared_hours(some: &[Span], others: &[Span]) -> f64 {
    let mut parts: Vec<Span> =
        some.iter().flat_map(|a| others.iter().filter(|b| a.overlaps(b)).map(|b| a.intersect(b))).collect();
    parts.sort_by_key(|part| part.from);
    let mut until = UtcTime::from_ms(i64::MIN);
    let mut hours = 0.0;
    for part in parts {
        let from = part.from.max(until);
        if from < part.to {
            hours += Span { from, to: part.to }.hours();
            until = part.to;
        }
    }
    hours
}

impl Complaint<'_> {
    /// How warm the other homes were meanwhile, in a sentence or two.
    pub fn others(&self) -> String {
        format!("{}{}", self.how_warm(), self.who_else())
    }

    fn how_warm(&self) -> String {
        let Others { of_shortfall, hours, homes, .. } = &self.heard.others;
        let units = self.site().units;
        let show = |k: f64| {
            let by = units.show_difference(KelvinDiff::new(k.abs()));
            format!("{by} {}", if k < 0.0 { "colder" } else { "warmer" })
        };
        let (meanwhile, these) = match of_shortfall {
            true => ("While this home was too cold,", "the hours in which this home was too cold"),
            false => ("In this time", "this time"),
        };
        let warmer: Vec<f64> = homes.iter().map(|h| h.warmer_k).collect();
        match warmer.as_slice() {
            [] if *hours == 0 => format!(
                "There is no whole hour in {these}, so that the other homes cannot be held against this one, hour by hour."
            ),
            [] => format!(
                "No other home of the roster has a record of at least half of {these}: of the rest of the building nothing can be said."
            ),
            [one] => {
                format!("{meanwhile} the one other home with a record was {} on the mean.", show(*one))
            }
            [first, .., last] => {
                let n = warmer.len();
                let median = self.heard.others.median_warmer_k().map_or_else(String::new, show);
                let median =
                    if median.is_empty() { median } else { format!("; the one in the middle was {median}") };
                format!(
                    "{meanwhile} the {n} other homes with a record were between {} and {} than this one, on the mean{median}.",
                    show(*first),
                    show(*last)
                )
            }
        }
    }

    /// Which of their rooms were below the minimum in the same hours; empty where nothing was held against one.
    fn who_else(&self) -> String {
        let Others { of_shortfall, homes, below_too, .. } = &self.heard.others;
        if !of_shortfall || homes.is_empty() || self.heard.minima.is_empty() {
            return String::new();
        }
        let show = |hours: f64| format!("{hours:.1}");
        match below_too.as_slice() {
            [] => " None of their rooms was certainly below the minimum then.".to_owned(),
            [one] => format!(
                " Certainly below the minimum with it: one room of another home, for {} h.",
                show(one.hours)
            ),
            [longest, .., shortest] => {
                let (rooms, homes) = (below_too.len(), self.heard.others.homes_below());
                let homes = match homes {
                    1 => "another home".to_owned(),
                    n => format!("{n} other homes"),
                };
                let range = match (show(shortest.hours), show(longest.hours)) {
                    (a, b) if a == b => a,
                    (a, b) => format!("{a} to {b}"),
                };
                format!(" Certainly below the minimum with it: {rooms} rooms of {homes}, for {range} h.")
            }
        }
    }

    /// Which rooms these were, by their names: for who made the sheet, never on it. `None` where there are none.
    pub fn below_too_by_name(&self) -> Option<String> {
        let below_too = &self.heard.others.below_too;
        let named = below_too
            .iter()
            .take(NAMED)
            .map(|b| format!("{} {} ({:.1} h)", b.home, b.room.as_deref().unwrap_or("on the mean"), b.hours));
        let named = named.collect::<Vec<_>>().join(", ");
        let more = match below_too.len().saturating_sub(NAMED) {
            0 => String::new(),
            n => format!(" and {n} rooms more"),
        };
        (!named.is_empty()).then(|| {
            format!("Which these were (not on the sheet, which is for the two parties): {named}{more}.")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shared_hours_count_once() {
        let h = |from: i64, to: i64| Span {
            from: UtcTime::from_ms(from * 3_600_000),
            to: UtcTime::from_ms(to * 3_600_000),
        };
        // Two rooms of this home, 0 to 4 and 2 to 6; the other home from 3 to 5 and from 5 to 8: shared 3 to 6.
        assert!((shared_hours(&[h(0, 4), h(2, 6)], &[h(3, 5), h(5, 8)]) - 3.0).abs() < 1e-12);
        assert!(shared_hours(&[h(0, 1)], &[h(1, 2)]).abs() < 1e-12);
    }
}
