//! Humidity from the export to the metrics: aligned by the same rule, flagged by its range, never guessed.

use std::collections::BTreeMap;
use std::fs::File;

use arrow::array::{Array, AsArray};
use arrow::datatypes::{Float32Type, UInt8Type};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use crate::program::{files_in, run};
use crate::small_site::{SITE, SmallSite};

const ROSTER: &str = "home,room,use,heated,logger,file\n1A,bath,bathroom,no,L-1,bath.csv\n";

fn site(more: &str) -> String {
    let weather = "clock = \"civil\"\noutdoor = { file = \"weather.csv\", unit = \"°C\" }";
    format!("{}\n[quality]\ntests = []\n{more}", SITE.replace("clock = \"civil\"", weather))
}

/// A day of hourly rows below a header; the cells after the time by hour.
fn day(header: &str, cells: impl Fn(u32) -> String) -> Vec<u8> {
    let row = |h: u32| format!("2026-01-05 {h:02}:00,{}\n", cells(h));
    format!("{header}\n{}", (0..24).map(row).collect::<String>()).into_bytes()
}

fn audited(export: &[u8], more: &str) -> SmallSite {
    let small = SmallSite::new(&site(more), ROSTER);
    small.write("exports/bath.csv", export);
    small.write("exports/weather.csv", &day("time,temperature (°C)", |_| "0.0".to_owned()));
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    small
}

/// Value and hours of a metric of the slice `all`.
fn row(small: &SmallSite, metric: &str) -> Option<(f64, f64)> {
    let bytes = &files_in(&small.out())["metrics.csv"];
    let rows = csv::Reader::from_reader(bytes.as_slice()).into_deserialize::<BTreeMap<String, String>>();
    let found = rows.map(Result::unwrap).find(|r| r["slice"] == "all" && r["metric"] == metric)?;
    Some((found["value"].parse().unwrap(), found["hours_observed"].parse().unwrap()))
}

fn close(got: Option<(f64, f64)>, wanted: f64, tolerance: f64) {
    assert!(got.is_some_and(|(got, _)| (got - wanted).abs() <= tolerance), "{got:?} instead of {wanted}");
}

#[test]
fn a_damp_room_is_measured_and_its_cold_surface_too() {
    let small = audited(&day("time,temperature (°C),humidity (%RH)", |_| "20.0,60.0".to_owned()), "");
    close(row(&small, "relative_humidity_mean"), 60.0, 1e-9);
    close(row(&small, "dew_point_mean"), 11.9955, 5e-5);
    close(row(&small, "hours_over_70_rh"), 0.0, 0.0);
    // At a surface factor of 0.75 and 0 °C outdoors the surface is at 15 °C and its air at 82.25 %.
    let all = row(&small, "relative_humidity_mean").unwrap().1;
    close(row(&small, "hours_surface_over_80"), all, 1e-9);
    close(row(&small, "hours_surface_condensation"), 0.0, 0.0);
    let better = audited(
        &day("time,temperature (°C),humidity (%RH)", |_| "20.0,60.0".to_owned()),
        "[humidity]\nsurface_factor = 0.8\n",
    );
    close(row(&better, "hours_surface_over_80"), 0.0, 0.0);
}

#[test]
fn limits_are_strict_and_both_seventy_and_eighty_are_counted() {
    let export =
        day("time,temperature (°C),rh", |h| format!("20.0,{}", if h < 12 { "70.0" } else { "80.5" }));
    let small = audited(&export, "");
    // Between the readings of 11:00 and 12:00 the line rises from 70 to 80.5 %: 11 of 12 steps are over 70.
    close(row(&small, "hours_over_70_rh"), 11.0 + 12.0 / 12.0, 1e-9);
    close(row(&small, "hours_over_80_rh"), 11.0 + 1.0 / 12.0, 1e-9);
}

