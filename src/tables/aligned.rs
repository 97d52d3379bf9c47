//! The aligned table of an earlier audit, read back home by home.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use arrow::array::{Array, AsArray, StringArray};
use arrow::datatypes::{
    DataType, FieldRef, Float32Type, Float64Type, Schema, TimestampMillisecondType, UInt8Type,
};
use arrow::record_batch::RecordBatch;
use parquet::arrow::arrow_reader::{
    ArrowReaderMetadata, ArrowReaderOptions, ParquetRecordBatchReaderBuilder,
};
use parquet::file::reader::ChunkReader;
use parquet::file::statistics::Statistics;

use super::possible::{GridRow, Possible, REMEDY};
use super::{ALIGNED, Table};
use crate::error::Trouble;
use crate::guard::{self, GaveUp};
use crate::quality::Flag;
use crate::site::Site;
use crate::units::Accuracy;

/// Which row groups of an aligned table hold which home.
#[derive(Debug)]
pub struct AlignedIndex {
    metadata: ArrowReaderMetadata,
    sites: BTreeSet<String>,
    groups: BTreeMap<String, Vec<usize>>,
    /// Rows of each row group, from 1.
    rows: Vec<Range<u64>>,
}

/// Rows of one room.
#[derive(Clone, Debug, PartialEq)]
pub struct RoomRows {
    /// The room.
    pub room: String,
    /// Grid instants that have a value, rising, in milliseconds.
    pub times_ms: Vec<i64>,
    /// Their values, in °C, in single precision.
    pub degc: Vec<f64>,
    /// Relative humidity at the same instants in % and single precision, NaN where missing; `None` where the room has none.
    pub humidity: Option<Vec<f64>>,
    /// Accuracy of the room's loggers.
    pub accuracy: Accuracy,
    /// First and last instant of each run of values that rest on suspect readings, in milliseconds.
    pub suspect_ms: Vec<(i64, i64)>,
}

/// What to do with the table of a version that wrote neither the site nor a table of the weather.
const OLDER: &str = "audit the exports again with this version and start from its tables, or start from this one with the version that wrote it";

const CONTRADICTS: &str = "its structure contradicts itself";

pub(super) fn unreadable(error: impl std::fmt::Display) -> Trouble {
    Trouble::new(format!("the table cannot be read ({error})"), REMEDY)
}

/// What the library for the format answers, which a damaged table may take by surprise.
pub(super) fn guarded<T, E: std::fmt::Display>(read: impl FnOnce() -> Result<T, E>) -> Result<T, Trouble> {
    guard::guarded(read).map_err(|GaveUp| unreadable(CONTRADICTS))?.map_err(unreadable)
}

impl AlignedIndex {
    /// Looks at the footer of a file.
    ///
    /// # Errors
    /// [`Trouble`] where it is no aligned table of this version.
    pub fn load(file: &impl ChunkReader) -> Result<Self, Trouble> {
        let metadata = guarded(|| ArrowReaderMetadata::load(file, ArrowReaderOptions::new()))?;
        columns_of(&ALIGNED, metadata.schema())?;
        let mut groups: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        let mut sites = BTreeSet::new();
        for (number, group) in metadata.metadata().row_groups().iter().enumerate() {
            sites.insert(only_word(group.column(0).statistics(), "site")?);
            groups.entry(only_word(group.column(1).statistics(), "home")?).or_default().push(number);
        }
        let mut next = 1_u64;
        let rows = metadata.metadata().row_groups().iter().map(|group| {
            let first = next;
            next = next.saturating_add(u64::try_from(group.num_rows()).unwrap_or(0));
            first..next
        });
        let rows = rows.collect();
        Ok(Self { metadata, sites, groups, rows })
    }

    /// The sites in it.
    pub fn sites(&self) -> impl Iterator<Item = &str> {
        self.sites.iter().map(String::as_str)
    }

    /// The homes in it.
    pub fn homes(&self) -> impl Iterator<Item = &str> {
        self.groups.keys().map(String::as_str)
    }

    /// The rooms of a home, in the order of the file; none where the file has no row of it.
    ///
    /// # Errors
    /// [`Trouble`] where the rows are damaged, or say what no audit of this site can have found.
    pub fn rooms(
        &self,
        file: impl ChunkReader + 'static,
        home: &str,
        site: &Site,
    ) -> Result<Vec<RoomRows>, Trouble> {
        let Some(groups) = self.groups.get(home) else { return Ok(Vec::new()) };
        let builder = ParquetRecordBatchReaderBuilder::new_with_metadata(file, self.metadata.clone())
            .with_row_groups(groups.clone());
        let mut reader = guarded(|| builder.build())?;
        let mut taken = Taken::of(site, home);
        let mut numbers = groups.iter().flat_map(|group| self.rows[*group].clone());
        while let Some(batch) = guarded(|| reader.next().transpose())? {
            taken.add(&batch, &mut numbers)?;
        }
        taken.finish()
    }
}

