//! What the generator found, each as small as it goes: how these files are to be read.

use evenrooms::exports::Opened;

use crate::wild::calendar::{DAY_MS, HOUR_MS, MIN_MS, days};
use crate::wild::reading::open;

const HEAD: &str = "home,room,use,heated,logger,file,column,unit,clock,dates\n";

/// Opens a text; the roster row names its logger and goes on with `tail` (column, unit, clock, dates).
fn opened_by(logger: &str, text: &str, tail: &str) -> Opened {
    opened_bytes(logger, text.as_bytes(), tail)
}

fn opened_bytes(logger: &str, bytes: &[u8], tail: &str) -> Opened {
    let site = "[site]\nname = \"Alder Row\"\ntime_zone = \"America/Chicago\"\nroster = \"roster.csv\"\nclock = \"civil\"\n";
    let roster = format!("{HEAD}1A,a,other,yes,{logger},export.txt,{tail}\n");
    open(site, &roster, bytes).unwrap().remove(0)
}

/// The first reading must be this one, and there are so many.
fn reads(text: &str, tail: &str, first: (i64, f64), rows: usize) {
    reads_by("N-1", text, tail, first, rows);
}

fn reads_by(logger: &str, text: &str, tail: &str, first: (i64, f64), rows: usize) {
    let opened = opened_by(logger, text, tail);
    let readings = &opened.readings;
    let read = readings.times_ms().first().copied().zip(readings.degc().first().copied());
    let same = read.is_some_and(|(t, x)| t == first.0 && (x - first.1).abs() < 1e-9);
    assert!(
        same && readings.len() == rows,
        "{read:?} and {} rows, not {first:?} and {rows}\n{text}\n{:#?}",
        readings.len(),
        opened.notes
    );
}

/// Minutes after 2026-01-05 00:00 on a clock so many hours ahead of UTC.
fn utc(minutes: i64, ahead_h: i64) -> i64 {
    days(2026, 1, 5) * DAY_MS + minutes * MIN_MS - ahead_h * HOUR_MS
}

/// Twelve rows, 10 min apart, of 20.1 °C and more.
fn rows(mut row: impl FnMut(i64, f64) -> String) -> String {
    (0..12).map(|i| row(i * 10, 20.1 + i as f64 / 10.0)).collect()
}

/// `00:10;20.2` and the like, behind a date.
fn plain() -> String {
    rows(|m, x| format!("2026-01-05 {:02}:{:02};{x:.1}\n", m / 60, m % 60))
}

fn apart() -> String {
    rows(|m, x| format!("2026-01-05;{:02}:{:02};{x:.1}\n", m / 60, m % 60))
}

fn halves() -> String {
    rows(|m, x| format!("2026-01-05;{}:{:02};AM;{x:.1}\n", (m / 60 + 11) % 12 + 1, m % 60))
}

fn padded() -> String {
    rows(|m, x| {
        let blank = [" ", "", "   "][(m / 10 % 3) as usize];
        format!("{blank}2026-01-05 {:02}:{:02}:00-06:00{blank};{blank}{x:.1}\n", m / 60, m % 60)
    })
}

/// Seconds since 1970.
fn count(minutes: i64) -> i64 {
    utc(minutes, 0) / 1000
}

#[test]
fn without_their_traps_these_files_are_read() {
    reads(&format!("time;T\n{}", plain()), ",°C,civil,", (utc(0, -6), 20.1), 12);
    reads(&plain(), ",°C,civil,", (utc(0, -6), 20.1), 12);
    reads(&format!("date (UTC);time;T\n{}", apart()), ",°C,,", (utc(0, 0), 20.1), 12);
    reads(&format!("date (UTC-05:00);time;AM/PM;T\n{}", halves()), ",°C,,", (utc(0, -5), 20.1), 12);
    reads(&format!(" Time ; Temperature [°C] \n{}", padded()), ",,,", (utc(0, -6), 20.1), 12);
    reads(&format!("Logger;time;T\n{}", in_turn("N-1", "N-2")), ",°C,civil,", (utc(0, -6), 20.1), 12);
    reads(
        &format!("time;T\n{}", rows(|m, x| format!("{};{x:.1}\n", count(m)))),
        ",°C,,",
        (utc(0, 0), 20.1),
        12,
    );
}

#[test]
fn an_offset_beyond_all_clocks_is_none() {
    reads(&format!("UTC-999910\ntime;T\n{}", plain()), ",°C,utc,", (utc(0, 0), 20.1), 12);
}

