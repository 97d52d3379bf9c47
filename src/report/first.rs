//! The first screen: how many homes need what, the building, and what to do in which of them.

use maud::{Markup, html};

use super::decide::capital;
use super::links::Links;
use super::shape::shape;
use super::van::{count, with_names};
use super::{cautions, outdoor};
use crate::audit::{Audit, HomeAudit};
use crate::cases::{
    Case, Course, Criterion, IN_THIS_ORDER, Job, Standing, home_line, show_dates, to_bring, when_words,
    without_heat_together,
};
use crate::findings::{Severity, open_lines};
use crate::site::{Home, Site};

/// Homes of which the building picture stands above what to do; of more it stands below.
const SMALL: usize = 40;

/// Homes beside each other in a building picture that leaves room beside it.
const NARROW: usize = 2;

/// Title, counts, building, what to do, and the caution.
pub(super) fn screen(audit: &Audit, homes: &[&HomeAudit], links: &Links<'_>) -> Markup {
    let small = audit.homes.len() <= SMALL;
    let narrow = lines(audit) <= NARROW;
    let cold = audit.homes.iter().any(HomeAudit::is_too_cold);
    html! {
        section.first aria-label="What to decide" {
            h1 { (audit.site.name) }
            p.soft.judged { (judged(audit)) }
            @for home in homes.iter().filter(|h| h.standing() == Standing::VisitToday) {
                p.urgent.today { (shape(Standing::VisitToday)) " " b { a href=(links.to(home)) { (home.name) } ": visit today" } ". " (worst(home)) }
            }
            p.counts { (counts(audit)) }
            div.decide.beside[small && narrow] {
                @if small { (building(audit, links)) }
                div { (to_do(audit, homes, links)) }
            }
            p.soft.asked { (super::asked::sentence(&audit.site)) }
            (cautions(&audit.site, cold))
            @if !small { h2 { "The building" } (building(audit, links)) }
        }
    }
}

/// What is judged: period, rooms, weather, time zone.
fn judged(audit: &Audit) -> String {
    let site = &audit.site;
    let rooms: usize = site.homes.iter().map(|h| h.rooms.len()).sum();
    let period = site.judged_period();
    let span = site.named_period(period).or_else(|| audit.judged_span()).or_else(|| audit.record());
    let when = span.map_or("no readings".to_owned(), |span| show_dates(span, site.zone));
    let named = if site.periods.is_empty() { String::new() } else { format!(" ({period})") };
    let outdoors = outdoor(audit).map_or(String::new(), |(low, high)| format!(" · outdoors {low} to {high}"));
    format!(
        "Judged: {when}{named} · {} in {}{outdoors} · times are local ({})",
        count(rooms, "room"),
        count(audit.homes.len(), "home"),
        site.zone.name()
    )
}

/// `6 homes: 2 to visit, 2 to record again, 2 to accept.`
fn counts(audit: &Audit) -> Markup {
    let of = |standing: Standing| audit.homes.iter().filter(|h| h.standing() == standing).count();
    let words = |standing| match standing {
        Standing::VisitToday => "to visit today",
        Standing::Visit => "to visit",
        Standing::RecordAgain => "to record again",
        Standing::KeepAnEye => "to accept and keep an eye on",
        Standing::Accept => "to accept",
    };
    let parts = Standing::ALL.into_iter().filter(|s| of(*s) > 0);
    html! {
        (count(audit.homes.len(), "home")) ": "
        @for (i, standing) in parts.enumerate() { @if i > 0 { ", " } b class=(standing.slug()) { (of(standing)) " " (words(standing)) } }
        "."
    }
}

/// Floor and line of every home, where the roster has both of all.
fn places(audit: &Audit) -> Option<Vec<(String, String)>> {
    let placed = |h: &Home| Some((h.floor.clone()?, h.line.clone()?));
    audit.site.homes.iter().map(placed).collect()
}

/// How many homes stand beside each other.
fn lines(audit: &Audit) -> usize {
    let of = |places: Vec<(String, String)>| in_order(places.iter().map(|p| &p.1)).len();
    places(audit).map_or(audit.homes.len().min(NARROW), of)
}

/// The homes as tiles: by floor and line where the roster has both of all, else in rows.
fn building(audit: &Audit, links: &Links<'_>) -> Markup {
    html! {
        nav.building.wide[lines(audit) > NARROW] tabindex="0" aria-label="The building, home by home" {
            @match places(audit) {
                Some(places) if !places.is_empty() => (elevation(audit, &places, links)),
                _ => div.floor { @for home in &audit.homes { (tile(home, links)) } },
            }
        }
    }
}

