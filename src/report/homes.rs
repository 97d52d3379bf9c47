//! The section of one home: findings, rooms, curves.

use maud::{Markup, html};

use super::curves::Picture;
use super::links::anchor;
use super::{evenness, heat_rule, humidity, listing};
use crate::audit::{Audit, HomeAudit, HomeNumbers};
use crate::findings::{below_sixteen, coarse_loggers, open_lines, show_span};
use crate::metrics::{self, MetricRow};
use crate::site::{Heated, Home, Room, Site};
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// Things to do that fit on the front of a sheet of paper with the picture: of more, the picture stands on the back.
const MOST_ON_THE_FRONT: usize = 2;

/// What a spread is, and the site's limit.
pub(super) fn spread_words(audit: &Audit) -> String {
    let limit = audit.site.units.show_difference(audit.site.spread.limit);
    format!("Spread: the warmest minus the coldest room at the same instant. Limit: {limit}.")
}

/// A difference in the unit for people; a dash where there is none.
pub(super) fn difference(row: Option<&MetricRow>, units: TemperatureUnit) -> String {
    row.map_or("–".to_owned(), |r| units.show_difference(KelvinDiff::new(r.value)))
}

/// A share; a dash where there is none.
pub(super) fn percent(row: Option<&MetricRow>) -> String {
    row.map_or("–".to_owned(), |r| format!("{:.0} %", r.value))
}

fn temperature(row: Option<&MetricRow>, units: TemperatureUnit) -> String {
    row.map_or("–".to_owned(), |r| units.show(Celsius::new(r.value)))
}

/// Hours; a dash where there are none.
pub(super) fn hours(row: Option<&MetricRow>) -> String {
    row.map_or("–".to_owned(), |r| format!("{:.1}", r.value))
}

/// Certainly … possibly.
pub(super) fn hours_range(row: Option<&MetricRow>) -> String {
    let interval = row.and_then(|r| r.interval);
    interval.map_or(String::new(), |i| format!("{:.1} … {:.1}", i.low, i.high))
}

/// The section: one sheet of paper, its front decides and its back shows the rest.
pub(super) fn section(audit: &Audit, home: &HomeAudit) -> Markup {
    let site = &audit.site;
    let numbers = &HomeNumbers::of(home);
    let Some(of_roster) = site.homes.iter().find(|h| h.name == home.name) else { return html! {} };
    html! {
        section.home.long[home.jobs().len() > MOST_ON_THE_FRONT] id=(anchor(&home.name)) {
            (head(site, home))
            (super::decide::sheet(site, home))
            @if let Some(trace) = &home.trace {
                (Picture { site, home: of_roster, trace, cases: &home.cases, days: &home.pictures.days, id: format!("{}-rooms", anchor(&home.name)) }.draw())
            }
            div.back {
                (back(site, of_roster, home, numbers))
                (behind_it(audit, of_roster, home, numbers))
            }
        }
    }
}

/// Home, standing, and one sentence.
pub(super) fn head(site: &Site, home: &HomeAudit) -> Markup {
    html! {
        h2 { (home.name) " " span.soft { "· " } (super::decide::standing(home)) }
        p.lead { (super::first::worst(home)) }
        @if let Some(of_roster) = site.homes.iter().find(|h| h.name == home.name) { p.soft.heated { (heated(of_roster)) } }
        p.soft.printed { (site.name) ". A measurement, no legal finding: local code and licensed practice decide." }
    }
}

/// Which rooms have heating of their own, in words: dots and lines of pictures alone tell nobody.
fn heated(of_roster: &Home) -> String {
    let of = |heated: Heated| {
        let rooms = of_roster.rooms.iter().filter(move |r| r.heated == heated);
        rooms.map(|r| r.name.as_str()).collect::<Vec<_>>().join(", ")
    };
    let told =
        [("Heated", Heated::Yes), ("Not heated", Heated::No), ("Heated or not: unknown", Heated::Unknown)];
    let parts = told.map(|(words, heated)| (words, of(heated)));
    let parts = parts.iter().filter(|(_, rooms)| !rooms.is_empty());
    parts.map(|(words, rooms)| format!("{words}: {rooms}.")).collect::<Vec<_>>().join(" ")
}

