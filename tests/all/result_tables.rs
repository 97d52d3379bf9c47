//! The tables of an audit of the sample: what they declare, and that every row is accounted for.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::path::Path;

use arrow::array::{Array, AsArray};
use arrow::datatypes::{DataType, Float32Type, TimeUnit, TimestampMillisecondType, UInt8Type, UInt32Type};
use arrow::record_batch::RecordBatch;
use evenrooms::clock::UtcTime;
use evenrooms::simulate::{SimulatedHome, Simulation, alder_row};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use serde_json::Value;

use crate::program::{SampleAudit, files_in};

/// The tables and columns of the design.
const DESIGNED: [(&str, &str); 12] = [
    (
        "cases",
        "site home rooms id kind severity course since period from_utc to_utc sentence decided sure against doubted could_also_be next_step bring findings",
    ),
    ("acceptance", "site home room standing period criterion metric unit limit measured low high answer why"),
    (
        "readings",
        "site home room logger time_utc temperature_degc flag tests line relative_humidity_percent humidity_flag file",
    ),
    ("set_aside", "site home rooms file line reason text times"),
    (
        "aligned",
        "site home room time_utc temperature_degc accuracy_k relative_humidity_percent flag relative_accuracy_k",
    ),
    ("weather", "site time_utc temperature_degc relative_humidity_percent flag"),
    ("metrics", "site home room period slice metric value unit low high interval sensor days hours_observed"),
    ("events", "site home room period kind from_utc to_utc duration_h value unit limit censored"),
    (
        "findings",
        "site home room id severity rule from_utc to_utc observed unit limit low high shows could_also_be next_step",
    ),
    ("not_judged", "site home room period rule why"),
    (
        "loggers",
        "site home room logger file rows_seen rows_kept rows_set_aside first_utc last_utc interval_s coverage longest_gap_h good not_evaluated suspect fail missing offset_k offset_left_on_k clock",
    ),
    ("rooms", "site home room use heated"),
];

fn utc() -> DataType {
    DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into()))
}

pub(crate) fn open(path: &Path) -> ParquetRecordBatchReaderBuilder<File> {
    ParquetRecordBatchReaderBuilder::try_new(File::open(path).unwrap()).unwrap()
}

pub(crate) fn batches(path: &Path) -> Vec<RecordBatch> {
    open(path).build().unwrap().map(Result::unwrap).collect()
}

/// A column of texts; empty where there is none.
pub(crate) fn texts(batch: &RecordBatch, column: &str) -> Vec<String> {
    let plain = batch.column_by_name(column).unwrap();
    plain.as_string::<i32>().iter().map(|text| text.unwrap_or_default().to_owned()).collect()
}

pub(crate) fn times(batch: &RecordBatch) -> Vec<i64> {
    batch.column_by_name("time_utc").unwrap().as_primitive::<TimestampMillisecondType>().values().to_vec()
}

/// Path, format and declared columns of each file.
/// Files of tables.
fn resources(package: &Value) -> Vec<(&str, &str, &Vec<Value>)> {
    let listed = package["resources"].as_array().unwrap().iter().filter(|r| r.get("schema").is_some());
    listed.map(|r| (r["path"].as_str().unwrap(), r["format"].as_str().unwrap(), fields(r))).collect()
}

fn fields(resource: &Value) -> &Vec<Value> {
    resource["schema"]["fields"].as_array().unwrap()
}

fn names(fields: &[Value]) -> Vec<&str> {
    fields.iter().map(|field| field["name"].as_str().unwrap()).collect()
}

