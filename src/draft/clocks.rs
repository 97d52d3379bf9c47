//! Loggers whose clock stands hours apart from the others.
//!
//! Settled here, and why:
//! - **Clocks in a draft**: an export that states no clock, and starts and ends whole hours apart from most others, is
//!   left to a person to decide.

use super::Candidate;
use crate::clock::{HOUR_MS, LocalTime, UtcTime, Zone};
use crate::exports::clock_habit;

/// Loggers are started and collected on one round, give or take this.
const ROUND_MS: i64 = 20 * 60_000;
/// So many must agree before one is odd.
const AGREE: usize = 3;

/// Marks the series that start, and end, whole hours apart from most others, where the export states no clock: a logger
/// set to UTC or to another zone looks like this, and so does one that was placed later. A person must say.
pub(super) fn mark_shifted(candidates: &mut [Candidate<'_>], zone: Zone) {
    let ends: Vec<Option<(i64, i64)>> = candidates.iter().map(|c| ends(c, zone)).collect();
    let Some(usual) = usual_ends(&ends) else { return };
    let utc_h = -f64::from(zone.offset_s(LocalTime::from_ms(usual.0).at_offset(0))) / 3600.0;
    for (candidate, ends) in candidates.iter_mut().zip(&ends) {
        let open = candidate.text.clock.starts_with("not stated") && candidate.clock.is_none();
        let Some(hours) = ends.and_then(|e| hours_apart(e, usual)).filter(|_| open) else { continue };
        let as_utc = (hours as f64 - utc_h).abs() < 0.01;
        let like = if as_utc { ", as a clock on UTC would" } else { "" };
        let way = if hours > 0 { "later" } else { "earlier" };
        candidate.notes.push(format!(
            "decide: clock (starts and ends {} h {way} than the others{like}; utc, civil or fixed ±hh:mm)",
            hours.abs()
        ));
        candidate.clock = Some("decide".to_owned());
    }
}

/// Places that put their clocks forward on nights, or at hours, of their own.
pub(super) const PLACES: [&str; 7] = [
    "Europe/London",
    "Europe/Berlin",
    "Europe/Helsinki",
    "America/New_York",
    "America/Chicago",
    "America/Denver",
    "America/Los_Angeles",
];

/// How the note on such a record begins: then come places, each with the clock that it kept there.
pub(super) const STEADY: &str = "decide: clock (civil, but ";

/// Where the time zone is left to decide: asks for the clock of series that run on through an hour that clocks skip there, so
/// that they did not follow them. Taken for such a clock the audit could not read those rows.
pub(super) fn mark_steady(candidates: &mut [Candidate<'_>]) {
    for candidate in candidates {
        let open = candidate.text.clock.starts_with("not stated") && candidate.clock.is_none();
        if !open || candidate.text.dates_open.is_some() {
            continue;
        }
        let times = || candidate.series.readings.iter().map(|r| r.0);
        let steady = |place: &&str| {
            let habit = clock_habit(times(), Zone::parse(place)?)?;
            (habit != "civil").then(|| format!("{habit} in {place}"))
        };
        let steady: Vec<String> = PLACES.iter().filter_map(steady).collect();
        if !steady.is_empty() {
            candidate.notes.push(format!(
                "{STEADY}{}: its times run on there where clocks are put forward in spring, so that it kept standard time)",
                steady.join(", ")
            ));
            candidate.clock = Some("decide".to_owned());
        }
    }
}

/// First and last time on the site's wall clock, if the logger kept it.
fn ends(candidate: &Candidate<'_>, zone: Zone) -> Option<(i64, i64)> {
    let times = || candidate.series.readings.iter().map(|r| r.0);
    let local = |ms: i64| {
        if candidate.series.in_utc { ms + i64::from(zone.offset_s(UtcTime::from_ms(ms))) * 1000 } else { ms }
    };
    let stated_elsewhere = !candidate.series.in_utc && !candidate.text.clock.starts_with("not stated");
    Some((local(times().min()?), local(times().max()?))).filter(|_| !stated_elsewhere)
}

/// The start and end that most share.
fn usual_ends(ends: &[Option<(i64, i64)>]) -> Option<(i64, i64)> {
    let near =
        |a: &(i64, i64), b: &(i64, i64)| (a.0 - b.0).abs() <= ROUND_MS && (a.1 - b.1).abs() <= ROUND_MS;
    let agree = |one: &(i64, i64)| ends.iter().flatten().filter(|other| near(one, other)).count();
    let most = ends.iter().flatten().rev().max_by_key(|one| agree(one))?;
    (agree(most) >= AGREE && agree(most) * 2 > ends.len()).then_some(*most)
}

/// Whole hours by which both ends lie apart from the usual ones.
fn hours_apart(ends: (i64, i64), usual: (i64, i64)) -> Option<i64> {
    let (first, last) = (ends.0 - usual.0, ends.1 - usual.1);
    let hours = (first as f64 / HOUR_MS as f64).round() as i64;
    let whole = |apart: i64| (apart - hours * HOUR_MS).abs() <= ROUND_MS;
    ((1..=14).contains(&hours.abs()) && whole(first) && whole(last)).then_some(hours)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_apart_by_whole_hours_are_told() {
        let usual = (0, 100 * HOUR_MS);
        let at = |h: i64, min: i64| (h * HOUR_MS + min * 60_000, (100 + h) * HOUR_MS + min * 60_000);
        assert_eq!(hours_apart(at(6, 3), usual), Some(6));
        assert_eq!(hours_apart(at(-1, 0), usual), Some(-1));
        assert_eq!(hours_apart(at(0, 15), usual), None, "the same round");
        assert_eq!(hours_apart((6 * HOUR_MS, 100 * HOUR_MS), usual), None, "placed later");
        let three = [Some(usual), Some(at(0, 5)), Some(at(0, -4)), Some(at(6, 0)), None];
        assert_eq!(usual_ends(&three), Some(usual));
        assert_eq!(usual_ends(&three[..2]), None, "two agree, and that is too few");
    }
}
