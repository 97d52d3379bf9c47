//! How one export is written, told from its content.
//!
//! Nothing is guessed silently: what the content leaves open is asked for ([`Trouble`](crate::error::Trouble)).

mod columns;
mod counts;
mod dates;
mod layout;
mod sample;
mod second_times;
mod stated;
mod time_cells;

pub(super) use columns::Column;
use columns::Head;
pub(super) use columns::{says_temperature, speaks_of_loggers};
pub(super) use dates::{DateForm, counted_in};
use layout::Layout;
pub(super) use second_times::SecondTimes;
use second_times::second_times;
pub(super) use stated::{StatedClock, unit_in};
pub(super) use time_cells::TimeCells;

use super::sheet::{Delimiter, MAX_LINE, Sheet, each_row, is_blank};
use super::times::is_bare_date;
use crate::clock::LocalTime;
use crate::error::Trouble;
use crate::site::Dates;
use crate::texts::cell;
use crate::units::TemperatureUnit;

/// How an export is written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Dialect {
    pub(super) delimiter: Delimiter,
    /// The mark between whole and fraction.
    pub(super) decimal: u8,
    pub(super) first_data_line: u32,
    pub(super) time: TimeCells,
    pub(super) form: DateForm,
    /// Whether each time states its own offset from UTC (or counts from the epoch, which is UTC).
    pub(super) times_in_utc: bool,
    /// Clocks that header or preamble state for all times, and which of them states each; the first holds.
    pub(super) stated_clocks: Vec<(StatedClock, &'static str)>,
    /// Another column of times that states its clock.
    pub(super) second_times: Option<SecondTimes>,
    /// Letters that stand for a time zone in header or preamble, and are not unique.
    pub(super) zone_letters: Option<String>,
    /// Unit that the preamble states for all columns.
    pub(super) preamble_unit: Option<TemperatureUnit>,
    pub(super) columns: Vec<Column>,
    /// Columns before the time that number the rows or their loggers: a summary line has words there.
    pub(super) numbering: Vec<usize>,
    /// Header and preamble lines, to know them again where files were glued together.
    pub(super) lines_before: Vec<String>,
}

impl Dialect {
    /// The clock that header or preamble states.
    pub(super) fn stated_clock(&self) -> Option<StatedClock> {
        self.stated_clocks.first().map(|(stated, _)| *stated)
    }

    /// The wall-clock milliseconds of a row (UTC where [`Dialect::times_in_utc`]); `None` where it has no time, or one in
    /// which no logger recorded.
    pub(super) fn time_ms(&self, cells: &[&str]) -> Option<i64> {
        self.any_time_ms(cells).filter(|ms| TIMES_MS.contains(ms) && !self.is_summary(cells))
    }

    /// Whether words stand where the rows have their number.
    fn is_summary(&self, cells: &[&str]) -> bool {
        columns::words_in(cells, &self.numbering)
    }

    /// Why [`Dialect::time_ms`] has no answer for a row.
    pub(super) fn why_no_time(&self, cells: &[&str]) -> &'static str {
        match self.any_time_ms(cells) {
            Some(ms) if !TIMES_MS.contains(&ms) => "a time outside the years 1990 to 2099",
            Some(_) => "words where the other rows have a number",
            None if self.time.first(cells).is_some_and(is_bare_date) => "a date without its time of day",
            None if self.time.read(cells).is_some_and(|f| f.offset_s.is_some() != self.times_in_utc) => {
                if self.times_in_utc {
                    "without the offset from UTC that the other rows state"
                } else {
                    "with an offset from UTC, which the other rows do not state"
                }
            }
            None => "",
        }
    }

    fn any_time_ms(&self, cells: &[&str]) -> Option<i64> {
        let style = match self.form {
            DateForm::Written(style) => style,
            counted => return counted.ms(self.time.first(cells)?, self.decimal),
        };
        let fields = self.time.read(cells)?;
        let local: LocalTime = fields.local(style)?;
        match (self.times_in_utc, fields.offset_s) {
            (true, Some(offset_s)) => Some(local.at_offset(offset_s).ms()),
            (false, None) => Some(local.ms()),
            // A time that states an offset among times that do not (or the other way round) is on another clock.
            _ => None,
        }
    }
}

/// What a line without a time repeats from before the data.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LineBefore {
    /// A header or preamble line, letter by letter.
    Same,
    /// A header line with other columns, or a preamble line with another value.
    Other,
}

/// Text before the first mark: the key of a preamble line, or the first name of a header.
fn key_of(line: &str) -> &str {
    line.split([';', ',', ':', '\t', '=', '|']).next().unwrap_or(line).trim().trim_matches('"')
}

