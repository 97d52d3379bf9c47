//! A small table as a Parquet file: the library encodes its columns, and its pages get checksums here, which the library
//! verifies and does not write.

use std::io::Write;
use std::sync::{Arc, Mutex, PoisonError};

use parquet::basic::PageType;
use parquet::column::page::{CompressedPage, Page, PageWriteSpec, PageWriter};
use parquet::column::writer::{ColumnWriter, get_column_writer};
use parquet::data_type::ByteArray;
use parquet::errors::{ParquetError, Result as ParquetResult};

use super::chunk::Chunk;
use super::encode::failed;
use super::group::{Group, GroupFile};
use super::page::{Holds, header};
use super::{Cell, Table, unsigned_zero};
use crate::error::Result;

/// Rows after which a row group ends, so that few of them are held in memory.
const ROWS_OF_A_GROUP: usize = 65_536;

/// A Parquet file in the making.
pub struct ParquetFile<W: Write + Send> {
    table: &'static Table,
    file: GroupFile<W>,
    columns: Vec<Open>,
    rows: usize,
}

/// A column of the row group in the making.
struct Open {
    writer: ColumnWriter<'static>,
    pages: Arc<Mutex<Vec<u8>>>,
    optional: bool,
}

impl<W: Write + Send> ParquetFile<W> {
    /// Starts a file for a table.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`].
    pub fn start(table: &'static Table, out: W) -> Result<Self> {
        Ok(Self { table, file: GroupFile::start(table, out)?, columns: Vec::new(), rows: 0 })
    }

    /// Adds rows.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`], also where a cell does not fit its column: a bug.
    pub fn add(&mut self, rows: &[Vec<Cell<'_>>]) -> Result<()> {
        if self.columns.is_empty() {
            self.columns = self.open();
        }
        for (i, column) in self.columns.iter_mut().enumerate() {
            column.add(rows.iter().map(|row| &row[i])).map_err(failed(self.table))?;
        }
        self.rows += rows.len();
        if self.rows >= ROWS_OF_A_GROUP { self.end_group() } else { Ok(()) }
    }

    /// Writes the footer.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`].
    pub fn finish(mut self) -> Result<W> {
        self.end_group()?;
        self.file.finish()
    }

    fn open(&self) -> Vec<Open> {
        let (schema, properties) = self.file.described();
        let column = |(i, column): (usize, &super::Column)| {
            let pages = Arc::new(Mutex::new(Vec::new()));
            let checked = Box::new(Checked(Arc::clone(&pages)));
            let writer = get_column_writer(schema.column(i), Arc::clone(properties), checked);
            Open { writer, pages, optional: column.optional }
        };
        self.table.columns.iter().enumerate().map(column).collect()
    }

    fn end_group(&mut self) -> Result<()> {
        let rows = std::mem::take(&mut self.rows);
        let closed = |open: Open| -> ParquetResult<Chunk> {
            let close = open.writer.close()?;
            let pages = std::mem::take(&mut *open.pages.lock().unwrap_or_else(PoisonError::into_inner));
            Ok((pages.into(), close))
        };
        let chunks: ParquetResult<Vec<_>> = self.columns.drain(..).map(closed).collect();
        self.file.add(Group::of(rows, chunks.map_err(failed(self.table))?))
    }
}

impl Open {
    /// Adds the cells of some rows: each that is not of the column's kind is missing, which a column that is not optional
    /// refuses.
    fn add<'c>(&mut self, cells: impl Iterator<Item = &'c Cell<'c>> + Clone) -> ParquetResult<()> {
        macro_rules! add_all {
            ($writer:expr, $($pattern:pat => $value:expr),+) => {{
                let (mut levels, mut values) = (Vec::new(), Vec::new());
                for cell in cells {
                    match cell {
                        $($pattern => { values.push($value); levels.push(1); })+
                        _ => levels.push(0),
                    }
                }
                if !self.optional && values.len() < levels.len() {
                    return Err(ParquetError::General("a cell that does not fit its column".to_owned()));
                }
                $writer.write_batch(&values, self.optional.then_some(&levels[..]), None).map(drop)
            }};
        }
        match &mut self.writer {
            ColumnWriter::ByteArrayColumnWriter(w) => {
                add_all!(w, Cell::Text(s) => ByteArray::from(s.as_ref()))
            }
            ColumnWriter::DoubleColumnWriter(w) => add_all!(w, Cell::Number(x) => unsigned_zero(*x)),
            ColumnWriter::FloatColumnWriter(w) => {
                add_all!(w, Cell::Number(x) => unsigned_zero(f64::from(*x as f32)) as f32)
            }
            ColumnWriter::Int64ColumnWriter(w) => {
                add_all!(w, Cell::Count(n) => n.cast_signed(), Cell::Time(t) => t.ms())
            }
            ColumnWriter::Int32ColumnWriter(w) => add_all!(w, Cell::Count(n) => (*n as u32).cast_signed()),
            ColumnWriter::BoolColumnWriter(w) => add_all!(w, Cell::YesNo(yes) => *yes),
            ColumnWriter::Int96ColumnWriter(_) | ColumnWriter::FixedLenByteArrayColumnWriter(_) => {
                Err(ParquetError::General("no column of a table has such values".to_owned()))
            }
        }
    }
}

