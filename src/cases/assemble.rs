//! Findings and events → cases: each finding in exactly one.

use std::collections::BTreeSet;

use chrono::Datelike;

use super::amounts::{amount, degree_hours_below};
use super::by_slope::named;
use super::causes::one_cause;
use super::kinds::{self, CaseKind};
use super::rooms::about_rooms;
use super::steps::{could_also_be, first_step};
use super::sure::sure;
use super::words::{Told, against};
use super::{Case, Course, order};
use crate::clock::{HOUR_MS, Span};
use crate::findings::{About, Evidence, Finding, Judged, Severity, elsewhere_then};
use crate::metrics::{Event, EventKind};

/// Outages that are no further apart, in hours, are one: sun lifts a cold home at noon.
const ONE_OUTAGE_H: i64 = 12;
/// What lasts to so many hours before the end of its period goes on: most things come by night.
const GOES_ON_H: f64 = 48.0;
/// An outage goes on where it lasts to so many hours before that end.
const OUTAGE_GOES_ON_H: f64 = 6.0;
/// Share of a case's hours that may lie before it.
const BEFORE_IT: f64 = 0.05;
/// Findings of so many rooms of one kind, about their records, are one thing.
const MANY_ROOMS: usize = 3;

/// A case that begins within so many hours of what is judged was there from the start.
const FROM_THE_START_H: f64 = 24.0;

/// Rooms of a home far apart, of whichever of them that comes.
const APART: &str = "home-uneven";
/// A record with too little in it, and the kinds of cases that take readings away.
const THIN: &str = "thin-coverage";
const TAKE_AWAY: [&CaseKind; 5] = [&kinds::STUCK, &kinds::FADES, &kinds::MOVED, &kinds::UNIT, &kinds::SENSOR];

/// A case on its way.
#[derive(Clone, Debug)]
pub(super) struct Draft<'a> {
    pub(super) kind: &'static CaseKind,
    /// Rooms in roster order; empty: the home.
    pub(super) rooms: BTreeSet<usize>,
    pub(super) period: &'a str,
    pub(super) findings: Vec<&'a Finding>,
    /// Where events tell when it was.
    pub(super) outage: Option<Outage>,
}

/// What the events of an outage say.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outage {
    pub(super) span: Span,
    pub(super) lowest: f64,
    /// No value comes after it.
    pub(super) censored: bool,
    /// Nothing tells that people were at home in any of its times.
    pub(super) nobody: bool,
}

impl<'a> Draft<'a> {
    pub(super) fn new(kind: &'static CaseKind, period: &'a str) -> Self {
        Self { kind, rooms: BTreeSet::new(), period, findings: Vec::new(), outage: None }
    }

    /// Takes up what another draft has found.
    pub(super) fn take_up(&mut self, rooms: BTreeSet<usize>, findings: Vec<&'a Finding>) {
        self.rooms.extend(rooms);
        self.findings.extend(findings);
    }

    /// Whether all that it had went elsewhere.
    pub(super) fn is_empty(&self) -> bool {
        self.findings.is_empty() && self.outage.is_none()
    }

    /// From when to when, as far as anything tells.
    pub(super) fn span(&self) -> Option<Span> {
        let of_finding = |f: &&Finding| from_its_beginning(&f.times).or(f.span);
        // Rooms were far apart before one of them was too cold: that tells nothing of since when it is.
        let own = |f: &&&Finding| f.rule != APART || self.kind == &kinds::UNEVEN;
        let began = || hull(self.findings.iter().filter(own).filter_map(of_finding)).map(|span| span.from);
        let all = || hull(self.findings.iter().filter_map(of_finding));
        self.outage
            .map(|o| o.span)
            .or_else(|| all().map(|all| Span { from: began().unwrap_or(all.from), ..all }))
    }

