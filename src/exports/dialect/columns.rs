//! The columns, and which line is their header.
//!
//! Settled here, and why:
//! - **Headers** speak of time where the rows have theirs, name every column of three or more, or say of the only other
//!   column what it measures. Any other last line above the data is preamble: its columns have no names, and are asked
//!   for.

use std::borrow::Cow;
use std::collections::HashSet;

use super::super::numbers::{self, Cell};
use super::super::sheet::{Delimiter, each_row, split};
use super::layout::Layout;
use super::sample::{SAMPLE_ROWS, Sample, Seen, Written, look};
use super::stated::unit_in;
use crate::error::Trouble;
use crate::exports::sheet::Sheet;
use crate::exports::vocabulary::{Holds, has_part, speaks_of};
use crate::exports::words::Said;
use crate::units::TemperatureUnit;

/// A column of the export.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::exports) struct Column {
    /// Its header; empty where there is none.
    pub(in crate::exports) name: String,
    /// Unit that the header states.
    pub(in crate::exports) unit: Option<TemperatureUnit>,
    /// Whether its cells are numbers.
    pub(in crate::exports) numeric: bool,
    /// Whether its cells may name loggers: several different texts that come again and again.
    pub(in crate::exports) names_series: bool,
    /// Whether units stand beside its numbers.
    pub(in crate::exports) unit_in_cells: bool,
    /// Whether nearly every row has something in it.
    pub(in crate::exports) filled: bool,
    /// Whether no row has anything in it but marks for "no value".
    pub(in crate::exports) empty: bool,
    /// Whether its numbers count the rows: 1, 2, 3.
    pub(in crate::exports) counts_rows: bool,
    /// Whether fewer than one row in ten has something in it.
    pub(in crate::exports) sparse: bool,
    /// The mark between whole and fraction in this column.
    pub(in crate::exports) decimal: u8,
}

impl Column {
    /// Whether its header says that it holds temperatures: by a unit, or by the word.
    pub(in crate::exports) fn says_temperature(&self) -> bool {
        says_temperature(&self.name)
    }
}

/// Whether a header says that its column holds temperatures.
pub(in crate::exports) fn says_temperature(header: &str) -> bool {
    unit_in(header).is_some() || has_part(header, &[Holds::Temperature])
}

/// What the sample says about one column.
#[derive(Default)]
struct Tally {
    numbers: usize,
    others: usize,
    commas: usize,
    points: usize,
    short_whole: usize,
    whole: usize,
    with_unit: usize,
    seen: usize,
    /// The last whole number, and how many were one more, or one less, than the one before them.
    last: Option<u64>,
    next: [usize; 2],
}

impl Tally {
    /// Rows enough that a temperature does not count them by chance.
    const COUNTED: usize = 10;

    fn counts_rows(&self) -> bool {
        self.whole >= Self::COUNTED && self.next[0].max(self.next[1]) * 10 >= (self.whole - 1) * 9
    }
}

/// Whether a header names what names loggers; "probe temperature" is what a probe measures.
pub(in crate::exports) fn speaks_of_loggers(header: &str) -> bool {
    !has_part(header, &[Holds::Temperature]) && speaks_of(header, Holds::Logger)
}

/// A line of names and the line of units below it as one header, `Temp (°C)`; `None` where they are something else.
fn with_units(layout: &Layout<'_>, names: &str, units: &str) -> Option<String> {
    let Delimiter::Byte(byte) = layout.delimiter else { return None };
    let (mut above, mut below) = (Vec::new(), Vec::new());
    split(names, layout.delimiter, &mut above);
    split(units, layout.delimiter, &mut below);
    let at_time = |cells: &[&str]| layout.time.first(cells).is_some_and(speaks_of_time);
    let is_unit =
        |c: &&str| c.is_empty() || *c == "%" || unit_in(c).is_some() || TemperatureUnit::parse(c).is_some();
    let bare = |c: &str| c.trim_matches(['(', ')', '[', ']']).trim().to_owned();
    let units: Vec<String> = below.iter().map(|c| bare(c)).collect();
    let all_units = units.iter().enumerate().all(|(i, u)| layout.time.holds(i) || is_unit(&u.as_str()));
    let some = units.iter().enumerate().any(|(i, u)| !layout.time.holds(i) && !u.is_empty());
    let fit = above.len() == below.len() && at_time(&above) && !at_time(&below) && all_units && some;
    let one = |(i, (name, unit)): (usize, (&&str, &String))| {
        if unit.is_empty() || layout.time.holds(i) { (*name).to_owned() } else { format!("{name} ({unit})") }
    };
    let cells: Vec<String> = above.iter().zip(&units).enumerate().map(one).collect();
    fit.then(|| cells.join(&char::from(byte).to_string()))
}

