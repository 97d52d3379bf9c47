//! Aligned tables that no audit can have written are refused, though their provenance vouches for them.

use std::borrow::Cow;
use std::fs;

use evenrooms::clock::UtcTime;
use evenrooms::tables::{ALIGNED, Cell, ParquetFile};
use sha2::{Digest, Sha256};

use crate::program::{Ran, run};
use crate::small_site::{ROSTER, SITE, SmallSite};

const START_MS: i64 = 1_767_592_800_000;
const STEP_MS: i64 = 300_000;

/// A row of the table.
#[derive(Clone)]
struct Row {
    home: &'static str,
    room: &'static str,
    time_ms: i64,
    degc: f64,
    accuracy_k: f64,
    humidity: Option<f64>,
    flag: u64,
}

/// Two days of two rooms; the bedroom comes first.
fn good() -> Vec<Row> {
    let row = |room: &'static str, level: f64, n: i64| Row {
        home: "1A",
        room,
        time_ms: START_MS + n * STEP_MS,
        degc: level + (n % 7) as f64 / 10.0,
        accuracy_k: 0.5,
        humidity: Some(40.0 + (n % 5) as f64),
        flag: if n == 30 { 3 } else { 1 },
    };
    let rooms = [("bedroom", 20.5), ("living", 21.0)];
    rooms.iter().flat_map(|(room, level)| (0..576).map(move |n| row(room, *level, n))).collect()
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Puts a table of these rows in the place of an audit's, and a provenance that vouches for it.
fn forge(small: &SmallSite, rows: &[Row]) {
    let cells = |row: &Row| {
        vec![
            Cell::Text(Cow::Borrowed(row.home)),
            Cell::Text(Cow::Borrowed(row.room)),
            Cell::Time(UtcTime::from_ms(row.time_ms)),
            Cell::Number(row.degc),
            Cell::Number(row.accuracy_k),
            row.humidity.map_or(Cell::Empty, Cell::Number),
            Cell::Count(row.flag),
        ]
    };
    let mut file = ParquetFile::start(&ALIGNED, Vec::new()).unwrap();
    file.add(&rows.iter().map(cells).collect::<Vec<_>>()).unwrap();
    let table = file.finish().unwrap();
    let aligned = small.out().join("aligned.parquet");
    let was = hex(&fs::read(&aligned).unwrap());
    let path = small.out().join("provenance.json");
    let text = fs::read_to_string(&path).unwrap().replace(&was, &hex(&table));
    let (before, seal) = text.rsplit_once("\"seal\": \"").unwrap();
    let open = format!("{before}\"seal\": \"{}{}", "0".repeat(64), &seal[64..]);
    let sealed = format!("{before}\"seal\": \"{}{}", hex(open.as_bytes()), &seal[64..]);
    fs::write(path, sealed).unwrap();
    fs::write(aligned, table).unwrap();
}

/// An audit that starts from such a table.
fn reentered(small: &SmallSite, rows: &[Row]) -> Ran {
    assert_eq!(small.audit().code, Some(0));
    forge(small, rows);
    run(small.folder(), &["audit", "site.toml", "--from-aligned", "out", "--out", "again"])
}

/// What is said where one row was changed, or all of them.
fn refused(change: impl Fn(&mut Vec<Row>)) -> String {
    let small = SmallSite::new(SITE, ROSTER);
    let mut rows = good();
    change(&mut rows);
    let ran = reentered(&small, &rows);
    assert_eq!(ran.code, Some(2), "{}\n{}", ran.stdout, ran.stderr);
    assert!(!small.folder().join("again/metrics.csv").exists(), "no result");
    assert!(ran.stderr.contains("aligned.parquet: ") && ran.stderr.contains("hint: "), "{}", ran.stderr);
    ran.stderr
}

#[test]
fn a_table_as_an_audit_could_have_written_it_is_taken() {
    let small = SmallSite::new(SITE, ROSTER);
    let ran = reentered(&small, &good());
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let metrics = fs::read_to_string(small.folder().join("again/metrics.csv")).unwrap();
    assert!(metrics.contains("1A,bedroom,whole record,all,mean,20.79"), "{metrics}");
}

