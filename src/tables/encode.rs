//! Cells → CSV and JSON, and how Parquet files are written.

use std::io::Write;

use parquet::basic::{Compression, Encoding, ZstdLevel};
use parquet::file::metadata::{KeyValue, SortingColumn};
use parquet::file::properties::{EnabledStatistics, WriterProperties};
use parquet::schema::types::ColumnPath;

use super::{Cell, Format, Kind, Table, decimals, package, unsigned_zero};
use crate::error::{Error, Result};
use crate::texts::guarded;

pub(super) fn failed<E: std::error::Error + Send + Sync + 'static>(table: &Table) -> impl Fn(E) -> Error {
    let name = table.name;
    move |source| Error::encode(name, source)
}

/// Times as deltas, temperatures of long series split by byte, words by dictionary, zstd over all.
///
/// Highest and lowest values are kept per row group and per page: that is where readers skip homes, rooms and times. What
/// table and columns mean stands in the file too, for whoever has nothing but the file.
pub(super) fn properties(table: &Table) -> WriterProperties {
    let mut properties = WriterProperties::builder()
        .set_created_by(concat!("evenrooms ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .set_statistics_enabled(EnabledStatistics::Page)
        .set_key_value_metadata(Some(told(table)))
        .set_sorting_columns(sorting(table));
    for column in table.columns {
        let path = ColumnPath::from(column.name);
        let encoding = match column.kind {
            Kind::Time | Kind::Line | Kind::Count => Encoding::DELTA_BINARY_PACKED,
            Kind::Single => Encoding::BYTE_STREAM_SPLIT,
            _ => continue,
        };
        properties =
            properties.set_column_dictionary_enabled(path.clone(), false).set_column_encoding(path, encoding);
    }
    properties.build()
}

/// What a file says of itself: what a row is, and the columns as the Data Package describes them.
fn told(table: &Table) -> Vec<KeyValue> {
    let schema = package::schema(table, Format::Parquet, true).to_string();
    vec![
        KeyValue::new("description".to_owned(), table.about.to_owned()),
        KeyValue::new("table_schema".to_owned(), schema),
    ]
}

/// The columns by which the rows of a row group rise; `None` where nothing is promised.
fn sorting(table: &Table) -> Option<Vec<SortingColumn>> {
    let place = |name: &&str| table.columns.iter().position(|c| c.name == *name);
    let rising = |at: usize| SortingColumn { column_idx: at as i32, descending: false, nulls_first: false };
    let columns: Vec<_> = table.sorted_by.iter().filter_map(place).map(rising).collect();
    (!columns.is_empty()).then_some(columns)
}

/// A table as CSV with a header, in the making.
pub struct Csv<W: Write> {
    table: &'static Table,
    writer: csv::Writer<W>,
    cell: Vec<u8>,
}

impl<W: Write> Csv<W> {
    /// Starts with the header.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn start(table: &'static Table, out: W) -> Result<Self> {
        let mut writer = csv::Writer::from_writer(out);
        writer.write_record(table.columns.iter().map(|c| c.name)).map_err(failed(table))?;
        Ok(Self { table, writer, cell: Vec::new() })
    }

    /// Adds rows.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn add(&mut self, rows: &[Vec<Cell<'_>>]) -> Result<()> {
        for row in rows {
            for cell in row {
                self.cell.clear();
                plain(cell, &mut self.cell);
                self.writer.write_field(&self.cell).map_err(failed(self.table))?;
            }
            self.writer.write_record(None::<&[u8]>).map_err(failed(self.table))?;
        }
        Ok(())
    }

    /// What was written to.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn finish(self) -> Result<W> {
        let table = self.table.name;
        self.writer.into_inner().map_err(|e| Error::encode(table, e.into_error()))
    }
}

/// Puts a cell, as it is written without quotes but with the guard of a text that a spreadsheet would take for a formula, behind what was written before.
fn plain(cell: &Cell<'_>, out: &mut Vec<u8>) {
    match cell {
        Cell::Text(s) => out.extend_from_slice(guarded(s).as_bytes()),
        Cell::Number(x) => decimals::push(unsigned_zero(*x), out),
        Cell::Count(n) => decimals::push_whole(*n, out),
        Cell::Time(t) => t.push_iso(out),
        Cell::YesNo(yes) => out.extend_from_slice(if *yes { b"true" } else { b"false" }),
        Cell::Empty => {}
    }
}

/// A table as a JSON list of objects, in the making.
pub struct Json {
    table: &'static Table,
    objects: Vec<serde_json::Map<String, serde_json::Value>>,
}

impl Json {
    /// Starts an empty list.
    pub fn start(table: &'static Table) -> Self {
        Self { table, objects: Vec::new() }
    }

    /// Adds rows.
    pub fn add(&mut self, rows: &[Vec<Cell<'_>>]) {
        let value = |cell: &Cell<'_>| match cell {
            Cell::Text(s) => s.as_ref().into(),
            Cell::Number(x) => unsigned_zero(*x).into(),
            Cell::Count(n) => (*n).into(),
            Cell::Time(t) => t.iso().into(),
            Cell::YesNo(b) => (*b).into(),
            Cell::Empty => serde_json::Value::Null,
        };
        let names = || self.table.columns.iter().map(|c| c.name.to_owned());
        let object = |row: &Vec<Cell<'_>>| names().zip(row.iter().map(value)).collect();
        self.objects.extend(rows.iter().map(object));
    }

    /// The text.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn finish(self) -> Result<Vec<u8>> {
        let mut bytes = serde_json::to_vec_pretty(&self.objects).map_err(failed(self.table))?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tables::METRICS;
    use crate::texts::unguarded;

    #[test]
    fn texts_that_would_be_formulas_are_guarded_and_numbers_are_not() {
        for s in ["=1+1", "+1", "-1", "@SUM(1)", "\t=1", "\r=1", "'=1", "''+", "−1", "'a'", "4B", ""] {
            let mut row: Vec<Cell<'_>> = vec![Cell::Empty; METRICS.columns.len()];
            (row[0], row[6]) = (Cell::Text(s.into()), Cell::Number(-1.5));
            let mut csv = Csv::start(&METRICS, Vec::new()).unwrap();
            csv.add(&[row]).unwrap();
            let bytes = csv.finish().unwrap();
            let record = csv::Reader::from_reader(&bytes[..]).records().next().unwrap().unwrap();
            assert!(!record[0].starts_with(['=', '+', '-', '@', '\t', '\r', '−']), "{s:?}");
            assert_eq!((unguarded(&record[0]), &record[6]), (s, "-1.5"));
        }
    }

    #[test]
    fn texts_are_quoted_as_a_general_writer_quotes_them() {
        for s in ["", "plain", "a,b", "a\"b", "\"", "a\nb", "a\rb", " a ", "a;b", "°C", "a'b", "a\tb", ","] {
            let mut row: Vec<Cell<'_>> = vec![Cell::Empty; METRICS.columns.len()];
            (row[0], row[2]) = (Cell::Text(s.into()), Cell::Text(s.into()));
            let mut ours = Csv::start(&METRICS, Vec::new()).unwrap();
            ours.add(&[row]).unwrap();
            let mut theirs = csv::Writer::from_writer(Vec::new());
            theirs.write_record(METRICS.columns.iter().map(|c| c.name)).unwrap();
            let text_of = |at: usize| if at == 0 || at == 2 { s } else { "" };
            theirs.write_record((0..METRICS.columns.len()).map(text_of)).unwrap();
            assert_eq!(ours.finish().unwrap(), theirs.into_inner().unwrap(), "{s:?}");
        }
    }
}
