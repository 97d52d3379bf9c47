//! How many days it will take to show that a room is even with the heated ones, from what loggers are good to and how much
//! days differ.
//!
//! Settled here, and why:
//! - **The interval is the audit's own** ([`combined_half_width`], 90 %): a day counts as an audit will count it, so that the
//!   plan cannot promise what the audit then refuses.
//! - **Sensors**: a room against the heated ones is taken for a difference of two loggers, √(u_a² + u_b²), with the widest
//!   of the heated rooms in the place of their median. The median of several is a little better; a plan had better not
//!   count on it.
//! - **After a side-by-side check** a logger is taken to be good to [`CHECKED_K`] against the others: what is left of its
//!   differences 0.1 K, steps of 0.1 K, drift since 0.1 K, as squares. A logger with coarser steps does worse, and the audit
//!   measures it.
//! - **How much days differ nobody knows before**: [`DayVariation::OWN`] is our own assumption, and can be given.

use crate::site::{Heated, Home, Room, Site};
use crate::stats::{combined_half_width, effective_number, normal_quantile};
use crate::units::KelvinDiff;

/// Share of the intervals that hold the truth.
const CONFIDENCE: f64 = 0.9;
/// Standard deviations in the half-width of 95 % of a normal value.
const NORMAL_95: f64 = 1.959964;
/// Whole days below which nothing is called even.
const LEAST_DAYS: u32 = 7;
/// Fewest effective days of an audit's interval.
const FEWEST_EFFECTIVE: f64 = 3.0;
/// Nobody plans for longer.
const MOST_DAYS: u32 = 180;

/// What a logger is good to against the others of its home after a side-by-side check, 95 % half-width in K.
///
/// # Source
/// Definition of u_rel (√(r² + (resolution/2)² + 0.1²)) with r = 0.1 K and a resolution of 0.1 K: own assumption.
pub const CHECKED_K: f64 = 0.15;

/// How much the days of a room differ, once the weather is taken out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayVariation {
    /// Standard deviation of the daily means of its distance to the heated rooms, K.
    pub deviation_k: f64,
    /// How much a day resembles the day before: correlation, 0 to 1.
    pub likeness: f64,
    /// Whether somebody stated the deviation; else it is our own assumption.
    pub stated: bool,
}

impl DayVariation {
    /// What is assumed where nobody knows better: 0.4 K, and days of which half is that of the day before.
    ///
    /// # Source
    /// Own assumption. In 20 unheated rooms of simulated lived-in homes with nothing planted (seeds 101 and 102, 42 days each)
    /// it is 0.03 to 0.96 K, in 18 of them at most 0.41 K, and days resemble the day before by −0.18 to 0.52; homes of
    /// people may differ more, and habits last longer than those of the simulator.
    pub const OWN: Self = Self { deviation_k: 0.4, likeness: 0.5, stated: false };

    /// A deviation that somebody knows.
    pub const fn stated(deviation: KelvinDiff) -> Self {
        Self { deviation_k: deviation.k(), likeness: Self::OWN.likeness, stated: true }
    }
}

/// When a room that is so far from the heated ones is shown to be even.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Days {
    /// After about so many days.
    After(u32),
    /// Not within half a year.
    TooMany,
    /// Never: what the loggers may be off is as much as what is left to the margin.
    Never,
}

/// How much of the margin a room uses up, and when it is shown even, without and with a side-by-side check.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// Its distance to the heated rooms, K.
    pub offset_k: f64,
    /// With the accuracies that the roster states.
    pub plain: Days,
    /// After a side-by-side check.
    pub checked: Days,
}

/// What the loggers of a home can show.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// What a room's distance to the heated ones may be off by its loggers, 95 % half-width in K, as the roster states.
    pub plain_k: f64,
    /// The same after a side-by-side check.
    pub checked_k: f64,
    /// Rooms at a quarter, a half and more of the margin.
    pub reaches: Vec<Reach>,
    /// How close to the heated rooms a room must be to be shown even after the days that are asked for, K, as the roster states.
    pub plain_within_k: Option<f64>,
    /// The same after a side-by-side check.
    pub checked_within_k: Option<f64>,
}

/// Shares of the margin that are told.
const SHARES: [f64; 4] = [0.0, 0.25, 0.5, 0.75];

