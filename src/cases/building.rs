//! What is known only once all homes are read: homes that were cold together, and findings that look at the whole site.

use super::dates::show_days;
use super::kinds::{self, BUILDING_COLD};
use super::sure::{IN_DOUBT, likely};
use super::words::{rooms_words, upper_first};
use super::{Answer, Case, Course, Criterion};
use crate::clock::{Span, UtcTime, Zone};
use crate::findings::{About, Finding};

/// The building is cold where more than half of the homes are without heat at once, and at least so many.
const LEAST_HOMES: usize = 3;

/// Turns outages of homes that fall together into one of the building.
///
/// An outage counts as one of the building where, for at least half of its time, more than half of all homes were without heat.
pub fn building_cold(homes: &mut [&mut Vec<Case>]) {
    let total = homes.len();
    let of_homes: Vec<Vec<Span>> = homes
        .iter()
        .map(|cases| cases.iter().filter(|c| c.kind == &kinds::NO_HEAT).filter_map(|c| c.span).collect())
        .collect();
    if of_homes.iter().filter(|spans| !spans.is_empty()).count() < LEAST_HOMES {
        return;
    }
    let together = times_together(&of_homes, |homes| homes >= LEAST_HOMES && 2 * homes > total);
    for case in homes.iter_mut().flat_map(|cases| cases.iter_mut()).filter(|c| c.kind == &kinds::NO_HEAT) {
        let Some(span) = case.span else { continue };
        let shared: f64 =
            together.iter().map(|t| t.intersect(&span)).filter(|t| t.from < t.to).map(|t| t.hours()).sum();
        if shared >= span.hours() / 2.0 {
            case.kind = &BUILDING_COLD;
            case.could_also_be = BUILDING_COLD.could_also_be.to_owned();
            case.id = case.id.replacen(kinds::NO_HEAT.id, BUILDING_COLD.id, 1);
            case.sentence = case.sentence.trim_end_matches('.').to_owned() + ", like most homes.";
        }
    }
}

/// Times at which the number of homes with a span is enough.
fn times_together(of_homes: &[Vec<Span>], enough: impl Fn(usize) -> bool) -> Vec<Span> {
    let mut edges: Vec<UtcTime> = of_homes.iter().flatten().flat_map(|s| [s.from, s.to]).collect();
    edges.sort_unstable();
    edges.dedup();
    let parts = edges.windows(2).map(|w| Span { from: w[0], to: w[1] });
    let homes =
        |part: &Span| of_homes.iter().filter(|spans| spans.iter().any(|s| s.contains(part.from))).count();
    parts.filter(|part| enough(homes(part))).collect()
}

/// Homes that were without heat in the same days, though not most of the building: one cause is likelier than several.
#[derive(Clone, Debug, PartialEq)]
pub struct Together<'a> {
    /// The homes, in the order of their losing heat.
    pub homes: Vec<&'a str>,
    /// From the first that lost it to the last that had it back.
    pub span: Span,
}

/// Outages of homes no further apart than this, in hours, may have one cause.
const ONE_CAUSE_H: f64 = 24.0;

/// Homes that were without heat in the same days.
pub fn without_heat_together<'a>(cases: impl Iterator<Item = &'a Case>) -> Vec<Together<'a>> {
    let of_homes = cases.filter(|c| c.kind == &kinds::NO_HEAT && c.course != Course::Over);
    let mut outages: Vec<(Span, &str)> = of_homes.filter_map(|c| Some((c.span?, c.home.as_str()))).collect();
    outages.sort_by_key(|(span, _)| span.from);
    let mut all: Vec<Together<'a>> = Vec::new();
    for (span, home) in outages {
        match all.last_mut().filter(|last| Span { from: last.span.to, to: span.from }.hours() <= ONE_CAUSE_H)
        {
            Some(last) => {
                last.span.to = last.span.to.max(span.to);
                if !last.homes.contains(&home) {
                    last.homes.push(home);
                }
            }
            None => all.push(Together { homes: vec![home], span }),
        }
    }
    all.retain(|together| together.homes.len() > 1);
    all
}

