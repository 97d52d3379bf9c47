//! What to decide: which homes need something, what happened there, what to bring, and whether a home can be accepted.

use maud::{Markup, html};

use super::homes::anchor;
use crate::audit::HomeAudit;
use crate::cases::{Answer, Case, Course, Criterion, Standing, rooms_words};
use crate::findings::{Severity, show_span};
use crate::site::Site;
use crate::units::KelvinDiff;

/// One row for each thing to see to, the worst homes first; then the homes to accept, in a line.
pub(super) fn to_do(homes: &[&HomeAudit]) -> Markup {
    let accepted = |home: &HomeAudit| home.standing() >= Standing::KeepAnEye;
    let open: Vec<&&HomeAudit> = homes.iter().filter(|h| !accepted(h)).collect();
    html! {
        @if !open.is_empty() {
            h2 { "What to do" }
            div.scroll { table.todo {
                thead { tr {
                    th.text { "Home" } th.text { "Standing" } th.text { "What happened" } th.text { "First step" } th.text { "Bring" }
                } }
                tbody { @for home in open { (rows(home)) } }
            } }
        }
        @let fine: Vec<&&HomeAudit> = homes.iter().filter(|h| accepted(h)).collect();
        @if !fine.is_empty() {
            p { b { "Accepted: " } @for (i, home) in fine.iter().enumerate() { @if i > 0 { ", " } a href={ "#" (anchor(home)) } { (home.name) } @if home.standing() == Standing::KeepAnEye { " (keep an eye on it)" } } "." }
        }
    }
}

/// What decides about a home: cases that are to act on, or, where there are none, what its criteria lack.
fn rows(home: &HomeAudit) -> Markup {
    let decides = |c: &&Case| c.course != Course::Over && c.severity <= Severity::Act;
    let cases: Vec<&Case> = home.cases.iter().filter(decides).collect();
    let criteria: Vec<&Criterion> = home.criteria.iter().filter(|c| c.answer != Answer::Pass).collect();
    let count = cases.len().max(1);
    html! {
        @for i in 0..count { tr {
            td.text { @if i == 0 { a href={ "#" (anchor(home)) } { (home.name) } } }
            td.text { @if i == 0 { (standing(home)) } }
            @match cases.get(i) {
                Some(case) => {
                    td.text { (case.sentence) }
                    td.text { (case.kind.next_step) }
                    td.text { span.label { "Bring: " } (case.kind.bring) }
                }
                None => {
                    td.text { @for (i, c) in criteria.iter().enumerate() { @if i > 0 { "; " } (c.kind.words) ": " (c.answer.words()) @if !c.why.is_empty() { " (" (c.why) ")" } } @if criteria.is_empty() { "Not everything was judged: see there." } }
                    td.text { (home.standing().meaning()) }
                    td.text { "–" }
                }
            }
        } }
        @for case in home.cases.iter().filter(|c| c.course == Course::Over && c.severity <= Severity::Act) { tr {
            td.text {} td.text.soft { "over" } td.text.soft { (case.sentence) } td.text {} td.text {}
        } }
    }
}

/// The standing of a home as a word.
pub(super) fn standing(home: &HomeAudit) -> Markup {
    html! { span class={ "standing " (home.standing().slug()) } { (home.standing().word()) } }
}

/// The criteria of a home, and what happened in it, each case with its evidence.
pub(super) fn of_home(site: &Site, home: &HomeAudit) -> Markup {
    html! {
        h3 { "Acceptance" @if !site.periods.is_empty() { span.soft { " (" (home.judged_period) ")" } } }
        div.scroll { table {
            thead { tr {
                th.text { "Criterion" } th.text { "Room" } th { "Asked for" } th { "Measured" } th { "low … high" } th.text { "Result" }
            } }
            tbody { @for c in &home.criteria { tr {
                td.text { (c.kind.words) }
                td.text { (c.room.as_deref().unwrap_or("–")) }
                td { (limit(site, c)) }
                td { (c.measured.map_or("–".to_owned(), |x| number(site, c, x))) }
                td.possible { (range(site, c)) }
                td.text { b class=(answer(c.answer)) { (c.answer.words()) } @if !c.why.is_empty() { span.soft { ": " (c.why) } } }
            } } }
        } }
        @if !home.cases.is_empty() { h3 { "What happened" } }
        @for case in &home.cases { (one(site, case)) }
    }
}

fn one(site: &Site, case: &Case) -> Markup {
    html! {
        div.finding {
            p {
                @if case.course == Course::Over { span.standing.note { "over" } } @else { span class={ "standing " (case.severity.word()) } { (case.severity.word()) } }
                ": " b { (case.sentence) }
                @if let Some(span) = case.span { " " span.soft { "(" (show_span(span, site.zone)) ")" } }
            }
            @if case.course != Course::Over {
                dl {
                    @if !case.against.is_empty() { dt { "Against it" } dd { (case.against) } }
                    dt { "Could also be" } dd { (case.kind.could_also_be) }
                    dt { "First step" } dd { (case.kind.next_step) }
                    dt { "Bring" } dd { (case.kind.bring) @if !case.rooms.is_empty() { " (" (rooms_words(&case.rooms)) ")" } }
                }
            }
        }
    }
}

fn answer(answer: Answer) -> &'static str {
    match answer {
        Answer::Pass => "accept",
        Answer::NotEnough => "again",
        Answer::Fail => "visit",
    }
}

fn number(site: &Site, c: &Criterion, x: f64) -> String {
    match c.kind.unit {
        "%" => format!("{x:.1} %"),
        "K" => site.units.show_difference(KelvinDiff::new(x)),
        unit => format!("{x:.1} {unit}"),
    }
}

fn limit(site: &Site, c: &Criterion) -> String {
    let least = ["days", "coverage"].contains(&c.kind.id);
    let words = if least {
        "at least"
    } else if c.kind.unit == "K" {
        "within ±"
    } else {
        "at most"
    };
    format!("{words} {}", number(site, c, c.limit)).replace("± ", "±")
}

fn range(site: &Site, c: &Criterion) -> String {
    let end = |x: Option<f64>| x.map_or("–".to_owned(), |x| number(site, c, x));
    if c.range == (None, None) {
        "–".to_owned()
    } else {
        format!("{} … {}", end(c.range.0), end(c.range.1))
    }
}
