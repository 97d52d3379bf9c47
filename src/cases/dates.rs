//! Dates for a person: `6 Feb 14:00`, `24 Feb – 1 Mar`.

use chrono::{Datelike, NaiveDate};

use crate::clock::{Span, UtcTime, Zone};

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

fn day(date: NaiveDate) -> String {
    format!("{} {}", date.day(), MONTHS[date.month0() as usize])
}

/// A local day: `6 Feb`.
pub(super) fn show_day(t: UtcTime, zone: Zone) -> String {
    day(zone.date(t))
}

/// A local time to the minute: `6 Feb 14:00`.
pub(super) fn show_moment(t: UtcTime, zone: Zone) -> String {
    let local = zone.show(t);
    let time = local.split_once(' ').map_or("", |(_, time)| time);
    format!("{} {}", show_day(t, zone), time.get(..5).unwrap_or(time))
}

/// The local days of a span, both ends included: `24 Feb – 1 Mar`, `6–9 Feb`, `6 Feb`.
pub fn show_days(span: Span, zone: Zone) -> String {
    // Midnight at the end belongs to the day before.
    let (from, to) = (zone.date(span.from), zone.date(span.to.plus_ms(-1)).max(zone.date(span.from)));
    match (from == to, (from.year(), from.month()) == (to.year(), to.month())) {
        (true, _) => day(from),
        (_, true) => format!("{}–{}", from.day(), day(to)),
        _ => format!("{} – {}", day(from), day(to)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_told_as_short_as_they_can_be() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let t = |text: &str| {
            UtcTime::from_ms(chrono::DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis())
        };
        let span = |from: &str, to: &str| Span { from: t(from), to: t(to) };
        assert_eq!(
            show_days(span("2026-02-24T16:00:00-06:00", "2026-03-01T03:00:00-06:00"), zone),
            "24 Feb – 1 Mar"
        );
        assert_eq!(
            show_days(span("2026-02-06T16:00:00-06:00", "2026-02-09T00:00:00-06:00"), zone),
            "6–8 Feb"
        );
        assert_eq!(show_days(span("2026-02-06T16:00:00-06:00", "2026-02-06T18:00:00-06:00"), zone), "6 Feb");
        assert_eq!(show_moment(t("2026-02-06T16:05:30-06:00"), zone), "6 Feb 16:05");
    }
}
