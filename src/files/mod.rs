//! The disk: the only room that touches it.
//!
//! # Results are whole, or the old ones stay
//!
//! A run holds a lock on its result folder (`lock`), and makes its results in a scratch folder in it
//! (`.evenrooms-` and six letters; `scratch`). When all of them are whole and synced, a journal in the scratch folder says
//! what will stand where, with SHA-256, and what stood there before (`journal`). Only then files move (`publication`):
//!
//! 1. `provenance.json` of the earlier run goes into the scratch folder, so that from here on nothing vouches for the results;
//! 2. file by file, the earlier one goes into the scratch folder, is checked there, and the new one takes its place;
//! 3. the new `provenance.json` comes last; the result folder is synced; the scratch folder goes, its journal last.
//!
//! So a `provenance.json` that is there always vouches for a whole set. What goes wrong between 1 and 3 is undone at once. A
//! run that dies leaves its scratch folder, and the next one into the folder, holding the lock, settles it before anything
//! else: where all new files stand, the scratch folder goes; else the earlier ones come back. Nothing is removed
//! that the journal's own SHA-256 does not know, and no scratch folder that its journal does not name.
//!
//! # Whose file it is
//!
//! A result is ours where a `provenance.json` of the same command, which bears its own seal (`seal`), lists it with the
//! SHA-256 it has, under a name that this command gives. It is checked before the long work, and again when it is replaced.
#![expect(clippy::disallowed_methods, reason = "the one room that touches the disk")]

mod fresh;
mod held;
mod inside;
mod journal;
mod listing;
mod lock;
mod open;
mod outputs;
mod publication;
mod reading;
mod result_set;
mod scratch;
mod seal;
mod steps;

pub use fresh::Fresh;
pub use held::Held;
pub use inside::{folder_name, is_file, is_folder, is_inside, is_same};
pub use listing::{Listing, list_exports};
pub use open::abandon;
pub use outputs::{Digested, Outputs, Results, Syncing};
pub use reading::{Input, free_stem, has_export, named, read, read_exports, read_file, text};
pub use result_set::{ResultSet, results_of};
pub use seal::{PROVENANCE, Vouched};

use std::io;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::error::{Error, Result};

/// Next step where a place cannot be written.
const CAN_BE_WRITTEN: &str = "check that the folder can be written, and the free space";

fn disk(path: &Path, action: &'static str, hint: &'static str) -> impl FnOnce(io::Error) -> Error + use<> {
    let path = path.to_owned();
    move |source| Error::Disk { path, action, source, hint }
}

/// A write that failed.
fn unwritten(path: &Path) -> impl FnOnce(io::Error) -> Error + use<> {
    disk(path, "could not be written", CAN_BE_WRITTEN)
}

/// The way from one folder to another, as a person would write it; absolute where there is no short way.
pub fn way(from: &Path, to: &Path) -> String {
    let (Ok(from), Ok(to)) = (from.canonicalize(), to.canonicalize()) else {
        return to.display().to_string();
    };
    let shared = from.components().zip(to.components()).take_while(|(a, b)| a == b).count();
    let up = from.components().count() - shared;
    if up > 3 || shared < 2 {
        return to.display().to_string();
    }
    let parts = std::iter::repeat_n("..".into(), up)
        .chain(to.components().skip(shared).map(|c| c.as_os_str().to_owned()));
    let way: PathBuf = parts.collect();
    if way.as_os_str().is_empty() { ".".to_owned() } else { way.display().to_string().replace('\\', "/") }
}

/// Puts right what a run that died left in a result folder; most folders have nothing of the kind.
///
/// # Errors
/// [`Error::Busy`] where the run has not died; [`Error::NotOurs`] where a file stands in the way; [`Error::Disk`].
pub fn settle(folder: &Path) -> Result<()> {
    if !scratch::any_trace(folder) {
        return Ok(());
    }
    let lock = lock::Lock::take(folder)?;
    publication::settle(folder, &lock)
}

/// Whether a hang-up was to be ignored when the program was started, as `nohup` has it.
pub fn ignores_hangup() -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let ignored = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    ignored.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()).is_some_and(|mask| mask & 1 == 1)
}

fn sha256(bytes: &[u8]) -> String {
    hex(Sha256::new_with_prefix(bytes))
}

fn hex(digest: Sha256) -> String {
    digest.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

/// The SHA-256 of a plain file, and its length; `None` where there is none, or something that is no plain file.
fn sha256_of(path: &Path) -> io::Result<Option<(String, u64)>> {
    match std::fs::symlink_metadata(path) {
        Ok(about) if about.is_file() => {}
        Ok(_) => return Ok(None),
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(e),
    }
    let (mut file, mut digest, mut length) = (std::fs::File::open(path)?, Sha256::new(), 0);
    let mut buffer = vec![0; 1 << 18];
    loop {
        let read = io::Read::read(&mut file, &mut buffer)?;
        if read == 0 {
            return Ok(Some((hex(digest), length)));
        }
        digest.update(&buffer[..read]);
        length += read as u64;
    }
}