/// Pictures of the second page, and what the home can do.
fn back(site: &Site, of_roster: &Home, home: &HomeAudit, numbers: &HomeNumbers<'_>) -> Markup {
    let id = |of: &str| format!("{}-{of}", anchor(&home.name));
    let told = super::told::sentences(site, of_roster, numbers);
    html! {
        @if let Some(seen) = home.by_hour() { (super::raster::chart(site, of_roster, seen, id("hours"))) }
        @else if site.bands.any() && home.trace.is_some() { p.soft { "No room was outside of its band at any hour of the record that has a value." } }
        div.pair {
            div { (super::offsets::chart(site, of_roster, numbers, id("offsets"))) }
            div { @if let Some(seen) = &home.pictures.mornings { (super::mornings::chart(site, of_roster, seen, id("mornings"))) } }
        }
        @if !told.is_empty() { h3 { "What this home can do" } ul.told { @for sentence in told { li { (sentence) } } } }
    }
}

/// The numbers behind, folded away.
fn behind_it(audit: &Audit, of_roster: &Home, home: &HomeAudit, numbers: &HomeNumbers<'_>) -> Markup {
    let site = &audit.site;
    let weather = super::weather::on_the_weather(
        site,
        of_roster,
        &home.pictures.against_outdoors,
        (&anchor(&home.name), "Rooms on the weather"),
    );
    html! {
        @if !home.cases.is_empty() { details { summary { "What happened, with the evidence" } (super::decide::cases(site, home)) } }
        @if !home.not_judged.is_empty() {
            details { summary { "Not judged" } @for open in open_lines(&home.not_judged) { p { (open) "." } } }
        }
        details {
            summary { "All numbers: rooms, evenness, recovery, heat rule, humidity" }
            @for period in site.period_names() { (rooms(site, of_roster, numbers, period)) @if let Some(words) = below_sixteen(&home.metrics, &home.findings, period, site.units) { p { (words) } } (evenness::tables(site, of_roster, numbers, period)) (heat_rule::table(site, of_roster, numbers, period)) (humidity::table(site, of_roster, numbers, period)) }
            @if let Some(chart) = weather { (chart) }
        }
        @if !home.loggers.is_empty() { details { summary { "Loggers" } (super::loggers::table(site, of_roster, home)) (super::sheet::side_by_side(site, home)) } }
    }
}

/// Every room of a home in a period: coverage, temperatures, hours outside of the band.
pub(super) fn rooms(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    let numbers = [
        "Coverage",
        "Lowest",
        "Median",
        "Highest",
        "Hours below band",
        "certainly … possibly",
        "Hours above band",
        "certainly … possibly",
    ];
    let words = ["Room", "Heated"].map(listing::text);
    let heads: Vec<listing::Head> = words.into_iter().chain(numbers.map(listing::figure)).collect();
    html! {
        h3 { "Rooms, " (period) @if let Some(span) = site.named_period(period) { span.soft { " (" (show_span(span, site.zone)) ")" } } }
        (listing::table(&format!("Rooms in {period}"), &heads, &html! { @for room in &of_roster.rooms { (one_room(site, home, room, period)) } }))
        @for words in coarse_loggers(&home.home.loggers, site) { p.soft { (words) } }
    }
}

fn one_room(site: &Site, home: &HomeNumbers<'_>, room: &Room, period: &str) -> Markup {
    let value = |metric| home.value(period, Some(&room.name), metric);
    let (below, above) = (value(&metrics::HOURS_BELOW_BAND), value(&metrics::HOURS_ABOVE_BAND));
    html! {
        tr {
            th.text scope="row" { (room.name) }
            td.text { (room.heated.word()) }
            td { (percent(value(&metrics::COVERAGE))) }
            td { (temperature(value(&metrics::MINIMUM), site.units)) }
            td { (temperature(value(&metrics::MEDIAN), site.units)) }
            td { (temperature(value(&metrics::MAXIMUM), site.units)) }
            td { (hours(below)) } td.possible { (hours_range(below)) }
            td { (hours(above)) } td.possible { (hours_range(above)) }
        }
    }
}
