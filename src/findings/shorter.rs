//! The rule about homes of which the record is shorter than that of the building, which looks at all homes of a site.

use super::{About, Finding, Found, Judge, Judged, Place, Rule, Severity, Verdict};
use crate::clock::{Span, UtcTime};
use crate::site::Site;

/// Homes that begin late or end early.
pub(super) static SHORTER_RECORD: Rule = Rule {
    name: "shorter-record",
    shows: "more than half of a home's loggers begin more than a day after those of most homes of the building, or end more than a day before them (three homes and more, where the site names no period)",
    could_also_be: "a home that was fitted later or collected earlier on purpose, downloads that are missing, or loggers that all stopped at one time",
    next_step: "look for the rest of the downloads; where there are none, remember that nothing is known of this home in that time",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Site,
};

/// A home is told from so many hours on.
const SHORTER_H: f64 = 24.0;
/// Of fewer homes none is most homes.
const LEAST_HOMES: usize = 3;

/// From the first to the last time at which at least half of some records run; `None` where so many never do.
pub fn half_record(records: impl Iterator<Item = Span>) -> Option<Span> {
    let records: Vec<Span> = records.collect();
    let half = |at: &UtcTime| 2 * records.iter().filter(|r| r.contains(*at)).count() >= records.len();
    let ends =
        |at: &UtcTime| 2 * records.iter().filter(|r| r.from < *at && *at <= r.to).count() >= records.len();
    let from = records.iter().map(|r| r.from).filter(half).min()?;
    let to = records.iter().map(|r| r.to).filter(ends).max()?;
    Some(Span { from, to })
}

/// The findings about homes of which the record is shorter than that of most; `records`: the places of homes in the site, and
/// from when to when at least half of their loggers record.
pub fn shorter_records(site: &Site, records: &[(usize, Span)]) -> Vec<(usize, Finding)> {
    if !site.periods.is_empty() || records.len() < LEAST_HOMES {
        return Vec::new();
    }
    let Some(building) = half_record(records.iter().map(|(_, span)| *span)) else { return Vec::new() };
    records.iter().filter_map(|(home, own)| Some((*home, finding(site, *home, *own, building)?))).collect()
}

fn finding(site: &Site, home: usize, own: Span, building: Span) -> Option<Finding> {
    let late = Span { from: building.from, to: own.from };
    let early = Span { from: own.to, to: building.to };
    let gaps: Vec<Span> = [late, early].into_iter().filter(|gap| gap.hours() > SHORTER_H).collect();
    let words = |gap: &Span| format!("from {}", super::show_span(*gap, site.zone));
    let span = gaps.iter().copied().reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })?;
    let hours: f64 = gaps.iter().map(Span::hours).sum();
    let name = &site.homes[home].name;
    let shows = format!(
        "Most homes of the building have a record {}, and {name} has none: nothing is known of it then.",
        gaps.iter().map(words).collect::<Vec<_>>().join(" and ")
    );
    let found =
        Found { span: Some(span), unit: "h", limit: SHORTER_H, ..Found::new(Severity::Watch, hours, shows) };
    let place = Place { rule: &SHORTER_RECORD, home: name, room: None, of: "building", period: None };
    let mut judged = Judged::default();
    judged.add(&place, Verdict::Found(found));
    judged.findings.pop()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(from: i64, to: i64) -> Span {
        let day = |d: i64| UtcTime::from_ms(d * 86_400_000);
        Span { from: day(from), to: day(to) }
    }

    #[test]
    fn half_of_the_records_make_the_time_that_counts() {
        let of = |records: &[Span]| half_record(records.iter().copied());
        assert_eq!(of(&[]), None);
        assert_eq!(of(&[days(0, 28), days(0, 28), days(0, 10)]), Some(days(0, 28)));
        assert_eq!(of(&[days(0, 28), days(5, 20), days(8, 25)]), Some(days(5, 25)));
        assert_eq!(of(&[days(0, 2), days(5, 7), days(9, 11)]), None);
    }
}
