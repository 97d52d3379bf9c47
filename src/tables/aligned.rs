//! The aligned table of an earlier audit, read back home by home.

use std::collections::BTreeMap;

use arrow::array::{Array, AsArray};
use arrow::compute::cast;
use arrow::datatypes::{
    DataType, FieldRef, Float32Type, Float64Type, Schema, TimestampMillisecondType, UInt8Type,
};
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::{
    ArrowReaderMetadata, ArrowReaderOptions, ParquetRecordBatchReaderBuilder,
};
use parquet::file::reader::ChunkReader;
use parquet::file::statistics::Statistics;

use super::ALIGNED;
use crate::error::Trouble;
use crate::guard::{GaveUp, guarded};
use crate::quality::Flag;

/// Which row groups of an aligned table hold which home.
#[derive(Debug)]
pub struct AlignedIndex {
    metadata: ArrowReaderMetadata,
    groups: BTreeMap<String, Vec<usize>>,
}

/// Rows of one room.
#[derive(Clone, Debug, PartialEq)]
pub struct RoomRows {
    /// The room; empty for the weather series.
    pub room: String,
    /// Grid instants that have a value, rising, in milliseconds.
    pub times_ms: Vec<i64>,
    /// Their values, in °C, in single precision.
    pub degc: Vec<f64>,
    /// Relative humidity at the same instants in % and single precision, NaN where missing; `None` where the room has none.
    pub humidity: Option<Vec<f64>>,
    /// Accuracy of the room's loggers, in K.
    pub accuracy_k: f64,
    /// First and last instant of each run of values that rest on suspect readings, in milliseconds.
    pub suspect_ms: Vec<(i64, i64)>,
}

const REMEDY: &str = "name an aligned.parquet that this version of evenrooms wrote, or its folder";

const CONTRADICTS: &str = "its structure contradicts itself";

fn unreadable(error: impl std::fmt::Display) -> Trouble {
    Trouble::new(format!("the table cannot be read ({error})"), REMEDY)
}

impl AlignedIndex {
    /// Looks at the footer of a file.
    ///
    /// # Errors
    /// [`Trouble`] where it is no aligned table of this version.
    pub fn load(file: &impl ChunkReader) -> Result<Self, Trouble> {
        guarded(|| Self::look(file)).unwrap_or_else(|GaveUp| Err(unreadable(CONTRADICTS)))
    }

    fn look(file: &impl ChunkReader) -> Result<Self, Trouble> {
        let metadata = ArrowReaderMetadata::load(file, ArrowReaderOptions::new()).map_err(unreadable)?;
        let designed = ALIGNED.schema();
        let same = metadata.schema().fields().len() == designed.fields().len()
            && metadata.schema().fields().iter().zip(designed.fields()).all(|(found, wanted)| {
                found.name() == wanted.name() && found.data_type() == wanted.data_type()
            });
        if !same {
            let columns = |schema: &Schema| {
                let column = |f: &FieldRef| match f.data_type() {
                    DataType::Float64 => format!("{} in double precision", f.name()),
                    _ => f.name().clone(),
                };
                schema.fields().iter().map(column).collect::<Vec<_>>().join(", ")
            };
            let (found, wanted) = (columns(metadata.schema()), columns(&designed));
            return Err(Trouble::new(format!("found the columns {found}, expected {wanted}"), REMEDY));
        }
        let mut groups: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (number, group) in metadata.metadata().row_groups().iter().enumerate() {
            let home = match group.column(0).statistics() {
                Some(Statistics::ByteArray(s)) => match (s.min_opt(), s.max_opt()) {
                    (Some(min), Some(max)) if min == max => min.as_utf8().map_err(unreadable)?.to_owned(),
                    (None, None) => String::new(),
                    _ => return Err(Trouble::new("found homes mixed in one row group", REMEDY)),
                },
                _ => return Err(Trouble::new("found a row group that does not say its home", REMEDY)),
            };
            groups.entry(home).or_default().push(number);
        }
        Ok(Self { metadata, groups })
    }

    /// The homes in it; the weather series has an empty name.
    pub fn homes(&self) -> impl Iterator<Item = &str> {
        self.groups.keys().map(String::as_str)
    }

    /// The rooms of a home, in the order of the file; none where the file has no row of it.
    ///
    /// # Errors
    /// [`Trouble`] where the rows are damaged.
    pub fn rooms(&self, file: impl ChunkReader + 'static, home: &str) -> Result<Vec<RoomRows>, Trouble> {
        guarded(|| self.read(file, home)).unwrap_or_else(|GaveUp| Err(unreadable(CONTRADICTS)))
    }

    fn read(&self, file: impl ChunkReader + 'static, home: &str) -> Result<Vec<RoomRows>, Trouble> {
        let Some(groups) = self.groups.get(home) else { return Ok(Vec::new()) };
        let reader = ParquetRecordBatchReaderBuilder::new_with_metadata(file, self.metadata.clone())
            .with_row_groups(groups.clone())
            .build()
            .map_err(unreadable)?;
        let mut rooms: Vec<RoomRows> = Vec::new();
        for batch in reader {
            add(&mut rooms, &batch.map_err(unreadable)?)?;
        }
        let risen = |r: &RoomRows| r.times_ms.windows(2).all(|w| w[0] < w[1]);
        match rooms.iter().find(|r| !risen(r)) {
            None => Ok(rooms),
            Some(r) => {
                Err(Trouble::new(format!("found times of {home} {} that do not rise", r.room), REMEDY))
            }
        }
    }
}

fn add(rooms: &mut Vec<RoomRows>, batch: &RecordBatch) -> Result<(), Trouble> {
    let names = cast(batch.column(1), &DataType::Utf8).map_err(unreadable)?;
    let names = names.as_string::<i32>();
    let times = batch.column(2).as_primitive::<TimestampMillisecondType>();
    let (degc, humidity) =
        (batch.column(3).as_primitive::<Float32Type>(), batch.column(5).as_primitive::<Float32Type>());
    let accuracy = batch.column(4).as_primitive::<Float64Type>();
    let flags = batch.column(6).as_primitive::<UInt8Type>();
    for (i, name) in names.iter().enumerate() {
        let name = name.unwrap_or_default();
        if rooms.last().is_none_or(|r| r.room != name) {
            rooms.push(RoomRows {
                room: name.to_owned(),
                times_ms: Vec::new(),
                degc: Vec::new(),
                humidity: None,
                accuracy_k: accuracy.value(i),
                suspect_ms: Vec::new(),
            });
        }
        if let Some(room) = rooms.last_mut() {
            if flags.value(i) == Flag::Suspect.number() {
                let before = room.times_ms.last().copied();
                match room.suspect_ms.last_mut() {
                    Some(run) if Some(run.1) == before => run.1 = times.value(i),
                    _ => room.suspect_ms.push((times.value(i), times.value(i))),
                }
            }
            room.times_ms.push(times.value(i));
            room.degc.push(f64::from(degc.value(i)));
            let before = room.degc.len() - 1;
            if !humidity.is_null(i) {
                let percent = f64::from(humidity.value(i));
                room.humidity.get_or_insert_with(|| vec![f64::NAN; before]).push(percent);
            } else if let Some(known) = &mut room.humidity {
                known.push(f64::NAN);
            }
        }
    }
    Ok(())
}
