//! The form of tables: what a file says of itself, where readers may skip, and how numbers stand in them.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;
use std::fs::{self, File};
use std::path::Path;

use arrow::array::{Array, AsArray};
use arrow::compute::cast;
use arrow::datatypes::{DataType, Float32Type, Float64Type, TimestampMillisecondType, UInt64Type};
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::{ArrowReaderMetadata, ArrowReaderOptions};
use parquet::file::metadata::{PageIndexPolicy, ParquetMetaData};
use parquet::file::page_index::column_index::ColumnIndexMetaData;
use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::program::{SampleAudit, files_in, run};
use crate::result_tables::{batches, open, texts, times};
use crate::small_site::{HEAT_RULE, ROSTER, SITE, SmallSite};

/// The resources of the sample's Data Package, with the path of each.
fn resources(audit: &SampleAudit) -> Vec<(String, Value)> {
    let package = audit.json("datapackage.json");
    let listed = package["resources"].as_array().unwrap().iter();
    listed.map(|r| (r["path"].as_str().unwrap().to_owned(), r.clone())).collect()
}

fn parquet_files(audit: &SampleAudit) -> Vec<(String, Value)> {
    resources(audit).into_iter().filter(|(path, _)| path.ends_with(".parquet")).collect()
}

/// The footer of a file with the index of its pages.
fn footer(path: &Path) -> ParquetMetaData {
    let options = ArrowReaderOptions::new().with_page_index_policy(PageIndexPolicy::Required);
    let loaded = ArrowReaderMetadata::load(&File::open(path).unwrap(), options).unwrap();
    loaded.metadata().as_ref().clone()
}

/// The rows of a row group, in one piece.
fn group(path: &Path, number: usize) -> RecordBatch {
    let rows = open(path).metadata().row_group(number).num_rows() as usize;
    let mut read = open(path).with_row_groups(vec![number]).with_batch_size(rows).build().unwrap();
    read.next().unwrap().unwrap()
}

#[test]
fn the_data_package_tells_size_and_sha256_of_every_file_under_a_name_of_its_own() {
    let audit = SampleAudit::get();
    let mut names = BTreeSet::new();
    for (path, resource) in resources(&audit) {
        assert!(names.insert(resource["name"].as_str().unwrap().to_owned()), "{path}");
        // The provenance has the SHA-256 of this list, which cannot have that of the provenance.
        if path == "provenance.json" {
            continue;
        }
        let bytes = fs::read(audit.path(&path)).unwrap();
        let sha: String = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(resource["hash"].as_str().unwrap(), format!("sha256:{sha}"), "{path}");
        assert_eq!(resource["bytes"].as_u64().unwrap(), bytes.len() as u64, "{path}");
    }
}

#[test]
fn a_parquet_file_says_by_itself_what_the_data_package_says_of_it() {
    let audit = SampleAudit::get();
    for (path, resource) in parquet_files(&audit) {
        let reader = open(&audit.path(&path));
        let told = reader.metadata().file_metadata().key_value_metadata().unwrap();
        let value = |key: &str| told.iter().find(|k| k.key == key).unwrap().value.clone().unwrap();
        assert_eq!(value("description"), resource["description"].as_str().unwrap(), "{path}");
        assert_eq!(serde_json::from_str::<Value>(&value("table_schema")).unwrap(), resource["schema"]);
        let fields = resource["schema"]["fields"].as_array().unwrap();
        for (field, declared) in reader.schema().fields().iter().zip(fields) {
            let of_field = |key: &str| field.metadata().get(key).map(String::as_str);
            assert_eq!(of_field("description"), declared["description"].as_str(), "{path}: {field}");
            assert_eq!(of_field("unit"), declared["unit"].as_str(), "{path}: {field}");
        }
    }
}

/// Cells of a column that can be held against each other.
fn sortable(batch: &RecordBatch, column: usize) -> Vec<String> {
    match batch.column(column).data_type() {
        DataType::Utf8 => texts(batch, batch.schema().field(column).name()),
        _ => times(batch).iter().map(|t| format!("{t:020}")).collect(),
    }
}

#[test]
fn rows_rise_by_the_columns_that_a_file_declares() {
    let audit = SampleAudit::get();
    let mut declared = Vec::new();
    for (path, _) in parquet_files(&audit) {
        let path = audit.path(&path);
        for number in 0..open(&path).metadata().num_row_groups() {
            let metadata = open(&path).metadata().clone();
            let Some(by) = metadata.row_group(number).sorting_columns() else { continue };
            assert!(by.iter().all(|c| !c.descending));
            let batch = group(&path, number);
            let columns: Vec<_> = by.iter().map(|c| sortable(&batch, c.column_idx as usize)).collect();
            let rows: Vec<Vec<&String>> =
                (0..batch.num_rows()).map(|i| columns.iter().map(|c| &c[i]).collect()).collect();
            assert!(rows.is_sorted(), "{}: {by:?}", path.display());
            declared.push((path.file_name().unwrap().to_str().unwrap().to_owned(), by.len()));
        }
    }
    declared.dedup();
    assert_eq!(
        declared,
        [("readings.parquet", 2), ("aligned.parquet", 4), ("weather.parquet", 2)]
            .map(|(name, columns)| (name.to_owned(), columns))
    );
}

