//! Tables that people keep beside exports: timetables of a heating, diaries, lists of events. No logger wrote them.
//!
//! They are told from damaged exports: those keep a regular sequence of times, or say of a column that it holds
//! temperatures.
//!
//! Settled here, and why:
//! - **Words name loggers** where their rows lie over each other in time, take turns, or stand in one block each; words
//!   that come and go in a single series (the weather, a status) do not, unless the header or the roster says so.

use std::collections::BTreeSet;

use super::dialect::says_temperature;
use super::numbers;
use super::sheet::{Delimiter, Sheet, is_blank, split};
use super::times::{self, DateStyle, Fields};

/// More rows than a person writes.
const MOST_ROWS: usize = 1000;
/// Of the rows, so many in a hundred must have their cells, and of the cells of a column so many must be of one kind.
const MOST: usize = 90;
/// Loggers record as often as this, and so many of a hundred steps are alike.
const RECORD_STEP_MS: i64 = 6 * 3_600_000;
const STEPS_ALIKE: usize = 60;
const DAY_MS: i64 = 24 * 3_600_000;

/// What a cell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cell {
    Empty,
    /// Date and time, date, time of day: each in ms since a start of its own.
    Moment(i64),
    Date(i64),
    OfDay(i64),
    Number,
    Words,
}

/// Whether a text is a table of times and words that no logger wrote.
pub(super) fn is_table_of_events(sheet: &Sheet<'_>) -> bool {
    let lines: Vec<&str> =
        sheet.lines().map(|(_, line)| line).filter(|l| !is_blank(l)).take(MOST_ROWS + 2).collect();
    if lines.len() > MOST_ROWS || lines.len() < 3 {
        return false;
    }
    let delimiters = [b',', b';', b'\t', b'|'].map(Delimiter::Byte);
    delimiters.into_iter().any(|delimiter| {
        let mut rows: Vec<Vec<&str>> = Vec::with_capacity(lines.len());
        for line in &lines {
            let mut cells = Vec::new();
            split(line, delimiter, &mut cells);
            rows.push(cells);
        }
        of_rows(&rows)
    })
}

fn of_rows(rows: &[Vec<&str>]) -> bool {
    let seen: Vec<Vec<Cell>> =
        rows.iter().map(|row| row.iter().map(|cell| cell_of(cell)).collect()).collect();
    let timed =
        |row: &[Cell]| row.iter().any(|c| matches!(c, Cell::Moment(_) | Cell::Date(_) | Cell::OfDay(_)));
    let Some(first) = seen.iter().position(|row| row.len() >= 2 && timed(row)) else { return false };
    if rows[..first].iter().flatten().any(|cell| says_temperature(cell)) {
        return false;
    }
    let seen = &seen[first..];
    let whole = seen.iter().filter(|row| row.len() >= 2 && timed(row)).count();
    if seen.len() < 2 || whole * 100 < seen.len() * MOST || is_record(seen) {
        return false;
    }
    let columns: Vec<Column> =
        (0..seen.iter().map(Vec::len).max().unwrap_or(0)).map(|c| Column::of(seen, c)).collect();
    let numbers = columns.contains(&Column::Numbers);
    let from_to = columns.iter().enumerate().any(|(at, column)| {
        let others = columns.iter().enumerate().skip(at + 1);
        column.is_of_times() && others.filter(|(_, o)| *o == column).any(|(o, _)| lasts(seen, at, o, numbers))
    });
    from_to || (!numbers && columns.iter().any(Column::is_of_times) && speaks(rows, first, &columns))
}

/// Of which kind nearly all cells of a column are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Column {
    Moments,
    Dates,
    OfDay,
    Numbers,
    Words,
    /// Nothing, or a mixture.
    Other,
}

impl Column {
    fn of(rows: &[Vec<Cell>], at: usize) -> Self {
        let cells: Vec<Cell> =
            rows.iter().filter_map(|row| row.get(at).copied()).filter(|c| *c != Cell::Empty).collect();
        let most = |is: fn(&Cell) -> bool| {
            !cells.is_empty() && cells.iter().filter(|c| is(c)).count() * 100 >= cells.len() * MOST
        };
        match () {
            () if cells.len() * 2 < rows.len() => Self::Other,
            () if most(|c| matches!(c, Cell::Moment(_))) => Self::Moments,
            () if most(|c| matches!(c, Cell::Date(_))) => Self::Dates,
            () if most(|c| matches!(c, Cell::OfDay(_))) => Self::OfDay,
            () if most(|c| *c == Cell::Words) => Self::Words,
            // A few numbers among words are some too.
            () if cells.contains(&Cell::Number) => Self::Numbers,
            () => Self::Other,
        }
    }

    fn is_of_times(&self) -> bool {
        matches!(self, Self::Moments | Self::Dates | Self::OfDay)
    }
}

/// Whether two columns of times say from when to when; beside numbers they must not be one time on two clocks.
fn lasts(rows: &[Vec<Cell>], from: usize, to: usize, numbers: bool) -> bool {
    let apart = rows.iter().filter_map(|row| match (row.get(from)?, row.get(to)?) {
        (Cell::Moment(a), Cell::Moment(b)) | (Cell::Date(a), Cell::Date(b)) => Some(b - a),
        (Cell::OfDay(a), Cell::OfDay(b)) => Some((b - a).rem_euclid(DAY_MS)),
        _ => None,
    });
    let apart: Vec<i64> = apart.collect();
    let different: BTreeSet<i64> = apart.iter().copied().collect();
    !apart.is_empty() && apart.iter().all(|ms| *ms >= 0) && (!numbers || different.len() > 2)
}

