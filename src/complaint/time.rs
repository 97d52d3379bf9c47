//! The time of a complaint in words: dates for a heading, and clocks that changed in it.

use chrono::{Datelike, NaiveDate};

use super::Complaint;
use crate::clock::{Span, UtcTime, Zone, local_days};

impl Complaint<'_> {
    /// From when to when, for a heading: `6 to 9 February 2026`.
    pub fn dates(&self) -> String {
        dates(self.period.span, self.site().zone)
    }

    /// Days on which the clocks changed, a sentence each.
    pub fn clock_changes(&self) -> Vec<String> {
        clock_changes(self.period.span, self.site().zone)
    }
}

/// A local time to the minute: `6 February 21:40`.
pub(super) fn moment(t: UtcTime, zone: Zone) -> String {
    let shown = zone.show(t);
    let time = shown.split_once(' ').map_or("", |(_, time)| time);
    format!("{} {}", zone.date(t).format("%-d %B"), time.get(..5).unwrap_or(time))
}

fn day(date: NaiveDate) -> String {
    date.format("%-d %B %Y").to_string()
}

fn dates(span: Span, zone: Zone) -> String {
    let whole = |t| zone.on(zone.date(t), crate::clock::TimeOfDay::MIDNIGHT) == t;
    if !(whole(span.from) && whole(span.to)) {
        let [from, to] = [span.from, span.to].map(|t| zone.date(t).year());
        let first = if from == to { String::new() } else { format!(" {from}") };
        return format!("{}{first} to {} {to}", moment(span.from, zone), moment(span.to, zone));
    }
    // Midnight at the end belongs to the day before.
    let (from, to) = (zone.date(span.from), zone.date(span.to.plus_ms(-1)));
    match ((from.year(), from.month()) == (to.year(), to.month()), from == to) {
        (_, true) => day(from),
        (true, _) => format!("{} to {}", from.day(), day(to)),
        _ if from.year() == to.year() => format!("{} to {}", from.format("%-d %B"), day(to)),
        _ => format!("{} to {}", day(from), day(to)),
    }
}

fn clock_changes(span: Span, zone: Zone) -> Vec<String> {
    let changed = |d: &crate::clock::LocalDay| {
        let (before, after) = (zone.offset_s(d.span.from), zone.offset_s(d.span.to));
        let way = if after > before { "forward" } else { "back" };
        (before != after).then(|| {
            format!(
                "On {} the clocks went {way}: that day has {:.0} hours, and each was counted as it was lived.",
                d.date.format("%-d %B"),
                d.span.hours()
            )
        })
    };
    local_days(zone, span).iter().filter_map(changed).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::TimeOfDay;

    fn zone() -> Zone {
        Zone::parse("America/Chicago").unwrap()
    }

    fn days(from: (i32, u32, u32), to: (i32, u32, u32)) -> Span {
        let midnight = |(y, m, d)| zone().on(NaiveDate::from_ymd_opt(y, m, d).unwrap(), TimeOfDay::MIDNIGHT);
        Span { from: midnight(from), to: midnight(to) }
    }

    #[test]
    fn dates_are_said_once() {
        assert_eq!(dates(days((2026, 2, 6), (2026, 2, 10)), zone()), "6 to 9 February 2026");
        assert_eq!(dates(days((2026, 2, 6), (2026, 2, 7)), zone()), "6 February 2026");
        assert_eq!(dates(days((2026, 2, 27), (2026, 3, 3)), zone()), "27 February to 2 March 2026");
        assert_eq!(dates(days((2025, 12, 30), (2026, 1, 3)), zone()), "30 December 2025 to 2 January 2026");
        let span = days((2026, 2, 6), (2026, 2, 7));
        let part = Span { from: span.from.plus_ms(6 * 3_600_000), to: span.to };
        assert_eq!(dates(part, zone()), "6 February 06:00 to 7 February 00:00 2026");
    }

    #[test]
    fn days_of_23_and_25_hours_are_told() {
        let spring = clock_changes(days((2026, 3, 6), (2026, 3, 10)), zone());
        assert_eq!(
            spring,
            [
                "On 8 March the clocks went forward: that day has 23 hours, and each was counted as it was lived."
            ]
        );
        assert!(clock_changes(days((2026, 10, 31), (2026, 11, 2)), zone())[0].contains("25 hours"));
        assert!(clock_changes(days((2026, 2, 6), (2026, 2, 10)), zone()).is_empty());
    }
}
