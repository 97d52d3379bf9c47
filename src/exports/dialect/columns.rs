//! Headers: names, units, clocks.

use super::super::numbers::{self, Cell};
use super::super::sheet::{Delimiter, split};
use super::layout::{Layout, SAMPLE_ROWS};
use super::{StatedClock, each_row};
use crate::clock::{Zone, parse_offset_s};
use crate::error::Trouble;
use crate::exports::sheet::Sheet;
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
}

/// What the sample says about one column.
#[derive(Default)]
struct Tally<'s> {
    numbers: usize,
    others: usize,
    short_whole: usize,
    with_unit: usize,
    different: Vec<&'s str>,
    seen: usize,
}

/// The columns, and which line before the data is their header.
pub(super) fn read(
    sheet: &Sheet<'_>,
    layout: &Layout,
    before: &[&str],
) -> Result<(Vec<Column>, Option<usize>), Trouble> {
    let tally = tally(sheet, layout);
    let mut cells = Vec::new();
    let header = (0..before.len()).rev().find(|i| !before[*i].trim().is_empty()).filter(|i| {
        split(before[*i], layout.delimiter, &mut cells);
        let values = cells
            .iter()
            .filter(|c| matches!(numbers::parse(c, layout.decimal), Cell::Number(_, None)))
            .count();
        cells.len() > 1 && cells.len() * 2 >= tally.len() && values * 2 < cells.len()
    });
    let mut names: Vec<&str> = Vec::new();
    if let Some(at) = header {
        split(before[at], layout.delimiter, &mut names);
    }
    refuse_split_decimals(layout, &names, &tally)?;
    let column = |(i, t): (usize, &Tally<'_>)| {
        let name = names.get(i).copied().unwrap_or_default().to_owned();
        let named = ["logger", "serial", "sensor", "device", "probe", "station", "channel"]
            .iter()
            .any(|w| name.to_lowercase().contains(w));
        Column {
            unit: unit_in(&name),
            numeric: t.numbers > t.others * 4,
            names_series: !layout.time.holds(i)
                && t.seen > 0
                && (named || t.others > t.numbers)
                && t.different.len() * 2 <= t.seen.max(2),
            unit_in_cells: t.with_unit > 0,
            name,
        }
    };
    Ok((tally.iter().enumerate().map(column).collect(), header))
}

fn tally<'s>(sheet: &'s Sheet<'_>, layout: &Layout) -> Vec<Tally<'s>> {
    let mut tally: Vec<Tally<'s>> = Vec::new();
    let mut rows = 0;
    each_row(sheet, layout.first_data_line, layout.delimiter, |_, cells| {
        let timed = if layout.counted {
            layout.time.first(cells).is_some_and(|c| !c.is_empty())
        } else {
            layout.time.read(cells).is_some()
        };
        if timed {
            rows += 1;
            tally.resize_with(tally.len().max(cells.len()), Tally::default);
            for (i, cell) in cells.iter().enumerate().filter(|(i, _)| !layout.time.holds(*i)) {
                tally[i].see(cell, layout.decimal);
            }
        }
        rows < SAMPLE_ROWS
    });
    tally
}

impl<'s> Tally<'s> {
    fn see(&mut self, cell: &'s str, decimal: u8) {
        match numbers::parse(cell, decimal) {
            Cell::Number(_, unit) => {
                self.numbers += 1;
                self.with_unit += usize::from(unit.is_some());
            }
            Cell::Missing => return,
            Cell::Unreadable => self.others += 1,
        }
        self.seen += 1;
        self.short_whole += usize::from(cell.len() <= 3 && cell.bytes().all(|b| b.is_ascii_digit()));
        if self.different.len() < 1000 && !self.different.contains(&cell) {
            self.different.push(cell);
        }
    }
}

