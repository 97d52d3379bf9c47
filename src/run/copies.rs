//! Site file and roster as results: what an audit was asked lies beside what came of it.
//!
//! Settled here, and why:
//! - **One name each**, `site.toml` and `roster.csv` (or the ending that the roster has), whatever they are called where they come
//!   from: so a run knows those of an earlier one. What they were called stands in the inputs of the provenance.
//! - **No copy over itself**: where results go to the folder that the site file lies in, both are there already.
//! - **None under pseudonyms**: they name everything.
//! - **Nothing that acts**: a roster with cells that a spreadsheet would take for formulas, and files with control characters or marks
//!   of direction, are left out, with a note: whoever opens results opens no trap, and a copy is one byte for byte or none.

use std::path::Path;

use crate::error::{Note, Result};
use crate::files::{self, Outputs};
use crate::tables::Page;
use crate::texts::{needs_guard, shown};

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

    /// Those that go into a folder of results; notes of those that do not because they would act.
    pub(super) fn beside(
        mut self,
        site_file: &Path,
        folder: &Path,
        pseudonymised: bool,
    ) -> (Self, Vec<Note>) {
        let of = site_file.parent().filter(|of| !of.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let lies_there = files::is_same(of, folder);
        if pseudonymised || lies_there {
            return Default::default();
        }
        let notes = self.without_those_that_act();
        (self, notes)
    }

    /// Takes those out that would act where they are opened; a note for each.
    fn without_those_that_act(&mut self) -> Vec<Note> {
        let trap = |(name, bytes, _): &(String, Vec<u8>, &'static str)| {
            let table = name.ends_with(".csv") || name.ends_with(".tsv") || name.ends_with(".txt");
            (table && is_run_by_a_spreadsheet(bytes))
                || (!name.contains(".xls") && !name.ends_with(".ods") && acts(bytes))
        };
        let (left_out, kept) = std::mem::take(&mut self.0).into_iter().partition(trap);
        self.0 = kept;
        let note = |(name, ..): (String, Vec<u8>, &'static str)| {
            Note {
            place: name,
            line: None,
            what: "no copy of it lies among the results: it has characters that act, or cells that a spreadsheet would run".into(),
            hint: "provenance.json has its SHA-256; keep the file itself with the results".to_owned(),
            unreadable: false,
        }
        };
        left_out.into_iter().map(note).collect()
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

/// Whether a text has control characters, or marks of direction, beside blanks and line ends.
fn acts(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    text.lines().any(|line| {
        let plain = line.replace('\t', " ");
        shown(&plain) != plain
    })
}

/// Whether a spreadsheet would take a cell of a table for a formula; a number is none.
fn is_run_by_a_spreadsheet(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes);
    let mut cells = text.split([',', ';', '\t', '|', '\n']).map(|cell| cell.trim_matches(['"', ' ', '\r']));
    cells.any(|cell| needs_guard(cell) && cell.replace(',', ".").parse::<f64>().is_err())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_act_is_left_out() {
        let copies =
            |roster: &str| Copies::of(b"[site]\n".to_vec(), "roster.csv", roster.as_bytes().to_vec());
        for (roster, kept) in [
            ("home,room\r\n1A,living\r\n", 2),
            ("home,room,clock_fast_s\n1A,living,-12.5\n", 2),
            ("home,room\n1A,\"=cmd|'/c calc'!A1\"\n", 1),
            ("home,room\n1A,+1+1\n", 1),
            ("home,room\n1A,liv\u{1b}[2Jing\n", 1),
            ("home,room\n1A,\u{202e}gnivil\n", 1),
        ] {
            let mut copies = copies(roster);
            let notes = copies.without_those_that_act();
            assert_eq!((copies.0.len(), notes.len()), (kept, 2 - kept), "{roster:?}");
        }
    }

    #[test]
    fn a_roster_keeps_its_ending_where_it_is_one() {
        let names = |roster: &str| Copies::of(Vec::new(), roster, Vec::new()).names().collect::<Vec<_>>();
        assert_eq!(names("lists/Alder 2026.XLSX"), ["site.toml", "roster.xlsx"]);
        assert_eq!(names("roster"), ["site.toml", "roster.csv"]);
        assert!(Copies::ever().any(|name| name == "roster.xlsx"));
    }
}
