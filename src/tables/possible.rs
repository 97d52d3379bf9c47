//! What a row of the aligned table, or of the weather's, can say, where an audit of this site wrote it.
//!
//! Settled here, and why:
//! - **What an aligned table may say**: temperatures 10 K beyond what a sensor can read (offsets are taken off behind
//!   that test; any number where the test does not run), accuracies to 20 K, years 1990 to 2099, 11 million instants of a
//!   home, the site that asks. A weather table likewise. Tables of versions that wrote no site are refused, with the way
//!   on.

use std::ops::RangeInclusive;

use crate::clock::{LocalTime, UtcTime};
use crate::error::Trouble;
use crate::quality::Flag;
use crate::site::{MOST_INSTANTS, Site, Test, YEARS};
use crate::units::{Accuracy, KelvinDiff};

pub(super) const REMEDY: &str = "name an aligned.parquet that this version of evenrooms wrote, or its folder";

/// Offsets of a side-by-side check are taken off behind the test of what a sensor can read, in K.
const OFFSETS_K: f64 = 10.0;
/// No logger of rooms is off by more, in K.
const WORST_ACCURACY_K: f64 = 20.0;

/// A row as it stands in the file; `accuracy_k`: absolute and relative.
pub(super) struct GridRow<'a> {
    /// Its number, from 1.
    pub(super) number: u64,
    pub(super) site: &'a str,
    /// Empty for the weather.
    pub(super) home: &'a str,
    pub(super) room: &'a str,
    pub(super) time_ms: Option<i64>,
    pub(super) degc: Option<f64>,
    pub(super) accuracy_k: [Option<f64>; 2],
    pub(super) humidity: Option<f64>,
    pub(super) flag: Option<u8>,
}

/// What a row cannot be without.
pub(super) struct RowValues {
    pub(super) time_ms: i64,
    pub(super) degc: f64,
    pub(super) accuracy: Accuracy,
    pub(super) flag: u8,
}

impl GridRow<'_> {
    pub(super) fn wrong(&self, found: &str, expected: &str) -> Trouble {
        let place = [self.home, self.room].map(crate::texts::name).join(" ");
        let place = if self.home.is_empty() { "the weather".to_owned() } else { place };
        Trouble::new(format!("row {} ({place}): found {found}, expected {expected}", self.number), REMEDY)
    }
}

/// What rows of a home, or of the weather, can say.
pub(super) struct Possible {
    site: String,
    degc: RangeInclusive<f64>,
    times_ms: RangeInclusive<i64>,
    step_ms: i64,
}

impl Possible {
    /// For a home of a site; an empty name is the weather.
    pub(super) fn of(site: &Site, home: &str) -> Self {
        let limits = if home.is_empty() { site.quality.outdoors() } else { site.quality.clone() };
        // What nobody tested can be anything that a number of the export was.
        let degc = match limits.tests.contains(&Test::GrossRange) {
            true => {
                limits.gross_range.fail.0.degc() - OFFSETS_K..=limits.gross_range.fail.1.degc() + OFFSETS_K
            }
            false => f64::from(f32::MIN)..=f64::from(f32::MAX),
        };
        let new_year = |year| LocalTime::from_fields((year, 1, 1), (0, 0, 0), 0).map_or(0, LocalTime::ms);
        let times_ms = new_year(YEARS.start)..=new_year(YEARS.end) - 1;
        Self { site: site.name.clone(), degc, times_ms, step_ms: site.step_ms }
    }

    /// The values of a row.
    ///
    /// # Errors
    /// [`Trouble`] where one of them cannot be.
    pub(super) fn values(&self, row: &GridRow<'_>) -> Result<RowValues, Trouble> {
        let of = |what: &str, value: f64, unit: &str, range: &RangeInclusive<f64>| {
            let expected = match *range.end() < f64::from(f32::MAX) {
                true => format!("{} to {} {unit}", range.start(), range.end()),
                false => "a number".to_owned(),
            };
            match range.contains(&value) {
                true => Ok(value),
                false => Err(row.wrong(&format!("{what} of {value} {unit}"), &expected)),
            }
        };
        if row.site != self.site {
            let [found, expected] = [row.site, &self.site].map(crate::texts::name);
            return Err(row.wrong(&format!("the site {found}"), &expected));
        }
        let missing = |what: &str| row.wrong(&format!("no {what}"), "one in every row");
        let time_ms = row.time_ms.ok_or_else(|| missing("time"))?;
        if !self.times_ms.contains(&time_ms) {
            let years = format!("years from {} to {}", YEARS.start, YEARS.end - 1);
            let found = format!("the time {}", UtcTime::from_ms(time_ms).iso());
            return Err(row.wrong(&found, &years));
        }
        let degc = row.degc.ok_or_else(|| missing("temperature"))?;
        let [absolute, relative] = row.accuracy_k;
        let absolute = absolute.ok_or_else(|| missing("accuracy"))?;
        let relative = relative.ok_or_else(|| missing("relative accuracy"))?;
        let accuracy = |k| of("an accuracy", k, "K", &(0.0..=WORST_ACCURACY_K)).map(KelvinDiff::new);
        let flag = row.flag.ok_or_else(|| missing("flag"))?;
        if ![Flag::Good, Flag::Suspect].iter().any(|f| f.number() == flag) {
            return Err(
                row.wrong(&format!("a flag {flag}"), "1 or, where a value rests on a suspect reading, 3")
            );
        }
        if let Some(percent) = row.humidity {
            of("a humidity", percent, "%", &(0.0..=100.0))?;
        }
        Ok(RowValues {
            time_ms,
            degc: of("a temperature", degc, "°C", &self.degc)?,
            accuracy: Accuracy { absolute: accuracy(absolute)?, relative: accuracy(relative)? },
            flag,
        })
    }

    /// Rooms have so long a record that no grid holds it.
    pub(super) fn check_span<'t>(
        &self,
        home: &str,
        times_ms: impl Iterator<Item = &'t [i64]> + Clone,
    ) -> Result<(), Trouble> {
        let ends = |end: fn(&[i64]) -> Option<&i64>| times_ms.clone().filter_map(move |t| end(t).copied());
        let (Some(first), Some(last)) = (ends(<[i64]>::first).min(), ends(<[i64]>::last).max()) else {
            return Ok(());
        };
        let instants = (last - first) / self.step_ms;
        if instants <= MOST_INSTANTS {
            return Ok(());
        }
        let what = format!(
            "found {instants} instants between the first and the last of {}, expected {MOST_INSTANTS} at most",
            if home.is_empty() { "the weather".to_owned() } else { crate::texts::name(home) }
        );
        Err(Trouble::new(what, REMEDY))
    }
}
