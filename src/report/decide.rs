//! Whether a home can be accepted: its criteria, the list to tick off, and what happened in it with the evidence.

use maud::{Markup, html};

use super::first::{ended, place};
use super::listing;
use super::van::with_names;
use crate::audit::HomeAudit;
use crate::cases::{Answer, Case, Course, Criterion};
use crate::findings::{Severity, show_span};
use crate::site::Site;
use crate::units::KelvinDiff;

/// The standing of a home as a shape and a word.
pub(super) fn standing(home: &HomeAudit) -> Markup {
    html! { span class={ "standing " (home.standing().slug()) } { (super::shape::shape(home.standing())) " " (home.standing().word()) } }
}

/// The acceptance sheet: criteria, the list to tick off, and room for two signatures.
pub(super) fn sheet(site: &Site, home: &HomeAudit) -> Markup {
    let period = if site.periods.is_empty() { String::new() } else { format!(", {}", home.judged_period) };
    let heads = [
        listing::text("Criterion"),
        listing::text("Room"),
        listing::figure("Asked for"),
        listing::figure("Measured"),
        listing::figure("Surely between"),
        listing::text("Result"),
    ];
    let rows = html! {
        @for c in &home.criteria { tr {
            th.text scope="row" { (capital(c.kind.words)) }
            td.text data-of="Room" { (c.room.as_deref().unwrap_or("–")) }
            td data-of="Asked for" { (limit(site, c)) }
            td data-of="Measured" { (c.measured.map_or("–".to_owned(), |x| number(site, c, x))) }
            td.possible data-of="Surely between" { (range(site, c)) }
            td.text data-of="Result" { b class=(answer(c.answer)) { (c.answer.words()) } @if !c.why.is_empty() { span.soft { ": " (c.why) } } }
        } }
    };
    html! {
        div.cards { (listing::table(&format!("Acceptance{period}"), &heads, &rows)) }
        @let notes = notes(home);
        @if !notes.is_empty() { p.soft.foot { (notes.join(" ")) } }
        (punch_list(home))
        p.signed { span { "Checked by, date" } span { "Occupant or owner, date" } }
    }
}

/// What a reader must know who holds the criteria against other numbers of the page.
fn notes(home: &HomeAudit) -> Vec<&'static str> {
    let asked = |id: &str| home.criteria.iter().any(|c| c.kind.id == id);
    let mut notes = Vec::new();
    if asked("hours_below") && asked("late_recoveries") {
        notes.push("Hours below the band leave out the time to warm up after a setback, which late mornings judge: other tables count it.");
    }
    if asked("evenness") {
        notes.push("Rooms without heating are held against the heated rooms, each heated room against the others; hours are asked of heated rooms only.");
    }
    notes
}

/// What is to be done, where, with what; done, by whom and when are for a pen.
fn punch_list(home: &HomeAudit) -> Markup {
    let jobs = home.jobs();
    if jobs.is_empty() {
        return html! {};
    }
    let heads = ["What", "Where", "Bring", "Done", "By", "Date"].map(listing::text);
    let pen = || html! { td.text data-of="Done" { span.tick role="img" aria-label="to tick off" {} } td.text.write data-of="By" {} td.text.write data-of="Date" {} };
    let rows = html! {
        @for job in jobs { tr {
            th.text scope="row" { (job.occasion()) (with_names(&if job.occasion().is_empty() { capital(&ended(job.step)) } else { ended(job.step) }))
                span.soft.why { " Why: " (ended(&job.short)) @if !job.could_also_be.is_empty() { " Could also be: " (ended(job.could_also_be)) } } }
            td.text data-of="Where" { (place(job.rooms)) } td.text data-of="Bring" { (if job.bring.is_empty() { "–" } else { job.bring }) } (pen())
        } }
    };
    html! { div.punch.cards { (listing::table("To do", &heads, &rows)) } }
}

/// What happened in a home: each case with all that was found of it, what else it may be, and one first step.
pub(super) fn cases(site: &Site, home: &HomeAudit) -> Markup {
    html! { @for case in &home.cases { (one(site, home, case)) } }
}

fn one(site: &Site, home: &HomeAudit, case: &Case) -> Markup {
    let findings = home.findings.iter().filter(|f| case.findings.contains(&f.id));
    html! {
        div.finding {
            p {
                @if case.course == Course::Over { span.standing.note { "over" } } @else { span class={ "standing " (case.severity.word()) } { (pressing(case.severity)) } }
                ": " b { (case.sentence) }
                @if let Some(span) = case.span { " " span.soft { "(" (show_span(span, site.zone)) ")" } }
            }
            @if case.findings.is_empty() && case.decided != case.sentence { p { (case.decided) } }
            ul.evidence { @for finding in findings { li {
                @if site.periods.len() > 1 && site.periods.iter().any(|p| p.name == finding.of) { (finding.of) ": " }
                (finding.shows) " " code { (finding.rule) }
            } } }
            @if case.course != Course::Over {
                dl {
                    @if !case.against.is_empty() { dt { "Against it" } dd { (case.against) } }
                    dt { "How sure" } dd { (case.sure) }
                    dt { "Could also be" } dd { (case.could_also_be) }
                    dt { "First step" } dd { (case.next_step) }
                    dt { "Bring" } dd { (case.bring) @if !case.rooms.is_empty() { " (" (place(&case.rooms)) ")" } }
                }
            }
        }
    }
}

/// How pressing something is, for somebody who does not know the words of the tables.
fn pressing(severity: Severity) -> &'static str {
    match severity {
        Severity::Urgent => "today",
        Severity::Act => "to act on",
        Severity::Watch => "to watch",
        Severity::Note => "to know",
    }
}

fn answer(answer: Answer) -> &'static str {
    match answer {
        Answer::Pass => "accept",
        Answer::NotEnough => "again",
        Answer::Fail => "visit",
    }
}

/// Whether a share that does not pass would be printed as the most that it may be.
fn looks_like_the_limit(c: &Criterion) -> bool {
    let shown = |x: f64| format!("{x:.1}");
    let beyond = |x: f64| x > c.limit && shown(x) == shown(c.limit);
    c.answer != Answer::Pass && [c.measured, c.range.0, c.range.1].into_iter().flatten().any(beyond)
}

fn number(site: &Site, c: &Criterion, x: f64) -> String {
    match c.kind.unit {
        // What a decimal would show to be the limit, though it is beyond it, has one more.
        "%" if looks_like_the_limit(c) => format!("{x:.2}\u{a0}%"),
        "%" => format!("{x:.1}\u{a0}%"),
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

/// How sure a criterion is that does not pass: between what it surely lies, and what is asked for.
pub(super) fn between(site: &Site, c: &Criterion) -> String {
    match c.range {
        (None, None) => "not decided yet".to_owned(),
        _ => {
            let decided = if c.answer == Answer::Fail { "sure" } else { "not decided" };
            format!("{decided}: {}, asked for {}", range(site, c), limit(site, c))
        }
    }
}

/// The same with a capital in front.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
