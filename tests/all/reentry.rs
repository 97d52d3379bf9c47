//! Aligned tables that no audit can have written are refused, though their provenance vouches for them.

use std::borrow::Cow;
use std::fs::{self, File};
use std::sync::Arc;

use arrow::compute::cast;
use arrow::datatypes::{DataType, Field, Schema};
use arrow::record_batch::RecordBatch;
use evenrooms::clock::UtcTime;
use evenrooms::tables::{ALIGNED, Cell, ParquetFile, Table, WEATHER};
use parquet::arrow::ArrowWriter;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
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
    relative_k: f64,
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
        relative_k: 0.15,
        humidity: Some(40.0 + (n % 5) as f64),
        flag: if n == 30 { 3 } else { 1 },
    };
    let rooms = [("bedroom", 20.5), ("living", 21.0)];
    rooms.iter().flat_map(|(room, level)| (0..576).map(move |n| row(room, *level, n))).collect()
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// Puts a table in the place of an audit's, and a provenance that vouches for it.
fn put(small: &SmallSite, name: &str, table: &[u8]) {
    let place = small.out().join(name);
    let was = hex(&fs::read(&place).unwrap());
    let path = small.out().join("provenance.json");
    let text = fs::read_to_string(&path).unwrap().replace(&was, &hex(table));
    let (before, seal) = text.rsplit_once("\"seal\": \"").unwrap();
    let open = format!("{before}\"seal\": \"{}{}", "0".repeat(64), &seal[64..]);
    let sealed = format!("{before}\"seal\": \"{}{}", hex(open.as_bytes()), &seal[64..]);
    fs::write(path, sealed).unwrap();
    fs::write(place, table).unwrap();
}

fn written(table: &'static Table, rows: &[Vec<Cell<'_>>]) -> Vec<u8> {
    let mut file = ParquetFile::start(table, Vec::new()).unwrap();
    file.add(rows).unwrap();
    file.finish().unwrap()
}

