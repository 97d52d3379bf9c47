//! Rows of the commonest shape, read from fixed positions.
//!
//! Most files repeat one shape: a date and time of which every digit has its place, and plain numbers. Such a row is read
//! without cutting it into cells. Whatever is not exactly of that shape is left to the general way, row by row, so that
//! both ways give the same readings (a property test reads the same bytes both ways).

use super::dialect::{DateForm, Dialect, TIMES_MS, TimeCells};
use super::numbers;
use super::raw::Series;
use super::sheet::{Delimiter, Lines, MAX_LINE, split};
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

    /// Adds the rows that come next to their series, up to the first that is not of the shape of the file's rows, before
    /// which `lines` stands then. The answer is how many there were.
    pub(super) fn read(&mut self, dialect: &Dialect, lines: &mut Lines<'_>, series: &mut [Series]) -> u32 {
        if lines.number() + 1 < dialect.first_data_line {
            return 0;
        }
        if self.shape.is_none() && self.tried < TRIES {
            let Some((_, line)) = lines.clone().next() else { return 0 };
            self.tried += 1;
            self.shape = Straight::of(dialect, series, (line, lines.line_end()));
            if self.shape.is_some() {
                // All rows are about as long as this one.
                series.iter_mut().for_each(|s| s.reserve(self.bytes / (line.len() + 1) + 1));
            }
        }
        let Some(shape) = &mut self.shape else { return 0 };
        let (rows, bytes) = shape.read(lines, series);
        lines.skip(rows, bytes);
        rows
    }
}

/// How rows of one file look, where they are straight.
struct Straight {
    ends: Ends,
    stencil: Stencil,
    /// What is read, from left to right.
    wanted: Vec<(usize, Part)>,
    values: Vec<f64>,
    /// For each series the places among `wanted` of its value, and of its humidity.
    places: Vec<(usize, Option<usize>)>,
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
    fn of(dialect: &Dialect, series: &[Series], (row, line_end): (&str, u8)) -> Option<Self> {
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
        let place = |column: usize| wanted.iter().position(|(known, _)| *known == column);
        let places =
            series.iter().map(|s| Some((place(s.selection.column)?, s.selection.humidity.and_then(place))));
        let places = places.collect::<Option<_>>()?;
        let stencil = Stencil::of(dialect, style, delimiter, row, column, takes)?;
        let values = vec![f64::NAN; wanted.len()];
        Some(Self { ends: Ends { delimiter, line: line_end }, stencil, wanted, values, places })
    }

    /// Adds rows to their series, up to the first that is not of the shape; how many there were, and their bytes.
    fn read(&mut self, lines: &Lines<'_>, series: &mut [Series]) -> (u32, usize) {
        let text = lines.rest().as_bytes();
        let (mut rows, mut from) = (0, 0);
        while let Some((time_ms, length)) = self.row(&text[from..]) {
            rows += 1;
            from += length;
            for (series, (value, humidity)) in series.iter_mut().zip(&self.places) {
                series.times_ms.push(time_ms);
                series.lines.push(lines.number() + rows);
                series.values.push(self.values[*value]);
                series.humidity.extend(humidity.map(|at| self.values[at]));
            }
        }
        (rows, from)
    }

    /// Reads the values of the row at the start of a text into their places: its time, and its bytes with the line end.
    #[inline]
    fn row(&mut self, text: &[u8]) -> Option<(i64, usize)> {
        let (mut at, mut column, mut time_ms) = (0, 0, 0);
        for ((wanted, part), value) in self.wanted.iter().zip(&mut self.values) {
            while column < *wanted {
                at = self.ends.skip(text, at)?;
                column += 1;
            }
            let end = match part {
                Part::Time(takes) => {
                    time_ms = self.stencil.read(text.get(at..)?)?;
                    column += takes - 1;
                    at + self.stencil.length
                }
                Part::Numbering => {
                    text.get(at).filter(|b| b.is_ascii_digit())?;
                    at = self.ends.skip(text, at)?;
                    column += 1;
                    continue;
                }
                Part::Value(decimal) => {
                    let (number, end) = numbers::plain(text, after_blanks(text, at), *decimal)?;
                    *value = number;
                    end
                }
            };
            at = self.ends.after(text, end)?;
            column += 1;
        }
        let length = self.ends.line_length(text, at)?;
        TIMES_MS.contains(&time_ms).then_some((time_ms, length))
    }
}

