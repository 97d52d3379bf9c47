//! The cells of the roster, and what stands in them.

use super::columns::REQUIRED;
use super::dates::DATES;
use super::roster_dates::{Read, RosterDates};
use super::sink::Sink;
use super::walk::UNBREAKABLE;
use super::{ClockSetting, Dates, Heated, Name, Placement, Purpose, Source};
use crate::clock::{Span, UtcTime};
use crate::texts::{shown, unguarded};
use crate::units::{KelvinDiff, TemperatureUnit};

/// A clock that ran further ahead than this, in seconds, was not ahead but wrong.
const MOST_FAST_S: f64 = 30.0 * 86400.0;

/// No logger in a room trails by more than this, in minutes; more is likely in seconds.
const MOST_TIME_CONSTANT_MIN: f64 = 60.0;

/// One row, understood.
pub(super) struct RosterRow {
    pub(super) line: u32,
    pub(super) home: String,
    pub(super) room: String,
    pub(super) purpose: Purpose,
    pub(super) heated: Heated,
    pub(super) floor: Option<String>,
    pub(super) stack: Option<String>,
    pub(super) placement: Option<Placement>,
}

/// Whether the roster knows the files of its loggers already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ExportsAre {
    /// A row with a logger names its file.
    Named,
    /// It may leave it out: nothing is recorded yet.
    ToCome,
}

/// The cells of one row, by name.
pub(super) struct Cells<'a> {
    pub(super) line: u32,
    pub(super) header: &'a [String],
    pub(super) cells: &'a [String],
    pub(super) dates: &'a RosterDates,
    pub(super) exports: ExportsAre,
}

impl Cells<'_> {
    fn get(&self, name: &str) -> Option<&str> {
        let at = self.header.iter().position(|h| h == name)?;
        self.cells.get(at).map(String::as_str).filter(|cell| !cell.is_empty())
    }

    fn required(&self, name: &str, sink: &mut Sink<'_>) -> Option<String> {
        let cell = self.get(name);
        if cell == Some(super::walk::LEFT_OPEN) {
            let hint = super::walk::LEFT_TO_YOU;
            let expected = if name == "heated" {
                "yes, no or unknown: whether the room has heating of its own"
            } else {
                name
            };
            sink.wrong(Some(self.line), &format!("`{name}` = \"decide\""), expected, hint);
            return None;
        }
        if cell.is_none() {
            let hint = match name {
                "logger" | "file" => {
                    "fill in the cell, or leave both `logger` and `file` empty for a room without a logger"
                }
                _ => "fill in the cell, or remove the row",
            };
            sink.wrong(
                Some(self.line),
                &format!("an empty `{name}`"),
                &format!("a {name} in each row"),
                hint,
            );
        }
        cell.map(str::to_owned)
    }

    /// The outer `None`: the cell is wrong; the inner: it is empty.
    fn parsed<T>(
        &self,
        name: &str,
        expected: &str,
        sink: &mut Sink<'_>,
        parse: impl Fn(&str) -> Option<T>,
    ) -> Option<Option<T>> {
        let Some(cell) = self.get(name) else { return Some(None) };
        let value = parse(cell);
        if value.is_none() {
            let hint = if cell == super::walk::LEFT_OPEN {
                super::walk::LEFT_TO_YOU
            } else if REQUIRED.iter().any(|c| c.name == name) {
                "correct the cell"
            } else {
                "correct the cell, or leave it empty"
            };
            sink.wrong(Some(self.line), &format!("`{name}` = \"{cell}\""), expected, hint);
        }
        value.map(Some)
    }

    pub(super) fn row(&self, sink: &mut Sink<'_>) -> Option<RosterRow> {
        let words: Vec<&str> = Purpose::ALL.iter().map(|(word, _)| *word).collect();
        let (home, room) = (self.required("home", sink), self.required("room", sink));
        let purpose =
            self.required("use", sink).and(self.parsed("use", &words.join(", "), sink, purpose)).flatten();
        let heated = match self.get("heated") {
            // What nobody wrote nobody knows.
            None => Some(Heated::Unknown),
            Some(_) => self
                .required("heated", sink)
                .and_then(|_| self.parsed("heated", "yes, no or unknown", sink, heated)?),
        };
        let placement = self.placement(sink);
        Some(RosterRow {
            line: self.line,
            home: home?,
            room: room?,
            purpose: purpose?,
            heated: heated?,
            floor: self.get("floor").map(str::to_owned),
            stack: self.get("line").map(str::to_owned),
            placement: placement?,
        })
    }

    /// The outer `None`: the cell is wrong, or its order of day and month was asked for; the inner: it is empty.
    fn date(&self, name: &str, end: bool, sink: &mut Sink<'_>) -> Option<Option<UtcTime>> {
        let Some(cell) = self.get(name) else { return Some(None) };
        match self.dates.instant(name, cell, end) {
            Read::As(time) => Some(Some(time)),
            Read::Open => None,
            Read::Wrong(hint) => {
                let expected = "a local date such as 2026-01-05, or date and time 2026-01-05 10:00";
                sink.wrong(Some(self.line), &format!("`{name}` = \"{cell}\""), expected, hint);
                None
            }
        }
    }

    /// The outer `None`: something is wrong; the inner: the room has no logger.
    fn placement(&self, sink: &mut Sink<'_>) -> Option<Option<Placement>> {
        let measure = |text: &str| text.parse::<f64>().ok().filter(|x| x.is_finite());
        let unit = self.parsed("unit", "°C or °F", sink, TemperatureUnit::parse);
        let clock = self.parsed("clock", "civil, utc or fixed -05:00", sink, ClockSetting::parse);
        let dates = self.parsed("dates", DATES.expected, sink, Dates::parse);
        let (from, to) = (self.date("from", false, sink), self.date("to", true, sink));
        let accuracy = self.parsed("accuracy_k", "a number of K above 0, such as 0.3", sink, |t| {
            measure(t).filter(|x| *x > 0.0)
        });
        let expected = "minutes above 0, at most 60: the time to 63 % of a step in air (a time to 90 % is 2.3 times that)";
        let time_constant = self.parsed("time_constant_min", expected, sink, |t| {
            measure(t).filter(|m| *m > 0.0 && *m <= MOST_TIME_CONSTANT_MIN)
        });
        let fast = self.parsed("clock_fast_s", "a number of seconds, at most 30 days", sink, |t| {
            measure(t).filter(|s| s.abs() <= MOST_FAST_S)
        });
        let height = self.parsed("height_m", "a number of metres", sink, measure);
        if self.get("logger").is_none() && self.get("file").is_none() {
            return Some(None);
        }
        let logger = self.required("logger", sink);
        let to_come = self.exports == ExportsAre::ToCome && self.get("file").is_none();
        let file = (!to_come).then(|| self.required("file", sink));
        let span = Span { from: from?.unwrap_or(Span::ALWAYS.from), to: to?.unwrap_or(Span::ALWAYS.to) };
        if span.from >= span.to {
            sink.wrong(
                Some(self.line),
                "`to` that is not after `from`",
                "from < to",
                "a bare date in `to` includes that day",
            );
        }
        let (unit, clock, dates, clock_fast_s) = (unit?, clock?, dates?, fast?);
        let column = self.get("column").map(str::to_owned);
        let source = |file| Source { file, column, unit, clock, dates, clock_fast_s, line: Some(self.line) };
        let file = match file {
            Some(named) => Some(Name::new(named?)),
            None => None,
        };
        let accuracy = accuracy?.map(KelvinDiff::new);
        Some(Some(Placement {
            logger: Name::new(logger?),
            sources: file.map(source).into_iter().collect(),
            span,
            accuracy,
            checked: None,
            time_constant_min: time_constant?,
            height_m: height?,
            line: self.line,
        }))
    }
}

