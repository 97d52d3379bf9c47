//! What lies in a folder of exports, and what of it is passed over.

use std::fs::{self, DirEntry};
use std::path::Path;

use super::disk;
use crate::error::{Error, Result};

/// The files of a folder of exports.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Listing {
    /// Files that may be exports, by their names from the folder on, sorted.
    pub exports: Vec<String>,
    /// What was not looked at, and why; sorted. Names of folders end with `/`.
    pub passed_over: Vec<(String, &'static str)>,
}

/// Endings of files that are no exports.
const NO_EXPORTS: [&str; 14] = [
    ".pdf", ".png", ".jpg", ".jpeg", ".gif", ".svg", ".html", ".htm", ".doc", ".docx", ".toml", ".json",
    ".md", ".exe",
];
/// Hidden files that file managers and other programs leave everywhere, and our own.
const LITTER: [&str; 6] = [".ds_store", ".localized", ".directory", ".git", "._", ".evenrooms"];
/// Most files, and deepest folder, that are looked through.
const MOST_FILES: usize = 20_000;
const DEEPEST: usize = 8;
/// Deepest folder of which names are told.
const DEEPEST_TOLD: usize = 40;

const LINK: &str = "a link, which is not followed; put the file itself there, or name it in the roster";
const HIDDEN: &str = "hidden or temporary by its name; rename it if it is an export";
const DEEP: &str = "more than 8 folders deep; move it up, or name the folder that it is in";
const SPECIAL: &str = "neither a file nor a folder";
const UNREADABLE_NAME: &str = "its name is not UTF-8; rename it if it is an export";

/// Names of the files in a folder and the folders in it; links and hidden files are passed over.
///
/// # Errors
/// [`Error::Disk`]; [`Error::NothingToRead`] where there are more files than any building has exports.
pub fn list_exports(folder: &Path) -> Result<Listing> {
    let mut listing = Listing::default();
    let mut open = vec![(folder.to_owned(), String::new(), 0)];
    while let Some((path, prefix, depth)) = open.pop() {
        let hint = "check the path and that you may read it";
        for entry in fs::read_dir(&path).map_err(disk(&path, "could not be read", hint))? {
            let entry = entry.map_err(disk(&path, "could not be read", hint))?;
            let below = listing.add(&entry, &prefix, depth);
            open.extend(below.map(|prefix| (entry.path(), prefix, depth + 1)));
        }
        if listing.exports.len() + listing.passed_over.len() > MOST_FILES {
            return Err(Error::NothingToRead {
                place: folder.display().to_string(),
                what: format!("more than {MOST_FILES} files, expected a folder of exports"),
                hint: "name the folder that holds the exports only".to_owned(),
            });
        }
    }
    listing.exports.sort();
    listing.passed_over.sort();
    Ok(listing)
}

impl Listing {
    /// Adds what was found in a folder so deep; a folder that is looked through gives what its names begin with.
    fn add(&mut self, entry: &DirEntry, prefix: &str, depth: usize) -> Option<String> {
        let name = entry.file_name();
        let text = name.to_str();
        let shown = format!("{prefix}{}", name.to_string_lossy());
        let lower = shown[prefix.len()..].to_lowercase();
        let Ok(kind) = entry.file_type() else { return None };
        let in_folder = format!("{shown}/");
        let mut pass = |why| {
            self.passed_over.push((if kind.is_dir() { in_folder.clone() } else { shown.clone() }, why));
            None
        };
        if LITTER.iter().any(|litter| lower.starts_with(litter))
            || (!kind.is_dir() && NO_EXPORTS.iter().any(|ending| lower.ends_with(ending)))
        {
            return None;
        }
        if text.is_none() {
            pass(UNREADABLE_NAME)
        } else if lower.starts_with(['.', '~']) {
            pass(HIDDEN)
        } else if kind.is_symlink() {
            pass(LINK)
        } else if kind.is_dir() && depth < DEEPEST_TOLD {
            Some(in_folder)
        } else if kind.is_dir() || (kind.is_file() && depth > DEEPEST) {
            pass(DEEP)
        } else if kind.is_file() {
            self.exports.push(shown);
            None
        } else {
            pass(SPECIAL)
        }
    }
}
