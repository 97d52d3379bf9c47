//! What a publication moves, written down before it moves anything.

use std::fs;
use std::io;
use std::path::{Component, Path};

use serde::{Deserialize, Serialize};

use super::steps;

/// Name of the journal in a scratch folder.
pub(super) const JOURNAL: &str = "journal.json";
/// Its name while it is written.
pub(super) const UNFINISHED: &str = "journal.new";

/// One place in the result folder.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Entry {
    /// The way to it from the result folder, with `/`.
    pub(super) path: String,
    /// SHA-256 of what comes there; `None`: nothing, the earlier result goes.
    pub(super) new: Option<String>,
    /// SHA-256 of the earlier result; `None`: there was none.
    pub(super) old: Option<String>,
}

/// The journal of a scratch folder.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Journal {
    program: String,
    /// Name of the scratch folder, so that no other folder is taken for one.
    scratch: String,
    /// What moves, the file that vouches for the others last; empty as long as nothing does.
    pub(super) entries: Vec<Entry>,
}

impl Journal {
    /// A journal of the scratch folder with this name.
    pub(super) fn new(scratch: &str, entries: Vec<Entry>) -> Self {
        Self { program: "evenrooms".to_owned(), scratch: scratch.to_owned(), entries }
    }

    /// Puts it into its folder, in one step.
    pub(super) fn write(&self, folder: &Path) -> io::Result<()> {
        let bytes = serde_json::to_vec_pretty(self)?;
        let unfinished = folder.join(UNFINISHED);
        steps::write_synced(&unfinished, &bytes)?;
        steps::rename(&unfinished, &folder.join(JOURNAL))
    }

    /// The journal of a folder, if it has one that is its own.
    pub(super) fn of(folder: &Path) -> Option<Self> {
        let path = folder.join(JOURNAL);
        fs::symlink_metadata(&path).ok().filter(fs::Metadata::is_file)?;
        let journal: Self = serde_json::from_slice(&fs::read(path).ok()?).ok()?;
        let own = journal.program == "evenrooms"
            && folder.file_name().is_some_and(|name| name == journal.scratch.as_str())
            && journal.entries.iter().all(|entry| plain(&entry.path));
        own.then_some(journal)
    }
}

/// Whether a way leads to a file in the folder that it starts from, or below, and to nothing hidden.
pub(super) fn plain(path: &str) -> bool {
    !path.is_empty()
        && !path.contains('\\')
        && path.split('/').all(|part| !part.is_empty() && !part.starts_with('.'))
        && Path::new(path).components().all(|part| matches!(part, Component::Normal(_)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ways_out_of_the_folder_are_not_plain() {
        assert!(plain("report.html") && plain("exports/1A/living.csv"));
        for path in ["", "../x", "a/../../x", "/etc/passwd", "a//b", ".hidden", "a/.b", "a\\b", "./a", "a/"] {
            assert!(!plain(path), "{path}");
        }
    }

    #[test]
    fn a_journal_holds_for_its_own_folder_only() {
        let folder = tempfile::tempdir().unwrap();
        let name = folder.path().file_name().unwrap().to_str().unwrap();
        let entry = |path: &str| Entry { path: path.to_owned(), new: None, old: None };
        let journal = Journal::new(name, vec![entry("report.html")]);
        journal.write(folder.path()).unwrap();
        assert_eq!(Journal::of(folder.path()), Some(journal));
        for other in [Journal::new("another", vec![]), Journal::new(name, vec![entry("../x")])] {
            other.write(folder.path()).unwrap();
            assert_eq!(Journal::of(folder.path()), None);
        }
    }
}