    /// Hours of a finding that lie in the outage, as a share of all of its hours.
    pub(super) fn explains(&self, finding: &Finding) -> f64 {
        let Some(outage) = self.outage else { return 0.0 };
        // Cold walls keep a room cold for hours after the heat is back.
        let span = Span { to: outage.span.to.plus_ms(ONE_OUTAGE_H * HOUR_MS), ..outage.span };
        let all: f64 = finding.times.iter().map(Span::hours).sum();
        let inside = finding.times.iter().map(|t| t.intersect(&span)).filter(|t| t.from < t.to);
        if all > 0.0 { inside.map(|t| t.hours()).sum::<f64>() / all } else { 0.0 }
    }
}

pub(super) fn hull(spans: impl Iterator<Item = Span>) -> Option<Span> {
    spans.reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })
}

/// From the first of its times to the last. What lies a day and more before all others, and is in all less than a twentieth of its
/// hours, was another thing: nobody is told that trouble began with a window that was open weeks before.
fn from_its_beginning(times: &[Span]) -> Option<Span> {
    let mut times = times.to_vec();
    times.sort_unstable_by_key(|t| t.from);
    let all: f64 = times.iter().map(Span::hours).sum();
    let (mut first, mut before_h) = (0, 0.0);
    for (i, pair) in times.windows(2).enumerate() {
        before_h += pair[0].hours();
        if before_h > BEFORE_IT * all {
            break;
        }
        if (Span { from: pair[0].to, to: pair[1].from }).hours() >= 24.0 {
            first = i + 1;
        }
    }
    hull(times.into_iter().skip(first))
}

/// The cases of a home, the most pressing first.
pub fn cases(evidence: &Evidence<'_>, judged: &Judged) -> Vec<Case> {
    let mut drafts: Vec<Draft<'_>> = Vec::new();
    for (period, _) in evidence.periods {
        let mut here = outages(evidence, period);
        let building = judged.findings.iter().filter(|f| f.about == About::Building && f.of == *period);
        about_rooms(evidence, period, building, &mut here);
        one_cause(evidence, &mut here);
        drafts.append(&mut here);
    }
    about_records(evidence, &judged.findings, &mut drafts);
    settle_doubted(evidence, &mut drafts);
    let mut drafts = together(evidence, drafts);
    drafts.iter_mut().for_each(|draft| named(evidence, draft));
    let mut cases: Vec<Case> = Vec::new();
    for draft in &drafts {
        let case = case(evidence, draft, &drafts, &cases);
        cases.push(case);
    }
    cases.sort_by_cached_key(order::of_cases);
    cases
}

/// The outages of a period, of the home and of single rooms.
fn outages<'a>(evidence: &Evidence<'a>, period: &'a str) -> Vec<Draft<'a>> {
    let mut drafts: Vec<Draft<'a>> = Vec::new();
    let of_kind =
        |kind: EventKind| evidence.events.iter().filter(move |e| e.kind == kind && e.period == period);
    let add = |event: &Event, kind: &'static CaseKind, room: Option<usize>, drafts: &mut Vec<Draft<'a>>| {
        let rooms: BTreeSet<usize> = room.into_iter().collect();
        let nobody = event.kind == EventKind::NoHeatNobody;
        let near = |last: &Span| event.span.from.ms() - last.to.ms() <= ONE_OUTAGE_H * HOUR_MS;
        let open = drafts.iter_mut().rev().find(|d| d.kind == kind && d.rooms == rooms);
        match open.and_then(|draft| draft.outage.as_mut()).filter(|outage| near(&outage.span)) {
            Some(outage) => {
                outage.span.to = outage.span.to.max(event.span.to);
                outage.lowest = outage.lowest.min(event.value);
                outage.censored |= event.censored;
                outage.nobody &= nobody;
            }
            None => {
                let outage =
                    Outage { span: event.span, lowest: event.value, censored: event.censored, nobody };
                drafts.push(Draft { rooms, outage: Some(outage), ..Draft::new(kind, period) });
            }
        }
    };
    let seen = |e: &&Event| elsewhere_then(evidence, e.room.as_deref(), e.span).is_none();
    let mut of_home: Vec<&Event> =
        of_kind(EventKind::NoHeat).chain(of_kind(EventKind::NoHeatNobody)).filter(seen).collect();
    of_home.sort_by_key(|event| event.span.from);
    for event in of_home {
        add(event, &kinds::NO_HEAT, None, &mut drafts);
    }
    for event in of_kind(EventKind::NoHeatInRoom).filter(seen) {
        let room = room_at(evidence, event.room.as_ref());
        add(event, &kinds::NO_HEAT_IN_ROOM, room, &mut drafts);
    }
    for event in of_kind(EventKind::HeldLow).chain(of_kind(EventKind::HeldLowInRoom)).filter(seen) {
        add(event, &kinds::HELD_LOW, room_at(evidence, event.room.as_ref()), &mut drafts);
    }
    for event in of_kind(EventKind::FellBehind).chain(of_kind(EventKind::FellBehindInRoom)).filter(seen) {
        add(event, &kinds::FALLS_BEHIND, room_at(evidence, event.room.as_ref()), &mut drafts);
    }
    drafts
}