#[test]
fn the_folder_holds_what_the_data_package_lists() {
    let audit = SampleAudit::get();
    let package = audit.json("datapackage.json");
    let mut listed: BTreeSet<&str> = resources(&package).into_iter().map(|(path, ..)| path).collect();
    let plain = ["findings.xlsx", "provenance.json", "report.html"];
    let described: Vec<&Value> =
        package["resources"].as_array().unwrap().iter().filter(|r| r.get("schema").is_none()).collect();
    assert_eq!(described.iter().map(|r| r["path"].as_str().unwrap()).collect::<BTreeSet<_>>(), plain.into());
    let there = files_in(audit.folder());
    for resource in described {
        let path = resource["path"].as_str().unwrap();
        assert!(resource["mediatype"].is_string() && resource["type"] == "file", "{resource}");
        // The provenance vouches for the descriptor, which cannot vouch for it.
        match path {
            "provenance.json" => assert!(resource.get("hash").is_none(), "{resource}"),
            _ => assert_eq!(resource["bytes"], there[path].len() as u64, "{resource}"),
        }
    }
    listed.extend(plain);
    listed.insert("datapackage.json");
    assert_eq!(there.keys().map(String::as_str).collect::<BTreeSet<_>>(), listed);
    let tables: BTreeSet<&str> = listed
        .iter()
        .filter_map(|path| path.strip_suffix(".parquet").or(path.strip_suffix(".csv")))
        .collect();
    assert_eq!(tables, DESIGNED.iter().map(|(table, _)| *table).collect());
}

#[test]
fn every_file_has_the_columns_that_are_designed_and_declared() {
    let audit = SampleAudit::get();
    let package = audit.json("datapackage.json");
    let designed: BTreeMap<&str, Vec<&str>> =
        DESIGNED.iter().map(|(table, columns)| (*table, columns.split(' ').collect())).collect();
    for (path, format, fields) in resources(&package) {
        let (table, _) = path.split_once('.').unwrap();
        assert_eq!(names(fields), designed[table], "{path} as declared");
        let found: Vec<String> = match format {
            "parquet" => open(&audit.path(path)).schema().fields().iter().map(|f| f.name().clone()).collect(),
            "csv" => {
                let mut reader = csv::Reader::from_path(audit.path(path)).unwrap();
                reader.headers().unwrap().iter().map(str::to_owned).collect()
            }
            _ => audit.json(path)[0].as_object().unwrap().keys().cloned().collect(),
        };
        assert_eq!(found, designed[table], "{path} as written");
        assert!(fields.iter().all(|field| field["description"].as_str().is_some_and(|d| !d.is_empty())));
    }
}

#[test]
fn parquet_columns_have_the_types_that_are_designed_and_declared() {
    let audit = SampleAudit::get();
    let package = audit.json("datapackage.json");
    for (path, _, fields) in resources(&package).into_iter().filter(|(_, format, _)| *format == "parquet") {
        let schema = open(&audit.path(path)).schema().clone();
        for (field, declared) in schema.fields().iter().zip(fields) {
            let fits = match declared["type"].as_str().unwrap() {
                "string" => *field.data_type() == DataType::Utf8,
                "number" => field.data_type().is_floating(),
                "integer" => field.data_type().is_unsigned_integer(),
                "datetime" => *field.data_type() == utc(),
                "boolean" => *field.data_type() == DataType::Boolean,
                _ => false,
            };
            assert!(fits, "{path}: {} is {}, declared {}", field.name(), field.data_type(), declared["type"]);
            assert_eq!(declared["constraints"]["required"], !field.is_nullable(), "{path}: {}", field.name());
        }
    }
    let readings = open(&audit.path("readings.parquet")).schema().clone();
    let of = |name: &str| readings.field_with_name(name).unwrap().data_type().clone();
    let types = ["time_utc", "temperature_degc", "flag", "line"].map(of);
    assert_eq!(types, [utc(), DataType::Float32, DataType::UInt8, DataType::UInt32]);
}