/// What a room is used for, by its word: however it is cased, "Living room" and "bed room" too.
pub(super) fn purpose(text: &str) -> Option<Purpose> {
    let word: String = text
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '-' | '_'))
        .flat_map(char::to_lowercase)
        .collect();
    let word = word.strip_suffix("room").unwrap_or(&word);
    // "bedroom" is a room as it is.
    let named = |name: &str| name.strip_suffix("room").unwrap_or(name) == word;
    Purpose::ALL.iter().find(|(name, _)| named(name)).map(|(_, p)| *p)
}

fn heated(text: &str) -> Option<Heated> {
    match text.to_lowercase().as_str() {
        "yes" | "y" | "true" | "1" => Some(Heated::Yes),
        "no" | "n" | "false" | "0" => Some(Heated::No),
        "unknown" | "not known" | "?" => Some(Heated::Unknown),
        _ => None,
    }
}

/// Quotes that word processors put in the place of straight ones.
const CURLY: [char; 8] = ['“', '”', '„', '‟', '‘', '’', '‚', '‛'];

/// A cell without what spreadsheets and word processors put around and into it, nor what evenrooms put before it so that none
/// takes it for a formula. Names of files, of their columns and loggers stay as the exports have them; in others what would
/// act on a terminal is spelled out.
pub(super) fn plain_cell(column: &str, cell: &str) -> String {
    let cell = unguarded(cell.trim());
    let in_quotes = cell.strip_prefix(CURLY).and_then(|rest| rest.strip_suffix(CURLY));
    let cell = in_quotes.map_or(cell, str::trim);
    match column {
        "file" | "column" => cell.to_owned(),
        "logger" => cell.replace(UNBREAKABLE, " "),
        _ => shown(&cell.replace(UNBREAKABLE, " ")).into_owned(),
    }
}