impl Dialect {
    /// Whether a line without a time is one of those before the data, come again.
    pub(super) fn line_before(&self, line: &str) -> Option<LineBefore> {
        let line = line.trim_end();
        if self.lines_before.iter().any(|l| l.trim_end() == line) {
            return Some(LineBefore::Same);
        }
        let key = key_of(line);
        let known =
            key.chars().any(char::is_alphabetic) && self.lines_before.iter().any(|l| key_of(l) == key);
        known.then_some(LineBefore::Other)
    }
}

/// 1990 to 2100.
pub(super) const TIMES_MS: std::ops::Range<i64> = 631_152_000_000..4_102_444_800_000;

/// Tells how an export is written; `asked` settles what the roster's `dates` settles.
///
/// # Errors
/// [`Trouble`] where no line has a time and a number, or where the content leaves open what they mean.
pub(super) fn detect(sheet: &Sheet<'_>, asked: Option<Dates>) -> Result<Dialect, Trouble> {
    let Some(mut layout) = layout::find(sheet) else { return Err(no_rows(sheet)) };
    let mut before = lines_before(sheet, &layout);
    let mut head = columns::read(sheet, &layout, &before)?;
    let launched = launch_lines(sheet, &layout, &head.numbering);
    if launched > 0 {
        layout.first_data_line += launched;
        before = lines_before(sheet, &layout);
        head = columns::read(sheet, &layout, &before)?;
    }
    let Head { columns, numbering, header, spoilt } = head;
    let form = if layout.counted {
        dates::counted(sheet, &layout, asked)?
    } else {
        DateForm::Written(dates::written(sheet, &layout, asked)?)
    };
    let before = &before[..before.len() - spoilt];
    let above = || before.iter().enumerate().filter(|(i, _)| Some(*i) != header).map(|(_, l)| *l);
    let time_headers = columns.iter().enumerate().filter(|(i, _)| layout.time.holds(*i));
    let clock_of_header =
        time_headers.filter_map(|(_, c)| Some((stated::stated_clock(&c.name)?, "the header of its times")));
    let clock_above = |line: &str| Some((stated::clock_of_line(line)?, "a line above the header"));
    Ok(Dialect {
        delimiter: layout.delimiter,
        decimal: layout.decimal,
        first_data_line: layout.first_data_line - spoilt as u32,
        time: layout.time,
        form,
        times_in_utc: layout.times_state_offset || form.counts_from_epoch(),
        stated_clocks: clock_of_header.chain(above().filter_map(clock_above)).take(MOST_CLOCKS).collect(),
        second_times: second_times(sheet, &layout, &columns, form),
        zone_letters: before.iter().find_map(|l| stated::zone_letters(l)).map(str::to_owned),
        preamble_unit: above().find_map(stated::preamble_unit),
        columns,
        numbering,
        lines_before: before
            .iter()
            .filter(|l| l.len() <= MAX_LINE && !is_blank(l))
            .take(200)
            .map(|l| (*l).to_owned())
            .collect(),
    })
}

/// Letters of a header that are shown.
const HEADER_LETTERS: usize = 500;
/// Lines that state a clock, of which more say no more.
const MOST_CLOCKS: usize = 8;

/// What a person must say of the times of a text that is not understood without it, and an answer by which it can be
/// looked at before; `None` where its times are no question.
pub(super) fn open_dates(sheet: &Sheet<'_>) -> Option<(String, Dates)> {
    dates::open(sheet, &layout::find(sheet)?)
}

fn lines_before<'s>(sheet: &'s Sheet<'_>, layout: &Layout<'_>) -> Vec<&'s str> {
    sheet.lines().take_while(|(n, _)| *n < layout.first_data_line).map(|(_, l)| l).collect()
}

/// Lines such as `Launched;2026-01-13 17:55;` just above numbered rows, with a time where these have theirs.
fn launch_lines(sheet: &Sheet<'_>, layout: &Layout<'_>, numbering: &[usize]) -> u32 {
    let mut lines = 0;
    each_row(sheet, layout.first_data_line, layout.delimiter, |_, cells| {
        let launch = columns::words_in(cells, numbering);
        lines += u32::from(launch);
        launch
    });
    lines
}

