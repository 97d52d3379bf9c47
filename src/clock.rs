//! Instants, spans, and the way from a wall clock to UTC.
//!
//! Everything inside is UTC. A local time may stand for one instant, for two (clocks went back) or for
//! none (clocks went forward); [`FromLocal`] says which, and nobody may guess.
#![expect(clippy::disallowed_types, reason = "the room that turns local times into instants")]

mod iso;

use chrono::{
    DateTime, Datelike, Days, MappedLocalTime, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeZone,
    Timelike, Weekday,
};
use chrono_tz::Tz;

/// Milliseconds in an hour.
pub const HOUR_MS: i64 = 3_600_000;

/// An instant: milliseconds since 1970-01-01 00:00 UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UtcTime(i64);

impl UtcTime {
    /// An instant from its milliseconds since the Unix epoch.
    pub const fn from_ms(ms: i64) -> Self {
        Self(ms)
    }

    /// Milliseconds since the Unix epoch.
    pub const fn ms(self) -> i64 {
        self.0
    }

    /// The instant `ms` milliseconds later.
    pub const fn plus_ms(self, ms: i64) -> Self {
        Self(self.0 + ms)
    }
}

/// A reading of a wall clock, as milliseconds since 1970-01-01 00:00 on that same clock.
///
/// It is no instant: only a [`Clock`] can say which instant it stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LocalTime(i64);

impl LocalTime {
    /// A wall-clock reading from its fields; `None` when there is no such date or time.
    ///
    /// `hour` may be 24 when minute, second and millisecond are 0: the end of that day.
    pub fn from_fields(ymd: (i32, u32, u32), hms: (u32, u32, u32), ms: u32) -> Option<Self> {
        let date = NaiveDate::from_ymd_opt(ymd.0, ymd.1, ymd.2)?;
        let (hour, minute, second) = hms;
        let whole_day = hour == 24 && minute == 0 && second == 0 && ms == 0;
        if (hour > 23 && !whole_day) || minute > 59 || second > 59 || ms > 999 {
            return None;
        }
        let days = i64::from(date.num_days_from_ce()) - EPOCH_DAY_FROM_CE;
        let of_day =
            i64::from(hour) * HOUR_MS + i64::from(minute) * 60_000 + i64::from(second) * 1000 + i64::from(ms);
        Some(Self(days * 24 * HOUR_MS + of_day))
    }

    /// A wall-clock reading from its milliseconds since 1970 on that clock.
    pub const fn from_ms(ms: i64) -> Self {
        Self(ms)
    }

    /// Milliseconds since 1970-01-01 00:00 on that clock.
    pub const fn ms(self) -> i64 {
        self.0
    }

    /// The instant, when the clock is known to be `offset_s` seconds ahead of UTC.
    pub const fn at_offset(self, offset_s: i32) -> UtcTime {
        UtcTime(self.0 - offset_s as i64 * 1000)
    }

    fn naive(self) -> Option<NaiveDateTime> {
        DateTime::from_timestamp_millis(self.0).map(|t| t.naive_utc())
    }

    /// `2026-01-05 06:10` (with seconds where there are any).
    pub fn show(self) -> String {
        match self.naive() {
            Some(t) if t.second() == 0 => t.format("%Y-%m-%d %H:%M").to_string(),
            Some(t) => t.format("%Y-%m-%d %H:%M:%S").to_string(),
            None => "a time out of range".to_owned(),
        }
    }
}

/// Days from 0000-12-31 to 1970-01-01, chrono's count of days.
const EPOCH_DAY_FROM_CE: i64 = 719_163;

/// A span of time `[from, to)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// First instant inside.
    pub from: UtcTime,
    /// First instant after.
    pub to: UtcTime,
}

impl Span {
    /// All of time: for a placement or period whose ends are not given.
    pub const ALWAYS: Span = Span { from: UtcTime(i64::MIN / 4), to: UtcTime(i64::MAX / 4) };

