//! Files move to their place, all of them or none.

use std::io;
use std::path::Path;

use super::journal::Entry;
use super::lock::Lock;
use super::scratch::{Scratch, left_over};
use super::{disk, sha256_of, steps, unwritten};
use crate::error::{Error, Result};

const CHANGED: &str = "it was changed since evenrooms wrote it";
const APPEARED: &str = "a file of this name is there that evenrooms did not write";
const IN_BETWEEN: &str =
    "it was put there after a run died that was replacing it, and the earlier result cannot come back";

/// Moves results to their place; the last entry vouches for the others. The scratch folder goes, unless the next run
/// has to put something right.
///
/// # Errors
/// Why nothing was published; [`Error::Unsettled`] where that could not be undone at once.
pub(super) fn publish(scratch: &Scratch, entries: &[Entry]) -> Result<()> {
    let committed = scratch.journal(entries.to_vec()).and_then(|()| scratch.sync());
    let moved = committed.map_err(unwritten(&scratch.folder)).and_then(|()| move_all(scratch, entries));
    let Err(error) = moved else {
        entries.iter().filter(|entry| entry.new.is_none()).for_each(|gone| remove_empty_above(scratch, gone));
        // The results stand and are synced; what is left of the scratch folder goes with the next run.
        let _ = scratch.clear();
        return Ok(());
    };
    match undo(scratch, entries) {
        Ok(()) => {
            let _ = scratch.clear();
            Err(error)
        }
        Err(_) => Err(Error::Unsettled { folder: scratch.folder.clone(), cause: Box::new(error) }),
    }
}

/// Puts right what runs that died left in a result folder that is locked.
///
/// # Errors
/// [`Error::NotOurs`] where a file stands in the way; [`Error::Disk`].
pub(super) fn settle(folder: &Path, _: &Lock) -> Result<()> {
    let unread = disk(folder, "could not be read", "check that the folder can be read");
    for (scratch, entries) in left_over(folder).map_err(unread)? {
        if !all_new(&scratch, &entries).map_err(unwritten(folder))? {
            undo(&scratch, &entries)?;
        }
        steps::sync_folder(folder).map_err(unwritten(folder))?;
        scratch.clear().map_err(unwritten(folder))?;
    }
    Ok(())
}

fn move_all(scratch: &Scratch, entries: &[Entry]) -> Result<()> {
    let Some((last, others)) = entries.split_last() else { return Ok(()) };
    take_away(scratch, entries.len() - 1, last)?;
    for (number, entry) in others.iter().enumerate() {
        take_away(scratch, number, entry)?;
        bring(scratch, entry)?;
    }
    bring(scratch, last)?;
    steps::sync_folder(&scratch.folder).map_err(unwritten(&scratch.folder))
}

/// Takes the earlier result out of the way, and looks at it where nobody expects it any more.
fn take_away(scratch: &Scratch, number: usize, entry: &Entry) -> Result<()> {
    let Some(old) = &entry.old else { return Ok(()) };
    let (place, kept) = (scratch.place(&entry.path), scratch.kept(number));
    match steps::rename(&place, &kept) {
        Ok(()) => {}
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(disk(&place, "could not be replaced", super::CAN_BE_WRITTEN)(e)),
    }
    let sha256 = sha256_of(&kept).map_err(disk(&place, "could not be read", "check the disk"))?;
    if sha256.is_some_and(|(sha256, _)| sha256 == *old) {
        return Ok(());
    }
    Err(Error::NotOurs { path: place, why: CHANGED })
}

fn bring(scratch: &Scratch, entry: &Entry) -> Result<()> {
    if entry.new.is_none() {
        return Ok(());
    }
    let place = scratch.place(&entry.path);
    let above = place.parent().filter(|_| entry.path.contains('/'));
    let brought = above
        .map_or(Ok(()), steps::make_folders)
        .and_then(|()| steps::bring(&scratch.fresh(&entry.path), &place));
    brought.map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => Error::NotOurs { path: place, why: APPEARED },
        _ => disk(&place, "could not be moved into place", super::CAN_BE_WRITTEN)(e),
    })
}

/// Whether everything stands as it was to be: the run died when only its scratch folder was left to go.
fn all_new(scratch: &Scratch, entries: &[Entry]) -> io::Result<bool> {
    for entry in entries.iter().rev() {
        if !is_new(scratch, entry)? {
            return Ok(false);
        }
    }
    Ok(true)
}

fn is_new(scratch: &Scratch, entry: &Entry) -> io::Result<bool> {
    let place = scratch.place(&entry.path);
    match &entry.new {
        Some(new) => Ok(sha256_of(&place)?.is_some_and(|(sha256, _)| sha256 == *new)),
        None => Ok(place.symlink_metadata().is_err()),
    }
}

/// The earlier results as they were: the new one that vouches goes first, the earlier one that vouches comes last.
fn undo(scratch: &Scratch, entries: &[Entry]) -> Result<()> {
    let Some((last, others)) = entries.split_last() else { return Ok(()) };
    let failed =
        |entry: &Entry| disk(&scratch.place(&entry.path), "could not be put back", super::CAN_BE_WRITTEN);
    withdraw(scratch, entries.len() - 1, last)?;
    for (number, entry) in others.iter().enumerate().rev() {
        withdraw(scratch, number, entry)?;
        put_back(scratch, number, entry).map_err(failed(entry))?;
    }
    put_back(scratch, entries.len() - 1, last).map_err(failed(last))?;
    steps::sync_folder(&scratch.folder).map_err(unwritten(&scratch.folder))
}

