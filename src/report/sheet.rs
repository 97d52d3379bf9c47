//! One home and one time on one sheet, fair to both sides: the question, the answer, what it rests on, and what it cannot tell.

use maud::{Markup, html};

use super::{listing, sheet_picture, whole_page};
use crate::audit::HomeAudit;
use crate::complaint::{Complaint, LoggerLine, OfRoom};
use crate::findings::show_span;
use crate::metrics::{self, Metric};
use crate::quality::LoggerRow;
use crate::site::{HEAT_RULE_CAUTION, HeatRule, MAKESHIFT_CAUTION, NO_HEAT_CAUTION, NO_RECORD_SHOWS, Site};
use crate::units::{Celsius, KelvinDiff};

/// Heads of the hours of each room, and of what is shown under a rule only.
const HEADS: [&str; 7] = ["as read", "certainly", "possibly", "judged", "not judged", "longest", "lowest"];
const LEAST: &str = "least margin";
const SHEET_STYLE: &str = include_str!("sheet.css");
/// Digits of a fingerprint that are shown: enough to tell the files of a building apart.
const SHOWN_DIGITS: usize = 8;
/// Lines about what the record cannot tell that are shown; the rest are counted, and stand in the file beside the sheet.
const MOST_LINES: usize = 4;

/// What stands beside what is missing: no record has it.
const NO_LOGGER_TELLS: &str = "No logger tells who set the thermostat, whether windows stood open or anybody was at home, or how warm it was elsewhere in a room.";

/// The sheet.
pub fn sheet(complaint: &Complaint<'_>) -> String {
    let title = format!("Home {}, {}: was it warm enough?", complaint.home.name, complaint.dates());
    let main = html! {
        main.sheet {
            h1 { (title) }
            (head(complaint))
            (answer(complaint))
            @if let Some(trace) = &complaint.home.trace { (sheet_picture::figure(complaint, trace)) }
            (rooms(complaint))
            @let explained = complaint.explained();
            div.two {
                (loggers(complaint))
                (cannot_tell(complaint))
                (paragraph("What may have caused it.", &explained.causes))
                (paragraph("Why it may have been colder than shown.", &explained.colder))
                (paragraph("Why it may have been warmer than shown.", &explained.warmer))
                (next(complaint))
            }
            (small_print(complaint))
            div.sign { div { "Received for the owner, date. No agreement." } div { "Received for the household, date. No agreement." } }
        }
    };
    whole_page(&title, SHEET_STYLE, &main)
}

fn head(complaint: &Complaint<'_>) -> Markup {
    let (site, span) = (complaint.site(), complaint.period.span);
    let blank = || "____________".to_owned();
    let readings = complaint.home.record();
    html! {
        p.soft {
            (site.name) " · asked by " (complaint.heard.asked_by.clone().unwrap_or_else(blank)) " · made by " (complaint.heard.made_by.clone().unwrap_or_else(blank)) " on ____________ · "
            "local time (" (site.zone.name()) "), " (format!("{:.0}", span.hours())) " h"
            @if let Some(record) = readings { " · the home's readings run from " (site.zone.show(record.from)) " to " (site.zone.show(record.to)) }
            " · evenrooms " (env!("CARGO_PKG_VERSION"))
        }
    }
}

fn answer(complaint: &Complaint<'_>) -> Markup {
    let answer = complaint.answer();
    html! {
        p.answer { b { (answer.verdict.lead()) } " " (answer.what) b { (answer.as_read) } (answer.rest) }
        p.answer { @if let Some(when) = complaint.when() { (when) " " } @for outage in complaint.without_heat() { (outage) " " } (complaint.others()) }
        p.basis { (basis(complaint)) @if let Some([may, may_not]) = complaint.may_be_said() { " " b { "May be said: " } (may) " " b { "May not be said: " } (may_not) } }
        @if let Some(serious) = complaint.serious() { p { (serious) } }
        @for change in complaint.clock_changes() { p { (change) } }
    }
}

