//! Rows of the commonest shape, read from fixed positions.
//!
//! Most files repeat one shape: a date and time of which every digit has its place, and plain numbers. Such a row is read
//! without cutting it into cells. Whatever is not exactly of that shape is left to the general way, row by row, so that
//! both ways give the same readings (a property test reads the same bytes both ways).

use super::dialect::{DateForm, Dialect, TIMES_MS, TimeCells};
use super::numbers;
use super::raw::Series;
use super::sheet::{Delimiter, MAX_LINE, split};
use super::times::DateStyle;
use crate::clock::{HOUR_MS, LocalTime};

/// Rows that may go by before one is of a shape that can be read straight.
const TRIES: u32 = 20;

/// The rows of one file, as far as they are straight.
pub(super) struct StraightRows {
    shape: Option<Straight>,
    tried: u32,
    /// Length of the file's text.
    bytes: usize,
}

impl StraightRows {
    /// For a text of so many bytes.
    pub(super) fn new(bytes: usize) -> Self {
        Self { shape: None, tried: 0, bytes }
    }

    /// Adds a row to its series; `false` where it is not of the shape of the file's rows, and nothing was added.
    pub(super) fn read(&mut self, dialect: &Dialect, line: &str, number: u32, series: &mut [Series]) -> bool {
        if number < dialect.first_data_line {
            return false;
        }
        if self.shape.is_none() && self.tried < TRIES {
            self.tried += 1;
            self.shape = Straight::of(dialect, series, line);
            if self.shape.is_some() {
                // All rows are about as long as this one.
                series.iter_mut().for_each(|s| s.reserve(self.bytes / (line.len() + 1) + 1));
            }
        }
        self.shape.as_mut().is_some_and(|shape| shape.read(line, number, series))
    }
}

/// How rows of one file look, where they are straight.
struct Straight {
    delimiter: u8,
    stencil: Stencil,
    /// What is read, from left to right.
    wanted: Vec<(usize, Part)>,
    values: Vec<f64>,
}

/// What a column is to a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    /// Date and time, and how many columns they take.
    Time(usize),
    /// A number of the row or logger, which must be one: words there mark a summary.
    Numbering,
    /// A number, written with this decimal mark.
    Value(u8),
}

impl Straight {
    /// The shape of the rows of some series, told from a row; `None` where there is no such shape.
    fn of(dialect: &Dialect, series: &[Series], row: &str) -> Option<Self> {
        let Delimiter::Byte(delimiter) = dialect.delimiter else { return None };
        let DateForm::Written(style) = dialect.form else { return None };
        let owned = |s: &Series| s.selection.logger.is_none();
        if !series.iter().all(owned) || dialect.temperature_rows().is_some() {
            return None;
        }
        let (column, takes) = match dialect.time {
            TimeCells::One(at) => (at, 1),
            TimeCells::Apart { date, time, half: None } if time == date + 1 => (date, 2),
            TimeCells::Apart { .. } => return None,
        };
        let mut wanted = vec![(column, Part::Time(takes))];
        wanted.extend(dialect.numbering.iter().map(|at| (*at, Part::Numbering)));
        for at in series.iter().flat_map(|s| std::iter::once(s.selection.column).chain(s.selection.humidity))
        {
            let decimal = dialect.columns.get(at)?.decimal;
            let value = (at, Part::Value(decimal));
            // Between commas only quotes tell 21,4 from 21 and 4.
            if decimal == delimiter {
                return None;
            }
            // A column that two series share, or that holds the time too, is not worth a way of its own.
            if wanted.iter().any(|(known, _)| *known == at) {
                return None;
            }
            wanted.push(value);
        }
        wanted.sort_unstable_by_key(|(at, _)| *at);
        let stencil = Stencil::of(dialect, style, delimiter, row, column, takes)?;
        let values = vec![f64::NAN; wanted.len()];
        Some(Self { delimiter, stencil, wanted, values })
    }

    /// Adds a row to its series; `false` where it is not of the shape, and nothing was added.
    fn read(&mut self, line: &str, number: u32, series: &mut [Series]) -> bool {
        let Some(time_ms) = self.parts(line.as_bytes()) else { return false };
        for series in series {
            let value_of = |column: usize| {
                let at = self.wanted.iter().position(|(known, _)| *known == column);
                at.map_or(f64::NAN, |at| self.values[at])
            };
            series.times_ms.push(time_ms);
            series.lines.push(number);
            series.values.push(value_of(series.selection.column));
            if let Some(column) = series.selection.humidity {
                series.humidity.push(value_of(column));
            }
        }
        true
    }

