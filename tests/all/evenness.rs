//! Offsets between rooms: what they are held against, when they have an interval, a verdict, and a value in the design cold.

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
    assert!(row(&rows(&site, 6, mild, 0.2), "offset_from_reference").unwrap().interval.is_none());
    assert_eq!(verdict(&rows(&site, 7, mild, 0.2)), Evenness::Even);
    assert_eq!(verdict(&rows(&site, 20, mild, 4.0)), Evenness::Uneven);
    assert_eq!(verdict(&rows(&site, 20, mild, 1.9)), Evenness::Undecided, "0.1 K from the margin of 2 K");
}

#[test]
fn an_interval_is_no_narrower_than_its_sensors_allow() {
    let width = |accuracy_k: f64| {
        let rows = rows(&site(accuracy_k), 20, |_| 20.0, 0.2);
        let interval = row(&rows, "offset_from_reference").unwrap().interval.unwrap();
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

/// A home of rooms, heated or not, at these temperatures with a wobble from day to day, for three weeks.
fn home(rooms: &[(bool, f64)]) -> Vec<MetricRow> {
    home_of(rooms, &|_, degc| Some(degc))
}

/// The same; `read`: what the logger of a room reads in an hour.
fn home_of(rooms: &[(bool, f64)], read: &dyn Fn((usize, i64), f64) -> Option<f64>) -> Vec<MetricRow> {
    let text = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\nstep = \"60 min\"\nmax_gap = \"60 min\"\n[spread]\nquorum = 2\n[quality]\ntests = []\n";
    let line = |(n, (heated, _)): (usize, &(bool, f64))| {
        let heated = if *heated { "yes" } else { "no" };
        format!("1A,room {n},bedroom,{heated},L-{n},{n}.csv,0.5\n")
    };
    let roster: String = rooms.iter().enumerate().map(line).collect();
    let roster = format!("home,room,use,heated,logger,file,accuracy_k\n{roster}");
    let site = read_site_file("site.toml", text).with_roster("roster.csv", roster.as_bytes()).unwrap();
    let wobble = |room: usize, h: i64| ((h / 24 * 7 + room as i64 * 3) % 5 - 2) as f64 / 20.0;
    let series = |(n, (_, degc)): (usize, &(bool, f64))| -> Vec<(i64, Option<f64>)> {
        (0..21 * 24).map(|h| (h * HOUR_MS, read((n, h), degc + wobble(n, h)))).collect()
    };
    let series: Vec<_> = rooms.iter().enumerate().map(series).collect();
    let mut rows = compute_under(&site, &series, None).rows;
    rows.retain(|r| r.slice == Slice::All);
    rows
}

/// The verdict of each room; `None`: no reference.
fn verdicts(rooms: &[(bool, f64)], rows: &[MetricRow]) -> Vec<Option<Evenness>> {
    let of = |n: usize| {
        let name = format!("room {n}");
        let row = |id: &str| {
            rows.iter().find(|r| r.metric.id == id && r.room.as_deref() == Some(&name)).map(|r| r.value)
        };
        let verdict = row("evenness_verdict").map(Evenness::of);
        assert_eq!(
            verdict.is_some(),
            row("offset_from_reference").is_some(),
            "no offset without a reference"
        );
        verdict
    };
    (0..rooms.len()).map(of).collect()
}

const EVEN: Option<Evenness> = Some(Evenness::Even);
const UNEVEN: Option<Evenness> = Some(Evenness::Uneven);

#[test]
fn one_hot_bedroom_makes_no_neighbour_uneven() {
    // 81 °F, and 70 °F beside it.
    let rooms = [(true, 27.2), (true, 21.1), (true, 21.1), (true, 21.1), (false, 20.6)];
    assert_eq!(verdicts(&rooms, &home(&rooms)), [UNEVEN, EVEN, EVEN, EVEN, EVEN]);
}

#[test]
fn a_broken_heater_of_one_of_three_makes_the_others_no_more_uneven() {
    let rooms = [(true, 15.0), (true, 21.0), (true, 21.2), (false, 20.6)];
    // Half way between a good room and a broken one is no reference for the third.
    assert_eq!(verdicts(&rooms, &home(&rooms)), [UNEVEN, None, None, EVEN]);
}

#[test]
fn of_three_with_two_broken_heaters_nothing_is_called_even() {
    let rooms = [(true, 15.0), (true, 14.8), (true, 21.0), (false, 20.6)];
    let found = verdicts(&rooms, &home(&rooms));
    assert_eq!(found, [None, None, UNEVEN, UNEVEN], "two of three agree, and nobody knows who is right");
    let rooms = [(true, 15.0), (true, 18.0), (true, 21.5), (false, 20.6)];
    let found = verdicts(&rooms, &home(&rooms));
    assert!(found.iter().all(|verdict| *verdict != EVEN), "{found:?}");
}

#[test]
fn two_heated_rooms_far_apart_are_both_uneven_and_no_reference() {
    let rooms = [(true, 18.0), (true, 24.0), (false, 21.0)];
    let rows = home(&rooms);
    assert_eq!(verdicts(&rooms, &rows), [UNEVEN, UNEVEN, None]);
    let apart = rows.iter().find(|r| r.metric.id == "reference_apart").unwrap();
    assert!((apart.value - 6.0).abs() < 0.2 && apart.room.as_deref() == Some("room 2"), "{apart:?}");
    // Not surely further apart than the margin of 2 K.
    let rooms = [(true, 20.0), (true, 22.1), (false, 21.0)];
    assert_eq!(verdicts(&rooms, &home(&rooms))[2], EVEN);
}

#[test]
fn one_heated_room_serves_the_others_and_is_held_against_none() {
    let rooms = [(true, 21.0), (false, 20.5), (false, 17.0)];
    let rows = home(&rooms);
    assert_eq!(verdicts(&rooms, &rows), [None, EVEN, UNEVEN]);
    let of = |room: &str| {
        rows.iter()
            .find(|r| r.metric.id == "reference_rooms" && r.room.as_deref() == Some(room))
            .unwrap()
            .value
    };
    assert!(of("room 0").abs() < 0.1 && (of("room 1") - 1.0).abs() < 0.1);
}

#[test]
fn what_few_days_of_a_third_room_say_hides_no_two_rooms_apart() {
    let rooms = [(true, 18.0), (true, 24.0), (true, 21.0), (false, 21.0)];
    let rows = home_of(&rooms, &|(room, h), degc| (room != 2 || h < 5 * 24).then_some(degc));
    assert_eq!(verdicts(&rooms, &rows)[3], None);
}

/// Six rooms that seem alike: two of them may be truly apart by what their sensors hide, whatever the others do.
#[test]
fn rooms_that_seem_alike_may_be_apart_by_what_two_sensors_hide() {
    let rows = home(&[(true, 20.0); 6]);
    let spread = row(&rows, "spread_median").unwrap();
    let interval = spread.interval.unwrap();
    assert!(interval.high - spread.value >= 0.5 * 2.0_f64.sqrt(), "{interval:?}");
    assert!(interval.low.abs() < 1e-9, "and be as warm as each other: {interval:?}");
}