/// What the answer was held against, beside the answer: a minimum that somebody wrote down is not yet one of law.
fn basis(complaint: &Complaint<'_>) -> String {
    let site = complaint.site();
    let of_the_day = if site.heat_rule.as_ref().is_some_and(HeatRule::needs_outdoor) {
        match &site.outdoor {
            Some(outdoor) => format!(" Outdoors: {}.", outdoor.source.file.told()),
            None => " It depends on the outdoor temperature, of which there is no record.".to_owned(),
        }
    } else {
        String::new()
    };
    match &site.heat_rule {
        Some(HeatRule { preset: Some(preset), .. }) => format!(
            "Held against the preset {}: {}. {}.{of_the_day}",
            preset.name,
            site.heat_rule.as_ref().map_or(String::new(), HeatRule::title),
            super::decide::capital(HEAT_RULE_CAUTION)
        ),
        Some(_) => format!(
            "Held against a minimum as the site file states it, by its author: no ordinance or lease was named or checked.{of_the_day}"
        ),
        None => "Held against the comfort band that was asked for: no minimum of law was judged.".to_owned(),
    }
}

/// What each room came to.
fn rooms(complaint: &Complaint<'_>) -> Markup {
    let by_rule = complaint.site().heat_rule.is_some();
    let (rooms, longest) = match by_rule {
        true => (complaint.of_rule(), &metrics::HEAT_RULE_LONGEST_EPISODE),
        false => (complaint.of_band(), &metrics::LONGEST_BELOW_BAND),
    };
    let limit = if by_rule { "the minimum" } else { "the comfort band" };
    let mut heads = vec![listing::text("Room")];
    heads.extend(HEADS.map(listing::figure));
    heads.extend(by_rule.then(|| listing::figure(LEAST)));
    let rows = html! { @for of in &rooms { (room(complaint, of, longest)) } };
    html! {
        @if !rooms.is_empty() {
            div.cards { (listing::table(&format!("Hours below {limit}"), &heads, &rows)) }
            p.soft.foot { "As read: the value is below. Certainly: even with the logger's accuracy added. Possibly: certainly, or too close to call. Longest: unbroken, certainly" @if by_rule { "; a minimum that is lower at night breaks it. Lowest: at any hour. Least margin: the lowest reading less the minimum of its hour" } "." }
        }
    }
}

fn room(complaint: &Complaint<'_>, of: &OfRoom<'_>, longest: &Metric) -> Markup {
    let hours = of.hours;
    let hour = |h: f64| format!("{h:.1}");
    let judged = |h: f64| if hours.judged > 0.0 { hour(h) } else { "–".to_owned() };
    let lowest = complaint
        .value(of.room, &metrics::MINIMUM)
        .map(|degc| complaint.site().units.show(Celsius::new(degc)));
    let margin = complaint.value(of.room, &metrics::HEAT_RULE_LOWEST_MARGIN);
    let margin = margin.map(|k| complaint.site().units.show_difference(KelvinDiff::new(k)).replace('-', "−"));
    html! {
        tr {
            th.text scope="row" { (of.name()) }
            td data-of=(HEADS[0]) { b { (judged(hours.as_read)) } } td data-of=(HEADS[1]) { (judged(hours.certain)) } td data-of=(HEADS[2]) { (judged(hours.possible)) } td data-of=(HEADS[3]) { (hour(hours.judged)) }
            td data-of=(HEADS[4]) { (hour(hours.unjudged())) }
            td data-of=(HEADS[5]) { (complaint.value(of.room, longest).map_or("–".to_owned(), hour)) }
            td data-of=(HEADS[6]) { (lowest.unwrap_or("–".to_owned())) }
            @if complaint.site().heat_rule.is_some() { td data-of=(LEAST) { (margin.unwrap_or("–".to_owned())) } }
        }
    }
}

fn cannot_tell(complaint: &Complaint<'_>) -> Markup {
    let lines = complaint.cannot_tell();
    let no_height: Vec<&str> =
        complaint.loggers().iter().filter(|l| l.height_m.is_none()).map(|l| l.room).collect();
    let weather = complaint.site().heat_rule.as_ref().is_some_and(HeatRule::needs_outdoor);
    html! {
        @if lines.is_empty() { p { b { "What the record cannot tell. " } "The record is whole in this time: no hole, no doubted reading" @if weather { ", and outdoors is known" } ". " (NO_LOGGER_TELLS) } }
        @for (i, line) in lines.iter().take(MOST_LINES).enumerate() { p { @if i == 0 { b { "What the record cannot tell. " } } (line) } }
        @if lines.len() > MOST_LINES { p { (lines.len() - MOST_LINES) " more, in " (complaint.heard.stem) ".json." } }
        @if !lines.is_empty() { p { (NO_LOGGER_TELLS) } }
        @if !no_height.is_empty() { p { "Height of the logger not stated: " (no_height.join(", ")) "." } }
        @if complaint.audit.from_aligned { p { "This sheet starts from an aligned table: loggers and rows of exports were not judged again, so that nothing is said here of doubtful loggers." } }
        @if complaint.found().next().is_none() { p { "No record shows " (NO_RECORD_SHOWS) "." } }
    }
}

