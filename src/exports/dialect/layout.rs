//! Where the cells end, and which of them hold the time.

use super::super::numbers::{self, Cell};
use super::super::sheet::{Delimiter, MAX_LINE, Sheet, is_blank, split};
use super::counts;
use super::sample::{SAMPLE_ROWS, Sample, Seen, TimesAlike, Written, look};
use super::time_cells::TimeCells;

/// What one delimiter makes of the sample.
pub(in crate::exports) struct Layout<'s> {
    pub(in crate::exports) delimiter: Delimiter,
    pub(in crate::exports) decimal: u8,
    pub(in crate::exports) time: TimeCells,
    pub(in crate::exports) rows: usize,
    pub(in crate::exports) first_data_line: u32,
    pub(in crate::exports) times_state_offset: bool,
    /// Whether the times are numbers that count from somewhere.
    pub(in crate::exports) counted: bool,
    /// Whether nothing but rows stands below a header of one line, or none.
    pub(in crate::exports) all_rows: bool,
    /// The lines with a written time that were looked at.
    pub(super) sample: Sample<'s>,
}

/// Rows below which a file is looked at by every delimiter.
const ENOUGH_ROWS: usize = 100;
/// Lines looked through before the first data line is given up.
const MOST_PREAMBLE: usize = 100_000;

const DELIMITERS: [Delimiter; 6] = [
    Delimiter::Byte(b','),
    Delimiter::Byte(b';'),
    Delimiter::Byte(b'\t'),
    Delimiter::Byte(b'|'),
    Delimiter::WideBlanks,
    Delimiter::Blanks,
];

/// The layout under which most lines have a time and a number; the earlier delimiter where several do.
pub(super) fn find<'s>(sheet: &'s Sheet<'_>) -> Option<Layout<'s>> {
    let written = best(|delimiter| written(sheet, delimiter));
    // A few lines with a written time may be preamble or marks among times that are counted.
    match written {
        Some(layout) if layout.rows > 10 => Some(layout),
        few => {
            let counted = best(|delimiter| counted(sheet, delimiter));
            counted.filter(|c| few.as_ref().is_none_or(|w| c.rows > w.rows * 3)).or(few)
        }
    }
}

/// A layout with a full sample, or in which all but a header are rows, cannot be beaten: other delimiters need no look.
fn best<'s>(look: impl Fn(Delimiter) -> Option<Layout<'s>>) -> Option<Layout<'s>> {
    let mut best: Option<Layout<'s>> = None;
    for delimiter in DELIMITERS {
        let next = look(delimiter);
        best = match (best, next) {
            (Some(best), Some(next)) if next.rows <= best.rows => Some(best),
            (best, next) => next.or(best),
        };
        if best.as_ref().is_some_and(|l| l.rows == SAMPLE_ROWS || l.all_rows) {
            break;
        }
    }
    best
}

/// Numbers in the cells beside the time, and by which decimal mark they are numbers.
#[derive(Default)]
struct Tally {
    commas: usize,
    points: usize,
}

