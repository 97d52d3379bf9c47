//! The series that is read of an export.

use std::mem::take;

use super::dialect::Dialect;
use super::numbers::{self, Cell};
use super::rows::Rows;
use super::runs::Runs;
use super::select::Selection;
use super::words::Said;
use crate::texts::name;
use crate::units::TemperatureUnit;

/// Letters of a column's name that stand beside each of its bad values.
const NAME_LETTERS: usize = 80;

/// One series: times on the logger's own clock, values in the unit as written.
#[derive(Clone)]
pub(super) struct Series {
    /// Its header, or its number where it has none of its own.
    pub(super) name: String,
    /// Unit that header, preamble or cells state.
    pub(super) unit: Option<TemperatureUnit>,
    /// All units that are stated for it before its rows, and what states each.
    pub(super) units: Vec<(TemperatureUnit, &'static str)>,
    /// Wall-clock milliseconds, UTC where the dialect says so.
    pub(super) times_ms: Vec<i64>,
    /// Line of each row.
    pub(super) lines: Vec<u32>,
    /// One value per row; NaN where the row has none.
    pub(super) values: Vec<f64>,
    /// Relative humidity per row in %, NaN where a row has none; empty where there is no column for it.
    pub(super) humidity: Vec<f64>,
    /// Rows (by index, rising) whose value could not be read, and what is wrong with it where that can be said.
    pub(super) bad_values: Runs<&'static str>,
    /// Those of them that hold a word in the place of a number, and what it says.
    pub(super) words: Runs<Said>,
    /// Lines whose time could not be read, and what stood in its place where that can be said.
    pub(super) bad_times: Runs<&'static str>,
    /// Values that stand for "no data", and how often they were seen.
    pub(super) marks: Vec<(f64, u64)>,
    pub(super) selection: Selection,
}

impl Series {
    /// Data rows of this series.
    pub(super) fn rows_seen(&self) -> u64 {
        (self.times_ms.len() + self.bad_times.len()) as u64
    }

    /// The lines of all its data rows.
    pub(super) fn all_lines(&self) -> impl Iterator<Item = u32> {
        self.lines.iter().copied().chain(self.bad_times.iter().map(|(line, _)| line))
    }

    /// Which value is bad, and what is wrong with it.
    pub(super) fn bad_value_words(&self, why: &str) -> String {
        let mark = if why.is_empty() { "" } else { ": " };
        let short: String = self.name.chars().take(NAME_LETTERS).collect();
        format!("column \"{}\"{mark}{why}", name(&short))
    }

    /// Takes its rows out, with the times and the values as they were written.
    pub(super) fn take_rows(&mut self) -> Rows {
        let Self { times_ms, values, humidity, lines, .. } = self;
        Rows::of_one(take(times_ms), take(values), take(humidity), take(lines))
    }

    /// Takes it out of what was read; what is left knows its column, but has no rows.
    pub(super) fn hand_over(&mut self) -> Self {
        let Self { times_ms, lines, values, humidity, bad_values, words, bad_times, .. } = self;
        let (times_ms, lines, values, humidity) = (take(times_ms), take(lines), take(values), take(humidity));
        let (bad_values, words, bad_times) = (take(bad_values), take(words), take(bad_times));
        Self { times_ms, lines, values, humidity, bad_values, words, bad_times, ..self.clone() }
    }

