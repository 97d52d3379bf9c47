//! What can go wrong: an [`Error`] stops the run, a [`Note`] travels with the data.

use std::fmt;
use std::path::{Path, PathBuf};

use crate::texts::{Words, shown};

/// A mistake in one of the two files a person writes (`site.toml`, the roster), with its place and remedy.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// The file as it was named.
    pub file: String,
    /// Line, from 1; `None` when the mistake is about the file as a whole.
    pub line: Option<u32>,
    /// What was found.
    pub found: String,
    /// What was expected instead.
    pub expected: String,
    /// The next step.
    pub hint: String,
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: ", shown(&self.file))?,
            None => write!(f, "{}: ", shown(&self.file))?,
        }
        write!(f, "found {}, expected {}\n  hint: {}", self.found, self.expected, self.hint)
    }
}

/// Something about the data that a reader of the results must know; the run goes on.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Note {
    /// The file, or the home and room, that it is about.
    pub place: String,
    /// Line, from 1, where there is one.
    pub line: Option<u32>,
    /// What was found and what was done about it.
    pub what: Words,
    /// The next step, for a person who wants it otherwise.
    pub hint: String,
    /// Whether some input could not be read because of it.
    pub unreadable: bool,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "{}:{line}: ", self.place)?,
            None => write!(f, "{}: ", self.place)?,
        }
        write!(f, "{}\n  hint: {}", self.what.told(), self.hint)
    }
}

/// Why a file cannot be understood, with the next step; where the file is known it becomes a [`Note`] or a [`Mistake`].
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Line, from 1, where there is one.
    pub line: Option<u32>,
    /// What was found, and what was expected.
    pub what: Words,
    /// The next step.
    pub hint: String,
}

impl Trouble {
    /// A trouble with the file as a whole.
    pub fn new(what: impl Into<Words>, hint: impl Into<String>) -> Self {
        Self { line: None, what: what.into(), hint: hint.into() }
    }

    /// A trouble at a line.
    pub fn at(line: u32, what: impl Into<Words>, hint: impl Into<String>) -> Self {
        Self { line: Some(line), what: what.into(), hint: hint.into() }
    }
}

