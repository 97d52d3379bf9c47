//! Readings → exports, in several dialects. The readers' tests use the same writers.

use crate::clock::{LocalTime, UtcTime, Zone};
use crate::units::{Celsius, TemperatureUnit};

/// How an export is written, by its traits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dialect {
    /// Commas, ISO dates, °C in the header.
    CommaIso,
    /// Semicolons, decimal commas, day first, preamble, Windows-1252, CRLF.
    SemicolonDayFirst,
    /// Tabs, month first, 12 hours, °F.
    TabMonthFirst,
    /// Commas, times in UTC with Z, byte-order mark.
    IsoUtc,
    /// Bars, date and time in columns of their own, a row number before them.
    BarTwoColumns,
    /// Seconds since 1970, humidity beside the temperature.
    EpochHumidity,
    /// Blanks between columns, °F.
    WideBlanks,
    /// Quoted and padded fields, unit beside each value.
    QuotedUnits,
}

/// Every dialect.
pub const DIALECTS: [Dialect; 8] = [
    Dialect::CommaIso,
    Dialect::SemicolonDayFirst,
    Dialect::TabMonthFirst,
    Dialect::IsoUtc,
    Dialect::BarTwoColumns,
    Dialect::EpochHumidity,
    Dialect::WideBlanks,
    Dialect::QuotedUnits,
];

impl Dialect {
    /// The unit it writes.
    pub const fn unit(self) -> TemperatureUnit {
        match self {
            Dialect::TabMonthFirst | Dialect::WideBlanks => TemperatureUnit::Fahrenheit,
            _ => TemperatureUnit::Celsius,
        }
    }

    /// The ending of its files.
    pub const fn ending(self) -> &'static str {
        match self {
            Dialect::TabMonthFirst | Dialect::WideBlanks => "txt",
            _ => "csv",
        }
    }

    /// Whether its times say which instant they mean.
    pub const fn states_instants(self) -> bool {
        matches!(self, Dialect::IsoUtc | Dialect::EpochHumidity)
    }

    fn head(self, logger: &str) -> String {
        match self {
            Dialect::CommaIso => "time,temperature (°C)\n".to_owned(),
            Dialect::SemicolonDayFirst => {
                format!("Logger;{logger}\r\nUnit;°C\r\n\r\nDate and time;Room air\r\n")
            }
            Dialect::TabMonthFirst => "Taken at\tAir (°F)\n".to_owned(),
            Dialect::IsoUtc => "\u{feff}time,room_degc\n".to_owned(),
            Dialect::BarTwoColumns => "no|date|clock|air °C\n".to_owned(),
            Dialect::EpochHumidity => "seconds,temp_c,rh (%)\n".to_owned(),
            Dialect::WideBlanks => "Date and time        Air °F\n".to_owned(),
            Dialect::QuotedUnits => "\"when\",\"what\"\n".to_owned(),
        }
    }
}

/// A logger's clock as it was set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// It follows the zone's daylight saving.
    Civil(Zone),
    /// It keeps an offset from UTC, in seconds.
    Fixed(i32),
}

impl Habit {
    fn local(self, t: UtcTime) -> LocalTime {
        match self {
            Habit::Civil(zone) => zone.local(t),
            Habit::Fixed(offset_s) => LocalTime::from_ms(t.ms() + i64::from(offset_s) * 1000),
        }
    }
}

/// A row to be written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Written {
    /// When.
    pub at: UtcTime,
    /// Temperature in °C; `None`: the row has no value.
    pub degc: Option<f64>,
    /// Relative humidity in %, for dialects that have it.
    pub humidity: Option<f64>,
}

impl From<(UtcTime, Option<f64>)> for Written {
    fn from((at, degc): (UtcTime, Option<f64>)) -> Self {
        Self { at, degc, humidity: None }
    }
}