#[test]
fn every_row_of_every_export_is_accounted_for() {
    let audit = SampleAudit::get();
    let loggers = audit.csv("loggers.csv");
    let count = |row: &BTreeMap<String, String>, column: &str| row[column].parse::<usize>().unwrap();
    for row in &loggers {
        assert_eq!(
            count(row, "rows_seen"),
            count(row, "rows_kept") + count(row, "rows_set_aside"),
            "{}",
            row["file"]
        );
        let flags = ["good", "not_evaluated", "suspect", "fail", "missing"].map(|flag| count(row, flag));
        assert_eq!(count(row, "rows_kept"), flags.iter().sum::<usize>(), "{}", row["logger"]);
    }
    let weather = loggers.iter().find(|row| row["home"].is_empty()).unwrap();
    assert_eq!(weather["rows_set_aside"], "0", "the weather did not lie side by side with the loggers");
    let kept: usize =
        loggers.iter().filter(|row| !row["home"].is_empty()).map(|r| count(r, "rows_kept")).sum();
    let readings = batches(&audit.path("readings.parquet"));
    assert_eq!(kept, readings.iter().map(RecordBatch::num_rows).sum::<usize>());
    for ledger in audit.json("provenance.json")["ledger"].as_array().unwrap() {
        let aside: u64 =
            ledger["rows_set_aside"].as_object().unwrap().values().filter_map(Value::as_u64).sum();
        assert_eq!(ledger["rows_seen"].as_u64(), ledger["rows_kept"].as_u64().map(|kept| kept + aside));
    }
}

#[test]
fn planted_rows_are_set_aside_with_line_and_reason() {
    let audit = SampleAudit::get();
    let mut found: BTreeMap<(String, String), Vec<u32>> = BTreeMap::new();
    for batch in batches(&audit.path("set_aside.parquet")) {
        let lines = batch.column_by_name("line").unwrap().as_primitive::<UInt32Type>().values().to_vec();
        for ((file, reason), line) in
            texts(&batch, "file").into_iter().zip(texts(&batch, "reason")).zip(lines)
        {
            let reason = reason.split(':').next().unwrap().to_owned();
            found.entry((file, reason)).or_default().push(line);
        }
    }
    let take = |found: &mut BTreeMap<_, Vec<u32>>, file: &str, reason: &str| {
        found.remove(&(file.to_owned(), reason.to_owned())).unwrap_or_default()
    };
    // Rows that stand in both downloads of a logger, one of them with two values.
    assert_eq!(take(&mut found, "1B/L-121.csv", "conflicting duplicate"), [2235]);
    assert_eq!(take(&mut found, "1B/L-121-2.csv", "conflicting duplicate"), [29]);
    assert_eq!(take(&mut found, "1B/L-121-2.csv", "exact duplicate").len(), 47);
    assert_eq!(take(&mut found, "1B/L-123-2.csv", "exact duplicate").len(), 48);
    // Home 1A, bedroom 1: taken down in the middle of the record, and replaced.
    let outside =
        |found: &mut BTreeMap<_, Vec<u32>>, file| take(found, file, "outside placement dates").len();
    let (taken, replacing) = (outside(&mut found, "1A/L-102.csv"), outside(&mut found, "1A/L-119.csv"));
    assert!(taken > 2400 && replacing > 1500, "{taken} {replacing}");
    // All loggers were carried, and lay side by side for 32 hours, before they were placed.
    found.retain(|(_, reason), _| reason != "outside placement dates" && reason != "side by side");
    assert!(found.is_empty(), "set aside without need: {found:?}");
}

/// Who has a value goes from it to its line of its export: two loggers have two downloads, in which the lines start anew.
#[test]
fn every_reading_names_the_export_that_holds_its_line() {
    let audit = SampleAudit::get();
    let mut exports: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut of_second = 0;
    for batch in batches(&audit.path("readings.parquet")) {
        let lines = batch.column_by_name("line").unwrap().as_primitive::<UInt32Type>().values().to_vec();
        let times = batch.column_by_name("time_utc").unwrap();
        let times = times.as_primitive::<arrow::datatypes::TimestampMillisecondType>().values().to_vec();
        for ((file, line), ms) in texts(&batch, "file").into_iter().zip(lines).zip(times) {
            if !file.starts_with("1B/L-12") {
                continue;
            }
            let text = exports.entry(file.clone()).or_insert_with(|| {
                let path = crate::program::sample_folder().join("exports").join(&file);
                String::from_utf8_lossy(&std::fs::read(path).unwrap()).lines().map(str::to_owned).collect()
            });
            // Minutes and seconds are the same in the zone of the site.
            let minutes = format!(":{:02}", ms / 60_000 % 60);
            assert!(
                text[line as usize - 1].contains(&minutes),
                "{file}:{line} {ms}: {}",
                text[line as usize - 1]
            );
            of_second += usize::from(file == "1B/L-121-2.csv");
        }
    }
    assert!(exports.len() >= 4 && of_second > 100, "{:?} {of_second}", exports.keys());
}