pub(super) fn room_of(evidence: &Evidence<'_>, finding: &Finding) -> Option<usize> {
    room_at(evidence, finding.room.as_ref())
}

fn room_at(evidence: &Evidence<'_>, name: Option<&String>) -> Option<usize> {
    evidence.home.rooms.iter().position(|room| Some(&room.name) == name)
}

/// The period that a finding about a record belongs to: its own, else the last one that its time touches.
fn period_of<'a>(evidence: &Evidence<'a>, finding: &Finding) -> &'a str {
    let named = evidence.periods.iter().find(|(name, _)| *name == finding.of);
    let touched = |(_, period): &&(String, Span)| finding.span.is_some_and(|span| span.overlaps(period));
    let judged = evidence.site.judged_period();
    let decides = || evidence.periods.iter().find(|(name, _)| name == judged);
    let decides = decides().filter(|period| finding.span.is_none() || touched(period));
    let by_time = || evidence.periods.iter().filter(touched).max_by_key(|(_, span)| span.to);
    named.or(decides).or_else(by_time).map_or(evidence.site.judged_period(), |(name, _)| name)
}

fn about_records<'a>(evidence: &Evidence<'a>, findings: &'a [Finding], drafts: &mut Vec<Draft<'a>>) {
    // What is only missing comes last: mostly another finding about the logger says why.
    let mut findings: Vec<&Finding> = findings.iter().filter(|f| f.about == About::Record).collect();
    findings.sort_by_key(|f| (*kinds::of_record(f.rule) == kinds::MISSING, f.rule == THIN));
    for finding in findings {
        let (kind, period) = (kinds::of_record(finding.rule), period_of(evidence, finding));
        let room = room_of(evidence, finding);
        let rooms: BTreeSet<usize> = room.into_iter().collect();
        let explains =
            |d: &Draft<'_>| *kind == kinds::MISSING && TAKE_AWAY.contains(&d.kind) && d.rooms == rooms;
        let own = |d: &&mut Draft<'_>| d.kind == kind && d.period == period && d.rooms == rooms;
        let place = match drafts.iter().position(|d| d.period == period && explains(d)) {
            Some(at) => drafts.get_mut(at),
            None => drafts.iter_mut().find(own),
        };
        match place {
            Some(draft) => draft.findings.push(finding),
            None => {
                drafts.push(Draft { rooms, findings: vec![finding], ..Draft::new(kind, period) });
            }
        }
    }
}

