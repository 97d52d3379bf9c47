//! Whether a home can be accepted: its criteria, the list to tick off, and what happened in it with the evidence.

use maud::{Markup, html};

use super::first::place;
use super::listing;
use crate::audit::HomeAudit;
use crate::cases::{Answer, Case, Course, Criterion, rooms_words};
use crate::findings::show_span;
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
        listing::figure("Low … high"),
        listing::text("Result"),
    ];
    let rows = html! {
        @for c in &home.criteria { tr {
            th.text scope="row" { (capital(c.kind.words)) }
            td.text data-of="Room" { (c.room.as_deref().unwrap_or("–")) }
            td data-of="Asked for" { (limit(site, c)) }
            td data-of="Measured" { (c.measured.map_or("–".to_owned(), |x| number(site, c, x))) }
            td.possible data-of="Low … high" { (range(site, c)) }
            td.text data-of="Result" { b class=(answer(c.answer)) { (c.answer.words()) } @if !c.why.is_empty() { span.soft { ": " (c.why) } } }
        } }
    };
    html! {
        div.cards { (listing::table(&format!("Acceptance{period}"), &heads, &rows)) }
        (punch_list(home))
        p.signed { span { "Checked by, date" } span { "Occupant or owner, date" } }
    }
}

/// What is to be done, where, with what; done, by whom and when are for a pen.
fn punch_list(home: &HomeAudit) -> Markup {
    let cases = home.deciding();
    let criteria: Vec<&Criterion> = if cases.is_empty() { home.not_passed().collect() } else { Vec::new() };
    if cases.is_empty() && criteria.is_empty() {
        return html! {};
    }
    let heads = ["What", "Where", "Bring", "Done", "By", "Date"].map(listing::text);
    let pen = || html! { td.text data-of="Done" { span.tick role="img" aria-label="to tick off" {} } td.text.write {} td.text.write {} };
    let rows = html! {
        @for case in cases { tr {
            th.text scope="row" { (capital(case.kind.next_step)) }
            td.text data-of="Where" { (place(&case.rooms)) } td.text data-of="Bring" { (case.kind.bring) } (pen())
        } }
        @for c in criteria { tr {
            th.text scope="row" { (capital(first_step(c))) } td.text data-of="Where" { (place(c.room.as_slice())) } td.text data-of="Bring" { "spare logger" } (pen())
        } }
    };
    html! { div.punch.cards { (listing::table("To do", &heads, &rows)) } }
}

/// A criterion that does not pass, in a sentence.
pub(super) fn of_criterion(c: &Criterion) -> String {
    let why = if c.why.is_empty() { String::new() } else { format!(" ({})", c.why) };
    format!("{}: {}{why}", capital(c.kind.words), c.answer.words())
}

/// What to do first about a criterion that does not pass.
pub(super) fn first_step(c: &Criterion) -> &'static str {
    match (c.kind.id, c.answer) {
        ("days", _) => "let the loggers run on until the days asked for are whole",
        ("coverage", _) => "look for the rest of the downloads; else replace that logger and record again",
        (_, Answer::NotEnough) if c.why.contains("logger is doubted") => {
            "settle first what is wrong with the logger"
        }
        ("evenness", Answer::NotEnough) if c.why.contains("nor do loggers this good") => {
            "take it as undecided, or ask for a wider margin: neither days nor these loggers decide"
        }
        ("evenness", Answer::NotEnough) => {
            "record on, or lay the loggers side by side for a day: the result says which decides"
        }
        ("evenness", _) => "look at doors, windows and where the loggers of the two rooms stand",
        ("late_recoveries", Answer::NotEnough) => "record more mornings after a setback",
        ("late_recoveries", _) => {
            "compare schedule and target with the site file, then look at the output on a cold morning"
        }
        ("heat_rule", Answer::NotEnough) => "record more of the rule's hours, with the outdoor temperature",
        (_, Answer::NotEnough) => {
            "record longer, or lay the loggers side by side for a day to narrow low and high"
        }
        _ => "look at setting and output of the room's heating, and at where its logger stands",
    }
}

/// What happened in a home, each case with its evidence.
pub(super) fn cases(site: &Site, home: &HomeAudit) -> Markup {
    html! { @for case in &home.cases { (one(site, case)) } }
}

fn one(site: &Site, case: &Case) -> Markup {
    html! {
        div.finding {
            p {
                @if case.course == Course::Over { span.standing.note { "over" } } @else { span class={ "standing " (case.severity.word()) } { (case.severity.word()) } }
                ": " b { (case.sentence) }
                @if let Some(span) = case.span { " " span.soft { "(" (show_span(span, site.zone)) ")" } }
                @if case.decided != case.sentence && !case.decided.is_empty() { br; (case.decided) }
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

/// The same with a capital in front.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
