//! Loggers that trail their room: by how far, and what that does to the hours that hang on it.

use evenrooms::clock::Span;
use evenrooms::exports::Readings;
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics::{self, Computed, IntervalKind, MetricRow, Slice};
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::site::{Site, read_site_file};
use evenrooms::units::{Accuracy, KelvinDiff};

const STEP_MS: i64 = 300_000;
/// 2026-01-05 00:00 UTC.
const START_MS: i64 = 1_767_571_200_000;

/// One room at a band from 20 to 24 °C and a heat rule of 20 °C; `rows` of the roster from the logger's name on.
fn site(rows: &[&str]) -> Site {
    let text = r#"[site]
name = "Alder Row"
time_zone = "UTC"
roster = "r.csv"

[quality]
tests = []

[band]
lower = "20 °C"
upper = "24 °C"

[heat_rule]
season = { from = "01-01", to = "12-31" }
window = [{ from = "00:00", to = "24:00", minimum = "20 °C" }]
"#;
    let rows: String = rows.iter().map(|row| format!("1A,living,living,yes,{row}\n")).collect();
    let roster = format!("home,room,use,heated,logger,file,from,to,accuracy_k,time_constant_min\n{rows}");
    read_site_file("site.toml", text).with_roster("r.csv", roster.as_bytes()).unwrap()
}

/// The numbers of a room with these values every five minutes, a list for each placement.
fn compute(site: &Site, placements: &[Vec<f64>]) -> Computed {
    let mut at = 0;
    let series = |degc: &Vec<f64>| {
        let rows: Vec<(i64, Option<f64>)> = (at..)
            .zip(degc)
            .map(|(i, x)| (START_MS + i * STEP_MS, Some(*x).filter(|x| !x.is_nan())))
            .collect();
        at += degc.len() as i64;
        let flagged = Flagged::new(Readings::from_series(&rows), &site.quality);
        (Corrected::new(&flagged, None, false), Span::ALWAYS)
    };
    let placements = placements.iter().map(series).collect();
    let room = RoomSeries { placements, accuracy: Accuracy::stated(KelvinDiff::new(0.01)) };
    metrics::compute(site, &site.homes[0], &AlignedHome::align(site, &[room]))
}

fn row<'a>(computed: &'a Computed, metric: &str) -> &'a MetricRow {
    let mut rows = computed.rows.iter().filter(|r| r.slice == Slice::All && r.room.is_some());
    rows.find(|r| r.metric.id == metric).unwrap()
}

/// Value, low and high in steps of five minutes.
fn steps(computed: &Computed, metric: &str) -> [i64; 3] {
    let row = row(computed, metric);
    let interval = row.interval.unwrap();
    [row.value, interval.low, interval.high].map(|hours| (hours * 12.0).round() as i64)
}

/// 3 K/h up from 18.02 °C: 0.25 K a step.
fn rising() -> Vec<f64> {
    (0..24).map(|i| 18.02 + 0.25 * f64::from(i)).collect()
}

#[test]
fn a_rising_room_is_warmer_than_a_slow_logger_shows() {
    // 3 K/h and 10 min are 0.5 K: the room is 0.35 to 0.65 K warmer. Certainly below 20 °C while 0.66 K more are below
    // (18.02 to 19.27, six steps); possibly as long as the logger itself says so (to 19.77, eight steps).
    let computed = compute(&site(&["L-1,1.csv,,,0.01,10"]), &[rising()]);
    assert_eq!(steps(&computed, "hours_below_band"), [8, 6, 8]);
    // Above 24 °C no reading is over 23.77; 0.66 K more puts those from 23.52 on there.
    assert_eq!(steps(&computed, "hours_above_band"), [0, 0, 2]);
    assert_eq!(steps(&computed, "hours_outside_band"), [8, 6, 10]);
    let [value, low, high] = steps(&computed, "heat_rule_hours_below");
    assert_eq!([value, low, high], [6, 6, 8]);
    for metric in ["hours_below_band", "degree_hours_below", "heat_rule_hours_below"] {
        assert_eq!(row(&computed, metric).interval.unwrap().kind, IntervalKind::SensorAccuracyAndLag);
    }
}

#[test]
fn a_falling_room_is_colder_than_a_slow_logger_shows() {
    let falling: Vec<f64> = rising().into_iter().rev().collect();
    let computed = compute(&site(&["L-1,1.csv,,,0.01,10"]), &[falling]);
    // 0.35 to 0.65 K colder: what reads up to 20.32 is certainly below, up to 20.65 possibly.
    assert_eq!(steps(&computed, "hours_below_band"), [8, 8, 11]);
    assert_eq!(steps(&computed, "hours_above_band"), [0, 0, 0]);
}

#[test]
fn without_a_time_constant_of_every_logger_the_interval_is_of_the_sensors_alone() {
    let (first, second) = (rising()[..12].to_vec(), rising()[12..].to_vec());
    for rows in [
        ["L-1,1.csv,,2026-01-05 01:00,0.01,10", "L-2,2.csv,2026-01-05 01:00,,0.01,"],
        ["L-1,1.csv,,2026-01-05 01:00,0.01,", "L-2,2.csv,2026-01-05 01:00,,0.01,"],
    ] {
        let computed = compute(&site(&rows), &[first.clone(), second.clone()]);
        assert_eq!(steps(&computed, "hours_below_band"), [8, 8, 8]);
        let kind = row(&computed, "hours_below_band").interval.unwrap().kind;
        assert_eq!(kind.words(), "sensor accuracy");
    }
}

#[test]
fn a_slope_never_reaches_from_one_logger_to_the_next_or_over_a_hole() {
    let rows = ["L-1,1.csv,,2026-01-05 01:00,0.01,10", "L-2,2.csv,2026-01-05 01:00,,0.01,10"];
    // The second logger reads 1.5 K lower than the first; neither of them moves.
    let computed = compute(&site(&rows), &[vec![21.0; 12], vec![19.5; 12]]);
    assert_eq!(steps(&computed, "hours_below_band"), [12, 12, 12]);
    let mut holed = vec![21.0; 12];
    holed.extend([f64::NAN; 12]);
    holed.extend([19.5; 12]);
    let computed = compute(&site(&["L-1,1.csv,,,0.01,10"]), &[holed]);
    assert_eq!(steps(&computed, "hours_below_band"), [12, 12, 12]);
}
