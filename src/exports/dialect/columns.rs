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
    /// Whether nearly every row has something in it.
    pub(in crate::exports) filled: bool,
    /// The mark between whole and fraction in this column.
    pub(in crate::exports) decimal: u8,
}

/// What the sample says about one column.
#[derive(Default)]
struct Tally<'s> {
    numbers: usize,
    others: usize,
    commas: usize,
    points: usize,
    short_whole: usize,
    with_unit: usize,
    different: Vec<&'s str>,
    seen: usize,
}

/// The columns, which line before the data is their header, and how many lines below it are spoilt rows.
pub(super) fn read(sheet: &Sheet<'_>, layout: &Layout, before: &[&str]) -> Result<Head, Trouble> {
    let (tally, rows) = tally(sheet, layout);
    let used = tally.iter().rposition(|t| t.seen > 0).map_or(0, |at| at + 1);
    let mut cells = Vec::new();
    let spoilt = spoilt_rows(layout, &tally, before);
    let before = &before[..before.len() - spoilt];
    let header = (0..before.len()).rev().find(|i| !before[*i].trim().is_empty()).filter(|i| {
        split(before[*i], layout.delimiter, &mut cells);
        let values = cells
            .iter()
            .filter(|c| matches!(numbers::parse(c, layout.decimal), Cell::Number(_, None)))
            .count();
        cells.len() > 1 && cells.len() * 2 >= used && values * 2 < cells.len()
    });
    let mut names: Vec<&str> = Vec::new();
    if let Some(at) = header {
        split(before[at], layout.delimiter, &mut names);
    }
    refuse_split_decimals(layout, &names, &tally)?;
    let column = |(i, t): (usize, &Tally<'_>)| {
        let name = names.get(i).copied().unwrap_or_default().to_owned();
        let decimal = match t.commas.cmp(&t.points) {
            std::cmp::Ordering::Greater => b',',
            std::cmp::Ordering::Less => b'.',
            std::cmp::Ordering::Equal => layout.decimal,
        };
        let named = ["logger", "serial", "sensor", "device", "probe", "station", "channel"]
            .iter()
            .any(|w| name.to_lowercase().contains(w))
            || name.eq_ignore_ascii_case("id");
        Column {
            unit: unit_in(&name),
            decimal,
            filled: t.seen * 10 >= rows * 9,
            numeric: t.numbers > t.others * 4 || (unit_in(&name).is_some() && t.numbers > t.others),
            names_series: !layout.time.holds(i)
                && t.seen > 0
                && (named || t.others > t.numbers)
                && t.different.len() * 2 <= t.seen.max(2),
            unit_in_cells: t.with_unit > 0,
            name,
        }
    };
    Ok(Head { columns: tally.iter().enumerate().map(column).collect(), header, spoilt })
}

/// What stands above the data.
pub(super) struct Head {
    pub(super) columns: Vec<Column>,
    /// Which line before the data is the header.
    pub(super) header: Option<usize>,
    /// Lines just above the first good row that are rows too, with a time or a value that cannot be read.
    pub(super) spoilt: usize,
}

/// A line that has a time where the rows have theirs, or a number with a fraction where they have numbers, is no header.
fn spoilt_rows(layout: &Layout, tally: &[Tally<'_>], before: &[&str]) -> usize {
    let is_row = |line: &&&str| {
        let mut cells = Vec::new();
        split(line, layout.delimiter, &mut cells);
        let fraction = |(i, c): (usize, &&str)| {
            let of_numbers = tally.get(i).is_some_and(|t| t.numbers > t.others);
            of_numbers
                && c.contains(['.', ','])
                && matches!(numbers::parse(c, layout.decimal), Cell::Number(..))
        };
        let timed = !layout.counted && layout.time.read(&cells).is_some();
        cells.len() == tally.len() && (timed || cells.iter().enumerate().any(fraction))
    };
    before.iter().rev().take(20).take_while(is_row).count()
}

/// What the sample says about each column, and its rows.
fn tally<'s>(sheet: &'s Sheet<'_>, layout: &Layout) -> (Vec<Tally<'s>>, usize) {
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
    (tally, rows)
}

impl<'s> Tally<'s> {
    fn see(&mut self, cell: &'s str, decimal: u8) {
        let by = [b'.', b','].map(|mark| matches!(numbers::parse(cell, mark), Cell::Number(..)));
        self.points += usize::from(by == [true, false]);
        self.commas += usize::from(by == [false, true]);
        let decimal = if by == [false, true] {
            b','
        } else if by == [true, false] {
            b'.'
        } else {
            decimal
        };
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
    let whole = |t: &Tally<'_>| t.seen > 0 && t.short_whole == t.seen;
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

/// The unit that a header states: `temperature (°C)`, `Temp [F]`, `temp_degc`, `T_c`.
pub(super) fn unit_in(header: &str) -> Option<TemperatureUnit> {
    let marked = header.split(['(', ')', '[', ']', ',', '/', ';']).skip(1).find_map(TemperatureUnit::parse);
    // "room F" is a room; a letter alone is a unit behind an underscore, or where temperature is spoken of.
    let spoken = header.to_lowercase().contains("temp");
    let stands_for_unit = |last: &&str| {
        last.len() < header.len() && (last.chars().count() > 1 || spoken || header.contains('_'))
    };
    let last = header.rsplit(['_', ' ', '-']).next().filter(stands_for_unit).and_then(TemperatureUnit::parse);
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

/// Letters that stand for a time zone in a line about it, `Time zone: CST`: they are not unique.
pub(super) fn zone_letters(line: &str) -> Option<&str> {
    const LETTERS: [&str; 16] = [
        "CST", "CDT", "EST", "EDT", "MST", "MDT", "PST", "PDT", "CET", "CEST", "EET", "EEST", "BST", "IST",
        "AEST", "ACST",
    ];
    line.split(|c: char| !c.is_alphanumeric()).find(|word| LETTERS.contains(word))
}

/// The clock that a preamble line states; a line about another time ("downloaded 2026-02-01 10:00 UTC") states none for the rows.
pub(super) fn clock_of_line(line: &str) -> Option<StatedClock> {
    let digits = line.split(|c: char| !c.is_ascii_digit()).map(str::len).max().unwrap_or(0);
    let clocks = line.matches(':').count() > 2;
    if digits >= 4 && line.contains(['-', '/', '.']) && (clocks || line.contains("20")) {
        None
    } else {
        stated_clock(line)
    }
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
