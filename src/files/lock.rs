//! One run at a time writes into a folder.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use super::{steps, unwritten};
use crate::error::{Error, Result};

/// Name of the file that is locked; it is empty, and goes when the run ends.
pub(super) const LOCK: &str = ".evenrooms-lock";

/// How often somebody else may take the file away between opening and locking it.
const ATTEMPTS: usize = 100;

/// A folder that no other run writes into as long as this lives; the system lets go of it when a run dies.
#[derive(Debug)]
pub(super) struct Lock {
    path: PathBuf,
    _file: File,
}

impl Lock {
    /// Locks a folder that is there.
    ///
    /// # Errors
    /// [`Error::Busy`]; [`Error::NotOurs`] where the file of the lock is something else; [`Error::Disk`].
    pub(super) fn take(folder: &Path) -> Result<Self> {
        let path = folder.join(LOCK);
        for _ in 0..ATTEMPTS {
            if fs::symlink_metadata(&path).is_ok_and(|about| !about.is_file() || about.len() > 0) {
                let why = "it is not the empty file by which evenrooms locks a folder";
                return Err(Error::NotOurs { path, why });
            }
            let file = steps::open_or_create(&path).map_err(unwritten(folder))?;
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => return Err(Error::Busy { folder: folder.to_owned() }),
                Err(TryLockError::Error(source)) => return Err(unlockable(folder, source)),
            }
            // The one before may have taken the file away after this one opened it.
            if is_at(&file, &path) {
                return Ok(Self { path, _file: file });
            }
        }
        Err(Error::Busy { folder: folder.to_owned() })
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // What is left here is taken over by the next run.
        let _ = steps::remove_file(&self.path);
    }
}

fn unlockable(folder: &Path, source: io::Error) -> Error {
    let hint = "choose a folder on a disk that can lock files, so that two runs do not mix their results";
    Error::Disk { path: folder.to_owned(), action: "could not be locked", source, hint }
}

#[cfg(unix)]
fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let place = |about: fs::Metadata| (about.dev(), about.ino());
    match (file.metadata(), fs::symlink_metadata(path)) {
        (Ok(opened), Ok(there)) => place(opened) == place(there),
        _ => false,
    }
}

/// Here a file that is open keeps its name.
#[cfg(not(unix))]
fn is_at(_: &File, path: &Path) -> bool {
    path.exists()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_locked_once_and_nothing_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let first = Lock::take(folder.path()).unwrap();
        assert!(matches!(Lock::take(folder.path()), Err(Error::Busy { .. })));
        drop(first);
        drop(Lock::take(folder.path()).unwrap());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_file_that_is_no_lock_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join(LOCK), "my own").unwrap();
        assert!(matches!(Lock::take(folder.path()), Err(Error::NotOurs { .. })));
        assert_eq!(fs::read(folder.path().join(LOCK)).unwrap(), b"my own");
    }
}