/// The columns must be those of this version's table.
pub(super) fn columns_of(table: &Table, found: &Schema) -> Result<(), Trouble> {
    let designed = table.schema();
    let same =
        found.fields().len() == designed.fields().len()
            && found.fields().iter().zip(designed.fields()).all(|(found, wanted)| {
                found.name() == wanted.name() && found.data_type() == wanted.data_type()
            });
    if same {
        return Ok(());
    }
    let columns = |schema: &Schema| {
        let column = |f: &FieldRef| match f.data_type() {
            DataType::Float64 => format!("{} in double precision", f.name()),
            DataType::Dictionary(..) => format!("{} by dictionary", f.name()),
            _ => f.name().clone(),
        };
        schema.fields().iter().map(column).collect::<Vec<_>>().join(", ")
    };
    let (found_columns, wanted) = (columns(found), columns(&designed));
    let later = designed.fields().iter().skip(1);
    let older = found.fields().len() + 1 == designed.fields().len()
        && found.fields().iter().zip(later).all(|(found, wanted)| found.name() == wanted.name());
    let hint = if older { OLDER } else { REMEDY };
    Err(Trouble::new(format!("found the columns {found_columns}, expected {wanted}"), hint))
}

/// A word; empty where there is none.
pub(super) fn word(words: &StringArray, at: usize) -> &str {
    if words.is_valid(at) { words.value(at) } else { "" }
}

/// The only word of a column in a row group.
fn only_word(statistics: Option<&Statistics>, of: &str) -> Result<String, Trouble> {
    let Some(Statistics::ByteArray(s)) = statistics else {
        return Err(Trouble::new(format!("found a row group that does not say its {of}"), REMEDY));
    };
    match (s.min_opt(), s.max_opt()) {
        (Some(min), Some(max)) if min == max => Ok(min.as_utf8().map_err(unreadable)?.to_owned()),
        (None, None) => Err(Trouble::new(format!("found a row group without a {of}"), REMEDY)),
        _ => Err(Trouble::new(format!("found {of}s mixed in one row group"), REMEDY)),
    }
}

/// Rows of a home, as far as they were taken.
pub(super) struct Taken<'a> {
    home: &'a str,
    possible: Possible,
    rooms: Vec<RoomRows>,
}

impl<'a> Taken<'a> {
    /// None so far.
    pub(super) fn of(site: &Site, home: &'a str) -> Self {
        Self { home, possible: Possible::of(site, home), rooms: Vec::new() }
    }

    /// The rooms, when all rows are there.
    pub(super) fn finish(self) -> Result<Vec<RoomRows>, Trouble> {
        self.possible.check_span(self.home, self.rooms.iter().map(|r| &r.times_ms[..]))?;
        Ok(self.rooms)
    }

    /// Adds rows in the columns of the aligned table; `numbers`: how messages count them.
    pub(super) fn add(
        &mut self,
        batch: &RecordBatch,
        numbers: &mut impl Iterator<Item = u64>,
    ) -> Result<(), Trouble> {
        let words = |column: usize| batch.column(column).as_string::<i32>();
        let (sites, homes, names) = (words(0), words(1), words(2));
        let times = batch.column(3).as_primitive::<TimestampMillisecondType>();
        let (degc, humidity) =
            (batch.column(4).as_primitive::<Float32Type>(), batch.column(6).as_primitive::<Float32Type>());
        let accuracies = [5, 8].map(|column| batch.column(column).as_primitive::<Float64Type>());
        let flags = batch.column(7).as_primitive::<UInt8Type>();
        for i in 0..batch.num_rows() {
            let row = GridRow {
                number: numbers.next().unwrap_or(0),
                site: word(sites, i),
                home: word(homes, i),
                room: word(names, i),
                time_ms: times.is_valid(i).then(|| times.value(i)),
                degc: degc.is_valid(i).then(|| f64::from(degc.value(i))),
                accuracy_k: accuracies.map(|k| k.is_valid(i).then(|| k.value(i))),
                humidity: humidity.is_valid(i).then(|| f64::from(humidity.value(i))),
                flag: flags.is_valid(i).then(|| flags.value(i)),
            };
            self.take(&row)?;
        }
        Ok(())
    }

    fn take(&mut self, row: &GridRow<'_>) -> Result<(), Trouble> {
        let values = self.possible.values(row)?;
        if row.home != self.home {
            return Err(row.wrong("another home than its row group says", "one home in a row group"));
        }
        if self.rooms.last().is_none_or(|r| r.room != row.room) {
            if self.rooms.iter().any(|r| r.room == row.room) {
                return Err(row.wrong("a room whose rows ended before", "the rows of a room together"));
            }
            self.rooms.push(RoomRows {
                room: row.room.to_owned(),
                times_ms: Vec::new(),
                degc: Vec::new(),
                humidity: None,
                accuracy: values.accuracy,
                suspect_ms: Vec::new(),
            });
        }
        let Some(room) = self.rooms.last_mut() else { return Ok(()) };
        let before = room.times_ms.last().copied();
        if before.is_some_and(|before| before >= values.time_ms) {
            return Err(row.wrong("a time that is not after the one before", "times that rise in each room"));
        }
        if room.accuracy != values.accuracy {
            return Err(row.wrong("another accuracy than in the row before", "one accuracy for a room"));
        }
        if values.flag == Flag::Suspect.number() {
            match room.suspect_ms.last_mut() {
                Some(run) if Some(run.1) == before => run.1 = values.time_ms,
                _ => room.suspect_ms.push((values.time_ms, values.time_ms)),
            }
        }
        let earlier = room.degc.len();
        room.times_ms.push(values.time_ms);
        room.degc.push(values.degc);
        match (row.humidity, &mut room.humidity) {
            (Some(percent), known) => known.get_or_insert_with(|| vec![f64::NAN; earlier]).push(percent),
            (None, Some(known)) => known.push(f64::NAN),
            (None, None) => {}
        }
        Ok(())
    }
}
