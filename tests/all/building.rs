//! Homes beside the rest of their building, and numbers by weekday and outdoor temperature.

use std::collections::BTreeMap;

use crate::program::{Ran, files_in};
use crate::small_site::{SITE, SmallSite};

type Row = BTreeMap<String, String>;

/// Eight homes of one room, A to D on the first floor and E to H on the second, at these temperatures all the time.
fn building(degc: [f64; 8], site: &str) -> SmallSite {
    let names = ["A", "B", "C", "D", "E", "F", "G", "H"];
    let floor = |i: usize| if i < 4 { "1" } else { "2" };
    let line = |n: usize, name: &&str| format!("{name},room,living,yes,L-{name},{name}.csv,{}\n", floor(n));
    let roster: String = names.iter().enumerate().map(|(n, name)| line(n, name)).collect();
    let small = SmallSite::new(site, &format!("home,room,use,heated,logger,file,floor\n{roster}"));
    for (name, degc) in names.iter().zip(degc) {
        small.write(&format!("exports/{name}.csv"), &series(|hour| degc + 0.1 * f64::from(hour % 5)));
    }
    small.write("exports/weather.csv", &series(|hour| 0.5 + f64::from(hour % 4)));
    small
}

/// Hourly values from Saturday 3 January 2026, 00:00 in Chicago, for four days.
fn series(degc: impl Fn(u32) -> f64) -> Vec<u8> {
    let row = |h: u32| format!("2026-01-{:02} {:02}:00,{:.2}\n", 3 + h / 24, h % 24, degc(h));
    format!("time,temperature (°C)\n{}", (0..96).map(row).collect::<String>()).into_bytes()
}

fn rows(small: &SmallSite, name: &str) -> Vec<Row> {
    let bytes = &files_in(&small.out())[name];
    csv::Reader::from_reader(bytes.as_slice()).into_deserialize().map(Result::unwrap).collect()
}

fn value(rows: &[Row], home: &str, slice: &str, metric: &str) -> Option<f64> {
    let of = |r: &&Row| r["home"] == home && r["slice"] == slice && r["metric"] == metric;
    rows.iter().find(of).map(|r| r["value"].parse().unwrap())
}

fn close(got: Option<f64>, wanted: f64) {
    assert!(got.is_some_and(|got| (got - wanted).abs() < 1e-5), "{got:?} instead of {wanted}");
}

fn done(ran: &Ran) {
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
}

#[test]
fn a_cold_home_is_told_from_a_cold_building() {
    let small = building([16.0, 21.0, 21.0, 21.0, 21.0, 21.0, 21.0, 21.0], SITE);
    done(&small.audit());
    let metrics = rows(&small, "metrics.csv");
    close(value(&metrics, "A", "all", "offset_from_building"), -5.0);
    close(value(&metrics, "B", "all", "offset_from_building"), 0.0);
    close(value(&metrics, "", "all", "building_median"), 21.2);
    let cold = rows(&small, "findings.csv").into_iter().find(|f| f["rule"] == "room-cold").unwrap();
    assert!(
        cold["shows"].ends_with(
            "Meanwhile the median home of the building was at 21.2 °C on the mean, this home at 16.2 °C."
        ),
        "{}",
        cold["shows"]
    );
    let all_cold = building([16.0; 8], SITE);
    done(&all_cold.audit());
    let metrics = rows(&all_cold, "metrics.csv");
    close(value(&metrics, "A", "all", "offset_from_building"), 0.0);
    let found = rows(&all_cold, "findings.csv");
    assert_eq!(found.iter().filter(|f| f["shows"].contains("building was at 16.2 °C")).count(), 8);
}

#[test]
fn a_cold_floor_is_told_from_a_cold_home() {
    let small = building([16.0, 16.0, 16.0, 16.0, 21.0, 21.0, 21.0, 21.0], SITE);
    done(&small.audit());
    let metrics = rows(&small, "metrics.csv");
    // Of the seven other homes three are on the same floor.
    close(value(&metrics, "A", "all", "offset_from_building"), -5.0);
    close(value(&metrics, "E", "all", "offset_from_building"), 5.0);
    for home in ["A", "E"] {
        close(value(&metrics, home, "all", "offset_from_floor"), 0.0);
        assert_eq!(value(&metrics, home, "all", "offset_from_line"), None, "the roster has no lines");
    }
}

#[test]
fn too_few_homes_make_no_building() {
    let small = SmallSite::new(SITE, crate::small_site::ROSTER);
    done(&small.audit());
    let metrics = rows(&small, "metrics.csv");
    assert!(metrics.iter().all(|r| !r["metric"].contains("building")));
}

#[test]
fn a_home_has_one_floor() {
    let roster = "home,room,use,heated,logger,file,floor\n1A,living,living,yes,L-1,living.csv,1\n1A,bedroom,bedroom,yes,L-2,bedroom.csv,2\n";
    let said = SmallSite::new(SITE, roster).refused();
    assert!(said.contains("roster.csv:3: found 1A with `floor` 2 after 1 in an earlier row"), "{said}");
}

#[test]
fn weekdays_and_outdoor_bins_share_out_the_hours() {
    let site = SITE.replace(
        "clock = \"civil\"",
        "clock = \"civil\"\noutdoor = { file = \"weather.csv\", unit = \"°C\" }",
    );
    let small = building([16.0, 21.0, 21.0, 21.0, 21.0, 21.0, 21.0, 21.0], &site);
    done(&small.audit());
    let metrics = rows(&small, "metrics.csv");
    let hours = |slice: &str| {
        let mean = |r: &&Row| r["home"] == "A" && r["slice"] == slice && r["metric"] == "mean";
        metrics.iter().find(mean).map_or(0.0, |r| r["hours_observed"].parse::<f64>().unwrap())
    };
    let all = hours("all");
    assert!((hours("monday to friday") + hours("saturday and sunday") - all).abs() < 1e-6);
    assert!((hours("saturday and sunday") - 48.0).abs() < 1e-6);
    let bins = ["outdoor 0 to 2 °C", "outdoor 2 to 4 °C"];
    assert!((bins.iter().map(|b| hours(b)).sum::<f64>() - all).abs() < 1e-6);
    let below: f64 = bins.iter().map(|b| value(&metrics, "A", b, "hours_below_band").unwrap()).sum();
    close(Some(below), value(&metrics, "A", "all", "hours_below_band").unwrap());
    let runs =
        metrics.iter().filter(|r| r["slice"].starts_with("outdoor") && r["metric"].starts_with("longest"));
    assert_eq!(runs.count(), 0, "runs ask what came before");
}
