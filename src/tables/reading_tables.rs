//! The two tables with a row per reading or grid value, made column by column, a row group per home.

use std::ops::Range;

use arrow::record_batch::RecordBatch;

use super::group::{Group, Values};
use super::runs::Runs;
use super::{ALIGNED, READINGS, WEATHER, unsigned_zero};
use crate::error::Result;
use crate::grid::{AlignedHome, present};
use crate::quality::{Flag, Flagged, humidity_flag};
use crate::site::Home;

/// Rows of the readings table in the making, placement after placement.
#[derive(Debug, Default)]
pub struct ReadingsRows {
    rooms: Runs<String>,
    /// Rows of each placement.
    placements: Vec<usize>,
    loggers: Runs<String>,
    times_ms: Vec<i64>,
    degc: Vec<f32>,
    flags: Runs<u8>,
    answers: Runs<u32>,
    lines: Vec<u32>,
    files: Runs<String>,
    /// NaN where a reading has none; empty where none has any.
    humidity: Vec<f32>,
    humidity_flags: Runs<u8>,
}

impl ReadingsRows {
    /// None yet, with room for so many.
    pub fn with_room_for(rows: usize) -> Self {
        let (times_ms, degc, lines) =
            (Vec::with_capacity(rows), Vec::with_capacity(rows), Vec::with_capacity(rows));
        Self { times_ms, degc, lines, ..Self::default() }
    }

    /// Adds the readings of one placement; `files`: what its downloads are called, in the order of their numbers.
    pub fn add(&mut self, (room, logger): (&str, &str), files: &[&str], flagged: &Flagged) {
        let readings = flagged.readings();
        let n = readings.len();
        self.rooms.push(Some(room.to_owned()), n);
        self.placements.push(n);
        self.loggers.push(Some(logger.to_owned()), n);
        self.times_ms.extend_from_slice(readings.times_ms());
        self.degc.extend(readings.degc().iter().map(|x| single(*x)));
        self.lines.extend_from_slice(readings.lines());
        for (download, readings) in readings.by_download() {
            self.files.push(files.get(*download as usize).map(|file| (*file).to_owned()), *readings);
        }
        for alike in flagged.alike() {
            self.flags.push(Some(alike.flag.number()), alike.readings);
            self.answers.push(Some(alike.answers), alike.readings);
        }
        match readings.humidity_percent() {
            Some(percent) => {
                self.humidity.resize(self.times_ms.len() - n, f32::NAN);
                self.humidity.extend(percent.iter().map(|x| single(*x)));
                for same in percent.chunk_by(|a, b| humidity_flag(*a) == humidity_flag(*b)) {
                    self.humidity_flags.push(Some(humidity_flag(same[0]).number()), same.len());
                }
            }
            None => {
                if !self.humidity.is_empty() {
                    self.humidity.resize(self.times_ms.len(), f32::NAN);
                }
                self.humidity_flags.push(None, n);
            }
        }
    }

    /// The rows of one home of a site as a row group.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn encode(&self, site: &str, home: &str) -> Result<Group> {
        self.with_columns(site, home, |columns| Group::encode(&READINGS, &self.placements, columns))
    }

    /// The same rows in memory.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn batch(&self, site: &str, home: &str) -> Result<RecordBatch> {
        self.with_columns(site, home, |columns| READINGS.batch_of_columns(columns))
    }

    fn with_columns<R>(&self, site: &str, home: &str, then: impl FnOnce(Vec<Values<'_>>) -> R) -> R {
        let rows = self.times_ms.len();
        let words = self.answers.map(|code| Flagged::answers_words(*code));
        then(vec![
            Values::Words(Runs::one(Some(site), rows)),
            Values::Words(Runs::one(Some(home), rows)),
            Values::Words(self.rooms.map(String::as_str)),
            Values::Words(self.loggers.map(String::as_str)),
            Values::Times(&self.times_ms),
            Values::Singles(&self.degc),
            Values::Flags(self.flags.clone()),
            Values::Words(words.map(String::as_str)),
            Values::Lines(&self.lines),
            gaps_or((!self.humidity.is_empty()).then_some(&self.humidity), rows),
            Values::Flags(self.humidity_flags.clone()),
            Values::Words(self.files.map(String::as_str)),
        ])
    }
}

/// A number in single precision as tables hold it.
fn single(x: f64) -> f32 {
    unsigned_zero(f64::from(x as f32)) as f32
}

/// Rows of the aligned table for one home of a site, rooms sorted by name, as a row group.
///
/// # Errors
/// [`crate::error::Error::Encode`]: a bug.
pub fn aligned_group(site: &str, home: &Home, aligned: &AlignedHome) -> Result<Group> {
    with_aligned(site, home, aligned, |parts, columns| Group::encode(&ALIGNED, parts, columns))
}

/// The same rows in memory.
///
/// # Errors
/// [`crate::error::Error::Encode`]: a bug.
pub fn aligned_batch(site: &str, home: &Home, aligned: &AlignedHome) -> Result<RecordBatch> {
    with_aligned(site, home, aligned, |_, columns| ALIGNED.batch_of_columns(columns))
}

