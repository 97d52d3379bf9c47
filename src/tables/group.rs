//! Row groups of the two large tables, encoded where their values are at hand; the file only has to append their bytes.
//!
//! Most columns of these tables say one thing for thousands of rows (the home, the room, a flag). They are written as the
//! runs they are, without a look at each row; only times, lines and values go through the encoders row by row.

use std::io::Write;
use std::sync::Arc;

use parquet::arrow::{ArrowSchemaConverter, ArrowWriter};
use parquet::data_type::ByteArray;
use parquet::errors::Result as ParquetResult;
use parquet::file::properties::WriterPropertiesPtr;
use parquet::file::statistics::Statistics;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::{ColumnDescPtr, SchemaDescriptor};

use super::chunk::{self, Chunk, Told, Zstd};
use super::runs::Runs;
use super::{Table, encode};
use crate::error::{Error, Result};

/// The values of a column, as many as the group has rows.
pub(super) enum Values<'a> {
    Words(Runs<&'a str>),
    Flags(Runs<u8>),
    Numbers(Runs<f64>),
    Times(&'a [i64]),
    Lines(&'a [u32]),
    /// NaN where missing.
    Singles(&'a [f32]),
}

/// One row group, ready to be appended.
pub struct Group {
    rows: usize,
    chunks: Vec<Chunk>,
}

impl Group {
    /// Columns that are encoded already.
    pub(super) const fn of(rows: usize, chunks: Vec<Chunk>) -> Self {
        Self { rows, chunks }
    }

    /// Encodes the columns of a table, in its order. `parts` are the rows of each part of the group (a room) that may be
    /// asked for by itself: where one ends, a page does.
    ///
    /// # Errors
    /// [`Error::Encode`]: a bug.
    pub(super) fn encode(table: &'static Table, parts: &[usize], columns: Vec<Values<'_>>) -> Result<Self> {
        let rows = parts.iter().sum();
        let chunks = || -> ParquetResult<_> {
            let schema = ArrowSchemaConverter::new().convert(&table.schema())?;
            let mut zstd = Zstd::new(1)?;
            let chunk = |(i, values)| chunk(schema.column(i), values, parts, &mut zstd);
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

    /// The columns of the file, and how they are written.
    pub(super) fn described(&self) -> (&SchemaDescriptor, &WriterPropertiesPtr) {
        (self.writer.schema_descr(), self.writer.properties())
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
        self.writer.into_inner().map_err(|source| Error::encode(self.table.name, source))
    }
}

/// The bytes of a column, and what the footer says of it.
fn chunk(
    column: ColumnDescPtr,
    values: Values<'_>,
    parts: &[usize],
    zstd: &mut Zstd,
) -> ParquetResult<Chunk> {
    match values {
        Values::Words(runs) => {
            let plain = |word: &&str| [&(word.len() as u32).to_le_bytes(), word.as_bytes()].concat();
            let told =
                Told { plain: &plain, bare: &|word| word.as_bytes().to_vec(), order: &|a, b| a.cmp(b) };
            let end = |word: Option<&&str>| word.map(|w| ByteArray::from(*w));
            let (low, high) = (end(runs.different.iter().min()), end(runs.different.iter().max()));
            let statistics = Statistics::byte_array(low, high, None, Some(runs.missing() as u64), false);
            chunk::of_runs(column, &runs, &told, statistics, zstd)
        }
        Values::Flags(runs) => {
            let plain = |flag: &u8| i32::from(*flag).to_le_bytes().to_vec();
            let told = Told { plain: &plain, bare: &plain, order: &|a, b| a.cmp(b) };
            let end = |flag: Option<&u8>| flag.map(|f| i32::from(*f));
            let (low, high) = (end(runs.different.iter().min()), end(runs.different.iter().max()));
            let statistics = Statistics::int32(low, high, None, Some(runs.missing() as u64), false);
            chunk::of_runs(column, &runs, &told, statistics, zstd)
        }
        Values::Numbers(runs) => {
            let plain = |x: &f64| x.to_le_bytes().to_vec();
            let told = Told { plain: &plain, bare: &plain, order: &f64::total_cmp };
            let statistics = chunk::statistics_of(&runs.different, runs.missing());
            chunk::of_runs(column, &runs, &told, statistics, zstd)
        }
        Values::Times(ms) => {
            let (low, high) = chunk::ends(ms).unzip();
            let statistics = Statistics::int64(low, high, None, Some(0), false);
            let told = (|from: i64, to: i64| to.wrapping_sub(from), |ms: i64| ms.to_le_bytes().to_vec());
            chunk::of_steps(column, (ms, parts), told, statistics, zstd)
        }
        Values::Lines(lines) => {
            let (low, high) = chunk::ends(lines).unzip();
            let end = |line: Option<u32>| line.map(u32::cast_signed);
            let statistics = Statistics::int32(end(low), end(high), None, Some(0), false);
            let step = |from: u32, to: u32| i64::from(to.wrapping_sub(from).cast_signed());
            let told = (step, |line: u32| line.to_le_bytes().to_vec());
            chunk::of_steps(column, (lines, parts), told, statistics, zstd)
        }
        Values::Singles(values) => chunk::of_reals(column, values, parts, zstd),
    }
}

#[cfg(test)]
mod tests {
    use arrow::array::{Array, AsArray};
    use arrow::datatypes::{
        ArrowPrimitiveType, Float32Type, Float64Type, TimestampMillisecondType, UInt8Type, UInt32Type,
    };
    use bytes::Bytes;
    use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;

    use super::*;
    use crate::tables::{ALIGNED, READINGS};

    #[test]
    fn a_room_without_rows_leaves_no_run() {
        let mut names = Runs::default();
        for (name, rows) in [("attic", 0), ("bath", 3), ("cellar", 0), ("bath", 2)] {
            names.push(Some(name), rows);
        }
        assert_eq!((names.different, names.runs), (vec!["bath"], vec![(Some(0), 5)]));
        assert_eq!(Runs::one(Some(1), 0).runs, []);
    }

    /// A group with two rooms, the second without humidity, as another reader of the format sees it.
    #[test]
    fn runs_are_read_back_as_the_rows_they_stand_for() {
        let rooms = [("bath", 3_usize), ("living", 70_000), ("bath", 1)];
        let rows: usize = rooms.iter().map(|r| r.1).sum();
        let (mut names, mut accuracies, mut humidity) = (Runs::default(), Runs::default(), Vec::new());
        for (name, n) in rooms {
            names.push(Some(name), n);
            accuracies.push(Some(if name == "bath" { 0.3 } else { 0.5 }), n);
            humidity.resize(humidity.len() + n, if name == "bath" { 40.0 } else { f32::NAN });
        }
        let times: Vec<i64> = (0..rows as i64).map(|i| i * 300_000).collect();
        let degc: Vec<f32> = (0..rows).map(|i| i as f32 / 7.0).collect();
        let mut flags = Runs::default();
        [(1, 40_000), (3, 2), (1, rows - 40_002)].into_iter().for_each(|(flag, n)| flags.push(Some(flag), n));
        let columns = vec![
            Values::Words(Runs::one(Some("Alder Row"), rows)),
            Values::Words(Runs::one(Some("1A"), rows)),
            Values::Words(names),
            Values::Times(&times),
            Values::Singles(&degc),
            Values::Numbers(accuracies),
            Values::Singles(&humidity),
            Values::Flags(flags),
            Values::Numbers(Runs::one(Some(0.25), rows)),
        ];
        let mut file = GroupFile::start(&ALIGNED, Vec::new()).unwrap();
        file.add(Group::encode(&ALIGNED, &rooms.map(|r| r.1), columns).unwrap()).unwrap();
        file.add(Group { rows: 0, chunks: Vec::new() }).unwrap();
        let bytes = Bytes::from(file.finish().unwrap());
        let reader = ParquetRecordBatchReaderBuilder::try_new(bytes).unwrap();
        assert_eq!(reader.metadata().num_row_groups(), 1);
        let reader = reader.with_batch_size(rows).build().unwrap();
        let batch = reader.into_iter().next().unwrap().unwrap();
        let words = batch.column(2).as_string::<i32>();
        let name_of = |i: usize| if (3..70_003).contains(&i) { "living" } else { "bath" };
        let (accuracy, percent) =
            (batch.column(5).as_primitive::<Float64Type>(), batch.column(6).as_primitive::<Float32Type>());
        for i in 0..rows {
            assert_eq!(words.value(i), name_of(i));
            assert_eq!(
                accuracy.value(i).to_bits(),
                if name_of(i) == "bath" { 0.3_f64 } else { 0.5 }.to_bits()
            );
            assert_eq!(percent.is_null(i), name_of(i) == "living");
        }
        assert_eq!(batch.column(4).as_primitive::<Float32Type>().values(), &degc[..]);
        let flags = batch.column(7).as_primitive::<UInt8Type>().values();
        let suspect: Vec<usize> = (0..rows).filter(|i| flags[*i] == 3).collect();
        assert_eq!(suspect, [40_000, 40_001]);
    }

    /// A column of the readings table as another reader of the format gives it back, missing values as `None`.
    fn read_back<T: ArrowPrimitiveType>(
        column: usize,
        rows: usize,
        values: Values<'_>,
    ) -> Vec<Option<T::Native>> {
        let word = || Values::Words(Runs::one(Some("word"), rows));
        let (times, lines, singles) = (vec![0; rows], vec![0; rows], vec![f32::NAN; rows]);
        let mut columns = vec![
            word(),
            word(),
            word(),
            word(),
            Values::Times(&times),
            Values::Singles(&singles),
            Values::Flags(Runs::one(Some(1), rows)),
            word(),
            Values::Lines(&lines),
            Values::Singles(&singles),
            Values::Flags(Runs::one(None, rows)),
            word(),
        ];
        columns[column] = values;
        let mut file = GroupFile::start(&READINGS, Vec::new()).unwrap();
        file.add(Group::encode(&READINGS, &[rows / 3, rows - rows / 3], columns).unwrap()).unwrap();
        let reader = ParquetRecordBatchReaderBuilder::try_new(Bytes::from(file.finish().unwrap())).unwrap();
        let batches = reader.with_batch_size(rows).build().unwrap();
        batches
            .flat_map(|b| b.unwrap().column(column).as_primitive::<T>().iter().collect::<Vec<_>>())
            .collect()
    }

    #[test]
    fn a_page_with_a_flipped_bit_is_refused_by_its_checksum() {
        let rows = 500;
        let degc: Vec<f32> = (0..rows).map(|i| (i * 7919 % 1009) as f32 / 7.0).collect();
        let times: Vec<i64> = (0..rows as i64).map(|i| i * 300_000).collect();
        let columns = vec![
            Values::Words(Runs::one(Some("Alder Row"), rows)),
            Values::Words(Runs::one(Some("1A"), rows)),
            Values::Words(Runs::one(Some("bath"), rows)),
            Values::Times(&times),
            Values::Singles(&degc),
            Values::Numbers(Runs::one(Some(0.5), rows)),
            Values::Singles(&degc),
            Values::Flags(Runs::one(Some(1), rows)),
            Values::Numbers(Runs::one(Some(0.5), rows)),
        ];
        let mut file = GroupFile::start(&ALIGNED, Vec::new()).unwrap();
        file.add(Group::encode(&ALIGNED, &[rows], columns).unwrap()).unwrap();
        let whole = file.finish().unwrap();
        let open = |bytes: Vec<u8>| ParquetRecordBatchReaderBuilder::try_new(Bytes::from(bytes)).unwrap();
        let (start, length) = open(whole.clone()).metadata().row_group(0).column(4).byte_range();
        // The end of the column: its last page.
        for at in start + length - 200..start + length {
            let mut flipped = whole.clone();
            flipped[at as usize] ^= 1;
            let refused = |batch: std::result::Result<_, arrow::error::ArrowError>| {
                batch.is_err_and(|e| e.to_string().contains("checksum"))
            };
            assert!(open(flipped).build().unwrap().any(refused), "byte {at}");
        }
        assert!(open(whole).build().unwrap().all(|batch| batch.is_ok()));
    }

    #[test]
    fn times_and_lines_come_back_whatever_their_steps() {
        for rows in [1, 2, 33, 257, 300_000] {
            let wild = |i: usize| (i as i64).wrapping_mul(0x9e37_79b9_7f4a_7c15_u64.cast_signed());
            let time = |i: usize| match i / 1000 % 5 {
                0 => i as i64 * 300_000,
                1 => i as i64 * 300_000 + wild(i) % 20_000,
                2 => i as i64 * 60_000 + wild(i) % 100,
                3 => wild(i) % 10_000_000_000,
                _ => wild(i),
            };
            let times: Vec<i64> = (0..rows).map(time).collect();
            let back = read_back::<TimestampMillisecondType>(4, rows, Values::Times(&times));
            assert!(back.into_iter().eq(times.iter().copied().map(Some)));
            let line = |i: usize| if (i / 1000).is_multiple_of(2) { i as u32 + 2 } else { wild(i) as u32 };
            let lines: Vec<u32> = (0..rows).map(line).collect();
            let back = read_back::<UInt32Type>(8, rows, Values::Lines(&lines));
            assert!(back.into_iter().eq(lines.iter().copied().map(Some)));
        }
    }

    #[test]
    fn real_numbers_come_back_to_the_bit_and_missing_ones_as_null() {
        for (rows, different, gaps) in [
            (1, 9, 0),
            (2, 1, 1),
            (300_000, 2000, 0),
            (300_000, 2000, 7),
            (300_000, 900_000, 0),
            (70_000, 90_000, 3),
        ] {
            let value = |i: usize| match i {
                i if gaps > 0 && (i % 1000 == gaps || i / 5000 % 2 == 1 && i % 2 == 0) => f32::NAN,
                i => (i * 31 % different) as f32 / 100.0 - 5.0,
            };
            let values: Vec<f32> = (0..rows).map(value).collect();
            let back = read_back::<Float32Type>(5, rows, Values::Singles(&values));
            assert_eq!(back.len(), rows);
            let expected = values.iter().map(|x| Some(x.to_bits()).filter(|_| !x.is_nan()));
            assert!(back.into_iter().map(|x| x.map(f32::to_bits)).eq(expected), "{rows} {different}");
        }
    }
}
