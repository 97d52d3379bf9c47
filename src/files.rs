//! The disk: the only room that touches it.
//!
//! Results are written into a folder of their own beside their final place and moved there when all of them are
//! whole. A file that evenrooms did not write, or that somebody changed since, is never overwritten.
#![expect(clippy::disallowed_methods, reason = "the one room that touches the disk")]

mod inside;

pub use inside::{is_inside, is_same};

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use crate::error::{Error, Result};
use crate::exports::Files;
use crate::texts;
use crate::unpack::{file_and_part, unicode};

/// Name of the file that says which results evenrooms wrote.
pub const PROVENANCE: &str = "provenance.json";

fn disk(path: &Path, action: &'static str, hint: &'static str) -> impl FnOnce(io::Error) -> Error {
    let path = path.to_owned();
    move |source| Error::Disk { path, action, source, hint }
}

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

/// Opens a large file for reading.
///
/// # Errors
/// [`Error::Disk`].
pub fn open(path: &Path) -> Result<File> {
    File::open(path).map_err(disk(path, "could not be read", "check the path and that you may read it"))
}

/// The fingerprint of a large file, under its own name.
///
/// # Errors
/// [`Error::Disk`].
pub fn fingerprint(path: &Path) -> Result<Input> {
    let (mut file, mut digest, mut bytes) = (open(path)?, Sha256::new(), 0);
    let mut buffer = vec![0; 1 << 20];
    loop {
        let read = file.read(&mut buffer).map_err(disk(path, "could not be read", "check the disk"))?;
        if read == 0 {
            break;
        }
        digest.update(&buffer[..read]);
        bytes += read as u64;
    }
    let sha256 = hex(digest);
    let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    Ok(Input { name, bytes, sha256 })
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
        None => fs::read(&real).map_err(unreadable),
        Some(why) => Err(why),
    }
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

/// Makes a folder.
///
/// # Errors
/// [`Error::Disk`].
pub fn make_folder(folder: &Path) -> Result<()> {
    fs::create_dir_all(folder).map_err(disk(
        folder,
        "could not be made",
        "check that the place can be written",
    ))
}

/// Makes a folder, or takes one that is empty.
///
/// # Errors
/// [`Error::NotOurs`] where something is in it; [`Error::Disk`].
pub fn make_empty_folder(folder: &Path) -> Result<()> {
    make_folder(folder)?;
    let hint = "check that the folder can be read";
    match fs::read_dir(folder).map_err(disk(folder, "could not be read", hint))?.next() {
        None => Ok(()),
        Some(_) => Err(Error::NotOurs { path: folder.to_owned(), why: "the folder is not empty" }),
    }
}

/// Writes a new file, and the folders it stands in; one that is there is left alone.
///
/// # Errors
/// [`Error::NotOurs`], [`Error::Disk`].
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<()> {
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        make_folder(folder)?;
    }
    if path.exists() {
        return Err(Error::NotOurs { path: path.to_owned(), why: "a file of this name is there already" });
    }
    fs::write(path, bytes).map_err(disk(path, "could not be written", "check that the folder can be written"))
}

fn sha256(bytes: &[u8]) -> String {
    hex(Sha256::new_with_prefix(bytes))
}

fn hex(digest: Sha256) -> String {
    digest.finalize().iter().map(|b| format!("{b:02x}")).collect()
}

/// A result on its way to the disk, and its SHA-256.
pub struct Digested {
    out: BufWriter<File>,
    digest: Sha256,
}

impl Write for Digested {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        self.digest.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// A result folder in the making.
pub struct Outputs {
    folder: PathBuf,
    staging: tempfile::TempDir,
    names: Vec<String>,
    /// Results of an earlier run that this one does not renew.
    stale: Vec<String>,
    fingerprints: BTreeMap<String, Option<String>>,
}

impl Outputs {
    /// Opens the folder for these results, before the long work begins.
    ///
    /// # Errors
    /// [`Error::NotOurs`] where a file in the way is not evenrooms's own; [`Error::Disk`].
    pub fn begin(folder: &Path, names: Vec<String>) -> Result<Self> {
        let hint = "check that the folder can be written";
        if folder.exists() && !folder.is_dir() {
            return Err(Error::NotOurs {
                path: folder.to_owned(),
                why: "it is a file, and the results need a folder",
            });
        }
        fs::create_dir_all(folder).map_err(disk(folder, "could not be made", hint))?;
        let earlier = earlier_outputs(folder);
        for name in names.iter().chain(earlier.keys()).filter(|n| *n != PROVENANCE) {
            refuse_foreign(folder, name, &earlier)?;
        }
        if folder.join(PROVENANCE).exists() && earlier.is_empty() {
            return Err(Error::NotOurs {
                path: folder.join(PROVENANCE),
                why: "it was not written by evenrooms",
            });
        }
        if names.iter().any(|n| n == PROVENANCE) && other_command(&earlier, &names) {
            return Err(Error::NotOurs {
                path: folder.to_owned(),
                why: "it holds results of another command, which this one would remove",
            });
        }
        let stale = earlier.into_keys().filter(|n| !names.contains(n)).collect();
        let staging = tempfile::Builder::new().prefix(".evenrooms-").tempdir_in(folder);
        let staging = staging.map_err(disk(folder, "could not be written", hint))?;
        Ok(Self { folder: folder.to_owned(), staging, names, stale, fingerprints: BTreeMap::new() })
    }

