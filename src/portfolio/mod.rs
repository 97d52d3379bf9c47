//! Several audits put together: where their homes stand, and what the homes of one site and of all sites have in common.
//!
//! It sees rows of result tables, one at a time, never a series; who reads them out of which files is the shell's affair.
//!
//! Settled here, and why:
//! - **One period of each site counts**: the one that decides there. Periods of several sites have names that nobody has made
//!   alike, and a home that stands in two of them would count twice.
//! - **Rooms are put together by use**: of several rooms of a home with one use the mean, so that each home counts once.
//! - **Share of homes that pass**: of those that were judged, with Wilson's interval; those that were not stand beside it, and are
//!   never counted among them. A home passes a criterion where every room does, and fails it where one does.
//! - **Homes of all sites together are taken as homes of one kind.** Where sites differ, the interval of a share or a mean over
//!   all sites knows nothing of it; each site's own rows stand beside it.
//! - **What was held against different limits** (band, setback, rule) is put together all the same, and said: hours below 20 °C
//!   and below 18 °C are not the same hours.

mod settings;
mod site;
mod summary;

pub use settings::differences;
pub use site::{Counts, HomeStands, MetricIn, OneSite, Pressing};
pub use summary::{Kind, Passes, SummaryRow, summarise};

use crate::error::Note;

/// Everything that was put together.
#[derive(Debug)]
pub struct Portfolio {
    /// The sites, by their names.
    pub sites: Vec<OneSite>,
    /// What homes have in common: of all sites together, then of each.
    pub summary: Vec<SummaryRow>,
    /// What a reader must know: sites that were set aside, limits that differ.
    pub notes: Vec<Note>,
}

impl Portfolio {
    /// Sites in the order of their names, whatever order they came in.
    pub fn of(mut sites: Vec<OneSite>, mut notes: Vec<Note>) -> Self {
        sites.sort_by(|a, b| a.name.cmp(&b.name));
        notes.extend(differences(&sites));
        let summary = summarise(&sites);
        Self { sites, summary, notes }
    }

    /// Homes of all sites, the worst first: by where they stand, then by their most pressing case and how many decide.
    pub fn worst_first(&self) -> Vec<(&OneSite, &HomeStands)> {
        let mut homes: Vec<(&OneSite, &HomeStands)> =
            self.sites.iter().flat_map(|site| site.homes().map(move |home| (site, home))).collect();
        // Sorting is stable: equal ones stay in the order of sites and rosters.
        homes.sort_by_key(|(_, home)| (home.standing, home.worst, std::cmp::Reverse(home.deciding)));
        homes
    }

    /// Homes of all sites by where they stand.
    pub fn counts(&self) -> Counts {
        let mut all = Counts::default();
        self.sites.iter().for_each(|site| all.add(&site.counts()));
        all
    }

    /// Whether all sites go by pseudonyms.
    pub fn pseudonymised(&self) -> bool {
        self.sites.iter().all(|site| site.pseudonymised)
    }

    /// Whether some input could not be taken.
    pub fn something_set_aside(&self) -> bool {
        self.notes.iter().any(|note| note.unreadable)
    }
}
