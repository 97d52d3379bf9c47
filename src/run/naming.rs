//! What homes, rooms, loggers and files are called in results: as a person wrote them, or by pseudonyms.

use std::path::Path;

use crate::error::{Error, Result};
use crate::files::{self, Input};
use crate::site::{LEAST_KEY, Pseudonyms, Site};
use crate::texts::shown;

/// What the inputs of a person are called under pseudonyms.
const OWN_INPUTS: [&str; 2] = ["site file", "roster"];

/// How results call what a site names.
#[derive(Debug)]
pub(super) enum Naming {
    /// As site file, roster and disk have it.
    AsWritten,
    /// By pseudonyms, and without any text out of an input.
    Keyed(Pseudonyms),
}

impl Naming {
    /// Pseudonyms under the key of a file, where one is named.
    pub(super) fn open(key: Option<&Path>, out: &Path) -> Result<Self> {
        if let Some(path) = key.filter(|path| files::is_inside(path, out)) {
            return Err(Error::Unfit {
                place: path.display().to_string(),
                what: "found the key in the folder of the results, expected it elsewhere".to_owned(),
                hint: "keep it where results do not go: who has it can tell which home is which".to_owned(),
            });
        }
        Self::keyed(key)
    }

    /// The same of a command that writes no folder.
    pub(super) fn keyed(key: Option<&Path>) -> Result<Self> {
        let Some(path) = key else { return Ok(Self::AsWritten) };
        let unfit = |what: String, hint: &str| {
            Err(Error::Unfit { place: path.display().to_string(), what, hint: hint.to_owned() })
        };
        match Pseudonyms::new(&files::read_file(path)?) {
            Some(pseudonyms) => Ok(Self::Keyed(pseudonyms)),
            None => unfit(
                format!(
                    "found a key of less than {LEAST_KEY} bytes, which can be guessed, expected {LEAST_KEY} random ones or more"
                ),
                "`head -c 32 /dev/urandom | base64 > evenrooms.key` makes one; keep it, for the same key gives the same pseudonyms",
            ),
        }
    }

    /// The site as results name it.
    pub(super) fn site(&self, site: Site) -> Result<Site> {
        let Self::Keyed(pseudonyms) = self else { return Ok(site) };
        pseudonyms.site(&site).map_err(|clash| Error::Unfit {
            place: "--pseudonyms".to_owned(),
            what: format!("two names of the site become {} under this key, expected one each", clash.0),
            hint: "make another key".to_owned(),
        })
    }

    /// A home.
    pub(super) fn home(&self, name: &str) -> String {
        match self {
            Self::AsWritten => name.to_owned(),
            Self::Keyed(pseudonyms) => pseudonyms.home(name),
        }
    }

    /// A file of the exports folder.
    pub(super) fn file(&self, name: &str) -> String {
        match self {
            Self::AsWritten => shown(name).into_owned(),
            Self::Keyed(pseudonyms) => pseudonyms.file(name),
        }
    }

    /// A place on the disk, for notes and for the terminal; `words` say which under pseudonyms.
    pub(super) fn place(&self, path: &Path, words: &str) -> String {
        match self {
            Self::AsWritten => shown(&path.display().to_string()).into_owned(),
            Self::Keyed(_) => words.to_owned(),
        }
    }

    /// Site file and roster.
    pub(super) fn own_inputs(&self, inputs: Vec<Input>) -> Vec<Input> {
        match self {
            Self::AsWritten => inputs,
            Self::Keyed(pseudonyms) => {
                let names = OWN_INPUTS.into_iter().map(str::to_owned);
                inputs.into_iter().zip(names).map(|(input, name)| known_by(pseudonyms, input, name)).collect()
            }
        }
    }

    /// A table of an earlier audit; `words` say which under pseudonyms.
    pub(super) fn table_input(&self, input: Input, words: &str) -> Input {
        match self {
            Self::AsWritten => input,
            Self::Keyed(pseudonyms) => known_by(pseudonyms, input, words.to_owned()),
        }
    }

    /// Exports.
    pub(super) fn inputs(&self, inputs: Vec<Input>) -> Vec<Input> {
        let Self::Keyed(pseudonyms) = self else { return inputs };
        let named = |input: Input| {
            let name = pseudonyms.file(&input.name);
            known_by(pseudonyms, input, name)
        };
        inputs.into_iter().map(named).collect()
    }
}

/// An input under another name; its fingerprint is keyed, and its size left out.
fn known_by(pseudonyms: &Pseudonyms, input: Input, name: String) -> Input {
    Input { name, bytes: 0, sha256: pseudonyms.fingerprint(&input.sha256) }
}
