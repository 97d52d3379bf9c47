//! Rows of a table in memory: Arrow record batches by the schema that the table declares.

use std::sync::Arc;

use arrow::array::{
    ArrayRef, BooleanArray, Float32Array, Float64Array, StringArray, TimestampMillisecondArray, UInt8Array,
    UInt32Array, UInt64Array,
};
use arrow::record_batch::RecordBatch;

use super::group::Values;
use super::runs::Runs;
use super::{Cell, Kind, Table, encode, unsigned_zero};
use crate::error::Result;

impl Table {
    /// Rows by their cells; a cell that is not of its column's kind is missing.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`] where a cell is missing in a column that must have one: a bug.
    pub fn batch(&self, rows: &[Vec<Cell<'_>>]) -> Result<RecordBatch> {
        let column =
            |(at, column): (usize, &super::Column)| of_cells(column.kind, rows.iter().map(|row| &row[at]));
        self.of_arrays(self.columns.iter().enumerate().map(column).collect())
    }

    /// Rows by their columns.
    pub(super) fn batch_of_columns(&self, columns: Vec<Values<'_>>) -> Result<RecordBatch> {
        let column = |(column, values): (&super::Column, Values<'_>)| of_values(column.kind, values);
        self.of_arrays(self.columns.iter().zip(columns).map(column).collect())
    }

    fn of_arrays(&self, arrays: Vec<ArrayRef>) -> Result<RecordBatch> {
        RecordBatch::try_new(Arc::new(self.schema()), arrays).map_err(encode::failed(self))
    }
}

fn of_cells<'c>(kind: Kind, cells: impl Iterator<Item = &'c Cell<'c>>) -> ArrayRef {
    let number = |cell: &Cell<'_>| if let Cell::Number(x) = cell { Some(unsigned_zero(*x)) } else { None };
    let count = |cell: &Cell<'_>| if let Cell::Count(n) = cell { Some(*n) } else { None };
    match kind {
        Kind::Text | Kind::Word => {
            let text = |cell: &'c Cell<'c>| if let Cell::Text(s) = cell { Some(s.as_ref()) } else { None };
            Arc::new(cells.map(text).collect::<StringArray>())
        }
        Kind::Number => Arc::new(cells.map(number).collect::<Float64Array>()),
        Kind::Single => {
            let single = |x: f64| unsigned_zero(f64::from(x as f32)) as f32;
            Arc::new(cells.map(|cell| number(cell).map(single)).collect::<Float32Array>())
        }
        Kind::Count => Arc::new(cells.map(count).collect::<UInt64Array>()),
        Kind::Line => Arc::new(cells.map(|cell| count(cell).map(|n| n as u32)).collect::<UInt32Array>()),
        Kind::Flag => Arc::new(cells.map(|cell| count(cell).map(|n| n as u8)).collect::<UInt8Array>()),
        Kind::Time => {
            let ms = cells.map(|cell| if let Cell::Time(t) = cell { Some(t.ms()) } else { None });
            Arc::new(ms.collect::<TimestampMillisecondArray>().with_timezone("UTC"))
        }
        Kind::YesNo => {
            let yes = |cell: &Cell<'_>| if let Cell::YesNo(yes) = cell { Some(*yes) } else { None };
            Arc::new(cells.map(yes).collect::<BooleanArray>())
        }
    }
}

fn of_values(kind: Kind, values: Values<'_>) -> ArrayRef {
    match values {
        Values::Words(runs) => Arc::new(rows(&runs).map(|word| word.copied()).collect::<StringArray>()),
        Values::Flags(runs) => Arc::new(rows(&runs).map(|flag| flag.copied()).collect::<UInt8Array>()),
        Values::Numbers(runs) if kind == Kind::Single => {
            Arc::new(rows(&runs).map(|x| x.map(|x| *x as f32)).collect::<Float32Array>())
        }
        Values::Numbers(runs) => Arc::new(rows(&runs).map(|x| x.copied()).collect::<Float64Array>()),
        Values::Times(ms) => {
            Arc::new(TimestampMillisecondArray::from_iter_values(ms.iter().copied()).with_timezone("UTC"))
        }
        Values::Lines(lines) => Arc::new(UInt32Array::from_iter_values(lines.iter().copied())),
        Values::Singles(values) => {
            Arc::new(values.iter().map(|x| (!x.is_nan()).then_some(*x)).collect::<Float32Array>())
        }
    }
}

/// The value of each row.
fn rows<T: PartialEq>(runs: &Runs<T>) -> impl Iterator<Item = Option<&T>> {
    runs.iter().flat_map(|(place, rows)| {
        std::iter::repeat_n(place.map(|place| &runs.different()[place as usize]), rows)
    })
}
