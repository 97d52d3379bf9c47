//! Offsets between rooms: when they have an interval, a verdict, and a value in the design cold.

use evenrooms::metrics::{Evenness, MetricRow, Slice};
use evenrooms::site::{Site, read_site_file};

use crate::pipeline::compute_under;

const HOUR_MS: i64 = 3_600_000;

fn site(accuracy_k: f64) -> Site {
    let text = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\nstep = \"60 min\"\nmax_gap = \"60 min\"\ndesign_outdoor = \"-10 °C\"\n[quality]\ntests = []\n";
    let roster = format!(
        "home,room,use,heated,logger,file,accuracy_k\n1A,living,living,yes,L-1,1.csv,{accuracy_k}\n1A,bath,bathroom,no,L-2,2.csv,{accuracy_k}\n"
    );
    read_site_file("site.toml", text).with_roster("roster.csv", roster.as_bytes()).unwrap()
}

/// A bathroom that is `base` K and a tenth of each K of cold under the living room, with a wobble from day to day.
fn rows(site: &Site, days: i64, outdoor: impl Fn(i64) -> f64, base: f64) -> Vec<MetricRow> {
    let hours = || (0..days * 24).map(|h| (h, h / 24));
    let wobble = |day: i64| ((day * 7) % 5 - 2) as f64 / 20.0;
    let living = hours().map(|(h, _)| (h * HOUR_MS, Some(21.0))).collect();
    let bath = |day: i64| 21.0 - base - (20.0 - outdoor(day)) / 10.0 + wobble(day);
    let bath = hours().map(|(h, day)| (h * HOUR_MS, Some(bath(day)))).collect();
    let weather: Vec<(i64, Option<f64>)> =
        hours().map(|(h, day)| (h * HOUR_MS, Some(outdoor(day)))).collect();
    let mut rows = compute_under(site, &[living, bath], Some(&weather)).rows;
    rows.retain(|r| r.slice == Slice::All && r.room.as_deref() == Some("bath"));
    rows
}

fn row<'a>(rows: &'a [MetricRow], id: &str) -> Option<&'a MetricRow> {
    rows.iter().find(|r| r.metric.id == id)
}

fn verdict(rows: &[MetricRow]) -> Evenness {
    Evenness::of(row(rows, "evenness_verdict").unwrap().value)
}

#[test]
fn a_verdict_needs_seven_whole_days_and_evidence() {
    let mild = |_| 20.0;
    let site = site(0.3);
    assert_eq!(verdict(&rows(&site, 6, mild, 0.2)), Evenness::Undecided);
    assert!(row(&rows(&site, 6, mild, 0.2), "offset_from_heated_mean").unwrap().interval.is_none());
    assert_eq!(verdict(&rows(&site, 7, mild, 0.2)), Evenness::Even);
    assert_eq!(verdict(&rows(&site, 20, mild, 4.0)), Evenness::Uneven);
    assert_eq!(verdict(&rows(&site, 20, mild, 1.9)), Evenness::Undecided, "0.1 K from the margin of 2 K");
}

#[test]
fn an_interval_is_no_narrower_than_its_sensors_allow() {
    let width = |accuracy_k: f64| {
        let rows = rows(&site(accuracy_k), 20, |_| 20.0, 0.2);
        let interval = row(&rows, "offset_from_heated_mean").unwrap().interval.unwrap();
        interval.high - interval.low
    };
    // Two sensors good to ±0.5 K: 90 % of their differences lie within 0.5 √2 · 1.645/1.96.
    let sensors = 2.0 * 0.5 * 2.0_f64.sqrt() * 1.644854 / 1.959964;
    assert!(width(0.5) > sensors && width(0.5) < 1.1 * sensors, "{}", width(0.5));
    assert!(width(0.01) < 0.15, "{}", width(0.01));
}

#[test]
fn the_design_cold_is_refused_where_the_weather_hardly_changed_and_marked_where_it_was_never_seen() {
    let site = site(0.3);
    let swings = |day: i64| -((day * 3) % 8) as f64;
    let given = |days, weather: &dyn Fn(i64) -> f64| {
        let rows = rows(&site, days, weather, 0.2);
        row(&rows, "offset_at_design").map(|r| (r.value, r.interval.unwrap().kind.words()))
    };
    assert_eq!(given(9, &swings), None, "fewer than 10 days");
    assert_eq!(given(30, &|day| -(day % 5) as f64), None, "an outdoor range of 4 K");
    let (value, words) = given(30, &swings).unwrap();
    // 0.2 K and a tenth of the 30 K between 20 and −10 °C.
    assert!((value + 3.2).abs() < 0.1, "{value}");
    assert!(words.ends_with("extrapolated"), "{words}");
    let (_, words) = given(30, &|day| -2.0 * ((day * 3) % 8) as f64).unwrap();
    assert!(!words.ends_with("extrapolated"), "−14 °C was seen: {words}");
}
