//! Text and dialect → the rows as they were written.

use super::dialect::{Dialect, LineBefore, detect};
use super::marks;
use super::numbers::{self, Cell};
use super::select::{Selection, select};
use super::sheet::{MAX_LINE, Sheet, split};
use crate::error::Trouble;
use crate::site::Dates;
use crate::units::TemperatureUnit;

/// Which series of an export to read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Wanted<'a> {
    /// The roster's `column`; `None`: the only one there is.
    pub(super) column: Option<&'a str>,
    /// The roster's `logger`: it picks the rows where a column names loggers.
    pub(super) logger: &'a str,
}

/// The rows of an export.
pub(super) struct RawExport<'b> {
    pub(super) sheet: Sheet<'b>,
    pub(super) dialect: Dialect,
    pub(super) series: Vec<Series>,
    /// Preamble and header lines, those too that came again in the middle.
    pub(super) header_lines: u64,
    pub(super) blank_lines: u64,
    /// Lines with data, or what should be data.
    pub(super) data_lines: u64,
    /// Loggers that the file names, where it holds several.
    pub(super) loggers: Vec<String>,
    /// Line of a header or preamble unlike the first, from which on nothing was read.
    pub(super) other_from: Option<u32>,
}

/// One series: times on the logger's own clock, values in the unit as written.
pub(super) struct Series {
    /// Its header, or its number where there is none.
    pub(super) name: String,
    /// Unit that header, preamble or cells state.
    pub(super) unit: Option<TemperatureUnit>,
    /// Wall-clock milliseconds, UTC where the dialect says so.
    pub(super) times_ms: Vec<i64>,
    /// Line of each row.
    pub(super) lines: Vec<u32>,
    /// One value per row; NaN where the row has none.
    pub(super) values: Vec<f64>,
    /// Relative humidity per row in %, NaN where a row has none; empty where there is no column for it.
    pub(super) humidity: Vec<f64>,
    /// Rows (by index, rising) whose value could not be read, and what is wrong with it where that can be said.
    pub(super) bad_values: Vec<(usize, &'static str)>,
    /// Lines whose time could not be read, and what stood in its place where that can be said.
    pub(super) bad_times: Vec<(u32, &'static str)>,
    /// Values that stand for "no data", and how often they were seen.
    pub(super) marks: Vec<(f64, u64)>,
    pub(super) selection: Selection,
}

impl Series {
    /// Data rows of this series.
    pub(super) fn rows_seen(&self) -> u64 {
        (self.times_ms.len() + self.bad_times.len()) as u64
    }

    /// Which value is bad, and what is wrong with it.
    pub(super) fn bad_value_words(&self, why: &str) -> String {
        let mark = if why.is_empty() { "" } else { ": " };
        format!("column \"{}\"{mark}{why}", self.name)
    }

    fn new(dialect: &Dialect, selection: Selection) -> Self {
        let column = &dialect.columns[selection.column];
        let name =
            if column.name.is_empty() { format!("{}", selection.column + 1) } else { column.name.clone() };
        let unit = column.unit.or(dialect.preamble_unit);
        let (times_ms, lines, values) = (Vec::new(), Vec::new(), Vec::new());
        Self {
            name,
            unit,
            times_ms,
            lines,
            values,
            humidity: Vec::new(),
            bad_values: Vec::new(),
            bad_times: Vec::new(),
            marks: Vec::new(),
            selection,
        }
    }

    /// Whether a row belongs to the series; a row too short to name its logger, or what it measured, does.
    fn owns(&self, cells: &[&str], temperature_rows: Option<&(usize, String)>) -> bool {
        let asked = self.selection.logger.iter().chain(temperature_rows);
        asked.into_iter().all(|(at, name)| cells.get(*at).is_none_or(|c| c.eq_ignore_ascii_case(name)))
    }

    fn push(&mut self, time_ms: i64, line: u32, cell: Option<&str>, decimal: u8) {
        let value = match cell.map(|c| numbers::parse(c, decimal)) {
            Some(Cell::Number(value, None)) => value,
            Some(Cell::Number(value, Some(unit))) if *self.unit.get_or_insert(unit) == unit => value,
            Some(Cell::Missing) => f64::NAN,
            bad => {
                let why = match bad {
                    Some(Cell::Number(..)) => "in another unit than the rows before it",
                    None => "the row ends before it",
                    _ => "",
                };
                self.bad_values.push((self.values.len(), why));
                f64::NAN
            }
        };
        self.times_ms.push(time_ms);
        self.lines.push(line);
        self.values.push(value);
    }

    /// A humidity that cannot be read is missing: the temperature beside it stays.
    fn push_humidity(&mut self, cell: Option<&str>, decimal: u8) {
        let number =
            cell.map(|c| numbers::parse(c.trim_end_matches(['%', 'R', 'r', 'H', 'h', ' ']), decimal));
        self.humidity.push(match number {
            Some(Cell::Number(percent, None)) => percent,
            _ => f64::NAN,
        });
    }
}

/// One text, its dialect told, before any series of it is read.
pub(super) struct Opening<'b> {
    sheet: Sheet<'b>,
    pub(super) dialect: Dialect,
    /// The column that names loggers, and the names, where the file holds several.
    pub(super) loggers: Option<(usize, Vec<String>)>,
}

impl<'b> Opening<'b> {
    /// Tells how a text is written; `asked` are loggers that the roster expects in it.
    ///
    /// # Errors
    /// [`Trouble`] where that cannot be told.
    pub(super) fn new(sheet: Sheet<'b>, dates: Option<Dates>, asked: &[&str]) -> Result<Self, Trouble> {
        let dialect = detect(&sheet, dates)?;
        let loggers = super::select::loggers(&sheet, &dialect, asked);
        Ok(Self { sheet, dialect, loggers })
    }