    /// Reads the values into their places and gives the time.
    fn parts(&mut self, line: &[u8]) -> Option<i64> {
        if line.len() > MAX_LINE {
            return None;
        }
        let (mut at, mut column, mut time_ms) = (0, 0, None);
        for ((wanted, part), value) in self.wanted.iter().zip(&mut self.values) {
            while column < *wanted {
                at = skip_cell(line, at, self.delimiter)?;
                column += 1;
            }
            match part {
                Part::Time(takes) => {
                    time_ms = Some(self.stencil.read(line.get(at..)?)?);
                    at = after_cell(line, at + self.stencil.length, self.delimiter)?;
                    column += takes;
                }
                Part::Numbering => {
                    line.get(at).filter(|b| b.is_ascii_digit())?;
                    at = skip_cell(line, at, self.delimiter)?;
                    column += 1;
                }
                Part::Value(decimal) => {
                    let (number, end) = numbers::plain(line, after_blanks(line, at), *decimal)?;
                    *value = number;
                    at = after_cell(line, end, self.delimiter)?;
                    column += 1;
                }
            }
        }
        time_ms.filter(|ms| TIMES_MS.contains(ms))
    }
}

/// Where the next cell starts; `None` where quotes are about, which the general way knows how to read.
///
/// Behind the last cell a place beyond the line, where no cell can be read.
fn skip_cell(line: &[u8], from: usize, delimiter: u8) -> Option<usize> {
    let rest = line.get(from..)?;
    let end = rest.iter().position(|b| *b == delimiter || *b == b'"').unwrap_or(rest.len());
    (rest.get(end) != Some(&b'"')).then_some(from + end + 1)
}

/// Where the next cell starts, if this one ends here.
fn after_cell(line: &[u8], end: usize, delimiter: u8) -> Option<usize> {
    let end = after_blanks(line, end);
    line.get(end).is_none_or(|b| *b == delimiter).then_some(end + 1)
}

fn after_blanks(line: &[u8], from: usize) -> usize {
    from + line[from.min(line.len())..].iter().take_while(|b| **b == b' ').count()
}

/// A date and time of which every digit has its place.
struct Stencil {
    length: usize,
    /// What stands where, eight places at a time, the last eight overlapping those before.
    eights: Vec<Eight>,
    /// Places of year, month, day, hour, minute, and second where there is one.
    fields: [usize; 5],
    second: Option<usize>,
    /// Milliseconds to be taken off: the offset from UTC that each time states.
    offset_ms: i64,
    /// The date read last, as written, and its first millisecond.
    date: (Vec<u8>, i64),
    /// Where the date stands.
    of_date: std::ops::Range<usize>,
}

impl Stencil {
    fn of(
        dialect: &Dialect,
        style: DateStyle,
        delimiter: u8,
        row: &str,
        column: usize,
        takes: usize,
    ) -> Option<Self> {
        let mut cells = Vec::new();
        split(row, dialect.delimiter, &mut cells);
        let time_ms = dialect.time_ms(&cells)?;
        let text = row.split(char::from(delimiter)).skip(column).take(takes).collect::<Vec<_>>();
        let text = text.join(char::from(delimiter).encode_utf8(&mut [0; 4]));
        let bytes = text.as_bytes();
        let groups: Vec<(usize, usize)> = digit_groups(bytes).collect();
        let lengths: Vec<usize> = groups.iter().map(|(_, length)| *length).collect();
        let at = |i: usize| groups.get(i).map(|(start, _)| *start);
        let year_first = lengths.starts_with(&[4, 2, 2, 2, 2]);
        if !year_first && !lengths.starts_with(&[2, 2, 4, 2, 2]) {
            return None;
        }
        let (year, month, day) = match style {
            _ if year_first => (at(0)?, at(1)?, at(2)?),
            DateStyle::Dmy => (at(2)?, at(1)?, at(0)?),
            DateStyle::Mdy => (at(2)?, at(0)?, at(1)?),
            DateStyle::Ymd => return None,
        };
        let colon = |i: usize| Some(bytes.get(at(i)?.checked_sub(1)?) == Some(&b':'));
        let second = at(5).filter(|_| lengths[5] == 2 && colon(5) == Some(true));
        let end = second.or(at(4))? + 2;
        let (date_end, time_start) = (groups[2].0 + groups[2].1, at(3)?);
        let between = &bytes[date_end..time_start];
        let apart = takes == 2 && between == [delimiter] || takes == 1 && matches!(between, b" " | b"T");
        let offset = &bytes[end..];
        let stated = offset.is_empty() || offset == b"Z" || matches!(offset[0], b'+' | b'-');
        let marks = [groups[0].0 + lengths[0], groups[1].0 + lengths[1]].map(|i| bytes[i]);
        let dated = matches!(marks[0], b'-' | b'/' | b'.') && marks[0] == marks[1] && groups[0].0 == 0;
        if !apart || !stated || !dated || colon(4) != Some(true) {
            return None;
        }
        // Digits behind the time are those of its offset, which must stay the same.
        let place = |(i, b): (usize, &u8)| (i < end && b.is_ascii_digit(), *b);
        let places: Vec<(bool, u8)> = bytes.iter().enumerate().map(place).collect();
        let last = places.len().checked_sub(8)?;
        let eight = |at: usize| Eight::of(at, &places[at..at + 8]);
        let mut stencil = Self {
            length: bytes.len(),
            eights: (0..last).step_by(8).chain([last]).map(eight).collect::<Option<_>>()?,
            fields: [year, month, day, time_start, at(4)?],
            second,
            offset_ms: 0,
            date: (Vec::new(), 0),
            of_date: 0..date_end,
        };
        stencil.offset_ms = stencil.read(bytes)? - time_ms;
        Some(stencil)
    }