/// Decimal commas between comma-separated cells tear numbers in two: `21,4` would be read as 21.
fn refuse_split_decimals(layout: &Layout, names: &[&str], tally: &[Tally<'_>]) -> Result<(), Trouble> {
    let last_two = tally.len().checked_sub(2).map(|at| (&tally[at], &tally[at + 1]));
    let torn = last_two.is_some_and(|(whole, part)| {
        whole.seen > 0 && part.seen > 0 && whole.short_whole == whole.seen && part.short_whole == part.seen
    });
    if layout.delimiter == Delimiter::Byte(b',')
        && torn
        && !layout.time.holds(tally.len() - 2)
        && names.len() < tally.len()
    {
        return Err(Trouble::at(
            layout.first_data_line,
            "numbers that seem to be written with a decimal comma between cells that are separated by commas too, so that 21,4 cannot be told from 21 and 4",
            "export the logger again with semicolons, or with decimal points",
        ));
    }
    Ok(())
}

/// The unit that a header states: `temperature (°C)`, `Temp [F]`, `temp_degc`, `T_c`.
pub(super) fn unit_in(header: &str) -> Option<TemperatureUnit> {
    let marked = header.split(['(', ')', '[', ']', ',', '/', ';']).skip(1).find_map(TemperatureUnit::parse);
    let last = header
        .rsplit(['_', ' ', '-'])
        .next()
        .filter(|last| last.len() < header.len())
        .and_then(TemperatureUnit::parse);
    let sign = header
        .rfind(['°', 'º', '℃', '℉', '\u{fffd}'])
        .and_then(|at| TemperatureUnit::parse(header[at..].trim_end_matches([')', ']'])));
    marked.or(last).or(sign).or_else(|| TemperatureUnit::parse(header).filter(|_| header.chars().count() > 1))
}

/// The unit that a preamble line states, `Unit;°C`.
pub(super) fn preamble_unit(line: &str) -> Option<TemperatureUnit> {
    if !line.to_lowercase().contains("unit") {
        return None;
    }
    line.split([';', ',', ':', '\t', '=', '|'])
        .find_map(|cell| TemperatureUnit::parse(cell.trim().trim_matches('"')))
}

/// The clock that a header or a preamble line states: `time (UTC)`, `GMT-05:00`, `time zone;America/Chicago`.
pub(super) fn stated_clock(text: &str) -> Option<StatedClock> {
    let zone = || {
        let named = text.to_lowercase().contains("zone");
        let mut words =
            text.split([';', ',', '\t', '=', '|', ' ', '"', '(', ')']).filter(|w| w.contains('/'));
        words.find_map(Zone::parse).filter(|_| named).map(StatedClock::Zone)
    };
    stated_offset_s(text).map(StatedClock::Offset).or_else(zone)
}

fn stated_offset_s(text: &str) -> Option<i32> {
    let at = text.find("UTC").or_else(|| text.find("GMT"))?;
    let before = text[..at].chars().next_back();
    let rest = text[at + 3..].trim_start();
    if before.is_some_and(char::is_alphanumeric) || rest.starts_with(char::is_alphabetic) {
        return None;
    }
    let end = rest
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '+' | '-' | '−' | ':')))
        .unwrap_or(rest.len());
    match &rest[..end] {
        "" => Some(0),
        offset => parse_offset_s(offset),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_state_units_and_clocks() {
        let celsius = Some(TemperatureUnit::Celsius);
        for name in [
            "temperature (°C)",
            "Temp [C]",
            "temp_degc",
            "temp_c",
            "Temperature, °C",
            "T °C",
            "temp (\u{fffd}C)",
            "℃",
        ] {
            assert_eq!(unit_in(name), celsius, "{name}");
        }
        for name in ["T1", "T_out", "temperature", "c", "rh (%)", "basic"] {
            assert_eq!(unit_in(name), None, "{name}");
        }
        assert_eq!(unit_in("room temp (°F)"), Some(TemperatureUnit::Fahrenheit));
        assert_eq!(stated_clock("time (UTC)"), Some(StatedClock::Offset(0)));
        assert_eq!(stated_clock("Date Time, GMT-05:00"), Some(StatedClock::Offset(-18000)));
        assert_eq!(stated_clock("time"), None);
        assert_eq!(
            stated_clock("time zone;America/Chicago"),
            Zone::parse("America/Chicago").map(StatedClock::Zone)
        );
    }
}