    /// Whether `t` lies inside.
    pub fn contains(&self, t: UtcTime) -> bool {
        self.from <= t && t < self.to
    }

    /// Whether the two spans share an instant.
    pub fn overlaps(&self, other: &Span) -> bool {
        self.from < other.to && other.from < self.to
    }

    /// The instants in both; empty (from = to) when there are none.
    pub fn intersect(&self, other: &Span) -> Span {
        let from = self.from.max(other.from);
        Span { from, to: self.to.min(other.to).max(from) }
    }

    /// The same with so many milliseconds more on either side.
    pub fn widened(&self, ms: i64) -> Span {
        Span { from: self.from.plus_ms(-ms), to: self.to.plus_ms(ms) }
    }

    /// Length in hours.
    pub fn hours(&self) -> f64 {
        (self.to.0 - self.from.0) as f64 / HOUR_MS as f64
    }
}

/// The instants a local time can stand for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FromLocal {
    /// One instant.
    Once(UtcTime),
    /// Two: the clock passed here, was set back and passed again.
    Twice {
        /// The first pass (daylight time).
        first: UtcTime,
        /// The second pass (standard time).
        second: UtcTime,
    },
    /// None: the clock was set forward over it.
    Never,
}

/// How a logger's clock runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    /// Always so many seconds ahead of UTC (0: it shows UTC).
    Fixed(i32),
    /// The civil time of a zone, daylight saving and all.
    Civil(Zone),
}

impl Clock {
    /// The clock that shows UTC.
    pub const UTC: Clock = Clock::Fixed(0);

    /// The instants that a local time on this clock can stand for.
    pub fn instants(&self, local: LocalTime) -> FromLocal {
        match self {
            Clock::Fixed(offset_s) => FromLocal::Once(local.at_offset(*offset_s)),
            Clock::Civil(zone) => zone.instants(local),
        }
    }

    /// How a person writes this clock in `site.toml`.
    pub fn show(&self) -> String {
        match self {
            Clock::Fixed(0) => "utc".to_owned(),
            Clock::Fixed(offset_s) => format!("fixed {}", show_offset(*offset_s)),
            Clock::Civil(zone) => format!("civil {}", zone.name()),
        }
    }
}

