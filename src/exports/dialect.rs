//! How one export is written, told from its content.
//!
//! Nothing is guessed silently: what the content leaves open is asked for ([`Trouble`]).

use super::numbers::{self, Cell};
use super::sheet::{Sheet, split};
use super::times::{self, DateStyle, Fields};
use crate::clock::{LocalTime, parse_offset_s};
use crate::site::DateOrder;
use crate::units::TemperatureUnit;

/// Why an export cannot be understood, with the next step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Trouble {
    pub(crate) line: Option<u32>,
    pub(crate) what: String,
    pub(crate) hint: String,
}

impl Trouble {
    pub(super) fn new(what: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { line: None, what: what.into(), hint: hint.into() }
    }
}

/// How an export is written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Dialect {
    pub(super) delimiter: u8,
    pub(super) decimal: u8,
    pub(super) first_data_line: u32,
    pub(super) time: TimeCells,
    pub(super) style: DateStyle,
    /// Whether each time states its own offset from UTC.
    pub(super) times_state_offset: bool,
    /// Offset that header or preamble states for all times.
    pub(super) stated_offset_s: Option<i32>,
    /// Unit that the preamble states for all columns.
    pub(super) preamble_unit: Option<TemperatureUnit>,
    pub(super) columns: Vec<Column>,
}

/// Where the time stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TimeCells {
    /// Date and time in one cell.
    One(usize),
    /// The date in this cell, the time in the next.
    Two(usize),
}

impl TimeCells {
    pub(super) fn read(self, cells: &[&str]) -> Option<Fields> {
        match self {
            TimeCells::One(at) => times::parse(cells.get(at)?),
            TimeCells::Two(at) => times::parse_two(cells.get(at)?, cells.get(at + 1)?),
        }
    }

    fn holds(self, column: usize) -> bool {
        match self {
            TimeCells::One(at) => column == at,
            TimeCells::Two(at) => column == at || column == at + 1,
        }
    }
}

/// A column of the export.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Column {
    /// Its header; empty where there is none.
    pub(super) name: String,
    /// Unit that the header states.
    pub(super) unit: Option<TemperatureUnit>,
    /// Whether its cells are numbers.
    pub(super) numeric: bool,
}

/// Lines looked at to tell delimiter, columns and decimal mark.
const SAMPLE_LINES: usize = 5000;
const DELIMITERS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// Tells how an export is written; `order` settles day and month where the roster does.
///
/// # Errors
/// [`Trouble`] where no line has a time and a number, or where day and month cannot be told apart.
pub(super) fn detect(sheet: &Sheet<'_>, order: Option<DateOrder>) -> Result<Dialect, Trouble> {
    let best = DELIMITERS.iter().filter_map(|d| layout(sheet, *d)).max_by_key(|l| l.rows);
    let Some(layout) = best else { return Err(no_rows(sheet)) };
    let style = date_style(sheet, &layout, order)?;
    let preamble: Vec<&str> =
        sheet.lines().take_while(|(n, _)| *n < layout.first_data_line).map(|(_, l)| l).collect();
    let (columns, header_line) = columns(sheet, &layout, &preamble);
    let time_header = match layout.time {
        TimeCells::One(at) | TimeCells::Two(at) => columns.get(at).map_or("", |c| c.name.as_str()),
    };
    let above: Vec<&str> =
        preamble.iter().enumerate().filter(|(i, _)| Some(*i) != header_line).map(|(_, l)| *l).collect();
    Ok(Dialect {
        delimiter: layout.delimiter,
        decimal: layout.decimal,
        first_data_line: layout.first_data_line,
        time: layout.time,
        style,
        times_state_offset: layout.times_state_offset,
        stated_offset_s: stated_offset_s(time_header)
            .or_else(|| above.iter().find_map(|l| stated_offset_s(l))),
        preamble_unit: above
            .iter()
            .filter(|l| l.to_lowercase().contains("unit"))
            .find_map(|l| l.split([';', ',', ':', '\t', '=']).find_map(TemperatureUnit::parse)),
        columns,
    })
}

