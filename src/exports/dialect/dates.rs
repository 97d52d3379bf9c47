//! What the dates of an export mean.

use super::super::numbers::{self, Cell};
use super::super::times::DateStyle;
use super::counts::{SECONDS, SERIAL_DAYS, header_above, plain_number};
use super::layout::Layout;
use super::sample::SAMPLE_ROWS;
use crate::clock::LocalTime;
use crate::error::Trouble;
use crate::exports::sheet::{Sheet, each_row};
use crate::exports::vocabulary::{Holds, speaks_of};
use crate::site::Dates;
use crate::texts::cell;

/// How times are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::exports) enum DateForm {
    /// As dates, in an order.
    Written(DateStyle),
    /// Seconds since 1970 UTC.
    EpochSeconds,
    /// Milliseconds since 1970 UTC.
    EpochMilliseconds,
    /// Days of a spreadsheet that starts in 1900.
    Serial1900,
    /// Days of a spreadsheet that starts in 1904.
    Serial1904,
    /// Seconds since the start of a year.
    SecondsOf(i32),
    /// A count since a moment on the logger's clock.
    Since { unit_ms: i64, start_ms: i64 },
}

/// Days from the day 0 of a spreadsheet to 1970-01-01.
const EPOCH_SERIAL_1900: f64 = 25569.0;
const EPOCH_SERIAL_1904: f64 = 24107.0;
const DAY_MS: f64 = 86_400_000.0;

impl DateForm {
    /// Milliseconds on the export's clock; a day count is rounded to the second, because its digits are cut.
    pub(super) fn ms(self, cell: &str, decimal: u8) -> Option<i64> {
        let Cell::Number(x, None) = numbers::parse(cell, decimal) else { return None };
        let ms = match self {
            DateForm::Written(_) => return None,
            DateForm::EpochSeconds => x * 1000.0,
            DateForm::EpochMilliseconds => x,
            DateForm::Serial1900 => ((x - EPOCH_SERIAL_1900) * DAY_MS / 1000.0).round() * 1000.0,
            DateForm::Serial1904 => ((x - EPOCH_SERIAL_1904) * DAY_MS / 1000.0).round() * 1000.0,
            DateForm::Since { unit_ms, start_ms } => start_ms as f64 + x * unit_ms as f64,
            DateForm::SecondsOf(year) => {
                LocalTime::from_fields((year, 1, 1), (0, 0, 0), 0)?.ms() as f64 + x * 1000.0
            }
        };
        (ms.abs() < 5e15).then_some(ms.round() as i64)
    }

    pub(in crate::exports) fn counts_from_epoch(self) -> bool {
        matches!(self, DateForm::EpochSeconds | DateForm::EpochMilliseconds)
    }
}

/// What counted times count: told by their size, and asked for where that leaves it open.
pub(super) fn counted(
    sheet: &Sheet<'_>,
    layout: &Layout<'_>,
    asked: Option<Dates>,
) -> Result<DateForm, Trouble> {
    let mut values = Vec::new();
    each_row(sheet, layout.first_data_line, layout.delimiter, |_, cells| {
        values.extend(layout.time.first(cells).and_then(plain_number));
        values.len() < SAMPLE_ROWS
    });
    values.sort_unstable_by(f64::total_cmp);
    let middle = values[values.len() / 2];
    let line = layout.first_data_line;
    match (middle, asked) {
        (x, _) if SECONDS.contains(&x) => Ok(DateForm::EpochSeconds),
        (x, _) if SECONDS.contains(&(x / 1000.0)) => Ok(DateForm::EpochMilliseconds),
        (x, Some(Dates::Serial1900)) if SERIAL_DAYS.contains(&x) => Ok(DateForm::Serial1900),
        (x, Some(Dates::Serial1904)) if SERIAL_DAYS.contains(&x) => Ok(DateForm::Serial1904),
        (_, Some(Dates::SecondsOf(year))) => Ok(DateForm::SecondsOf(year)),
        (_, Some(Dates::Since { unit_ms, start })) => Ok(DateForm::Since { unit_ms, start_ms: start.ms() }),
        (x, _) if SERIAL_DAYS.contains(&x) && values.iter().any(|v| v.fract() != 0.0) => Err(Trouble::at(
            line,
            "times written as day numbers of a spreadsheet, which may count from 1900 or from 1904",
            "give `dates` in the roster row of this file: \"serial 1900\" (most spreadsheets) or \"serial 1904\"",
        )),
        _ => {
            let unit = counted_in(unit_of_count(sheet, layout));
            Err(Trouble::at(
                line,
                format!("times written as a count of {unit} whose start the file does not tell"),
                format!(
                    "give the moment that is 0 as `dates` in the roster row of this file: \"{unit} since 2026-01-05 10:00\" (local time), or \"seconds of 2026\" where seconds count from the new year"
                ),
            ))
        }
    }
}