/// `-05:00` for -18000 s.
pub fn show_offset(offset_s: i32) -> String {
    let sign = if offset_s < 0 { '-' } else { '+' };
    let minutes = offset_s.abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

/// The seconds of an offset from UTC written `-05:00`, `+0130` or `+1`; `None` for anything else.
pub fn parse_offset_s(text: &str) -> Option<i32> {
    let (sign, rest) = match text.trim().chars().next()? {
        '+' => (1, &text.trim()[1..]),
        '-' => (-1, &text.trim()[1..]),
        '−' => (-1, &text.trim()['−'.len_utf8()..]),
        _ => return None,
    };
    let (hours, minutes) = match rest.split_once(':') {
        Some((h, m)) if m.len() == 2 => (h, m),
        Some(_) => return None,
        None if rest.len() == 4 && rest.is_ascii() => rest.split_at(2),
        None => (rest, "0"),
    };
    let plain = |s: &str| s.len() <= 2 && s.bytes().all(|b| b.is_ascii_digit());
    let number = |s: &str| plain(s).then(|| s.parse::<i32>().ok()).flatten();
    let (hours, minutes) = (number(hours)?, number(minutes)?);
    (hours <= 14 && minutes < 60).then_some(sign * (hours * 3600 + minutes * 60))
}

/// A time zone of the IANA database.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Zone(Tz);

impl Zone {
    /// The zone of this IANA name, `America/Chicago`; `None` when there is no such name.
    pub fn parse(name: &str) -> Option<Self> {
        name.parse().ok().map(Self)
    }

    /// Whether the name is one of a place, Area/City, or UTC: `EST` and `Etc/GMT+5` know no daylight saving, and other
    /// short names mean several places or are old.
    pub fn is_of_a_place(&self) -> bool {
        let name = self.name();
        ["UTC", "Etc/UTC"].contains(&name) || name.contains('/') && !name.starts_with("Etc/")
    }

    /// The IANA name.
    pub fn name(&self) -> &'static str {
        self.0.name()
    }

    /// Every known zone name.
    pub fn names() -> impl Iterator<Item = &'static str> {
        chrono_tz::TZ_VARIANTS.iter().map(|tz| tz.name())
    }

    /// Known zone names that look like `text`, for a hint.
    pub fn like(text: &str) -> Vec<&'static str> {
        let plain = |s: &str| s.to_lowercase().replace([' ', '_', '-'], "");
        let wanted = plain(text.rsplit('/').next().unwrap_or(text));
        let near = |tz: &&Tz| {
            let name = plain(tz.name());
            !wanted.is_empty()
                && (name.contains(&wanted) || wanted.contains(name.rsplit('/').next().unwrap_or("~")))
        };
        chrono_tz::TZ_VARIANTS.iter().filter(near).map(|tz| tz.name()).take(3).collect()
    }

    /// The instants that a local time in this zone can stand for.
    pub fn instants(&self, local: LocalTime) -> FromLocal {
        let Some(naive) = local.naive() else { return FromLocal::Never };
        match self.0.offset_from_local_datetime(&naive) {
            MappedLocalTime::Single(o) => FromLocal::Once(local.at_offset(o.fix().local_minus_utc())),
            MappedLocalTime::Ambiguous(a, b) => {
                let (a, b) =
                    (local.at_offset(a.fix().local_minus_utc()), local.at_offset(b.fix().local_minus_utc()));
                FromLocal::Twice { first: a.min(b), second: a.max(b) }
            }
            MappedLocalTime::None => FromLocal::Never,
        }
    }

    /// Seconds that civil time is ahead of UTC at an instant.
    pub fn offset_s(&self, t: UtcTime) -> i32 {
        let utc = DateTime::from_timestamp_millis(t.0).unwrap_or_default().naive_utc();
        self.0.offset_from_utc_datetime(&utc).fix().local_minus_utc()
    }

    /// The wall-clock reading at an instant.
    pub fn local(&self, t: UtcTime) -> LocalTime {
        LocalTime(t.0 + i64::from(self.offset_s(t)) * 1000)
    }

    /// The local date at an instant.
    pub fn date(&self, t: UtcTime) -> NaiveDate {
        self.local(t).naive().unwrap_or_default().date()
    }

    /// The instant at which a local day shows `at`: the first pass when there are two, and the instant at
    /// which the clock jumped when there is none.
    pub fn on(&self, date: NaiveDate, at: TimeOfDay) -> UtcTime {
        let midnight = LocalTime(date.and_time(NaiveTime::MIN).and_utc().timestamp_millis());
        let local = LocalTime(midnight.0 + i64::from(at.0) * 60_000);
        match self.instants(local) {
            FromLocal::Once(t) | FromLocal::Twice { first: t, .. } => t,
            // No zone skips more than a day; the offset before the jump gives the instant of the jump or later.
            FromLocal::Never => {
                let before = self.offset_s(local.at_offset(0).plus_ms(-26 * HOUR_MS));
                local.at_offset(before)
            }
        }
    }

    /// `2026-01-05 06:10` in civil time.
    pub fn show(&self, t: UtcTime) -> String {
        self.local(LocalTime(t.0 / 60_000 * 60_000).at_offset(0)).show()
    }
}

/// A time of day on the civil clock, in minutes since midnight (24:00 is the end of the day).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TimeOfDay(u16);

impl TimeOfDay {
    /// The first minute of a day.
    pub const MIDNIGHT: TimeOfDay = TimeOfDay(0);

