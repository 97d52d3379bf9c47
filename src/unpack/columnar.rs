//! Columnar files → lines of cells. Line 1 is the header, line n + 1 the nth row.

use std::io::Cursor;

use arrow::array::RecordBatch;
use arrow::util::display::{ArrayFormatter, FormatOptions};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

use super::{Lines, Part, damaged};
use crate::error::Trouble;

const KIND_PARQUET: &str = "Parquet file";
const KIND_ARROW: &str = "Arrow file";

/// The rows of a Parquet file.
pub(crate) fn parquet(bytes: &[u8]) -> Result<Vec<Part<'static>>, Trouble> {
    let bytes = bytes::Bytes::copy_from_slice(bytes);
    let builder = ParquetRecordBatchReaderBuilder::try_new(bytes).map_err(|e| damaged(KIND_PARQUET, e))?;
    let claimed = builder.metadata().file_metadata().num_rows();
    let batches = builder.build().map_err(|e| damaged(KIND_PARQUET, e))?;
    let mut held = 0;
    let mut count = |batch: &RecordBatch| held += batch.num_rows();
    let batches = batches.map(|b| b.map_err(|e| damaged(KIND_PARQUET, e)));
    let parts = render(batches.inspect(|b| b.iter().for_each(&mut count)))?;
    if i64::try_from(held).is_ok_and(|held| held != claimed) {
        return Err(damaged(KIND_PARQUET, format!("its footer claims {claimed} rows, and it holds {held}")));
    }
    Ok(parts)
}

/// The rows of an Arrow IPC file.
pub(crate) fn arrow(bytes: &[u8]) -> Result<Vec<Part<'static>>, Trouble> {
    let reader = arrow::ipc::reader::FileReader::try_new(Cursor::new(bytes), None)
        .map_err(|e| damaged(KIND_ARROW, e))?;
    render(reader.map(|b| b.map_err(|e| damaged(KIND_ARROW, e))))
}

fn render(
    batches: impl Iterator<Item = Result<RecordBatch, Trouble>>,
) -> Result<Vec<Part<'static>>, Trouble> {
    let mut lines = Lines::default();
    let options = FormatOptions::default();
    for (i, batch) in batches.enumerate() {
        let batch = batch?;
        if i == 0 {
            lines.line(batch.schema().fields().iter().map(|f| f.name().as_str()))?;
        }
        let columns: Result<Vec<ArrayFormatter<'_>>, _> =
            batch.columns().iter().map(|c| ArrayFormatter::try_new(c, &options)).collect();
        let columns = columns.map_err(|e| damaged("columnar file", e))?;
        let mut texts: Vec<String> = vec![String::new(); columns.len()];
        for row in 0..batch.num_rows() {
            for (text, column) in texts.iter_mut().zip(&columns) {
                *text = column.value(row).to_string();
            }
            lines.line(texts.iter().map(String::as_str))?;
        }
    }
    Ok(vec![lines.part(None)])
}
