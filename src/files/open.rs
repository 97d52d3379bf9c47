//! Result folders that this process writes into, so that a signal can clean up behind it.

use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::lock::Lock;
use super::publication::settle;
use super::scratch::Scratch;
use super::{CAN_BE_WRITTEN, disk, steps};
use crate::error::{Error, Result};

/// A result folder in use. It is held while a file is made in it or files move, so that a signal comes before or after.
static OPEN: Mutex<Vec<Open>> = Mutex::new(Vec::new());

struct Open {
    scratch: Scratch,
    lock: Lock,
    /// Whether the folder itself is this run's.
    made: bool,
}

fn open() -> MutexGuard<'static, Vec<Open>> {
    OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Makes a result folder where there is none, locks it, settles what was left in it, and gives its scratch folder after
/// `check` found nothing against it.
pub(super) fn enter<T>(folder: &Path, check: impl FnOnce() -> Result<T>) -> Result<(Scratch, T)> {
    let mut open = open();
    if folder.exists() && !folder.is_dir() {
        let why = "it is a file, and the results need a folder";
        return Err(Error::NotOurs { path: folder.to_owned(), why });
    }
    let made = !folder.exists();
    let make = || {
        steps::make_folders(folder)?;
        let above = folder.parent().filter(|above| made && !above.as_os_str().is_empty());
        above.map_or(Ok(()), steps::sync_folder)
    };
    make().map_err(disk(folder, "could not be made", CAN_BE_WRITTEN))?;
    let begin = || {
        let lock = Lock::take(folder)?;
        settle(folder, &lock)?;
        let checked = check()?;
        Ok((lock, Scratch::make(folder)?, checked))
    };
    match begin() {
        Ok((lock, scratch, checked)) => {
            open.push(Open { scratch: scratch.clone(), lock, made });
            Ok((scratch, checked))
        }
        Err(error) => {
            if made {
                let _ = steps::remove_folder(folder);
            }
            Err(error)
        }
    }
}

/// Does something that no signal cuts through.
pub(super) fn undisturbed<T>(work: impl FnOnce() -> T) -> T {
    let _open = open();
    work()
}

/// Leaves a result folder; what was made and not published goes.
pub(super) fn leave(scratch: &Scratch, published: Published) {
    let mut open = open();
    let Some(at) = open.iter().position(|o| o.scratch.folder == scratch.folder) else { return };
    close(open.swap_remove(at), published);
}

/// What became of the results of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Published {
    /// Nothing: the scratch folder goes.
    Nothing,
    /// All of them, or it is the next run's to put them right: the scratch folder is as it should be.
    Settled,
}

fn close(open: Open, published: Published) {
    let Open { scratch, lock, made } = open;
    if published == Published::Nothing {
        let _ = scratch.clear();
    }
    drop(lock);
    if made && published == Published::Nothing {
        let _ = steps::remove_folder(&scratch.folder);
    }
}

/// Cleans up in every result folder of this process, for good: nothing is made or moved in one from here on. Whether there
/// was any.
pub fn abandon() -> bool {
    let mut open = open();
    let any = !open.is_empty();
    for folder in open.drain(..) {
        // Threads may still be writing.
        for _ in 0..20 {
            if folder.scratch.clear().is_ok() {
                break;
            }
        }
        close(folder, Published::Nothing);
    }
    std::mem::forget(open);
    any
}
