//! Tables as Arrow streams, through a pipe or in memory: rows of the aligned table in, home by home, and rows of a table out.
//!
//! Settled here, and why:
//! - **Columns are taken by name, and their types where nothing is lost**: other programs hand a table on with instants in
//!   microseconds or large texts. What would be rounded is refused; instants without a time zone are refused, for nobody knows whose.
//! - **Rows of a home, and of a room in it, come together, and times rise**: no more than a home is held in memory.

use std::collections::BTreeSet;
use std::io::Read;
use std::sync::Arc;

use arrow::array::{Array, ArrayRef, AsArray};
use arrow::compute::{CastOptions, cast_with_options};
use arrow::datatypes::{DataType, Schema};
use arrow::ipc::reader::StreamReader;
use arrow::ipc::writer::StreamWriter;
use arrow::record_batch::{RecordBatch, RecordBatchReader};

use super::aligned::{RoomRows, Taken, guarded, word};
use super::{ALIGNED, Cell, Column, Table, encode};
use crate::error::{Result as OrError, Trouble};
use crate::site::Site;
use crate::texts;

/// What to do where a stream does not fit.
const REMEDY: &str = "give rows of the aligned table of an audit of this site, sorted by home, room and time_utc, as an Arrow stream";

fn of_stream(trouble: Trouble) -> Trouble {
    Trouble { hint: REMEDY.to_owned(), ..trouble }
}

/// Homes of an aligned table, one after another.
pub struct AlignedStream<'s, R: RecordBatchReader> {
    reader: R,
    site: &'s Site,
    /// Rows that belong to the next home.
    next: Option<RecordBatch>,
    rows: u64,
    seen: BTreeSet<String>,
}

impl<'s, I: Read> AlignedStream<'s, StreamReader<I>> {
    /// Looks at the columns of what comes through a pipe.
    ///
    /// # Errors
    /// [`Trouble`] where it is no Arrow stream, or lacks a column of the aligned table.
    pub fn open(input: I, site: &'s Site) -> Result<Self, Trouble> {
        Self::of(guarded(|| StreamReader::try_new(input, None)).map_err(of_stream)?, site)
    }
}

impl<'s, R: RecordBatchReader> AlignedStream<'s, R> {
    /// Looks at the columns of what is in memory.
    ///
    /// # Errors
    /// [`Trouble`] where it lacks a column of the aligned table.
    pub fn of(reader: R, site: &'s Site) -> Result<Self, Trouble> {
        let missing = ALIGNED.columns.iter().find(|c| reader.schema().index_of(c.name).is_err());
        if let Some(column) = missing {
            let what = format!("found no column {}, expected those of the aligned table", column.name);
            return Err(Trouble::new(what, REMEDY));
        }
        Ok(Self { reader, site, next: None, rows: 0, seen: BTreeSet::new() })
    }

    /// The next home with its rooms, in the order of the rows; `None`: there are no more.
    ///
    /// # Errors
    /// [`Trouble`] where rows are damaged, out of order, or say what no audit of this site can have found.
    pub fn next_home(&mut self) -> Result<Option<(String, Vec<RoomRows>)>, Trouble> {
        let Some(first) = self.batch()? else { return Ok(None) };
        let home = word(first.column(1).as_string::<i32>(), 0).to_owned();
        if !self.seen.insert(home.clone()) {
            let what = format!(
                "row {}: found home {} again, expected the rows of a home together",
                self.rows + 1,
                texts::name(&home)
            );
            return Err(Trouble::new(what, REMEDY));
        }
        let mut taken = Taken::of(self.site, &home);
        let mut batch = first;
        loop {
            let homes = batch.column(1).as_string::<i32>();
            let own = (0..batch.num_rows()).take_while(|at| word(homes, *at) == home).count();
            let mut numbers = self.rows + 1..;
            taken.add(&batch.slice(0, own), &mut numbers).map_err(of_stream)?;
            self.rows += own as u64;
            if own < batch.num_rows() {
                self.next = Some(batch.slice(own, batch.num_rows() - own));
                break;
            }
            match self.batch()? {
                Some(more) => batch = more,
                None => break,
            }
        }
        let rooms = taken.finish().map_err(of_stream)?;
        Ok(Some((home, rooms)))
    }

