//! Files for a person to go on with: all of them come into a folder, or none, and none is in anybody's way.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use super::journal::Entry;
use super::open::{Published, enter, leave, undisturbed};
use super::publication::publish;
use super::scratch::Scratch;
use super::{disk, lock, sha256, steps, unwritten};
use crate::error::{Error, Result};

/// New files in the making; several threads may write them.
#[derive(Debug)]
pub struct Fresh {
    folder: PathBuf,
    scratch: Scratch,
    fingerprints: Mutex<BTreeMap<String, String>>,
    published: Published,
}

impl Fresh {
    /// Opens a folder for files with these names, none of which may be there.
    ///
    /// # Errors
    /// [`Error::Busy`], [`Error::NotOurs`], [`Error::Disk`].
    pub fn begin(folder: &Path, names: &[&str]) -> Result<Self> {
        Self::begin_where(folder, || {
            match names.iter().map(|name| folder.join(name)).find(|path| path.symlink_metadata().is_ok()) {
                None => Ok(()),
                Some(path) => Err(Error::NotOurs { path, why: "a file of this name is there already" }),
            }
        })
    }

    /// Opens a folder in which nothing may be.
    ///
    /// # Errors
    /// [`Error::Busy`], [`Error::NotOurs`], [`Error::Disk`].
    pub fn begin_empty(folder: &Path) -> Result<Self> {
        Self::begin_where(folder, || {
            let hint = "check that the folder can be read";
            let entries = fs::read_dir(folder).map_err(disk(folder, "could not be read", hint))?;
            match entries.flatten().find(|entry| entry.file_name() != lock::LOCK) {
                None => Ok(()),
                Some(_) => Err(Error::NotOurs { path: folder.to_owned(), why: "the folder is not empty" }),
            }
        })
    }

    fn begin_where(folder: &Path, free: impl FnOnce() -> Result<()>) -> Result<Self> {
        let (scratch, ()) = enter(folder, free)?;
        let fingerprints = Mutex::default();
        Ok(Self { folder: folder.to_owned(), scratch, fingerprints, published: Published::Nothing })
    }

    /// Writes a file; `/` in its name leads into folders.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn write(&self, name: &str, bytes: &[u8]) -> Result<()> {
        let path = self.scratch.fresh(name);
        let written =
            undisturbed(|| {
                path.parent().map_or(Ok(()), |above| {
                    if above.is_dir() { Ok(()) } else { steps::make_folders(above) }
                })?;
                steps::create(&path)
            });
        let written = written.and_then(|file| steps::write_all_synced(file, bytes));
        written.map_err(unwritten(&self.folder.join(name)))?;
        let mut known = self.fingerprints.lock().unwrap_or_else(PoisonError::into_inner);
        known.insert(name.to_owned(), sha256(bytes));
        Ok(())
    }

    /// Moves all files to their place, or none.
    ///
    /// # Errors
    /// [`Error::NotOurs`] where a file appeared in the way meanwhile; [`Error::Disk`];
    /// [`Error::Unsettled`] where the next run has to take away what came.
    pub fn publish(mut self) -> Result<()> {
        let known = self.fingerprints.get_mut().unwrap_or_else(PoisonError::into_inner);
        let entry =
            |(path, new): (&String, &String)| Entry { path: path.clone(), new: Some(new.clone()), old: None };
        let entries: Vec<Entry> = known.iter().map(entry).collect();
        // From here on the next run knows what to do, also where this one gives up in the middle: nothing is cleared.
        self.published = Published::Settled;
        let done = undisturbed(|| publish(&self.scratch, &entries));
        if !matches!(done, Ok(()) | Err(Error::Unsettled { .. })) {
            self.published = Published::Nothing;
        }
        done
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        leave(&self.scratch, self.published);
    }
}
