//! What is read: exports, site files, folders of exports.

use std::borrow::Cow;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::{disk, sha256};
use crate::error::{Error, Result};
use crate::exports::Files;
use crate::texts;
use crate::unpack::{file_and_part, unicode};

/// The bytes of a file.
///
/// # Errors
/// [`Error::Disk`].
pub fn read(path: &Path) -> Result<Vec<u8>> {
    fs::read(path).map_err(disk(path, "could not be read", "check the path and that you may read it"))
}

/// The bytes of a file that a person names; a pipe or a device may never end.
///
/// # Errors
/// [`Error::Disk`].
pub fn read_file(path: &Path) -> Result<Vec<u8>> {
    let about = fs::metadata(path).map_err(disk(
        path,
        "could not be read",
        "check the path and that you may read it",
    ))?;
    match no_export(&about) {
        None => read(path),
        Some(why) => {
            let refused = io::Error::new(io::ErrorKind::InvalidInput, why);
            Err(disk(path, "was not read", "name the exports themselves")(refused))
        }
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
/// [`Error::Disk`]; a text in another encoding is a disk error too.
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

/// The bytes of a file that something else may still be writing: no more than it has now, and only if that stays so.
fn read_at_once(path: &Path) -> io::Result<std::result::Result<Vec<u8>, String>> {
    let file = File::open(path)?;
    let length = file.metadata()?.len();
    let mut bytes = Vec::with_capacity(length as usize);
    (&file).take(length).read_to_end(&mut bytes)?;
    let (read, now) = (bytes.len() as u64, file.metadata()?.len());
    Ok(if read == length && now == length {
        Ok(bytes)
    } else {
        Err(format!(
            "the file changed while it was read (from {length} to {now} bytes), expected a download that is complete"
        ))
    })
}

/// Endings of files that are no exports.
const NO_EXPORTS: [&str; 14] = [
    ".pdf", ".png", ".jpg", ".jpeg", ".gif", ".svg", ".html", ".htm", ".doc", ".docx", ".toml", ".json",
    ".md", ".exe",
];
/// Most files, and deepest folder, that are looked through.
const MOST_FILES: usize = 20_000;
const DEEPEST: usize = 8;

/// Names of the files in a folder and the folders in it, sorted; links and hidden files are passed over.
///
/// # Errors
/// [`Error::Disk`].
pub fn list_exports(folder: &Path) -> Result<Vec<String>> {
    let mut names = Vec::new();
    let mut open = vec![(folder.to_owned(), String::new(), 0)];
    while let Some((path, prefix, depth)) = open.pop() {
        let hint = "check the path and that you may read it";
        for entry in fs::read_dir(&path).map_err(disk(&path, "could not be read", hint))? {
            let entry = entry.map_err(disk(&path, "could not be read", hint))?;
            let (Ok(kind), Ok(name)) = (entry.file_type(), entry.file_name().into_string()) else { continue };
            let lower = name.to_lowercase();
            if name.starts_with('.') || name.starts_with('~') || NO_EXPORTS.iter().any(|e| lower.ends_with(e))
            {
                continue;
            }
            if kind.is_dir() && depth < DEEPEST {
                open.push((entry.path(), format!("{prefix}{name}/"), depth + 1));
            } else if kind.is_file() {
                names.push(format!("{prefix}{name}"));
            }
        }
        if names.len() > MOST_FILES {
            let place = folder.display().to_string();
            let what = format!("more than {MOST_FILES} files, expected a folder of exports");
            return Err(Error::NothingToRead {
                place,
                what,
                hint: "name the folder that holds the exports only".to_owned(),
            });
        }
    }
    names.sort();
    Ok(names)
}