/// What a count counts, in words.
pub(in crate::exports) fn counted_in(unit_ms: i64) -> &'static str {
    match unit_ms {
        1 => "milliseconds",
        1000 => "seconds",
        60_000 => "minutes",
        3_600_000 => "hours",
        _ => "days",
    }
}

/// What the numbers of a count stand for, in ms: as the header says, else seconds.
fn unit_of_count(sheet: &Sheet<'_>, layout: &Layout<'_>) -> i64 {
    let header = header_above(sheet, layout.delimiter, layout.first_data_line, layout.time.column());
    let units = [
        (Holds::Milliseconds, 1),
        (Holds::Seconds, 1000),
        (Holds::Minutes, 60_000),
        (Holds::Hours, 3_600_000),
        (Holds::Days, 86_400_000),
    ];
    units.iter().find(|(unit, _)| speaks_of(&header, *unit)).map_or(1000, |(_, ms)| *ms)
}

/// What a person must say of the times of a file, and an answer by which it can be looked at before.
pub(super) fn open(sheet: &Sheet<'_>, layout: &Layout<'_>) -> Option<(String, Dates)> {
    if !layout.counted {
        written(sheet, layout, None).err()?;
        written(sheet, layout, Some(Dates::DayFirst)).ok()?;
        return Some(("day-first or month-first".to_owned(), Dates::DayFirst));
    }
    counted(sheet, layout, None).err()?;
    if counted(sheet, layout, Some(Dates::Serial1900)).is_ok_and(|form| form == DateForm::Serial1900) {
        return Some((
            "serial 1900, as most spreadsheets count days, or serial 1904".to_owned(),
            Dates::Serial1900,
        ));
    }
    let unit_ms = unit_of_count(sheet, layout);
    let start = LocalTime::from_fields((2000, 1, 1), (0, 0, 0), 0)?;
    let unit = counted_in(unit_ms);
    let question = format!("which moment is 0: {unit} since yyyy-mm-dd hh:mm, local time");
    Some((question, Dates::Since { unit_ms, start }))
}

/// The orders of a date, as [`Evidence`] keeps them.
const STYLES: [DateStyle; 3] = [DateStyle::Dmy, DateStyle::Mdy, DateStyle::Ymd];

/// What the written dates of a whole file say about their order.
#[derive(Default)]
struct Evidence<'s> {
    /// Line of the first date whose first, or second, number is over 12.
    first_over: Option<u32>,
    second_over: Option<u32>,
    year_first: bool,
    /// How far the record travels with the day, the month, or a short year first.
    travel: [Travel; 3],
    example: &'s str,
    hours: Hours,
}

fn evidence<'s>(sheet: &'s Sheet<'_>, layout: &Layout<'_>) -> Evidence<'s> {
    let mut seen = Evidence::default();
    let mut rows = 0;
    each_row(sheet, layout.first_data_line, layout.delimiter, |number, cells| {
        let Some(fields) = layout.time.read(cells) else { return true };
        seen.hours.see(fields.hour());
        // A launch line above the rows may be written in another order: the second row decides, and those after it.
        rows += 1;
        seen.year_first = fields.year_first;
        if fields.year_first {
            return rows < 3 || seen.hours.may_be_half_a_day();
        }
        if seen.example.is_empty() {
            seen.example = layout.time.first(cells).unwrap_or_default();
        }
        seen.first_over = seen.first_over.or((fields.date[0] > 12).then_some(number));
        seen.second_over = seen.second_over.or((fields.date[1] > 12).then_some(number));
        for (travel, style) in seen.travel.iter_mut().zip(STYLES) {
            travel.go(fields.local(style));
        }
        true
    });
    seen
}