fn elevation(audit: &Audit, places: &[(String, String)], links: &Links<'_>) -> Markup {
    let floors = in_order(places.iter().map(|p| &p.0));
    let lines = in_order(places.iter().map(|p| &p.1));
    let here = |floor: &str, line: &str| -> Vec<&HomeAudit> {
        let at = places.iter().zip(&audit.homes).filter(|(p, _)| p.0 == floor && p.1 == line);
        at.map(|(_, home)| home).collect()
    };
    html! {
        @for floor in floors.iter().rev() {
            div.floor {
                span.level { span.of-floor { "floor " } (floor) }
                @for line in &lines {
                    @let homes = here(floor, line);
                    @if homes.is_empty() { span.tile.empty {} }
                    @for home in homes { (tile(home, links)) }
                }
            }
        }
    }
}

/// Names of floors and lines, numbers by their size.
fn in_order<'a>(names: impl Iterator<Item = &'a String>) -> Vec<&'a str> {
    let mut all: Vec<&str> = names.map(String::as_str).collect();
    all.sort_by_key(|name| (name.parse::<i64>().unwrap_or(i64::MAX), *name));
    all.dedup();
    all
}

fn tile(home: &HomeAudit, links: &Links<'_>) -> Markup {
    let standing = home.standing();
    let word = if standing == Standing::KeepAnEye { "watch" } else { standing.word() };
    html! { a.tile.(standing.slug()) href=(links.to(home)) { span.of { (shape(standing)) " " (home.name) } span.word { (word) } } }
}

/// One row for each home that needs something, the worst first; then the homes to accept.
fn to_do(audit: &Audit, homes: &[&HomeAudit], links: &Links<'_>) -> Markup {
    let accepted = |home: &&&HomeAudit| home.standing() >= Standing::KeepAnEye;
    let (fine, open): (Vec<&&HomeAudit>, Vec<&&HomeAudit>) = homes.iter().partition(accepted);
    html! {
        @for sentence in together(audit) { p.together { b { "One cause? " } (sentence) } }
        @if !open.is_empty() {
            table.todo {
                caption.unseen { "What to do, the worst homes first" }
                thead { tr {
                    @for head in ["Home", "Standing", "What happened, and the first step", "Room", "When", "Bring", "How sure"] { th.text scope="col" { (head) } }
                } }
                tbody { @for home in open { (row(audit, home, links)) } }
            }
            p.soft.order { (IN_THIS_ORDER) " Hours: as read, of those with a value; by: how far on the mean of them. How sure: the low end of what decided, with the loggers' accuracy against it, beside its limit." }
        }
        @for standing in [Standing::KeepAnEye, Standing::Accept] {
            @let of: Vec<&&&HomeAudit> = fine.iter().filter(|h| h.standing() == standing).collect();
            @if !of.is_empty() {
                p.accepted { b class=(standing.slug()) { (shape(standing)) " " (standing.word()) } ": "
                    @for (i, home) in of.iter().enumerate() { @if i > 0 { " · " } a href=(links.to(home)) { (home.name) } (seen_before(&audit.site, home)) } }
            }
        }
    }
}

/// Homes that were without heat in the same days.
fn together(audit: &Audit) -> Vec<String> {
    let of = without_heat_together(audit.homes.iter().flat_map(|h| &h.cases));
    let sentence = |t: &crate::cases::Together<'_>| {
        format!(
            "{} lost heat in the same days, {}: look for one cause in the building before each home alone.",
            place(&t.homes.iter().map(|home| (*home).to_owned()).collect::<Vec<_>>()),
            show_dates(t.span, audit.site.zone)
        )
    };
    of.iter().map(sentence).collect()
}

/// What else is known of a home that is accepted, in a few words.
fn seen_before(site: &Site, home: &HomeAudit) -> Markup {
    let cases: Vec<&Case> = home.cases.iter().filter(|c| c.severity < Severity::Note).collect();
    html! { @if !cases.is_empty() { span.soft { " (" (home_line(site, &cases, 60)) ")" } } }
}

/// What is worst about a home, in a sentence.
pub(super) fn worst(home: &HomeAudit) -> String {
    let cases = home.deciding();
    let told: Vec<&str> = cases.iter().take(2).map(|c| c.sentence.as_str()).collect();
    match (told.is_empty(), home.not_passed().next(), home.not_judged.first()) {
        (false, _, _) => told.join(" "),
        (_, Some(criterion), _) => format!("{}.", criterion.sentence()),
        (_, _, Some(_)) if home.standing() == Standing::RecordAgain => {
            "Not everything could be judged.".to_owned()
        }
        _ if home.standing() == Standing::KeepAnEye => watched(home),
        _ => "All criteria pass, and nothing was found.".to_owned(),
    }
}