fn no_rows(sheet: &Sheet<'_>) -> Trouble {
    let mut lines = sheet.lines().filter(|(_, l)| !is_blank(l));
    let Some((number, line)) = lines.next() else {
        return Trouble::new(
            "the file is empty, expected rows with a time and a temperature",
            "download the logger again",
        );
    };
    let (last, header) = lines.last().unwrap_or((number, line));
    if header.len() <= MAX_LINE && columns::speaks_of_time(header) {
        let header: String = header.chars().take(HEADER_LETTERS).collect();
        return Trouble::at(
            last,
            format!(
                "a header and no row below it, expected rows with a time and a temperature; it reads \"{}\"",
                cell(&header)
            ),
            "the logger may have recorded nothing: look at it, or leave the file out of the roster",
        );
    }
    let readable = |c: &char| !c.is_control() && *c != '\u{fffd}';
    let shown: String = line.chars().filter(readable).take(80).collect();
    Trouble::at(
        number,
        format!(
            "no line has a date with time and a number in columns of their own; the first line is \"{}\"",
            cell(&shown)
        ),
        "export the logger as text or as a sheet with columns for time and temperature",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exports::dialect::TimeCells;
    use crate::exports::times::DateStyle;

    fn dialect(text: &str) -> Result<Dialect, Trouble> {
        detect(&Sheet::decode(text.as_bytes()), None)
    }

    #[test]
    fn delimiter_decimal_and_preamble_are_told() {
        let d = dialect("Logger;17\nUnit;°C\n\nDatum;Wert\n05.01.2026 00:10;21,4\n05.01.2026 00:20;21,5\n13.01.2026 00:20;21\n").unwrap();
        assert_eq!((d.delimiter, d.decimal, d.first_data_line), (Delimiter::Byte(b';'), b',', 5));
        assert_eq!(d.form, DateForm::Written(DateStyle::Dmy));
        assert_eq!(d.preamble_unit, Some(TemperatureUnit::Celsius));
        assert_eq!(d.columns[1].name, "Wert");
    }

    #[test]
    fn rows_kept_from_the_layout_say_what_a_walk_over_the_sheet_says() {
        let row =
            |i: usize| format!("{};2026-01-05 {:02}:{:02};2{i},4;Logger {}\n", i, i % 24, i % 60, i % 3);
        let many: String = (0..2500).map(row).collect();
        let empty: String = (0..2500).map(|i| row(i).replace(",4", "x").replace("Logger", "L")).collect();
        for text in [
            format!("n;time;temp;name\n{many}"),
            format!("Start;2026-01-04 10:00;x\n\n{empty}{many}"),
            row(1),
        ] {
            let sheet = Sheet::decode(text.as_bytes());
            let mut layout = layout::find(&sheet).unwrap();
            let before = lines_before(&sheet, &layout);
            let kept = columns::read(&sheet, &layout, &before).unwrap();
            layout.sample = sample::Sample::default();
            let walked = columns::read(&sheet, &layout, &before).unwrap();
            assert_eq!(kept.columns, walked.columns);
            assert_eq!(kept.numbering, walked.numbering);
        }
    }

    #[test]
    fn date_and_time_in_two_columns() {
        let d = dialect("n,date,clock,t\n1,2026-01-05,00:10,21.4\n2,2026-01-05,00:20,21.4\n").unwrap();
        assert_eq!(d.time, TimeCells::Apart { date: 1, time: 2, half: None });
    }

    #[test]
    fn day_and_month_are_told_by_a_smooth_record_or_asked_for() {
        let two_days = "t,v\n01/02/2026 23:50,20\n02/02/2026 00:00,20\n";
        assert_eq!(dialect(two_days).unwrap().form, DateForm::Written(DateStyle::Dmy));
        let one_day = "t,v\n01/02/2026 23:40,20\n01/02/2026 23:50,20\n";
        assert!(dialect(one_day).unwrap_err().hint.contains("dates"));
        let asked = detect(&Sheet::decode(one_day.as_bytes()), Some(Dates::MonthFirst)).unwrap();
        assert_eq!(asked.form, DateForm::Written(DateStyle::Mdy));
        let both = "t,v\n13/02/2026 23:40,20\n02/13/2026 23:50,20\n";
        assert!(
            dialect(both).unwrap_err().hint.contains("glued")
                || dialect(both).unwrap_err().what.contains("one file")
        );
    }

    #[test]
    fn counted_times_are_known_by_their_size() {
        let epoch = "t,v\n1767571200,20.1\n1767571500,20.2\n1767571800,20.3\n";
        assert_eq!(dialect(epoch).unwrap().form, DateForm::EpochSeconds);
        let serial = "t,v\n46027.0,20.1\n46027.00347222,20.2\n46027.00694444,20.3\n";
        assert!(dialect(serial).unwrap_err().hint.contains("1900"), "1900 or 1904 is asked for");
        let asked = detect(&Sheet::decode(serial.as_bytes()), Some(Dates::Serial1900)).unwrap();
        assert_eq!(
            LocalTime::from_ms(asked.time_ms(&["46027.00347222", "20.2"]).unwrap()).show(),
            "2026-01-05 00:05"
        );
    }

    #[test]
    fn a_file_without_readings_is_asked_about() {
        assert!(dialect("").unwrap_err().what.contains("empty"));
        assert!(dialect("hello\nworld\n").unwrap_err().what.contains("hello"));
    }
}
