//! Which column, and which rows, are the series that a roster row means.

use super::dialect::{Dialect, speaks_of_loggers};
use super::headers::{is_another_quantity, is_no_room, is_reckoned, temperature_columns};
use super::logger_ids::{numbered_loggers, words_name_loggers};
use super::quantities::{Quantities, RowsOf};
use super::sheet::{MAX_CELLS, MAX_LINE, Sheet, split};
use super::vocabulary::{Holds, has_part, speaks_of};
use super::wanted::Wanted;
use crate::error::Trouble;
use crate::texts::name;

/// A column of values, and the column and name that pick its rows where the file holds several loggers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Selection {
    pub(super) column: usize,
    /// The relative humidity beside the temperature, where it is plain which column that is.
    pub(super) humidity: Option<usize>,
    pub(super) logger: Option<(usize, String)>,
    /// Of rows that say what they measured, those that are read.
    pub(super) rows_of: Option<RowsOf>,
}

/// Most loggers that one file may name.
const MOST_LOGGERS: usize = 5000;

/// The columns in which a few words come again and again, and these words.
pub(super) fn columns_of_words(sheet: &Sheet<'_>, dialect: &Dialect) -> Vec<(usize, Vec<String>)> {
    let candidates = dialect.columns.iter().enumerate().filter(|(_, c)| c.names_series).map(|(i, _)| i);
    candidates.map(|at| (at, names(sheet, dialect, at))).collect()
}

/// The column that names loggers, and the names, where the file has such a column with several names.
///
/// `words` are the columns of words, without those of the quantities; `asked` are the names that the roster gives.
pub(super) fn loggers(
    sheet: &Sheet<'_>,
    dialect: &Dialect,
    (words, quantities): (Vec<(usize, Vec<String>)>, Option<&Quantities>),
    asked: &[&str],
) -> Option<(usize, Vec<String>)> {
    let several = |names: &[String]| names.len() > 1 && names.len() < MOST_LOGGERS;
    let rows_of = quantities.and_then(|q| q.temperatures().next());
    let names_loggers = |(at, names): &(usize, Vec<String>)| {
        let column = &dialect.columns[*at];
        several(names)
            && quantities.is_none_or(|q| !q.holds(*at))
            && (speaks_of_loggers(&column.name)
                || asked.iter().any(|a| names.iter().any(|n| n.eq_ignore_ascii_case(a)))
                // Marks and events stand in few rows; a name that stands in every row says whose the row is.
                || (column.filled && words_name_loggers(sheet, dialect, *at, rows_of.as_ref())))
    };
    let named = words.into_iter().find(names_loggers);
    let numbered = || {
        let at = numbered_loggers(sheet, dialect, asked)?;
        Some((at, names(sheet, dialect, at))).filter(|(_, names)| several(names))
    };
    named.or_else(numbered)
}

fn names(sheet: &Sheet<'_>, dialect: &Dialect, at: usize) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    let mut cells = Vec::new();
    let mut last = 0;
    for (_, line) in sheet.lines().filter(|(n, l)| *n >= dialect.first_data_line && l.len() <= MAX_LINE) {
        split(line, dialect.delimiter, &mut cells);
        let Some(name) = cells.get(at).filter(|c| !c.is_empty() && dialect.time_ms(&cells).is_some()) else {
            continue;
        };
        if names.get(last).is_some_and(|n| n == name) {
            continue;
        }
        last = names.iter().position(|n| n == name).unwrap_or(names.len());
        if last == names.len() {
            names.push((*name).to_owned());
            if names.len() == MOST_LOGGERS {
                break;
            }
        }
    }
    names
}