/// A finding that a rule doubts belongs to the case of that rule, which is to be settled first; but danger that is to be looked at
/// even so stays a case of its own, unless readings in another unit would make it.
fn settle_doubted(evidence: &Evidence<'_>, drafts: &mut Vec<Draft<'_>>) {
    for from in 0..drafts.len() {
        if drafts[from].kind.about != About::Building {
            continue;
        }
        let findings = std::mem::take(&mut drafts[from].findings);
        for finding in findings {
            let room = room_of(evidence, finding);
            let settled_first =
                |rule: &&str| finding.severity > Severity::Act || kinds::of_record(rule) == &kinds::UNIT;
            let doubting = finding.doubt.filter(settled_first).and_then(|rule| {
                let kind = kinds::of_record(rule);
                let of_rule = |d: &Draft<'_>| d.kind == kind && d.findings.iter().any(|f| f.rule == rule);
                let own = |d: &Draft<'_>| room.is_none_or(|room| d.rooms.contains(&room));
                let places: Vec<usize> = (0..drafts.len()).filter(|i| of_rule(&drafts[*i])).collect();
                places.iter().copied().find(|i| own(&drafts[*i])).or(places.first().copied())
            });
            drafts[doubting.unwrap_or(from)].findings.push(finding);
        }
    }
    drafts.retain(|d| !d.is_empty());
}

/// One thing in several rooms is one case, and what goes on from one period to the next is one too.
fn together<'a>(evidence: &Evidence<'a>, drafts: Vec<Draft<'a>>) -> Vec<Draft<'a>> {
    let judged = evidence.site.judged_period();
    let mut kept: Vec<Draft<'a>> = Vec::new();
    for draft in drafts {
        let joins = |other: &&mut Draft<'a>| {
            let same = other.kind == draft.kind && other.period == draft.period;
            same && draft.outage.is_none() && other.outage.is_none() && are_one(draft.kind)
        };
        match kept.iter_mut().find(joins) {
            Some(other) => other.take_up(draft.rooms, draft.findings),
            None => kept.push(draft),
        }
    }
    many_rooms_of_a_record(&mut kept);
    // The period that decides takes up what was seen before in the same rooms.
    let end = |name: &str| evidence.periods.iter().find(|(own, _)| own == name).map(|(_, span)| span.to);
    let (mut now, before): (Vec<Draft<'a>>, Vec<Draft<'a>>) =
        kept.into_iter().partition(|d| d.period == judged || end(d.period) >= end(judged));
    let mut over = Vec::new();
    for draft in before {
        let goes_on = |other: &&mut Draft<'a>| {
            let rooms = other.rooms == draft.rooms || !other.rooms.is_disjoint(&draft.rooms);
            other.kind == draft.kind && rooms && other.outage.is_none() && draft.outage.is_none()
        };
        match now.iter_mut().find(goes_on) {
            Some(other) => other.findings.extend(draft.findings),
            None => over.push(draft),
        }
    }
    now.append(&mut over);
    now
}

/// Whether findings of several rooms in one period are one thing.
fn are_one(kind: &CaseKind) -> bool {
    let of_building =
        [&kinds::TOO_COLD, &kinds::OVERHEATS, &kinds::SLOW_TO_RETURN, &kinds::NEAR_FREEZING, &kinds::UNEVEN];
    let of_record = [&kinds::MISSING, &kinds::HANDLED, &kinds::ALIKE, &kinds::SWAPPED];
    of_building.contains(&kind) || of_record.contains(&kind)
}

/// The same of three loggers and more is rather one cause than three.
fn many_rooms_of_a_record(drafts: &mut Vec<Draft<'_>>) {
    for first in 0..drafts.len() {
        let (kind, period) = (drafts[first].kind, drafts[first].period);
        let alike =
            |i: &usize| drafts[*i].kind == kind && drafts[*i].period == period && !drafts[*i].is_empty();
        let alike: Vec<usize> = (first..drafts.len()).filter(alike).collect();
        if kind.about != About::Record || alike.len() < MANY_ROOMS || alike[0] != first {
            continue;
        }
        for other in &alike[1..] {
            let (rooms, findings) =
                (drafts[*other].rooms.clone(), std::mem::take(&mut drafts[*other].findings));
            drafts[first].take_up(rooms, findings);
        }
    }
    drafts.retain(|d| !d.is_empty());
}

