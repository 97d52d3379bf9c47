//! What is read: exports, site files, folders of exports.
//!
//! Settled here, and why:
//! - **Paths** are taken as written; with `/` for `\` and plain blanks only where there is no such file.

use std::borrow::Cow;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::{disk, sha256};
use crate::error::Result;
use crate::exports::Files;
use crate::texts;
use crate::unpack::{file_and_part, unicode};

/// The bytes of a file.
///
/// # Errors
/// [`crate::error::Error::Disk`].
pub fn read(path: &Path) -> Result<Vec<u8>> {
    fs::read(path).map_err(disk(path, "could not be read", "check the path and that you may read it"))
}

/// The bytes of a file that a person names; a pipe or a device may never end.
///
/// # Errors
/// [`crate::error::Error::Disk`].
pub fn read_file(path: &Path) -> Result<Vec<u8>> {
    let about = fs::metadata(path).map_err(disk(
        path,
        "could not be read",
        "check the path and that you may read it",
    ))?;
    let refused = |why: String| {
        disk(path, "was not read", "name the exports themselves")(io::Error::new(
            io::ErrorKind::InvalidInput,
            why,
        ))
    };
    match no_export(&about) {
        None => read_at_once(path)
            .map_err(disk(path, "could not be read", "check the path and that you may read it"))?
            .map_err(refused),
        Some(why) => Err(refused(why)),
    }
}

/// Why a file can be no export: it may never end, or is larger than a logger writes.
fn no_export(about: &fs::Metadata) -> Option<String> {
    if !about.is_file() {
        return Some("this is a folder or a device, expected a file".to_owned());
    }
    let (size_mb, most_mb) = (about.len() >> 20, MAX_EXPORT >> 20);
    (about.len() > MAX_EXPORT)
        .then(|| format!("the file has {size_mb} MB, expected at most {most_mb} MB of one logger"))
}

/// The text of a file in UTF-8 or UTF-16.
///
/// # Errors
/// [`crate::error::Error::Disk`]; a text in another encoding is a disk error too.
pub fn text<'b>(path: &Path, bytes: &'b [u8]) -> Result<Cow<'b, str>> {
    let neither = || io::Error::new(io::ErrorKind::InvalidData, "the text is neither UTF-8 nor UTF-16");
    unicode(bytes).ok_or_else(neither).map_err(disk(path, "could not be read", "save the file as UTF-8"))
}

/// A path from a folder on, as a person wrote it: backslashes and non-breaking blanks are taken as written only where a
/// file has them.
pub fn named(folder: &Path, name: &str) -> PathBuf {
    let (exact, usual) = (folder.join(name), name.replace('\\', "/").replace('\u{a0}', " "));
    if usual == name || exact.exists() { exact } else { folder.join(usual) }
}

/// An input and its SHA-256.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Input {
    /// Its name, as written in the site file or roster.
    pub name: String,
    /// Size in bytes.
    pub bytes: u64,
    /// SHA-256, in hexadecimal digits.
    pub sha256: String,
}

impl Input {
    /// The fingerprint of some bytes.
    pub fn new(name: &str, bytes: &[u8]) -> Self {
        Self { name: name.to_owned(), bytes: bytes.len() as u64, sha256: sha256(bytes) }
    }
}

/// Largest export that is read, in bytes.
const MAX_EXPORT: u64 = 2 << 30;

/// Reads exports by name from a folder; a file that cannot be had says why.
pub fn read_exports<'n>(folder: &Path, names: impl Iterator<Item = &'n str>) -> (Files, Vec<Input>) {
    let mut files = Files::new();
    let mut inputs = Vec::new();
    for name in names.map(|n| file_and_part(n).0) {
        if files.contains_key(name) {
            continue;
        }
        let answer = read_export(folder, name);
        if let Ok(bytes) = &answer {
            inputs.push(Input::new(name, bytes));
        }
        files.insert(name.to_owned(), answer);
    }
    (files, inputs)
}

/// A name of a folder at which nothing is there yet: `stem.ending`, else `stem-2.ending` and so on, the same number for all
/// endings.
pub fn free_stem(folder: &Path, stem: &str, endings: &[&str]) -> String {
    let taken = |stem: &str| {
        endings.iter().any(|ending| folder.join(format!("{stem}.{ending}")).symlink_metadata().is_ok())
    };
    let mut free = stem.to_owned();
    let mut number = 1;
    while taken(&free) {
        number += 1;
        free = format!("{stem}-{number}");
    }
    free
}

/// Whether an export is there, whatever it is.
pub fn has_export(folder: &Path, name: &str) -> bool {
    named(folder, file_and_part(name).0).is_file()
}

/// The bytes of an export: a plain file inside the folder, of a size that a logger can write.
fn read_export(folder: &Path, name: &str) -> std::result::Result<Vec<u8>, String> {
    let path = named(folder, name);
    let unreadable = |e: io::Error| match e.kind() {
        io::ErrorKind::NotFound => {
            format!("there is no such file in {}", texts::name(&folder.display().to_string()))
        }
        _ => format!("the file could not be read ({e})"),
    };
    let real = path.canonicalize().map_err(unreadable)?;
    if !folder.canonicalize().is_ok_and(|f| real.starts_with(f)) {
        return Err(
            "the name leads out of the exports folder (through `..` or a link), expected a file inside it"
                .to_owned(),
        );
    }
    let about = fs::metadata(&real).map_err(unreadable)?;
    match no_export(&about) {
        None => read_at_once(&real).map_err(unreadable)?,
        Some(why) => Err(why),
    }
}

/// Room that is made for a file at once: what it claims of its size proves nothing.
const AT_ONCE: u64 = 64 << 20;
/// Bytes that are read at a time.
const AT_A_TIME: u64 = 8 << 20;
/// So many zero bytes in a row are space that was set aside for a file and never written; no export has them.
const MOST_ZEROS: usize = 16 << 20;

/// The bytes of a file that something else may still be writing: no more than it has now, and only if that stays so.
fn read_at_once(path: &Path) -> io::Result<std::result::Result<Vec<u8>, String>> {
    let file = File::open(path)?;
    let length = file.metadata()?.len();
    let (mut bytes, mut zeros): (Vec<u8>, usize) = (Vec::with_capacity(length.min(AT_ONCE) as usize), 0);
    loop {
        let before = bytes.len();
        (&file).take(AT_A_TIME.min(length - before as u64)).read_to_end(&mut bytes)?;
        let new = &bytes[before..];
        if new.is_empty() {
            break;
        }
        zeros = new.iter().rposition(|b| *b != 0).map_or(zeros + new.len(), |last| new.len() - 1 - last);
        if zeros > MOST_ZEROS {
            let (from, size_mb) = (bytes.len() - zeros, length >> 20);
            return Ok(Err(format!(
                "the file has {size_mb} MB, of which nothing but zero bytes follow from byte {from} on, expected a download that is complete"
            )));
        }
    }
    let (read, now) = (bytes.len() as u64, file.metadata()?.len());
    Ok(if read == length && now == length {
        Ok(bytes)
    } else {
        Err(format!(
            "the file changed while it was read (from {length} to {now} bytes), expected a download that is complete"
        ))
    })
}
