//! The rows by which an export is told: read and split once, for all who look at them.
//!
//! Settled here, and why:
//! - **Rows before the first number**: a logger may write words first. Between a header and the first row with a number
//!   all lines with a time are rows; where no header stands above them, those with as many cells as a row of the sample.

use super::super::numbers::{self, Cell};
use super::super::times;
use super::time_cells::TimeCells;

/// Rows looked at to tell how an export is written.
pub(super) const SAMPLE_ROWS: usize = 2000;

/// A cell, and what it is as a number; of a cell with the time that is not asked.
pub(super) type Seen<'s> = (&'s str, Written);

/// Lines with a time, in cells.
#[derive(Default)]
pub(super) struct Sample<'s> {
    /// Line of each row, and where its cells end among all.
    rows: Vec<(u32, usize)>,
    cells: Vec<Seen<'s>>,
    /// Whether there are no other rows in the export.
    whole: bool,
}

/// Most rows that are kept; lines with a time and no number may be many more.
const MOST_ROWS: usize = 2 * SAMPLE_ROWS;

impl<'s> Sample<'s> {
    /// Adds a row, unless there are too many.
    pub(super) fn push(&mut self, line: u32, row: &[Seen<'s>]) {
        if self.rows.is_empty() {
            self.rows.reserve(SAMPLE_ROWS);
            self.cells.reserve(SAMPLE_ROWS * row.len().min(8));
        }
        if self.rows.len() < MOST_ROWS {
            self.cells.extend_from_slice(row);
            self.rows.push((line, self.cells.len()));
        }
    }

    /// Ends the sample; `all` lines of the export may have been looked at.
    pub(super) fn end(&mut self, all: bool) {
        self.whole = all && self.rows.len() < MOST_ROWS;
    }

    /// The rows from a line on, as many as are looked at.
    pub(super) fn rows_from(&self, line: u32) -> impl Iterator<Item = &[Seen<'s>]> {
        let first = self.rows.partition_point(|(number, _)| *number < line);
        let start = |at: usize| if at == 0 { 0 } else { self.rows[at - 1].1 };
        let rows = first..self.rows.len().min(first + SAMPLE_ROWS);
        rows.map(move |at| &self.cells[start(at)..self.rows[at].1])
    }

    /// Whether no row from a line on is missing.
    pub(super) fn is_full_from(&self, line: u32) -> bool {
        self.whole || self.rows_from(line).count() == SAMPLE_ROWS
    }
}

/// Looks at each cell of a row.
pub(super) fn look<'s>(cells: &[&'s str], time: TimeCells, row: &mut Vec<Seen<'s>>) {
    let look = |(i, cell): (usize, &&'s str)| {
        (*cell, if time.holds(i) { Written::Other } else { Written::of(cell) })
    };
    row.clear();
    row.extend(cells.iter().enumerate().map(look));
}

/// What a cell is as a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Written {
    /// A number by one decimal mark, or by both, perhaps with a unit.
    Number { by_point: bool, by_comma: bool, with_unit: bool },
    /// Nothing, or a mark that says so.
    Missing,
    /// Something else.
    Other,
}

impl Written {
    pub(super) fn of(cell: &str) -> Self {
        Self::plain(cell).unwrap_or_else(|| Self::general(cell))
    }

    /// Nearly all cells: up to 15 digits with at most one mark, and perhaps a sign.
    fn plain(cell: &str) -> Option<Self> {
        let bytes = cell.as_bytes();
        let bytes = bytes.strip_prefix(b"-").or_else(|| bytes.strip_prefix(b"+")).unwrap_or(bytes);
        let (mut digits, mut mark) = (0, None);
        for byte in bytes {
            match byte {
                b'0'..=b'9' => digits += 1,
                b'.' | b',' if mark.is_none() => mark = Some(*byte),
                _ => return None,
            }
        }
        let (by_point, by_comma) = (mark != Some(b','), mark != Some(b'.'));
        (1..=15).contains(&digits).then_some(Self::Number { by_point, by_comma, with_unit: false })
    }

    fn general(cell: &str) -> Self {
        let by = [b'.', b','].map(|mark| numbers::parse(cell, mark));
        match by {
            [Cell::Missing, _] => Self::Missing,
            [Cell::Unreadable, Cell::Unreadable | Cell::Missing] => Self::Other,
            [Cell::Number(_, unit), other] | [other, Cell::Number(_, unit)] => {
                let is_number = |cell| matches!(cell, Cell::Number(..));
                let by_point = is_number(by[0]);
                Self::Number { by_point, by_comma: !by_point || is_number(other), with_unit: unit.is_some() }
            }
        }
    }
}