/// The columns, which line before the data is their header, and how many lines below it are spoilt rows.
pub(super) fn read(sheet: &Sheet<'_>, layout: &Layout<'_>, before: &[&str]) -> Result<Head, Trouble> {
    let walked;
    let sample = if layout.sample.is_full_from(layout.first_data_line) {
        &layout.sample
    } else {
        walked = walk(sheet, layout);
        &walked
    };
    let rows = || sample.rows_from(layout.first_data_line);
    let (mut tally, timed) = (tally(rows(), layout), rows().count());
    let used = tally.iter().rposition(|t| t.seen > 0).map_or(0, |at| at + 1);
    let numbers_rows =
        |at: &usize| tally[*at].whole == tally[*at].numbers && tally[*at].numbers > tally[*at].others * 4;
    let numbering: Vec<usize> = (0..layout.time.column().min(tally.len())).filter(numbers_rows).collect();
    let is_width = |cells: usize| rows().any(|row| row.len() == cells);
    let spoilt = spoilt_rows(layout, (&tally, used, &is_width), &numbering, before);
    let before = &before[..before.len() - spoilt];
    let header = header_of(layout, before, used);
    let mut names: Vec<&str> = Vec::new();
    if let Some((_, header)) = &header {
        split(header, layout.delimiter, &mut names);
    }
    refuse_split_decimals(layout, &names, &tally)?;
    for (at, tally) in tally.iter_mut().enumerate() {
        if tally.others * 4 >= tally.numbers && names.get(at).is_some_and(|name| says_temperature(name)) {
            tally.forget(beyond_scale(rows(), at));
        }
    }
    let column = |(i, t): (usize, &Tally)| {
        let name = names.get(i).copied().unwrap_or_default().to_owned();
        let decimal = match t.commas.cmp(&t.points) {
            std::cmp::Ordering::Greater => b',',
            std::cmp::Ordering::Less => b'.',
            std::cmp::Ordering::Equal => layout.decimal,
        };
        let named = unit_in(&name).is_none() && speaks_of_loggers(&name);
        Column {
            unit: unit_in(&name),
            decimal,
            filled: t.seen * 10 >= timed * 9,
            empty: t.seen == 0,
            counts_rows: t.counts_rows(),
            sparse: t.seen * 10 < timed,
            numeric: t.numbers > t.others * 4 || (unit_in(&name).is_some() && t.numbers > t.others),
            names_series: !layout.time.holds(i)
                && t.seen > 0
                && (named || t.others > t.numbers)
                && different(rows(), i).len() * 2 <= t.seen.max(2),
            unit_in_cells: t.with_unit > 0,
            name,
        }
    };
    Ok(Head {
        columns: tally.iter().enumerate().map(column).collect(),
        numbering,
        header: header.map(|(at, _)| at),
        spoilt,
    })
}

/// Whether a text is part of a header about time: a word for it, and no figures of a date.
pub(super) fn speaks_of_time(text: &str) -> bool {
    text.len() < 4096 && speaks_of(text, Holds::Time) && text.chars().filter(char::is_ascii_digit).count() < 6
}