/// Removes a new result from its place, if it came so far, and the folders that were made for it.
fn withdraw(scratch: &Scratch, number: usize, entry: &Entry) -> Result<()> {
    let place = scratch.place(&entry.path);
    if place.symlink_metadata().is_ok() {
        let failed = || disk(&place, "could not be put back", super::CAN_BE_WRITTEN);
        let new = entry.new.is_some() && is_new(scratch, entry).map_err(failed())?;
        let kept = scratch.kept(number).symlink_metadata().is_ok();
        let came = match &entry.old {
            // Where nothing was before, what else is there now is nobody's business.
            None => new,
            Some(_) if kept && !new => return Err(Error::NotOurs { path: place, why: IN_BETWEEN }),
            Some(_) if kept => true,
            // The earlier one was gone already, or it is still there.
            Some(_) => new && entry.new != entry.old,
        };
        if came {
            steps::remove_file(&place).map_err(failed())?;
        }
    }
    remove_empty_above(scratch, entry);
    Ok(())
}

/// Removes the folders in which a result lay, as far as they are empty.
fn remove_empty_above(scratch: &Scratch, entry: &Entry) {
    let mut above = Path::new(&entry.path).parent();
    while let Some(folder) = above.filter(|folder| !folder.as_os_str().is_empty()) {
        // One with something in it stays.
        if steps::remove_folder(&scratch.folder.join(folder)).is_err() {
            break;
        }
        above = folder.parent();
    }
}

fn put_back(scratch: &Scratch, number: usize, entry: &Entry) -> io::Result<()> {
    let kept = scratch.kept(number);
    match kept.symlink_metadata() {
        Ok(_) => steps::bring_back(&kept, &scratch.place(&entry.path)),
        Err(_) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::files::sha256;

    fn entry(path: &str, new: Option<&str>, old: Option<&str>) -> Entry {
        let sha256 = |text: &str| sha256(text.as_bytes());
        Entry { path: path.to_owned(), new: new.map(sha256), old: old.map(sha256) }
    }

    /// A folder with an earlier set, and a scratch folder with a new one.
    fn folder() -> (tempfile::TempDir, Scratch, Vec<Entry>) {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in [("a.csv", "a"), ("gone.csv", "gone"), ("v.json", "v")] {
            fs::write(folder.path().join(name), text).unwrap();
        }
        let scratch = Scratch::make(folder.path()).unwrap();
        fs::create_dir(scratch.fresh("below")).unwrap();
        for (name, text) in [("a.csv", "new a"), ("below/b.csv", "new b"), ("v.json", "new v")] {
            fs::write(scratch.fresh(name), text).unwrap();
        }
        let entries = vec![
            entry("a.csv", Some("new a"), Some("a")),
            entry("below/b.csv", Some("new b"), None),
            entry("gone.csv", None, Some("gone")),
            entry("v.json", Some("new v"), Some("v")),
        ];
        (folder, scratch, entries)
    }

    fn texts(folder: &Path) -> Vec<(String, String)> {
        let mut texts = Vec::new();
        for entry in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
            let name = entry.file_name().unwrap().to_str().unwrap().to_owned();
            match entry.is_dir() {
                true => {
                    texts.extend(self::texts(&entry).into_iter().map(|(n, t)| (format!("{name}/{n}"), t)))
                }
                false => texts.push((name, fs::read_to_string(&entry).unwrap())),
            }
        }
        texts.sort();
        texts
    }

    fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect()
    }

    const OLD: [(&str, &str); 3] = [("a.csv", "a"), ("gone.csv", "gone"), ("v.json", "v")];

    #[test]
    fn all_files_move_and_what_is_not_renewed_goes() {
        let (folder, scratch, entries) = folder();
        publish(&scratch, &entries).unwrap();
        let new = [("a.csv", "new a"), ("below/b.csv", "new b"), ("v.json", "new v")];
        assert_eq!(texts(folder.path()), pairs(&new));
    }

    #[test]
    fn a_file_that_was_changed_meanwhile_stays_and_so_does_all_else() {
        let (folder, scratch, entries) = folder();
        fs::write(folder.path().join("gone.csv"), "mine now").unwrap();
        assert!(matches!(publish(&scratch, &entries), Err(Error::NotOurs { why: CHANGED, .. })));
        assert_eq!(texts(folder.path()), pairs(&[("a.csv", "a"), ("gone.csv", "mine now"), ("v.json", "v")]));
    }

    #[test]
    fn a_file_that_appeared_meanwhile_stays_and_so_does_all_else() {
        let (folder, scratch, entries) = folder();
        fs::create_dir(folder.path().join("below")).unwrap();
        fs::write(folder.path().join("below/b.csv"), "mine").unwrap();
        assert!(matches!(publish(&scratch, &entries), Err(Error::NotOurs { why: APPEARED, .. })));
        let mut expected = pairs(&OLD);
        expected.insert(1, ("below/b.csv".to_owned(), "mine".to_owned()));
        assert_eq!(texts(folder.path()), expected);
    }

    #[test]
    fn a_result_in_place_of_one_that_a_dead_run_took_away_is_not_overwritten() {
        let (folder, scratch, entries) = folder();
        scratch.journal(entries.clone()).unwrap();
        take_away(&scratch, 3, &entries[3]).unwrap();
        take_away(&scratch, 0, &entries[0]).unwrap();
        fs::write(folder.path().join("a.csv"), "mine").unwrap();
        assert!(matches!(settle_here(folder.path()), Err(Error::NotOurs { why: IN_BETWEEN, .. })));
        assert_eq!(fs::read(folder.path().join("a.csv")).unwrap(), b"mine");
        fs::remove_file(folder.path().join("a.csv")).unwrap();
        settle_here(folder.path()).unwrap();
        assert_eq!(texts(folder.path()), pairs(&OLD));
    }

    fn settle_here(folder: &Path) -> Result<()> {
        let lock = Lock::take(folder).unwrap();
        settle(folder, &lock)
    }
}