/// What one delimiter makes of the sample.
struct Layout {
    delimiter: u8,
    decimal: u8,
    time: TimeCells,
    rows: usize,
    first_data_line: u32,
    times_state_offset: bool,
}

fn layout(sheet: &Sheet<'_>, delimiter: u8) -> Option<Layout> {
    let mut cells = Vec::new();
    let mut found: Option<Layout> = None;
    let (mut commas, mut points, mut with_offset) = (0, 0, 0);
    for (number, line) in sheet.lines().take(SAMPLE_LINES) {
        split(line, delimiter, &mut cells);
        let time = match &found {
            Some(layout) => layout.time,
            None => match find_time(&cells) {
                Some(time) => time,
                None => continue,
            },
        };
        let Some(fields) = time.read(&cells) else { continue };
        let values = cells.iter().enumerate().filter(|(i, _)| !time.holds(*i)).map(|(_, c)| *c);
        let mut numbers = 0;
        for cell in values {
            match (numbers::parse(cell, b'.'), numbers::parse(cell, b',')) {
                (Cell::Number(..), Cell::Number(..)) | (Cell::Missing, _) => numbers += 1,
                (Cell::Number(..), _) => (numbers, points) = (numbers + 1, points + 1),
                (_, Cell::Number(..)) => (numbers, commas) = (numbers + 1, commas + 1),
                _ => {}
            }
        }
        if numbers == 0 {
            continue;
        }
        with_offset += usize::from(fields.offset_s.is_some());
        let layout = found.get_or_insert(Layout {
            delimiter,
            decimal: b'.',
            time,
            rows: 0,
            first_data_line: number,
            times_state_offset: false,
        });
        layout.rows += 1;
    }
    found.map(|layout| Layout {
        decimal: if commas > points { b',' } else { b'.' },
        times_state_offset: with_offset * 2 > layout.rows,
        ..layout
    })
}

fn find_time(cells: &[&str]) -> Option<TimeCells> {
    let one = (0..cells.len()).map(TimeCells::One).find(|t| t.read(cells).is_some());
    one.or_else(|| (0..cells.len()).map(TimeCells::Two).find(|t| t.read(cells).is_some()))
}

fn no_rows(sheet: &Sheet<'_>) -> Trouble {
    let Some((number, line)) = sheet.lines().find(|(_, l)| !l.trim().is_empty()) else {
        return Trouble::new(
            "the file is empty, expected rows with a time and a temperature",
            "download the logger again",
        );
    };
    let shown: String = line.chars().take(80).collect();
    Trouble {
        line: Some(number),
        what: format!(
            "no line has a date with time and a number in columns of their own; the first line is \"{shown}\""
        ),
        hint: "export the logger as text with columns for time and temperature".to_owned(),
    }
}

