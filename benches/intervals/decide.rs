//! How many more days an undecided verdict takes: what four weeks say of it, against what the same record says when it goes on.
//!
//! Few rooms lie near the margin of a site. One room of each home is held against a margin of its own, so near to its offset
//! that four weeks leave it undecided, and that twice as many days would decide by what they say.

use evenrooms::clock::UtcTime;
use evenrooms::metrics::Computed;
use evenrooms::site::Site;
use evenrooms::units::KelvinDiff;

use super::held::{Claims, Scores};
use super::home::Home;
use super::watch;

const DAY_MS: i64 = 86_400_000;
/// Days after which it is asked, and how often it is looked at then.
const FIRST_DAYS: i64 = 28;
const EVERY_DAYS: i64 = 4;
/// What sensors and days have in a 90 % interval, as a share of what they have in one of 95 %.
const OF_90: f64 = 1.645 / 1.96;

/// Scores a room of a home, where the record goes on after four weeks.
pub(crate) fn score(home: &Home, number: usize, scores: &mut Scores) {
    let (Some((first, _)), Some((last, _))) = (home.weather.first(), home.weather.last()) else { return };
    let all_days = (last - first) / DAY_MS;
    if all_days <= FIRST_DAYS {
        return;
    }
    let room = number % home.site.homes[0].rooms.len();
    let after = |site: &Site, days: i64| home.until(site, UtcTime::from_ms(first + days * DAY_MS));
    let Some(site) = near_margin(home, &after(&home.site, FIRST_DAYS), room) else { return };
    let is_undecided = |computed: &Computed| {
        watch::row(computed, &site, "evenness_verdict", Some(room)).is_some_and(|r| r.value.abs() < 0.5)
    };
    let then = after(&site, FIRST_DAYS);
    let range = watch::interval(&then, &site, "days_to_decide", Some(room));
    let Some(mut range) = range.filter(|_| is_undecided(&then)) else { return };
    // The day from which on it stays decided: one look at a planned end decides, not the first of many.
    let looks: Vec<i64> = (FIRST_DAYS + EVERY_DAYS..=all_days).step_by(EVERY_DAYS as usize).collect();
    let undecided = looks.iter().rev().copied().find(|days| is_undecided(&after(&site, *days)));
    let most = looks.last().copied().unwrap_or(FIRST_DAYS);
    let decided = match undecided {
        Some(days) if days == most => f64::INFINITY,
        days => (days.unwrap_or(FIRST_DAYS) + EVERY_DAYS - FIRST_DAYS) as f64,
    };
    // Beyond the end of the record nothing is known but that it takes longer; a look may come up to four days late.
    let most = (most - FIRST_DAYS) as f64;
    range.high = if range.high >= most { f64::INFINITY } else { range.high + EVERY_DAYS as f64 };
    range.low = range.low.min(most);
    scores.add("days_to_decide", Claims::AtLeast(75), range, decided);
}

/// The site with a margin that leaves the room undecided.
fn near_margin(home: &Home, then: &Computed, room: usize) -> Option<Site> {
    let row = watch::row(then, &home.site, "offset_from_reference", Some(room))?;
    let (sensor, days) = (row.parts.sensor? * OF_90, row.parts.days? * OF_90);
    let gap = (sensor.powi(2) + days.powi(2) / 2.0).sqrt();
    Some(home.site.with(|facts| facts.spread.margin = KelvinDiff::new(row.value.abs() + gap)))
}
