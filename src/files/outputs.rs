//! Results of a command with the provenance that vouches for them.

use std::collections::BTreeMap;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;

use serde_json::{Map, Value};
use sha2::{Digest, Sha256};

use super::held::Held;
use super::journal::{Entry, plain};
use super::open::{Published, enter, leave, undisturbed};
use super::publication::publish;
use super::scratch::Scratch;
use super::seal::{Earlier, PROVENANCE, sealed};
use super::{disk, hex, sha256_of, steps, unwritten};
use crate::error::{AtPath, Error, Result};

/// Results that a command gives.
#[derive(Clone, Debug)]
pub struct Results {
    /// The command, as its provenance names it: only results of the same one are renewed.
    pub command: &'static str,
    /// Names of the results of this run.
    pub made: Vec<String>,
    /// Names of all results that the command may ever give; no other file is removed.
    pub known: Vec<String>,
}

/// The command whose tables take the exports of a building to be made again.
const AUDIT: &str = "audit";

/// Bytes of a result after which the disk is told to keep up, so that little is left to wait for in the end.
const SYNCED_TOGETHER: usize = 8 << 20;

/// Threads that wait for the disk. It takes as long for several files at a time as for one: of the sample's two dozen results
/// four threads wait a sixth of the time of one.
const WAITING: usize = 4;

/// Waits for the disk beside the work, on threads of its own.
#[derive(Clone, Debug)]
pub struct Syncing(Arc<Mutex<Receiver<File>>>);

impl Syncing {
    /// Syncs what comes, until nothing comes any more.
    ///
    /// # Errors
    /// The disk's first answer that something is not on it.
    pub fn run(self) -> io::Result<()> {
        let next = || self.0.lock().unwrap_or_else(PoisonError::into_inner).recv().ok();
        std::iter::from_fn(next).map(|file| steps::sync_beside(&file)).fold(Ok(()), io::Result::and)
    }
}

/// A result on its way to the disk, and its SHA-256.
pub struct Digested {
    path: PathBuf,
    out: BufWriter<File>,
    digest: Sha256,
    length: u64,
    unsynced: usize,
    to_sync: Sender<File>,
}

impl fmt::Debug for Digested {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digested({})", self.path.display())
    }
}

impl Write for Digested {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes).map_err(|e| AtPath::wrap(&self.path, e))?;
        self.digest.update(&bytes[..written]);
        self.length += written as u64;
        self.unsynced += written;
        if self.unsynced >= SYNCED_TOGETHER {
            self.unsynced = 0;
            self.flush()?;
            if let Ok(file) = self.out.get_ref().try_clone() {
                let _ = self.to_sync.send(file);
            }
        }
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush().map_err(|e| AtPath::wrap(&self.path, e))
    }
}

/// A result folder in the making.
#[derive(Debug)]
pub struct Outputs {
    folder: PathBuf,
    scratch: Scratch,
    command: &'static str,
    made: Vec<String>,
    /// SHA-256 of what stands there of an earlier run.
    earlier: BTreeMap<String, String>,
    fingerprints: BTreeMap<String, String>,
    /// Results of earlier runs that stay beside these, and are vouched for further.
    kept: BTreeMap<String, String>,
    lengths: BTreeMap<String, u64>,
    /// What is to be synced goes there; none when all is on its way.
    to_sync: Option<Sender<File>>,
    synced: Vec<JoinHandle<io::Result<()>>>,
    published: Published,
}

