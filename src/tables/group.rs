//! Row groups of the two large tables, encoded where their values are at hand; the file only has to append their bytes.
//!
//! Most columns of these tables say one thing for thousands of rows (the home, the room, a flag). They are written as the
//! runs they are, without a look at each row; only times, lines and values go through the encoders row by row.

use std::io::Write;
use std::sync::{Arc, Mutex, PoisonError};

use bytes::Bytes;
use parquet::arrow::{ArrowSchemaConverter, ArrowWriter};
use parquet::basic::{Compression, Encoding};
use parquet::column::page::{CompressedPage, Page, PageWriteSpec, PageWriter};
use parquet::column::writer::{ColumnCloseResult, get_column_writer, get_typed_column_writer};
use parquet::data_type::{ByteArray, DataType, DoubleType, FloatType, Int32Type, Int64Type};
use parquet::errors::{ParquetError, Result as ParquetResult};
use parquet::file::metadata::ColumnChunkMetaData;
use parquet::file::properties::WriterPropertiesPtr;
use parquet::file::statistics::Statistics;
use parquet::file::writer::{SerializedFileWriter, SerializedPageWriter, TrackedWrite};
use parquet::schema::types::ColumnDescPtr;

use super::{Table, encode};
use crate::error::{Error, Result};

/// Values that last for many rows: each different one once, and how long each run of one is.
#[derive(Clone, Debug)]
pub(super) struct Runs<T> {
    different: Vec<T>,
    runs: Vec<(Option<u32>, usize)>,
}

impl<T> Default for Runs<T> {
    fn default() -> Self {
        Self { different: Vec::new(), runs: Vec::new() }
    }
}

impl<T: PartialEq> Runs<T> {
    /// The same value in every row.
    pub(super) fn one(value: Option<T>, rows: usize) -> Self {
        let mut runs = Self::default();
        runs.push(value, rows);
        runs
    }

    /// Adds rows with a value, or without.
    pub(super) fn push(&mut self, value: Option<T>, rows: usize) {
        let place = value.map(|value| {
            let known = self.different.iter().position(|d| *d == value);
            known.unwrap_or_else(|| {
                self.different.push(value);
                self.different.len() - 1
            }) as u32
        });
        match self.runs.last_mut() {
            Some((last, length)) if *last == place => *length += rows,
            _ => self.runs.push((place, rows)),
        }
    }

    /// The same runs of other values.
    pub(super) fn map<'s, U>(&'s self, to: impl FnMut(&'s T) -> U) -> Runs<U> {
        Runs { different: self.different.iter().map(to).collect(), runs: self.runs.clone() }
    }

    fn rows(&self) -> usize {
        self.runs.iter().map(|(_, rows)| rows).sum()
    }

    fn missing(&self) -> usize {
        self.runs.iter().filter(|(place, _)| place.is_none()).map(|(_, rows)| rows).sum()
    }
}

