//! `provenance.json`: what an earlier run wrote into a folder, and how that is known.
//!
//! Settled here, and why:
//! - **A table without its provenance** is refused, not taken with a note: nobody could tell a damaged one.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde_json::{Map, Value, json};

use super::{Input, disk, read, sha256};
use crate::error::{Error, Result};

/// Name of the file that says which results evenrooms wrote.
pub const PROVENANCE: &str = "provenance.json";

/// What stands for the seal while it is computed.
const OPEN_SEAL: [u8; 64] = [b'0'; 64];
/// The seal is the last member.
const BEFORE_SEAL: &[u8] = b"\"seal\": \"";

/// The bytes of a provenance, with the command, its results and their SHA-256, and a seal: the SHA-256 of the file with
/// 64 zeros in its place. It finds edits and damage.
pub(super) fn sealed(
    about: Map<String, Value>,
    command: &str,
    outputs: &BTreeMap<String, String>,
) -> Vec<u8> {
    let mut whole = Map::new();
    whole.insert("program".to_owned(), json!("evenrooms"));
    whole.insert("version".to_owned(), json!(env!("CARGO_PKG_VERSION")));
    whole.insert("command".to_owned(), json!(command));
    whole.extend(about);
    whole.insert("outputs".to_owned(), json!(outputs));
    whole.insert("seal".to_owned(), json!(String::from_utf8_lossy(&OPEN_SEAL)));
    let mut bytes = serde_json::to_vec_pretty(&whole).expect("a JSON value can always be written");
    bytes.push(b'\n');
    if let Some(at) = place_of_seal(&bytes) {
        let seal = sha256(&bytes);
        bytes[at..at + seal.len()].copy_from_slice(seal.as_bytes());
    }
    bytes
}

fn place_of_seal(bytes: &[u8]) -> Option<usize> {
    let at = memchr::memmem::rfind(bytes, BEFORE_SEAL)? + BEFORE_SEAL.len();
    bytes.get(at..at + OPEN_SEAL.len()).map(|_| at)
}

/// Results of an earlier run.
#[derive(Debug, Default)]
pub(super) struct Earlier {
    /// The command that made them; none where there are none.
    pub(super) command: Option<String>,
    /// SHA-256 by name, the provenance's own too.
    pub(super) outputs: BTreeMap<String, String>,
}

/// Why a provenance is not taken for one of ours.
pub(super) enum Strange {
    AnotherProgram,
    Changed,
}

impl Earlier {
    /// What the provenance of a folder tells.
    ///
    /// # Errors
    /// [`Error::NotOurs`] where it is not ours, or somebody edited it; [`Error::Disk`].
    pub(super) fn of(folder: &Path) -> Result<Self> {
        let path = folder.join(PROVENANCE);
        match fs::symlink_metadata(&path) {
            Err(_) => return Ok(Self::default()),
            Ok(about) if !about.is_file() => {
                return Err(Error::NotOurs { path, why: "it is a link or a folder, expected a file" });
            }
            Ok(_) => {}
        }
        let bytes = read(&path)?;
        match told(&bytes) {
            Ok((command, mut outputs)) => {
                outputs.insert(PROVENANCE.to_owned(), sha256(&bytes));
                Ok(Self { command: Some(command), outputs })
            }
            Err(Strange::AnotherProgram) => {
                Err(Error::NotOurs { path, why: "it was not written by evenrooms" })
            }
            Err(Strange::Changed) => Err(Error::NotOurs {
                path,
                why: "its seal does not hold, so it was changed since evenrooms wrote it, or an older version wrote it",
            }),
        }
    }
}

/// Command and results of a provenance.
fn told(bytes: &[u8]) -> std::result::Result<(String, BTreeMap<String, String>), Strange> {
    told_whole(bytes).map(|(_, command, outputs)| (command, outputs))
}

/// A provenance with its command and results.
pub(super) type Told = (Value, String, BTreeMap<String, String>);

