//! Dates of the roster: with the year first, or as a spreadsheet rewrote them.
//!
//! Settled here, and why:
//! - **Dates of the roster** that a spreadsheet rewrote: a day over 12 in `from` or `to` tells the order of all of them;
//!   that `from` lies before `to` tells nothing. Years of two digits and day numbers are refused. A workbook's dates
//!   carry a midnight that nobody wrote: it is dropped where all of their column have it.

use super::parse_instant;
use super::sink::Sink;
use crate::clock::{UtcTime, Zone};

/// A cell with a date, and where it stands.
pub(super) struct DateCell<'a> {
    pub(super) line: u32,
    pub(super) column: &'a str,
    pub(super) text: &'a str,
}

/// What a cell with a date comes to.
pub(super) enum Read {
    /// This.
    As(UtcTime),
    /// Day and month could be either, which was told for all such cells at once.
    Open,
    /// No date; a hint.
    Wrong(&'static str),
}

/// Which of the first two numbers of a date is the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Order {
    DayFirst,
    MonthFirst,
}

/// How the dates of a roster are read: one person wrote them all, so that one cell may tell the order of the others.
pub(super) struct RosterDates {
    zone: Zone,
    /// `None`: no cell tells it, or two cells tell it differently.
    order: Option<Order>,
    /// Columns in which a workbook's dates carry a midnight that nobody wrote.
    bare: Vec<String>,
}

/// A midnight as a workbook's dates are shown.
const MIDNIGHT: &str = " 00:00:00.000";

impl RosterDates {
    /// Looks through all dates of the roster.
    pub(super) fn told(cells: &[DateCell<'_>], zone: Zone, sink: &mut Sink<'_>) -> Self {
        let columns = ["from", "to"].into_iter().filter(|name| {
            let with_time = |c: &&DateCell<'_>| c.column == *name && c.text.contains(':');
            cells.iter().filter(with_time).all(|c| c.text.ends_with(MIDNIGHT))
        });
        let bare = columns.map(str::to_owned).collect();
        Self { zone, order: order(cells, sink), bare }
    }

    /// The instant of a cell; `end`: a bare date means the end of that day.
    pub(super) fn instant(&self, column: &str, text: &str, end: bool) -> Read {
        let text = match self.bare.iter().any(|name| name == column) {
            true => text.strip_suffix(MIDNIGHT).unwrap_or(text),
            false => text,
        };
        let Some(written) = Written::of(text) else {
            let instant = parse_instant(&with_hyphens(text), self.zone, end);
            return instant.map_or_else(|| Read::Wrong(hint(text)), Read::As);
        };
        let date = match (written.is_open(), self.order.or(written.tells())) {
            (true, None) => return Read::Open,
            (_, order) => written.ymd(order.unwrap_or(Order::DayFirst)),
        };
        let instant = written.time().and_then(|time| parse_instant(&(date + &time), self.zone, end));
        instant.map_or_else(|| Read::Wrong(hint(text)), Read::As)
    }
}

/// `2026/01/05` and `2026.01.05` are `2026-01-05`.
fn with_hyphens(text: &str) -> String {
    let (date, rest) = text.split_at(text.find(' ').unwrap_or(text.len()));
    date.replace(['/', '.'], "-") + rest
}

/// What would make a cell readable.
fn hint(text: &str) -> &'static str {
    if text == super::walk::LEFT_OPEN {
        super::walk::LEFT_TO_YOU
    } else if text.parse::<f64>().is_ok() {
        "a spreadsheet's number of the day: set the format of the column to a date with the year first, and save again"
    } else if text.starts_with(|c: char| c.is_ascii_digit()) && text.find(['-', '/', '.']) == Some(4) {
        "there is no such day or time: correct the cell"
    } else if text.contains(|c: char| c.is_ascii_digit()) {
        "write the year first, in four digits, then month and day: 2026-01-05"
    } else {
        "correct the cell, or leave it empty"
    }
}

