//! The page of a check: where to go, what to do there, what to bring; and every logger with its record.

use maud::{Markup, html};

use super::van::{count, page, tick, with_names};
use crate::check::{Check, HomeCheck, LoggerCheck, State, Trouble};

/// The page.
pub fn check_page(check: &Check<'_>) -> String {
    let title = format!("{}: do the loggers record?", check.site.name);
    let open: Vec<&HomeCheck<'_>> = check.homes.iter().filter(|h| h.state() != State::Runs).collect();
    let main = html! {
        h1 { (title) }
        p.lead { (in_short(check)) }
        (bring(check))
        @let fine: Vec<&str> = check.homes.iter().filter(|h| h.state() == State::Runs).map(|h| h.home.name.as_str()).collect();
        @if !fine.is_empty() { p { "Nothing to do, all loggers record: " (fine.join(", ")) "." } }
        @for home in &open { (visit(home)) }
        (notes(check))
        h2 { "Every logger" }
        (every_logger(check))
        p.soft { "Whether records go on, and nothing about how warm it was. Times are local (" (check.site.zone.name()) "). A logger of which no reading could be had is never said to record." }
    };
    page(&title, &main)
}

fn in_short(check: &Check<'_>) -> Markup {
    let [go, look, runs, ended] = State::ALL.map(|state| check.count(state));
    let (files, there) = check.files();
    html! {
        (count(go + look + runs, "logger")) ": "
        span.state.go { (go) " to go to" } ", " span.state.look { (look) " to look at" } ", " span.state.runs { (runs) " record" } @if ended > 0 { ", " (ended) " ended as the roster says" } ". "
        (there) " of " (count(files, "file")) " there. "
        @match check.newest {
            Some(newest) => { "The newest reading is of " (check.site.zone.show(newest)) "." }
            None => "There is no reading at all."
        }
    }
}

/// A state as a word of its colour.
fn state(state: State) -> Markup {
    html! { span class={ "state " (state.word()) } { (state.word()) } }
}

fn bring(check: &Check<'_>) -> Markup {
    let bring = check.bring();
    html! {
        @if !bring.is_empty() {
            p.bring { b { "Bring: " } @for (i, (what, n)) in bring.iter().enumerate() { @if i > 0 { ", " } (what) " (" (n) ")" } "." }
        }
    }
}

/// What to do in a home, to tick off.
fn visit(home: &HomeCheck<'_>) -> Markup {
    let asks = |t: &&Trouble| t.state != State::Runs;
    html! {
        section.visit-home {
            h2 { (home.home.name) ": " (state(home.state())) span.soft { ", " (home.recording().0) " of " (home.recording().1) " record" } }
            table.visits {
                caption.unseen { "What to do in " (home.home.name) }
                thead { tr { th.text scope="col" { (tick()) } th.text scope="col" { "Where" } th.text scope="col" { "What is seen" } th.text scope="col" { "What to do" } th.text scope="col" { "Bring" } } }
                tbody {
                    @for trouble in home.troubles.iter().filter(asks) { (row("the home", trouble)) }
                    @for logger in &home.loggers { @for trouble in logger.troubles.iter().filter(asks) {
                        (row(&format!("{}, logger {}", logger.room, logger.placement.logger.told()), trouble))
                    } }
                }
            }
            p.signed { span { "Done by" } span { "Date, time" } span { "Left as" } }
        }
    }
}

fn row(place: &str, trouble: &Trouble) -> Markup {
    html! {
        tr {
            td.mark { (tick()) }
            td.text.strong { (place) }
            td.text { b class=(trouble.state.word()) { (trouble.words) } ": " (trouble.shows.without_cells()) }
            td.text data-of="Do" { (with_names(&trouble.to_do)) }
            td.text data-of="Bring" { (if trouble.bring.is_empty() { "–" } else { trouble.bring }) }
        }
    }
}

fn notes(check: &Check<'_>) -> Markup {
    html! {
        @if !check.notes.is_empty() {
            h2 { "About the files" }
            ul.ticks { @for note in check.notes { li { (tick()) span {
                b { (note.place) @if let Some(line) = note.line { ":" (line) } } " " (note.what.without_cells()) " " span.soft { (with_names(&note.hint)) } } } } }
        }
    }
}

fn every_logger(check: &Check<'_>) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="every logger" { table.every {
            caption.unseen { "Every logger with its record" }
            thead { tr {
                th.text scope="col" { "Room" } th.text scope="col" { "Logger" } th.text scope="col" { "State" } th.text scope="col" { "Last reading" } th scope="col" { "Before the newest" }
                th scope="col" { "Readings" } th scope="col" { "Of those expected" } th scope="col" { "Longest gap" } th.text scope="col" { "Placed" }
            } }
            @for home in &check.homes { tbody {
                tr { th colspan="9" scope="rowgroup" { (home.home.name) } }
                @for logger in &home.loggers { (logger_row(check, logger)) }
                @for room in &home.without_logger { tr { td.text { (room) } td.text colspan="8" { "no logger in the roster" } } }
            } }
        } }
    }
}

fn logger_row(check: &Check<'_>, logger: &LoggerCheck<'_>) -> Markup {
    let row = logger.row;
    let site = check.site;
    let number = |x: Option<f64>, unit: &str| x.map_or("–".to_owned(), |x| format!("{x:.1} {unit}"));
    html! {
        tr {
            td.text { (logger.room) } td.text { (logger.placement.logger.told()) }
            td.text { (state(logger.state())) }
            td.time.text { (row.last_utc.map_or("no reading".to_owned(), |t| site.zone.show(t))) }
            td { (number(logger.behind_h, "h")) }
            td { (row.with_value()) }
            td { (number(row.coverage, "%")) }
            td { (number(row.longest_gap_h, "h")) }
            td.text { (logger.placed(site)) }
        }
    }
}