    pub(super) fn new(dialect: &Dialect, selection: Selection) -> Self {
        let column = &dialect.columns[selection.column];
        let alike = dialect.columns.iter().filter(|c| c.name.eq_ignore_ascii_case(&column.name)).count();
        let name = match column.name.as_str() {
            "" => format!("{}", selection.column + 1),
            _ if alike > 1 => format!("{}", selection.column + 1),
            name => name.to_owned(),
        };
        let units = [
            (selection.rows_of.as_ref().and_then(|rows| rows.unit), "what stands in its rows"),
            (column.unit, "its header"),
            (dialect.preamble_unit, "a line above the header"),
        ];
        let units: Vec<_> = units.into_iter().filter_map(|(unit, who)| Some((unit?, who))).collect();
        let unit = units.first().map(|(unit, _)| *unit);
        let (times_ms, lines, values) = (Vec::new(), Vec::new(), Vec::new());
        Self {
            name,
            unit,
            units,
            times_ms,
            lines,
            values,
            humidity: Vec::new(),
            bad_values: Runs::default(),
            words: Runs::default(),
            bad_times: Runs::default(),
            marks: Vec::new(),
            selection,
        }
    }

    /// A series of nothing but values.
    #[cfg(test)]
    pub(super) fn of_values(values: Vec<f64>) -> Self {
        use super::{raw::Opening, select::select, sheet::Sheet, wanted::Wanted};
        let text = "time,temp\n2026-01-05 13:10:00,21.4\n2026-01-05 13:15:00,21.5\n";
        let opening = Opening::new(Sheet::decode(text.as_bytes()), None, &[]).expect("rows");
        let wanted = Wanted { column: None, logger: "L-1" };
        let selection =
            select(&opening.dialect, (&opening.loggers, &opening.quantities), wanted).expect("one column");
        Self { values, ..Self::new(&opening.dialect, selection) }
    }

    /// Makes room for so many rows.
    pub(super) fn reserve(&mut self, rows: usize) {
        self.times_ms.reserve(rows);
        self.lines.reserve(rows);
        self.values.reserve(rows);
        if self.selection.humidity.is_some() {
            self.humidity.reserve(rows);
        }
    }

    /// Whether a row belongs to the series; a row too short to name its logger, or what it measured, does.
    pub(super) fn owns(&self, cells: &[&str]) -> bool {
        let logger = self.selection.logger.iter().map(|(at, name)| (*at, name));
        let mut asked = logger.chain(self.selection.rows_of.iter().map(|rows| (rows.column, &rows.name)));
        asked.all(|(at, name)| cells.get(at).is_none_or(|c| c.eq_ignore_ascii_case(name)))
    }

    /// Adds a row of cells, with its time or why it has none.
    pub(super) fn add_row(
        &mut self,
        dialect: &Dialect,
        cells: &[&str],
        line: u32,
        time_ms: Result<i64, &'static str>,
    ) {
        // Between blanks, a missing value moves the next column into its place.
        let shifted = dialect.delimiter.is_blanks() && cells.len() < dialect.columns.len();
        let cell = |at: usize| cells.get(at).copied().filter(|_| !shifted);
        match time_ms {
            Ok(time_ms) => {
                let column = self.selection.column;
                self.push(time_ms, line, cell(column), dialect.columns[column].decimal);
                if let Some(at) = self.selection.humidity {
                    self.push_humidity(cell(at), dialect.columns[at].decimal);
                }
            }
            Err(why) => self.bad_times.push(line, why),
        }
    }

    pub(super) fn push(&mut self, time_ms: i64, line: u32, cell: Option<&str>, decimal: u8) {
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
                if let Some(cell) = cell.filter(|_| bad == Some(Cell::Unreadable)) {
                    self.words.push(self.values.len() as u32, Said::of(cell));
                }
                self.bad_values.push(self.values.len() as u32, why);
                f64::NAN
            }
        };
        self.times_ms.push(time_ms);
        self.lines.push(line);
        self.values.push(value);
    }

    /// A humidity that cannot be read is missing: the temperature beside it stays.
    pub(super) fn push_humidity(&mut self, cell: Option<&str>, decimal: u8) {
        let number =
            cell.map(|c| numbers::parse(c.trim_end_matches(['%', 'R', 'r', 'H', 'h', ' ']), decimal));
        self.humidity.push(match number {
            Some(Cell::Number(percent, None)) => percent,
            _ => f64::NAN,
        });
    }
}