impl Tally {
    /// Whether any of the cells is a number, or a mark for a missing one.
    fn see(&mut self, row: &[Seen<'_>]) -> bool {
        let mut numbers = 0;
        for (_, written) in row {
            match written {
                Written::Number { by_point, by_comma, .. } => {
                    numbers += 1;
                    self.points += usize::from(!*by_comma);
                    self.commas += usize::from(!*by_point);
                }
                Written::Missing => numbers += 1,
                Written::Other => {}
            }
        }
        numbers > 0
    }

    fn decimal(&self) -> u8 {
        if self.commas > self.points { b',' } else { b'.' }
    }
}

fn written<'s>(sheet: &'s Sheet<'_>, delimiter: Delimiter) -> Option<Layout<'s>> {
    let time = usual_time(sheet, delimiter)?;
    let (mut cells, mut row) = (Vec::new(), Vec::new());
    let (mut tally, mut with_offset, mut rows) = (Tally::default(), 0, Vec::new());
    let (mut sample, mut alike) = (Sample::default(), TimesAlike::default());
    let mut last = 0;
    let mut lines = sheet.lines();
    for (number, line) in lines.by_ref().take(MOST_PREAMBLE).filter(|(_, l)| l.len() <= MAX_LINE) {
        split(line, delimiter, &mut cells);
        let Some(states_offset) = alike.state_offset(time, &cells) else {
            last = if line.trim().is_empty() { last } else { number };
            continue;
        };
        last = number;
        look(&cells, time, &mut row);
        sample.push(number, &row);
        if !tally.see(&row) {
            continue;
        }
        with_offset += usize::from(states_offset);
        rows.push(number);
        if rows.len() == SAMPLE_ROWS {
            break;
        }
    }
    sample.end(lines.rest().is_empty());
    let times_state_offset = with_offset * 2 > rows.len();
    let first_data_line = first_of_a_run(sheet, &rows)?;
    Some(Layout {
        delimiter,
        decimal: tally.decimal(),
        time,
        rows: rows.iter().filter(|n| **n >= first_data_line).count(),
        all_rows: first_data_line <= 2
            && rows.len() >= ENOUGH_ROWS
            && rows.len() == (last + 1 - first_data_line) as usize,
        first_data_line,
        times_state_offset,
        counted: false,
        sample,
    })
}

/// Where most of the first lines have their time; a launch time in the preamble may stand elsewhere.
fn usual_time(sheet: &Sheet<'_>, delimiter: Delimiter) -> Option<TimeCells> {
    const ENOUGH: usize = 40;
    let mut cells = Vec::new();
    let mut found: Vec<(TimeCells, usize)> = Vec::new();
    for (_, line) in sheet.lines().take(MOST_PREAMBLE).filter(|(_, l)| l.len() <= MAX_LINE) {
        split(line, delimiter, &mut cells);
        let Some(time) = find_time(&cells) else { continue };
        let count = match found.iter_mut().find(|(known, _)| *known == time) {
            Some((_, count)) => {
                *count += 1;
                *count
            }
            None => {
                found.push((time, 1));
                1
            }
        };
        if count == ENOUGH {
            break;
        }
    }
    // The first of equals: a file of one row has no other.
    found.into_iter().reduce(|best, next| if next.1 > best.1 { next } else { best }).map(|(time, _)| time)
}

/// The first row that another follows at once; a line of the preamble with a time and a number stands alone.
///
/// So does a row between a header and the same header again: it is the first row.
fn first_of_a_run(sheet: &Sheet<'_>, rows: &[u32]) -> Option<u32> {
    let Some(run) = rows.windows(2).position(|w| w[1] <= w[0] + 1) else { return rows.first().copied() };
    let above = |at: &usize| only_repeats_between(sheet, rows[*at], rows[*at + 1]);
    let first = (0..run).rev().take(LONE_ROWS).take_while(above).last().unwrap_or(run);
    Some(rows[first])
}

/// Rows that stand alone above the others and are looked at.
const LONE_ROWS: usize = 5;

/// Whether what stands between two rows stood above the first of them already.
fn only_repeats_between(sheet: &Sheet<'_>, from: u32, to: u32) -> bool {
    let lines = sheet.lines().take_while(|(n, _)| *n < to).filter(|(_, l)| !is_blank(l));
    let (above, below): (Vec<(u32, &str)>, Vec<_>) = lines.partition(|(n, _)| *n < from);
    let repeats = |(n, line): &(u32, &str)| *n == from || above.iter().any(|(_, a)| a == line);
    below.len() > 1 && below.iter().all(repeats)
}

fn find_time(cells: &[&str]) -> Option<TimeCells> {
    let one = (0..cells.len()).map(TimeCells::One).find(|t| t.read(cells).is_some());
    one.or_else(|| {
        let pair = |date: usize| [date + 1, date.wrapping_sub(1)].map(|time| (date, time));
        let apart = |(date, time): (usize, usize)| {
            let half = Some(time.wrapping_add(1)).filter(|h| *h != date);
            [half, None].map(|half| TimeCells::Apart { date, time, half })
        };
        let is_half = |t: &TimeCells| match t {
            TimeCells::Apart { half: Some(h), .. } => {
                cells.get(*h).is_some_and(|c| c.to_ascii_lowercase().starts_with(['a', 'p']))
            }
            _ => true,
        };
        (0..cells.len()).flat_map(pair).flat_map(apart).filter(is_half).find(|t| t.read(cells).is_some())
    })
}

/// A layout whose times are numbers: a column of numbers that rises and has the size of a count of seconds or days.
fn counted<'s>(sheet: &'s Sheet<'_>, delimiter: Delimiter) -> Option<Layout<'s>> {
    let (mut cells, mut row) = (Vec::new(), Vec::new());
    let mut rows: Vec<(u32, Vec<Option<f64>>)> = Vec::new();
    let mut decimals = Tally::default();
    let nowhere = TimeCells::One(usize::MAX);
    let lines =
        sheet.lines().take(MOST_PREAMBLE).filter(|(_, l)| l.len() <= MAX_LINE && !l.trim().is_empty());
    for (number, line) in lines {
        split(line, delimiter, &mut cells);
        let values: Vec<Option<f64>> = cells.iter().map(|c| counts::plain_number(c)).collect();
        // The preamble may be longer than the rows, and has numbers too.
        if values.iter().flatten().any(|x| counts::size_of_count(*x).is_some()) {
            look(&cells, nowhere, &mut row);
            decimals.see(&row);
            rows.push((number, values));
        }
        if rows.len() == SAMPLE_ROWS {
            break;
        }
    }
    let width = rows.iter().map(|(_, r)| r.len()).max()?;
    let counts: Vec<(usize, Vec<u32>)> =
        (0..width).filter_map(|at| Some((at, count_in((sheet, delimiter), &rows, at)?))).collect();
    // Seconds since 1970 cannot be mistaken; a count of days or of seconds of a year may be something else.
    let size = |(at, lines): &(usize, Vec<u32>)| {
        let row = rows.iter().find(|(n, _)| lines.first() == Some(n));
        row.and_then(|(_, r)| *r.get(*at)?).and_then(counts::size_of_count)
    };
    let (at, of_rows) = counts.into_iter().min_by_key(size)?;
    let first = *of_rows.first()?;
    let is_number = |c: &str| [b'.', b','].iter().any(|d| matches!(numbers::parse(c, *d), Cell::Number(..)));
    let mut others = false;
    for line in sheet.pick(&of_rows) {
        split(line, delimiter, &mut cells);
        others |= cells.iter().enumerate().any(|(i, c)| i != at && is_number(c));
    }
    others.then_some(Layout {
        delimiter,
        decimal: decimals.decimal(),
        time: TimeCells::One(at),
        rows: of_rows.len(),
        first_data_line: first,
        times_state_offset: false,
        counted: true,
        all_rows: false,
        sample: Sample::default(),
    })
}

/// The lines whose number in a column counts time; `None` where the column holds something else.
///
/// Numbers of the preamble may stand in the same place, and a serial number there may have the size of another count.
fn count_in(
    (sheet, delimiter): (&Sheet<'_>, Delimiter),
    rows: &[(u32, Vec<Option<f64>>)],
    at: usize,
) -> Option<Vec<u32>> {
    let all: Vec<(u32, f64)> = rows.iter().filter_map(|(n, r)| Some((*n, (*r.get(at)?)?))).collect();
    let usual = counts::size_of_count(all.get(all.len() / 2)?.1)?;
    let sized: Vec<(u32, f64)> =
        all.into_iter().filter(|(_, x)| counts::size_of_count(*x) == Some(usual)).collect();
    let lines: Vec<u32> = sized.iter().map(|(n, _)| *n).collect();
    let first = first_of_a_run(sheet, &lines)?;
    let from = lines.partition_point(|n| *n < first);
    let values: Vec<f64> = sized[from..].iter().map(|(_, x)| *x).collect();
    let below = rows.iter().filter(|(n, _)| *n >= first).count();
    let headed_so = || counts::speaks_of_count(&counts::header_above(sheet, delimiter, first, at));
    (values.len() * 2 > below
        && (counts::counts_time(&values, false) || (headed_so() && counts::counts_time(&values, true))))
    .then(|| lines[from..].to_vec())
}
