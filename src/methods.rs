//! The methods section of an audit, for a paper: what its numbers mean with these settings, and how each is made again.
//!
//! It is put together of the texts that `explain` tells and that stand beside the code, so that no definition stands twice; it
//! needs site file and roster only, and says nothing of results.
//!
//! Settled here, and why:
//! - **Before the data come**: what only exports can tell (whether a logger records humidity) is told as "where".
//! - **Only what these settings make apply**: without a heat rule there is nothing of one. What a setting is, and whether the
//!   site file states it or a default stands in, is told of each.

mod applies;
mod definitions;
mod handling;
mod page;
mod settings;
mod works;

use definitions::Definitions;
use page::{Page, plain};
use settings::Settings;
use works::Works;

use crate::site::{Heated, Site};

/// How this program is cited, a line each.
pub const HOW_TO_CITE: [&str; 3] = [
    concat!("evenrooms, version ", env!("CARGO_PKG_VERSION"), ": ", env!("CARGO_PKG_DESCRIPTION"), "."),
    concat!("Licence: ", env!("CARGO_PKG_LICENSE"), "."),
    "Name the version, and the SHA-256 of `datapackage.json` of the results (it stands in `provenance.json`): the same inputs give the same bytes.",
];

/// A file that the settings came from.
#[derive(Clone, Debug)]
pub struct From {
    /// Its name.
    pub name: String,
    /// Its SHA-256, in hexadecimal digits.
    pub sha256: String,
}

/// The methods section, in Markdown; `from`: site file and roster.
pub fn methods(site: &Site, from: &[From]) -> String {
    let mut works = Works::default();
    let mut page = Page::default();
    introduction(site, from, &mut page);
    page.section("How to cite");
    HOW_TO_CITE.iter().for_each(|line| page.item(line));
    let settings = Settings::of(site);
    settings.tell(&mut page);
    handling::tell(site, &mut works, &mut page);
    Definitions::of(site).tell(&mut works, &mut page);
    settings.tell_what_differs(site, &mut page);
    handling::tell_software(&mut page);
    page.section("References");
    page.paragraph("Definitions named as their own are this program's. Where a source says *from memory*, or *secondary sources*, the page itself was not at hand.");
    works.tell(&mut page);
    page.text
}

fn introduction(site: &Site, from: &[From], page: &mut Page) {
    page.line(&format!("# Methods: {}\n", plain(&site.name)));
    let files: Vec<String> =
        from.iter().map(|f| format!("`{}` (SHA-256 `{}`)", plain(&f.name), f.sha256)).collect();
    page.paragraph(&format!(
        "How evenrooms {} makes the numbers of an audit of {} with the settings of {}. This was made from these files alone: it tells what is done, and nothing of what was found. Temperatures are in °C and differences in K, whatever the site file is written in.",
        env!("CARGO_PKG_VERSION"),
        plain(&site.name),
        files.join(" and ")
    ));
    let rooms = || site.homes.iter().flat_map(|home| &home.rooms);
    let count = |heated: Heated| rooms().filter(|room| room.heated == heated).count();
    let placements = || rooms().flat_map(|room| &room.placements);
    let stated = placements().filter(|p| p.accuracy.is_some()).count();
    let constants = placements().filter(|p| p.time_constant_min.is_some()).count();
    page.paragraph(&format!(
        "By the roster: homes: {}; rooms: {}, of which {} have heating of their own, {} have none, and of {} nobody says; placements of loggers: {}, of which {stated} state an accuracy and {constants} a time constant; rooms without a logger: {}.",
        site.homes.len(),
        rooms().count(),
        count(Heated::Yes),
        count(Heated::No),
        count(Heated::Unknown),
        placements().count(),
        rooms().filter(|room| room.placements.is_empty()).count(),
    ));
}
