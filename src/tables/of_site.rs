//! Tables of a site whose name is that of the folder which holds them.
//!
//! Settled here, and why:
//! - **`site=NAME/part.parquet` has no column `site`**: readers of such folders make the column out of the name, and some refuse a
//!   file that has one too. CSV files, which people open one by one, keep theirs.

use std::io::Write;

use arrow::array::{Array, AsArray, RecordBatch};
use arrow::datatypes::{Float64Type, TimestampMillisecondType, UInt64Type};
use parquet::file::reader::ChunkReader;

use super::read_back::each_batch;
use super::{CASES, Cell, EVENTS, FINDINGS, Kind, METRICS, ParquetFile, ROOMS, Table};
use crate::clock::UtcTime;
use crate::error::{Result as OrError, Trouble};

/// Rows that are encoded together.
const ROWS_TOGETHER: usize = 8192;

/// The same table without its first column, which names the site.
macro_rules! of_site {
    ($($table:ident as $name:ident),+) => {
        $(static $name: Table = Table {
            name: $table.name,
            about: $table.about,
            columns: $table.columns.split_at(1).1,
            formats: $table.formats,
            sorted_by: &[],
        };)+
        /// Each table of a site, with its form in a folder that names the site.
        static IN_FOLDERS: &[(&Table, &Table)] = &[$((&$table, &$name)),+];
    };
}

of_site!(
    CASES as CASES_OF_SITE,
    METRICS as METRICS_OF_SITE,
    EVENTS as EVENTS_OF_SITE,
    FINDINGS as FINDINGS_OF_SITE,
    ROOMS as ROOMS_OF_SITE
);

/// A table as it stands in a folder that names the site; `None` where it never does as Parquet.
pub fn in_folder_of_site(table: &Table) -> Option<&'static Table> {
    IN_FOLDERS.iter().find(|(whole, _)| whole.name == table.name).map(|(_, of_site)| *of_site)
}

/// Writes the rows of a table of one site without its name.
///
/// # Errors
/// Those of reading inside, those of writing outside.
pub fn without_site<W: Write + Send>(
    (table, of_site): (&'static Table, &'static Table),
    file: impl ChunkReader + 'static,
    out: W,
) -> OrError<Result<W, Trouble>> {
    let mut written = ParquetFile::start(of_site, out)?;
    let mut failed = None;
    let read = each_batch(table, file, |batch| {
        for from in (0..batch.num_rows()).step_by(ROWS_TOGETHER) {
            let rows = from..(from + ROWS_TOGETHER).min(batch.num_rows());
            let cells: Vec<Vec<Cell<'_>>> = rows.map(|at| cells(of_site, batch, at)).collect();
            if let Err(error) = written.add(&cells) {
                failed = Some(error);
                return Err(Trouble::new("the rows could not be written", ""));
            }
        }
        Ok(())
    });
    match (failed, read) {
        (Some(error), _) => Err(error),
        (None, Err(trouble)) => Ok(Err(trouble)),
        (None, Ok(())) => written.finish().map(Ok),
    }
}

/// A row, from the second column on.
fn cells<'b>(of_site: &Table, batch: &'b RecordBatch, at: usize) -> Vec<Cell<'b>> {
    let columns = of_site.columns.iter().zip(&batch.columns()[1..]);
    let cell = |(column, array): (&super::Column, &'b arrow::array::ArrayRef)| match column.kind {
        _ if array.is_null(at) => Cell::Empty,
        Kind::Text | Kind::Word => Cell::Text(array.as_string::<i32>().value(at).into()),
        Kind::Number => Cell::Number(array.as_primitive::<Float64Type>().value(at)),
        Kind::Count => Cell::Count(array.as_primitive::<UInt64Type>().value(at)),
        Kind::Time => {
            Cell::Time(UtcTime::from_ms(array.as_primitive::<TimestampMillisecondType>().value(at)))
        }
        Kind::YesNo => Cell::YesNo(array.as_boolean().value(at)),
        // No table of a site that stands in such folders has these.
        Kind::Single | Kind::Line | Kind::Flag => Cell::Empty,
    };
    columns.map(cell).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_lose_their_site_and_nothing_else() {
        for (whole, of_site) in IN_FOLDERS {
            assert_eq!((whole.columns[0].name, of_site.columns[0].name == "site"), ("site", false));
            assert_eq!(whole.columns.len(), of_site.columns.len() + 1);
            let kinds = [Kind::Single, Kind::Line, Kind::Flag];
            assert!(whole.columns.iter().all(|c| !kinds.contains(&c.kind)), "{}", whole.name);
        }
    }
}
