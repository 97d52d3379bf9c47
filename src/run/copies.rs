//! Site file and roster as results: what an audit was asked lies beside what came of it.
//!
//! Settled here, and why:
//! - **One name each**, `site.toml` and `roster.csv` (or the ending that the roster has), whatever they are called where they come
//!   from: so a run knows those of an earlier one. What they were called stands in the inputs of the provenance.
//! - **No copy over itself**: where results go to the folder that the site file lies in, both are there already.
//! - **None under pseudonyms**: they name everything.

use std::path::Path;

use crate::error::Result;
use crate::files::{self, Outputs};
use crate::tables::Page;

/// What the site file is called among results.
const SITE_FILE: &str = "site.toml";
/// What the roster is called, without its ending.
const ROSTER: &str = "roster";
/// Endings that a roster may have.
const ENDINGS: [&str; 6] = ["csv", "tsv", "txt", "xlsx", "xls", "ods"];

/// Copies of what a person wrote.
#[derive(Debug, Default)]
pub(super) struct Copies(Vec<(String, Vec<u8>, &'static str)>);

impl Copies {
    /// Of the site file, and of the roster by its name, as they were read.
    pub(super) fn of(site_file: Vec<u8>, roster_name: &str, roster: Vec<u8>) -> Self {
        let ending = roster_name.rsplit('.').next().unwrap_or_default().to_lowercase();
        let ending = ENDINGS.into_iter().find(|known| *known == ending).unwrap_or(ENDINGS[0]);
        Self(vec![
            (SITE_FILE.to_owned(), site_file, "the site file that the audit was made by, as it was read"),
            (format!("{ROSTER}.{ending}"), roster, "the roster that the site file names, as it was read"),
        ])
    }

    /// Those that go into a folder of results.
    pub(super) fn beside(self, site_file: &Path, folder: &Path, pseudonymised: bool) -> Self {
        let of = site_file.parent().filter(|of| !of.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let lies_there = files::is_same(of, folder);
        if pseudonymised || lies_there { Self::default() } else { self }
    }

    /// Their names.
    pub(super) fn names(&self) -> impl Iterator<Item = String> {
        self.0.iter().map(|(name, _, _)| name.clone())
    }

    /// Every name that a copy may ever have.
    pub(super) fn ever() -> impl Iterator<Item = String> {
        ENDINGS.into_iter().map(|ending| format!("{ROSTER}.{ending}")).chain([SITE_FILE.to_owned()])
    }

    /// Writes them; the answer is what the Data Package tells of each.
    pub(super) fn write(&self, outputs: &mut Outputs) -> Result<Vec<Page>> {
        let one = |(name, bytes, about): &(String, Vec<u8>, &'static str)| {
            outputs.write(name, bytes)?;
            Ok(Page { path: name.clone(), about })
        };
        self.0.iter().map(one).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_roster_keeps_its_ending_where_it_is_one() {
        let names = |roster: &str| Copies::of(Vec::new(), roster, Vec::new()).names().collect::<Vec<_>>();
        assert_eq!(names("lists/Alder 2026.XLSX"), ["site.toml", "roster.xlsx"]);
        assert_eq!(names("roster"), ["site.toml", "roster.csv"]);
        assert!(Copies::ever().any(|name| name == "roster.xlsx"));
    }
}