/// The values of a column, as many as the group has rows.
pub(super) enum Values<'a> {
    Words(Runs<&'a str>),
    Flags(Runs<u8>),
    Numbers(Runs<f64>),
    Times(&'a [i64]),
    Lines(&'a [u32]),
    /// NaN where missing.
    Singles(&'a [f32]),
    /// NaN where missing.
    Series(&'a [f64]),
}

/// One row group, ready to be appended.
pub struct Group {
    rows: usize,
    chunks: Vec<(Bytes, ColumnCloseResult)>,
}

impl Group {
    /// Encodes the columns of a table, in its order.
    ///
    /// # Errors
    /// [`Error::Encode`]: a bug.
    pub(super) fn encode(table: &'static Table, rows: usize, columns: Vec<Values<'_>>) -> Result<Self> {
        let chunks = || -> ParquetResult<_> {
            let schema = ArrowSchemaConverter::new().convert(&table.schema())?;
            let properties = Arc::new(encode::properties(table));
            let chunk = |(i, values)| chunk(schema.column(i), &properties, values);
            columns.into_iter().enumerate().map(chunk).collect()
        };
        let chunks = if rows == 0 { Vec::new() } else { chunks().map_err(encode::failed(table))? };
        Ok(Self { rows, chunks })
    }
}

/// A Parquet file that is put together of row groups.
pub struct GroupFile<W: Write + Send> {
    table: &'static Table,
    writer: SerializedFileWriter<W>,
}

impl<W: Write + Send> GroupFile<W> {
    /// Starts a file for a table.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn start(table: &'static Table, out: W) -> Result<Self> {
        let start = || {
            let properties = encode::properties(table);
            ArrowWriter::try_new(out, Arc::new(table.schema()), Some(properties))?.into_serialized_writer()
        };
        let (writer, _) = start().map_err(encode::failed(table))?;
        Ok(Self { table, writer })
    }

    /// Appends a group; one without rows leaves no trace.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn add(&mut self, group: Group) -> Result<()> {
        if group.rows == 0 {
            return Ok(());
        }
        let append = || -> ParquetResult<()> {
            let mut row_group = self.writer.next_row_group()?;
            for (bytes, close) in group.chunks {
                row_group.append_column(&bytes, close)?;
            }
            row_group.close().map(drop)
        };
        append().map_err(encode::failed(self.table))
    }

    /// Writes the footer.
    ///
    /// # Errors
    /// [`Error::Encode`].
    pub fn finish(self) -> Result<W> {
        self.writer
            .into_inner()
            .map_err(|source| Error::Encode { table: self.table.name, source: Box::new(source) })
    }
}

fn chunk(
    column: ColumnDescPtr,
    properties: &WriterPropertiesPtr,
    values: Values<'_>,
) -> ParquetResult<(Bytes, ColumnCloseResult)> {
    match values {
        Values::Words(runs) => {
            let bytes = |word: &str| [&(word.len() as u32).to_le_bytes(), word.as_bytes()].concat();
            let ends = (runs.different.iter().min(), runs.different.iter().max());
            let end = |word: Option<&&str>| word.map(|w| ByteArray::from(*w));
            let nulls = Some(runs.missing() as u64);
            let statistics = Statistics::byte_array(end(ends.0), end(ends.1), None, nulls, false);
            let dictionary = runs.different.iter().flat_map(|word| bytes(word)).collect();
            runs_chunk(column, &runs, dictionary, statistics)
        }
        Values::Flags(runs) => {
            let end = |flag: Option<&u8>| flag.map(|f| i32::from(*f));
            let ends = (end(runs.different.iter().min()), end(runs.different.iter().max()));
            let statistics = Statistics::int32(ends.0, ends.1, None, Some(runs.missing() as u64), false);
            let dictionary = runs.different.iter().flat_map(|f| i32::from(*f).to_le_bytes()).collect();
            runs_chunk(column, &runs, dictionary, statistics)
        }
        Values::Numbers(runs) => {
            let end = |pick: fn(f64, f64) -> f64| runs.different.iter().copied().reduce(pick);
            let nulls = Some(runs.missing() as u64);
            let statistics = Statistics::double(end(f64::min), end(f64::max), None, nulls, false);
            let dictionary = runs.different.iter().flat_map(|x| x.to_le_bytes()).collect();
            runs_chunk(column, &runs, dictionary, statistics)
        }
        Values::Times(ms) => each_row::<Int64Type>(column, properties, ms, &[]),
        Values::Lines(lines) => {
            let signed: Vec<i32> = lines.iter().map(|l| l.cast_signed()).collect();
            each_row::<Int32Type>(column, properties, &signed, &[])
        }
        Values::Singles(values) => {
            let present: Vec<f32> = values.iter().copied().filter(|x| !x.is_nan()).collect();
            each_row::<FloatType>(column, properties, &present, &levels(values.iter().map(|x| x.is_nan())))
        }
        Values::Series(values) => {
            let missing = values.iter().any(|x| x.is_nan());
            if !missing && column.max_def_level() == 0 {
                return each_row::<DoubleType>(column, properties, values, &[]);
            }
            let present: Vec<f64> = values.iter().copied().filter(|x| !x.is_nan()).collect();
            each_row::<DoubleType>(column, properties, &present, &levels(values.iter().map(|x| x.is_nan())))
        }
    }
}

/// What tells a missing value from a present one in a column that may miss some.
fn levels(missing: impl Iterator<Item = bool>) -> Vec<i16> {
    missing.map(|missing| i16::from(!missing)).collect()
}

fn each_row<T: DataType>(
    column: ColumnDescPtr,
    properties: &WriterPropertiesPtr,
    values: &[T::T],
    levels: &[i16],
) -> ParquetResult<(Bytes, ColumnCloseResult)> {
    let pages = Pages::default();
    let writer = get_column_writer(column, Arc::clone(properties), Box::new(pages.clone()));
    let mut writer = get_typed_column_writer::<T>(writer);
    writer.write_batch(values, (!levels.is_empty()).then_some(levels), None)?;
    let close = writer.close()?;
    Ok((pages.into_bytes()?, close))
}

/// The pages of a column chunk, one after the other.
#[derive(Clone)]
struct Pages(Arc<Mutex<TrackedWrite<Vec<u8>>>>);

impl Default for Pages {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(TrackedWrite::new(Vec::new()))))
    }
}