/// Writes readings; `decimals` digits stand after the decimal mark, and `shown_as` is the unit the logger believes in.
pub fn write(
    dialect: Dialect,
    logger: &str,
    habit: Habit,
    decimals: u32,
    shown_as: TemperatureUnit,
    readings: impl Iterator<Item = impl Into<Written>>,
) -> Vec<u8> {
    let mut out = dialect.head(logger).into_bytes();
    let mut day = Day::default();
    for (row, reading) in readings.enumerate() {
        let reading: Written = reading.into();
        let t = reading.at;
        let local = if dialect.states_instants() { LocalTime::from_ms(t.ms()) } else { habit.local(t) };
        day.to(local);
        let number = reading.degc.map(|x| Number::new(shown_as.number(Celsius::new(x)), decimals));
        let shown = Shown { row, t, number, humidity: reading.humidity.map(|x| Number::new(x, 1)) };
        line(dialect, &mut out, &day, &shown);
    }
    if dialect == Dialect::SemicolonDayFirst {
        // The degree sign is the only character beyond ASCII, and has the same number in Windows-1252.
        return String::from_utf8_lossy(&out).chars().map(|c| u8::try_from(c).unwrap_or(b'?')).collect();
    }
    out
}

/// One file for all rooms of a home: a column per room, padded and quoted, °C without saying so.
///
/// All series have the same times; where one has no row, its cell stays empty.
pub fn write_wide(names: &[&str], habit: Habit, decimals: u32, series: &[Vec<Written>]) -> Vec<u8> {
    let mut times: Vec<UtcTime> = series.iter().flatten().map(|w| w.at).collect();
    times.sort_unstable();
    times.dedup();
    let mut out = format!("\"{:<19}\"", "time").into_bytes();
    names.iter().for_each(|name| out.extend_from_slice(format!(",\"{name:<10}\"").as_bytes()));
    out.push(b'\n');
    let mut next = vec![0; series.len()];
    for t in times {
        out.extend_from_slice(format!("\"{:<19}\"", &habit.local(t).show()[..16]).as_bytes());
        for (series, next) in series.iter().zip(&mut next) {
            let here = series.get(*next).filter(|w| w.at == t);
            *next += usize::from(here.is_some());
            let text =
                here.and_then(|w| w.degc).map_or(String::new(), |x| format!("{x:.*}", decimals as usize));
            out.extend_from_slice(format!(",\"{text:>7} \"").as_bytes());
        }
        out.push(b'\n');
    }
    out
}

/// A row in figures.
struct Shown {
    row: usize,
    t: UtcTime,
    number: Option<Number>,
    humidity: Option<Number>,
}

fn line(dialect: Dialect, out: &mut Vec<u8>, day: &Day, shown: &Shown) {
    let Shown { row, t, number, humidity } = shown;
    let value = |out: &mut Vec<u8>, mark: u8| number.iter().for_each(|n| n.write(out, mark));
    match dialect {
        Dialect::CommaIso | Dialect::IsoUtc => {
            let utc = dialect == Dialect::IsoUtc;
            out.extend_from_slice(&day.ymd);
            out.push(if utc { b'T' } else { b' ' });
            day.hms(out);
            out.extend_from_slice(if utc { b"Z," } else { b"," });
            value(out, b'.');
        }
        Dialect::SemicolonDayFirst => {
            day.reordered(out, [8, 5, 0], b'.');
            out.push(b' ');
            day.hms(out);
            out.push(b';');
            value(out, b',');
            out.push(b'\r');
        }
        Dialect::TabMonthFirst => {
            day.reordered(out, [5, 8, 0], b'/');
            out.push(b' ');
            day.twelve_hours(out);
            out.push(b'\t');
            value(out, b'.');
        }
        Dialect::BarTwoColumns => {
            whole(out, *row as u64 + 1);
            out.push(b'|');
            out.extend_from_slice(&day.ymd);
            out.push(b'|');
            day.hms(out);
            out.push(b'|');
            value(out, b'.');
        }
        Dialect::EpochHumidity => {
            whole(out, (t.ms() / 1000) as u64);
            out.push(b',');
            value(out, b'.');
            out.push(b',');
            humidity.iter().for_each(|n| n.write(out, b'.'));
        }
        Dialect::WideBlanks => {
            day.ymd_hms(out);
            out.extend_from_slice(b"  ");
            if number.is_none() {
                out.extend_from_slice(b"---");
            }
            value(out, b'.');
        }
        Dialect::QuotedUnits => {
            out.push(b'"');
            day.ymd_hms(out);
            out.extend_from_slice(b"\",\"  ");
            value(out, b'.');
            out.extend_from_slice(if number.is_some() { " °C\"".as_bytes() } else { b"\"" });
        }
    }
    out.push(b'\n');
}

