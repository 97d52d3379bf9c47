//! The library without a disk: the same rows as the program writes into its tables.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use arrow::compute::concat_batches;
use arrow::record_batch::{RecordBatch, RecordBatchIterator};
use bytes::Bytes;
use evenrooms::error::Error;
use evenrooms::exports::Files;
use evenrooms::pipeline::{Building, HomeResult, Keep, Prepared, waits};
use evenrooms::run::{Asked, Audited, Subject};
use evenrooms::site::{Site, read_site_file};
use evenrooms::tables::{METRICS, TABLES, Table};

use crate::program::{SampleAudit, sample_folder};
use crate::result_tables;
use crate::small_site::{HEAT_RULE, ROSTER, SITE, SmallSite, two_days};

/// Weather, humidity, a row that cannot be read, a spell of cold: no table is empty.
fn small() -> SmallSite {
    let outdoor = "outdoor = { file = \"weather.csv\" }\n[band]";
    let small = SmallSite::new(&format!("{}{HEAT_RULE}", SITE.replace("[band]", outdoor)), ROSTER);
    let living = String::from_utf8(two_days()).unwrap().replacen("20.7", "E-07", 1);
    let cold = |(n, line): (usize, &str)| {
        if (90..130).contains(&n) { line.replace(",2", ",1") } else { line.to_owned() }
    };
    let lines: Vec<String> = living.lines().enumerate().map(cold).collect();
    small.write("exports/living.csv", lines.join("\n").as_bytes());
    let weather = String::from_utf8(two_days()).unwrap().replace(",2", ",-");
    small.write("exports/weather.csv", weather.as_bytes());
    small
}

fn site(small: &SmallSite) -> Site {
    let bytes = |name: &str| fs::read(small.folder().join(name)).unwrap();
    let text = String::from_utf8(bytes("site.toml")).unwrap();
    read_site_file("site.toml", &text).with_roster("roster.csv", &bytes("roster.csv")).unwrap()
}

fn from_memory(small: &SmallSite) -> (Prepared, HomeResult) {
    let names = ["living.csv", "bedroom.csv", "weather.csv"];
    let bytes = |name: &str| fs::read(small.folder().join("exports").join(name)).unwrap();
    let memory: Files = names.map(|name| (name.to_owned(), Ok(bytes(name)))).into();
    let mut read = |wanted: &[&str]| -> Files {
        wanted.iter().map(|name| ((*name).to_owned(), memory[*name].clone())).collect()
    };
    let prepared = Prepared::new(site(small), &mut read).unwrap();
    let home = prepared.home(&prepared.site().homes[0], &mut read).unwrap();
    (prepared, home)
}

/// A table as the program wrote it.
fn written(small: &SmallSite, table: &Table) -> RecordBatch {
    in_parquet(&small.out(), table)
}

fn in_parquet(folder: &Path, table: &Table) -> RecordBatch {
    let batches = result_tables::batches(&folder.join(format!("{}.parquet", table.name)));
    concat_batches(&table.schema().into(), &batches).unwrap()
}

#[test]
fn batches_of_a_home_are_the_rows_of_its_tables() {
    let small = small();
    let ran = small.audit();
    assert!(small.out().join("readings.parquet").exists(), "{}", ran.stderr);
    let (prepared, home) = from_memory(&small);
    let of_weather = prepared.outdoor().unwrap().metrics.len();
    for (table, batch) in home.batches().unwrap() {
        assert_eq!(batch.schema().fields(), table.schema().fields());
        let in_parquet = table.files().any(|(_, name)| name.ends_with(".parquet"));
        if !in_parquet {
            continue;
        }
        let file = written(&small, table);
        match table.name {
            // Rows of the weather come first there; verdicts, which wait for the other homes, last.
            "metrics" => {
                let early = home.metrics().iter().filter(|row| !waits(row)).count();
                assert_eq!(batch.num_rows(), file.num_rows() - of_weather);
                let first = (0..batch.num_rows()).take_while(|at| !waits(&home.metrics()[*at])).count();
                assert!(first > 20 && first <= early);
                assert_eq!(batch.slice(0, first), file.slice(of_weather, first));
            }
            // So does the weather series.
            "loggers" => assert_eq!(batch, file.slice(1, file.num_rows() - 1)),
            _ => assert_eq!(batch, file, "{}", table.name),
        }
        let may_be_empty = ["cases", "findings"].contains(&table.name);
        assert!(may_be_empty || batch.num_rows() > 0, "{} is empty", table.name);
    }
}