/// What ends cells and lines.
#[derive(Clone, Copy)]
struct Ends {
    delimiter: u8,
    line: u8,
}

impl Ends {
    /// Where the next cell starts; `None` where quotes are about, which the general way knows how to read, or the line ends.
    fn skip(self, text: &[u8], from: usize) -> Option<usize> {
        let rest = text.get(from..)?;
        let end = rest.iter().position(|b| *b == self.delimiter || *b == self.line || *b == b'"')?;
        (rest[end] == self.delimiter).then_some(from + end + 1)
    }

    /// Where the next cell starts, or the line ends, if this cell ends here.
    fn after(self, text: &[u8], end: usize) -> Option<usize> {
        let end = after_blanks(text, end);
        match text.get(end) {
            Some(b) if *b == self.delimiter => Some(end + 1),
            _ => self.is_line_end(text, end).then_some(end),
        }
    }

    /// Whether a line ends here: with the text, with the line end, or with a carriage return before either.
    fn is_line_end(self, text: &[u8], at: usize) -> bool {
        match text.get(at) {
            None => true,
            Some(b) if *b == self.line => true,
            Some(b'\r') => text.get(at + 1).is_none_or(|b| *b == self.line),
            Some(_) => false,
        }
    }

    /// Bytes of the line, of which all before `at` was read, with its end; `None` for a line that nobody looks at.
    fn line_length(self, text: &[u8], at: usize) -> Option<usize> {
        let end = match text.get(at) {
            Some(b) if *b == self.line => at,
            _ => memchr::memchr(self.line, text.get(at..)?).map_or(text.len(), |more| at + more),
        };
        (end <= MAX_LINE).then_some((end + 1).min(text.len()))
    }
}

fn after_blanks(text: &[u8], from: usize) -> usize {
    from + text[from.min(text.len())..].iter().take_while(|b| **b == b' ').count()
}

/// A date and time of which every digit has its place.
struct Stencil {
    length: usize,
    /// What stands where, eight places at a time, the last eight overlapping those before; a short time repeats it.
    eights: [Eight; EIGHTS],
    /// Places of year, month and day.
    date: [usize; 3],
    hour: Two,
    minute: Two,
    second: Option<Two>,
    /// Milliseconds to be taken off: the offset from UTC that each time states.
    offset_ms: i64,
    /// First millisecond of the date read last.
    date_ms: i64,
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
        let eight = |at: usize| Eight::of(at, &places[at..at + 8], date_end.saturating_sub(at));
        if last > 8 * (EIGHTS - 1) {
            return None;
        }
        let eights = std::array::from_fn(|i| eight((8 * i).min(last)));
        let two = |at: usize| Two::of(&eights, at);
        let second = match second {
            Some(at) => Some(two(at)?),
            None => None,
        };
        let mut stencil = Self {
            length: bytes.len(),
            hour: two(time_start)?,
            minute: two(at(4)?)?,
            second,
            date: [year, month, day],
            eights,
            offset_ms: 0,
            date_ms: 0,
        };
        stencil.offset_ms = stencil.read(bytes)? - time_ms;
        Some(stencil)
    }

    /// The time at the start of a text; `None` where it does not fit the stencil, or there is no such time.
    #[inline]
    fn read(&mut self, text: &[u8]) -> Option<i64> {
        let text = text.get(..self.length)?;
        let mut apart = [0; EIGHTS];
        let (mut misfit, mut other_date) = (0, 0);
        for (eight, apart) in self.eights.iter().zip(&mut apart) {
            *apart = eight.apart(text)?;
            misfit |= eight.misfit(*apart);
            other_date |= (*apart & eight.of_date) ^ eight.date;
        }
        if misfit != 0 {
            return None;
        }
        if other_date != 0 {
            self.date_ms = self.start_of_date(text)?;
            self.eights.iter_mut().zip(apart).for_each(|(eight, apart)| eight.date = apart & eight.of_date);
        }
        let (hour, minute) = (self.hour.of_digits(&apart), self.minute.of_digits(&apart));
        let second = self.second.map_or(0, |second| second.of_digits(&apart));
        let is_time = hour < 24 && minute < 60 && second < 60;
        let of_day = hour * HOUR_MS + minute * 60_000 + second * 1000;
        is_time.then_some(self.date_ms + of_day - self.offset_ms)
    }

    fn start_of_date(&self, text: &[u8]) -> Option<i64> {
        let two = |at: usize| u32::from(text[at] - b'0') * 10 + u32::from(text[at + 1] - b'0');
        let [year, month, day] = self.date;
        let year = (two(year) * 100 + two(year + 2)) as i32;
        LocalTime::from_fields((year, two(month), two(day)), (0, 0, 0), 0).map(LocalTime::ms)
    }
}