/// Hands on the rows of each room, and the columns of all.
fn with_aligned<R>(
    site: &str,
    home: &Home,
    aligned: &AlignedHome,
    then: impl FnOnce(&[usize], Vec<Values<'_>>) -> R,
) -> R {
    let mut rooms: Vec<usize> = (0..home.rooms.len()).collect();
    rooms.sort_by_key(|r| &home.rooms[*r].name);
    let (mut names, mut parts) = (Runs::default(), Vec::new());
    let (mut absolute, mut relative) = (Runs::default(), Runs::default());
    let mut rows = GridRows::with_room_for(aligned.len() * rooms.len());
    for room in rooms {
        let before = rows.degc.len();
        rows.add(aligned, room);
        let number = rows.degc.len() - before;
        names.push(Some(home.rooms[room].name.as_str()), number);
        let accuracy = aligned.rooms()[room].accuracy();
        absolute.push(Some(unsigned_zero(accuracy.absolute.k())), number);
        relative.push(Some(unsigned_zero(accuracy.relative.k())), number);
        parts.push(number);
    }
    let number = rows.degc.len();
    let humidity = rows.humidity();
    let columns = vec![
        Values::Words(Runs::one(Some(site), number)),
        Values::Words(Runs::one(Some(&home.name), number)),
        Values::Words(names),
        Values::Times(&rows.times_ms),
        Values::Singles(&rows.degc),
        Values::Numbers(absolute),
        gaps_or(humidity.as_deref(), number),
        Values::Flags(rows.flags),
        Values::Numbers(relative),
    ];
    then(&parts, columns)
}

/// Rows of the weather table of a site; the series is the only room of `weather`.
///
/// # Errors
/// [`crate::error::Error::Encode`]: a bug.
pub fn weather_group(site: &str, weather: &AlignedHome) -> Result<Group> {
    with_weather(site, weather, |number, columns| Group::encode(&WEATHER, &[number], columns))
}

/// The same rows in memory.
///
/// # Errors
/// [`crate::error::Error::Encode`]: a bug.
pub fn weather_batch(site: &str, weather: &AlignedHome) -> Result<RecordBatch> {
    with_weather(site, weather, |_, columns| WEATHER.batch_of_columns(columns))
}

/// Hands on the number of rows, and their columns.
fn with_weather<R>(site: &str, weather: &AlignedHome, then: impl FnOnce(usize, Vec<Values<'_>>) -> R) -> R {
    let mut rows = GridRows::with_room_for(weather.len());
    rows.add(weather, 0);
    let number = rows.degc.len();
    let humidity = rows.humidity();
    let columns = vec![
        Values::Words(Runs::one(Some(site), number)),
        Values::Times(&rows.times_ms),
        Values::Singles(&rows.degc),
        gaps_or(humidity.as_deref(), number),
        Values::Flags(rows.flags),
    ];
    then(number, columns)
}

/// Values on the grid, room after room.
struct GridRows {
    times_ms: Vec<i64>,
    degc: Vec<f32>,
    /// Shorter than the rows where the later ones have none.
    percent: Option<Vec<f32>>,
    flags: Runs<u8>,
}

impl GridRows {
    fn with_room_for(most: usize) -> Self {
        let (times_ms, degc) = (Vec::with_capacity(most), Vec::with_capacity(most));
        Self { times_ms, degc, percent: None, flags: Runs::default() }
    }

    /// Adds the instants at which a room has a value.
    fn add(&mut self, aligned: &AlignedHome, room: usize) {
        let room = &aligned.rooms()[room];
        let before = self.degc.len();
        let present = present(room.degc());
        for run in present.clone() {
            self.times_ms.extend(run.clone().map(|i| aligned.time(i).ms()));
            for (part, flag) in flagged_parts(room.suspect(), run.clone()) {
                self.flags.push(Some(flag.number()), part.len());
            }
            self.degc.extend(room.degc()[run].iter().map(|x| single(*x)));
        }
        if let Some(percent) = room.humidity_percent() {
            let all = self.percent.get_or_insert_default();
            all.resize(before, f32::NAN);
            present.for_each(|run| all.extend(percent[run].iter().map(|h| single(*h))));
        }
    }

    /// The humidity of every row; `None` where no room has any.
    fn humidity(&mut self) -> Option<Vec<f32>> {
        let mut percent = self.percent.take()?;
        percent.resize(self.degc.len(), f32::NAN);
        Some(percent)
    }
}

/// Values, or so many rows without any.
fn gaps_or(values: Option<&[f32]>, rows: usize) -> Values<'_> {
    values.map_or_else(|| Values::Numbers(Runs::one(None, rows)), Values::Singles)
}

/// The parts of a run of instants that rest on suspect readings, and those that do not, in order.
fn flagged_parts(suspect: &[Range<usize>], run: Range<usize>) -> Vec<(Range<usize>, Flag)> {
    let mut parts = Vec::new();
    let mut from = run.start;
    for range in suspect.iter().filter(|r| r.start < run.end && r.end > run.start) {
        let (start, end) = (range.start.max(from), range.end.min(run.end));
        parts.extend([(from..start, Flag::Good), (start..end, Flag::Suspect)]);
        from = end;
    }
    parts.push((from..run.end, Flag::Good));
    parts.retain(|(part, _)| !part.is_empty());
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn suspect_parts_of_a_run_are_told_from_the_others() {
        let parts = flagged_parts(&[0..3, 5..6, 8..20], 2..10);
        let want = [(2..3, Flag::Suspect), (3..5, Flag::Good), (5..6, Flag::Suspect), (6..8, Flag::Good)];
        assert_eq!(parts[..4], want);
        assert_eq!(parts[4..], [(8..10, Flag::Suspect)]);
        assert_eq!(flagged_parts(&[], 0..4), [(0..4, Flag::Good)]);
    }
}
