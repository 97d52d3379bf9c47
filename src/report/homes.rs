//! The section of one home: findings, rooms, curves.

use maud::{Markup, html};

use super::{curves, evenness, heat_rule, humidity};
use crate::audit::{Audit, HomeAudit, HomeNumbers};
use crate::findings::{Finding, below_sixteen, coarse_loggers, open_lines, show_span};
use crate::metrics::{self, MetricRow};
use crate::site::{Home, Room, Site};
use crate::units::{Celsius, KelvinDiff, TemperatureUnit};

/// The place of a home's section in the page.
pub(super) fn anchor(home: &HomeAudit) -> String {
    let plain = home.name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' });
    format!("home-{}", plain.collect::<String>())
}

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

/// The section.
pub(super) fn section(audit: &Audit, home: &HomeAudit) -> Markup {
    let site = &audit.site;
    let (standing, numbers) = (home.standing(), &HomeNumbers::of(home));
    let Some(of_roster) = site.homes.iter().find(|h| h.name == home.name) else { return html! {} };
    html! {
        section.home id=(anchor(home)) {
            h2 { "Home " (home.name) " – " (super::decide::standing(home)) }
            p.soft { (standing.meaning()) ". " (site.name) "; times are local (" (site.zone.name()) "). This is a measurement, no legal finding: local code and licensed practice decide." }
            (super::decide::of_home(site, home))
            @if !home.findings.is_empty() {
                details { summary { "Findings behind it, with evidence" } @for findings in by_rule(&home.findings) { (of_one_rule(site, &findings)) } }
            }
            @if !home.not_judged.is_empty() {
                h3 { "Not judged" }
                @for open in open_lines(&home.not_judged) { p { (open) "." } }
            }
            @for period in site.period_names() { (rooms(site, of_roster, numbers, period)) @if let Some(words) = below_sixteen(&home.metrics, &home.findings, period, site.units) { p { (words) } } (evenness::tables(site, of_roster, numbers, period)) (heat_rule::table(site, of_roster, numbers, period)) (humidity::table(site, of_roster, numbers, period)) }
            (super::sheet::side_by_side(site, home))
            @if let Some(trace) = &home.trace { (curves::figure(site, of_roster, trace)) }
        }
    }
}

/// Findings of one rule share what else it could be and what to do.
fn of_one_rule(site: &Site, findings: &[&Finding]) -> Markup {
    html! {
        div.finding {
            h3 { (findings[0].rule) }
            @for finding in findings {
                p {
                    span class={ "standing " (finding.severity.word()) } { (finding.severity.word()) }
                    @if let Some(room) = &finding.room { ", " b { (room) } }
                    @if site.periods.len() > 1 && site.periods.iter().any(|p| p.name == finding.of) { ", " (finding.of) }
                    ": " (finding.shows)
                    @if let Some(span) = finding.span { " " span.soft { "(" (show_span(span, site.zone)) ")" } }
                }
            }
            dl {
                dt { "Could also be" } dd { (findings[0].could_also_be) }
                dt { "Next step" } dd { (findings[0].next_step) }
            }
        }
    }
}

/// Findings by rule, in the order of their first.
fn by_rule(findings: &[Finding]) -> Vec<Vec<&Finding>> {
    let mut groups: Vec<Vec<&Finding>> = Vec::new();
    for finding in findings {
        match groups.iter_mut().find(|g| g[0].rule == finding.rule) {
            Some(group) => group.push(finding),
            None => groups.push(vec![finding]),
        }
    }
    groups
}

pub(super) fn rooms(site: &Site, of_roster: &Home, home: &HomeNumbers<'_>, period: &str) -> Markup {
    html! {
        h3 { "Rooms, " (period) @if let Some(span) = site.named_period(period) { span.soft { " (" (show_span(span, site.zone)) ")" } } }
        div.scroll { table {
            thead { tr {
                th.text { "Room" } th.text { "Heated" } th { "Coverage" } th { "Lowest" } th { "Median" } th { "Highest" }
                th { "Hours below band" } th { "certainly … possibly" } th { "Hours above band" } th { "certainly … possibly" }
            } }
            tbody { @for room in &of_roster.rooms { (one_room(site, home, room, period)) } }
        } }
        @for words in coarse_loggers(&home.home.loggers, site) { p.soft { (words) } }
    }
}

fn one_room(site: &Site, home: &HomeNumbers<'_>, room: &Room, period: &str) -> Markup {
    let value = |metric| home.value(period, Some(&room.name), metric);
    let (below, above) = (value(&metrics::HOURS_BELOW_BAND), value(&metrics::HOURS_ABOVE_BAND));
    html! {
        tr {
            td.text { (room.name) }
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