    /// A time of day from hour and minute; `None` beyond 24:00.
    pub const fn new(hour: u16, minute: u16) -> Option<Self> {
        if minute < 60 && hour * 60 + minute <= 24 * 60 { Some(Self(hour * 60 + minute)) } else { None }
    }

    /// A time of day written `06:00`.
    pub fn parse(text: &str) -> Option<Self> {
        let (hour, minute) = text.trim().split_once(':')?;
        let number = |s: &str| {
            (s.len() <= 2 && s.bytes().all(|b| b.is_ascii_digit())).then(|| s.parse().ok()).flatten()
        };
        if minute.len() != 2 {
            return None;
        }
        Self::new(number(hour)?, number(minute)?)
    }

    /// `06:00`.
    pub fn show(self) -> String {
        format!("{:02}:{:02}", self.0 / 60, self.0 % 60)
    }
}

/// A window of civil time that returns every day, `[from, to)`; it may run past midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DailyWindow {
    /// First minute inside.
    pub from: TimeOfDay,
    /// First minute after.
    pub to: TimeOfDay,
}

impl DailyWindow {
    /// The window that opens on a local date, as a span of real time (daylight-saving nights are longer or shorter).
    pub fn on(&self, zone: Zone, date: NaiveDate) -> Span {
        let end =
            if self.to <= self.from { date.checked_add_days(Days::new(1)).unwrap_or(date) } else { date };
        let from = zone.on(date, self.from);
        Span { from, to: zone.on(end, self.to).max(from) }
    }

    /// The parts of the window that lie in a local day, in order: what is left of the one that opened the day before,
    /// and what opens here.
    pub fn within(&self, zone: Zone, day: &LocalDay) -> Vec<Span> {
        let part = |from, to| Span { from: zone.on(day.date, from), to: zone.on(day.date, to) };
        let (start, end) = (TimeOfDay(0), TimeOfDay(24 * 60));
        let parts = match self.from < self.to {
            true => vec![part(self.from, self.to)],
            false => vec![part(start, self.to), part(self.from, end)],
        };
        parts.into_iter().filter(|p| p.from < p.to).collect()
    }

    /// Whether it is open at every instant.
    pub fn is_whole_day(&self) -> bool {
        (self.from, self.to) == (TimeOfDay(0), TimeOfDay(24 * 60))
    }

    /// `06:00–22:00`.
    pub fn show(&self) -> String {
        format!("{}–{}", self.from.show(), self.to.show())
    }

    /// Every opening of the window that shares an instant with `span`, in order.
    pub fn openings(&self, zone: Zone, span: Span) -> Vec<Span> {
        local_days(zone, Span { from: span.from.plus_ms(-24 * HOUR_MS), to: span.to })
            .into_iter()
            .map(|day| self.on(zone, day.date))
            .filter(|opening| opening.overlaps(&span))
            .collect()
    }
}

/// A local day and the span of real time it lasted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LocalDay {
    /// The date.
    pub date: NaiveDate,
    /// Local midnight to local midnight: 23, 24 or 25 h.
    pub span: Span,
}

/// The local days that share an instant with `span`, in order.
pub fn local_days(zone: Zone, span: Span) -> Vec<LocalDay> {
    let midnight = TimeOfDay(0);
    let mut days = Vec::new();
    let mut date = zone.date(span.from);
    loop {
        let Some(next) = date.succ_opt() else { return days };
        let day = Span { from: zone.on(date, midnight), to: zone.on(next, midnight) };
        if day.from >= span.to {
            return days;
        }
        if day.overlaps(&span) {
            days.push(LocalDay { date, span: day });
        }
        date = next;
    }
}

/// A set of weekdays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weekdays([bool; 7]);