#[test]
fn what_is_kept_for_tables_is_less_than_for_the_report() {
    let small = small();
    let kept = |keep: Keep| {
        let (prepared, home) = from_memory(&small);
        let all = (home.metrics().len(), home.events().len());
        let mut building = Building::of(prepared.site(), vec![home.keep(keep)], None);
        (all, building.homes.remove(0))
    };
    let (all, everything) = kept(Keep::Everything);
    assert_eq!((everything.metrics.len(), everything.events.len()), all);
    let (_, report) = kept(Keep::ForReport);
    let (_, tables) = kept(Keep::ForTables);
    assert!(tables.metrics.len() < report.metrics.len() && report.metrics.len() < all.0);
    assert!(report.trace.is_some() && tables.trace.is_none());
    assert_eq!(report.findings.len(), tables.findings.len());
}

/// All of an audit, or some of its tables.
fn audited(subject: &Subject, tables: Option<&[String]>) -> Audited {
    subject.audit(Asked { tables, threads: Some(2), go_on: &mut || true }).unwrap()
}

fn whole((table, parts): &(&'static Table, Vec<RecordBatch>)) -> RecordBatch {
    concat_batches(&table.schema().into(), parts).unwrap()
}

/// Every table has the rows of the folder, in their order; those that are no Parquet file as many as there are lines.
fn assert_tables_of(folder: &Path, tables: &[(&'static Table, Vec<RecordBatch>)]) {
    assert!(tables.iter().map(|(table, _)| table.name).eq(TABLES.iter().map(|table| table.name)));
    for made in tables {
        let (table, rows) = (made.0, whole(made));
        if table.files().any(|(_, name)| name.ends_with(".parquet")) {
            assert!(rows == in_parquet(folder, table), "{}", table.name);
        } else {
            let csv = fs::File::open(folder.join(format!("{}.csv", table.name))).unwrap();
            assert_eq!(rows.num_rows(), csv::Reader::from_reader(csv).records().count(), "{}", table.name);
        }
    }
}

#[test]
fn an_audit_in_memory_has_the_tables_of_the_folder() {
    let sample = SampleAudit::get();
    let subject = Subject::open(&sample_folder().join("site.toml")).unwrap();
    let in_memory = audited(&subject, None);
    assert_tables_of(sample.folder(), &in_memory.tables);
    // A part for each home: nothing is put together anew.
    let readings = in_memory.tables.iter().find(|(table, _)| table.name == "readings").unwrap();
    assert_eq!(readings.1.len(), in_memory.audit.homes.len());
    // Of some, these.
    let names = ["events".to_owned(), "findings".to_owned()];
    let some = audited(&subject, Some(&names)).tables;
    assert_eq!(some.iter().map(|(table, _)| table.name).collect::<Vec<_>>(), ["events", "findings"]);
    assert_eq!(whole(&some[0]), in_parquet(sample.folder(), some[0].0));
    let strange = ["event".to_owned()];
    let told = subject.audit(Asked { tables: Some(&strange), threads: None, go_on: &mut || true });
    assert!(told.is_err_and(|e| e.to_string().contains("found \"event\"")));
}

/// A site of which nothing is a file: bytes in the exports' names.
fn of_bytes(small: &SmallSite) -> Subject {
    let bytes = |name: &str| fs::read(small.folder().join(name)).unwrap();
    let names = ["living.csv", "bedroom.csv", "weather.csv", "again.csv"];
    let exports = names.map(|name| (name.to_owned(), Bytes::from(bytes(&format!("exports/{name}")))));
    let site = String::from_utf8(bytes("site.toml")).unwrap();
    Subject::of_texts(&site, &bytes("roster.csv")).unwrap().with_exports(BTreeMap::from(exports))
}

#[test]
fn exports_in_memory_are_audited_as_those_of_a_folder() {
    let small = small();
    // One that the roster does not name, and that holds what another does.
    small.write("exports/again.csv", &fs::read(small.folder().join("exports/bedroom.csv")).unwrap());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let in_memory = audited(&of_bytes(&small), None);
    assert_tables_of(&small.out(), &in_memory.tables);
    let provenance = fs::read_to_string(small.out().join("provenance.json")).unwrap();
    let provenance: serde_json::Value = serde_json::from_str(&provenance).unwrap();
    let told = provenance["notes"].as_array().unwrap();
    let notes: Vec<_> = in_memory.audit.notes().collect();
    assert_eq!(notes.len(), told.len());
    let copy = notes.iter().find(|note| note.what.told().contains("copies of files that it names")).unwrap();
    assert_eq!(copy.place, "exports in memory");
}

#[test]
fn what_cannot_be_audited_in_memory_says_why() {
    let small = small();
    let subject = of_bytes_without(&small, &["living.csv", "bedroom.csv", "weather.csv"]);
    let ask = |subject: &Subject| {
        subject.audit(Asked { tables: None, threads: Some(1), go_on: &mut || true }).map(|_| ()).unwrap_err()
    };
    let told = ask(&subject).to_string();
    assert!(told.starts_with("exports in memory: none of the roster's exports is there"), "{told}");
    let bytes = |name: &str| fs::read(small.folder().join(name)).unwrap();
    let site = String::from_utf8(bytes("site.toml")).unwrap();
    let nowhere = Subject::of_texts(&site, &bytes("roster.csv")).unwrap();
    assert!(ask(&nowhere).to_string().contains("no exports were named"));
    // One of them is missing: the others are audited, and a note says so.
    let audited = audited(&of_bytes_without(&small, &["living.csv"]), None);
    let mut notes = audited.audit.notes().filter(|note| note.unreadable);
    assert!(notes.any(|note| note.what.told().contains("there is no such file in the exports in memory")));
    // Nobody wants it any longer.
    let subject = of_bytes_without(&small, &[]);
    let stopped = subject.audit(Asked { tables: None, threads: Some(1), go_on: &mut || false });
    assert!(matches!(stopped, Err(Error::Stopped)));
}

fn of_bytes_without(small: &SmallSite, missing: &[&str]) -> Subject {
    small.write("exports/again.csv", b"");
    let there =
        ["living.csv", "bedroom.csv", "weather.csv"].into_iter().filter(|name| !missing.contains(name));
    let bytes = |name: &str| fs::read(small.folder().join("exports").join(name)).unwrap();
    let exports = there.map(|name| (name.to_owned(), Bytes::from(bytes(name)))).collect();
    of_bytes(small).with_exports(exports)
}

#[test]
fn metrics_of_an_aligned_table_in_memory_are_those_of_its_home() {
    let small = small();
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let subject = Subject::open(&small.folder().join("site.toml")).unwrap();
    let tables = audited(&subject, None).tables;
    let stream = |name: &str| {
        let (table, parts) = tables.iter().find(|(table, _)| table.name == name).unwrap();
        RecordBatchIterator::new(parts.clone().into_iter().map(Ok), table.schema().into())
    };
    let rows = subject.metrics(stream("aligned"), Some(stream("weather"))).unwrap();
    let (prepared, home) = from_memory(&small);
    let aligned: Vec<_> = home.metrics().iter().map(|row| row.metric.id).collect();
    let judged = concat_batches(&METRICS.schema().into(), &rows).unwrap();
    let ids = judged.column_by_name("metric").unwrap();
    let ids = arrow::array::AsArray::as_string::<i32>(ids);
    assert_eq!(ids.iter().flatten().collect::<Vec<_>>(), aligned);
    assert!(prepared.weather().is_some());
    // A site with weather is not judged without it, and a table of something else is refused.
    let told =
        subject.metrics(stream("aligned"), None::<RecordBatchIterator<Vec<_>>>).unwrap_err().to_string();
    assert!(told.starts_with("weather table: the site file names an outdoor series"), "{told}");
    let told = subject.metrics(stream("metrics"), Some(stream("weather"))).unwrap_err().to_string();
    assert!(told.starts_with("aligned table: found no column time_utc"), "{told}");
    let told = subject.metrics(stream("aligned"), Some(stream("metrics"))).unwrap_err().to_string();
    assert!(told.starts_with("weather table: found no column time_utc"), "{told}");
}