impl Outlook {
    /// What the loggers of a home can show of its unheated rooms; `None` without one, or without a heated one.
    pub fn of(site: &Site, home: &Home, variation: DayVariation) -> Option<Self> {
        let accuracies = |heated: Heated| {
            let rooms = home.rooms.iter().filter(move |r| r.heated == heated && !r.placements.is_empty());
            rooms.map(Room::accuracy).map(KelvinDiff::k).reduce(f64::max)
        };
        let (room, heated) = (accuracies(Heated::No)?, accuracies(Heated::Yes)?);
        let (plain_k, checked_k) = (room.hypot(heated), CHECKED_K.hypot(CHECKED_K));
        let (margin, days) = (site.spread.margin.k(), asked_days(site));
        let reach = |share: f64| {
            let offset_k = share * margin;
            let after = |sensors| days_to_even(margin - offset_k, sensors, variation);
            Reach { offset_k, plain: after(plain_k), checked: after(checked_k) }
        };
        Some(Self {
            plain_k,
            checked_k,
            reaches: SHARES.map(reach).to_vec(),
            plain_within_k: sure_within(margin, days, plain_k, variation),
            checked_within_k: sure_within(margin, days, checked_k, variation),
        })
    }
}

/// The whole days that a home must have on record to be accepted, never fewer than an interval needs.
pub(super) fn asked_days(site: &Site) -> u32 {
    u32::try_from(site.acceptance.days).unwrap_or(MOST_DAYS).max(LEAST_DAYS)
}

/// Half the 90 % interval of a distance after so many days, K; `sensors`: 95 % half-width in K.
fn half_width(days: u32, sensors: f64, variation: DayVariation) -> f64 {
    let days = f64::from(days);
    let effective = effective_number(days, variation.likeness).max(FEWEST_EFFECTIVE.min(days));
    let error = variation.deviation_k / effective.sqrt();
    combined_half_width(error, effective, sensors / NORMAL_95, CONFIDENCE)
}

/// After how many days a distance with so much left to the margin, `gap_k`, is surely inside it.
///
/// `sensors`: what the loggers may be off together, 95 % half-width in K. It is the number of days after which the audit's
/// 90 % interval is narrower than the gap where the days come out as assumed: about half of such homes take longer.
///
/// # Example
/// ```
/// use evenrooms::plan::{DayVariation, Days, days_to_even};
/// // Two loggers good to 0.5 K may be 0.59 K apart (90 %): half a kelvin is never shown by them.
/// assert_eq!(days_to_even(0.5, 0.5_f64.hypot(0.5), DayVariation::OWN), Days::Never);
/// ```
pub fn days_to_even(gap_k: f64, sensors: f64, variation: DayVariation) -> Days {
    if gap_k <= sensors * normal_quantile((1.0 + CONFIDENCE) / 2.0) / NORMAL_95 {
        return Days::Never;
    }
    let shown = |days: &u32| half_width(*days, sensors, variation) < gap_k;
    (LEAST_DAYS..=MOST_DAYS).find(shown).map_or(Days::TooMany, Days::After)
}

/// How close to the heated rooms a room must be to be shown even after so many days, K; `None`: no room is.
pub fn sure_within(margin_k: f64, days: u32, sensors: f64, variation: DayVariation) -> Option<f64> {
    let left = margin_k - half_width(days.max(LEAST_DAYS), sensors, variation);
    Some(left).filter(|k| *k > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const QUIET: DayVariation = DayVariation { deviation_k: 0.0, likeness: 0.5, stated: true };

    #[test]
    fn days_that_do_not_differ_leave_the_sensors_alone() {
        // 1.644854/1.959964 of the 95 % half-width.
        assert_eq!(days_to_even(0.42, 0.5, QUIET), Days::After(LEAST_DAYS));
        assert_eq!(days_to_even(0.4196, 0.5, QUIET), Days::Never);
        let within = sure_within(2.0, 14, 0.5, QUIET).unwrap();
        assert!((within - (2.0 - 0.5 * 1.644854 / 1.959964)).abs() < 1e-6, "{within}");
    }

    #[test]
    fn more_left_to_the_margin_takes_no_more_days() {
        let days = |gap: f64| match days_to_even(gap, 0.2, DayVariation::OWN) {
            Days::After(days) => days,
            Days::TooMany => MOST_DAYS + 1,
            Days::Never => MOST_DAYS + 2,
        };
        let all: Vec<u32> = (1..40).map(|k| days(f64::from(k) * 0.05)).collect();
        assert!(all.windows(2).all(|two| two[1] <= two[0]), "{all:?}");
        assert_eq!(all.first(), Some(&(MOST_DAYS + 2)));
        assert_eq!(all.last(), Some(&LEAST_DAYS));
    }
}