/// Day and month, told by a number over 12; asked for once where no cell tells, or where two cells disagree.
fn order(cells: &[DateCell<'_>], sink: &mut Sink<'_>) -> Option<Order> {
    let dates = || cells.iter().filter_map(|c| Some((c, Written::of(c.text)?)));
    let telling = |order| dates().find(|(_, date)| date.tells() == Some(order)).map(|(cell, _)| cell);
    let expected = "dates with the year first, such as 2026-01-05";
    match (telling(Order::DayFirst), telling(Order::MonthFirst)) {
        (Some(_), None) => Some(Order::DayFirst),
        (None, Some(_)) => Some(Order::MonthFirst),
        (Some(a), Some(b)) => {
            let found = format!(
                "`{}` = \"{}\" with the day first, and in line {} `{}` = \"{}\" with the month first",
                a.column, a.text, b.line, b.column, b.text
            );
            let hint = "somebody's spreadsheet rewrote some of them: look at each date in `from` and `to`, and write it with the year first";
            sink.wrong(Some(a.line), &found, expected, hint);
            None
        }
        (None, None) => {
            let mut open = dates().filter(|(_, date)| date.is_open());
            let (first, _) = open.next()?;
            let more = match open.count() {
                0 => String::new(),
                n => format!(" (and {n} more like it)"),
            };
            let found = format!(
                "`{}` = \"{}\"{more}, which can be read with the day first or with the month first",
                first.column, first.text
            );
            let hint = "write these dates with the year first; one date with a day after the 12th would tell the order of all of them too";
            sink.wrong(Some(first.line), &found, expected, hint);
            None
        }
    }
}

/// A date as spreadsheets write it, the year last.
struct Written<'a> {
    first: u32,
    second: u32,
    year: u32,
    rest: &'a str,
}

impl<'a> Written<'a> {
    /// `None` where the year is not last, or has not four digits.
    fn of(text: &'a str) -> Option<Self> {
        let (date, rest) = text.split_at(text.find(' ').unwrap_or(text.len()));
        let separator = date.chars().find(|c| matches!(c, '/' | '.' | '-'))?;
        let parts: Vec<&str> = date.split(separator).collect();
        let [first, second, year] = parts.as_slice() else { return None };
        let number = |text: &str, most: usize| {
            let plain = !text.is_empty() && text.len() <= most && text.bytes().all(|b| b.is_ascii_digit());
            plain.then(|| text.parse().ok()).flatten()
        };
        let year = number(year, 4).filter(|_| year.len() == 4)?;
        Some(Self { first: number(first, 2)?, second: number(second, 2)?, year, rest: rest.trim() })
    }

    fn tells(&self) -> Option<Order> {
        match (self.first > 12, self.second > 12) {
            (true, false) => Some(Order::DayFirst),
            (false, true) => Some(Order::MonthFirst),
            _ => None,
        }
    }

    /// Whether both orders give a date, and not the same one.
    fn is_open(&self) -> bool {
        self.first <= 12 && self.second <= 12 && self.first != self.second
    }

    fn ymd(&self, order: Order) -> String {
        let (month, day) = match order {
            Order::DayFirst => (self.second, self.first),
            Order::MonthFirst => (self.first, self.second),
        };
        format!("{:04}-{month:02}-{day:02}", self.year)
    }

    /// ` 14:30` for `2:30 PM`; nothing for a bare date.
    fn time(&self) -> Option<String> {
        if self.rest.is_empty() {
            return Some(String::new());
        }
        let lower = self.rest.to_lowercase();
        let half = ["am", "pm"].into_iter().find(|half| lower.ends_with(half));
        let Some(half) = half else { return Some(format!(" {}", self.rest)) };
        let (hour, minutes) = lower.trim_end_matches(half).trim().split_once(':')?;
        let hour: u32 = hour.parse().ok().filter(|h| (1..=12).contains(h))?;
        let hour = hour % 12 + if half == "pm" { 12 } else { 0 };
        Some(format!(" {hour:02}:{minutes}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_of_twelve_hours_is_read() {
        let time = |text: &str| Written::of(text).and_then(|w| w.time());
        for (text, want) in [
            ("1/20/2026 12:05 AM", " 00:05"),
            ("1/20/2026 12:05 PM", " 12:05"),
            ("1/20/2026 2:30:00 pm", " 14:30:00"),
            ("1/20/2026", ""),
            ("20.01.2026 7:05", " 7:05"),
        ] {
            assert_eq!(time(text).as_deref(), Some(want), "{text}");
        }
        assert_eq!(time("1/20/2026 13:05 PM"), None);
    }
}