    /// Reads the series of some roster rows: the export, and for each row the place of its series, or why it has none.
    pub(super) fn read_wanted(self, all: &[Wanted<'_>]) -> (RawExport<'b>, Vec<Result<usize, Trouble>>) {
        let mut selections = Vec::new();
        let mut places = Vec::new();
        for (at, wanted) in all.iter().enumerate() {
            if self.loggers.is_none()
                && all[..at].iter().any(|w| w.column == wanted.column && w.logger != wanted.logger)
            {
                let what = format!(
                    "the roster takes one column for logger {} and for another, and the file names no loggers",
                    wanted.logger
                );
                places.push(Err(Trouble::new(what, "give each row its own `file` or `column`")));
                continue;
            }
            places.push(select(&self.dialect, &self.loggers, *wanted).map(|selection| {
                selections.push(selection);
                selections.len() - 1
            }));
        }
        (self.read(selections), places)
    }

    /// Reads some series.
    pub(super) fn read(self, selections: Vec<Selection>) -> RawExport<'b> {
        let Self { sheet, dialect, loggers } = self;
        let series = selections.into_iter().map(|s| Series::new(&dialect, s)).collect();
        let loggers = loggers.map(|(_, names)| names).unwrap_or_default();
        let mut raw = RawExport {
            dialect,
            series,
            header_lines: 0,
            blank_lines: 0,
            data_lines: 0,
            loggers,
            other_from: None,
            sheet,
        };
        fill(&mut raw);
        raw
    }
}

fn fill(raw: &mut RawExport<'_>) {
    let RawExport { sheet, dialect, series, header_lines, blank_lines, data_lines, other_from, .. } = raw;
    let temperature_rows = dialect.temperature_rows();
    let mut cells = Vec::new();
    let mut last_line = 0;
    for (number, line) in sheet.lines() {
        if line.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}' || c == '\u{1a}').is_empty() {
            *blank_lines += 1;
            continue;
        }
        if number < dialect.first_data_line {
            *header_lines += 1;
            continue;
        }
        let mut time_ms = None;
        cells.clear();
        let too_long = line.len() > MAX_LINE;
        if !too_long {
            split(line, dialect.delimiter, &mut cells);
            time_ms = dialect.time_ms(&cells);
        }
        if time_ms.is_none() {
            match dialect.line_before(line) {
                Some(LineBefore::Same) => {
                    *header_lines += 1;
                    continue;
                }
                // Below another header or preamble the columns, the unit or the logger may be others.
                Some(LineBefore::Other) => *other_from = other_from.or(Some(number)),
                None => {}
            }
        }
        let time_ms = time_ms.filter(|_| other_from.is_none());
        *data_lines += 1;
        last_line = number;
        // Between blanks, a missing value moves the next column into its place.
        let shifted = dialect.delimiter.is_blanks() && cells.len() < dialect.columns.len();
        for series in series.iter_mut().filter(|s| s.owns(&cells, temperature_rows.as_ref())) {
            let cell = cells.get(series.selection.column).copied().filter(|_| !shifted);
            match time_ms {
                Some(time_ms) => {
                    series.push(time_ms, number, cell, dialect.columns[series.selection.column].decimal);
                    if let Some(at) = series.selection.humidity {
                        let cell = cells.get(at).copied().filter(|_| !shifted);
                        series.push_humidity(cell, dialect.columns[at].decimal);
                    }
                }
                None if too_long => series.bad_times.push((number, "a line of more than a megabyte")),
                None => series.bad_times.push((number, dialect.why_no_time(&cells))),
            }
        }
    }
    for series in series.iter_mut() {
        marks::take_out(series);
        if !sheet.is_finished() {
            marks::refuse_cut_off(sheet, dialect, series, series.selection.column, last_line);
        }
    }
}
