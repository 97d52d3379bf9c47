//! What the footer says of each page of a column: where it lies, and its lowest and highest value, so that a reader who
//! looks for some of the rows can pass over the other pages.

use parquet::basic::Type;
use parquet::errors::Result as ParquetResult;
use parquet::file::metadata::{ColumnIndexBuilder, OffsetIndexBuilder};
use parquet::file::page_index::column_index::ColumnIndexMetaData;
use parquet::file::page_index::offset_index::OffsetIndexMetaData;

/// The lowest and the highest value of a page as the format writes them plainly, and how many rows have none.
pub(super) struct Ends {
    /// `None` where no row has a value.
    pub(super) values: Option<(Vec<u8>, Vec<u8>)>,
    /// Rows without a value.
    pub(super) missing: usize,
}

/// The index in the making.
pub(super) struct PageIndex {
    values: ColumnIndexBuilder,
    places: OffsetIndexBuilder,
}

impl PageIndex {
    /// Starts the index of a column with values of such a type.
    pub(super) fn of(kind: Type) -> Self {
        Self { values: ColumnIndexBuilder::new(kind), places: OffsetIndexBuilder::new() }
    }

    /// Adds a page of so many rows that starts there, seen from the first page of the column; `length` with its header.
    ///
    /// # Source
    /// Apache Parquet format, `ColumnIndex`: a page without any value has empty bytes for its ends.
    pub(super) fn add(&mut self, rows: usize, start: u64, length: usize, ends: Ends) {
        let empty = ends.values.is_none();
        let (low, high) = ends.values.unwrap_or_default();
        self.values.append(empty, low, high, ends.missing as i64);
        self.places.append_row_count(rows as i64);
        // A page is far smaller than its length can say: [`super::page::header`] refuses others.
        self.places.append_offset_and_size(start.cast_signed(), i32::try_from(length).unwrap_or(i32::MAX));
    }

    /// Both parts of the index.
    pub(super) fn end(self) -> ParquetResult<(ColumnIndexMetaData, OffsetIndexMetaData)> {
        Ok((self.values.build()?, self.places.build()))
    }
}