/// The lowest and highest of some values hold all of those that are there.
fn within<T: PartialOrd + Debug>(values: &[Option<T>], low: Option<T>, high: Option<T>, place: &str) {
    let there: Vec<&T> = values.iter().flatten().collect();
    assert_eq!(there.is_empty(), low.is_none() && high.is_none(), "{place}");
    let (Some(low), Some(high)) = (low, high) else { return };
    assert!(there.iter().all(|x| low <= **x && **x <= high), "{place}: {low:?} to {high:?}");
}

/// Holds the index of a column against its rows; the answer is how many pages it has.
fn check_pages(batch: &RecordBatch, column: usize, index: &ColumnIndexMetaData, starts: &[usize]) -> usize {
    let (array, name) = (batch.column(column), batch.schema().field(column).name().clone());
    for (page, from) in starts.iter().enumerate() {
        let to = starts.get(page + 1).copied().unwrap_or(batch.num_rows());
        let rows = array.slice(*from, to - from);
        let place = format!("{name}, page {page}");
        assert_eq!(index.null_count(page).unwrap() as usize, rows.null_count(), "{place}");
        match (index, array.data_type()) {
            (ColumnIndexMetaData::BYTE_ARRAY(index), _) => {
                let cells: Vec<_> = rows.as_string::<i32>().iter().map(|s| s.map(str::as_bytes)).collect();
                within(&cells, index.min_value(page), index.max_value(page), &place);
            }
            (ColumnIndexMetaData::INT64(index), DataType::Timestamp(..)) => {
                let cells: Vec<_> = rows.as_primitive::<TimestampMillisecondType>().iter().collect();
                let ends = (index.min_value(page).copied(), index.max_value(page).copied());
                within(&cells, ends.0, ends.1, &place);
                let there = || cells.iter().flatten().copied();
                assert_eq!(ends, (there().min(), there().max()), "{place}: the ends are those of the page");
            }
            (ColumnIndexMetaData::FLOAT(index), _) => {
                let cells: Vec<_> = rows.as_primitive::<Float32Type>().iter().collect();
                within(&cells, index.min_value(page).copied(), index.max_value(page).copied(), &place);
            }
            (ColumnIndexMetaData::DOUBLE(index), _) => {
                let cells: Vec<_> = rows.as_primitive::<Float64Type>().iter().collect();
                within(&cells, index.min_value(page).copied(), index.max_value(page).copied(), &place);
            }
            (ColumnIndexMetaData::INT32(index), _) => {
                let unsigned = |end: Option<&i32>| end.map(|x| u64::from(x.cast_unsigned()));
                let cells = cast(&rows, &DataType::UInt64).unwrap();
                let cells: Vec<_> = cells.as_primitive::<UInt64Type>().iter().collect();
                within(&cells, unsigned(index.min_value(page)), unsigned(index.max_value(page)), &place);
            }
            (ColumnIndexMetaData::INT64(index), _) => {
                let unsigned = |end: Option<&i64>| end.map(|x| x.cast_unsigned());
                let cells: Vec<_> = rows.as_primitive::<UInt64Type>().iter().collect();
                within(&cells, unsigned(index.min_value(page)), unsigned(index.max_value(page)), &place);
            }
            (ColumnIndexMetaData::BOOLEAN(index), _) => {
                let cells: Vec<_> = rows.as_boolean().iter().collect();
                within(&cells, index.min_value(page).copied(), index.max_value(page).copied(), &place);
            }
            other => panic!("{place}: no index of values: {other:?}"),
        }
    }
    starts.len()
}

#[test]
fn every_page_of_every_table_holds_what_its_index_says() {
    let audit = SampleAudit::get();
    let mut pages = 0;
    for (path, _) in parquet_files(&audit) {
        let path = audit.path(&path);
        let footer = footer(&path);
        let (values, places) = (footer.column_index().unwrap(), footer.offset_index().unwrap());
        for number in 0..footer.num_row_groups() {
            let batch = group(&path, number);
            for column in 0..batch.num_columns() {
                let locations = places[number][column].page_locations();
                let starts: Vec<usize> = locations.iter().map(|p| p.first_row_index as usize).collect();
                assert!(starts.is_sorted() && starts.first() == Some(&0), "{starts:?}");
                pages += check_pages(&batch, column, &values[number][column], &starts);
            }
        }
    }
    assert!(pages > 400, "{pages}");
}

/// Who asks for a room reads its pages only.
#[test]
fn a_room_of_aligned_has_pages_of_its_own() {
    let audit = SampleAudit::get();
    let path = audit.path("aligned.parquet");
    let footer = footer(&path);
    for number in 0..footer.num_row_groups() {
        let batch = group(&path, number);
        let rooms = texts(&batch, "room");
        let starts: Vec<i64> =
            (0..rooms.len()).filter(|i| *i == 0 || rooms[*i] != rooms[i - 1]).map(|i| i as i64).collect();
        let of = |name: &str| -> Vec<i64> {
            let column = batch.schema().index_of(name).unwrap();
            let pages = footer.offset_index().unwrap()[number][column].page_locations();
            pages.iter().map(|page| page.first_row_index).collect()
        };
        assert_eq!(of("room"), starts);
        for column in ["time_utc", "temperature_degc"] {
            let pages = of(column);
            assert!(starts.iter().all(|start| pages.contains(start)), "{column}: {pages:?} {starts:?}");
        }
    }
}

