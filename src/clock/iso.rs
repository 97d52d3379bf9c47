//! Instants as ISO 8601.

use std::io::Write as _;

use chrono::{DateTime, Datelike, Timelike};

use super::UtcTime;

impl UtcTime {
    /// ISO 8601 with `Z`, to the second.
    pub fn iso(self) -> String {
        let mut text = Vec::new();
        self.push_iso(&mut text);
        String::from_utf8(text).unwrap_or_default()
    }

    /// Puts [`UtcTime::iso`] behind what was written before.
    pub fn push_iso(self, out: &mut Vec<u8>) {
        // Writing into memory does not fail.
        let _ = match DateTime::from_timestamp_millis(self.ms()).map(|t| t.naive_utc()) {
            Some(t) if (0..10_000).contains(&t.year()) => {
                let (year, month, day) = (t.year() as u32, t.month(), t.day());
                let pairs = [year / 100, year % 100, month, day, t.hour(), t.minute(), t.second()];
                let mut text = *b"0000-00-00T00:00:00Z";
                for (at, pair) in [0, 2, 5, 8, 11, 14, 17].into_iter().zip(pairs) {
                    text[at] = b'0' + (pair / 10) as u8;
                    text[at + 1] = b'0' + (pair % 10) as u8;
                }
                out.extend_from_slice(&text);
                Ok(())
            }
            // A year of more digits, or before year 0.
            Some(t) => write!(
                out,
                "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z",
                t.year(),
                t.month(),
                t.day(),
                t.hour(),
                t.minute(),
                t.second()
            ),
            None => write!(out, "{} ms after the epoch", self.ms()),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_of_digits_are_what_formatting_gives() {
        let simple = |ms: i64| {
            let t = DateTime::from_timestamp_millis(ms).unwrap();
            let (year, month, day) = (t.year(), t.month(), t.day());
            format!("{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}Z", t.hour(), t.minute(), t.second())
        };
        let (year_0, year_10_000) = (-62_167_219_200_000, 253_402_300_800_000_i64);
        let ends = [year_0, year_10_000, 0].into_iter().flat_map(|at| (-2..3).map(move |i| at + i * 999));
        let all = (-40_000..40_000).map(|i| i * 86_399_037_i64 * 100);
        for ms in ends.chain(all) {
            assert_eq!(UtcTime::from_ms(ms).iso(), simple(ms), "{ms}");
        }
        assert_eq!(UtcTime::from_ms(1_767_571_200_000).iso(), "2026-01-05T00:00:00Z");
        assert_eq!(UtcTime::from_ms(i64::MAX).iso(), format!("{} ms after the epoch", i64::MAX));
    }
}
