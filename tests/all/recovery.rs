//! Recovery after setback, from readings to rows and events: what counts, what is cut off, and on which mornings.

use evenrooms::metrics::{Computed, Event, EventKind, MetricRow};
use evenrooms::site::{Site, read_site_file};

use crate::pipeline::compute_from;

const HOUR_MIN: i64 = 60;
const SETBACK: &str =
    "[[setback]]\ndays = \"mon-sun\"\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"21 °C\"\n";

fn site(zone: &str, more: &str) -> Site {
    let text = format!(
        "[site]\nname = \"Alder Row\"\ntime_zone = \"{zone}\"\nroster = \"roster.csv\"\n[quality]\ntests = []\n{more}"
    );
    let roster = "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,1.csv\n";
    read_site_file("site.toml", &text).with_roster("roster.csv", roster.as_bytes()).unwrap()
}

/// The instant in minutes since the epoch.
fn at(text: &str) -> i64 {
    let parsed = chrono::DateTime::parse_from_rfc3339(text).unwrap();
    parsed.timestamp() / 60
}

/// Readings every 5 min of a temperature as a function of minutes since the epoch; `None` is a hole.
fn compute(site: &Site, from: &str, to: &str, degc: impl Fn(i64) -> Option<f64>) -> Computed {
    let rows: Vec<(i64, Option<f64>)> =
        (at(from)..at(to)).step_by(5).map(|m| (m * 60_000, degc(m))).filter(|(_, x)| x.is_some()).collect();
    compute_from(site, &[rows])
}

fn value(rows: &[MetricRow], id: &str) -> Option<f64> {
    rows.iter().find(|r| r.metric.id == id && r.slice == evenrooms::metrics::Slice::All).map(|r| r.value)
}

fn recoveries(computed: &Computed) -> Vec<&Event> {
    computed.events.iter().filter(|e| e.kind == EventKind::Recovery).collect()
}

/// Warm at 21.2, but 18 at each start of recovery and 1 K more each hour; the line at 20.5 is reached after 2.5 h.
fn warming_from(starts: &[i64]) -> impl Fn(i64) -> Option<f64> {
    let starts = starts.to_vec();
    move |m| {
        let since = starts.iter().filter(|s| **s <= m).max().map(|s| (m - s) as f64 / 60.0);
        let to_next = starts.iter().filter(|s| **s > m).min().map(|s| (s - m) as f64 / 60.0);
        let falling = to_next.filter(|h| *h < 8.0).map_or(21.2, |h| 18.0 + 3.2 * h / 8.0);
        Some(falling.min(since.map_or(21.2, |h| 18.0 + h)))
    }
}

#[test]
fn the_morning_after_clocks_change_starts_at_six_on_the_wall() {
    for (zone_day, starts, span) in [
        (
            "forward",
            ["2026-03-07T12:00:00Z", "2026-03-08T11:00:00Z", "2026-03-09T11:00:00Z"],
            ("2026-03-07T06:00:00Z", "2026-03-10T00:00:00Z"),
        ),
        (
            "back",
            ["2026-10-31T11:00:00Z", "2026-11-01T12:00:00Z", "2026-11-02T12:00:00Z"],
            ("2026-10-31T06:00:00Z", "2026-11-03T00:00:00Z"),
        ),
    ] {
        let site = site("America/Chicago", SETBACK);
        let starts_min: Vec<i64> = starts.iter().map(|s| at(s)).collect();
        let computed = compute(&site, span.0, span.1, warming_from(&starts_min));
        let events = recoveries(&computed);
        let from: Vec<String> = events.iter().map(|e| e.span.from.iso()).collect();
        assert_eq!(from, starts, "{zone_day}");
        for event in events {
            assert!((event.span.hours() - 2.5).abs() < 1e-6 && !event.censored, "{zone_day}: {event:?}");
        }
    }
}

#[test]
fn a_setback_starts_on_the_evenings_of_its_weekdays_only() {
    let site = site("UTC", &SETBACK.replace("mon-sun", "fri"));
    let every: Vec<i64> = (5..13).map(|d| at(&format!("2026-01-{d:02}T06:00:00Z"))).collect();
    let computed = compute(&site, "2026-01-04T12:00:00Z", "2026-01-13T12:00:00Z", warming_from(&every));
    let from: Vec<String> = recoveries(&computed).iter().map(|e| e.span.from.iso()).collect();
    assert_eq!(
        from,
        ["2026-01-10T06:00:00Z"],
        "the one Friday evening of these days is followed by a Saturday morning"
    );
}

/// Morning by morning: reached, cut off after 6 h, cut off by a hole, and nothing to recover from.
fn mixed_mornings(m: i64) -> Option<f64> {
    let (day, hour) =
        ((m - at("2026-01-05T00:00:00Z")) / (24 * HOUR_MIN), (m % (24 * HOUR_MIN)) as f64 / 60.0);
    let since_six = hour - 6.0;
    match day {
        _ if !(0.0..16.0).contains(&since_six) => Some(if day == 3 { 21.0 } else { 18.0 }),
        0 => Some((18.0 + since_six).min(21.6)),
        1 => Some(18.0 + since_six * 0.2),
        2 => (!(1.0..=3.0).contains(&since_six)).then_some(18.0 + since_six),
        _ => Some(21.0),
    }
}