/// Readers that ask for one home skip the row groups of all others by these.
#[test]
fn a_row_group_says_the_only_home_in_it() {
    let audit = SampleAudit::get();
    for name in ["readings.parquet", "aligned.parquet"] {
        let reader = open(&audit.path(name));
        let of_group = |number: usize| {
            let statistics = reader.metadata().row_group(number).column(1).statistics().unwrap().clone();
            assert!(statistics.min_is_exact() && statistics.max_is_exact());
            assert!(!statistics.is_min_max_deprecated());
            assert_eq!(statistics.min_bytes_opt(), statistics.max_bytes_opt(), "{name}");
            String::from_utf8(statistics.min_bytes_opt().unwrap().to_vec()).unwrap()
        };
        let homes: Vec<String> = (0..reader.metadata().num_row_groups()).map(of_group).collect();
        assert_eq!(homes, ["1A", "1B", "2A", "2B", "3A", "3B"], "{name}");
    }
}

#[test]
fn no_zero_of_any_table_has_a_sign() {
    let audit = SampleAudit::get();
    let mut zeros = 0;
    for (path, bytes) in files_in(audit.folder()) {
        if path.ends_with(".csv") {
            let mut reader = csv::Reader::from_reader(&bytes[..]);
            for row in reader.records().map(Result::unwrap) {
                assert!(row.iter().all(|cell| cell != "-0"), "{path}: {row:?}");
                zeros += row.iter().filter(|cell| *cell == "0").count();
            }
        } else if path.ends_with(".json") {
            let text = String::from_utf8(bytes).unwrap();
            assert!(!text.contains(": -0.0,") && !text.contains(": -0,"), "{path}");
        } else if path.ends_with(".parquet") {
            for batch in batches(&audit.path(&path)) {
                for column in batch.columns() {
                    let signed = match column.data_type() {
                        DataType::Float32 => {
                            let signed = |x: f32| x.to_bits() == (-0.0_f32).to_bits();
                            column.as_primitive::<Float32Type>().iter().flatten().any(signed)
                        }
                        DataType::Float64 => {
                            let signed = |x: f64| x.to_bits() == (-0.0_f64).to_bits();
                            column.as_primitive::<Float64Type>().iter().flatten().any(signed)
                        }
                        _ => false,
                    };
                    assert!(!signed, "{path}");
                }
            }
        }
    }
    assert!(zeros > 100, "{zeros}");
}

/// Two days are recorded; of the days in March nobody knows anything.
#[test]
fn what_nobody_saw_is_missing_and_not_zero() {
    let periods = "[[period]]\nname = \"seen\"\nfrom = \"2026-01-05\"\nto = \"2026-01-06\"\n[[period]]\nname = \"not seen\"\nfrom = \"2026-03-02\"\nto = \"2026-03-05\"\n";
    let small = SmallSite::new(&format!("{SITE}{HEAT_RULE}{periods}"), ROSTER);
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let rows = |folder: &str, name: &str| -> Vec<BTreeMap<String, String>> {
        let reader = csv::Reader::from_path(small.folder().join(folder).join(name));
        reader.unwrap().deserialize().map(Result::unwrap).collect()
    };
    let metrics = rows("out", "metrics.csv");
    let of = |period: &str| -> BTreeMap<String, String> {
        let of_period = metrics.iter().filter(|r| r["period"] == period && r["slice"] == "all");
        of_period.map(|r| (r["metric"].clone(), r["value"].clone())).collect()
    };
    let (seen, not_seen) = (of("seen"), of("not seen"));
    for metric in ["heat_rule_hours_below", "heat_rule_episodes", "heat_rule_longest_episode"] {
        assert!(seen.contains_key(metric) && !not_seen.contains_key(metric), "{metric}: {not_seen:?}");
    }
    assert_eq!((&*not_seen["coverage"], &*not_seen["heat_rule_hours_no_data"]), ("0", "96"));
    let open = fs::read_to_string(small.out().join("not_judged.csv")).unwrap();
    let of_rule = |line: &&str| line.contains("not seen,heat-rule-shortfall,");
    assert_eq!(open.lines().filter(of_rule).count(), 2, "both rooms: {open}");
    let compare = ["compare", "site.toml", "--before", "seen", "--after", "not seen", "--out", "compared"];
    assert_eq!(run(small.folder(), &compare).code, Some(0));
    for row in rows("compared", "comparison.csv") {
        let cells = ["days_before", "days_after", "matched_days_before", "matched_days_after", "shared_bins"];
        assert_eq!(cells.map(|c| row[c].as_str()), ["2", "0", "", "", ""], "{row:?}");
    }
}