impl Pages {
    fn into_bytes(self) -> ParquetResult<Bytes> {
        let empty = TrackedWrite::new(Vec::new());
        let mut written = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        std::mem::replace(&mut *written, empty).into_inner().map(Bytes::from)
    }
}

impl PageWriter for Pages {
    fn write_page(&mut self, page: CompressedPage) -> ParquetResult<PageWriteSpec> {
        let mut written = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        SerializedPageWriter::new(&mut written).write_page(page)
    }

    fn close(&mut self) -> ParquetResult<()> {
        Ok(())
    }
}

/// A column of runs: a page with the different values, and one with the runs.
///
/// # Source
/// Apache Parquet format, encodings: dictionary encoding, and its hybrid of run-length encoding and bit-packing, of which
/// only runs are used.
fn runs_chunk<T: PartialEq>(
    column: ColumnDescPtr,
    runs: &Runs<T>,
    dictionary: Vec<u8>,
    statistics: Statistics,
) -> ParquetResult<(Bytes, ColumnCloseResult)> {
    let rows = u32::try_from(runs.rows()).map_err(|_| ParquetError::General("too many rows".to_owned()))?;
    let mut data = Vec::new();
    if column.max_def_level() > 0 {
        let mut levels = Vec::new();
        for (place, length) in &runs.runs {
            run(&mut levels, *length, &[u8::from(place.is_some())]);
        }
        data.extend((levels.len() as u32).to_le_bytes());
        data.extend(levels);
    }
    let bits = (u32::BITS - (runs.different.len().saturating_sub(1) as u32).leading_zeros()).max(1);
    data.push(bits as u8);
    for (place, length) in runs.runs.iter().filter_map(|(place, length)| Some(((*place)?, *length))) {
        run(&mut data, length, &place.to_le_bytes()[..bits.div_ceil(8) as usize]);
    }
    let mut pages = Pages::default();
    let of_values = Page::DictionaryPage {
        num_values: runs.different.len() as u32,
        encoding: Encoding::PLAIN,
        is_sorted: false,
        buf: dictionary.into(),
    };
    let of_runs = Page::DataPage {
        num_values: rows,
        encoding: Encoding::RLE_DICTIONARY,
        def_level_encoding: Encoding::RLE,
        rep_level_encoding: Encoding::RLE,
        statistics: None,
        buf: data.into(),
    };
    let mut size = 0;
    let mut starts = [0_u64; 2];
    for (start, page) in starts.iter_mut().zip([of_values, of_runs]) {
        let length = page.buffer().len();
        let spec = pages.write_page(CompressedPage::new(page, length))?;
        (*start, size) = (spec.offset, size + spec.bytes_written);
    }
    let metadata = ColumnChunkMetaData::builder(column)
        .set_encodings(vec![Encoding::PLAIN, Encoding::RLE, Encoding::RLE_DICTIONARY])
        .set_compression(Compression::UNCOMPRESSED)
        .set_num_values(i64::from(rows))
        .set_total_compressed_size(size as i64)
        .set_total_uncompressed_size(size as i64)
        .set_dictionary_page_offset(Some(starts[0] as i64))
        .set_data_page_offset(starts[1] as i64)
        .set_statistics(statistics)
        .build()?;
    let close = ColumnCloseResult {
        bytes_written: size,
        rows_written: u64::from(rows),
        metadata,
        bloom_filter: None,
        column_index: None,
        offset_index: None,
    };
    Ok((pages.into_bytes()?, close))
}