/// What to keep an eye on in a home that is accepted.
fn watched(home: &HomeAudit) -> String {
    let watched = |c: &&Case| c.course != Course::Over && c.severity == Severity::Watch;
    let told: Vec<&str> = home.cases.iter().filter(watched).take(2).map(|c| c.sentence.as_str()).collect();
    match told.as_slice() {
        [] => "All criteria pass. Nobody needs to go there.".to_owned(),
        told => format!("All criteria pass. Keep an eye on: {}", told.join(" ")),
    }
}

fn row(audit: &Audit, home: &HomeAudit, links: &Links<'_>) -> Markup {
    let (standing, cases, jobs) = (home.standing(), home.deciding(), home.jobs());
    let site = &audit.site;
    let bring = to_bring(&jobs);
    let of_case = |job: &&Job<'_>| cases.iter().any(|case| case.sentence == job.why);
    let open: Vec<&str> =
        jobs.iter().filter(|job| job.sends && !of_case(job)).map(|job| job.short.as_str()).collect();
    let there: Vec<&str> =
        jobs.iter().filter(|job| !job.sends && !job.at_desk).map(|job| job.short.as_str()).collect();
    html! {
        tr {
            th.text scope="row" { a href=(links.to(home)) { (home.name) } }
            td.text.stands class=(standing.slug()) { (shape(standing)) " " (standing.word()) }
            @match cases.first() {
                Some(case) => {
                    td.text.happened { b { (headline(case)) } br; span.step { "First: " (with_names(&ended(&case.next_step))) }
                        @for more in cases.iter().skip(1) { br; span.also { "Also: " (more.sentence) " " (capital(&more.sure)) "." } }
                        @if !open.is_empty() { br; span.also { "Not decided: " (open.join("; ")) "." } }
                        @if !there.is_empty() { br; span.also { "While there: " (there.join("; ")) "." } } }
                    td.text data-of="Room" { (place(&case.rooms)) }
                    td.text data-of="When" { (or_dash(&when_words(case, site.zone))) }
                    td.text data-of="Bring" { (or_dash(&bring)) }
                    td.text data-of="How sure" { (case.sure) }
                }
                None => (without_case(site, home, (&bring, &there))),
            }
        }
    }
}

/// A home without a case to act on: what its criteria lack, or what could not be judged.
fn without_case(site: &Site, home: &HomeAudit, (bring, there): (&str, &[&str])) -> Markup {
    let criteria: Vec<&Criterion> = home.not_passed().collect();
    let open = open_lines(&home.not_judged);
    html! {
        @match criteria.first() {
            Some(criterion) => {
                td.text.happened { b { (criterion.sentence()) } br; span.step { "First: " (with_names(&ended(criterion.first_step()))) }
                    @for more in criteria.iter().skip(1) { br; span.also { "Also: " (more.sentence()) "." } }
                    @if !there.is_empty() { br; span.also { "While there: " (there.join("; ")) "." } } }
                td.text data-of="Room" { (place(criterion.room.as_slice())) }
            }
            None => {
                td.text.happened { b { "Not judged" } @if let Some(why) = open.first() { br; span.also { (why) "." } } br; span.step { "First: see on its page what is missing, and record that." } }
                td.text data-of="Room" { "–" }
            }
        }
        td.text data-of="When" { "–" } td.text data-of="Bring" { (or_dash(bring)) } td.text data-of="How sure" { (criteria.first().map_or("not decided yet".to_owned(), |c| super::decide::between(site, c))) }
    }
}

fn headline(case: &Case) -> String {
    let words = capital(case.kind.words);
    if case.amount.is_empty() { words } else { format!("{words}: {}", case.amount) }
}

/// Rooms that a cell of a table names; of more, the first ones.
const NAMED: usize = 8;

/// Where: every room by its name, for nobody looks up which four they are.
pub(super) fn place(rooms: &[String]) -> String {
    match rooms {
        [] => "whole home".to_owned(),
        few if few.len() <= NAMED => joined(few),
        many => format!("{} and {} more", joined(&many[..NAMED]), many.len() - NAMED),
    }
}

/// Letters up to which a name stays on one line.
const SHORT: usize = 14;

/// Names beside each other, of which short ones are not broken: `bedroom 1` is no bedroom and a 1.
fn joined(names: &[String]) -> String {
    let whole = |name: &String| match name.chars().count() <= SHORT {
        true => name.replace(' ', "\u{a0}"),
        false => name.clone(),
    };
    names.iter().map(whole).collect::<Vec<_>>().join(", ")
}

fn or_dash(words: &str) -> &str {
    if words.is_empty() { "–" } else { words }
}

/// A sentence with its full stop, once.
pub(super) fn ended(words: &str) -> String {
    if words.ends_with(['.', '?']) { words.to_owned() } else { format!("{words}.") }
}