/// Adds a finding about a record that was known only once all homes were read: to the case of its kind and room, else as a new one.
pub fn add_finding(cases: &mut Vec<Case>, finding: &Finding, (period, zone, year): (&str, Zone, i32)) {
    let kind = kinds::of_record(finding.rule);
    let rooms: Vec<String> = finding.room.iter().cloned().collect();
    let own = |c: &&mut Case| c.kind == kind && c.course != Course::Over;
    if let Some(case) = cases.iter_mut().find(own) {
        let more: Vec<String> = rooms.into_iter().filter(|room| !case.rooms.contains(room)).collect();
        case.rooms.extend(more);
        case.findings.push(finding.id.clone());
        if finding.severity < case.severity {
            (case.severity, case.decided) = (finding.severity, finding.shows.clone());
        }
        return;
    }
    let place = rooms_words(&rooms);
    let place = if place.is_empty() { String::new() } else { format!(" in {place}") };
    let days = finding.span.map_or(String::new(), |span| format!(", {}", show_days(span, zone, year)));
    cases.push(Case {
        id: [kind.id, finding.home.as_str()]
            .into_iter()
            .chain(finding.room.as_deref())
            .collect::<Vec<_>>()
            .join("/"),
        kind,
        home: finding.home.clone(),
        rooms,
        severity: finding.severity,
        period: period.to_owned(),
        span: finding.span,
        from_the_start: false,
        course: Course::GoesOn,
        since: None,
        year,
        sentence: format!("{}{place}{days}.", upper_first(kind.words)),
        decided: finding.shows.clone(),
        amount: String::new(),
        by: String::new(),
        degree_hours_below: 0.0,
        sure: likely(kind.could_also_be),
        against: String::new(),
        could_also_be: kind.could_also_be.to_owned(),
        doubted: false,
        next_step: kind.next_step.to_owned(),
        bring: kind.bring.to_owned(),
        findings: vec![finding.id.clone()],
    });
}

/// Takes findings out of the cases that they were in, as they were taken back; `kept`: those that are left. Rooms of which the
/// evenness is not judged any more make its criterion undecided.
pub fn forget_findings(
    cases: &mut Vec<Case>,
    criteria: &mut [Criterion],
    kept: &[Finding],
    without_evenness: &[String],
) {
    cases.retain_mut(|case| {
        let had = !case.findings.is_empty();
        case.findings.retain(|id| kept.iter().any(|f| f.id == *id));
        let own = || kept.iter().filter(|f| case.findings.contains(&f.id));
        let worst = own().filter(|f| f.about == case.kind.about).map(|f| f.severity).min();
        let doubted = case.kind.about == About::Building && own().any(|f| f.doubt.is_some());
        case.severity = worst.map_or(case.severity, |worst| worst.max(case.severity));
        case.doubted |= doubted;
        if doubted {
            case.sure = IN_DOUBT.to_owned();
        }
        !had || !case.findings.is_empty()
    });
    if without_evenness.is_empty() {
        return;
    }
    for criterion in criteria.iter_mut().filter(|c| c.kind.id == "evenness") {
        criterion.answer = Answer::NotEnough;
        criterion.why = "readings of a room are also those of another".to_owned();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_building_is_cold_where_more_than_half_of_the_homes_are_at_once() {
        let span = |from: i64, to: i64| Span { from: UtcTime::from_ms(from), to: UtcTime::from_ms(to) };
        let homes = [vec![span(0, 10)], vec![span(2, 8)], vec![span(4, 12)], vec![], vec![]];
        assert_eq!(times_together(&homes, |n| n >= 3), [span(4, 8)]);
        assert_eq!(times_together(&homes, |n| n >= 4), []);
    }
}