/// Sentences under a head of their own; nothing without any.
fn paragraph(head: &str, sentences: &[String]) -> Markup {
    html! {
        @if !sentences.is_empty() { p { b { (head) } @for sentence in sentences { " " (super::decide::capital(sentence)) } } }
    }
}

fn loggers(complaint: &Complaint<'_>) -> Markup {
    let units = complaint.site().units;
    let lines = complaint.loggers();
    let any_off = lines.iter().any(|l| l.offset.is_some());
    let mut heads = vec![
        listing::text("Room"),
        listing::text("Logger"),
        listing::figure("Height"),
        listing::figure("Good to"),
    ];
    heads.extend(any_off.then(|| listing::figure("Taken off")));
    heads.push(listing::text("File, SHA-256"));
    let row = |l: &LoggerLine<'_>| {
        html! {
            tr {
                th.text scope="row" { (l.room) } td.text data-of="Logger" { (l.logger) }
                td data-of="Height" { (l.height_m.map_or("–".to_owned(), |h| format!("{h:.2} m"))) }
                td data-of="Good to" { (l.accuracy.map_or("–".to_owned(), |k| format!("±{}", units.show_difference(k)))) }
                @if any_off { td data-of="Taken off" { (l.offset.map_or("–".to_owned(), |k| units.show_difference(k))) } }
                td.text data-of="File" { @for (i, (name, digest)) in l.files.iter().enumerate() { @if i > 0 { br; } (name) " " code { (digest.chars().take(SHOWN_DIGITS).collect::<String>()) } } }
            }
        }
    };
    let rows = html! { @for line in &lines { (row(line)) } };
    let caption = match any_off {
        true => "Loggers. Taken off: what each read over the others when all lay side by side",
        false => "Loggers",
    };
    html! {
        @if !lines.is_empty() {
            div.loggers {
                div.cards { (listing::table(caption, &heads, &rows)) }
                p.soft.foot { "Good to: as stated for the logger, else as loggers mostly are" @if any_off { ", or as the check shows" } ". SHA-256: its first " (SHOWN_DIGITS) " digits." }
            }
        }
    }
}

fn next(complaint: &Complaint<'_>) -> Markup {
    html! {
        @if complaint.found().next().is_some() {
            p { b { "Next. " } "Ask the household about these hours, look at this home's heating and its supply, and read a second thermometer where the rule's text measures." }
        }
    }
}

/// The rule's text, what it assumes, and the cautions.
fn small_print(complaint: &Complaint<'_>) -> Markup {
    html! {
        div.caution {
            @if let Some(rule) = &complaint.site().heat_rule {
                p { @if let Some(preset) = rule.preset { " Assumed: " (preset.assumes) ". Not judged, and how it was read: " (preset.limits) "." @if let Some(m) = preset.measured { " The text measures " (m.words) "." } } }
            }
            p { b { (NO_HEAT_CAUTION) } " " (MAKESHIFT_CAUTION) }
            p { "A measurement of where the loggers stood; local code and licensed practice decide: " (HEAT_RULE_CAUTION) ". It tells when people were at home: for the two parties only. Settings, files and all numbers: " a href={ (complaint.heard.stem) ".json" } { (complaint.heard.stem) ".json" } ", beside this sheet." }
        }
    }
}

/// What the side-by-side check did to the readings, logger by logger.
pub(super) fn side_by_side(site: &Site, home: &HomeAudit) -> Markup {
    let checked = site.colocation.as_ref().map(|c| c.span);
    let checked = checked.filter(|_| home.loggers.iter().any(|l| l.offset.is_some()));
    let offset =
        |l: &LoggerRow| Some(format!("{} {}: {}", l.room, l.logger, site.units.show_difference(l.offset?)));
    let offsets = home.loggers.iter().filter_map(offset).collect::<Vec<_>>().join(", ");
    html! {
        @if let Some(span) = checked { p.soft { "Taken off: from " (show_span(span, site.zone)) " the loggers lay side by side; what each of them read above (below 0: below) the median of all was taken off its readings before anything was judged: " (offsets) "." } }
    }
}
