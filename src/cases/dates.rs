//! Dates for a person: `6 Feb 14:00`, `24 Feb – 1 Mar`.

use chrono::{Datelike, NaiveDate};

use crate::clock::{Span, UtcTime, Zone};

const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

fn day(date: NaiveDate, with_year: bool) -> String {
    let day = format!("{} {}", date.day(), MONTHS[date.month0() as usize]);
    if with_year { format!("{day} {}", date.year()) } else { day }
}

/// A local day: `6 Feb`; with its year where that is not `year`.
pub(super) fn show_day(t: UtcTime, zone: Zone, year: i32) -> String {
    let date = zone.date(t);
    day(date, date.year() != year)
}

/// A local time to the minute: `6 Feb 14:00`; with its year where that is not `year`.
fn show_moment(t: UtcTime, zone: Zone, with_year: bool) -> String {
    let local = zone.show(t);
    let time = local.split_once(' ').map_or("", |(_, time)| time);
    format!("{} {}", day(zone.date(t), with_year), time.get(..5).unwrap_or(time))
}

/// Both ends of a span to the minute; with their years where they are not both `year`.
pub(super) fn show_moments(span: Span, zone: Zone, year: i32) -> [String; 2] {
    let [from, to] = [span.from, span.to].map(|t| zone.date(t).year());
    [(span.from, from), (span.to, to)].map(|(t, own)| show_moment(t, zone, from != to || own != year))
}

/// The local days of a span, both ends included: `24 Feb – 1 Mar`, `6–9 Feb`, `6 Feb`; with their years where the span
/// crosses from one to the next, or lies in another than `year`.
pub fn show_days(span: Span, zone: Zone, year: i32) -> String {
    days(span, zone, Some(year))
}

/// The same with the year in any case: `24 Feb – 1 Mar 2026`, `6 Mar 2024 – 14 Mar 2025`.
pub fn show_dates(span: Span, zone: Zone) -> String {
    days(span, zone, None)
}

fn days(span: Span, zone: Zone, year: Option<i32>) -> String {
    // Midnight at the end belongs to the day before.
    let (from, to) = (zone.date(span.from), zone.date(span.to.plus_ms(-1)).max(zone.date(span.from)));
    let crosses = from.year() != to.year();
    let with_year = crosses || Some(to.year()) != year;
    match (from == to, (from.year(), from.month()) == (to.year(), to.month())) {
        (true, _) => day(from, with_year),
        (_, true) => format!("{}–{}", from.day(), day(to, with_year)),
        _ => format!("{} – {}", day(from, crosses), day(to, with_year)),
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
            show_days(span("2026-02-24T16:00:00-06:00", "2026-03-01T03:00:00-06:00"), zone, 2026),
            "24 Feb – 1 Mar"
        );
        assert_eq!(
            show_days(span("2026-02-06T16:00:00-06:00", "2026-02-09T00:00:00-06:00"), zone, 2026),
            "6–8 Feb"
        );
        let evening = span("2026-02-06T16:05:30-06:00", "2026-02-06T18:00:00-06:00");
        assert_eq!(show_days(evening, zone, 2026), "6 Feb");
        assert_eq!(show_moments(evening, zone, 2026), ["6 Feb 16:05", "6 Feb 18:00"]);
    }

    #[test]
    fn years_are_told_where_a_span_crosses_them_or_is_not_of_the_last() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let t = |text: &str| {
            UtcTime::from_ms(chrono::DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis())
        };
        let span = |from: &str, to: &str| Span { from: t(from), to: t(to) };
        let winter = span("2023-12-10T12:00:00-06:00", "2024-01-14T17:00:00-06:00");
        assert_eq!(show_days(winter, zone, 2024), "10 Dec 2023 – 14 Jan 2024");
        assert_eq!(show_moments(winter, zone, 2024), ["10 Dec 2023 12:00", "14 Jan 2024 17:00"]);
        assert_eq!(show_day(winter.from, zone, 2024), "10 Dec 2023");
        assert_eq!(show_day(winter.to, zone, 2024), "14 Jan");
        let week = span("2024-02-06T16:00:00-06:00", "2024-02-09T00:00:00-06:00");
        assert_eq!(show_days(week, zone, 2025), "6–8 Feb 2024");
        assert_eq!(show_dates(week, zone), "6–8 Feb 2024");
    }
}