/// Puts a table of these rows in the place of an audit's.
fn forge(small: &SmallSite, rows: &[Row]) {
    let cells = |row: &Row| {
        vec![
            Cell::Text(Cow::Borrowed("Alder Row")),
            Cell::Text(Cow::Borrowed(row.home)),
            Cell::Text(Cow::Borrowed(row.room)),
            Cell::Time(UtcTime::from_ms(row.time_ms)),
            Cell::Number(row.degc),
            Cell::Number(row.accuracy_k),
            row.humidity.map_or(Cell::Empty, Cell::Number),
            Cell::Count(row.flag),
            Cell::Number(row.relative_k),
        ]
    };
    put(small, "aligned.parquet", &written(&ALIGNED, &rows.iter().map(cells).collect::<Vec<_>>()));
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
    assert!(metrics.contains("Alder Row,1A,bedroom,whole record,all,mean,20.79"), "{metrics}");
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
        let relative = refused(|rows| rows.iter_mut().for_each(|row| row.relative_k = accuracy_k));
        assert!(relative.contains(&format!("found an accuracy of {found} K")), "{relative}");
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

/// An hour of weather every step, as an audit with a weather series would have written it.
fn weather(change: impl Fn(usize, &mut Vec<Cell<'static>>)) -> Vec<u8> {
    let row = |n: usize| {
        let mut cells = vec![
            Cell::Text(Cow::Borrowed("Alder Row")),
            Cell::Time(UtcTime::from_ms(START_MS + n as i64 * STEP_MS)),
            Cell::Number(-4.0 + n as f64 / 1000.0),
            Cell::Empty,
            Cell::Count(1),
        ];
        change(n, &mut cells);
        cells
    };
    written(&WEATHER, &(0..576).map(row).collect::<Vec<_>>())
}

/// An audit that starts from an audit's own table, and from this one of the weather.
fn with_weather(table: &[u8]) -> (SmallSite, Ran) {
    let small = SmallSite::new(SITE, ROSTER);
    assert_eq!(small.audit().code, Some(0));
    put(&small, "weather.parquet", table);
    let ran = run(small.folder(), &["audit", "site.toml", "--from-aligned", "out", "--out", "again"]);
    (small, ran)
}

#[test]
fn weather_as_an_audit_could_have_written_it_is_taken() {
    let (small, ran) = with_weather(&weather(|_, _| ()));
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let metrics = fs::read_to_string(small.folder().join("again/metrics.csv")).unwrap();
    assert!(metrics.contains("Alder Row,,,whole record,all,outdoor_mean,-3.7"), "{metrics}");
}

#[test]
fn weather_that_is_none_is_refused() {
    let time = |after_ms: i64| Cell::Time(UtcTime::from_ms(START_MS + after_ms));
    let cases: [(usize, usize, Cell<'static>, &str); 7] = [
        (7, 2, Cell::Number(f64::NAN), "row 8 (the weather): found a temperature of NaN °C"),
        (7, 2, Cell::Number(1e9), "row 8 (the weather): found a temperature of 1000000000 °C"),
        (7, 1, time(0), "row 8 (the weather): found a time that is not after the one before"),
        (7, 1, Cell::Time(UtcTime::from_ms(0)), "row 8 (the weather): found the time 1970-01-01T00:00:00Z"),
        (7, 0, Cell::Text(Cow::Borrowed("Elder Row")), "found the site Elder Row, expected Alder Row"),
        (7, 4, Cell::Count(9), "row 8 (the weather): found a flag 9, expected 1"),
        (575, 1, time(575 * STEP_MS + 1000), "found instants on another grid, expected a step of 300 s"),
    ];
    for (row, column, cell, words) in cases {
        let change = |n: usize, cells: &mut Vec<Cell<'static>>| {
            if n == row {
                cells[column] = cell.clone();
            }
        };
        let (small, ran) = with_weather(&weather(change));
        assert_eq!(ran.code, Some(2), "{words}: {}", ran.stdout);
        assert!(ran.stderr.contains("weather.parquet: ") && ran.stderr.contains("hint: "), "{}", ran.stderr);
        assert!(ran.stderr.contains(words), "{words}: {}", ran.stderr);
        assert!(!small.folder().join("again/metrics.csv").exists(), "no result");
    }
}

#[test]
fn a_weather_table_that_is_gone_or_another_one_is_refused() {
    let small = SmallSite::new(SITE, ROSTER);
    assert_eq!(small.audit().code, Some(0));
    let again = || run(small.folder(), &["audit", "site.toml", "--from-aligned", "out", "--out", "again"]);
    let path = small.out().join("weather.parquet");
    fs::write(&path, weather(|_, _| ())).unwrap();
    let ran = again();
    assert_eq!(ran.code, Some(2), "{}", ran.stdout);
    assert!(ran.stderr.contains("weather.parquet: found SHA-256 "), "{}", ran.stderr);
    fs::remove_file(&path).unwrap();
    let ran = again();
    assert_eq!(ran.code, Some(2), "{}", ran.stdout);
    assert!(ran.stderr.contains("aligned.parquet: there is no weather.parquet beside it"), "{}", ran.stderr);
    assert!(ran.stderr.contains("hint: "), "{}", ran.stderr);
}

#[test]
fn a_table_of_another_site_is_refused() {
    let small = SmallSite::new(SITE, ROSTER);
    assert_eq!(small.audit().code, Some(0));
    small.write("site.toml", SITE.replace("Alder Row", "Elder Row").as_bytes());
    let ran = run(small.folder(), &["audit", "site.toml", "--from-aligned", "out", "--out", "again"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stdout);
    let words = "aligned.parquet: found a table of the site Alder Row, expected one of Elder Row";
    assert!(ran.stderr.contains(words) && ran.stderr.contains("hint: name the site file"), "{}", ran.stderr);
}

/// Earlier tables had no site, texts by dictionary, and the weather among the rows of homes.
#[test]
fn a_table_of_an_older_version_is_refused_with_the_way_on() {
    let small = SmallSite::new(SITE, ROSTER);
    assert_eq!(small.audit().code, Some(0));
    let path = small.out().join("aligned.parquet");
    let read = ParquetRecordBatchReaderBuilder::try_new(File::open(&path).unwrap()).unwrap().build().unwrap();
    let by_dictionary = DataType::Dictionary(Box::new(DataType::Int32), Box::new(DataType::Utf8));
    let mut writer = None;
    for batch in read.map(Result::unwrap) {
        let columns: Vec<_> =
            batch.columns()[1..]
                .iter()
                .map(|c| {
                    if *c.data_type() == DataType::Utf8 {
                        cast(c, &by_dictionary).unwrap()
                    } else {
                        c.clone()
                    }
                })
                .collect();
        let names = batch.schema().fields().iter().skip(1).map(|f| f.name().clone()).collect::<Vec<_>>();
        let fields =
            names.iter().zip(&columns).map(|(name, c)| Field::new(name, c.data_type().clone(), true));
        let schema = Arc::new(Schema::new(fields.collect::<Vec<_>>()));
        let older = RecordBatch::try_new(Arc::clone(&schema), columns).unwrap();
        let writer = writer.get_or_insert_with(|| ArrowWriter::try_new(Vec::new(), schema, None).unwrap());
        writer.write(&older).unwrap();
    }
    put(&small, "aligned.parquet", &writer.unwrap().into_inner().unwrap());
    let ran = run(small.folder(), &["audit", "site.toml", "--from-aligned", "out", "--out", "again"]);
    assert_eq!(ran.code, Some(2), "{}", ran.stdout);
    let words = "found the columns home by dictionary, room by dictionary, time_utc";
    assert!(ran.stderr.contains(words), "{}", ran.stderr);
    assert!(ran.stderr.contains("hint: audit the exports again with this version"), "{}", ran.stderr);
}