/// The series that a roster row means.
///
/// # Errors
/// [`Trouble`] where the content leaves it open.
pub(super) fn select(
    dialect: &Dialect,
    (loggers, quantities): (&Option<(usize, Vec<String>)>, &Option<Quantities>),
    wanted: Wanted<'_>,
) -> Result<Selection, Trouble> {
    let logger = match loggers {
        Some((at, names)) => Some(pick_logger(*at, names, wanted)?),
        None => None,
    };
    let picked = quantities.as_ref().map(|q| q.pick(wanted)).transpose()?;
    let names_quantity = picked.as_ref().is_some_and(|(_, by_column)| *by_column);
    let column = match wanted.column.filter(|_| !names_quantity) {
        Some(column) => named(dialect, column)?,
        None => only_temperature(dialect, logger.as_ref().map(|(at, _)| *at))?,
    };
    let rows_of = picked.map(|(rows, _)| rows);
    Ok(Selection { column, humidity: humidity_beside(dialect, column), logger, rows_of })
}

/// The rows of the roster's logger.
fn pick_logger(at: usize, names: &[String], wanted: Wanted<'_>) -> Result<(usize, String), Trouble> {
    if let Some(name) = names.iter().find(|n| n.eq_ignore_ascii_case(wanted.logger)) {
        return Ok((at, name.clone()));
    }
    let shown: Vec<String> = names.iter().take(8).map(|n| name(n)).collect();
    Err(Trouble::new(
        format!(
            "the file holds {} loggers ({}{}), and none is \"{}\"",
            names.len(),
            shown.join(", "),
            if names.len() > 8 { " …" } else { "" },
            name(wanted.logger)
        ),
        "write the `logger` in the roster as the file writes it",
    ))
}

/// The column that the roster names, by header or by number.
fn named(dialect: &Dialect, wanted: &str) -> Result<usize, Trouble> {
    let wanted = wanted.trim();
    // A spreadsheet may have put another blank into either of them.
    let plain = |name: &str| name.replace('\u{a0}', " ");
    let same = |name: &str| {
        let (name, wanted) = (&plain(name), &plain(wanted));
        let bare = name.split(['(', '[']).next().unwrap_or(name);
        !name.is_empty() && (name.eq_ignore_ascii_case(wanted) || bare.trim().eq_ignore_ascii_case(wanted))
    };
    let columns = &dialect.columns;
    let all = |is: &dyn Fn(&str) -> bool| -> Vec<usize> {
        columns.iter().enumerate().filter(|(_, c)| is(&c.name)).map(|(i, _)| i).collect()
    };
    let mut matching = all(&|name| name == wanted);
    if matching.is_empty() {
        matching = all(&same);
    }
    if matching.len() > 1 {
        // "living (°C)" and "living (%)": a bare name means the temperature.
        matching.retain(|i| !is_another_quantity(&columns[*i].name));
    }
    if matching.len() > 1 {
        let numbers: Vec<String> = matching.iter().map(|i| (i + 1).to_string()).collect();
        return Err(Trouble::new(
            format!(
                "{} columns are named \"{}\" (columns {})",
                matching.len(),
                name(wanted),
                numbers.join(", ")
            ),
            "give `column` in the roster as a number, counted from 1",
        ));
    }
    let by_name = matching.first().copied();
    let by_number =
        wanted.parse::<usize>().ok().and_then(|n| n.checked_sub(1)).filter(|i| *i < columns.len());
    if by_name.is_none() && wanted.parse::<usize>().is_ok_and(|n| n > MAX_CELLS) {
        return Err(Trouble::new(
            format!("column {wanted} is asked for, and the first {MAX_CELLS} columns are looked at"),
            "export fewer columns into one file",
        ));
    }
    by_name.or(by_number).filter(|i| !dialect.time.holds(*i)).ok_or_else(|| {
        Trouble::new(
            format!("no column \"{}\"; columns with numbers are {}", name(wanted), listed(dialect)),
            "correct `column` in the roster: the header, or the column's number from 1",
        )
    })
}