/// What stops a run.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The site file and the roster have mistakes; all of them are listed.
    #[error("{}", list(.0))]
    Mistakes(Vec<Mistake>),
    /// The disk said no.
    #[error("{}: {action}: {source}\n  hint: {hint}", there(path))]
    Disk {
        /// The file or folder.
        path: PathBuf,
        /// What was tried, "could not be read".
        action: &'static str,
        /// What the operating system answered.
        source: std::io::Error,
        /// The next step.
        hint: &'static str,
    },
    /// A file that evenrooms did not write stands where a result would go.
    #[error(
        "{}: {why}, so it is left alone\n  hint: choose an empty folder with --out, or move the file away",
        there(path)
    )]
    NotOurs {
        /// The file in the way.
        path: PathBuf,
        /// How that is known.
        why: &'static str,
    },
    /// Another run writes into the result folder.
    #[error(
        "{}: another run of evenrooms writes its results into this folder, so this one stops\n  hint: wait until it has ended, or choose another folder with --out", folder.display()
    )]
    Busy {
        /// The result folder.
        folder: PathBuf,
    },
    /// A publication failed halfway, and so did undoing it.
    #[error(
        "{cause}\n  also: what was moved so far could not be moved back\n  hint: when that is mended, the next run into {} puts it in order before anything else", folder.display()
    )]
    Unsettled {
        /// The result folder.
        folder: PathBuf,
        /// Why the publication failed.
        cause: Box<Error>,
    },
    /// Not one of the exports could be read.
    #[error("{}: {what}\n  hint: {hint}", shown(place))]
    NothingToRead {
        /// The file or folder.
        place: String,
        /// What was found, what was expected.
        what: String,
        /// The next step.
        hint: String,
    },
    /// An earlier result that does not fit the site.
    #[error("{}: {what}\n  hint: {hint}", shown(place))]
    Unfit {
        /// The file.
        place: String,
        /// What was found, what was expected.
        what: String,
        /// The next step.
        hint: String,
    },
    /// The rows of a file do not add up: a bug of ours.
    #[error(
        "{file}: {seen} data rows were seen but {accounted} are accounted for; this is a bug in evenrooms, and the run stops\n  hint: please report it with the file; no result was written"
    )]
    Imbalance {
        /// The export.
        file: String,
        /// Data rows seen.
        seen: u64,
        /// Rows kept plus rows set aside.
        accounted: u64,
    },
    /// A table could not be encoded.
    #[error(
        "{table}: the table could not be encoded: {source}\n  hint: this is a bug in evenrooms; please report it"
    )]
    Encode {
        /// The table.
        table: &'static str,
        /// What the encoder answered.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// The system gives no threads.
    #[error(
        "--threads: {} could not be started: {source}\n  hint: choose fewer threads with --threads, or allow this program more memory and processes",
        .threads.map_or("one thread per core".to_owned(), |n| format!("{n} threads"))
    )]
    NoThreads {
        /// How many were asked for.
        threads: Option<usize>,
        /// What the system answered.
        source: Box<dyn std::error::Error + Send + Sync>,
    },
    /// Whoever asked for the work wanted it no longer.
    #[error("stopped before all homes were read\n  hint: ask again for the whole of it; nothing was written")]
    Stopped,
    /// A panic: a bug of ours.
    #[error(
        "evenrooms stopped where it should go on; this is a bug in evenrooms\n  hint: please report it with what stands above; earlier results are as they were"
    )]
    Panicked,
    /// A name that `explain` does not know.
    #[error("{name}: no metric, flag, rule or column has this name\n  hint: {hint}")]
    UnknownName {
        /// The name asked for.
        name: String,
        /// Names that are near, or how to list them.
        hint: String,
    },
}

fn there(path: &Path) -> String {
    shown(&path.display().to_string()).into_owned()
}

impl Error {
    /// What an encoder answered: where the disk is behind it, the disk's answer, else a bug.
    pub fn encode(table: &'static str, source: impl std::error::Error + Send + Sync + 'static) -> Self {
        match behind(&source) {
            Some((path, source)) => Self::Disk {
                path,
                action: "could not be written",
                source,
                hint: "check that the folder can be written, and the free space",
            },
            None => Self::Encode { table, source: Box::new(source) },
        }
    }
}

/// The disk's answer in a chain of errors, and the file that it is about.
fn behind(error: &(dyn std::error::Error + 'static)) -> Option<(PathBuf, std::io::Error)> {
    if let Some(AtPath { path, source }) = error.downcast_ref() {
        let same = source.raw_os_error().map(std::io::Error::from_raw_os_error);
        return Some((path.clone(), same.unwrap_or_else(|| source.kind().into())));
    }
    // What an answer of the disk wraps is not its source.
    match error.downcast_ref::<std::io::Error>().and_then(std::io::Error::get_ref) {
        Some(wrapped) => behind(wrapped),
        None => error.source().and_then(behind),
    }
}

/// The disk's answer, with the file that it is about; goes through encoders of other people.
#[derive(Debug, thiserror::Error)]
#[error("{}: {source}", path.display())]
pub struct AtPath {
    path: PathBuf,
    source: std::io::Error,
}

impl AtPath {
    /// The answer with the file.
    pub fn wrap(path: &std::path::Path, source: std::io::Error) -> std::io::Error {
        std::io::Error::new(source.kind(), Self { path: path.to_owned(), source })
    }
}

fn list(mistakes: &[Mistake]) -> String {
    let lines: Vec<String> = mistakes.iter().map(Mistake::to_string).collect();
    lines.join("\n")
}

/// The result of anything that can stop a run.
pub type Result<T> = std::result::Result<T, Error>;
