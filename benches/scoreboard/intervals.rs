//! Intervals that should hold the truth: each kind is one entry of a list.
//!
//! To add one: write a function that gives, for a home, one `Held` per interval that the audit printed, and put it into
//! [`KINDS`] with the level the interval claims. The truth comes from the simulated temperatures (`Case::degc`).

use std::collections::BTreeMap;

use evenrooms::metrics;
use evenrooms::simulate::HomeKind;
use evenrooms::units::Celsius;

use super::case::Case;
use super::records::{What, happened};

/// A kind of interval.
pub(crate) struct Kind {
    /// Metric and kind of interval, as printed.
    pub(crate) name: &'static str,
    /// The share of intervals that should hold the truth, in %, where the method claims one.
    pub(crate) claims: Option<f64>,
    /// Whether each interval of a home held the truth.
    pub(crate) judge: fn(&Case<'_>) -> Vec<bool>,
}

/// Every kind.
pub(crate) const KINDS: [Kind; 6] = [
    Kind {
        name: "hours_below_band, sensor accuracy and lag; loggers that lag up to 5 min",
        claims: Some(95.0),
        judge: |case| hours_below_band(case, |lag_min| lag_min <= QUICK_MIN),
    },
    Kind {
        name: "hours_below_band, sensor accuracy and lag; loggers that lag 5 to 12 min",
        claims: Some(95.0),
        judge: |case| hours_below_band(case, |lag_min| lag_min > QUICK_MIN),
    },
    Kind {
        name: "hours_below_band of steady homes",
        claims: Some(95.0),
        judge: |case| hours_of_kinds(case, &[HomeKind::Steady], true),
    },
    Kind {
        name: "hours_below_band of homes that freeze or are not heated",
        claims: Some(95.0),
        judge: |case| hours_of_kinds(case, &[HomeKind::Unheated, HomeKind::Frost], true),
    },
    Kind {
        name: "hours_above_band of homes in a hot summer",
        claims: Some(95.0),
        judge: |case| hours_of_kinds(case, &[HomeKind::Summer, HomeKind::Hot], false),
    },
    Kind {
        name: "hours_above_band of boiler cupboards",
        claims: Some(95.0),
        judge: |case| hours_of_kinds(case, &[HomeKind::Cupboard], false),
    },
];

/// Time constant of a logger's case up to which it is quick, in minutes.
const QUICK_MIN: f64 = 5.0;

/// Rooms with a sound logger: index and name.
fn sound_rooms<'a>(case: &Case<'a>) -> impl Iterator<Item = (usize, &'a str)> {
    let happened = happened(case);
    let sound = move |room: &str| {
        happened.iter().all(|h| h.what == What::Stray || h.room.is_some_and(|own| own != room))
    };
    case.loggers().iter().enumerate().map(|(i, l)| (i, l.room)).filter(move |(_, room)| sound(room))
}

/// Share of the hours that may be missing at the ends of a record and where single rows were never written.
const MISSING_SHARE: f64 = 0.01;

/// Hours outside the band on one side in homes of some kinds. Readings that are left out are no excuse: of a sound
/// logger all hours are to be judged.
fn hours_of_kinds(case: &Case<'_>, kinds: &[HomeKind], below: bool) -> Vec<bool> {
    let metric = if below { &metrics::HOURS_BELOW_BAND } else { &metrics::HOURS_ABOVE_BAND };
    let all = case.hours(case.instants().count());
    let held = |(index, room): (usize, &str)| {
        let truth = true_hours_outside(case, index, below, !below);
        let Some(interval) = case.row(Some(room), metric).and_then(|row| row.interval) else {
            return (truth > 0.0).then_some(false);
        };
        let lost = all * MISSING_SHARE;
        (interval.high > 0.0 || truth > 0.0)
            .then_some(truth >= interval.low - lost && truth <= interval.high + lost)
    };
    if !kinds.contains(&case.kind()) {
        return Vec::new();
    }
    sound_rooms(case).filter_map(held).collect()
}

fn hours_below_band(case: &Case<'_>, which: impl Fn(f64) -> bool) -> Vec<bool> {
    let held = |(index, room): (usize, &str)| {
        let row = case.row(Some(room), &metrics::HOURS_BELOW_BAND)?;
        let (interval, coverage) = (row.interval?, case.row(Some(room), &metrics::COVERAGE)?);
        // Only where something could be wrong: a room that is never near its limit has an easy interval.
        if coverage.value <= 99.0 || interval.high <= 0.0 {
            return None;
        }
        let lost = (100.0 - coverage.value) / 100.0 * row.hours_observed + 1e-6;
        // Before its first and after its last reading nothing was recorded.
        let stored = &case.made.stored[index];
        let (first, last) = (stored.first()?.0, stored.last()?.0);
        let below = case.instants().zip(truly_outside(case, index, true, false));
        let truth = case.hours(below.filter(|(t, below)| *below && *t >= first && *t <= last).count());
        Some(truth >= interval.low - lost && truth <= interval.high + lost)
    };
    if !matches!(case.kind(), HomeKind::Usual | HomeKind::Cupboard) {
        return Vec::new();
    }
    sound_rooms(case).filter(|(i, _)| which(case.loggers()[*i].lag_min)).filter_map(held).collect()
}

/// Hours of a room truly outside the band (below, above, or both), at the instants of the grid.
pub(crate) fn true_hours_outside(case: &Case<'_>, room: usize, below: bool, above: bool) -> f64 {
    case.hours(truly_outside(case, room, below, above).filter(|outside| *outside).count())
}

/// Hours of the longest unbroken run in which a room is truly on one side of its band.
pub(crate) fn true_longest_outside(case: &Case<'_>, room: usize, below: bool, above: bool) -> f64 {
    let (mut longest, mut run) = (0, 0);
    for outside in truly_outside(case, room, below, above) {
        run = if outside { run + 1 } else { 0 };
        longest = longest.max(run);
    }
    case.hours(longest)
}

/// Whether a room is truly outside its band for so many hours on each of two local days in a row.
pub(crate) fn truly_two_days_outside(case: &Case<'_>, room: usize, sides: (bool, bool), hours: f64) -> bool {
    let mut of_days: BTreeMap<i64, usize> = BTreeMap::new();
    let outside = case.instants().zip(truly_outside(case, room, sides.0, sides.1));
    for (t, _) in outside.filter(|(_, outside)| *outside) {
        *of_days.entry(case.site.zone.local(t).ms().div_euclid(86_400_000)).or_default() += 1;
    }
    let is_long = |day: &i64| of_days.get(day).is_some_and(|n| case.hours(*n) >= hours);
    of_days.keys().any(|day| is_long(day) && is_long(&(day + 1)))
}

/// At each instant, whether a room is truly outside its band.
fn truly_outside<'c>(
    case: &'c Case<'_>,
    room: usize,
    below: bool,
    above: bool,
) -> impl Iterator<Item = bool> + use<'c> {
    let bands = case.site.bands.occupied.zip(case.site.bands.night);
    case.instants().map(move |t| {
        let band = bands.map(|(day, night)| if (6..22).contains(&case.hour_of_day(t)) { day } else { night });
        let degc = case.degc(room, t).map(Celsius::new);
        band.zip(degc).is_some_and(|(band, x)| (below && x < band.lower) || (above && x > band.upper))
    })
}
