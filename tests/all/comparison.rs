//! `compare`: two periods at like outdoor temperature, with differences known beforehand.

use std::collections::BTreeMap;

use evenrooms::texts::unguarded;

use crate::program::{Ran, files_in, run};
use crate::small_site::SmallSite;

const SITE: &str = r#"[site]
name = "Alder Row"
time_zone = "America/Chicago"
roster = "roster.csv"
exports = "exports"
clock = "utc"
outdoor = { file = "weather.csv", unit = "°C" }
[quality]
tests = []
[band]
lower = "20 °C"
upper = "24 °C"
[[period]]
name = "before"
from = "2026-01-02"
to = "2026-01-21"
[[period]]
name = "after"
from = "2026-01-22"
to = "2026-02-15"
"#;
const ROSTER: &str = "home,room,use,heated,logger,file\n1A,living,living,yes,L-1,living.csv\n1A,bath,bathroom,no,L-2,bath.csv\n";
/// Local midnight of 1 January 2026 in Chicago, in hours of UTC.
const OFFSET_H: u32 = 6;

/// The outdoor temperature of a local day, counted from 1 January: milder days only before, colder ones only after.
fn outdoor(day: u32) -> f64 {
    match day {
        d if d < 21 => [0.5, 2.5, 4.5, 8.5][d as usize % 4],
        d => [-3.5, 0.5, 2.5, 4.5, 4.5][d as usize % 5],
    }
}

/// An hourly series of 46 local days.
fn hourly(value: impl Fn(u32) -> f64) -> Vec<u8> {
    let mut text = "time,temperature (°C)\n".to_owned();
    for hour in 0..46 * 24 {
        let utc = hour + OFFSET_H;
        let (day, of_day) = (utc / 24, utc % 24);
        let (month, day) = if day < 31 { (1, day + 1) } else { (2, day - 30) };
        text.push_str(&format!("2026-{month:02}-{day:02} {of_day:02}:00,{:.3}\n", value(hour / 24)));
    }
    text.into_bytes()
}

/// The living room does not change; the bath is 1.5 K warmer after; both follow the weather.
fn site(text: &str) -> SmallSite {
    let small = SmallSite::new(text, ROSTER);
    let after = |day: u32| f64::from(u8::from(day >= 21));
    small.write("exports/weather.csv", &hourly(outdoor));
    small.write("exports/living.csv", &hourly(|d| 21.0 + 0.2 * outdoor(d)));
    small.write("exports/bath.csv", &hourly(|d| 18.0 + 0.2 * outdoor(d) + 1.5 * after(d)));
    small
}

fn compare(small: &SmallSite, more: &[&str]) -> Ran {
    run(small.folder(), &[&["compare", "site.toml", "--out", "compared"][..], more].concat())
}

const NAMED: [&str; 4] = ["--before", "before", "--after", "after"];

fn rows(small: &SmallSite) -> BTreeMap<(String, String), BTreeMap<String, String>> {
    let bytes = &files_in(&small.folder().join("compared"))["comparison.csv"];
    let rows = csv::Reader::from_reader(bytes.as_slice())
        .into_deserialize::<BTreeMap<String, String>>()
        .map(Result::unwrap)
        .collect::<Vec<_>>();
    rows.into_iter().map(|r| ((r["room"].clone(), r["metric"].clone()), r)).collect()
}

fn close(text: &str, wanted: f64) {
    let got: f64 = text.parse().unwrap();
    assert!((got - wanted).abs() < 2e-3, "{got} instead of {wanted}");
}

