//! Written times → wall-clock readings.
//!
//! Settled here, and why:
//! - **A count from an untold start** is read only with the moment that is 0 (`dates`); the first row is not taken for
//!   it, because loggers count from their launch and may store later.

use super::names;
use crate::clock::LocalTime;

/// The order of the fields of a date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DateStyle {
    Ymd,
    Dmy,
    Mdy,
}

/// A written date and time in its fields, before day and month are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Fields {
    /// Three numbers, in the order in which they stand.
    pub(super) date: [u32; 3],
    pub(super) year_first: bool,
    hms: (u32, u32, u32),
    ms: u32,
    /// Seconds ahead of UTC, where the text says so.
    pub(super) offset_s: Option<i32>,
}

impl Fields {
    /// Hour of the day, 0 to 24; after AM or PM, where there was one, has been reckoned in.
    pub(super) fn hour(&self) -> u32 {
        self.hms.0
    }

    /// The wall-clock reading, when the date is in the given order; `None` when there is no such day.
    pub(super) fn local(&self, style: DateStyle) -> Option<LocalTime> {
        let [a, b, c] = self.date;
        let ymd = match style {
            _ if self.year_first => (a, b, c),
            DateStyle::Dmy => (c, b, a),
            DateStyle::Mdy => (c, a, b),
            // 26-01-05: a year of two digits may stand first too.
            DateStyle::Ymd if c < 100 => (a, b, c),
            DateStyle::Ymd => return None,
        };
        let year = if ymd.0 < 100 { 2000 + ymd.0 } else { ymd.0 };
        LocalTime::from_fields((year as i32, ymd.1, ymd.2), self.hms, self.ms)
    }
}

/// Reads `2026-01-05 13:10:00`, `2026-01-05T13:10Z`, `05.01.2026 13:10`, `1/5/2026 1:10:00 PM`, `5 Jan 2026, 13:10`.
///
/// The whole text must be understood.
pub(super) fn parse(text: &str) -> Option<Fields> {
    if !text.is_ascii() {
        return parse_ascii(&plain_blanks(text));
    }
    parse_ascii(text)
}

/// `20260105T131000`, with `Z` or an offset behind it perhaps: the basic form of ISO 8601.
fn parse_basic(text: &str) -> Option<Fields> {
    let (date, time) = text.split_once(['T', 't'])?;
    let end = time.find(|c: char| !c.is_ascii_digit()).unwrap_or(time.len());
    let (clock, offset) = time.split_at(end);
    let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    let two = |s: &str, at: usize| s.get(at..at + 2)?.parse::<u32>().ok();
    if date.len() != 8 || !digits(date) || !matches!(clock.len(), 4 | 6) {
        return None;
    }
    let date = [date[..4].parse().ok()?, two(date, 4)?, two(date, 6)?];
    let second = if clock.len() == 6 { two(clock, 4)? } else { 0 };
    let hms = (two(clock, 0)?, two(clock, 2)?, second);
    let offset_s = Scan(offset.as_bytes()).offset()?;
    Some(Fields { date, year_first: true, hms, ms: 0, offset_s })
}

fn parse_ascii(text: &str) -> Option<Fields> {
    if text.len() > 12 && text.as_bytes()[..5].iter().all(u8::is_ascii_digit) {
        return parse_basic(text);
    }
    let mut scan = Scan(text.as_bytes());
    let (date, year_first) = scan.date().or_else(|| {
        let (date, rest) = names::date(text)?;
        scan = Scan(rest.as_bytes());
        Some((date, true))
    })?;
    scan.eat(b',');
    if !(scan.eat(b'T') || scan.eat(b't') || scan.blanks() || scan.eat(b'_')) {
        return None;
    }
    scan.blanks();
    scan.time(date, year_first)
}

/// Whether a text is a date that lacks its time of day.
pub(super) fn is_bare_date(text: &str) -> bool {
    let mut scan = Scan(text.as_bytes());
    scan.date().is_some() && scan.0.is_empty()
}

