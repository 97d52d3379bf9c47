//! The weather table of an earlier audit, read back.

use arrow::array::{Array, AsArray};
use arrow::datatypes::{Float32Type, TimestampMillisecondType, UInt8Type};
use arrow::record_batch::{RecordBatch, RecordBatchReader};
use parquet::arrow::arrow_reader::{
    ArrowReaderMetadata, ArrowReaderOptions, ParquetRecordBatchReaderBuilder,
};
use parquet::file::reader::ChunkReader;

use super::WEATHER;
use super::aligned::{columns_of, guarded, word};
use super::possible::{GridRow, Possible};
use super::stream::fit;
use crate::error::Trouble;
use crate::site::Site;

/// The weather series on the grid.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WeatherRows {
    /// Grid instants that have a value, rising, in milliseconds.
    pub times_ms: Vec<i64>,
    /// Their values, in °C, in single precision.
    pub degc: Vec<f64>,
}

/// The rows of a weather table; none where the audit that wrote it had no weather.
///
/// # Errors
/// [`Trouble`] where it is no weather table of this version, where rows are damaged, or say what no audit of this site can
/// have found.
pub fn read_weather(file: impl ChunkReader + 'static, site: &Site) -> Result<WeatherRows, Trouble> {
    let metadata = guarded(|| ArrowReaderMetadata::load(&file, ArrowReaderOptions::new()))?;
    columns_of(&WEATHER, metadata.schema())?;
    let builder = ParquetRecordBatchReaderBuilder::new_with_metadata(file, metadata);
    let mut reader = guarded(|| builder.build())?;
    let (possible, mut rows) = (Possible::of(site, ""), WeatherRows::default());
    while let Some(batch) = guarded(|| reader.next().transpose())? {
        take(&batch, &possible, &mut rows)?;
    }
    possible.check_span("", std::iter::once(&rows.times_ms[..]))?;
    Ok(rows)
}

/// The same of a weather table in memory: columns are taken by name, and their types where nothing is lost.
///
/// # Errors
/// [`Trouble`] where it lacks a column of the weather table, where rows are damaged, or say what no audit of this site can have
/// found.
pub fn weather_of(mut reader: impl RecordBatchReader, site: &Site) -> Result<WeatherRows, Trouble> {
    let (possible, mut rows) = (Possible::of(site, ""), WeatherRows::default());
    while let Some(batch) = guarded(|| reader.next().transpose())? {
        take(&fit(&WEATHER, &batch)?, &possible, &mut rows)?;
    }
    possible.check_span("", std::iter::once(&rows.times_ms[..]))?;
    Ok(rows)
}

fn take(batch: &RecordBatch, possible: &Possible, rows: &mut WeatherRows) -> Result<(), Trouble> {
    let sites = batch.column(0).as_string::<i32>();
    let times = batch.column(1).as_primitive::<TimestampMillisecondType>();
    let (degc, humidity) =
        (batch.column(2).as_primitive::<Float32Type>(), batch.column(3).as_primitive::<Float32Type>());
    let flags = batch.column(4).as_primitive::<UInt8Type>();
    for i in 0..batch.num_rows() {
        let row = GridRow {
            number: rows.times_ms.len() as u64 + 1,
            site: word(sites, i),
            home: "",
            room: "",
            time_ms: times.is_valid(i).then(|| times.value(i)),
            degc: degc.is_valid(i).then(|| f64::from(degc.value(i))),
            // Nobody tells how accurate a weather series is.
            accuracy_k: [Some(0.0); 2],
            humidity: humidity.is_valid(i).then(|| f64::from(humidity.value(i))),
            flag: flags.is_valid(i).then(|| flags.value(i)),
        };
        let values = possible.values(&row)?;
        if rows.times_ms.last().is_some_and(|before| *before >= values.time_ms) {
            return Err(row.wrong("a time that is not after the one before", "times that rise"));
        }
        rows.times_ms.push(values.time_ms);
        rows.degc.push(values.degc);
    }
    Ok(())
}