#[test]
fn temperatures_that_no_room_has_are_refused() {
    for (degc, found) in [(f64::NAN, "NaN"), (f64::INFINITY, "inf"), (1e9, "1000000000"), (-300.0, "-300")] {
        let words = refused(|rows| rows[700].degc = degc);
        let expected =
            format!("row 701 (1A living): found a temperature of {found} °C, expected -50 to 95 °C");
        assert!(words.contains(&expected), "{words}");
    }
}

#[test]
fn temperatures_that_are_only_extreme_are_taken() {
    for degc in [-39.0, 84.0] {
        let mut rows = good();
        rows[700].degc = degc;
        let ran = reentered(&SmallSite::new(SITE, ROSTER), &rows);
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    }
}

#[test]
fn accuracies_that_no_logger_has_are_refused() {
    for (accuracy_k, found) in [(-0.5, "-0.5"), (f64::NAN, "NaN"), (400.0, "400")] {
        let words = refused(|rows| rows.iter_mut().for_each(|row| row.accuracy_k = accuracy_k));
        let expected = format!("row 1 (1A bedroom): found an accuracy of {found} K, expected 0 to 20 K");
        assert!(words.contains(&expected), "{words}");
    }
    let words = refused(|rows| rows[5].accuracy_k = 0.1);
    assert!(words.contains("row 6 (1A bedroom): found another accuracy than in the row before"), "{words}");
}

#[test]
fn times_that_no_record_has_are_refused() {
    let expected = "expected years from 1990 to 2099";
    let words = refused(|rows| rows[576].time_ms = 0);
    assert!(words.contains("row 577 (1A living): found the time 1970-01-01T00:00:00Z"), "{words}");
    assert!(words.contains(expected), "{words}");
    let words = refused(|rows| rows[1151].time_ms = 7_258_118_400_000);
    assert!(words.contains("row 1152 (1A living): found the time 2200-01-01T00:00:00Z"), "{words}");
    assert!(words.contains(expected), "{words}");
    refused(|rows| rows[1151].time_ms = i64::MAX);
    refused(|rows| rows[0].time_ms = i64::MIN);
}

#[test]
fn times_out_of_order_are_refused() {
    let words = refused(|rows| rows.swap(10, 11));
    assert!(words.contains("row 12 (1A bedroom): found a time that is not after the one before"), "{words}");
    let words = refused(|rows| rows[11].time_ms = rows[10].time_ms);
    assert!(words.contains("row 12 (1A bedroom): "), "{words}");
}

#[test]
fn a_room_in_two_places_of_the_table_is_refused() {
    let words = refused(|rows| rows.rotate_left(100));
    assert!(words.contains("row 1053 (1A bedroom): found a room whose rows ended before"), "{words}");
}

#[test]
fn humidities_and_flags_that_are_none_are_refused() {
    let words = refused(|rows| rows[3].humidity = Some(140.0));
    assert!(words.contains("row 4 (1A bedroom): found a humidity of 140 %, expected 0 to 100 %"), "{words}");
    let words = refused(|rows| rows[3].flag = 4);
    assert!(words.contains("row 4 (1A bedroom): found a flag 4, expected 1"), "{words}");
}

/// A second every 5 min for a century is 10 million instants a year.
#[test]
fn a_table_that_no_grid_holds_is_refused() {
    let small = SmallSite::new(&SITE.replace("[band]", "step = \"1 s\"\n\n[band]"), ROSTER);
    let mut rows = good();
    rows[575].time_ms += 20 * 365 * 86_400_000;
    let ran = reentered(&small, &rows);
    assert_eq!(ran.code, Some(2), "{}", ran.stderr);
    assert!(
        ran.stderr.contains("instants between the first and the last of 1A, expected 11000000 at most"),
        "{}",
        ran.stderr
    );
}