/// The last line above the data, if it is a header and not the end of a preamble such as `Status;Battery low`.
///
/// A header speaks of time where the rows have theirs, or names every column of three or more, or says of the
/// only other column what it measures. What is not known for a header names no column, and the columns are asked for.
fn header_of<'t>(layout: &Layout<'_>, before: &[&'t str], used: usize) -> Option<(usize, Cow<'t, str>)> {
    let last = before.iter().rposition(|l| !l.trim().is_empty())?;
    let header = put_together(layout, &before[..=last]);
    let mut cells = Vec::new();
    split(&header, layout.delimiter, &mut cells);
    if layout.time.read(&cells).is_some() {
        return None;
    }
    let at_time = |i: usize| layout.time.holds(i) || layout.delimiter.is_blanks();
    let timed = cells.iter().enumerate().any(|(i, c)| at_time(i) && speaks_of_time(c));
    let is_value = |c: &&&str| matches!(numbers::parse(c, layout.decimal), Cell::Number(..));
    let values = cells.iter().filter(is_value).count();
    let wide = cells.len() >= 3 && cells.len() >= used && values * 2 < cells.len();
    let measures = |(i, c): (usize, &&str)| !layout.time.holds(i) && says_temperature(c);
    let measured = values == 0 && cells.len() >= used && cells.iter().enumerate().any(measures);
    let covers = cells.len() > 1 && cells.len() * 2 >= used;
    (covers && (timed || wide || measured)).then_some((last, header))
}

/// The last line; with the line above it where a quoted header breaks off there, or where units stand below the names.
fn put_together<'t>(layout: &Layout<'_>, before: &[&'t str]) -> Cow<'t, str> {
    let open = |line: &str| line.matches('"').count() % 2 == 1;
    match before {
        [.., above, last] if open(above) && open(last) => Cow::Owned(format!("{} {last}", above.trim_end())),
        [.., above, last] if let Some(both) = with_units(layout, above, last) => Cow::Owned(both),
        [.., last] => Cow::Borrowed(last),
        [] => Cow::Borrowed(""),
    }
}

/// What stands above the data.
pub(super) struct Head {
    pub(super) columns: Vec<Column>,
    /// Columns before the time that hold whole numbers.
    pub(super) numbering: Vec<usize>,
    /// Which line before the data is the header.
    pub(super) header: Option<usize>,
    /// Lines just above the first good row that are rows too, with a time or a value that cannot be read.
    pub(super) spoilt: usize,
}

/// Whether words stand where the rows have their number, as in a launch line or a summary.
///
/// A number that a spreadsheet took for a date, `Jan-13`, has figures still, and is no word.
pub(super) fn words_in(cells: &[&str], numbering: &[usize]) -> bool {
    let is_word = |c: &&str| c.starts_with(char::is_alphabetic) && !c.contains(|c: char| c.is_ascii_digit());
    numbering.iter().any(|at| cells.get(*at).is_some_and(is_word))
}

fn cells_of<'t>(layout: &Layout<'_>, line: &'t str) -> Vec<&'t str> {
    let mut cells = Vec::new();
    split(line, layout.delimiter, &mut cells);
    cells
}

/// Lines above the rows in which a number with a fraction tells a row whose time is spoilt.
const NEAR: usize = 20;

/// How many lines just above the first good row are rows too.
///
/// A line that has a time where the rows have theirs, or a number with a fraction where they have numbers, is no header:
/// a logger may write words for hours or days before its first number. Between a header and the first good row all lines
/// with a time are rows; where no header stands above them, those with as many cells as a row.
fn spoilt_rows(
    layout: &Layout<'_>,
    (tally, used, is_width): (&[Tally], usize, &dyn Fn(usize) -> bool),
    numbering: &[usize],
    before: &[&str],
) -> usize {
    let is_timed =
        |cells: &[&str]| !words_in(cells, numbering) && !layout.counted && layout.time.read(cells).is_some();
    let timed = before.iter().rev().take_while(|line| is_timed(&cells_of(layout, line))).count();
    if timed > 0 && header_of(layout, &before[..before.len() - timed], used).is_some() {
        return timed;
    }
    let fraction = |(i, c): (usize, &&str)| {
        let of_numbers = tally.get(i).is_some_and(|t| t.numbers > t.others);
        of_numbers && c.contains(['.', ',']) && matches!(numbers::parse(c, layout.decimal), Cell::Number(..))
    };
    let is_row = |(above, line): &(usize, &&str)| {
        let cells = cells_of(layout, line);
        let whole = *above < NEAR
            && cells.len() == tally.len()
            && !words_in(&cells, numbering)
            && cells.iter().enumerate().any(fraction);
        whole || (is_timed(&cells) && is_width(cells.len()))
    };
    before.iter().rev().enumerate().take_while(is_row).count()
}

/// The rows with a time, from the first row on.
fn walk<'s>(sheet: &'s Sheet<'_>, layout: &Layout<'_>) -> Sample<'s> {
    let (mut sample, mut row) = (Sample::default(), Vec::new());
    let mut rows = 0;
    each_row(sheet, layout.first_data_line, layout.delimiter, |number, cells| {
        let timed = if layout.counted {
            layout.time.first(cells).is_some_and(|c| !c.is_empty())
        } else {
            layout.time.read(cells).is_some()
        };
        if timed {
            rows += 1;
            look(cells, layout.time, &mut row);
            sample.push(number, &row);
        }
        rows < SAMPLE_ROWS
    });
    sample
}