#[test]
fn the_time_of_the_export_is_not_the_clock_of_its_rows() {
    for line in [
        "Exported at;2026-03-01 16:45 UTC",
        "Exported at: 2026-03-01 16:45 UTC",
        "Read out;01.03.2026 16:45 GMT",
    ] {
        reads(&format!("{line}\ntime;T\n{}", plain()), ",°C,civil,", (utc(0, -6), 20.1), 12);
    }
}

#[test]

fn an_offset_stands_behind_its_name() {
    for line in
        ["UTC offset;-05:00", "UTC offset: -05:00", "Offset from UTC;-05:00", "Offset from UTC: -05:00"]
    {
        reads(&format!("{line}\ntime;T\n{}", plain()), ",°C,,", (utc(0, -5), 20.1), 12);
    }
}

#[test]
fn the_header_of_the_time_of_day_states_the_clock() {
    for header in ["date;time (UTC);T", "date;time, GMT-00:00;T", "date;time [UTC+00:00];T"] {
        reads(&format!("{header}\n{}", apart()), ",°C,,", (utc(0, 0), 20.1), 12);
    }
    reads(&format!("date;time (UTC-05:00);AM/PM;T\n{}", halves()), ",°C,,", (utc(0, -5), 20.1), 12);
}

#[test]
fn a_time_and_a_number_in_the_preamble_are_no_reading() {
    for line in ["Calibrated;2025-10-17 10:00;0.02", "Battery changed;2025-10-17 10:00;3.02"] {
        reads(&format!("{line}\ntime;T\n{}", plain()), ",°C,civil,", (utc(0, -6), 20.1), 12);
        reads(&format!("{line}\n{}", plain()), ",°C,civil,", (utc(0, -6), 20.1), 12);
    }
}

/// Rows of data above the first line that was taken for one are lost in the count of headers.
#[test]
fn no_row_of_data_is_counted_as_a_header() {
    let text = format!("Calibrated;2021-07-03 10:00;0.02\n Time ; Temperature [°C] \n{}", padded());
    reads(&text, ",,,", (utc(0, -6), 20.1), 12);
}

#[test]

fn a_line_of_the_preamble_is_no_header() {
    for line in ["High alarm;86.0 °F", "Status;Battery low", "Humidity unit;%", "Pressure;hPa", "Probe;good"]
    {
        reads(&format!("{line}\n{}", plain()), ",°C,civil,", (utc(0, -6), 20.1), 12);
    }
}

/// In a building a unit is an apartment, too: "F" beside it need not be Fahrenheit.
#[test]

fn an_apartment_is_no_temperature_unit() {
    let opened = opened_by("N-1", &format!("Unit;F\ntime;T\n{}", plain()), ",°C,civil,");
    let first = opened.readings.degc().first();
    assert!(first.is_none_or(|x| (x - 20.1).abs() < 1e-9), "{first:?}\n{:#?}", opened.notes);
    assert!(first.is_some() || opened.notes.iter().any(|n| n.unreadable));
}

/// What stands under no name is taken by its numbers only where these tell; a battery is no room.
#[test]

fn a_column_without_a_name_is_not_chosen_by_the_preamble() {
    let text = rows(|m, x| format!("2026-01-05 {:02}:{:02};{x:.1};3.05\n", m / 60, m % 60));
    let opened = opened_by("N-1", &format!("Status;Battery low\n{text}"), ",°C,civil,");
    let first = opened.readings.degc().first();
    assert!(first.is_none_or(|x| (x - 20.1).abs() < 1e-9), "{first:?}\n{:#?}", opened.notes);
    assert!(first.is_some() || opened.notes.iter().any(|n| n.unreadable));
}

/// Two loggers that take turns, some seconds apart.
fn in_turn(one: &str, other: &str) -> String {
    rows(|m, x| {
        let time = format!("2026-01-05 {:02}:{:02}", m / 60, m % 60);
        format!("{one};{time}:00;{x:.1}\n{other};{time}:07;{:.1}\n", x + 3.0)
    })
}

#[test]

fn loggers_may_have_numbers_for_names() {
    for header in ["Name;time;T\n", "Room;time;T\n", "Serial;time;T\n", ""] {
        let tail = if header.is_empty() { "3,°C,civil," } else { "T,°C,civil," };
        reads_by("7", &format!("{header}{}", in_turn("7", "8")), tail, (utc(0, -6), 20.1), 12);
    }
}

#[test]
fn one_file_of_several_loggers_serves_several_rooms() {
    let site = "[site]\nname = \"Alder Row\"\ntime_zone = \"UTC\"\nroster = \"roster.csv\"\n";
    let roster = format!("{HEAD}1A,a,other,yes,N-1,export.txt,,°C,,\n1A,b,other,yes,N-2,export.txt,,°C,,\n");
    let text = format!("Logger;time;T\n{}", in_turn("N-1", "N-2"));
    let opened = open(site, &roster, text.as_bytes()).unwrap();
    assert_eq!(opened.iter().map(|o| o.readings.len()).collect::<Vec<_>>(), [12, 12]);
}

