//! Text and dialect → the rows as they were written.

use super::dialect::{Dialect, Trouble, detect};
use super::numbers::{self, Cell};
use super::sheet::{Sheet, split};
use crate::site::DateOrder;
use crate::units::TemperatureUnit;

/// Which series of an export to read.
pub(super) struct Wanted<'a> {
    /// The roster's `column`; `None`: the only one there is.
    pub(super) columns: &'a [Option<&'a str>],
    /// The roster's `date_order`.
    pub(super) order: Option<DateOrder>,
}

/// The rows of an export: times on the logger's own clock, values in the unit as written.
pub(super) struct RawExport<'b> {
    pub(super) sheet: Sheet<'b>,
    pub(super) dialect: Dialect,
    /// Wall-clock milliseconds; UTC milliseconds where each time states its offset.
    pub(super) times_ms: Vec<i64>,
    pub(super) lines: Vec<u32>,
    pub(super) series: Vec<Series>,
    /// Rows whose time could not be read.
    pub(super) bad_times: Vec<u32>,
    pub(super) lines_before_data: u64,
    pub(super) blank_lines: u64,
}

/// One value column.
pub(super) struct Series {
    /// Its header, or its number where there is none.
    pub(super) name: String,
    /// Unit that header, preamble or cells state.
    pub(super) unit: Option<TemperatureUnit>,
    /// One value per row; NaN where the row has none.
    pub(super) values: Vec<f64>,
    /// Rows (by index) whose value could not be read, or is in another unit than the rest; rising.
    pub(super) bad_values: Vec<usize>,
}

impl RawExport<'_> {
    /// Lines of the file, as far as they have a number.
    pub(super) fn data_rows(&self) -> u64 {
        (self.times_ms.len() + self.bad_times.len()) as u64
    }
}

/// Reads the wanted columns.
///
/// # Errors
/// [`Trouble`] where the dialect or a column cannot be told.
pub(super) fn read<'b>(bytes: &'b [u8], wanted: &Wanted<'_>) -> Result<RawExport<'b>, Trouble> {
    let sheet = Sheet::decode(bytes);
    let dialect = detect(&sheet, wanted.order)?;
    let at: Vec<usize> = wanted.columns.iter().map(|c| select(&dialect, *c)).collect::<Result<_, _>>()?;
    let series = at.iter().map(|i| empty_series(&dialect, *i)).collect();
    let mut raw = RawExport {
        dialect,
        times_ms: Vec::new(),
        lines: Vec::new(),
        series,
        bad_times: Vec::new(),
        lines_before_data: 0,
        blank_lines: 0,
        sheet,
    };
    fill(&mut raw, &at);
    Ok(raw)
}

fn empty_series(dialect: &Dialect, at: usize) -> Series {
    let column = &dialect.columns[at];
    let name = if column.name.is_empty() { format!("{}", at + 1) } else { column.name.clone() };
    Series { name, unit: column.unit.or(dialect.preamble_unit), values: Vec::new(), bad_values: Vec::new() }
}

fn fill(raw: &mut RawExport<'_>, at: &[usize]) {
    let RawExport { sheet, dialect, times_ms, lines, series, bad_times, lines_before_data, blank_lines } =
        raw;
    let mut cells = Vec::new();
    for (number, line) in sheet.lines() {
        if number < dialect.first_data_line {
            *lines_before_data += 1;
            continue;
        }
        if line.trim().is_empty() {
            *blank_lines += 1;
            continue;
        }
        split(line, dialect.delimiter, &mut cells);
        let Some(time_ms) = read_time(dialect, &cells) else {
            bad_times.push(number);
            continue;
        };
        times_ms.push(time_ms);
        lines.push(number);
        for (series, at) in series.iter_mut().zip(at) {
            series.push(cells.get(*at).copied(), dialect.decimal);
        }
    }
}

fn read_time(dialect: &Dialect, cells: &[&str]) -> Option<i64> {
    let fields = dialect.time.read(cells)?;
    let local = fields.local(dialect.style)?;
    match (dialect.times_state_offset, fields.offset_s) {
        (true, Some(offset_s)) => Some(local.at_offset(offset_s).ms()),
        (false, None) => Some(local.ms()),
        // A time that states an offset among times that do not (or the other way round) is on another clock.
        _ => None,
    }
}

impl Series {
    fn push(&mut self, cell: Option<&str>, decimal: u8) {
        let value = match cell.map(|c| numbers::parse(c, decimal)) {
            Some(Cell::Number(value, None)) => value,
            Some(Cell::Number(value, Some(unit))) if *self.unit.get_or_insert(unit) == unit => value,
            Some(Cell::Missing) => f64::NAN,
            _ => {
                self.bad_values.push(self.values.len());
                f64::NAN
            }
        };
        self.values.push(value);
    }
}

/// The column that the roster names, by header or by number; without a name, the only temperature there is.
fn select(dialect: &Dialect, wanted: Option<&str>) -> Result<usize, Trouble> {
    let columns = &dialect.columns;
    let listed = || {
        let names = columns.iter().enumerate().filter(|(_, c)| c.numeric);
        names
            .map(|(i, c)| if c.name.is_empty() { format!("{}", i + 1) } else { format!("\"{}\"", c.name) })
            .collect::<Vec<_>>()
            .join(", ")
    };
    if let Some(wanted) = wanted {
        let same = |name: &str| {
            name.eq_ignore_ascii_case(wanted.trim())
                || name.split(['(', '[']).next().is_some_and(|n| n.trim().eq_ignore_ascii_case(wanted.trim()))
        };
        let exact = columns.iter().position(|c| c.name == wanted.trim());
        let by_name = exact.or_else(|| columns.iter().position(|c| !c.name.is_empty() && same(&c.name)));
        let by_number =
            wanted.trim().parse::<usize>().ok().and_then(|n| n.checked_sub(1)).filter(|i| *i < columns.len());
        return by_name.or(by_number).ok_or_else(|| {
            Trouble::new(
                format!("no column \"{wanted}\"; columns with numbers are {}", listed()),
                "correct `column` in the roster: the header, or the column's number from 1",
            )
        });
    }
    let numeric: Vec<usize> =
        (0..columns.len()).filter(|i| columns[*i].numeric && !is_row_number(&columns[*i].name)).collect();
    let temperatures: Vec<usize> = numeric
        .iter()
        .copied()
        .filter(|i| columns[*i].unit.is_some() || columns[*i].name.to_lowercase().contains("temp"))
        .collect();
    match (numeric.as_slice(), temperatures.as_slice()) {
        ([one], _) | (_, [one]) => Ok(*one),
        ([], _) => Err(Trouble::new(
            "no column with numbers beside the time",
            "export the logger as text with a column for temperature",
        )),
        _ => Err(Trouble::new(
            format!("several columns with numbers ({}), and none is named for this room", listed()),
            "give the `column` in the roster",
        )),
    }
}

fn is_row_number(name: &str) -> bool {
    ["#", "no", "no.", "nr", "nr.", "n", "row", "index", "id", "record"]
        .iter()
        .any(|n| name.eq_ignore_ascii_case(n))
}
