//! What changes the disk, one step after the other.
//!
//! In a debug build (tests; never in a release) `EVENROOMS_FAULT` makes a step go wrong, by its number from 1: `die 17` ends the
//! program there; `panic 17` panics there; `hold 17` waits there for ten seconds; `full 17` finds no space at that step and at all later ones that need
//! some; `deny 17` refuses that step and all later ones; `unsynced 1` finds that results cannot be written through.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

/// Whether a step needs space.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Takes {
    Space,
    Nothing,
}

#[cfg(not(debug_assertions))]
#[expect(clippy::unnecessary_wraps, reason = "in a debug build a step may fail")]
#[inline]
const fn step(_: Takes) -> io::Result<()> {
    Ok(())
}

#[cfg(debug_assertions)]
fn step(takes: Takes) -> io::Result<()> {
    use std::sync::atomic::{AtomicU64, Ordering};
    static TAKEN: AtomicU64 = AtomicU64::new(0);
    let Ok(fault) = std::env::var("EVENROOMS_FAULT") else { return Ok(()) };
    let Some((kind, Ok(at))) = fault.split_once(' ').map(|(kind, at)| (kind, at.parse::<u64>())) else {
        return Ok(());
    };
    let now = TAKEN.fetch_add(1, Ordering::SeqCst) + 1;
    match kind {
        "die" if now == at => std::process::abort(),
        "panic" if now == at => panic!("step {at} panics, as was asked for"),
        "hold" if now == at => {
            std::thread::sleep(std::time::Duration::from_secs(10));
            Ok(())
        }
        "full" if now >= at && takes == Takes::Space => Err(io::ErrorKind::StorageFull.into()),
        "deny" if now >= at => Err(io::ErrorKind::PermissionDenied.into()),
        _ => Ok(()),
    }
}

/// Makes a folder and those above it.
pub(super) fn make_folders(path: &Path) -> io::Result<()> {
    step(Takes::Space)?;
    fs::create_dir_all(path)
}

/// Makes a folder with a name that nobody has, and gives the way to it.
pub(super) fn make_scratch(folder: &Path, prefix: &str) -> io::Result<std::path::PathBuf> {
    step(Takes::Space)?;
    Ok(tempfile::Builder::new().prefix(prefix).tempdir_in(folder)?.keep())
}

/// Makes a file that is not there yet.
pub(super) fn create(path: &Path) -> io::Result<File> {
    step(Takes::Space)?;
    File::create_new(path)
}

/// Opens a file for writing as it is, or makes it.
pub(super) fn open_or_create(path: &Path) -> io::Result<File> {
    step(Takes::Space)?;
    fs::OpenOptions::new().write(true).create(true).truncate(false).open(path)
}

/// Writes a file that is not there yet, and syncs it.
pub(super) fn write_synced(path: &Path, bytes: &[u8]) -> io::Result<()> {
    write_all_synced(create(path)?, bytes)
}

/// Writes all bytes of a file, and syncs it.
pub(super) fn write_all_synced(mut file: File, bytes: &[u8]) -> io::Result<()> {
    step(Takes::Space)?;
    file.write_all(bytes)?;
    sync(&file)
}

/// Writes what was held back of a file.
pub(super) fn finish(out: io::BufWriter<File>) -> io::Result<File> {
    step(Takes::Space)?;
    out.into_inner().map_err(io::IntoInnerError::into_error)
}

/// Waits until the bytes of a file are on the disk.
pub(super) fn sync(file: &File) -> io::Result<()> {
    step(Takes::Space)?;
    file.sync_all()
}

/// The same on another thread: it is no step, so that steps keep their numbers.
pub(super) fn sync_beside(file: &File) -> io::Result<()> {
    if cfg!(debug_assertions) && std::env::var("EVENROOMS_FAULT").is_ok_and(|fault| fault == "unsynced 1") {
        return Err(io::ErrorKind::StorageFull.into());
    }
    file.sync_all()
}

/// Waits until the names in a folder are on the disk; some systems and disks cannot do that, and do it by themselves.
pub(super) fn sync_folder(path: &Path) -> io::Result<()> {
    step(Takes::Nothing)?;
    if !cfg!(unix) {
        return Ok(());
    }
    match File::open(path)?.sync_all() {
        Err(e) if !matches!(e.kind(), io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported) => Err(e),
        _ => Ok(()),
    }
}

/// Moves a file to a name that is ours to take.
pub(super) fn rename(from: &Path, to: &Path) -> io::Result<()> {
    step(Takes::Nothing)?;
    fs::rename(from, to)
}

/// Gives a file a name that must not be taken; it may keep the one it had too.
pub(super) fn bring(from: &Path, to: &Path) -> io::Result<()> {
    step(Takes::Space)?;
    match fs::hard_link(from, to) {
        Err(e) if e.kind() != io::ErrorKind::AlreadyExists && e.kind() != io::ErrorKind::NotFound => {
            // A disk that knows one name for a file only.
            match fs::symlink_metadata(to) {
                Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
                Err(_) => fs::rename(from, to),
            }
        }
        other => other,
    }
}

/// Puts a file back to where it was, where nothing may stand now; needs no space.
pub(super) fn bring_back(from: &Path, to: &Path) -> io::Result<()> {
    step(Takes::Nothing)?;
    match fs::symlink_metadata(to) {
        Ok(_) => Err(io::ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(from, to),
    }
}

/// Removes a file; one that is not there is no error.
pub(super) fn remove_file(path: &Path) -> io::Result<()> {
    step(Takes::Nothing)?;
    or_gone(fs::remove_file(path))
}

/// Removes an empty folder; one that is not there is no error.
pub(super) fn remove_folder(path: &Path) -> io::Result<()> {
    step(Takes::Nothing)?;
    or_gone(fs::remove_dir(path))
}

/// Removes a folder and what is in it; links are removed, not followed.
pub(super) fn remove_tree(path: &Path) -> io::Result<()> {
    let entries = match fs::read_dir(path) {
        Ok(entries) => entries,
        Err(e) => return or_gone(Err(e)),
    };
    for entry in entries {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            remove_tree(&entry.path())?;
        } else {
            remove_file(&entry.path())?;
        }
    }
    remove_folder(path)
}

fn or_gone(done: io::Result<()>) -> io::Result<()> {
    match done {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        other => other,
    }
}