/// Day and month: from the year's place, from days over 12, else from which order makes the record run on smoothly.
pub(super) fn written(
    sheet: &Sheet<'_>,
    layout: &Layout<'_>,
    asked: Option<Dates>,
) -> Result<DateStyle, Trouble> {
    let Evidence { first_over, second_over, year_first, travel, example, hours } = evidence(sheet, layout);
    if hours.may_be_half_a_day() && hours.falls > 0 {
        return Err(Trouble::at(
            layout.first_data_line,
            "times of a twelve-hour clock without AM or PM: no hour is 0 or over 12, and after 12 comes 1",
            "export the logger again with AM and PM, or with a clock of 24 hours",
        ));
    }
    if year_first {
        return Ok(DateStyle::Ymd);
    }
    let year_may_lead = travel[2].first.is_some() && !travel[2].impossible;
    let told = match (first_over, second_over) {
        _ if year_may_lead => smoother(&travel),
        (Some(_), None) => Some(DateStyle::Dmy),
        (None, Some(_)) => Some(DateStyle::Mdy),
        (Some(a), Some(b)) => {
            let what = format!(
                "dates with the day first (line {a}) and with the month first (line {b}) in one file"
            );
            return Err(Trouble::at(a.max(b), what, "two exports may have been glued together: split them"));
        }
        (None, None) => smoother(&travel),
    };
    let asked = match asked {
        Some(Dates::DayFirst) => Some(DateStyle::Dmy),
        Some(Dates::MonthFirst) => Some(DateStyle::Mdy),
        _ => None,
    };
    let place = |style| STYLES.iter().position(|s| *s == style).unwrap_or(0);
    match (told, asked) {
        // The 5th of May is the same day in both orders.
        (Some(told), Some(asked)) if travel[place(told)].same(&travel[place(asked)]) => Ok(asked),
        (Some(told), Some(asked)) if told != asked => Err(Trouble {
            line: first_over.or(second_over).or(Some(layout.first_data_line)),
            what: format!(
                "dates such as \"{}\" do not run on in the order which the roster's `dates` gives",
                cell(example)
            )
            .into(),
            hint: "correct `dates`, or leave it empty: this file settles the order by itself".to_owned(),
        }),
        (_, Some(asked)) => Ok(asked),
        (Some(told), None) => Ok(told),
        (None, None) => Err(Trouble::at(
            layout.first_data_line,
            format!(
                "dates such as \"{}\" can be read with the day first or with the month first, and nothing in the file tells which",
                cell(example)
            ),
            "give `dates` (day-first or month-first) in the roster row of this file",
        )),
    }
}

/// The hours of a record: a clock of twelve hours that lost its AM and PM never shows 0 or 13.
#[derive(Clone, Copy, Default)]
struct Hours {
    last: Option<u32>,
    /// How often 1 came after 12.
    falls: usize,
    others: bool,
}

impl Hours {
    fn see(&mut self, hour: u32) {
        self.others |= hour == 0 || hour > 12;
        self.falls += usize::from(self.last == Some(12) && hour == 1);
        self.last = Some(hour);
    }

    fn may_be_half_a_day(&self) -> bool {
        !self.others
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

    /// Whether two orders give the same days.
    fn same(&self, other: &Self) -> bool {
        let days = |t: &Self| (t.first, t.last, t.total_ms, t.impossible);
        days(self) == days(other)
    }
}

/// A wrong order makes days jump by a month: the right one travels much less. Alike (one day only): not told.
fn smoother(travel: &[Travel; 3]) -> Option<DateStyle> {
    let mut possible: Vec<(DateStyle, &Travel)> =
        STYLES.into_iter().zip(travel).filter(|(_, t)| !t.impossible && t.first.is_some()).collect();
    possible.sort_by_key(|(_, t)| t.total_ms);
    match possible.as_slice() {
        [] => None,
        [(only, _)] => Some(*only),
        // The 5th of May is the same day in both orders.
        [(best, a), (_, b), ..] if a.same(b) => Some(*best),
        [(best, a), (_, b), ..] => (a.total_ms.saturating_mul(3) < b.total_ms).then_some(*best),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2026-01-15 12:00 is 1,768,478,400 s after 1970, day 46037.5 from 1900 on and 44575.5 from 1904 on.
    #[test]
    fn one_moment_is_counted_in_many_ways() {
        let moment = 1_768_478_400_000;
        let of = |form: DateForm, cell: &str| form.ms(cell, b'.');
        assert_eq!(of(DateForm::EpochSeconds, "1768478400"), Some(moment));
        assert_eq!(of(DateForm::EpochMilliseconds, "1768478400000"), Some(moment));
        assert_eq!(of(DateForm::Serial1900, "46037.5"), Some(moment));
        assert_eq!(of(DateForm::Serial1904, "44575.5"), Some(moment));
        assert_eq!(of(DateForm::SecondsOf(2026), "1252800"), Some(moment));
        let minutes = DateForm::Since { unit_ms: 60_000, start_ms: moment - 600_000 };
        assert_eq!(of(minutes, "10"), Some(moment));
        assert_eq!(of(DateForm::EpochSeconds, "noon"), None);
    }
}
