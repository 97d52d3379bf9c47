//! Every table, declared once: its Arrow schema, its CSV header, its entry in the Data Package and its
//! documentation all come from here.
//!
//! Settled here, and why:
//! - **Tables are for other people's tools**: plain strings in the Arrow schema (pages have them by dictionary all the
//!   same: a reader that is told of a dictionary type neither skips row groups by it nor is quick), one home in a row
//!   group, pages that end where a room ends, an index of pages, and only such an order declared as every row keeps
//!   (`Table::sorted_by`). No zero has a sign. A count of what could not be seen is missing: hours below the heat rule
//!   where no value was held against it, matched days where nothing could be matched. `coverage` of such a time is 0, and
//!   `days_before` of a period without a whole day too: those are true. In the Data Package a Parquet table is a file
//!   (size and SHA-256 are checked, programs that read CSV only pass over its rows), with the schema that other readers
//!   can hold it against.

mod aligned;
mod batch;
mod cases;
mod chunk;
mod decimals;
mod declared;
pub mod encode;
mod encodings;
mod group;
mod keys;
mod of_site;
mod package;
mod page;
mod page_index;
mod possible;
mod read_back;
mod reading_tables;
mod real;
mod rooms;
mod rows;
mod runs;
mod sensitivity;
mod small;
mod stream;
mod summary;
mod weather;

pub use aligned::{AlignedIndex, RoomRows};
pub use cases::{ACCEPTANCE, CASES, case_cells, criterion_cells};
pub use declared::{
    ALIGNED, COMPARISON, EVENTS, FINDINGS, LOGGERS, METRICS, NOT_JUDGED, READINGS, SET_ASIDE, WEATHER,
};
pub use group::{Group, GroupFile};
pub use of_site::{in_folder_of_site, without_site};
pub use package::{OfSite, Page, SCHEMA_VERSION, Written, data_package, portfolio_package};
pub use read_back::{Row, has_columns, read_csv, read_parquet};
pub use reading_tables::{ReadingsRows, aligned_batch, aligned_group, weather_batch, weather_group};
pub use rooms::{ROOMS, room_cells};
pub use rows::{
    comparison_cells, event_cells, finding_cells, logger_cells, metric_cells, not_judged_cells,
    set_aside_cells,
};
pub use sensitivity::{SENSITIVITY, Varied, sensitivity_cells};
pub use small::ParquetFile;
pub use stream::{AlignedStream, StreamOut};
pub use summary::{SUMMARY, summary_cells};
pub use weather::{WeatherRows, read_weather, weather_of};

use std::borrow::Cow;

use arrow::datatypes::{DataType, Field, Schema, TimeUnit};

use crate::clock::UtcTime;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// Text of which few different ones occur: a category for whoever makes data frames.
    Word,
    /// A number.
    Number,
    /// A number in single precision.
    Single,
    /// A whole number from 0.
    Count,
    /// A line of a file.
    Line,
    /// A quality flag.
    Flag,
    /// An instant: milliseconds, UTC.
    Time,
    /// Yes or no.
    YesNo,
}

/// A column.
#[derive(Debug)]
pub struct Column {
    /// Its name.
    pub name: &'static str,
    /// What it holds.
    pub kind: Kind,
    /// Its unit, where it is the same in all rows.
    pub unit: Option<&'static str>,
    /// Whether a row may be without it.
    pub optional: bool,
    /// What it means.
    pub about: &'static str,
}

/// A table.
#[derive(Debug)]
pub struct Table {
    /// Its name, which is also its file name without the ending.
    pub name: &'static str,
    /// What a row is.
    pub about: &'static str,
    /// Columns, in order.
    pub columns: &'static [Column],
    /// Endings of the files it is written to.
    pub formats: &'static [Format],
    /// Columns by which the rows of each row group rise; none where rows have an order that no column tells.
    pub sorted_by: &'static [&'static str],
}

/// A file format of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Apache Parquet.
    Parquet,
    /// Comma-separated values, UTF-8, with a header.
    Csv,
    /// A list of objects.
    Json,
}

impl Format {
    /// The file ending.
    pub const fn ending(self) -> &'static str {
        match self {
            Format::Parquet => "parquet",
            Format::Csv => "csv",
            Format::Json => "json",
        }
    }
}

/// A value of a row.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell<'a> {
    /// Text.
    Text(Cow<'a, str>),
    /// A number.
    Number(f64),
    /// A whole number.
    Count(u64),
    /// An instant.
    Time(UtcTime),
    /// Yes or no.
    YesNo(bool),
    /// Missing: empty or null, never 0 or NaN.
    Empty,
}

/// Every table of an audit.
pub static TABLES: [&Table; 12] = [
    &CASES,
    &ACCEPTANCE,
    &READINGS,
    &SET_ASIDE,
    &ALIGNED,
    &WEATHER,
    &METRICS,
    &EVENTS,
    &FINDINGS,
    &NOT_JUDGED,
    &LOGGERS,
    &ROOMS,
];

/// A number as tables hold it: a zero has no sign, which nothing measured and readers show as -0.
fn unsigned_zero(x: f64) -> f64 {
    x + 0.0
}

impl Table {
    /// Its files.
    pub fn files(&self) -> impl Iterator<Item = (Format, String)> {
        self.formats.iter().map(|f| (*f, format!("{}.{}", self.name, f.ending())))
    }

    /// Its Arrow schema; each column tells its `description`, and its `unit` where it has one in all rows.
    pub fn schema(&self) -> Schema {
        Schema::new(self.columns.iter().map(Column::field).collect::<Vec<_>>())
    }
}

impl Column {
    fn field(&self) -> Field {
        let unit = self.unit.map(|unit| ("unit".to_owned(), unit.to_owned()));
        let about = ("description".to_owned(), self.about.to_owned());
        let told = unit.into_iter().chain([about]).collect();
        Field::new(self.name, self.kind.arrow(), self.optional).with_metadata(told)
    }
}

impl Kind {
    /// Texts are plain strings also where pages hold them by dictionary: readers take those as they come.
    fn arrow(self) -> DataType {
        match self {
            Kind::Text | Kind::Word => DataType::Utf8,
            Kind::Number => DataType::Float64,
            Kind::Single => DataType::Float32,
            Kind::Count => DataType::UInt64,
            Kind::Line => DataType::UInt32,
            Kind::Flag => DataType::UInt8,
            Kind::Time => DataType::Timestamp(TimeUnit::Millisecond, Some("UTC".into())),
            Kind::YesNo => DataType::Boolean,
        }
    }
}
