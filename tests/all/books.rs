//! Rows set aside add up with the books of the loggers, and every page of a table has a checksum.

use std::collections::BTreeMap;
use std::fs::{self, File};

use arrow::array::{Array, AsArray};
use arrow::compute::cast;
use arrow::datatypes::DataType;
use bytes::Bytes;
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use parquet::file::reader::{FileReader, SerializedFileReader};

use crate::program::SampleAudit;
use crate::small_site::{SITE, SmallSite, written_time};

/// The rows of a table, by column.
fn rows(path: &std::path::Path) -> Vec<BTreeMap<String, String>> {
    let reader =
        ParquetRecordBatchReaderBuilder::try_new(File::open(path).unwrap()).unwrap().build().unwrap();
    let mut rows = Vec::new();
    for batch in reader.map(Result::unwrap) {
        let names: Vec<String> = batch.schema().fields().iter().map(|f| f.name().clone()).collect();
        let columns: Vec<_> = batch.columns().iter().map(|c| cast(c, &DataType::Utf8).unwrap()).collect();
        for i in 0..batch.num_rows() {
            let cell = |c: &dyn Array| {
                if c.is_null(i) { String::new() } else { c.as_string::<i32>().value(i).to_owned() }
            };
            rows.push(names.iter().cloned().zip(columns.iter().map(|c| cell(c))).collect());
        }
    }
    rows
}

#[test]
fn a_row_that_several_rooms_lost_says_which_and_the_sums_are_those_of_the_books() {
    let roster = "home,room,use,heated,logger,file,column\n1A,living,living,yes,L-1,wide.csv,living (°C)\n1A,bedroom,bedroom,yes,L-2,wide.csv,bedroom (°C)\n1A,hall,hall,no,L-3,wide.csv,hall (°C)\n";
    let site = SmallSite::new(SITE, roster);
    let row = |n: usize| match n {
        100 => "no time,20.5,20.6,19.0\n".to_owned(),
        200 => format!("{},20.5,oops,19.0\n", written_time(n)),
        n => format!("{},20.5,20.{},19.{}\n", written_time(n), n % 7, n % 5),
    };
    let wide: String = (0..288).map(row).collect();
    site.write("exports/wide.csv", format!("time,living (°C),bedroom (°C),hall (°C)\n{wide}").as_bytes());
    let ran = site.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    let set_aside = rows(&site.out().join("set_aside.parquet"));
    let told: Vec<[&str; 4]> =
        set_aside.iter().map(|r| ["line", "home", "rooms", "times"].map(|c| r[c].as_str())).collect();
    assert_eq!(told, [["102", "1A", "living; bedroom; hall", "3"], ["202", "1A", "bedroom", "1"]]);
}

#[test]
fn the_sum_over_rows_set_aside_is_that_of_the_loggers() {
    let audit = SampleAudit::get();
    let times = rows(&audit.path("set_aside.parquet"));
    let times: u64 = times.iter().map(|row| row["times"].parse::<u64>().unwrap()).sum();
    let loggers: u64 =
        audit.csv("loggers.csv").iter().map(|r| r["rows_set_aside"].parse::<u64>().unwrap()).sum();
    assert!(times > 0);
    assert_eq!(times, loggers);
}

/// The last byte of each column's pages, which no header holds.
#[test]
fn a_flipped_bit_on_a_page_of_any_table_is_found_by_its_checksum() {
    let audit = SampleAudit::get();
    let mut tables = 0;
    for entry in fs::read_dir(audit.folder()).unwrap().map(Result::unwrap) {
        let name = entry.file_name().into_string().unwrap();
        if !name.ends_with(".parquet") {
            continue;
        }
        tables += 1;
        let bytes = fs::read(entry.path()).unwrap();
        let read = |bytes: Vec<u8>| {
            let reader = ParquetRecordBatchReaderBuilder::try_new(Bytes::from(bytes))
                .unwrap()
                .with_row_groups(vec![0]);
            let reader = reader.build().unwrap();
            reader.map(|batch| batch.map(|b| b.num_rows())).collect::<Result<Vec<_>, _>>()
        };
        read(bytes.clone()).unwrap();
        let footer = SerializedFileReader::new(Bytes::from(bytes.clone())).unwrap();
        for column in footer.metadata().row_groups().iter().take(1).flat_map(|g| g.columns()) {
            let (start, length) = column.byte_range();
            let mut flipped = bytes.clone();
            flipped[(start + length) as usize - 1] ^= 4;
            let said = read(flipped).unwrap_err().to_string();
            assert!(said.contains("CRC"), "{name} {}: {said}", column.column_path());
        }
    }
    assert!(tables >= 6);
}