    /// The time at the start of a text; `None` where it does not fit the stencil, or there is no such time.
    fn read(&mut self, text: &[u8]) -> Option<i64> {
        let text = text.get(..self.length)?;
        if !self.eights.iter().all(|eight| eight.fits(text)) {
            return None;
        }
        let two = |at: usize| i64::from(text[at] - b'0') * 10 + i64::from(text[at + 1] - b'0');
        let [year, month, day, hour, minute] = self.fields;
        let date = &text[self.of_date.clone()];
        if date != self.date.0 {
            let year = (two(year) * 100 + two(year + 2)) as i32;
            let start = LocalTime::from_fields((year, two(month) as u32, two(day) as u32), (0, 0, 0), 0)?;
            self.date = (date.to_vec(), start.ms());
        }
        let (hour, minute, second) = (two(hour), two(minute), self.second.map_or(0, two));
        let is_time = hour < 24 && minute < 60 && second < 60;
        let of_day = hour * HOUR_MS + minute * 60_000 + second * 1000;
        is_time.then_some(self.date.1 + of_day - self.offset_ms)
    }
}

/// Eight places of a stencil, compared at once.
struct Eight {
    at: usize,
    /// The characters, `0` for a digit.
    characters: u64,
    /// Per byte what, added to the distance from its character, sets the highest bit where it does not fit.
    room: u64,
}

impl Eight {
    /// For eight places: whether any digit may stand there, or the one character that must.
    fn of(at: usize, places: &[(bool, u8)]) -> Option<Self> {
        let number = |byte: fn(&(bool, u8)) -> u8| {
            let bytes: Vec<u8> = places.iter().map(byte).collect();
            bytes.try_into().ok().map(u64::from_le_bytes)
        };
        // A digit may lie 0 to 9 above `0`; any other character must be met.
        Some(Self {
            at,
            characters: number(|(digit, b)| if *digit { b'0' } else { *b })?,
            room: number(|(digit, _)| if *digit { 0x80 - 10 } else { 0x80 - 1 })?,
        })
    }

    fn fits(&self, text: &[u8]) -> bool {
        const HIGHEST: u64 = 0x8080_8080_8080_8080;
        let Some(eight) = text.get(self.at..self.at + 8).and_then(|t| t.try_into().ok()) else {
            return false;
        };
        // Above `0` to `9` no bit differs but the lowest four, so that the difference of a digit is its value.
        let apart = u64::from_le_bytes(eight) ^ self.characters;
        (apart | ((apart & !HIGHEST) + self.room)) & HIGHEST == 0
    }
}

/// Runs of digits: where each starts, and how long it is.
fn digit_groups(bytes: &[u8]) -> impl Iterator<Item = (usize, usize)> {
    let starts = |i: &usize| bytes[*i].is_ascii_digit() && (*i == 0 || !bytes[i - 1].is_ascii_digit());
    let length = |i: usize| bytes[i..].iter().take_while(|b| b.is_ascii_digit()).count();
    (0..bytes.len()).filter(starts).map(move |i| (i, length(i)))
}