impl Outputs {
    /// Opens the folder for these results, before the long work begins; `start` starts a thread.
    ///
    /// # Errors
    /// [`Error::Busy`] where another run has it; [`Error::NotOurs`] where a file in the way is not evenrooms's own;
    /// [`Error::Disk`].
    pub fn begin(
        folder: &Path,
        results: Results,
        start: impl Fn(Syncing) -> io::Result<JoinHandle<io::Result<()>>>,
    ) -> Result<Self> {
        let (scratch, earlier) = enter(folder, || earlier(folder, &results))?;
        let (to_sync, files) = channel();
        let mut outputs = Self {
            folder: folder.to_owned(),
            scratch,
            command: results.command,
            made: results.made,
            earlier,
            fingerprints: BTreeMap::new(),
            kept: BTreeMap::new(),
            lengths: BTreeMap::new(),
            to_sync: Some(to_sync),
            synced: Vec::with_capacity(WAITING),
            published: Published::Nothing,
        };
        let syncing = Syncing(Arc::new(Mutex::new(files)));
        for _ in 0..WAITING {
            outputs.synced.push(start(syncing.clone()).map_err(unwritten(folder))?);
        }
        Ok(outputs)
    }

    /// Vouches further for the results of earlier runs that this one neither renews nor removes; one that somebody edited is
    /// theirs from now on.
    ///
    /// # Errors
    /// [`Error::NotOurs`], [`Error::Disk`].
    pub fn keep_earlier(&mut self) -> Result<()> {
        for (name, told) in Earlier::of(&self.folder)?.outputs {
            let renewed = name == PROVENANCE || self.made.contains(&name) || self.earlier.contains_key(&name);
            if !renewed && matches!(ours(&self.folder, &name, Some(&told)), Ok(Some(_))) {
                self.kept.insert(name, told);
            }
        }
        Ok(())
    }

    /// Starts a result; `/` in its name leads into folders.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn create(&mut self, name: &str) -> Result<Digested> {
        debug_assert!(self.made.iter().any(|n| n == name), "{name} was not announced");
        let (path, fresh) = (self.folder.join(name), self.scratch.fresh(name));
        let above = fresh.parent().filter(|_| name.contains('/')).map_or(Ok(()), steps::make_folders);
        above.map_err(unwritten(&path))?;
        let file = undisturbed(|| steps::create(&fresh)).map_err(unwritten(&path))?;
        let to_sync = self.to_sync.clone().expect("results are made before they are published");
        let out = BufWriter::with_capacity(1 << 20, file);
        Ok(Digested { path, out, digest: Sha256::new(), length: 0, unsynced: 0, to_sync })
    }

    /// Ends a result.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn close(&mut self, name: &str, digested: Digested) -> Result<()> {
        let file = steps::finish(digested.out).map_err(unwritten(&digested.path))?;
        let gone = || io::Error::other("the threads that wait for the disk are gone");
        digested.to_sync.send(file).map_err(|_| unwritten(&digested.path)(gone()))?;
        self.lengths.insert(name.to_owned(), digested.length);
        self.fingerprints.insert(name.to_owned(), hex(digested.digest));
        Ok(())
    }

    /// Writes a small result.
    ///
    /// # Errors
    /// [`Error::Disk`].
    pub fn write(&mut self, name: &str, bytes: &[u8]) -> Result<()> {
        let mut digested = self.create(name)?;
        digested.out.write_all(bytes).map_err(unwritten(&digested.path))?;
        digested.digest.update(bytes);
        digested.length += bytes.len() as u64;
        self.close(name, digested)
    }

    /// Writes a result that is a file of another folder, byte by byte; the answer is its SHA-256.
    ///
    /// # Errors
    /// [`Error::Disk`], also where the file cannot be read.
    pub fn copy(&mut self, name: &str, from: &Held) -> Result<String> {
        let mut digested = self.create(name)?;
        from.copy_to(&mut digested)?;
        self.close(name, digested)?;
        Ok(self.fingerprints.get(name).cloned().unwrap_or_default())
    }

    /// Bytes and SHA-256 of a result that was ended.
    pub fn ended(&self, name: &str) -> Option<(u64, &str)> {
        self.lengths.get(name).copied().zip(self.fingerprints.get(name).map(String::as_str))
    }

    /// Moves all results to their place, with their provenance, and removes those of an earlier run that this one does not
    /// renew; all of that, or nothing.
    ///
    /// # Errors
    /// [`Error::NotOurs`] where a file was changed or put in the way meanwhile; [`Error::Disk`];
    /// [`Error::Unsettled`] where the next run has to put the earlier results back.
    pub fn publish(mut self, about: Map<String, Value>) -> Result<()> {
        let mut all = self.kept.clone();
        all.extend(self.fingerprints.clone());
        let provenance = sealed(about, self.command, &all);
        self.write(PROVENANCE, &provenance)?;
        self.wait_for_the_disk().map_err(unwritten(&self.folder))?;
        let entries = self.entries();
        // From here on the next run knows what to do, also where this one gives up in the middle: nothing is cleared.
        self.published = Published::Settled;
        let done = undisturbed(|| publish(&self.scratch, &entries));
        if !matches!(done, Ok(()) | Err(Error::Unsettled { .. })) {
            self.published = Published::Nothing;
        }
        done
    }

    /// Waits until all bytes of all results are on the disk.
    fn wait_for_the_disk(&mut self) -> io::Result<()> {
        self.to_sync = None;
        let gave_up = |_| Err(io::Error::other("a thread that waits for the disk gave up"));
        let synced = self.synced.drain(..).map(|thread| thread.join().unwrap_or_else(gave_up));
        synced.fold(Ok(()), io::Result::and)
    }

    /// What moves, the provenance last.
    fn entries(&self) -> Vec<Entry> {
        let old = |name: &String| self.earlier.get(name).cloned();
        let stale = self.earlier.keys().filter(|name| !self.fingerprints.contains_key(*name));
        let stale = stale.map(|name| Entry { path: name.clone(), new: None, old: old(name) });
        let new = self.fingerprints.iter();
        let new = new.map(|(name, sha)| Entry { path: name.clone(), new: Some(sha.clone()), old: old(name) });
        let mut entries: Vec<Entry> = stale.chain(new).collect();
        entries.sort_by_key(|entry| entry.path == PROVENANCE);
        entries
    }
}