/// Whether a column of words says much: no mark for a reading that failed, again and again.
fn speaks(rows: &[Vec<&str>], first: usize, columns: &[Column]) -> bool {
    columns.iter().enumerate().filter(|(_, c)| **c == Column::Words).any(|(at, _)| {
        let words = || rows[first..].iter().filter_map(|row| row.get(at)).filter(|cell| !cell.is_empty());
        let different: BTreeSet<&&str> = words().collect();
        different.len() >= 3 && different.len() * 4 >= words().count()
    })
}

/// Whether rows follow each other as a logger stores them.
fn is_record(rows: &[Vec<Cell>]) -> bool {
    let time = |row: &Vec<Cell>| {
        let moment = row.iter().find_map(|c| if let Cell::Moment(ms) = c { Some(*ms) } else { None });
        let date = row.iter().find_map(|c| if let Cell::Date(ms) = c { Some(*ms) } else { None });
        let of_day = row.iter().find_map(|c| if let Cell::OfDay(ms) = c { Some(*ms) } else { None });
        moment.or_else(|| Some(date.unwrap_or(0) + of_day?))
    };
    let times: Vec<i64> = rows.iter().filter_map(time).collect();
    let mut steps: Vec<i64> = times.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|ms| *ms > 0).collect();
    steps.sort_unstable();
    let Some(usual) = steps.get(steps.len() / 2).copied().filter(|_| steps.len() >= 2) else { return false };
    let alike = steps.iter().filter(|ms| (**ms - usual).abs() * 20 <= usual).count();
    usual <= RECORD_STEP_MS && alike * 100 >= steps.len() * STEPS_ALIKE
}

fn cell_of(cell: &str) -> Cell {
    if numbers::is_missing(cell) {
        return Cell::Empty;
    }
    let ms = |fields: Fields| {
        let style = [DateStyle::Dmy, DateStyle::Mdy].into_iter().find_map(|style| fields.local(style));
        style.map(|local| local.ms())
    };
    if let Some(at) = times::parse(cell).and_then(ms) {
        return Cell::Moment(at);
    }
    if let Some(at) = times::parse_apart(cell, "00:00:00", "").and_then(ms) {
        return Cell::Date(at);
    }
    if let Some(at) = times::parse_apart("2000-01-01", cell, "").filter(|_| cell.contains(':')).and_then(ms) {
        return Cell::OfDay(at.rem_euclid(DAY_MS));
    }
    let unsigned = cell.trim_start_matches(['-', '+', '.', ',', '<', '>', '~']);
    match unsigned.starts_with(|c: char| c.is_ascii_digit()) || !cell.contains(char::is_alphabetic) {
        true => Cell::Number,
        false => Cell::Words,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is(text: &str) -> bool {
        is_table_of_events(&Sheet::decode(text.as_bytes()))
    }

    #[test]
    fn timetables_diaries_and_lists_of_events_are_no_exports() {
        for text in [
            "startHeat,endHeat\n2026-01-05T09:00:00Z,2026-01-05T15:30:00Z\n2026-01-06T09:00:00Z,2026-01-06T21:00:00Z\n2026-01-07T09:00:00Z,2026-01-07T20:30:00Z\n",
            "from;to;what;place\n05.01.2026 10:30;05.01.2026 16:30;choir;\n06.01.2026 10:30;06.01.2026 16:30;choir;\n",
            "day,on,off,setpoint\nMonday,06:00,22:00,21\nTuesday,06:00,21:00,21\nSaturday,08:00,23:30,20\n",
            "date,what\n2026-01-05,boiler serviced\n2026-01-09,window of the hall repaired\n2026-02-20,loggers read\n2026-02-21,radiator bled\n",
            "start,end,people\n2026-01-05 10:00,2026-01-05 12:00,14\n2026-01-05 19:00,2026-01-05 21:30,22\n2026-01-08 10:00,2026-01-08 13:00,18\n",
        ] {
            assert!(is(text), "{text}");
        }
    }

    #[test]
    fn damaged_exports_stay_exports() {
        let every = |behind: &dyn Fn(usize) -> String| -> String {
            (0..40).map(|n| format!("2026-01-05 {:02}:{:02}{}\n", n / 6, n % 6 * 10, behind(n))).collect()
        };
        let apart = every(&|n| format!(",ERR{}", n % 7)).replace("05 ", "05,");
        for text in [
            every(&|_| ",ERR".to_owned()),
            every(&|n| format!(",{}.May", n % 9 + 18)),
            every(&|_| ",,".to_owned()),
            apart,
            format!("time,value\n{}", every(&|n| format!(",#{n}bad"))),
            format!("time,utc,room (°C)\n{}", "2026-01-05 10:00,2026-01-05 16:00,cold\n2026-01-07 10:20,2026-01-07 16:20,warm\n"),
            "no times at all\n1,2\n3,4\n".to_owned(),
            "2026-01-05 10:00,21.5\n2026-01-05 13:00,21.7\n2026-01-06 13:10,21.9\n".to_owned(),
            "local,utc,a\n2026-01-05 10:00,2026-01-05 16:00,21.5\n2026-01-05 13:00,2026-01-05 19:00,21.7\n2026-01-06 13:10,2026-01-06 19:10,21.9\n".to_owned(),
            String::new(),
        ] {
            assert!(!is(&text), "{text}");
        }
    }
}
