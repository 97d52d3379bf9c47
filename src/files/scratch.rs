//! The folder in which results are made, and from which they move to their place.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::journal::{Entry, JOURNAL, Journal, UNFINISHED};
use super::{steps, unwritten};
use crate::error::Result;

/// How the name of a scratch folder begins; the lock's does too.
const PREFIX: &str = ".evenrooms-";

/// A scratch folder in a result folder.
#[derive(Clone, Debug)]
pub(super) struct Scratch {
    /// The result folder.
    pub(super) folder: PathBuf,
    path: PathBuf,
}

/// What a folder with the name of a scratch folder is.
enum Found {
    /// A run died before it wrote anything into it.
    Bare,
    /// A run of ours died with it.
    Ours(Journal),
    /// Something else.
    Foreign,
}

impl Scratch {
    /// Makes one.
    pub(super) fn make(folder: &Path) -> Result<Self> {
        let path = steps::make_scratch(folder, PREFIX).map_err(unwritten(folder))?;
        let scratch = Self { folder: folder.to_owned(), path };
        let begun = || {
            scratch.journal(Vec::new())?;
            steps::make_folders(&scratch.path.join("new"))?;
            steps::make_folders(&scratch.path.join("old"))
        };
        match begun() {
            Ok(()) => Ok(scratch),
            Err(source) => {
                let _ = scratch.clear();
                Err(unwritten(folder)(source))
            }
        }
    }

    /// Where a result is made.
    pub(super) fn fresh(&self, path: &str) -> PathBuf {
        self.path.join("new").join(path)
    }

    /// Where the earlier file of an entry is kept.
    pub(super) fn kept(&self, entry: usize) -> PathBuf {
        self.path.join("old").join(entry.to_string())
    }

    /// Where a result goes.
    pub(super) fn place(&self, path: &str) -> PathBuf {
        self.folder.join(path)
    }

    /// Writes down what will move.
    pub(super) fn journal(&self, entries: Vec<Entry>) -> io::Result<()> {
        let name = self.path.file_name().unwrap_or_default().to_string_lossy();
        Journal::new(&name, entries).write(&self.path)
    }

    /// Waits until its journal is on the disk by name too; the results get other names.
    pub(super) fn sync(&self) -> io::Result<()> {
        steps::sync_folder(&self.path)
    }

    /// Removes it, its journal last, so that what is left by a death meanwhile is known for what it is.
    pub(super) fn clear(&self) -> io::Result<()> {
        steps::remove_tree(&self.path.join("new"))?;
        steps::remove_tree(&self.path.join("old"))?;
        steps::remove_file(&self.path.join(UNFINISHED))?;
        steps::remove_file(&self.path.join(JOURNAL))?;
        steps::remove_folder(&self.path)
    }
}

/// The scratch folders of runs that died, each with what it was about to move.
pub(super) fn left_over(folder: &Path) -> io::Result<Vec<(Scratch, Vec<Entry>)>> {
    let mut left = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let named = entry.file_name().to_str().is_some_and(is_scratch_name);
        if !named || !entry.file_type()?.is_dir() {
            continue;
        }
        let scratch = Scratch { folder: folder.to_owned(), path: entry.path() };
        match found(&scratch.path)? {
            Found::Bare => left.push((scratch, Vec::new())),
            Found::Ours(journal) => left.push((scratch, journal.entries)),
            Found::Foreign => {}
        }
    }
    left.sort_by(|a, b| a.0.path.cmp(&b.0.path));
    Ok(left)
}

/// Whether a folder has anything that bears a name of ours.
pub(super) fn any_trace(folder: &Path) -> bool {
    let named = |entry: fs::DirEntry| entry.file_name().to_str().is_some_and(|name| name.starts_with(PREFIX));
    fs::read_dir(folder).is_ok_and(|mut entries| entries.any(|entry| entry.is_ok_and(named)))
}

/// The prefix and six letters or digits.
fn is_scratch_name(name: &str) -> bool {
    name.strip_prefix(PREFIX)
        .is_some_and(|rest| rest.len() == 6 && rest.bytes().all(|b| b.is_ascii_alphanumeric()))
}

fn found(path: &Path) -> io::Result<Found> {
    if let Some(journal) = Journal::of(path) {
        return Ok(Found::Ours(journal));
    }
    for entry in fs::read_dir(path)? {
        let entry = entry?;
        // Nothing but the first lines of a journal, or a journal's name.
        if entry.file_name() != UNFINISHED || !entry.file_type()?.is_file() {
            return Ok(Found::Foreign);
        }
    }
    Ok(Found::Bare)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_folders_with_their_own_journal_are_ours() {
        let folder = tempfile::tempdir().unwrap();
        let ours = Scratch::make(folder.path()).unwrap();
        let theirs = folder.path().join(".evenrooms-abc123");
        fs::create_dir(&theirs).unwrap();
        fs::write(theirs.join("thesis.txt"), "dear to me").unwrap();
        fs::copy(ours.path.join(JOURNAL), theirs.join(JOURNAL)).unwrap();
        fs::create_dir(folder.path().join(".evenrooms-of-mine")).unwrap();
        let left = left_over(folder.path()).unwrap();
        assert_eq!(left.iter().map(|(s, _)| &s.path).collect::<Vec<_>>(), [&ours.path]);
        ours.clear().unwrap();
        assert!(left_over(folder.path()).unwrap().is_empty() && any_trace(folder.path()));
        assert_eq!(fs::read(theirs.join("thesis.txt")).unwrap(), b"dear to me");
    }

    #[test]
    fn a_folder_that_a_run_had_only_just_made_goes() {
        let folder = tempfile::tempdir().unwrap();
        for (name, bytes) in [(".evenrooms-AAAAAA", None), (".evenrooms-BBBBBB", Some(b"{\"prog"))] {
            fs::create_dir(folder.path().join(name)).unwrap();
            if let Some(bytes) = bytes {
                fs::write(folder.path().join(name).join(UNFINISHED), bytes).unwrap();
            }
        }
        for (scratch, entries) in left_over(folder.path()).unwrap() {
            assert_eq!(entries, []);
            scratch.clear().unwrap();
        }
        assert!(!any_trace(folder.path()));
    }
}