/// Day and month: from the year's place, from days over 12, else from which order makes the record run on smoothly.
fn date_style(sheet: &Sheet<'_>, layout: &Layout, order: Option<DateOrder>) -> Result<DateStyle, Trouble> {
    let mut cells = Vec::new();
    let (mut first_over, mut second_over) = (None, None);
    let mut travel = [Travel::default(), Travel::default()];
    for (number, line) in sheet.lines().skip_while(|(n, _)| *n < layout.first_data_line) {
        split(line, layout.delimiter, &mut cells);
        let Some(fields) = layout.time.read(&cells) else { continue };
        if fields.year_first {
            return Ok(DateStyle::Ymd);
        }
        first_over = first_over.or((fields.date[0] > 12).then_some(number));
        second_over = second_over.or((fields.date[1] > 12).then_some(number));
        travel[0].go(fields.local(DateStyle::Dmy));
        travel[1].go(fields.local(DateStyle::Mdy));
    }
    let told = match (first_over, second_over) {
        (Some(_), None) => Some(DateStyle::Dmy),
        (None, Some(_)) => Some(DateStyle::Mdy),
        (Some(a), Some(b)) => {
            let what = format!(
                "dates with the day first (line {a}) and with the month first (line {b}) in one file"
            );
            return Err(Trouble {
                line: Some(a.max(b)),
                what,
                hint: "two exports may have been glued together: split them".to_owned(),
            });
        }
        (None, None) => smoother(&travel),
    };
    let asked = order.map(|o| match o {
        DateOrder::DayFirst => DateStyle::Dmy,
        DateOrder::MonthFirst => DateStyle::Mdy,
    });
    match (told, asked) {
        (Some(told), Some(asked)) if told != asked && (first_over, second_over) != (None, None) => Err(Trouble {
            line: first_over.or(second_over),
            what: "a date that cannot be read in the order which the roster's `date_order` gives".to_owned(),
            hint: "correct `date_order`, or leave it empty: this file settles the order by itself".to_owned(),
        }),
        (_, Some(asked)) => Ok(asked),
        (Some(told), None) => Ok(told),
        (None, None) => Err(Trouble {
            line: Some(layout.first_data_line),
            what: "dates that can be read with the day first or with the month first, and nothing in the file tells which".to_owned(),
            hint: "give `date_order` (day-first or month-first) in the roster row of this file".to_owned(),
        }),
    }
}

/// How far a record travels in time, reading by reading.
#[derive(Clone, Copy, Default)]
struct Travel {
    last: Option<LocalTime>,
    first: Option<LocalTime>,
    total_ms: i64,
    impossible: bool,
}

impl Travel {
    fn go(&mut self, to: Option<LocalTime>) {
        let Some(to) = to else {
            self.impossible = true;
            return;
        };
        if let Some(last) = self.last {
            self.total_ms += (to.ms() - last.ms()).abs();
        }
        self.first.get_or_insert(to);
        self.last = Some(to);
    }
}

/// A wrong order makes days jump by a month: the right one travels much less. Both alike (one day only): not told.
fn smoother(travel: &[Travel; 2]) -> Option<DateStyle> {
    let [day, month] = travel;
    match (day.impossible, month.impossible) {
        (false, true) => return Some(DateStyle::Dmy),
        (true, false) => return Some(DateStyle::Mdy),
        _ => {}
    }
    // The 5th of May is the same day in both orders.
    if day.total_ms == month.total_ms && day.first == month.first {
        return Some(DateStyle::Dmy);
    }
    if day.total_ms.saturating_mul(3) < month.total_ms {
        Some(DateStyle::Dmy)
    } else if month.total_ms.saturating_mul(3) < day.total_ms {
        Some(DateStyle::Mdy)
    } else {
        None
    }
}

/// The columns, and which preamble line is their header.
fn columns(sheet: &Sheet<'_>, layout: &Layout, preamble: &[&str]) -> (Vec<Column>, Option<usize>) {
    let mut cells = Vec::new();
    let mut tally: Vec<(usize, usize)> = Vec::new();
    for (_, line) in sheet.lines().skip_while(|(n, _)| *n < layout.first_data_line).take(SAMPLE_LINES) {
        split(line, layout.delimiter, &mut cells);
        if layout.time.read(&cells).is_none() {
            continue;
        }
        tally.resize(tally.len().max(cells.len()), (0, 0));
        for (i, cell) in cells.iter().enumerate().filter(|(i, _)| !layout.time.holds(*i)) {
            match numbers::parse(cell, layout.decimal) {
                Cell::Number(..) => tally[i].0 += 1,
                Cell::Missing => {}
                Cell::Unreadable => tally[i].1 += 1,
            }
        }
    }
    let header_line = (0..preamble.len()).rev().find(|i| !preamble[*i].trim().is_empty()).filter(|i| {
        split(preamble[*i], layout.delimiter, &mut cells);
        cells.len() > 1 && cells.len() * 2 >= tally.len()
    });
    let mut names: Vec<&str> = Vec::new();
    if let Some(at) = header_line {
        split(preamble[at], layout.delimiter, &mut names);
    }
    let column = |(i, (numbers, others)): (usize, &(usize, usize))| {
        let name = names.get(i).copied().unwrap_or_default().to_owned();
        Column { unit: unit_in(&name), name, numeric: *numbers > others * 4 }
    };
    (tally.iter().enumerate().map(column).collect(), header_line)
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
        .rfind(['°', 'º', '℃', '℉'])
        .and_then(|at| TemperatureUnit::parse(header[at..].trim_end_matches([')', ']'])));
    marked.or(last).or(sign).or_else(|| TemperatureUnit::parse(header).filter(|_| header.chars().count() > 1))
}