/// A number with a fixed count of decimals.
#[derive(Clone, Copy)]
struct Number {
    negative: bool,
    whole: u64,
    part: u64,
    decimals: u32,
}

impl Number {
    fn new(x: f64, decimals: u32) -> Self {
        let scale = 10_u64.pow(decimals);
        let scaled = libm::round(x.abs() * scale as f64) as u64;
        Self { negative: x < 0.0 && scaled > 0, whole: scaled / scale, part: scaled % scale, decimals }
    }

    fn write(&self, out: &mut Vec<u8>, mark: u8) {
        if self.negative {
            out.push(b'-');
        }
        whole(out, self.whole);
        if self.decimals > 0 {
            out.push(mark);
            for place in (0..self.decimals).rev() {
                out.push(b'0' + (self.part / 10_u64.pow(place) % 10) as u8);
            }
        }
    }
}

fn whole(out: &mut Vec<u8>, n: u64) {
    if n >= 10 {
        whole(out, n / 10);
    }
    out.push(b'0' + (n % 10) as u8);
}

fn two(out: &mut Vec<u8>, n: i64) {
    out.push(b'0' + (n / 10) as u8);
    out.push(b'0' + (n % 10) as u8);
}

/// A local time whose date is written once a day.
#[derive(Default)]
struct Day {
    number: Option<i64>,
    ymd: Vec<u8>,
    second_of_day: i64,
}

impl Day {
    fn to(&mut self, local: LocalTime) {
        const DAY_MS: i64 = 86_400_000;
        let number = local.ms().div_euclid(DAY_MS);
        self.second_of_day = local.ms().rem_euclid(DAY_MS) / 1000;
        if self.number != Some(number) {
            self.number = Some(number);
            self.ymd = local.show().into_bytes();
            self.ymd.truncate(10);
        }
    }

    fn hms(&self, out: &mut Vec<u8>) {
        two(out, self.second_of_day / 3600);
        out.push(b':');
        two(out, self.second_of_day / 60 % 60);
        out.push(b':');
        two(out, self.second_of_day % 60);
    }

    fn ymd_hms(&self, out: &mut Vec<u8>) {
        out.extend_from_slice(&self.ymd);
        out.push(b' ');
        self.hms(out);
    }

    fn twelve_hours(&self, out: &mut Vec<u8>) {
        two(out, (self.second_of_day / 3600 + 11) % 12 + 1);
        out.push(b':');
        two(out, self.second_of_day / 60 % 60);
        out.push(b':');
        two(out, self.second_of_day % 60);
        out.extend_from_slice(if self.second_of_day < 43_200 { b" AM" } else { b" PM" });
    }

    /// Parts of the date by their place in `2026-01-05`.
    fn reordered(&self, out: &mut Vec<u8>, from: [usize; 3], separator: u8) {
        for (i, at) in from.into_iter().enumerate() {
            if i > 0 {
                out.push(separator);
            }
            out.extend_from_slice(&self.ymd[at..at + if at == 0 { 4 } else { 2 }]);
        }
    }
}