    /// Starts a large result.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn create(&mut self, name: &str) -> Result<BufWriter<File>> {
        debug_assert!(self.names.iter().any(|n| n == name), "{name} was not announced");
        let path = self.staging.path().join(name);
        self.fingerprints.insert(name.to_owned(), None);
        let file =
            File::create(&path).map_err(disk(&path, "could not be written", "check the free space"))?;
        Ok(BufWriter::with_capacity(1 << 20, file))
    }

    /// Ends a large result.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn close(&self, name: &str, out: BufWriter<File>) -> Result<()> {
        let path = self.folder.join(name);
        let flushed = out.into_inner().map_err(io::IntoInnerError::into_error);
        flushed.map(drop).map_err(disk(&path, "could not be written", "check the free space"))
    }

    /// Starts a large result that a person might edit.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn create_digested(&mut self, name: &str) -> Result<Digested> {
        Ok(Digested { out: self.create(name)?, digest: Sha256::new() })
    }

    /// Ends a large result that a person might edit.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn close_digested(&mut self, name: &str, digested: Digested) -> Result<()> {
        self.fingerprints.insert(name.to_owned(), Some(hex(digested.digest)));
        self.close(name, digested.out)
    }

    /// Writes a small result.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn write(&mut self, name: &str, bytes: &[u8]) -> Result<()> {
        let mut out = self.create_digested(name)?;
        out.write_all(bytes).map_err(disk(
            &self.folder.join(name),
            "could not be written",
            "check the free space",
        ))?;
        self.close_digested(name, out)
    }

    /// The results so far, with the SHA-256 of those that a person might edit.
    pub fn fingerprints(&self) -> &BTreeMap<String, Option<String>> {
        &self.fingerprints
    }

    /// Moves all results to their place, the provenance last, and removes those of an earlier run that this one does not renew.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn publish(self) -> Result<()> {
        let mut names = self.names;
        names.sort_by_key(|n| n == PROVENANCE);
        for name in &self.stale {
            let path = self.folder.join(name);
            match fs::remove_file(&path) {
                Err(e) if e.kind() != io::ErrorKind::NotFound => {
                    return Err(disk(&path, "could not be removed", "remove it by hand")(e));
                }
                _ => {}
            }
        }
        for name in names {
            let path = self.folder.join(&name);
            fs::rename(self.staging.path().join(&name), &path).map_err(disk(
                &path,
                "could not be moved into place",
                "check that the folder can be written",
            ))?;
        }
        Ok(())
    }
}

/// Results of the large tables are not thrown away by a command that does not make them.
fn other_command(earlier: &BTreeMap<String, Option<String>>, names: &[String]) -> bool {
    let made = |name: &String| name.ends_with(".parquet") && !names.contains(name);
    earlier.keys().any(made)
}

/// What an earlier run wrote into the folder, by its provenance.
fn earlier_outputs(folder: &Path) -> BTreeMap<String, Option<String>> {
    let text = fs::read(folder.join(PROVENANCE)).unwrap_or_default();
    let value: serde_json::Value = serde_json::from_slice(&text).unwrap_or_default();
    let ours = value["program"] == "evenrooms";
    let outputs = value["outputs"].as_object().filter(|_| ours).into_iter().flatten();
    let plain = |name: &str| Path::new(name).components().count() == 1 && !name.starts_with('.');
    outputs
        .filter(|(name, _)| plain(name))
        .map(|(name, sha)| (name.clone(), sha.as_str().map(str::to_owned)))
        .collect()
}

fn refuse_foreign(folder: &Path, name: &str, earlier: &BTreeMap<String, Option<String>>) -> Result<()> {
    let path = folder.join(name);
    if !path.exists() {
        return Ok(());
    }
    match earlier.get(name) {
        None => {
            Err(Error::NotOurs { path, why: "a file of this name is there that evenrooms did not write" })
        }
        Some(None) => Ok(()),
        Some(Some(sha)) if *sha == sha256(&read(&path)?) => Ok(()),
        Some(Some(_)) => Err(Error::NotOurs { path, why: "it was changed since evenrooms wrote it" }),
    }
}