impl Drop for Outputs {
    fn drop(&mut self) {
        leave(&self.scratch, self.published);
    }
}

/// What stands in the folder of an earlier run of the same command, after a look that nothing else is in the way.
fn earlier(folder: &Path, results: &Results) -> Result<BTreeMap<String, String>> {
    let Earlier { command, outputs } = Earlier::of(folder)?;
    if command.is_some_and(|command| command != results.command) {
        let why = "it holds results of another command, which this one would remove";
        return Err(Error::NotOurs { path: folder.to_owned(), why });
    }
    let mut there = BTreeMap::new();
    for name in results.made.iter().chain(results.known.iter().filter(|n| outputs.contains_key(*n))) {
        if let Some(sha) = ours(folder, name, outputs.get(name))? {
            there.insert(name.clone(), sha);
        }
    }
    // Tables that need the exports are not thrown away by a run that has none.
    if results.command == AUDIT
        && there.keys().any(|name| name.ends_with(".parquet") && !results.made.contains(name))
    {
        let why = "it holds results of an audit of exports, which this one would remove";
        return Err(Error::NotOurs { path: folder.to_owned(), why });
    }
    Ok(there)
}

/// The SHA-256 of a result that is there.
fn ours(folder: &Path, name: &str, told: Option<&String>) -> Result<Option<String>> {
    debug_assert!(plain(name), "{name} is no name of a result");
    let path = folder.join(name);
    match fs::symlink_metadata(&path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(disk(&path, "could not be read", "check that you may read it")(e)),
        Ok(_) => {}
    }
    let Some(told) = told else {
        return Err(Error::NotOurs {
            path,
            why: "a file of this name is there that evenrooms did not write",
        });
    };
    let found = sha256_of(&path).map_err(disk(&path, "could not be read", "check that you may read it"))?;
    match found {
        Some((sha, _)) if sha == *told => Ok(Some(sha)),
        _ => Err(Error::NotOurs { path, why: "it was changed since evenrooms wrote it" }),
    }
}