/// What the sample says about each column.
fn tally<'r, 's: 'r>(rows: impl Iterator<Item = &'r [Seen<'s>]>, layout: &Layout<'_>) -> Vec<Tally> {
    let mut tally: Vec<Tally> = Vec::new();
    for cells in rows {
        tally.resize_with(tally.len().max(cells.len()), Tally::default);
        for (i, seen) in cells.iter().enumerate().filter(|(i, _)| !layout.time.holds(*i)) {
            tally[i].see(*seen);
        }
    }
    tally
}

/// The different cells of a column that are not marks for "no value", in the order of the rows, up to 1000.
fn different<'r, 's: 'r>(rows: impl Iterator<Item = &'r [Seen<'s>]>, at: usize) -> Vec<&'s str> {
    let mut known = HashSet::new();
    let cells = rows.filter_map(|row| row.get(at)).filter(|(_, written)| *written != Written::Missing);
    cells.map(|(cell, _)| *cell).filter(|cell| known.insert(*cell)).take(1000).collect()
}

/// Cells of a column that say that it was beyond the scale of the logger: for days, it measures temperatures still.
fn beyond_scale<'r, 's: 'r>(rows: impl Iterator<Item = &'r [Seen<'s>]>, at: usize) -> usize {
    let cells = rows.filter_map(|row| row.get(at)).filter(|(_, written)| *written == Written::Other);
    cells.filter(|(cell, _)| Said::of(cell).is_beyond_scale()).count()
}

impl Tally {
    /// Forgets some cells that are no numbers.
    fn forget(&mut self, others: usize) {
        self.others -= others;
        self.seen -= others;
    }

    fn see(&mut self, (cell, written): Seen<'_>) {
        match written {
            Written::Number { by_point, by_comma, with_unit } => {
                self.numbers += 1;
                self.points += usize::from(!by_comma);
                self.commas += usize::from(!by_point);
                self.with_unit += usize::from(with_unit);
            }
            Written::Missing => return,
            Written::Other => self.others += 1,
        }
        self.seen += 1;
        if !cell.bytes().all(|b| b.is_ascii_digit()) {
            return;
        }
        self.whole += 1;
        self.short_whole += usize::from(cell.len() <= 3);
        let Ok(now) = cell.parse::<u64>() else { return };
        if let Some(before) = self.last.replace(now) {
            self.next[0] += usize::from(now.checked_sub(before) == Some(1));
            self.next[1] += usize::from(before.checked_sub(now) == Some(1));
        }
    }
}

/// Decimal commas between comma-separated cells tear numbers in two: `21,4` would be read as 21.
fn refuse_split_decimals(layout: &Layout<'_>, names: &[&str], tally: &[Tally]) -> Result<(), Trouble> {
    let whole = |t: &Tally| t.seen > 0 && t.short_whole == t.seen;
    let value = |at: usize| !layout.time.holds(at) && whole(&tally[at]);
    let torn = (1..tally.len()).any(|at| value(at - 1) && value(at));
    if layout.delimiter == Delimiter::Byte(b',') && torn && names.len() < tally.len() {
        return Err(Trouble::at(
            layout.first_data_line,
            "numbers that seem to be written with a decimal comma between cells that are separated by commas too, so that 21,4 cannot be told from 21 and 4",
            "export the logger again with semicolons, or with decimal points",
        ));
    }
    Ok(())
}