impl Weekdays {
    /// Weekdays written `mon-fri`, `sat,sun` or `mon-sun`; `None` for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        let day = |s: &str| s.trim().parse::<Weekday>().ok().map(|d| d.num_days_from_monday() as usize);
        let mut days = [false; 7];
        for part in text.split(',') {
            let (first, last) = match part.split_once('-') {
                Some((a, b)) => (day(a)?, day(b)?),
                None => (day(part)?, day(part)?),
            };
            let mut d = first;
            days[d] = true;
            while d != last {
                d = (d + 1) % 7;
                days[d] = true;
            }
        }
        Some(Self(days))
    }

    /// Whether a date falls on one of them.
    pub fn contains(&self, date: NaiveDate) -> bool {
        self.0[date.weekday().num_days_from_monday() as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn local(y: i32, m: u32, d: u32, h: u32, min: u32) -> LocalTime {
        LocalTime::from_fields((y, m, d), (h, min, 0), 0).unwrap()
    }

    #[test]
    fn fields_become_milliseconds() {
        assert_eq!(local(1970, 1, 1, 0, 0).ms(), 0);
        assert_eq!(local(2026, 1, 5, 24, 0), local(2026, 1, 6, 0, 0));
        assert_eq!(LocalTime::from_fields((2026, 2, 29), (0, 0, 0), 0), None);
        assert_eq!(LocalTime::from_fields((2026, 2, 28), (24, 1, 0), 0), None);
    }

    #[test]
    fn a_skipped_hour_never_was_and_a_repeated_one_was_twice() {
        let zone = Zone::parse("America/New_York").unwrap();
        assert_eq!(zone.instants(local(2024, 3, 10, 2, 30)), FromLocal::Never);
        let FromLocal::Twice { first, second } = zone.instants(local(2024, 11, 3, 1, 30)) else { panic!() };
        assert_eq!(second.ms() - first.ms(), HOUR_MS);
        assert_eq!(first.iso(), "2024-11-03T05:30:00Z");
        assert_eq!(zone.show(second), "2024-11-03 01:30");
    }

    #[test]
    fn local_days_last_23_24_or_25_hours() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let from = zone.on(NaiveDate::from_ymd_opt(2026, 3, 7).unwrap(), TimeOfDay(0));
        let days = local_days(zone, Span { from, to: from.plus_ms(60 * HOUR_MS) });
        assert_eq!(days.iter().map(|d| d.span.hours()).collect::<Vec<_>>(), [24.0, 23.0, 24.0]);
    }

    #[test]
    fn windows_run_past_midnight() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let night =
            DailyWindow { from: TimeOfDay::parse("22:00").unwrap(), to: TimeOfDay::parse("06:00").unwrap() };
        let eve = NaiveDate::from_ymd_opt(2026, 3, 7).unwrap();
        let length = night.on(zone, eve);
        assert_eq!(length.to.ms() - length.from.ms(), 7 * HOUR_MS, "the night in which clocks go forward");
        let day =
            Span { from: zone.on(eve, TimeOfDay(0)), to: zone.on(eve.succ_opt().unwrap(), TimeOfDay(0)) };
        assert_eq!(night.openings(zone, day).len(), 2, "the morning's and the evening's");
    }

    #[test]
    fn offsets_and_weekdays_are_read() {
        assert_eq!(parse_offset_s("-05:00"), Some(-18000));
        assert_eq!(parse_offset_s("+0130"), Some(5400));
        assert_eq!(parse_offset_s("05:00"), None);
        assert_eq!(parse_offset_s("+99:00"), None);
        assert_eq!(parse_offset_s("+9999999999"), None);
        let days = Weekdays::parse("fri-mon").unwrap();
        assert!(days.contains(NaiveDate::from_ymd_opt(2026, 11, 29).unwrap()));
        assert!(!days.contains(NaiveDate::from_ymd_opt(2026, 11, 25).unwrap()));
        assert!(Weekdays::parse("mon-fun").is_none());
    }

    #[test]
    fn a_wrong_zone_gets_near_names() {
        assert!(Zone::like("Chicago").contains(&"America/Chicago"));
    }
}
