//! The report: one self-contained page for people, a workbook, and no arithmetic.
//!
//! It asks nothing of the network, and prints each home on pages of its own. Beside it stands the sheet of one home and time.

mod asked;
mod axis;
mod building;
mod chart;
mod check;
mod comparison;
mod curves;
mod decide;
mod evenness;
mod first;
mod heat_rule;
mod homes;
mod humidity;
mod links;
mod listing;
mod loggers;
mod mornings;
mod offsets;
mod pages;
mod plan;
mod portfolio;
mod raster;
mod shape;
mod sheet;
mod sheet_picture;
mod shown;
mod spreads;
mod told;
mod van;
mod weather;
mod workbook;
mod workbook_rooms;
mod workbook_sheet;

pub use check::check_page;
pub use comparison::comparison;
pub use links::page_name;
pub use pages::{REPORT, SHEETS, pages, sheets};
pub use plan::plan_page;
pub use portfolio::portfolio;
pub use sheet::sheet;
pub use workbook::workbook;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use crate::audit::Audit;
use crate::cases::CRITERIA;
use crate::findings::RULES;
use crate::metrics::{self, Metric};
use crate::site::{MAKESHIFT_CAUTION, NO_HEAT_CAUTION, Site, audience};
use crate::texts::shown_lines;
use crate::units::Celsius;

const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("page.js");

/// A page that stands alone; `more`: what its style has beyond that of all pages.
fn whole_page(title: &str, more: &str, main: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(policy());
                title { (title) }
                style { (PreEscaped(chart::palette::style())) (PreEscaped(STYLE)) (PreEscaped(more)) }
            }
            body {
                (hatching())
                (main)
                @if main.0.contains("class=\"stage\"") { script { (PreEscaped(SCRIPT)) } }
            }
        }
    };
    // Names are safe already; a page must be so whatever comes to stand in it.
    shown_lines(&page.into_string()).into_owned()
}

/// What a page may do: show its own style, run its one script, and nothing else; no name in it can bring a script along.
fn policy() -> String {
    let digest = Sha256::digest(SCRIPT.as_bytes());
    format!("default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{}'", base64(&digest))
}

/// Bytes in base 64, as RFC 4648 has it.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let number = (0..3).fold(0_u32, |n, i| n << 8 | u32::from(three.get(i).copied().unwrap_or(0)));
        let letter = |i: usize| char::from(LETTERS[(number >> (18 - 6 * i)) as usize & 63]);
        text.extend((0..4).map(|i| if i <= three.len() { letter(i) } else { '=' }));
    }
    text
}

/// How a time without data is filled, once in a page.
fn hatching() -> Markup {
    html! {
        svg.unseen width="0" height="0" aria-hidden="true" {
            defs { pattern #hatch width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" { line.hatching x1="0" y1="0" x2="0" y2="6" {} } }
        }
    }
}

/// What stands behind it all, last.
fn data_and_method(audit: &Audit) -> Markup {
    html! {
        section.trace {
            h2 { "Data and method" }
            (about_the_data(audit))
            (method(&audit.site))
        }
    }
}

/// Rows, what was taken off, and what a reader must know of them.
fn about_the_data(audit: &Audit) -> Markup {
    let (seen, kept, aside) = audit.rows();
    html! {
        @if audit.from_aligned {
            p { b { "This report starts from an aligned table" } ": loggers, readings and rows of exports were not judged again. A home with nothing to report here may have doubtful loggers: see the report of the audit that made the table." }
        } @else { p.soft { (seen) " rows of logger exports were read: " (kept) " kept as readings, " (aside) " set aside, each with its reason in set_aside.parquet." } }
        @if let Some(taken_off) = audit.taken_off() { p.soft { (taken_off) } }
        @if audit.notes().next().is_some() {
            details {
                summary { "Notes about the data" }
                @for note in audit.notes() {
                    p { b { (note.place) @if let Some(line) = note.line { ":" (line) } } " " (note.what.without_cells()) br; span.soft { (note.hint) } }
                }
            }
        }
    }
}

/// What every page says before any number; `cold`: where somebody may be without heat.
fn cautions(site: &Site, cold: bool) -> Markup {
    html! {
        div.caution {
            p { "This is a measurement, no legal finding: local code and licensed practice decide. Sensor accuracy, coverage and where a logger stood limit what it can say; they stand beside each number." }
            @if cold { p { (NO_HEAT_CAUTION) " " (MAKESHIFT_CAUTION) } }
            p.soft { (audience(site)) }
        }
    }
}

fn outdoor(audit: &Audit) -> Option<(String, String)> {
    let weather = audit.outdoor.as_ref()?;
    let value = |metric: &Metric| {
        weather
            .metrics
            .iter()
            .filter(|r| r.metric == metric)
            .max_by_key(|r| r.period == audit.site.judged_period())
            .map(|r| audit.site.units.show(Celsius::new(r.value)))
    };
    Some((value(&metrics::OUTDOOR_MINIMUM)?, value(&metrics::OUTDOOR_MAXIMUM)?))
}

fn method(site: &Site) -> Markup {
    html! {
        details {
            summary { "How this was found" }
            p { "Readings were tested with the QARTOD scheme (" @for (i, t) in site.quality.tests.iter().enumerate() { @if i > 0 { ", " } (t.name()) } @if site.quality.tests.is_empty() { "all tests switched off" } "); readings that failed are in no number; those that are suspect "(if site.quality.use_suspect { "are used, and counted both ways" } else { "are in no number, as the site file asks" })". Rooms were then aligned in time without extrapolation. Hours marked certainly and possibly count with the limit moved by the sensor accuracy, and by how far loggers trail the room where the roster states their time constants." }
            h3 { "Rules" }
            @for rule in RULES { p { b { (rule.name) } " – " (rule.shows) ". " span.soft { "Source: " (rule.source) "." } } }
            h3 { "Criteria" }
            (listing::table("Criteria", &["Criterion", "Name", "Metric", "What it says"].map(listing::text), &html! { @for c in CRITERIA { tr { th.text scope="row" { (c.words) } td.text { (c.id) } td.text { (c.metric) } td.text { (c.definition) } } } }))
            h3 { "Numbers" }
            p { "Every number stands in " code { "metrics.csv" } " beside this page, the temperatures behind it in " code { "aligned.parquet" } ", settings and files with their SHA-256 in " code { "provenance.json" } "; " code { "datapackage.json" } " says what each column means." }
            (listing::table("Metrics", &["Metric", "Unit", "What it says"].map(listing::text), &html! { @for m in metrics::all() { tr { th.text scope="row" { (m.id) } td.text { (m.unit) } td.text { (m.definition) } } } }))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: S. Josefsson, RFC 4648 (2006), section 10, test vectors.
    #[test]
    fn bytes_in_base_64_are_those_of_the_standard() {
        let of = ["", "f", "fo", "foo", "foob", "fooba", "foobar"].map(|text| base64(text.as_bytes()));
        assert_eq!(of, ["", "Zg==", "Zm8=", "Zm9v", "Zm9vYg==", "Zm9vYmE=", "Zm9vYmFy"]);
    }
}