#[test]
fn what_cannot_be_a_humidity_is_missing_and_the_temperature_stays() {
    let cell = |h: u32| match h {
        5 => "20.0,101.0".to_owned(),
        6 => "20.0,-999".to_owned(),
        7 => "20.0,".to_owned(),
        8 => "20.0,wet".to_owned(),
        _ => "20.0,50.0".to_owned(),
    };
    let small = audited(&day("time,temperature (°C),humidity (%RH)", cell), "");
    close(row(&small, "relative_humidity_mean"), 50.0, 1e-9);
    // From 4:00 to 9:00 there is no humidity: five hours are more than 2.5 intervals.
    let (_, temperature) = row(&small, "mean").unwrap();
    let (_, humidity) = row(&small, "relative_humidity_mean").unwrap();
    assert!((temperature - humidity - 59.0 / 12.0).abs() < 1e-9, "{temperature} {humidity}");
    let file = File::open(small.out().join("readings.parquet")).unwrap();
    let batch =
        ParquetRecordBatchReaderBuilder::try_new(file).unwrap().build().unwrap().next().unwrap().unwrap();
    let percent =
        batch.column_by_name("relative_humidity_percent").unwrap().as_primitive::<Float32Type>().clone();
    let flags = batch.column_by_name("humidity_flag").unwrap().as_primitive::<UInt8Type>().values().to_vec();
    assert_eq!(flags[4..10], [1, 4, 4, 9, 9, 1]);
    assert!(!percent.is_null(5) && percent.is_null(7) && percent.is_null(8));
}

#[test]
fn without_a_plain_humidity_column_there_is_none() {
    for header in
        ["time,temperature (°C)", "time,temperature (°C),battery (%)", "time,temperature (°C),dew point (%)"]
    {
        let small = audited(&day(header, |_| "20.0,60.0".to_owned()), "");
        assert_eq!(row(&small, "relative_humidity_mean"), None, "{header}");
    }
    let roster = "home,room,use,heated,logger,file,column\n1A,bath,bathroom,no,L-1,bath.csv,bath\n1A,kitchen,kitchen,no,L-2,bath.csv,kitchen\n";
    let two = |header: &str| {
        let small = SmallSite::new(&site(""), roster);
        small.write("exports/bath.csv", &day(header, |_| "20.0,60.0,21.0,50.0".to_owned()));
        small.write("exports/weather.csv", &day("time,temperature (°C)", |_| "0.0".to_owned()));
        assert_eq!(small.audit().code, Some(0));
        row(&small, "relative_humidity_mean").map(|(value, _)| value)
    };
    let named = two("time,bath (°C),bath (%),kitchen (°C),kitchen (%)");
    assert!(named.is_some_and(|x| (x - 60.0).abs() < 1e-9), "{named:?}");
    assert_eq!(
        two("time,bath (°C),humidity 1 (%),kitchen (°C),humidity 2 (%)"),
        None,
        "nobody can tell whose"
    );
}

#[test]
fn an_aligned_table_keeps_it_and_the_temperatures_do_not_change() {
    let export = |humid: bool| {
        let header = if humid { "time,temperature (°C),humidity (%)" } else { "time,temperature (°C)" };
        day(header, |h| {
            let degc = 19.0 + f64::from(h % 7) / 3.0;
            if humid {
                format!("{degc:.2},{}", if h > 3 { "61.5" } else { "" })
            } else {
                format!("{degc:.2}")
            }
        })
    };
    let (with, without) = (audited(&export(true), ""), audited(&export(false), ""));
    let again = run(with.folder(), &["audit", "site.toml", "--from-aligned", "out", "--out", "again"]);
    assert_eq!(again.code, Some(0), "{}", again.stderr);
    let (first, again) = (files_in(&with.out()), files_in(&with.folder().join("again")));
    assert!(first["metrics.parquet"] == again["metrics.parquet"]);
    let lines = |small: &SmallSite| -> Vec<String> {
        let bytes = files_in(&small.out())["metrics.csv"].clone();
        let text = String::from_utf8(bytes).unwrap();
        let damp = |l: &str| ["humidity", "dew_point", "_rh,", "surface"].iter().any(|w| l.contains(w));
        text.lines().filter(|l| !damp(l)).map(str::to_owned).collect()
    };
    assert_eq!(lines(&with), lines(&without));
}
