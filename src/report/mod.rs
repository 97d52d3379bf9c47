//! The report: one self-contained page for people, a workbook, and no arithmetic.
//!
//! It asks nothing of the network, and prints each home on pages of its own. Beside it stands the sheet of one home and time.

mod chart;
mod check;
mod curves;
mod decide;
mod evenness;
mod heat_rule;
mod homes;
mod humidity;
mod listing;
mod plan;
mod sheet;
mod van;
mod workbook;

pub use check::check_page;
pub use plan::plan_page;
pub use sheet::sheet;
pub use workbook::workbook;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::audit::{Audit, HomeAudit};
use crate::cases::Standing;
use crate::findings::RULES;
use crate::metrics::{self, Metric};
use crate::site::{Site, audience};
use crate::texts::shown_lines;
use crate::units::Celsius;

const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("page.js");

/// Homes with curves and tables of their own; the rest stand in the overview only.
const HOMES_SHOWN: usize = 60;

/// The page.
pub fn render(audit: &Audit) -> String {
    let site = &audit.site;
    let worst_first = audit.worst_first();
    let main = html! {
        main {
            (heading(audit))
            (overview(audit, &worst_first))
            @for home in worst_first.iter().take(HOMES_SHOWN) { (homes::section(audit, home)) }
            (data_notes(audit))
            (method(site))
        }
    };
    whole_page(&format!("{}: are the homes evenly warm?", site.name), "", &main)
}

/// A page that stands alone; `more`: what its style has beyond that of all pages.
fn whole_page(title: &str, more: &str, main: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(chart::palette::style())) (PreEscaped(STYLE)) (PreEscaped(more)) }
            }
            body {
                (hatching())
                (main)
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    // Names are safe already; a page must be so whatever comes to stand in it.
    shown_lines(&page.into_string()).into_owned()
}

/// How a time without data is filled, once in a page.
fn hatching() -> Markup {
    html! {
        svg.unseen width="0" height="0" aria-hidden="true" {
            defs { pattern #hatch width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" { line.hatching x1="0" y1="0" x2="0" y2="6" {} } }
        }
    }
}

fn heading(audit: &Audit) -> Markup {
    let site = &audit.site;
    let count = |s: Standing| audit.homes.iter().filter(|h| h.standing() == s).count();
    html! {
        h1 { (site.name) ": are the homes evenly warm?" }
        p.soft {
            (audit.homes.len()) @if audit.homes.len() == 1 { " home" } @else { " homes" }
            @if let Some(record) = audit.record() { ", recorded " (site.zone.show(record.from)) " to " (site.zone.show(record.to)) " (" (site.zone.name()) ")" }
            @if let Some((low, high)) = outdoor(audit) { ", outdoors " (low) " to " (high) }
            "."
        }
        ul.counts {
            @for s in Standing::ALL { @if count(s) > 0 { li { b class=(s.slug()) { (count(s)) } " " (s.word()) span.soft { " – " (s.meaning()) } } } }
        }
    }
}

/// What a reader must know before the numbers.
fn before_the_numbers(audit: &Audit) -> Markup {
    let site = &audit.site;
    let (seen, kept, aside) = audit.rows();
    html! {
        (cautions(site, audit.homes.iter().any(HomeAudit::is_too_cold)))
        @if let Some(taken_off) = audit.taken_off() { p.soft { (taken_off) } }
        @if audit.from_aligned {
            p { b { "This report starts from an aligned table" } ": loggers, readings and rows of exports were not judged again. A home with nothing to report here may have doubtful loggers: see the report of the audit that made the table." }
        } @else { p.soft { (seen) " rows of logger exports were read: " (kept) " kept as readings, " (aside) " set aside, each with its reason in set_aside.parquet." } }
    }
}

/// What every page says before any number; `cold`: where somebody may be without heat.
fn cautions(site: &Site, cold: bool) -> Markup {
    html! {
        div.caution {
            p { "This is a measurement, no legal finding: local code and licensed practice decide. Sensor accuracy, coverage and where a logger stood limit what it can say; they stand beside each number." }
            @if cold { p { "If somebody who is old, ill or very young is without heat now, do not wait for a report: call the local complaint or emergency line. Never heat with an oven, a grill or an unvented appliance (carbon monoxide). In frost, water pipes in cold rooms may freeze." } }
            p { (audience(site)) }
        }
    }
}

fn outdoor(audit: &Audit) -> Option<(String, String)> {
    let weather = audit.outdoor.as_ref()?;
    let value = |metric: &Metric| {
        weather
            .metrics
            .iter()
            .find(|r| r.metric == metric)
            .map(|r| audit.site.units.show(Celsius::new(r.value)))
    };
    Some((value(&metrics::OUTDOOR_MINIMUM)?, value(&metrics::OUTDOOR_MAXIMUM)?))
}

fn overview(audit: &Audit, homes: &[&HomeAudit]) -> Markup {
    let units = audit.site.units;
    let named = !audit.site.periods.is_empty();
    html! {
        (decide::to_do(homes))
        (before_the_numbers(audit))
        h2 { "Homes, the worst first" }
        div.scroll { table {
            thead { tr {
                th.text { "Home" } th.text { "Standing" }
                th { "Median spread" } th { "Spread over limit" } @if named { th.text { "Period" } }
            } }
            tbody {
                @for home in homes { @for (i, period) in audit.site.period_names().into_iter().enumerate() { tr {
                    td.text { @if i == 0 { a href={ "#" (homes::anchor(home)) } { (home.name) } } }
                    td.text { @if i == 0 { (decide::standing(home)) } }
                    td { (homes::difference(home.value(period, None, &metrics::SPREAD_MEDIAN), units)) }
                    td { (homes::percent(home.value(period, None, &metrics::SHARE_SPREAD_OVER_LIMIT))) }
                    @if named { td.text { (period) } }
                } } }
            }
        } }
        p.soft { (homes::spread_words(audit)) }
        @if homes.len() > HOMES_SHOWN { p.soft { "The first " (HOMES_SHOWN) " homes have a section below; all of them are in findings.csv and metrics.csv." } }
    }
}

fn data_notes(audit: &Audit) -> Markup {
    html! {
        @if audit.notes().next().is_some() {
            section.home {
                h2 { "About the data" }
                @for note in audit.notes() {
                    p { b { (note.place) @if let Some(line) = note.line { ":" (line) } } " " (note.what.without_cells()) br; span.soft { (note.hint) } }
                }
            }
        }
    }
}

fn method(site: &Site) -> Markup {
    html! {
        section.home {
            h2 { "How this was found" }
            p { "Readings were tested with the QARTOD scheme (" @for (i, t) in site.quality.tests.iter().enumerate() { @if i > 0 { ", " } (t.name()) } @if site.quality.tests.is_empty() { "all tests switched off" } "); readings that failed are in no number; those that are suspect "(if site.quality.use_suspect { "are used, and counted both ways" } else { "are in no number, as the site file asks" })". Rooms were then aligned in time without extrapolation. Hours marked certainly and possibly count with the limit moved by the sensor accuracy, and by how far loggers trail the room where the roster states their time constants." }
            h3 { "Rules" }
            @for rule in RULES { p { b { (rule.name) } " – " (rule.shows) ". " span.soft { "Source: " (rule.source) "." } } }
            h3 { "Numbers" }
            div.scroll { table {
                thead { tr { th.text { "Metric" } th.text { "Unit" } th.text { "What it says" } } }
                tbody { @for m in metrics::all() { tr { td.text { (m.id) } td.text { (m.unit) } td.text { (m.definition) } } } }
            } }
        }
    }
}