/// A few rows have no value, and two loggers have two downloads, in which the lines start anew.
#[test]
fn readings_rise_in_time_and_those_without_a_value_stay_empty() {
    let audit = SampleAudit::get();
    let mut last: BTreeMap<String, (i64, u32)> = BTreeMap::new();
    let (mut empty, mut steps_back) = (Vec::new(), BTreeSet::new());
    for batch in batches(&audit.path("readings.parquet")) {
        let degc = batch.column_by_name("temperature_degc").unwrap().as_primitive::<Float32Type>().clone();
        let flags = batch.column_by_name("flag").unwrap().as_primitive::<UInt8Type>().values().to_vec();
        let lines = batch.column_by_name("line").unwrap().as_primitive::<UInt32Type>().values().to_vec();
        for (i, (logger, t)) in texts(&batch, "logger").into_iter().zip(times(&batch)).enumerate() {
            assert_eq!(degc.is_null(i), flags[i] == 9, "{logger}, line {}", lines[i]);
            assert!(degc.is_null(i) || degc.value(i).is_finite());
            if degc.is_null(i) {
                empty.push((logger.clone(), t));
            }
            if let Some((before, line)) = last.insert(logger.clone(), (t, lines[i])) {
                assert!(before < t, "{logger}, line {}", lines[i]);
                if line > lines[i] {
                    steps_back.insert(logger);
                }
            }
        }
    }
    let simulation = Simulation::new(alder_row());
    let homes = (0..simulation.plan().homes).map(|home| simulation.home(home));
    let without = |home: SimulatedHome| {
        let loggers = home.truth.loggers.into_iter().zip(home.stored);
        loggers
            .flat_map(|(l, stored)| {
                let instants: Vec<UtcTime> =
                    stored.iter().filter(|(_, x)| x.is_none()).map(|(t, _)| *t).collect();
                instants.into_iter().map(move |t| (l.logger.clone(), t.ms()))
            })
            .collect::<Vec<_>>()
    };
    // One clock is an hour off, and nothing tells the exports stage.
    empty.retain(|(logger, _)| logger != "L-152");
    let stored_empty: BTreeSet<(String, i64)> = homes.flat_map(without).collect();
    assert!(empty.len() > 10 && empty.iter().all(|e| stored_empty.contains(e)), "{empty:?}");
    assert_eq!(steps_back, BTreeSet::from(["L-121".to_owned(), "L-123".to_owned()]));
}

#[test]
fn a_row_group_of_aligned_holds_one_home_sorted_by_room_and_time() {
    let audit = SampleAudit::get();
    let path = audit.path("aligned.parquet");
    let mut homes = Vec::new();
    for group in 0..open(&path).metadata().num_row_groups() {
        let mut rows = Vec::new();
        for batch in open(&path).with_row_groups(vec![group]).build().unwrap().map(Result::unwrap) {
            homes.extend(texts(&batch, "home"));
            homes.dedup();
            rows.extend(texts(&batch, "room").into_iter().zip(times(&batch)));
        }
        assert_eq!(homes.len(), group + 1, "{homes:?}");
        assert!(rows.is_sorted() && !rows.is_empty(), "group {group}");
        assert!(rows.iter().all(|(_, t)| t % 300_000 == 0), "off the grid of 5 min");
    }
    assert_eq!(homes, ["1A", "1B", "2A", "2B", "3A", "3B"]);
}