/// Eights of a stencil: the longest time with its offset fits in.
const EIGHTS: usize = 4;

/// Eight places of a stencil, compared at once.
#[derive(Clone, Copy)]
struct Eight {
    at: usize,
    /// The characters, `0` for a digit.
    characters: u64,
    /// Per byte what, added to the distance from its character, sets the highest bit where it does not fit.
    room: u64,
    /// The bytes of the date, and how far they were from the characters in the date read last.
    of_date: u64,
    date: u64,
}

/// The highest bit of each byte.
const HIGHEST: u64 = 0x8080_8080_8080_8080;

impl Eight {
    /// For eight places: whether any digit may stand there, or the one character that must; the first `of_date` are the date's.
    fn of(at: usize, places: &[(bool, u8)], of_date: usize) -> Self {
        let number = |byte: fn(&(bool, u8)) -> u8| {
            u64::from_le_bytes(std::array::from_fn(|i| places.get(i).map_or(0, byte)))
        };
        // A digit may lie 0 to 9 above `0`; any other character must be met.
        Self {
            at,
            characters: number(|(digit, b)| if *digit { b'0' } else { *b }),
            room: number(|(digit, _)| if *digit { 0x80 - 10 } else { 0x80 - 1 }),
            of_date: if of_date < 8 { (1 << (8 * of_date)) - 1 } else { u64::MAX },
            // No date is that far from its characters.
            date: u64::MAX,
        }
    }

    /// How far each place is from its character: above `0` to `9` no bit differs but the lowest four, so that the
    /// distance of a digit is its value.
    #[inline]
    fn apart(&self, text: &[u8]) -> Option<u64> {
        let eight = text.get(self.at..self.at + 8)?.try_into().ok()?;
        Some(u64::from_le_bytes(eight) ^ self.characters)
    }

    /// Not 0 where a place does not fit.
    #[inline]
    fn misfit(&self, apart: u64) -> u64 {
        (apart | ((apart & !HIGHEST) + self.room)) & HIGHEST
    }
}

/// Two digits within an eight.
#[derive(Clone, Copy)]
struct Two {
    eight: usize,
    shift: usize,
}

impl Two {
    /// The two digits from a place on; `None` where the eights part them.
    fn of(eights: &[Eight], at: usize) -> Option<Self> {
        let holds = |eight: &Eight| eight.at <= at && at + 2 <= eight.at + 8;
        let eight = eights.iter().position(holds)?;
        Some(Self { eight, shift: 8 * (at - eights[eight].at) })
    }

    #[inline]
    fn of_digits(self, apart: &[u64; EIGHTS]) -> i64 {
        let digits = (apart[self.eight] >> self.shift) as i64;
        (digits & 15) * 10 + (digits >> 8 & 15)
    }
}

/// Runs of digits: where each starts, and how long it is.
fn digit_groups(bytes: &[u8]) -> impl Iterator<Item = (usize, usize)> {
    let starts = |i: &usize| bytes[*i].is_ascii_digit() && (*i == 0 || !bytes[i - 1].is_ascii_digit());
    let length = |i: usize| bytes[i..].iter().take_while(|b| b.is_ascii_digit()).count();
    (0..bytes.len()).filter(starts).map(move |i| (i, length(i)))
}