/// All that a provenance tells.
pub(super) fn told_whole(bytes: &[u8]) -> std::result::Result<Told, Strange> {
    let value: Value = serde_json::from_slice(bytes).map_err(|_| Strange::AnotherProgram)?;
    if value["program"] != "evenrooms" {
        return Err(Strange::AnotherProgram);
    }
    let at = place_of_seal(bytes).ok_or(Strange::Changed)?;
    let mut open = bytes.to_vec();
    open[at..at + OPEN_SEAL.len()].copy_from_slice(&OPEN_SEAL);
    let holds = value["seal"].as_str().is_some_and(|seal| seal == sha256(&open));
    let command = value["command"].as_str().filter(|_| holds).ok_or(Strange::Changed)?;
    let outputs = value["outputs"].as_object().ok_or(Strange::Changed)?;
    let outputs = outputs.iter().filter_map(|(name, sha)| Some((name.clone(), sha.as_str()?.to_owned())));
    let (command, outputs) = (command.to_owned(), outputs.collect());
    Ok((value, command, outputs))
}

/// Results that a provenance vouches for: read once, so that all of them are of the same audit.
#[derive(Debug)]
pub struct Vouched(BTreeMap<String, String>);

impl Vouched {
    /// What the provenance beside a result vouches for.
    ///
    /// # Errors
    /// [`Error::Unfit`] where there is none, or where it was changed; [`Error::Disk`].
    pub fn beside(path: &Path) -> Result<Self> {
        let folder = path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let beside = folder.join(PROVENANCE);
        if !beside.exists() {
            let what = format!(
                "there is no {PROVENANCE} beside it, expected the one of the audit that made the table, which has its SHA-256"
            );
            let hint = "name the folder of the audit, or put its provenance.json beside the table";
            return Err(unfit(path, what, hint));
        }
        let bytes =
            fs::read(&beside).map_err(disk(&beside, "could not be read", "check that you may read it"))?;
        let Ok((_, outputs)) = told(&bytes) else {
            let what = format!(
                "the {PROVENANCE} beside it does not bear its own seal, expected it as evenrooms wrote it"
            );
            return Err(unfit(path, what, "run the audit again, or take table and provenance from a copy"));
        };
        Ok(Self(outputs))
    }

    /// Holds a result against the SHA-256 that is told of it.
    ///
    /// # Errors
    /// [`Error::Unfit`] where it differs, or where the provenance tells none.
    pub fn for_table(&self, path: &Path, found: &Input) -> Result<()> {
        let name = &found.name;
        let Some(expected) = self.0.get(name) else {
            let what = format!(
                "the {PROVENANCE} beside it does not list a result {name}, expected that of the audit that made the table"
            );
            let hint = "put the provenance.json of the same audit beside the table, and keep its name";
            return Err(unfit(path, what, hint));
        };
        let found = &found.sha256;
        if found == expected {
            return Ok(());
        }
        let what = format!(
            "found SHA-256 {found}, expected {expected} as {PROVENANCE} says: the table was changed or damaged since it was written"
        );
        Err(unfit(path, what, "run the audit again, or take the table from a copy"))
    }
}

fn unfit(path: &Path, what: String, hint: &str) -> Error {
    Error::Unfit { place: path.display().to_string(), what, hint: hint.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_changed_byte_of_a_provenance_is_noticed() {
        let outputs = BTreeMap::from([("report.html".to_owned(), sha256(b"report"))]);
        let about = Map::from_iter([("notes".to_owned(), json!(["a note with \"seal\": \"0\" in it"]))]);
        let bytes = sealed(about, "audit", &outputs);
        let (command, told_of) = told(&bytes).ok().unwrap();
        assert_eq!((command.as_str(), told_of), ("audit", outputs));
        for at in 0..bytes.len() {
            let mut changed = bytes.clone();
            changed[at] ^= 1;
            assert!(told(&changed).is_err(), "byte {at}");
        }
    }
}
