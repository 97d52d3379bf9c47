//! How an instant is written.

use crate::wild::calendar::{DAY_MS, MIN_MS, Wall, days};
use crate::wild::dialects::Plan;
use crate::wild::traits::{Clock, DateForm, Join, Seconds, Times, Written};

/// The way of spelling AM and PM that needs Unicode.
pub(crate) const NARROW_BLANK: usize = 5;
const HALVES: [(&str, &str); 7] = [
    (" AM", " PM"),
    ("AM", "PM"),
    (" am", " pm"),
    (" a.m.", " p.m."),
    (" a. m.", " p. m."),
    ("\u{202f}AM", "\u{202f}PM"),
    (" A.M.", " P.M."),
];
const ENGLISH: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
const GERMAN: [&str; 12] =
    ["Jan", "Feb", "Mär", "Apr", "Mai", "Jun", "Jul", "Aug", "Sep", "Okt", "Nov", "Dez"];
const FRENCH: [&str; 12] =
    ["janv.", "févr.", "mars", "avr.", "mai", "juin", "juil.", "août", "sept.", "oct.", "nov.", "déc."];
const SPANISH: [&str; 12] =
    ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"];
const WEEKDAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];

impl Plan {
    /// The smallest step of time that the export writes.
    pub(crate) fn precision_ms(&self) -> i64 {
        match self.times {
            Times::Written(Written { seconds: Seconds::None, .. }) => MIN_MS,
            Times::Written(Written { seconds: Seconds::Thousandths, .. }) | Times::EpochMilliseconds => 1,
            _ => 1000,
        }
    }

    /// Minutes that the logger's clock is ahead of UTC at an instant.
    fn ahead_min(&self, utc_ms: i64) -> i64 {
        match self.clock {
            Clock::Civil => self.zone.offset_ms(utc_ms) / MIN_MS,
            Clock::Fixed(minutes) => minutes,
        }
    }

    pub(crate) fn local(&self, utc_ms: i64) -> Wall {
        Wall::new(utc_ms + self.ahead_min(utc_ms) * MIN_MS)
    }

    /// How many columns the time takes.
    pub(crate) fn time_columns(&self) -> usize {
        match self.times {
            Times::Written(Written { join: Join::Apart, .. }) => 2,
            Times::Written(Written { join: Join::ApartHalf, .. }) => 3,
            _ => 1,
        }
    }

    /// The cells that write an instant.
    pub(crate) fn time_cells(&self, utc_ms: i64) -> Vec<String> {
        let ahead_min = self.ahead_min(utc_ms);
        match self.times {
            Times::Written(written) => written.cells(self.local(utc_ms), ahead_min),
            Times::EpochSeconds => vec![(utc_ms / 1000).to_string()],
            Times::EpochMilliseconds => vec![utc_ms.to_string()],
            Times::Serial(from_1904) => {
                let zero = if from_1904 { days(1904, 1, 1) } else { days(1899, 12, 30) };
                let count = (utc_ms + ahead_min * MIN_MS - zero * DAY_MS) as f64 / DAY_MS as f64;
                let text = format!("{count:.*}", 5 + (self.seed % 6) as usize);
                vec![text.replace('.', &self.decimal().to_string())]
            }
        }
    }

    /// Date and time as they would stand in a text.
    pub(crate) fn time_text(&self, utc_ms: i64) -> String {
        self.time_cells(utc_ms).join(" ")
    }
}

impl Written {
    fn cells(&self, wall: Wall, ahead_min: i64) -> Vec<String> {
        let (date, mut time, half) = (self.date(wall), self.time(wall), self.half(wall));
        if let Some(offset) = self.offset {
            time = format!("{time}{half}{}", offset_text(offset, ahead_min));
        } else if self.join != Join::ApartHalf {
            time.push_str(half);
        }
        match self.join {
            Join::Blank => vec![format!("{date} {time}")],
            Join::T => vec![format!("{date}T{time}")],
            Join::Apart => vec![date, time],
            Join::ApartHalf => vec![date, time, half.trim().to_owned()],
        }
    }

    fn number(&self, number: i64) -> String {
        if self.padded { format!("{number:02}") } else { number.to_string() }
    }

    fn date(&self, wall: Wall) -> String {
        let (month, day) = (self.number(wall.month), self.number(wall.day));
        let year = if self.short_year { format!("{:02}", wall.year % 100) } else { wall.year.to_string() };
        match self.date {
            DateForm::Ymd(sep) => format!("{year}{sep}{month}{sep}{day}"),
            DateForm::Dmy(sep) => format!("{day}{sep}{month}{sep}{year}"),
            DateForm::Mdy(sep) => format!("{month}{sep}{day}{sep}{year}"),
            DateForm::Named(form) => named(form, wall),
        }
    }

    fn time(&self, wall: Wall) -> String {
        let hour = match self.half {
            Some(_) => (wall.hour + 11) % 12 + 1,
            None => wall.hour,
        };
        let (hour, minute) = (self.number(hour), wall.minute);
        match self.seconds {
            Seconds::None => format!("{hour}:{minute:02}"),
            Seconds::Whole => format!("{hour}:{minute:02}:{:02}", wall.second),
            Seconds::Thousandths => format!("{hour}:{minute:02}:{:02}.{:03}", wall.second, wall.ms),
        }
    }

    fn half(&self, wall: Wall) -> &'static str {
        self.half.map_or("", |h| if wall.hour < 12 { HALVES[h].0 } else { HALVES[h].1 })
    }
}

fn named(form: usize, wall: Wall) -> String {
    let Wall { year, day, .. } = wall;
    let month = wall.month as usize - 1;
    let short = &ENGLISH[month][..3];
    match form {
        0 => format!("{day:02}-{short}-{year}"),
        1 => format!("{day} {short} {year}"),
        2 => format!("{short} {day}, {year}"),
        3 => format!("{day}. {} {year}", GERMAN[month]),
        4 => format!("{day:02} {} {year}", ENGLISH[month]),
        5 => format!("{day} {} {year}", FRENCH[month]),
        6 => format!("{year}-{short}-{day:02}"),
        7 => format!("{} {day:02} {short} {year}", WEEKDAYS[wall.weekday]),
        8 => format!("{day} {} {year}", SPANISH[month]),
        _ => format!("{} {day:02} {year}", short.to_uppercase()),
    }
}

fn offset_text(form: usize, minutes: i64) -> String {
    let (sign, hours, rest) = (if minutes < 0 { '-' } else { '+' }, minutes.abs() / 60, minutes.abs() % 60);
    match form {
        0 | 1 if minutes == 0 => "Z".to_owned(),
        2 if minutes == 0 => " UTC".to_owned(),
        3 => format!("{sign}{hours:02}{rest:02}"),
        4 => format!(" {sign}{hours:02}:{rest:02}"),
        _ => format!("{sign}{hours:02}:{rest:02}"),
    }
}

/// `-06:00`, the way clocks are stated for a whole file.
pub(crate) fn offset(minutes: i64) -> String {
    offset_text(9, minutes)
}