fn listed(dialect: &Dialect) -> String {
    let shown = |(i, c): (usize, &super::dialect::Column)| {
        if c.name.is_empty() { format!("{}", i + 1) } else { format!("\"{}\"", name(&c.name)) }
    };
    let numeric: Vec<String> =
        dialect.columns.iter().enumerate().filter(|(_, c)| c.numeric).map(shown).collect();
    let shown = numeric[..numeric.len().min(20)].join(", ");
    if numeric.len() > 20 { format!("{shown} …") } else { shown }
}

/// The only column that can be a temperature.
fn only_temperature(dialect: &Dialect, logger: Option<usize>) -> Result<usize, Trouble> {
    let columns = &dialect.columns;
    let numeric = temperature_columns(dialect, logger);
    let is_temperature = |i: &usize| {
        let c = &columns[*i];
        c.says_temperature() || c.unit_in_cells || c.name.eq_ignore_ascii_case("t")
    };
    let mut temperatures: Vec<usize> = numeric.iter().copied().filter(is_temperature).collect();
    if temperatures.len() > 1 {
        // A dew point is told in °C beside the temperature that it was reckoned from.
        temperatures.retain(|i| !is_reckoned(&columns[*i].name));
    }
    match (numeric.as_slice(), temperatures.as_slice()) {
        ([one], _) | (_, [one]) if !is_no_room(&columns[*one].name) => Ok(*one),
        ([one], _) | (_, [one]) => Err(Trouble::new(
            format!(
                "the only column that can be a temperature is \"{}\", and by its name it is not what the air of a room was",
                name(&columns[*one].name)
            ),
            "export the measured temperature; where that is this column, give it as `column` in the roster",
        )),
        // A probe that was never connected writes a mark in every row: rows without a value, but rows.
        ([], _) if let [one] = empty_temperatures(dialect).as_slice() => Ok(*one),
        ([], _) => Err(Trouble::new(
            "no column with temperatures beside the time",
            "export the logger as text with a column for temperature",
        )),
        _ => Err(Trouble::new(
            format!("several columns with numbers ({}), and none is named for this room", listed(dialect)),
            "give the `column` in the roster",
        )),
    }
}

/// Columns whose header speaks of temperature, and which hold nothing.
pub(super) fn empty_temperatures(dialect: &Dialect) -> Vec<usize> {
    let columns = dialect.columns.iter().enumerate();
    let empty = columns.filter(|(i, c)| c.empty && !dialect.time.holds(*i) && c.says_temperature());
    empty.map(|(i, _)| i).collect()
}

/// The column with the relative humidity beside a temperature: the one of the same name, else the only one beside the
/// only temperature. Where several could be meant, none is.
pub(super) fn humidity_beside(dialect: &Dialect, temperature: usize) -> Option<usize> {
    let columns = &dialect.columns;
    let all: Vec<usize> = (0..columns.len())
        .filter(|i| columns[*i].numeric && is_relative_humidity(&columns[*i].name))
        .collect();
    let bare = |i: usize| {
        let name = &columns[i].name;
        name.split(['(', '[']).next().unwrap_or(name).trim().to_lowercase()
    };
    let of_same_name: Vec<usize> = all
        .iter()
        .copied()
        .filter(|i| !bare(temperature).is_empty() && bare(*i) == bare(temperature))
        .collect();
    let temperatures = (0..columns.len())
        .filter(|i| columns[*i].says_temperature())
        .filter(|i| !is_another_quantity(&columns[*i].name));
    match (of_same_name.as_slice(), all.as_slice()) {
        ([one], _) => Some(*one),
        ([], [one]) if temperatures.count() <= 1 => Some(*one),
        _ => None,
    }
}

/// Headers of relative humidity in per cent, in the languages of many loggers.
fn is_relative_humidity(name: &str) -> bool {
    const OTHERS: [Holds; 8] = [
        Holds::OtherHumidity,
        Holds::DewPoint,
        Holds::Alarm,
        Holds::Setpoint,
        Holds::Setting,
        Holds::Battery,
        Holds::Signal,
        Holds::Level,
    ];
    speaks_of(name, Holds::Humidity) && !has_part(name, &OTHERS)
}
