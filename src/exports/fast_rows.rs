//! The fast way for rows of the commonest shape: their cells stand at fixed positions.
//!
//! Most files repeat one shape: a date and time of which every digit has its place, and plain numbers. Such a row is read
//! without cutting it into cells. Whatever is not exactly of that shape is left to the general way, row by row, so that
//! both ways give the same readings (a property test reads the same bytes both ways).

mod timestamp_template;

use self::timestamp_template::{EIGHTS, TimeColumns, TimestampTemplate};
use super::dialect::{DateForm, Dialect, TimeCells};
use super::numbers;
use super::series::Series;
use super::sheet::{Delimiter, Lines, MAX_LINE};

/// Rows that may go by before one is of a shape that can be read straight.
const TRIES: u32 = 20;

/// The rows of one file, as far as they are straight.
pub(super) struct FastRows {
    shape: Option<Straight>,
    tried: u32,
    /// Length of the file's text.
    bytes: usize,
}

impl FastRows {
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

/// Rows that are read in one go, before they are added to their series.
const AT_ONCE: usize = 1024;

/// How rows of one file look, where they are straight.
struct Straight {
    ends: Ends,
    stencil: TimestampTemplate,
    /// What is read, from left to right.
    wanted: Vec<(usize, Part)>,
    /// The decimal mark, where rows start with the time and the only number that is wanted.
    pair: Option<u8>,
    /// For each series the places among `wanted` of its value, and of its humidity.
    places: Vec<(usize, Option<usize>)>,
    /// The rows read last: their times, and for each that is wanted its numbers.
    times_ms: Vec<i64>,
    values: Vec<Vec<f64>>,
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
        let owned = |s: &Series| s.selection.logger.is_none() && s.selection.rows_of.is_none();
        if !series.iter().all(owned) {
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
        let stencil = TimestampTemplate::of(dialect, row, TimeColumns { delimiter, column, takes, style })?;
        let times_ms = Vec::with_capacity(AT_ONCE);
        let values = wanted.iter().map(|_| Vec::with_capacity(AT_ONCE)).collect();
        let pair = match wanted[..] {
            [(0, Part::Time(takes)), (column, Part::Value(decimal))] if column == takes => Some(decimal),
            _ => None,
        };
        let ends = Ends { delimiter, line: line_end };
        Some(Self { ends, stencil, wanted, pair, places, times_ms, values })
    }

    /// Adds rows to their series, up to the first that is not of the shape; how many there were, and their bytes.
    fn read(&mut self, lines: &Lines<'_>, series: &mut [Series]) -> (u32, usize) {
        let text = lines.rest().as_bytes();
        let (mut rows, mut from) = (0, 0);
        loop {
            from += match self.stencil.used {
                ..=2 => self.rows::<2>(&text[from..]),
                3 => self.rows::<3>(&text[from..]),
                _ => self.rows::<EIGHTS>(&text[from..]),
            };
            let read = self.times_ms.len();
            let first = lines.number() + rows + 1;
            rows += read as u32;
            for (series, (value, humidity)) in series.iter_mut().zip(&self.places) {
                series.times_ms.extend_from_slice(&self.times_ms);
                series.lines.extend(first..first + read as u32);
                series.values.extend_from_slice(&self.values[*value][..read]);
                if let Some(at) = humidity {
                    series.humidity.extend_from_slice(&self.values[*at][..read]);
                }
            }
            if read < AT_ONCE {
                return (rows, from);
            }
        }
    }

    /// Reads the next rows of a text, whose times take `N` eights; the answer is how many bytes they have. Columns may hold a
    /// number more than there are times: that of a row that turned out not to be of the shape.
    fn rows<const N: usize>(&mut self, text: &[u8]) -> usize {
        self.times_ms.clear();
        self.values.iter_mut().for_each(Vec::clear);
        let mut from = 0;
        loop {
            if let Some(decimal) = self.pair {
                from += self.pairs::<N>(&text[from..], decimal);
            }
            if self.times_ms.len() == AT_ONCE {
                break;
            }
            let Some((time_ms, length)) = self.row::<N>(&text[from..]) else { break };
            self.times_ms.push(time_ms);
            from += length;
        }
        from
    }

    /// Reads the next rows that are a time, a short number and the line end, and nothing else: as [`Self::row`] does, with less
    /// to ask. The answer is how many bytes they have.
    fn pairs<const N: usize>(&mut self, text: &[u8], decimal: u8) -> usize {
        let Ends { delimiter, line } = self.ends;
        let [_, values] = &mut self.values[..] else { return 0 };
        let mut from = 0;
        while self.times_ms.len() < AT_ONCE {
            let rest = &text[from..];
            let Some(time_ms) = self.stencil.read::<N>(rest) else { break };
            let at = self.stencil.length;
            let Some((number, length)) = numbers::short(rest, at + 1, decimal) else { break };
            let end = at + 1 + length;
            let ends = match rest.get(end) {
                Some(b) if *b == line => 1,
                Some(b'\r') if rest.get(end + 1) == Some(&line) => 2,
                _ => break,
            };
            if rest[at] != delimiter {
                break;
            }
            self.times_ms.push(time_ms);
            values.push(number);
            from += end + ends;
        }
        from
    }

    /// Reads the row at the start of a text, adding its numbers to their columns: its time, and its bytes with the line end.
    #[inline]
    fn row<const N: usize>(&mut self, text: &[u8]) -> Option<(i64, usize)> {
        let (mut at, mut column, mut time_ms) = (0, 0, 0);
        for ((wanted, part), values) in self.wanted.iter().zip(&mut self.values) {
            while column < *wanted {
                at = self.ends.skip(text, at)?;
                column += 1;
            }
            let end = match part {
                Part::Time(takes) => {
                    time_ms = self.stencil.read::<N>(text.get(at..)?)?;
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
                    values.push(number);
                    end
                }
            };
            at = self.ends.after(text, end)?;
            column += 1;
        }
        Some((time_ms, self.ends.line_length(text, at)?))
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
    #[inline]
    fn after(self, text: &[u8], end: usize) -> Option<usize> {
        let end = after_blanks(text, end);
        match text.get(end) {
            Some(b) if *b == self.delimiter => Some(end + 1),
            _ => self.is_line_end(text, end).then_some(end),
        }
    }

    /// Whether a line ends here: with the text, with the line end, or with a carriage return before either.
    #[inline]
    fn is_line_end(self, text: &[u8], at: usize) -> bool {
        match text.get(at) {
            None => true,
            Some(b) if *b == self.line => true,
            Some(b'\r') => text.get(at + 1).is_none_or(|b| *b == self.line),
            Some(_) => false,
        }
    }

    /// Bytes of the line, of which all before `at` was read, with its end; `None` for a line that nobody looks at.
    #[inline]
    fn line_length(self, text: &[u8], at: usize) -> Option<usize> {
        let end = match text.get(at) {
            Some(b) if *b == self.line => at,
            _ => memchr::memchr(self.line, text.get(at..)?).map_or(text.len(), |more| at + more),
        };
        (end <= MAX_LINE).then_some((end + 1).min(text.len()))
    }
}

#[inline]
fn after_blanks(text: &[u8], from: usize) -> usize {
    if text.get(from) != Some(&b' ') {
        return from;
    }
    from + text[from.min(text.len())..].iter().take_while(|b| **b == b' ').count()
}