/// The year in which the record of the home ends.
pub(super) fn year(evidence: &Evidence<'_>) -> i32 {
    let end = evidence.periods.iter().map(|(_, span)| span.to).max();
    end.map_or(0, |end| evidence.site.zone.date(end).year())
}

/// The finding that decided: the worst that still holds, of these the first.
fn decided<'a>(draft: &Draft<'a>, judged: &str) -> Option<&'a Finding> {
    let own = |f: &&&Finding| f.about == draft.kind.about;
    let now = |f: &Finding| draft.period != judged || f.about == About::Record || f.of == judged;
    draft.findings.iter().filter(own).copied().min_by_key(|f| (!now(f), f.severity))
}

fn case(evidence: &Evidence<'_>, draft: &Draft<'_>, all: &[Draft<'_>], before: &[Case]) -> Case {
    let judged = evidence.site.judged_period();
    let decided = decided(draft, judged);
    let course = course(evidence, draft);
    // An outage that no finding is about is seen all the same.
    let severity = decided.map_or(Severity::Watch, |f| f.severity);
    // Nothing that is over is urgent, and nobody goes to ask why it was turned down.
    let turned_down = draft.kind == &kinds::HELD_LOW || draft.outage.is_some_and(|o| o.nobody);
    let least = if turned_down { Severity::Watch } else { Severity::Act };
    let severity = if course == Course::GoesOn { severity } else { severity.max(least) };
    let rooms: Vec<String> = draft.rooms.iter().map(|r| evidence.home.rooms[*r].name.clone()).collect();
    let home = &evidence.home.name;
    let number = amount(evidence, draft, decided);
    let told = Told {
        evidence,
        draft,
        rooms: &rooms,
        decided,
        number: number.as_ref(),
        course,
        from_the_start: from_the_start(evidence, draft),
    };
    let what = told.sentence();
    let against = against(evidence, draft, all);
    let (next_step, bring) = first_step(evidence, draft);
    Case {
        id: id(evidence, draft, &rooms, before),
        kind: draft.kind,
        home: home.clone(),
        severity,
        period: draft.period.to_owned(),
        span: draft.span(),
        from_the_start: told.from_the_start,
        course,
        since: None,
        year: year(evidence),
        sentence: what.clone(),
        amount: told.amount(),
        by: number
            .as_ref()
            .filter(|_| draft.outage.is_none())
            .map_or(String::new(), |number| number.by.clone()),
        degree_hours_below: degree_hours_below(evidence, draft),
        decided: told.evidence().unwrap_or(what),
        sure: sure(evidence, draft, (decided, number.as_ref()), &against),
        against,
        could_also_be: could_also_be(evidence, draft),
        doubted: draft.kind.about == About::Building && draft.findings.iter().any(|f| f.doubt.is_some()),
        findings: draft.findings.iter().map(|f| f.id.clone()).collect(),
        next_step,
        bring,
        rooms,
    }
}

/// Whether a case was there on the first day of its period already.
fn from_the_start(evidence: &Evidence<'_>, draft: &Draft<'_>) -> bool {
    let period = evidence.periods.iter().find(|(name, _)| name == draft.period).map(|(_, span)| span.from);
    let began = draft.span().map(|span| span.from);
    period
        .zip(began)
        .is_some_and(|(from, to)| draft.outage.is_none() && Span { from, to }.hours() < FROM_THE_START_H)
}

fn course(evidence: &Evidence<'_>, draft: &Draft<'_>) -> Course {
    let span_of = |name: &str| evidence.periods.iter().find(|(own, _)| own == name).map(|(_, span)| *span);
    let (Some(period), judged) = (span_of(draft.period), span_of(evidence.site.judged_period())) else {
        return Course::GoesOn;
    };
    // Only what was seen before the period that decides is over; nobody knows of what comes later that it is.
    if judged.is_some_and(|judged| period.to < judged.to) {
        return Course::Over;
    }
    // While loggers lie side by side nobody sees what the rooms do.
    let beside = evidence.site.colocation.as_ref().map(|c| c.span);
    let left_h = |span: Span| {
        let left = Span { from: span.to, to: period.to };
        let unseen = beside.map(|beside| beside.intersect(&left)).filter(|unseen| unseen.from < unseen.to);
        left.hours() - unseen.map_or(0.0, |unseen| unseen.hours())
    };
    let times = hull(draft.findings.iter().flat_map(|f| f.times.iter().copied()));
    let ended = match (draft.outage, times, draft.kind.about) {
        (Some(outage), _, _) => !outage.censored && left_h(outage.span) > OUTAGE_GOES_ON_H,
        (None, Some(times), About::Building) => left_h(times) > GOES_ON_H,
        (None, None, About::Building) => false,
        (None, _, About::Record) => draft.span().is_some_and(|span| left_h(span) > GOES_ON_H),
    };
    if ended { Course::Ended } else { Course::GoesOn }
}

/// Kind, home, and rooms or the first day; a number where that was taken.
fn id(evidence: &Evidence<'_>, draft: &Draft<'_>, rooms: &[String], before: &[Case]) -> String {
    let day = draft.outage.map(|o| evidence.site.zone.date(o.span.from).to_string());
    let mut parts = vec![draft.kind.id.to_owned(), evidence.home.name.clone()];
    parts.extend((!rooms.is_empty()).then(|| rooms.join("+")));
    parts.extend(day);
    if draft.period != evidence.site.judged_period() {
        parts.push(draft.period.to_owned());
    }
    let id = parts.join("/");
    let taken = before.iter().filter(|c| c.id == id || c.id.starts_with(&format!("{id}#"))).count();
    if taken == 0 { id } else { format!("{id}#{}", taken + 1) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::UtcTime;

    #[test]
    fn a_case_begins_where_its_trouble_does() {
        let span = |from: i64, to: i64| {
            let at = |h: i64| UtcTime::from_ms(h * HOUR_MS);
            Span { from: at(from), to: at(to) }
        };
        let nights: Vec<Span> = (10..20).map(|d| span(d * 24, d * 24 + 8)).collect();
        let airing = [vec![span(20, 21)], nights.clone()].concat();
        assert_eq!(from_its_beginning(&airing), Some(span(240, 19 * 24 + 8)));
        // A night like the others is one of them, however long before.
        let gap = [vec![span(24, 32)], nights].concat();
        assert_eq!(from_its_beginning(&gap), Some(span(24, 19 * 24 + 8)));
        assert_eq!(from_its_beginning(&[span(1, 2)]), Some(span(1, 2)));
        assert_eq!(from_its_beginning(&[]), None);
    }

    #[test]
    fn a_room_is_cold_since_it_is_and_not_since_rooms_were_far_apart() {
        let at = |h: i64| UtcTime::from_ms(h * HOUR_MS);
        let finding = |rule: &'static str, from: i64, to: i64| Finding {
            id: rule.to_owned(),
            severity: Severity::Act,
            rule,
            about: About::Building,
            home: "1A".to_owned(),
            room: None,
            of: "whole record".to_owned(),
            span: Some(Span { from: at(from), to: at(to) }),
            observed: 0.0,
            unit: "h",
            limit: 0.0,
            range: None,
            shows: String::new(),
            doubt: None,
            could_also_be: "",
            next_step: "",
            times: Vec::new(),
        };
        let (cold, apart) = (finding("room-cold", 200, 600), finding(APART, 0, 640));
        let of = |kind, findings| Draft { findings, ..Draft::new(kind, "whole record") }.span();
        let both = Span { from: at(200), to: at(640) };
        assert_eq!(of(&kinds::TOO_COLD, vec![&apart, &cold]), Some(both));
        // Of what it is alone, and where rooms far apart are the matter, it tells.
        assert_eq!(of(&kinds::TOO_COLD, vec![&apart]), apart.span);
        assert_eq!(of(&kinds::UNEVEN, vec![&apart, &cold]), apart.span);
    }
}
