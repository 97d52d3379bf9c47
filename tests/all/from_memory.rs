//! The library without a disk: the same rows as the program writes into its tables.

use std::fs;

use arrow::compute::concat_batches;
use arrow::record_batch::RecordBatch;
use evenrooms::exports::Files;
use evenrooms::pipeline::{Building, HomeResult, Keep, Prepared, waits};
use evenrooms::site::{Site, read_site_file};
use evenrooms::tables::Table;

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
    let batches = result_tables::batches(&small.out().join(format!("{}.parquet", table.name)));
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
