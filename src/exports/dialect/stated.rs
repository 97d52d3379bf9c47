//! What headers and preambles state: units and clocks.

use crate::clock::{Clock, Zone, parse_offset_s};
use crate::exports::vocabulary::{Holds, has_part, speaks_of};
use crate::units::TemperatureUnit;

/// A clock that an export states.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::exports) enum StatedClock {
    /// Seconds ahead of UTC.
    Offset(i32),
    /// Civil time of a zone.
    Zone(Zone),
}

impl StatedClock {
    pub(in crate::exports) fn clock(self) -> Clock {
        match self {
            StatedClock::Offset(offset_s) => Clock::Fixed(offset_s),
            StatedClock::Zone(zone) => Clock::Civil(zone),
        }
    }
}

/// The unit that a header states: `temperature (°C)`, `Temp [F]`, `temp_degc`, `T_c`.
pub(in crate::exports) fn unit_in(header: &str) -> Option<TemperatureUnit> {
    let marked = header.split(['(', ')', '[', ']', ',', '/', ';']).skip(1).find_map(TemperatureUnit::parse);
    // "room F" is a room; a letter alone is a unit behind an underscore, or where temperature is spoken of.
    let spoken = has_part(header, &[Holds::Temperature]);
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
    if !speaks_of(line, Holds::Unit) {
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

/// The offset behind "UTC" or "GMT": at once, or behind the separators and the word "offset" that a preamble puts between.
fn stated_offset_s(text: &str) -> Option<i32> {
    let upper = text.to_ascii_uppercase();
    let at = upper.find("UTC").or_else(|| upper.find("GMT"))?;
    let before = text[..at].chars().next_back();
    if before.is_some_and(char::is_alphanumeric) {
        return None;
    }
    let behind = text[at + 3..].trim_start();
    let of_offset = upper.contains("OFFSET") || upper.contains("DIFFERENCE");
    if !of_offset && behind.starts_with(char::is_alphabetic) {
        return None;
    }
    let number = if of_offset { behind.find(['+', '-', '−']).map(|sign| &behind[sign..])? } else { behind };
    let digits = |c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '−' | ':');
    let end = number.find(|c| !digits(c)).unwrap_or(number.len());
    match &number[..end] {
        "" => Some(0),
        minutes if of_offset && upper.contains("MIN") => in_minutes(minutes),
        offset => parse_offset_s(offset),
    }
}

/// An offset that is counted in minutes, `UTC offset [min];-300`.
fn in_minutes(text: &str) -> Option<i32> {
    let minutes: i32 = text.replace('−', "-").parse().ok()?;
    (minutes.abs() <= 14 * 60).then_some(minutes * 60)
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
        assert_eq!(stated_clock("time_utc"), Some(StatedClock::Offset(0)));
        for line in
            ["UTC offset;-05:00", "Offset from UTC: -05:00", "UTC offset [min];-300", "GMT offset, -5"]
        {
            assert_eq!(stated_clock(line), Some(StatedClock::Offset(-18000)), "{line}");
        }
        assert_eq!(stated_clock("Offset from UTC is not known"), None);
        assert_eq!(
            stated_clock("time zone;America/Chicago"),
            Zone::parse("America/Chicago").map(StatedClock::Zone)
        );
    }
}
