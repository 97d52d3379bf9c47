//! How long each stage takes on one logger's winter: 90 days at 5 min, 25,920 readings.
//!
//! Seeded by nothing but arithmetic: the same series every time.

use std::collections::BTreeMap;
use std::hint::black_box;

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use evenrooms::clock::Span;
use evenrooms::exports::{Files, Purpose, Readings, open_home};
use evenrooms::grid::{AlignedHome, RoomSeries};
use evenrooms::metrics;
use evenrooms::quality::{Corrected, Flagged};
use evenrooms::site::{DEFAULT_ACCURACY, QualityLimits, Site, read_site_file};
use evenrooms::units::Accuracy;

const READINGS: i64 = 90 * 288;
const SITE: &str = "[site]\nname = \"bench\"\ntime_zone = \"America/Chicago\"\nroster = \"roster.csv\"\n\n[band]\nlower = \"20 °C\"\nupper = \"24 °C\"\n";
const ROSTER: &str = "home,room,use,heated,logger,file,unit,clock\n1,living,living,yes,a,living.csv,°C,utc\n1,bedroom,bedroom,yes,b,living.csv,°C,utc\n";

fn main() {
    divan::main();
}

/// Hundredths of a degree that wander without a generator of random numbers.
fn centi(i: i64) -> i64 {
    2100 + (i * 7919) % 13 + ((i / 12) * 31) % 150 - 75
}

fn readings() -> Readings {
    let series: Vec<(i64, Option<f64>)> =
        (0..READINGS).map(|i| (i * 300_000 + (i * 17) % 20_000, Some(centi(i) as f64 / 100.0))).collect();
    Readings::from_series(&series)
}

fn csv() -> Vec<u8> {
    let mut text = String::from("time,temp_c\n");
    for i in 0..READINGS {
        let (day, minute) = (i / 288, i % 288 * 5);
        let month = 1 + day / 30;
        text.push_str(&format!(
            "2026-{month:02}-{:02} {:02}:{:02}:{:02},{:.2}\n",
            1 + day % 28,
            minute / 60,
            minute % 60,
            i % 17,
            centi(i) as f64 / 100.0
        ));
    }
    text.into_bytes()
}

fn site(roster: &str) -> Site {
    read_site_file("site.toml", SITE)
        .with_roster("roster.csv", roster.as_bytes())
        .expect("the bench's site has no mistakes")
}

#[divan::bench]
fn read_csv(bencher: Bencher<'_, '_>) {
    let bytes = csv();
    let one_room: String = ROSTER.lines().take(2).map(|l| format!("{l}\n")).collect();
    let site = site(&one_room);
    let count = BytesCount::from(bytes.len());
    let files: Files = BTreeMap::from([("living.csv".to_owned(), Ok(bytes))]);
    bencher.counter(count).bench(|| open_home(&site, &site.homes[0], black_box(&files), Purpose::Audit));
}

#[divan::bench]
fn flag(bencher: Bencher<'_, '_>) {
    let limits = QualityLimits::default();
    bencher
        .counter(ItemsCount::from(READINGS as usize))
        .with_inputs(readings)
        .bench_values(|r| Flagged::new(r, &limits));
}

fn two_rooms() -> Vec<RoomSeries> {
    let flagged = Flagged::new(readings(), &QualityLimits::default());
    let room = || RoomSeries {
        placements: vec![(Corrected::new(&flagged, None, false), Span::ALWAYS)],
        accuracy: Accuracy::stated(DEFAULT_ACCURACY),
    };
    vec![room(), room()]
}

/// The bench's roster with one file for two rooms would be a mistake; here only names matter.
fn two_room_site() -> Site {
    site(&ROSTER.replace("b,living.csv", "b,bedroom.csv"))
}

#[divan::bench]
fn align(bencher: Bencher<'_, '_>) {
    let (site, rooms) = (two_room_site(), two_rooms());
    bencher
        .counter(ItemsCount::from(2 * READINGS as usize))
        .bench(|| AlignedHome::align(&site, black_box(&rooms)));
}

#[divan::bench]
fn compute_metrics(bencher: Bencher<'_, '_>) {
    let site = two_room_site();
    let aligned = AlignedHome::align(&site, &two_rooms());
    bencher
        .counter(ItemsCount::from(2 * READINGS as usize))
        .bench(|| metrics::compute(&site, &site.homes[0], black_box(&aligned)));
}