/// As [`parse`], for a date and a time that stand in cells of their own, AM or PM perhaps in a third.
pub(super) fn parse_apart(date: &str, time: &str, half: &str) -> Option<Fields> {
    if !(date.is_ascii() && time.is_ascii() && half.is_ascii()) {
        return parse_apart(&plain_blanks(date), &plain_blanks(time), &plain_blanks(half));
    }
    let mut scan = Scan(date.as_bytes());
    let (date, year_first) = match scan.date() {
        Some(found) => found,
        None => {
            let (found, rest) = names::date(date)?;
            scan = Scan(rest.as_bytes());
            (found, true)
        }
    };
    if !scan.0.is_empty() {
        return None;
    }
    match half {
        "" => Scan(time.as_bytes()).time(date, year_first),
        half => Scan(format!("{time} {half}").as_bytes()).time(date, year_first),
    }
}

/// Blanks that do not break (as modern number and date formats write them) become plain ones, accents become plain letters.
fn plain_blanks(text: &str) -> String {
    let plain = |c: char| match c {
        '\u{a0}' | '\u{202f}' | '\u{2009}' => ' ',
        'ä' => 'a',
        'é' => 'e',
        'û' => 'u',
        '\u{feff}' | '\u{200e}' | '\u{200f}' => '\u{0}',
        '−' => '-',
        c if c.is_ascii() => c,
        _ => '?',
    };
    text.chars().map(plain).filter(|c| *c != '\u{0}').collect()
}

struct Scan<'t>(&'t [u8]);

