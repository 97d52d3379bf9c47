//! The results of an earlier run as a whole: what their provenance tells, and each file held against it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::seal::{Earlier, PROVENANCE, Strange, told_whole};
use super::{Held, Input, is_file, is_folder, read, settle, sha256};
use crate::error::{Error, Result};

/// A folder of results with the provenance that vouches for them.
#[derive(Debug)]
pub struct ResultSet {
    folder: PathBuf,
    about: Value,
    command: String,
    outputs: BTreeMap<String, String>,
    sha256: String,
}

/// What to do where a folder is none of ours.
const NAME_RESULTS: &str = "name the folder that `evenrooms audit --out` wrote";

impl ResultSet {
    /// Opens a folder; what a run that died left in it is put right first.
    ///
    /// # Errors
    /// [`Error::Unfit`] where it is no folder of results, or its provenance was changed; [`Error::Busy`] where a run writes into
    /// it; [`Error::Disk`].
    pub fn open(folder: &Path) -> Result<Self> {
        let unfit = |what: &str, hint: &str| Error::Unfit {
            place: folder.display().to_string(),
            what: what.to_owned(),
            hint: hint.to_owned(),
        };
        if !is_folder(folder) {
            return Err(unfit("found no folder, expected the results of an audit", NAME_RESULTS));
        }
        settle(folder)?;
        let path = folder.join(PROVENANCE);
        if !is_file(&path) {
            return Err(unfit(
                "found no provenance.json in it, expected the results of an audit",
                NAME_RESULTS,
            ));
        }
        let bytes = read(&path)?;
        match told_whole(&bytes) {
            Ok((about, command, outputs)) => {
                Ok(Self { folder: folder.to_owned(), about, command, outputs, sha256: sha256(&bytes) })
            }
            Err(Strange::AnotherProgram) => Err(unfit(
                "its provenance.json is none that evenrooms wrote, or is damaged; expected that of an audit",
                NAME_RESULTS,
            )),
            Err(Strange::Changed) => Err(unfit(
                "its provenance.json does not bear its own seal, expected it as evenrooms wrote it",
                "run the audit again, or take the results from a copy",
            )),
        }
    }

    /// The folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The command that wrote it.
    pub fn command(&self) -> &str {
        &self.command
    }

    /// All that the provenance tells.
    pub const fn about(&self) -> &Value {
        &self.about
    }

    /// SHA-256 of the provenance, which holds those of all results: the same for the same results.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }

    /// Whether the run wrote a result of this name.
    pub fn has(&self, name: &str) -> bool {
        self.outputs.contains_key(name)
    }

    /// A result, held open, with its fingerprint, which is the one that the provenance tells.
    ///
    /// # Errors
    /// [`Error::Unfit`] where it was changed or damaged; [`Error::Disk`] where it is not there.
    pub fn held(&self, name: &str) -> Result<(Held, Input)> {
        let path = self.folder.join(name);
        let held = Held::open(&path)?;
        let found = held.fingerprint()?;
        match self.outputs.get(name) {
            Some(told) if *told == found.sha256 => Ok((held, found)),
            told => Err(Error::Unfit {
                place: path.display().to_string(),
                what: format!(
                    "found SHA-256 {}, expected {} as {PROVENANCE} says: the table was changed or damaged since it was written",
                    found.sha256,
                    told.map_or("none", String::as_str)
                ),
                hint: "run the audit again, or take the results from a copy".to_owned(),
            }),
        }
    }
}

/// Names of the results that an earlier run of a command left in a folder; none where there are none, or those of another.
///
/// # Errors
/// [`Error::NotOurs`] where its provenance is not ours, or somebody edited it; [`Error::Disk`].
pub fn results_of(folder: &Path, command: &str) -> Result<Vec<String>> {
    let Earlier { command: found, outputs } = Earlier::of(folder)?;
    let same = found.is_some_and(|found| found == command);
    Ok(if same { outputs.into_keys().collect() } else { Vec::new() })
}
