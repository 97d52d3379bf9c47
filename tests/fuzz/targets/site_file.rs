//! Text of a site file → settings, and a home judged by them.
#![no_main]
#![allow(clippy::disallowed_methods, reason = "the macro of the library writes a file where it is asked to")]

use evenrooms::clock::{Span, UtcTime};
use evenrooms::pipeline::{Keep, Prepared};
use evenrooms::site::{DEFAULT_ACCURACY, Site, read_site_file};
use evenrooms::tables::RoomRows;
use evenrooms::units::Accuracy;
use evenrooms_fuzz::{ROSTER, holds_together, refused_with_reason};
use libfuzzer_sys::fuzz_target;

/// 2026-03-06 00:00 in Chicago: two days before the clocks change.
const START_MS: i64 = 1_772_776_800_000;
const DAY_MS: i64 = 86_400_000;
/// Instants of the grid that a run can afford.
const MOST_INSTANTS: i64 = 3000;

fuzz_target!(|text: &str| {
    let lines = text.lines().count();
    match read_site_file("site.toml", text).with_roster("roster.csv", ROSTER.as_bytes()) {
        Ok(site) => {
            holds_together(&site);
            judged(&site);
        }
        Err(error) => refused_with_reason(&error, lines, "site.toml"),
    }
});

/// Four days of three rooms, judged by the settings.
fn judged(site: &Site) {
    let periods = || site.periods.iter().map(|p| p.span);
    let from = periods().map(|s| s.from.ms()).fold(START_MS, i64::min);
    let to = periods().map(|s| s.to.ms()).fold(START_MS + 4 * DAY_MS, i64::max);
    if (to - from) / site.step_ms > MOST_INSTANTS {
        return;
    }
    let span = Span { from: UtcTime::from_ms(START_MS), to: UtcTime::from_ms(START_MS + 4 * DAY_MS) };
    assert!(site.setbacks_in(span).windows(2).all(|w| w[0].span.from <= w[1].span.from), "setbacks in order");
    let home = &site.homes[0];
    let rows =
        home.rooms.iter().zip([21.0, 18.5, 14.0]).map(|(room, level)| rows(&room.name, level, site.step_ms));
    let result = Prepared::under_weather(site.clone(), None).reopen(home, rows.collect()).judge();
    result.encode(Keep::ForReport).expect("its rows can be written");
}

fn rows(room: &str, level: f64, step_ms: i64) -> RoomRows {
    let times_ms: Vec<i64> =
        (0..4 * DAY_MS / step_ms).map(|i| (START_MS.div_euclid(step_ms) + i) * step_ms).collect();
    let value = |t: &i64| level + 2.0 * ((*t % DAY_MS) as f64 / DAY_MS as f64 * std::f64::consts::TAU).sin();
    RoomRows {
        room: room.to_owned(),
        degc: times_ms.iter().map(value).collect(),
        times_ms,
        humidity: None,
        accuracy: Accuracy::stated(DEFAULT_ACCURACY),
        suspect_ms: Vec::new(),
    }
}