impl Scan<'_> {
    fn eat(&mut self, byte: u8) -> bool {
        let found = self.0.first() == Some(&byte);
        if found {
            self.0 = &self.0[1..];
        }
        found
    }

    fn blanks(&mut self) -> bool {
        let before = self.0.len();
        while self.eat(b' ') {}
        self.0.len() < before
    }

    /// A number of at most four digits, and how many digits it has.
    fn number(&mut self) -> Option<(u32, usize)> {
        let mut value = 0;
        let mut digits = 0;
        while let Some(d) = self.0.first().filter(|b| b.is_ascii_digit()) {
            value = value * 10 + u32::from(d - b'0');
            digits += 1;
            if digits > 4 {
                return None;
            }
            self.0 = &self.0[1..];
        }
        (digits > 0).then_some((value, digits))
    }

    fn date(&mut self) -> Option<([u32; 3], bool)> {
        let (a, a_digits) = self.number()?;
        let separator = *self.0.first().filter(|b| matches!(b, b'-' | b'/' | b'.'))?;
        self.eat(separator);
        let (b, b_digits) = self.number()?;
        if !self.eat(separator) {
            return None;
        }
        let (c, c_digits) = self.number()?;
        let year_first = a_digits == 4;
        let plausible = b_digits <= 2
            && if year_first { c_digits <= 2 } else { a_digits <= 2 && (c_digits == 4 || c_digits == 2) };
        plausible.then_some(([a, b, c], year_first))
    }

    /// The time of day up to the end of the text.
    fn time(&mut self, date: [u32; 3], year_first: bool) -> Option<Fields> {
        let (mut hour, digits) = self.number()?;
        if digits > 2 || !self.eat(b':') {
            return None;
        }
        let (minute, _) = self.number().filter(|(_, digits)| *digits == 2)?;
        let second = if self.eat(b':') { self.number().filter(|(_, digits)| *digits == 2)?.0 } else { 0 };
        let ms = if self.eat(b'.') || self.eat(b',') { self.fraction_ms()? } else { 0 };
        self.blanks();
        if let Some(afternoon) = self.half_of_day() {
            if hour == 0 || hour > 12 {
                return None;
            }
            hour = hour % 12 + if afternoon { 12 } else { 0 };
            self.blanks();
        }
        let offset_s = self.offset()?;
        Some(Fields { date, year_first, hms: (hour, minute, second), ms, offset_s })
    }

    fn fraction_ms(&mut self) -> Option<u32> {
        let digits = self.0.iter().take_while(|b| b.is_ascii_digit()).count();
        let three = (0..3).map(|i| if i < digits { u32::from(self.0[i] - b'0') } else { 0 });
        let ms = three.fold(0, |ms, d| ms * 10 + d);
        self.0 = &self.0[digits..];
        (digits > 0).then_some(ms)
    }

    /// AM, PM, a.m., p. m. …: whether it is the afternoon.
    fn half_of_day(&mut self) -> Option<bool> {
        let mut letters = self.0.iter().enumerate().filter(|(_, b)| !matches!(b, b'.' | b' '));
        let (first, second) = (letters.next()?, letters.next()?);
        let afternoon = match first.1.to_ascii_lowercase() {
            b'a' => false,
            b'p' => true,
            _ => return None,
        };
        if !second.1.eq_ignore_ascii_case(&b'm') {
            return None;
        }
        self.0 = &self.0[second.0 + 1..];
        self.eat(b'.');
        Some(afternoon)
    }

    /// The outer `None`: something that cannot be understood; the inner: no offset is stated.
    fn offset(&mut self) -> Option<Option<i32>> {
        match self.0 {
            b"" => Some(None),
            b"Z" | b"z" | b"UTC" | b"GMT" => Some(Some(0)),
            rest => {
                let text = std::str::from_utf8(rest).ok()?;
                let text = text.strip_prefix("UTC").or_else(|| text.strip_prefix("GMT")).unwrap_or(text);
                crate::clock::parse_offset_s(text).map(Some)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, style: DateStyle) -> Option<String> {
        parse(text)?.local(style).map(LocalTime::show)
    }

    #[test]
    fn written_times_are_read() {
        for text in ["2026-01-05 13:10:00", "2026-01-05T13:10", "2026/1/5 13:10", "2026-01-05 13:10:00.250"] {
            assert!(read(text, DateStyle::Ymd).is_some_and(|t| t.starts_with("2026-01-05 13:10")), "{text}");
        }
        for text in ["20260105T131000", "20260105T1310Z", "20260105T131000+0100"] {
            assert_eq!(read(text, DateStyle::Ymd).as_deref(), Some("2026-01-05 13:10"), "{text}");
        }
        for text in ["05.01.2026 13:10", "5/1/26 1:10 PM", "05-01-2026 01:10:00 p. m.", "5.1.2026  1:10pm"] {
            assert_eq!(read(text, DateStyle::Dmy).as_deref(), Some("2026-01-05 13:10"), "{text}");
        }
        assert_eq!(read("1/5/2026 12:10:00 AM", DateStyle::Mdy).as_deref(), Some("2026-01-05 00:10"));
        assert_eq!(read("2026-01-05 24:00", DateStyle::Ymd).as_deref(), Some("2026-01-06 00:00"));
        assert_eq!(parse("2026-01-05T13:10:00-06:00").unwrap().offset_s, Some(-21600));
        assert_eq!(parse("2026-01-05T13:10:00Z").unwrap().offset_s, Some(0));
    }

    #[test]
    fn what_is_no_time_is_refused() {
        for text in [
            "",
            "garbled",
            "2026-01-05",
            "13:10",
            "2026-01-05 13:10 x",
            "2026-01-05 13:1",
            "1/5/2026 13:10 PM",
            "21.5",
            "2026-01/05 13:10",
            "20260105 13:10",
        ] {
            assert_eq!(parse(text), None, "{text}");
        }
        assert_eq!(read("2026-02-30 10:00", DateStyle::Ymd), None);
        assert_eq!(read("13/13/2026 10:00", DateStyle::Dmy), None);
    }

    #[test]
    fn months_may_have_names() {
        for text in [
            "05-Jan-2026 13:10",
            "5 Jan 2026, 13:10",
            "Jan 5, 2026 1:10 PM",
            "Mon 05 January 2026 13:10",
            "2026-Jan-05 13:10",
        ] {
            assert_eq!(read(text, DateStyle::Dmy).as_deref(), Some("2026-01-05 13:10"), "{text}");
        }
        assert_eq!(read("5. Mär 2026 13:10", DateStyle::Dmy).as_deref(), Some("2026-03-05 13:10"));
        assert_eq!(read("5 déc. 2026 13:10", DateStyle::Dmy).as_deref(), Some("2026-12-05 13:10"));
        assert_eq!(parse("5 Foo 2026 13:10"), None);
    }

    #[test]
    fn blanks_that_do_not_break_are_blanks() {
        assert_eq!(read("1/5/2026 1:10\u{202f}PM", DateStyle::Mdy).as_deref(), Some("2026-01-05 13:10"));
    }

    #[test]
    fn date_and_time_may_stand_apart() {
        assert_eq!(parse_apart("1/5/2026", "1:10:00", "PM"), parse("1/5/2026 1:10:00 PM"));
        assert_eq!(parse_apart("05.01.2026", "13:10", ""), parse("05.01.2026 13:10"));
        assert_eq!(parse_apart("05.01.2026 x", "13:10", ""), None);
    }
}
