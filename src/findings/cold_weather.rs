//! A heated room that is the colder the colder it is outdoors.

use super::rooms::{doubted, settle_first};
use super::{About, Found, Judge, RoomCase, Rule, Severity, Verdict};
use crate::metrics::{self, EventKind};
use crate::units::{Celsius, KelvinDiff};

/// A heated room that holds in mild weather and falls behind in cold.
pub(super) static FALLS_BEHIND: Rule = Rule {
    name: "falls-behind-in-cold",
    shows: "on days below 10 °C outdoors (10 of them or more, 5 K of range) a heated room surely follows the weather by more than 0.1 K for each K (the 90 % interval of outdoor_slope lies above), and by day on the coldest quarter of them it is surely below its target less the tolerance of [recovery], or, without a setback, below the band (act, unless something makes its logger read too cold)",
    could_also_be: "a window or a door to a cold room kept open in cold weather, sun that warms the room on mild days only, a setting that people turn down at night, or a logger on a cold outside wall",
    next_step: "look at what the unit gives on a cold day: filter, air paths, outdoor unit and its defrosting, then its size against the room's losses; see whether the room is at its setting in mild weather",
    source: "own definition",
    needs: &[],
    looks_at: &[
        &metrics::OUTDOOR_SLOPE,
        &metrics::MEAN_ON_COLD_DAYS,
        &metrics::P05,
        &metrics::MEDIAN,
        &metrics::P95,
    ],
    about: About::Building,
    judge: Judge::Room(behind),
};

/// Surely steeper is no longer held by the heating, in K/K.
const STEEP: f64 = 0.1;

/// What a heated room must be at by day: its target less the tolerance, else the band; `None`: nobody asks.
fn asked(case: &RoomCase<'_>) -> Option<Celsius> {
    let site = case.case.evidence.site;
    let targets = site.setbacks.iter().map(|setback| setback.occupied_target.degc());
    let line = targets.reduce(f64::min).map(|target| target - site.recovery.tolerance.k());
    line.map(Celsius::new).or_else(|| Some(site.bands.occupied?.lower))
}

fn behind(case: &RoomCase<'_>) -> Verdict {
    let Some(limit) = asked(case).filter(|_| case.room.heated.surely()) else { return Verdict::NotAsked };
    let row = |metric| case.row(metric).and_then(|row| Some((row.value, row.interval?)));
    // Whether a room is too cold is asked by other rules: this one only tells one cause from another.
    let (Some((slope, of_slope)), Some((level, of_level))) =
        (row(&metrics::OUTDOOR_SLOPE), row(&metrics::MEAN_ON_COLD_DAYS))
    else {
        return Verdict::NotAsked;
    };
    if of_slope.low <= STEEP || of_level.high >= limit.degc() {
        return Verdict::NotAsked;
    }
    let doubt = doubted(case, EventKind::BelowBand);
    let shows = format!(
        "The record shows {} following the outdoor temperature by {slope:.2} K for each K on days below {} (90 % sure: {:.2} to {:.2}), and at {} by day on the coldest quarter of them (90 % sure: {} to {}), where {} is asked for.",
        case.room.name,
        case.show(10.0),
        of_slope.low,
        of_slope.high,
        case.show(level),
        case.show(of_level.low),
        case.show(of_level.high),
        case.case.units().show(limit),
    ) + &settle_first(doubt);
    let short = KelvinDiff::new(level - limit.degc());
    Verdict::Found(Found {
        severity: if doubt.is_none() { Severity::Act } else { Severity::Watch },
        span: None,
        observed: short.k(),
        unit: "K",
        limit: 0.0,
        range: Some((of_level.low - limit.degc(), of_level.high - limit.degc())),
        shows,
        doubt,
    })
}
