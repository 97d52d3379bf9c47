//! Homes where the heat failed: how soon rooms were truly at 16 °C, against what the days before had said.

use evenrooms::clock::{HOUR_MS, UtcTime};
use evenrooms::metrics::{Interval, IntervalKind};
use evenrooms::simulate::{SimulatedHome, Simulation};
use evenrooms::stats::mean;
use evenrooms::units::Celsius;

use super::drawn;
use super::held::{Claims, Scores};
use super::watch::{self, Rows, STEP_MS};

/// The level that the hours are told from is that of so many days.
const LEVEL_DAYS: i64 = 7;
const LIMIT: f64 = 16.0;
/// A room that is colder than its level by more than this when the heat fails starts from elsewhere.
const NEAR_K: f64 = 0.3;

/// Scores the rooms of a home whose heat failed.
pub(crate) fn score(simulation: &Simulation, made: &SimulatedHome, scores: &mut Scores) {
    let Some(event) = made.truth.event.as_ref() else { return };
    let (Ok(from), Ok(to)) = (time(&event.from_utc), time(&event.to_utc)) else { return };
    let (site, weather) = (drawn::site(simulation, made), watch::weather(simulation));
    let truly = watch::true_rows(simulation, made);
    let before = |rows: &Rows| rows.iter().copied().filter(|(t, _)| *t < from).collect::<Rows>();
    let stored: Vec<Rows> = watch::stored_rows(made).iter().map(before).collect();
    for (room, rows) in truly.iter().enumerate() {
        let degc = |from: i64, to: i64| -> Vec<f64> {
            let inside = rows.iter().filter(|(t, _)| (from..to).contains(t));
            inside.filter_map(|(_, x)| *x).collect()
        };
        let Some(level) = mean(&degc(from - LEVEL_DAYS * 24 * HOUR_MS, from)) else { continue };
        let without = degc(from, to);
        let starts_lower = without.first().is_none_or(|x| *x < level - NEAR_K);
        if starts_lower || level <= LIMIT {
            continue;
        }
        let reached = without.iter().position(|x| *x <= LIMIT);
        let hours = |steps: usize| steps as f64 * STEP_MS as f64 / HOUR_MS as f64;
        let lasted = hours(reached.unwrap_or(without.len()));
        let end = from + (lasted * HOUR_MS as f64) as i64;
        let outdoors: Vec<f64> = weather
            .iter()
            .filter(|(t, _)| (from - HOUR_MS..end + HOUR_MS).contains(t))
            .filter_map(|(_, x)| *x)
            .collect();
        let Some(outdoor) = mean(&outdoors) else { continue };
        let at = site.with(|facts| facts.design_outdoor = Some(Celsius::new(outdoor)));
        let computed = watch::compute(&at, &watch::aligned(&at, &stored, &before(&weather)));
        let Some(least) = watch::row(&computed, &at, "hours_to_16", Some(room)).map(|row| row.value) else {
            continue;
        };
        // Where the heat came back first, only a bound within that time can be held against the truth.
        if reached.is_some() || least <= lasted {
            let not_before = Interval { low: least, high: f64::INFINITY, kind: IntervalKind::OverNights };
            scores.add("hours_to_16: not before", Claims::AtLeast(95), not_before, lasted);
        }
    }
}

fn time(iso: &str) -> Result<i64, chrono::ParseError> {
    chrono::DateTime::parse_from_rfc3339(iso).map(|t| UtcTime::from_ms(t.timestamp_millis()).ms())
}
