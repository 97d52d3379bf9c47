//! Rows of a table of ours, read back: Parquet or CSV, each column by its name.

use std::collections::BTreeMap;

use arrow::array::{Array, AsArray};
use arrow::datatypes::{Float64Type, UInt64Type};
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::{
    ArrowReaderMetadata, ArrowReaderOptions, ParquetRecordBatchReaderBuilder,
};
use parquet::file::reader::ChunkReader;

use super::Table;
use super::aligned::{columns_of, guarded};
use crate::error::Trouble;
use crate::texts::unguarded;

/// What to do where a table does not fit.
const REMEDY: &str = "audit this site again with this version of evenrooms";

/// The words of a trouble, with what to do about a table.
fn of_table(trouble: Trouble) -> Trouble {
    Trouble { hint: REMEDY.to_owned(), ..trouble }
}

/// A row.
#[derive(Debug)]
pub struct Row<'a> {
    table: &'static Table,
    cells: Cells<'a>,
}

#[derive(Debug)]
enum Cells<'a> {
    Parquet { batch: &'a RecordBatch, at: usize },
    Csv(&'a BTreeMap<String, String>),
}

impl Row<'_> {
    /// A text; `None` where it is missing, or where the column is none of texts.
    pub fn text(&self, column: &str) -> Option<&str> {
        match &self.cells {
            Cells::Parquet { batch, at } => {
                let words = batch.column(self.place(column)?).as_string_opt::<i32>()?;
                words.is_valid(*at).then(|| words.value(*at))
            }
            Cells::Csv(cells) => cells.get(column).map(|s| unguarded(s)).filter(|s| !s.is_empty()),
        }
    }

    /// A number; `None` where it is missing, or where the column is none of numbers.
    pub fn number(&self, column: &str) -> Option<f64> {
        let finite = |x: f64| x.is_finite().then_some(x);
        match &self.cells {
            Cells::Parquet { batch, at } => {
                let array = batch.column(self.place(column)?);
                let of_numbers = array.as_primitive_opt::<Float64Type>().filter(|a| a.is_valid(*at));
                let of_counts = array.as_primitive_opt::<UInt64Type>().filter(|a| a.is_valid(*at));
                let number = of_numbers.map(|a| a.value(*at)).or(of_counts.map(|a| a.value(*at) as f64));
                number.and_then(finite)
            }
            Cells::Csv(cells) => cells.get(column)?.parse().ok().and_then(finite),
        }
    }

    /// Whether a column says yes; `None` where it is missing.
    pub fn yes(&self, column: &str) -> Option<bool> {
        match &self.cells {
            Cells::Parquet { batch, at } => {
                let array = batch.column(self.place(column)?).as_boolean_opt()?;
                array.is_valid(*at).then(|| array.value(*at))
            }
            Cells::Csv(cells) => cells.get(column)?.parse().ok(),
        }
    }

    fn place(&self, column: &str) -> Option<usize> {
        let place = self.table.columns.iter().position(|c| c.name == column);
        debug_assert!(place.is_some(), "{} has no column {column}", self.table.name);
        place
    }
}

/// Hands on the rows of a Parquet file, in its order.
///
/// # Errors
/// [`Trouble`] where the file has other columns than this version's table, or is damaged; that of `take`.
pub fn read_parquet(
    table: &'static Table,
    file: impl ChunkReader + 'static,
    mut take: impl FnMut(&Row<'_>) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    each_batch(table, file, |batch| {
        let mut rows = (0..batch.num_rows()).map(|at| Row { table, cells: Cells::Parquet { batch, at } });
        rows.try_for_each(|row| take(&row))
    })
}

/// The same in batches.
pub(super) fn each_batch(
    table: &'static Table,
    file: impl ChunkReader + 'static,
    mut take: impl FnMut(&RecordBatch) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    let metadata = checked(table, &file)?;
    let builder = ParquetRecordBatchReaderBuilder::new_with_metadata(file, metadata);
    let mut reader = guarded(|| builder.build()).map_err(of_table)?;
    while let Some(batch) = guarded(|| reader.next().transpose()).map_err(of_table)? {
        take(&batch)?;
    }
    Ok(())
}

/// Looks whether a Parquet file has the columns of this version's table.
///
/// # Errors
/// [`Trouble`] where it has others, or is damaged.
pub fn has_columns(table: &'static Table, file: &impl ChunkReader) -> Result<(), Trouble> {
    checked(table, file).map(drop)
}

fn checked(table: &Table, file: &impl ChunkReader) -> Result<ArrowReaderMetadata, Trouble> {
    let metadata =
        guarded(|| ArrowReaderMetadata::load(file, ArrowReaderOptions::new())).map_err(of_table)?;
    columns_of(table, metadata.schema()).map_err(of_table)?;
    Ok(metadata)
}

/// The same as [`read_parquet`] of the bytes of a CSV file.
///
/// # Errors
/// As [`read_parquet`].
pub fn read_csv(
    table: &'static Table,
    bytes: &[u8],
    mut take: impl FnMut(&Row<'_>) -> Result<(), Trouble>,
) -> Result<(), Trouble> {
    let unreadable = |e: csv::Error| Trouble::new(format!("the table cannot be read ({e})"), REMEDY);
    let mut reader = csv::Reader::from_reader(bytes);
    let found: Vec<String> = reader.headers().map_err(unreadable)?.iter().map(str::to_owned).collect();
    let wanted: Vec<&str> = table.columns.iter().map(|c| c.name).collect();
    if found != wanted {
        let (found, wanted) = (found.join(", "), wanted.join(", "));
        return Err(Trouble::new(format!("found the columns {found}, expected {wanted}"), REMEDY));
    }
    for record in reader.records() {
        let record = record.map_err(unreadable)?;
        let cells = found.iter().cloned().zip(record.iter().map(str::to_owned)).collect();
        take(&Row { table, cells: Cells::Csv(&cells) })?;
    }
    Ok(())
}