#[test]

fn counted_times_may_have_units_in_the_cells_beside_them() {
    reads(
        &format!("time;T\n{}", rows(|m, x| format!("{};{x:.1} °C\n", count(m)))),
        ",,,",
        (utc(0, 0), 20.1),
        12,
    );
    let wide = rows(|m, x| format!("{}  {x:.1} °C  22.2 °C\n", count(m)));
    let text = format!("time        Bedroom 1  Bath\n{wide}");
    reads(&text, "Bath,,,", (utc(0, 0), 22.2), 12);
}

#[test]

fn counted_times_stand_below_any_preamble() {
    let before = "Samples:  30\nBattery:  64 %\nLocation:  Bedroom 1\nBattery:  64 %\nSamples:  30\n";
    let wide = rows(|m, x| format!("{:<3} {}  {x:.1}  4{}.5\n", m / 10 + 1, count(m), m % 7));
    let text = format!("{before}#   Recorded at  T     Humidity\n{wide}");
    reads(&text, "T,°C,,", (utc(0, 0), 20.1), 12);
    let plain = rows(|m, x| format!("{};{x:.1}\n", count(m)));
    reads(&format!("Calibrated;2012-07-29 10:00;0.02\ntime;T\n{plain}"), ",°C,,", (utc(0, 0), 20.1), 12);
    reads(&format!("{}time;T\n{plain}", "Device;Alder 3\n".repeat(20)), ",°C,,", (utc(0, 0), 20.1), 12);
    reads(
        &format!(
            "Downloaded;1700000000\nRow;time;T\n{}",
            rows(|m, x| format!("{};{};{x:.1}\n", m / 10 + 1, count(m)))
        ),
        "T,°C,,",
        (utc(0, 0), 20.1),
        12,
    );
}

#[test]

fn counted_times_may_stand_still_where_loggers_take_turns() {
    let text = rows(|m, x| format!("N-1;{};{x:.1}\nN-2;{};{:.1}\n", count(m), count(m), x + 3.0));
    reads(&format!("Logger;time;T\n{text}"), ",°C,,", (utc(0, 0), 20.1), 12);
}

#[test]

fn a_probe_may_be_what_measures() {
    for header in ["Probe temperature", "Sensor (°C)", "Logger temperature [°C]"] {
        let text = rows(|m, x| format!("2026-01-05 {:02}:{:02};{:.0}\n", m / 60, m % 60, x.floor()));
        reads(&format!("time;{header}\n{text}"), ",°C,civil,", (utc(0, -6), 20.0), 12);
    }
}

#[test]

fn a_summary_at_the_end_is_no_reading() {
    let text = rows(|m, x| format!("{};2026-01-05 {:02}:{:02};{x:.1}\n", m / 10 + 1, m / 60, m % 60));
    let end = "Battery at download;2026-01-05 03:00;3.0\n";
    reads(&format!("#;time;T\n{text}{end}"), "T,°C,civil,", (utc(0, -6), 20.1), 12);
}

/// The 5th of May is the same day in both orders: what the roster says of it cannot be wrong.
#[test]

fn the_same_day_in_both_orders_agrees_with_the_roster() {
    let at = |m: i64| format!("{:02}:{:02}", m / 60, m % 60);
    let text = rows(|m, x| format!("05/05/2026 {};{x:.1}\n", at(m)));
    let first = (days(2026, 5, 5) * DAY_MS, 20.1);
    for dates in ["", "day-first", "month-first"] {
        reads(&format!("time;T\n{text}"), &format!(",°C,utc,{dates}"), first, 12);
    }
}

/// Some loggers fill the last block of a file with zeros; half of a character must not go with them.
#[test]

fn zeros_behind_utf_16_take_nothing_with_them() {
    for end in ["\n", ""] {
        let text = format!("\u{feff}time;T\n{}", plain().trim_end());
        let units = text.encode_utf16().chain(end.encode_utf16()).chain([0; 100]);
        let little: Vec<u8> = units.clone().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = units.flat_map(u16::to_be_bytes).collect();
        for bytes in [little, big] {
            let opened = opened_bytes("N-1", &bytes, ",°C,utc,");
            assert_eq!(opened.readings.len(), 12, "{:#?}", opened.notes);
        }
    }
}

#[test]

fn a_row_above_a_repeated_header_is_not_lost() {
    let text = plain().replacen('\n', "\ntime;T\n", 1);
    reads(&format!("time;T\n{text}"), ",°C,utc,", (utc(0, 0), 20.1), 12);
}
