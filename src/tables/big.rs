//! The two tables with a row per reading or grid value, made column by column.

use std::sync::Arc;

use arrow::array::{
    ArrayRef, DictionaryArray, Float32Array, Float64Array, Int32Array, StringArray,
    TimestampMillisecondArray, UInt8Array, UInt32Array,
};
use arrow::datatypes::Int32Type;
use arrow::record_batch::RecordBatch;

use super::{ALIGNED, READINGS, Table};
use crate::error::{Error, Result};
use crate::grid::AlignedHome;
use crate::quality::{Flag, Flagged, humidity_flag};
use crate::site::Home;

/// The same word in every row; null where there is none.
fn one_word(word: &str, rows: usize) -> ArrayRef {
    if word.is_empty() {
        let none: Int32Array = vec![None::<i32>; rows].into();
        let values: ArrayRef = Arc::new(StringArray::from(Vec::<String>::new()));
        return Arc::new(DictionaryArray::<Int32Type>::new(none, values));
    }
    words(vec![0; rows], vec![word.to_owned()])
}

fn words(keys: Vec<i32>, values: Vec<String>) -> ArrayRef {
    let values: ArrayRef = Arc::new(StringArray::from(values));
    Arc::new(DictionaryArray::<Int32Type>::new(Int32Array::from(keys), values))
}

fn times(ms: Vec<i64>) -> ArrayRef {
    Arc::new(TimestampMillisecondArray::from(ms).with_timezone("UTC"))
}

fn finish(table: &'static Table, columns: Vec<ArrayRef>) -> Result<RecordBatch> {
    RecordBatch::try_new(Arc::new(table.schema()), columns)
        .map_err(|e| Error::Encode { table: table.name, source: Box::new(e) })
}

/// Rows of the readings table for one placement.
///
/// # Errors
/// [`Error::Encode`].
pub fn readings_batch(home: &str, room: &str, logger: &str, flagged: &Flagged) -> Result<RecordBatch> {
    let readings = flagged.readings();
    let n = readings.len();
    let mut codes: Vec<u32> = Vec::new();
    let key = |i: usize| {
        let code = flagged.answers_code(i);
        let at = codes.iter().position(|c| *c == code).unwrap_or_else(|| {
            codes.push(code);
            codes.len() - 1
        });
        at as i32
    };
    let keys: Vec<i32> = (0..n).map(key).collect();
    let temperature: Float32Array =
        readings.degc().iter().map(|x| (!x.is_nan()).then_some(*x as f32)).collect();
    let flags: UInt8Array = flagged.flags().iter().copied().map(Flag::number).collect::<Vec<_>>().into();
    let percent = |i: usize| readings.humidity_percent().map(|h| h[i]);
    let humidity: Float32Array =
        (0..n).map(|i| percent(i).filter(|x| !x.is_nan()).map(|x| x as f32)).collect();
    let humidity_flags: UInt8Array = (0..n).map(|i| percent(i).map(|x| humidity_flag(x).number())).collect();
    finish(
        &READINGS,
        vec![
            one_word(home, n),
            one_word(room, n),
            one_word(logger, n),
            times(readings.times_ms().to_vec()),
            Arc::new(temperature),
            Arc::new(flags),
            words(keys, codes.into_iter().map(Flagged::answers_words).collect()),
            Arc::new(UInt32Array::from(readings.lines().to_vec())),
            Arc::new(humidity),
            Arc::new(humidity_flags),
        ],
    )
}

/// Rows of the aligned table for one home: a batch per room, rooms sorted by name.
///
/// # Errors
/// [`Error::Encode`].
pub fn aligned_batches(home: &Home, aligned: &AlignedHome) -> Result<Vec<RecordBatch>> {
    let mut rooms: Vec<usize> = (0..home.rooms.len()).collect();
    rooms.sort_by_key(|r| &home.rooms[*r].name);
    let batch = |room: usize| aligned_batch(&home.name, &home.rooms[room].name, aligned, room);
    rooms.into_iter().map(batch).collect()
}

/// Rows of the aligned table for the weather series, the only room of `weather`.
///
/// # Errors
/// [`Error::Encode`].
pub fn outdoor_batch(weather: &AlignedHome) -> Result<RecordBatch> {
    aligned_batch("", "", weather, 0)
}

fn aligned_batch(home: &str, name: &str, aligned: &AlignedHome, room: usize) -> Result<RecordBatch> {
    let room = &aligned.rooms()[room];
    let degc = room.degc();
    let present: Vec<usize> = (0..degc.len()).filter(|i| !degc[*i].is_nan()).collect();
    let temperature: Float64Array = present.iter().map(|i| degc[*i]).collect::<Vec<_>>().into();
    let percent = |i: &usize| room.humidity_percent().map(|h| h[*i]).filter(|x| !x.is_nan());
    let humidity: Float64Array = present.iter().map(percent).collect();
    let accuracy: Float64Array = vec![room.accuracy().k(); present.len()].into();
    let columns = vec![
        one_word(home, present.len()),
        one_word(name, present.len()),
        times(present.iter().map(|i| aligned.time(*i).ms()).collect()),
        Arc::new(temperature) as ArrayRef,
        Arc::new(accuracy),
        Arc::new(humidity),
    ];
    finish(&ALIGNED, columns)
}