    /// The next rows, in the columns of the aligned table; never none of them.
    fn batch(&mut self) -> Result<Option<RecordBatch>, Trouble> {
        if let Some(rest) = self.next.take() {
            return Ok(Some(rest));
        }
        loop {
            let Some(batch) = guarded(|| self.reader.next().transpose()).map_err(of_stream)? else {
                return Ok(None);
            };
            if batch.num_rows() > 0 {
                return fit(&ALIGNED, &batch).map(Some);
            }
        }
    }
}

/// A batch in the columns and types of a table.
pub(super) fn fit(table: &Table, batch: &RecordBatch) -> Result<RecordBatch, Trouble> {
    let designed = table.schema();
    let column = |column: &Column| {
        let found = batch.column_by_name(column.name);
        let wanted = designed.field_with_name(column.name).map(|f| f.data_type().clone());
        match found.zip(wanted.ok()) {
            Some((found, wanted)) => of_type(column, found, &wanted),
            None => Err(Trouble::new(format!("found no column {}", column.name), REMEDY)),
        }
    };
    let columns: Result<Vec<ArrayRef>, Trouble> = table.columns.iter().map(column).collect();
    // What a column must have is looked at row by row.
    let fields: Vec<_> = designed.fields().iter().map(|f| f.as_ref().clone().with_nullable(true)).collect();
    let (schema, columns) = (Arc::new(Schema::new(fields)), columns?);
    guarded(|| RecordBatch::try_new(schema, columns)).map_err(of_stream)
}

/// What a type holds.
#[derive(PartialEq)]
enum Kind {
    Time,
    Number,
    Text,
}

fn kind_of(of: &DataType) -> Option<Kind> {
    match of {
        DataType::Timestamp(..) => Some(Kind::Time),
        DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View => Some(Kind::Text),
        DataType::Dictionary(_, values) => kind_of(values).filter(|kind| *kind == Kind::Text),
        numeric if numeric.is_numeric() => Some(Kind::Number),
        _ => None,
    }
}

/// A column in another type, to which every value of it must have gone without loss.
fn of_type(column: &Column, found: &ArrayRef, wanted: &DataType) -> Result<ArrayRef, Trouble> {
    let from = found.data_type();
    if from == wanted {
        return Ok(Arc::clone(found));
    }
    let refused = |why: &str| {
        let what = format!("found {} as {from}, expected {wanted}{why}", column.name);
        Trouble::new(what, REMEDY)
    };
    if matches!(from, DataType::Timestamp(_, None)) || kind_of(from) != kind_of(wanted) {
        return Err(refused(if kind_of(wanted) == Some(Kind::Time) { ", with a time zone" } else { "" }));
    }
    let strict = CastOptions { safe: false, ..CastOptions::default() };
    let cast = |array: &ArrayRef, to: &DataType| {
        guarded(|| cast_with_options(array, to, &strict)).map_err(|_| refused(""))
    };
    let there = cast(found, wanted)?;
    if kind_of(from) != Some(Kind::Text) {
        let back = cast(&there, from)?;
        if back.to_data() != found.to_data() {
            return Err(refused(", which cannot hold all of its values"));
        }
    }
    Ok(there)
}

/// Rows of a table on their way out.
pub struct StreamOut {
    table: &'static Table,
    writer: StreamWriter<Vec<u8>>,
}

impl StreamOut {
    /// Starts with the columns of a table.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn start(table: &'static Table) -> OrError<Self> {
        let writer = StreamWriter::try_new(Vec::new(), &table.schema()).map_err(encode::failed(table))?;
        Ok(Self { table, writer })
    }

    /// Adds rows; the answer is what is to be written by now.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn add(&mut self, rows: &[Vec<Cell<'_>>]) -> OrError<Vec<u8>> {
        let batch = self.table.batch(rows)?;
        self.writer.write(&batch).map_err(encode::failed(self.table))?;
        Ok(std::mem::take(self.writer.get_mut()))
    }

    /// What is left to be written: a stream without it was cut off.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn finish(mut self) -> OrError<Vec<u8>> {
        self.writer.finish().map_err(encode::failed(self.table))?;
        Ok(std::mem::take(self.writer.get_mut()))
    }
}
