//! From readings to the grid: data handling, alignment, accuracy, and what the limits are in °C.

use super::page::{Page, number, plain};
use super::settings::degc;
use super::works::Works;
use crate::explain::word;
use crate::site::{HEAT_RULE_CAUTION, HeatRule, OFTEN_S, Site, Test};
use crate::tables;

/// What `Cargo.lock` says was built in.
const LOCK: &str = include_str!("../../Cargo.lock");
/// Libraries that a number, a date or a table depends on.
const LIBRARIES: [&str; 6] = ["arrow", "chrono-tz", "csv", "libm", "parquet", "statrs"];

pub(super) fn tell(site: &Site, works: &mut Works, page: &mut Page) {
    limits(site, page);
    data(site, works, page);
    page.section("Alignment and accuracy");
    for name in ["step", "alignment", "max_gap", "accuracy", "lag", "quorum"] {
        told(name, page);
    }
    page.line("");
}

/// A word as `explain` tells it.
fn told(name: &str, page: &mut Page) {
    if let Some(text) = word(name) {
        page.item(&format!("**{name}**: {text}"));
    }
}

fn limits(site: &Site, page: &mut Page) {
    page.section("Limits, in °C and K");
    let band = |band: crate::site::Band| format!("{} to {}", degc(band.lower), degc(band.upper));
    match (site.bands.occupied, site.bands.night) {
        (None, None) => page.item("no band: nothing is held against one"),
        (occupied, night) => {
            let at_night = site.bands.night_hours.show();
            let day = occupied.map_or("none".to_owned(), band);
            page.item(&format!("band: {day}"));
            if let Some(night) = night {
                page.item(&format!("band by night, {at_night}: {}", band(night)));
            }
        }
    }
    page.item(&format!("night, for the slices `day` and `night`: {}", site.bands.night_hours.show()));
    for setback in &site.setbacks {
        let (hours, target) = (setback.window.show(), degc(setback.occupied_target));
        page.item(&format!(
            "setback {hours}, target after it {target}, line {}",
            degc(setback.occupied_target - site.recovery.tolerance)
        ));
    }
    if site.setbacks.is_empty() {
        page.item(
            "no setback in the site file: recoveries are those after setbacks that are found in the data",
        );
    }
    page.item(&format!(
        "spread limit {} K, margin of evenness {} K",
        number(site.spread.limit.k()),
        number(site.spread.margin.k())
    ));
    match site.design_outdoor {
        Some(design) => page.item(&format!("design outdoor temperature: {}", degc(design))),
        None => page.item("no design outdoor temperature: nothing is told of it"),
    }
    let series = "no weather series: nothing that needs an outdoor temperature is given";
    page.item(if site.outdoor.is_some() {
        "a weather series gives the outdoor temperature of all homes"
    } else {
        series
    });
    for period in &site.periods {
        let (from, to) = (period.span.from.iso(), period.span.to.iso());
        page.item(&format!("period *{}*: {from} to before {to} (UTC)", plain(&period.name)));
    }
    page.item(&format!("the period that decides about acceptance: *{}*", plain(site.judged_period())));
    page.line("");
    if let Some(rule) = &site.heat_rule {
        heat_rule(rule, page);
    }
}

fn heat_rule(rule: &HeatRule, page: &mut Page) {
    page.part("Heat rule");
    page.paragraph(&format!("{}; {HEAT_RULE_CAUTION}.", plain(&rule.title())));
    rule.windows.iter().for_each(|window| page.item(&window.words(degc)));
    page.item(&format!("rooms by their use: {}", rule.uses.words().join(", ")));
    if let Some(height) = rule.measured_height_m {
        page.item(&format!("height at which the text measures: {} m", number(height)));
    }
    if let Some(preset) = rule.preset {
        page.item(&format!("decisive words: {}", preset.words));
        page.item(&format!("source: {} ({}), read on {}", preset.source, preset.seen.words(), preset.read));
    }
    page.line("");
}

fn data(site: &Site, works: &mut Works, page: &mut Page) {
    page.section("Data handling");
    let time = works.cite("civil time by the IANA time zone database");
    page.paragraph(&format!(
        "Every row of every export is a reading or stands in `set_aside` with its reason; rows seen are rows kept and rows set aside, or the audit stops. Times are brought to UTC ({time}, {}; zone {}): an offset that the export states wins over the roster, the roster over the site file. Each reading keeps what each test said (QARTOD scheme), and its flag:",
        chrono_tz::IANA_TZDB_VERSION,
        site.zone.name(),
    ));
    let flag = tables::READINGS.columns.iter().find(|column| column.name == "flag");
    flag.iter().for_each(|column| page.item(&format!("**flag**: {}", column.about)));
    for name in ["suspect", "left out"] {
        told(name, page);
    }
    let used = if site.quality.use_suspect {
        "Suspect readings are used."
    } else {
        "Suspect readings are left out: `use_suspect` is false."
    };
    page.item(used);
    for test in Test::ALL {
        let runs = if site.quality.tests.contains(&test) { "on" } else { "switched off by the site file" };
        page.item(&format!("test **{}** ({runs}): {}", test.name(), test.question()));
    }
    page.item(&format!(
        "a single reading beyond both neighbours by more than `quality.spike.fail` is left out where a logger samples every {} min or more often, else it is suspect",
        OFTEN_S / 60
    ));
    let outdoors = site.quality.outdoors();
    let (low, high) = outdoors.gross_range.fail;
    page.item(&format!(
        "the weather series has limits of its own: gross range {} to {}, spike {} and {} K, rate of change {} K/h",
        degc(low),
        degc(high),
        number(outdoors.spike.suspect.k()),
        number(outdoors.spike.fail.k()),
        number(outdoors.rate_of_change.suspect.k_per_h())
    ));
    if let Some(colocation) = &site.colocation {
        page.part("Side by side");
        let (from, to) = (colocation.span.from.iso(), colocation.span.to.iso());
        page.paragraph(&format!("From {from} to {to} (UTC). {}.", word("colocation").unwrap_or_default()));
    }
    page.line("");
}

/// The version of a library.
fn version(library: &str) -> Option<&'static str> {
    let name = format!("name = \"{library}\"\nversion = \"");
    let (_, rest) = LOCK.split_once(&name)?;
    rest.split('"').next()
}

pub(super) fn tell_software(page: &mut Page) {
    page.section("Software");
    page.item(concat!(
        "evenrooms ",
        env!("CARGO_PKG_VERSION"),
        " (",
        env!("CARGO_PKG_LICENSE"),
        "), by Rust ",
        env!("CARGO_PKG_RUST_VERSION"),
        " or later"
    ));
    for library in LIBRARIES {
        if let Some(version) = version(library) {
            page.item(&format!("{library} {version}"));
        }
    }
    page.item(&format!("IANA time zone database {}", chrono_tz::IANA_TZDB_VERSION));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_library_has_its_version() {
        for library in LIBRARIES {
            let version = version(library).unwrap_or_else(|| panic!("{library}"));
            assert!(version.split('.').count() == 3, "{library} {version}");
        }
    }
}