/// Times that are written like one that was read before, digit for digit, need not be read to know that they are times.
#[derive(Default)]
pub(super) struct TimesAlike<'s> {
    known: &'s str,
    with_offset: bool,
}

impl<'s> TimesAlike<'s> {
    /// Whether the time of a row states its offset from UTC; `None` where the row has no time.
    pub(super) fn state_offset(&mut self, time: TimeCells, cells: &[&'s str]) -> Option<bool> {
        let text = match time {
            TimeCells::One(at) => *cells.get(at)?,
            TimeCells::Apart { .. } => return time.read(cells).map(|fields| fields.offset_s.is_some()),
        };
        if self.known.is_empty() || !alike(self.known, text) {
            let with_offset = times::parse(text)?.offset_s.is_some();
            if !told_by_shape(text) {
                return Some(with_offset);
            }
            *self = Self { known: text, with_offset };
        }
        Some(self.with_offset)
    }
}

/// Whether a time is one whatever its digits are: an hour must fit to AM or PM, an offset must be one, and months have names.
fn told_by_shape(time: &str) -> bool {
    // No date with a time of day is shorter than this.
    let offset = time.get(10..).unwrap_or_default();
    let letters = |byte: u8| byte.is_ascii_alphabetic() && !matches!(byte, b'T' | b't' | b'Z' | b'z');
    time.is_ascii() && !offset.contains(['+', '-']) && !time.bytes().any(letters)
}

/// Whether two texts differ in nothing but their digits.
fn alike(a: &str, b: &str) -> bool {
    let digit = |byte: u8| byte.wrapping_sub(b'0') < 10;
    let same = |all: bool, (a, b): (u8, u8)| all & ((a == b) | (digit(a) & digit(b)));
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(true, same)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Pieces of cells that are numbers, nearly numbers, and times.
    const PIECES: [&str; 32] = [
        "2",
        "0",
        "21",
        "2026",
        "123456789",
        "-",
        "+",
        ".",
        ",",
        ":",
        " ",
        "T",
        "Z",
        "z",
        "e",
        "°C",
        "F",
        "−",
        "nan",
        "NA",
        "x",
        "/",
        "AM",
        "pm",
        "+01:00",
        "-0530",
        "UTC",
        "Jan",
        "\u{a0}",
        "05",
        "13",
        "31",
    ];

    /// The same texts, and the same with other digits.
    fn text(pieces: &[usize]) -> String {
        pieces.iter().map(|at| PIECES[*at]).collect()
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(3), cases: 20_000, ..ProptestConfig::default() })]
        #[test]
        fn plain_cells_are_what_they_are_in_general(pieces in proptest::collection::vec(0..PIECES.len(), 0..5)) {
            let cell = text(&pieces);
            prop_assert_eq!(Written::of(&cell), Written::general(&cell), "{}", cell);
        }

        #[test]
        fn times_alike_are_times(
            form in 0..FORMS.len(),
            dirt in proptest::collection::vec(0..PIECES.len(), 0..2),
            cut in 0_usize..24,
            digits in proptest::collection::vec(proptest::collection::vec(0_u8..10, 24), 1..6),
        ) {
            let form = FORMS[form];
            let form = [&form[..cut.min(form.len())], &text(&dirt), &form[cut.min(form.len())..]].concat();
            let written = |digits: &Vec<u8>| {
                let mut digits = digits.iter();
                let digit = |c| if c == '0' { char::from(b'0' + digits.next().unwrap_or(&0)) } else { c };
                form.chars().map(digit).collect::<String>()
            };
            let texts: Vec<String> = digits.iter().map(written).collect();
            let mut known = TimesAlike::default();
            for text in &texts {
                let simple = times::parse(text).map(|fields| fields.offset_s.is_some());
                prop_assert_eq!(known.state_offset(TimeCells::One(0), &[text]), simple, "{}", text);
            }
        }
    }

    const FORMS: [&str; 12] = [
        "0000-00-00 00:00:00",
        "0000-00-00T00:00:00Z",
        "0000-00-00T00:00:00+00:00",
        "0000-00-00T00:00:00.000-0000",
        "00.00.0000 00:00",
        "0/0/00, 0:00 PM",
        "00/00/0000 00:00:00",
        "00000000T000000",
        "00000000T000000Z",
        "00000000T0000+00",
        "00-Jan-0000 00:00",
        "0000-00-00 00:00 UTC",
    ];
}
