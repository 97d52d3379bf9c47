//! What the dates of an export mean, as the roster says it.

use chrono::Datelike;

use super::YEARS;
use super::walk::Wanted;
use crate::clock::LocalTime;

pub(super) const DATES: Wanted<'static> = Wanted {
    expected: "day-first, month-first, serial 1900, serial 1904, seconds of 2026 or minutes since 2026-01-05 10:00",
    hint: "only for exports whose dates can be read in several ways, or count from a moment that they do not tell",
};

/// What the dates of an export mean, where its content leaves it open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Dates {
    /// 31.12.2026
    DayFirst,
    /// 12/31/2026
    MonthFirst,
    /// Day numbers of a spreadsheet that starts in 1900.
    Serial1900,
    /// Day numbers of a spreadsheet that starts in 1904.
    Serial1904,
    /// Seconds since the start of this year.
    SecondsOf(i32),
    /// A count of this many milliseconds each, since a moment on the logger's clock.
    Since {
        /// What is counted, in ms.
        unit_ms: i64,
        /// The moment that is 0.
        start: LocalTime,
    },
}

impl Dates {
    /// Dates as the roster writes them: `day-first`, `month-first`, `serial 1900`, `serial 1904`, `seconds of 2026`,
    /// `minutes since 2026-01-05 10:00`.
    pub fn parse(text: &str) -> Option<Self> {
        match text.trim() {
            "day-first" => Some(Dates::DayFirst),
            "month-first" => Some(Dates::MonthFirst),
            "serial 1900" => Some(Dates::Serial1900),
            "serial 1904" => Some(Dates::Serial1904),
            since if since.contains(" since ") => Self::since(since),
            other => other
                .strip_prefix("seconds of ")?
                .parse()
                .ok()
                .filter(|y| (1990..2100).contains(y))
                .map(Dates::SecondsOf),
        }
    }

    /// `seconds since 2026-01-05 10:00:30`, or minutes, hours, days.
    fn since(text: &str) -> Option<Self> {
        let (unit, start) = text.split_once(" since ")?;
        let unit_ms = match unit.trim() {
            "milliseconds" => 1,
            "seconds" => 1000,
            "minutes" => 60_000,
            "hours" => 3_600_000,
            "days" => 86_400_000,
            _ => return None,
        };
        let (date, time) = start.trim().split_once([' ', 'T'])?;
        let date: chrono::NaiveDate = date.parse().ok()?;
        let fields: Vec<u32> = time.split(':').map(|f| f.parse().ok()).collect::<Option<_>>()?;
        let hms = match fields.as_slice() {
            [h, m] => (*h, *m, 0),
            [h, m, s] => (*h, *m, *s),
            _ => return None,
        };
        let start = LocalTime::from_fields((date.year(), date.month(), date.day()), hms, 0)?;
        YEARS.contains(&date.year()).then_some(Dates::Since { unit_ms, start })
    }
}