#[test]
fn the_weather_is_taken_out_and_the_change_is_left() {
    let small = site(SITE);
    let ran = compare(&small, &NAMED);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let rows = rows(&small);
    let row = |room: &str, metric: &str| &rows[&(room.to_owned(), metric.to_owned())];
    for (room, difference) in [("living", 0.0), ("bath", 1.5)] {
        let mean = row(room, "day_mean");
        // Interpolated hours at midnight mix two days: the edges of a day weigh a few per mille.
        let got: f64 = mean["difference"].parse().unwrap();
        assert!((got - difference).abs() < 0.03, "{room}: {got}");
        let (low, high): (f64, f64) = (mean["low"].parse().unwrap(), mean["high"].parse().unwrap());
        assert!(low <= got && got <= high);
        assert_eq!((mean["unit"].as_str(), mean["difference_unit"].as_str()), ("°C", "K"));
        assert_eq!((mean["days_before"].as_str(), mean["days_after"].as_str()), ("20", "25"));
        assert_eq!((mean["matched_days_before"].as_str(), mean["matched_days_after"].as_str()), ("15", "20"));
        // It begins with a minus, so that a spreadsheet would reckon with it.
        assert_eq!(
            unguarded(&mean["left_out"]),
            "-4 to -2 °C (0 before, 5 after); 8 to 10 °C (5 before, 0 after)"
        );
        assert_eq!((mean["shared_bins"].as_str(), mean["why_not"].as_str()), ("3", ""));
    }
    let spread = row("", "day_spread");
    close(&spread["difference"], -1.5);
    let all = row("living", "day_mean");
    let unmatched =
        all["all_days_after"].parse::<f64>().unwrap() - all["all_days_before"].parse::<f64>().unwrap();
    assert!(unmatched < -0.3, "without matching the weather alone makes {unmatched} K");
    assert!(ran.stdout.contains("matched by their mean outdoor temperature"), "{}", ran.stdout);
    assert!(ran.stdout.contains("no proof of its cause"), "{}", ran.stdout);
}

#[test]
fn dates_and_an_aligned_table_give_the_same() {
    let small = site(SITE);
    assert_eq!(compare(&small, &NAMED).code, Some(0));
    let named = files_in(&small.folder().join("compared"));
    let dates = ["--before", "2026-01-02/2026-01-21", "--after", "2026-01-22/2026-02-15"];
    assert_eq!(compare(&small, &dates).code, Some(0));
    assert!(named["comparison.csv"] == files_in(&small.folder().join("compared"))["comparison.csv"]);
    let page = String::from_utf8_lossy(&named["comparison.html"]).into_owned();
    assert!(page.contains("which is no proof that nothing changed"), "{page}");
    assert_eq!(small.audit().code, Some(0));
    let ran = compare(&small, &[&NAMED[..], &["--from-aligned", "out"]].concat());
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let again = files_in(&small.folder().join("compared"));
    assert!(named["comparison.parquet"] == again["comparison.parquet"]);
    let package: serde_json::Value = serde_json::from_slice(&again["datapackage.json"]).unwrap();
    let resources = package["resources"].as_array().unwrap();
    let tables = resources.iter().filter(|r| r.get("schema").is_some());
    assert_eq!(tables.count(), 2, "the table in both formats");
    assert!(resources.iter().any(|r| r["path"] == "comparison.html" && r["mediatype"] == "text/html"));
    for threads in ["1", "3"] {
        assert_eq!(compare(&small, &[&NAMED[..], &["--threads", threads]].concat()).code, Some(0));
        assert!(named == files_in(&small.folder().join("compared")), "{threads} threads");
    }
}

#[test]
fn without_outdoor_temperature_there_is_no_difference() {
    let small = site(&SITE.replace("outdoor = { file = \"weather.csv\", unit = \"°C\" }\n", ""));
    let ran = compare(&small, &NAMED);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stdout.contains("Not matched: no outdoor temperature"), "{}", ran.stdout);
    for row in rows(&small).values() {
        for empty in ["before", "after", "difference", "low", "high", "interval"] {
            assert_eq!(row[empty], "", "{empty}");
        }
        assert_eq!(row["why_not"], "no outdoor temperature: the periods cannot be matched");
        assert!(!row["all_days_before"].is_empty());
    }
}

#[test]
fn periods_that_are_none_or_overlap_are_refused() {
    let small = site(SITE);
    for (before, after, words) in [
        (
            "winter",
            "after",
            "--before: found \"winter\", expected the name of a [[period]] of the site file (before, after)",
        ),
        ("before", "2026-02-01", "--after: found \"2026-02-01\", expected"),
        ("before", "2026-02-20/2026-02-10", "write 2026-02-10/2026-02-20"),
        ("before", "2026-01-21/2026-02-10", "the two periods share days"),
    ] {
        let ran = compare(&small, &["--before", before, "--after", after]);
        assert_eq!(ran.code, Some(2));
        assert!(ran.stderr.contains(words) && ran.stderr.contains("hint: "), "{}", ran.stderr);
    }
}

#[test]
fn an_audit_in_the_way_is_kept() {
    let small = site(SITE);
    assert_eq!(small.audit().code, Some(0));
    let kept = files_in(&small.out());
    let ran = run(small.folder(), &[&["compare", "site.toml", "--out", "out"][..], &NAMED].concat());
    assert_eq!(ran.code, Some(2));
    assert!(ran.stderr.contains("it holds results of another command"), "{}", ran.stderr);
    assert!(kept == files_in(&small.out()));
}