/// Pages of a column, one after the other, with checksums.
struct Checked(Arc<Mutex<Vec<u8>>>);

impl PageWriter for Checked {
    fn write_page(&mut self, page: CompressedPage) -> ParquetResult<PageWriteSpec> {
        let holds = match page.compressed_page() {
            Page::DataPage { .. } => Holds::Rows,
            Page::DictionaryPage { .. } => Holds::Different,
            Page::DataPageV2 { .. } => {
                return Err(ParquetError::General("a page of the second kind".to_owned()));
            }
        };
        let (values, length) = (page.num_values() as usize, page.uncompressed_size());
        let header = header(holds, page.encoding(), values, length, page.data())?;
        let mut pages = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let mut spec = PageWriteSpec::new();
        spec.page_type = match holds {
            Holds::Rows => PageType::DATA_PAGE,
            Holds::Different => PageType::DICTIONARY_PAGE,
        };
        spec.num_values = page.num_values();
        spec.uncompressed_size = length + header.len();
        spec.compressed_size = page.data().len() + header.len();
        spec.bytes_written = spec.compressed_size as u64;
        spec.offset = pages.len() as u64;
        pages.extend(header);
        pages.extend(page.data());
        Ok(spec)
    }

    fn close(&mut self) -> ParquetResult<()> {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use arrow::array::{Array, AsArray};
    use arrow::datatypes::{Float64Type, TimestampMillisecondType, UInt64Type};
    use bytes::Bytes;
    use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

    use super::*;
    use crate::clock::UtcTime;
    use crate::tables::{Kind, TABLES};

    /// A cell for a column; every third of an optional one is missing.
    fn cell(column: &crate::tables::Column, row: usize) -> Cell<'static> {
        if column.optional && row.is_multiple_of(3) {
            return Cell::Empty;
        }
        match column.kind {
            Kind::Text => Cell::Text(format!("text {row}").into()),
            Kind::Word => Cell::Text(format!("word {}", row % 7).into()),
            Kind::Number | Kind::Single => Cell::Number(row as f64 / 4.0),
            Kind::Count => Cell::Count(u64::MAX - row as u64),
            Kind::Line | Kind::Flag => Cell::Count(row as u64 % 200),
            Kind::Time => Cell::Time(UtcTime::from_ms(row as i64 * 300_000)),
            Kind::YesNo => Cell::YesNo(row.is_multiple_of(2)),
        }
    }

    #[test]
    fn rows_of_every_table_are_read_back_and_a_flipped_bit_is_found() {
        for table in TABLES {
            let row = |row| table.columns.iter().map(|c| cell(c, row)).collect::<Vec<_>>();
            let many = if table.name == "set_aside" { ROWS_OF_A_GROUP } else { 0 };
            let rows: Vec<Vec<Cell<'_>>> = (0..many + 3000).map(row).collect();
            let mut file = ParquetFile::start(table, Vec::new()).unwrap();
            rows.chunks(8192).for_each(|some| file.add(some).unwrap());
            let bytes = file.finish().unwrap();
            let builder = ParquetRecordBatchReaderBuilder::try_new(Bytes::from(bytes.clone())).unwrap();
            let pages = builder.metadata().row_group(0).column(0).byte_range();
            let mut at = 0;
            for batch in builder.build().unwrap().map(|batch| batch.unwrap()) {
                assert_eq!(batch.schema().fields(), table.schema().fields());
                for (i, column) in table.columns.iter().enumerate() {
                    let array = batch.column(i);
                    for j in (0..array.len()).step_by(97) {
                        match cell(column, at + j) {
                            Cell::Empty => assert!(array.is_null(j)),
                            Cell::Number(x) if column.kind == Kind::Number => {
                                assert!((array.as_primitive::<Float64Type>().value(j) - x).abs() < 1e-12);
                            }
                            Cell::Count(n) if column.kind == Kind::Count => {
                                assert_eq!(array.as_primitive::<UInt64Type>().value(j), n);
                            }
                            Cell::Time(t) => {
                                let ms = array.as_primitive::<TimestampMillisecondType>().value(j);
                                assert_eq!(ms, t.ms());
                            }
                            Cell::Text(s) if column.kind == Kind::Text => {
                                assert_eq!(array.as_string::<i32>().value(j), s);
                            }
                            _ => assert!(!array.is_null(j)),
                        }
                    }
                }
                at += batch.num_rows();
            }
            assert_eq!(at, rows.len());
            let mut flipped = bytes;
            flipped[(pages.0 + pages.1) as usize - 2] ^= 1;
            let reader = ParquetRecordBatchReaderBuilder::try_new(Bytes::from(flipped)).unwrap().build();
            assert!(reader.unwrap().any(|batch| batch.is_err()), "{}", table.name);
        }
    }

    #[test]
    fn a_missing_cell_of_a_column_that_must_have_one_is_refused() {
        let table = TABLES[1];
        let mut file = ParquetFile::start(table, Vec::new()).unwrap();
        assert!(file.add(&[vec![Cell::Empty; table.columns.len()]]).is_err());
    }
}