#[test]
fn what_was_cut_off_counts_as_cut_off() {
    let site = site("UTC", SETBACK);
    let computed = compute(&site, "2026-01-05T00:00:00Z", "2026-01-09T00:00:00Z", mixed_mornings);
    let rows = &computed.rows;
    let ends: Vec<(f64, bool)> =
        recoveries(&computed).iter().map(|e| ((e.span.hours() * 1e4).round() / 1e4, e.censored)).collect();
    assert_eq!(
        ends,
        [(2.5, false), (6.0, true), (0.9167, true)],
        "the last reading before the hole is at 06:55"
    );
    assert_eq!(value(rows, "recovery_events"), Some(3.0));
    assert_eq!(value(rows, "recoveries_cut_off"), Some(2.0));
    assert_eq!(value(rows, "no_setback"), Some(1.0));
    // By hand: one is cut off at 0.92 h, then one of the two left is there at 2.5 h.
    assert_eq!(value(rows, "recovery_median").map(|x| (x * 1e4).round() / 1e4), Some(2.5));
    assert_eq!(value(rows, "recovery_p90"), None, "the curve does not go so low");
    assert!((value(rows, "warm_up_rate").unwrap() - 1.0).abs() < 1e-6);
    assert!((value(rows, "overshoot").unwrap() - 0.6).abs() < 1e-5, "21.6 at 09:36, within 2 h of 08:30");
    let median = rows.iter().find(|r| r.metric.id == "recovery_median").unwrap();
    assert!(median.interval.is_none(), "three mornings say nothing of others");
}

#[test]
fn a_short_visit_above_the_line_is_no_recovery() {
    let site = site("UTC", SETBACK);
    let computed = compute(&site, "2026-01-05T00:00:00Z", "2026-01-06T00:00:00Z", |m| {
        let since_six = (m - at("2026-01-05T06:00:00Z")) as f64 / 60.0;
        let visit = (1.0..1.2).contains(&since_six);
        Some(if visit { 20.8 } else { (18.0 + since_six.max(0.0) * 0.5).min(21.0) })
    });
    let events = recoveries(&computed);
    assert!((events[0].span.hours() - 5.0).abs() < 1e-6, "from 06:59 to 07:14 is not 15 min: {events:?}");
}

#[test]
fn the_next_setback_cuts_a_recovery_off() {
    let nap = "[[setback]]\nfrom = \"09:00\"\nto = \"12:00\"\noccupied_target = \"21 °C\"\n";
    let site = site("UTC", &format!("{SETBACK}{nap}"));
    let computed = compute(&site, "2026-01-05T00:00:00Z", "2026-01-05T23:00:00Z", |_| Some(18.0));
    let ends: Vec<(f64, bool)> = recoveries(&computed).iter().map(|e| (e.span.hours(), e.censored)).collect();
    assert_eq!(ends, [(3.0, true), (6.0, true)]);
}

#[test]
fn without_a_schedule_setbacks_are_found_and_said_to_be() {
    let site = site("UTC", "");
    let every: Vec<i64> = (5..13).map(|d| at(&format!("2026-01-{d:02}T06:00:00Z"))).collect();
    let computed = compute(&site, "2026-01-04T12:00:00Z", "2026-01-13T00:00:00Z", warming_from(&every));
    let events: Vec<&Event> = computed.events.iter().filter(|e| e.kind == EventKind::RecoveryFound).collect();
    assert_eq!(value(&computed.rows, "setbacks_found"), Some(8.0));
    assert_eq!(events.len(), 8);
    for (event, start) in events.iter().zip(&every) {
        let late_h = (event.span.from.ms() / 60_000 - start) as f64 / 60.0;
        assert!((0.0..0.6).contains(&late_h), "a tenth of the fall of 3.2 K takes 0.3 h: {event:?}");
        assert!((event.limit - 20.7).abs() < 1e-5, "0.5 K under the 21.2 °C before the fall: {event:?}");
    }
    let median = computed.rows.iter().find(|r| r.metric.id == "recovery_median").unwrap();
    let interval = median.interval.unwrap();
    assert!(interval.kind.words().ends_with("setbacks found in the data"));
    assert!(
        interval.low <= median.value - 0.25,
        "nothing is stated of its lag: a quarter of an hour earlier"
    );
}

#[test]
fn a_tolerance_and_a_time_can_be_set() {
    let site = site("UTC", "[recovery]\ntolerance = \"1 K\"\nwithin = \"90 min\"\n");
    assert_eq!((site.recovery.tolerance.k(), site.recovery.within_h), (1.0, Some(1.5)));
}
