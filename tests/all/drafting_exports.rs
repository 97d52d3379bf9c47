//! Exports of one invented building, each logger in a dialect of its own.

use std::io::Write;
use std::ops::Range;

use chrono::{DateTime, Duration, Utc};
use flate2::Compression;
use flate2::write::GzEncoder;
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};

/// Minutes from reading to reading.
pub(crate) const EVERY_MIN: usize = 10;
/// Hours that the building's clocks are behind UTC, in winter.
const BEHIND_UTC_H: i64 = 6;

/// How an export is written.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Written {
    Plain,
    DecimalCommaDayFirst,
    Utf16Tab,
    MonthFirstAmPm,
    Compressed,
    Workbook,
    EpochSeconds,
    WithOffset,
    Wide,
    Hourly,
    Long,
}

/// A stretch of one logger's readings, by number from the start of the building's record.
pub(crate) struct Record {
    logger: usize,
    rows: Range<usize>,
}

impl Record {
    pub(crate) fn new(logger: usize, rows: Range<usize>) -> Self {
        Self { logger, rows }
    }

    /// Instants in UTC and temperatures in °C: no two loggers alike, a day in each.
    fn readings(&self) -> impl Iterator<Item = (DateTime<Utc>, f64)> {
        let start: DateTime<Utc> = "2026-01-13T06:00:00Z".parse().unwrap();
        let logger = self.logger;
        self.rows.clone().map(move |i| {
            let of_day = (i * EVERY_MIN % 1440) as f64 / 1440.0;
            let daily = 2.4 * (of_day - 0.5).abs();
            let ripple = ((i * (7 + logger) + logger * 31) % 9) as f64 * 0.05;
            let degc = 20.0 + 0.15 * logger as f64 - daily + ripple;
            (start + Duration::minutes((i * EVERY_MIN) as i64), (degc * 100.0).round() / 100.0)
        })
    }

    /// As above, on the wall clock.
    fn local(&self) -> impl Iterator<Item = (DateTime<Utc>, f64)> {
        self.readings().map(|(t, degc)| (t - Duration::hours(BEHIND_UTC_H), degc))
    }
}

fn degf(degc: f64) -> f64 {
    degc * 1.8 + 32.0
}

/// The bytes of an export; only wide and long ones hold several records.
pub(crate) fn write(written: Written, records: &[Record]) -> Vec<u8> {
    let one = &records[0];
    match written {
        Written::Compressed => {
            let mut encoder = GzEncoder::new(Vec::new(), Compression::default());
            encoder.write_all(&write(Written::Plain, records)).unwrap();
            encoder.finish().unwrap()
        }
        Written::Utf16Tab => {
            let rows = one.local().map(|(t, x)| format!("{}\t{x:.2}\r\n", t.format("%Y-%m-%d %H:%M")));
            let text = format!("\u{feff}time\ttemperature (°C)\r\n{}", rows.collect::<String>());
            text.encode_utf16().flat_map(u16::to_le_bytes).collect()
        }
        Written::Workbook => workbook(one),
        Written::Wide => wide(records).into_bytes(),
        Written::Long => long(records).into_bytes(),
        _ => {
            let (header, row) = line_by_line(written);
            let rows = one.readings().filter(|(t, _)| written != Written::Hourly || on_the_hour(*t));
            format!("{header}\n{}", rows.map(|(t, x)| row(t, x) + "\n").collect::<String>()).into_bytes()
        }
    }
}

type Line = fn(DateTime<Utc>, f64) -> String;

/// The lines above the rows, and how a row is written.
fn line_by_line(written: Written) -> (&'static str, Line) {
    match written {
        Written::DecimalCommaDayFirst => ("Serial;300512\nUnit;°C\n\nZeit;Wert", |t, x| {
            format!("{};{}", wall(t).format("%d.%m.%Y %H:%M"), format!("{x:.2}").replace('.', ","))
        }),
        Written::MonthFirstAmPm => ("#,time,temperature (°F)", |t, x| {
            let number = t.timestamp() / 60 / EVERY_MIN as i64 - 2_945_000;
            format!("{number},{},{:.1}", wall(t).format("%-m/%-d/%Y %-I:%M:%S %p"), degf(x))
        }),
        Written::EpochSeconds => ("ts,temp_degc", |t, x| format!("{},{x:.2}", t.timestamp())),
        Written::WithOffset => ("time,temperature (°F)", |t, x| {
            format!("{}-06:00,{:.1}", wall(t).format("%Y-%m-%dT%H:%M:%S"), degf(x))
        }),
        Written::Hourly => {
            ("time,outdoor (°C)", |t, x| format!("{},{:.1}", wall(t).format("%Y-%m-%d %H:%M"), x - 26.0))
        }
        _ => ("time,temperature (°C)", |t, x| format!("{},{x:.2}", wall(t).format("%Y-%m-%d %H:%M:%S"))),
    }
}

fn wall(t: DateTime<Utc>) -> DateTime<Utc> {
    t - Duration::hours(BEHIND_UTC_H)
}

fn on_the_hour(t: DateTime<Utc>) -> bool {
    t.timestamp() % 3600 == 0
}

fn wide(records: &[Record]) -> String {
    let mut text = "time,living (°C),bedroom (°C),hall (°C)\n".to_owned();
    let others: Vec<Vec<f64>> = records.iter().map(|r| r.readings().map(|(_, x)| x).collect()).collect();
    for (i, (t, _)) in records[0].local().enumerate() {
        let values: String = others.iter().map(|of_room| format!(",{:.2}", of_room[i])).collect();
        text += &format!("{}{values}\n", t.format("%Y-%m-%d %H:%M"));
    }
    text
}

fn long(records: &[Record]) -> String {
    let mut text = "logger,time,temperature (°C)\n".to_owned();
    for (record, place) in records.iter().zip(["living", "bedroom", "bath"]) {
        for (t, x) in record.local() {
            text += &format!("4D {place},{},{x:.2}\n", t.format("%Y-%m-%d %H:%M"));
        }
    }
    text
}

fn workbook(record: &Record) -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet().set_name("readings").unwrap();
    let format = Format::new().set_num_format("yyyy\\-mm\\-dd\\ hh:mm:ss");
    sheet.write_string(0, 0, "time").unwrap();
    sheet.write_string(0, 1, "temperature (°C)").unwrap();
    for ((t, x), row) in record.local().zip(1..) {
        let time = ExcelDateTime::parse_from_str(&t.format("%Y-%m-%dT%H:%M:%S").to_string()).unwrap();
        sheet.write_datetime_with_format(row, 0, time, &format).unwrap();
        sheet.write_number(row, 1, x).unwrap();
    }
    book.save_to_buffer().unwrap()
}