/// The offset from UTC that a header or a preamble line states: `time (UTC)`, `GMT-05:00`.
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

    fn dialect(text: &str) -> Result<Dialect, Trouble> {
        detect(&Sheet::decode(text.as_bytes()), None)
    }

    #[test]
    fn headers_state_units_and_offsets() {
        let celsius = Some(TemperatureUnit::Celsius);
        for name in ["temperature (°C)", "Temp [C]", "temp_degc", "temp_c", "Temperature, °C", "T °C"] {
            assert_eq!(unit_in(name), celsius, "{name}");
        }
        for name in ["T1", "T_out", "temperature", "c", "rh (%)", "basic"] {
            assert_eq!(unit_in(name), None, "{name}");
        }
        assert_eq!(unit_in("room temp (°F)"), Some(TemperatureUnit::Fahrenheit));
        assert_eq!(stated_offset_s("time (UTC)"), Some(0));
        assert_eq!(stated_offset_s("Date Time, GMT-05:00"), Some(-18000));
        assert_eq!(stated_offset_s("time"), None);
    }

    #[test]
    fn delimiter_decimal_and_preamble_are_told() {
        let d = dialect("Logger;17\nUnit;°C\n\nDatum;Wert\n05.01.2026 00:10;21,4\n05.01.2026 00:20;21,5\n13.01.2026 00:20;21\n").unwrap();
        assert_eq!((d.delimiter, d.decimal, d.first_data_line, d.style), (b';', b',', 5, DateStyle::Dmy));
        assert_eq!(d.preamble_unit, Some(TemperatureUnit::Celsius));
        assert_eq!(d.columns[1].name, "Wert");
    }

    #[test]
    fn date_and_time_in_two_columns() {
        let d = dialect("n,date,clock,t\n1,2026-01-05,00:10,21.4\n2,2026-01-05,00:20,21.4\n").unwrap();
        assert_eq!(d.time, TimeCells::Two(1));
    }

    #[test]
    fn day_and_month_are_told_by_a_smooth_record_or_asked_for() {
        let two_days = "t,v\n01/02/2026 23:50,20\n02/02/2026 00:00,20\n";
        assert_eq!(dialect(two_days).unwrap().style, DateStyle::Dmy);
        let one_day = "t,v\n01/02/2026 23:40,20\n01/02/2026 23:50,20\n";
        assert!(dialect(one_day).unwrap_err().hint.contains("date_order"));
        let asked = detect(&Sheet::decode(one_day.as_bytes()), Some(DateOrder::MonthFirst)).unwrap();
        assert_eq!(asked.style, DateStyle::Mdy);
        let both = "t,v\n13/02/2026 23:40,20\n02/13/2026 23:50,20\n";
        assert!(
            dialect(both).unwrap_err().what.contains("glued")
                || dialect(both).unwrap_err().hint.contains("glued")
        );
    }

    #[test]
    fn a_file_without_readings_is_asked_about() {
        assert!(dialect("").unwrap_err().what.contains("empty"));
        assert!(dialect("hello\nworld\n").unwrap_err().what.contains("hello"));
    }
}