/// So many times the same value: twice the number, seven bits per byte, the lowest first; then the value.
fn run(out: &mut Vec<u8>, length: usize, value: &[u8]) {
    let mut rest = (length as u64) << 1;
    while rest >= 0x80 {
        out.push((rest & 0x7f) as u8 | 0x80);
        rest >>= 7;
    }
    out.push(rest as u8);
    out.extend(value);
}

#[cfg(test)]
mod tests {
    use arrow::array::{Array, AsArray};
    use arrow::compute::cast;
    use arrow::datatypes::{DataType, Float64Type};
    use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

    use super::*;
    use crate::tables::ALIGNED;

    /// A group with two rooms, the second without humidity, as another reader of the format sees it.
    #[test]
    fn runs_are_read_back_as_the_rows_they_stand_for() {
        let rooms = [("bath", 3_usize), ("living", 70_000), ("bath", 1)];
        let rows: usize = rooms.iter().map(|r| r.1).sum();
        let (mut names, mut accuracies, mut humidity) = (Runs::default(), Runs::default(), Runs::default());
        for (name, n) in rooms {
            names.push(Some(name), n);
            accuracies.push(Some(if name == "bath" { 0.3 } else { 0.5 }), n);
            humidity.push((name == "bath").then_some(40.0), n);
        }
        let times: Vec<i64> = (0..rows as i64).map(|i| i * 300_000).collect();
        let degc: Vec<f64> = (0..rows).map(|i| i as f64 / 7.0).collect();
        let columns = vec![
            Values::Words(Runs::one(None, rows)),
            Values::Words(names),
            Values::Times(&times),
            Values::Series(&degc),
            Values::Numbers(accuracies),
            Values::Numbers(humidity),
        ];
        let mut file = GroupFile::start(&ALIGNED, Vec::new()).unwrap();
        file.add(Group::encode(&ALIGNED, rows, columns).unwrap()).unwrap();
        file.add(Group { rows: 0, chunks: Vec::new() }).unwrap();
        let bytes = Bytes::from(file.finish().unwrap());
        let reader = ParquetRecordBatchReaderBuilder::try_new(bytes).unwrap();
        assert_eq!(reader.metadata().num_row_groups(), 1);
        let reader = reader.with_batch_size(rows).build().unwrap();
        let batch = reader.into_iter().next().unwrap().unwrap();
        assert_eq!(batch.column(0).null_count(), rows, "no home");
        let words = cast(batch.column(1), &DataType::Utf8).unwrap();
        let name_of = |i: usize| if (3..70_003).contains(&i) { "living" } else { "bath" };
        let (accuracy, percent) =
            (batch.column(4).as_primitive::<Float64Type>(), batch.column(5).as_primitive::<Float64Type>());
        for i in 0..rows {
            assert_eq!(words.as_string::<i32>().value(i), name_of(i));
            assert_eq!(
                accuracy.value(i).to_bits(),
                if name_of(i) == "bath" { 0.3_f64 } else { 0.5 }.to_bits()
            );
            assert_eq!(percent.is_null(i), name_of(i) == "living");
        }
        assert_eq!(batch.column(3).as_primitive::<Float64Type>().values(), &degc[..]);
    }
}
