//! Where the exports of a site are had: in a folder, or in memory.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use bytes::Bytes;

use super::naming::Naming;
use crate::error::{Error, Result};
use crate::exports::Files;
use crate::files::{self, Input, Listing};
use crate::site::{Home, Site};
use crate::unpack::file_and_part;

/// Where exports are had.
#[derive(Clone, Debug)]
pub(super) enum ExportsAt {
    /// In a folder of the disk.
    Folder(PathBuf),
    /// In memory, by the names of their files.
    Memory(BTreeMap<String, Bytes>),
}

/// What messages call exports in memory.
const IN_MEMORY: &str = "exports in memory";

pub(super) fn exports_folder(site_path: &Path, site: &Site) -> PathBuf {
    files::named(site_path.parent().unwrap_or(Path::new("")), &site.exports)
}

pub(super) fn sources(home: &Home) -> impl Iterator<Item = &str> {
    home.rooms.iter().flat_map(|r| &r.placements).flat_map(|p| &p.sources).map(|s| s.file.own())
}

impl ExportsAt {
    /// The folder that a site file names.
    pub(super) fn of_site(site_path: &Path, site: &Site) -> Self {
        Self::Folder(exports_folder(site_path, site))
    }

    /// Reads exports by their names, and puts down what was read.
    pub(super) fn reader<'a>(&'a self, inputs: &'a mut Vec<Input>) -> impl FnMut(&[&str]) -> Files + 'a {
        |names| {
            let (files, read) = self.read(names);
            inputs.extend(read);
            files
        }
    }

    /// Exports by their names, each as it was read; one that cannot be had says why.
    pub(super) fn read(&self, names: &[&str]) -> (Files, Vec<Input>) {
        match self {
            Self::Folder(folder) => files::read_exports(folder, names.iter().copied()),
            Self::Memory(held) => {
                let names = names.iter().map(|name| file_and_part(name).0);
                let one = |name: &str| match held.get(name) {
                    Some(bytes) => Ok(bytes.to_vec()),
                    None => Err(format!("there is no such file in the {IN_MEMORY}")),
                };
                let files: Files = names.map(|name| (name.to_owned(), one(name))).collect();
                let read = files.iter().filter_map(|(name, bytes)| Some((name, bytes.as_ref().ok()?)));
                let inputs = read.map(|(name, bytes)| Input::new(name, bytes)).collect();
                (files, inputs)
            }
        }
    }

    /// What is there; where a folder cannot be listed, the audit says so of each file that it cannot read.
    pub(super) fn list(&self) -> Listing {
        match self {
            Self::Folder(folder) => files::list_exports(folder).unwrap_or_default(),
            Self::Memory(held) => {
                Listing { exports: held.keys().cloned().collect(), passed_over: Vec::new() }
            }
        }
    }

    /// Those of some files that lie in the folder, or beneath a folder in it.
    pub(super) fn inside<'p>(&self, own: &'p [PathBuf]) -> Vec<&'p PathBuf> {
        match self {
            Self::Folder(folder) => own.iter().filter(|own| files::is_inside(own, folder)).collect(),
            Self::Memory(_) => Vec::new(),
        }
    }

    /// Whether an export is one of some files, or lies in one of some folders.
    pub(super) fn is_in(&self, name: &str, own: &[&PathBuf]) -> bool {
        match self {
            Self::Folder(folder) => own.iter().any(|own| files::is_inside(&folder.join(name), own)),
            Self::Memory(_) => false,
        }
    }

    /// What results call the place.
    pub(super) fn place(&self, naming: &Naming) -> String {
        match self {
            Self::Folder(folder) => naming.place(folder, "exports folder"),
            Self::Memory(_) => IN_MEMORY.to_owned(),
        }
    }

    /// A wrong folder is told at once, not as a hundred missing files.
    pub(super) fn some_exists(&self, site: &Site) -> Result<()> {
        let mut names = site.homes.iter().flat_map(sources).peekable();
        let first = names.peek().copied().map(str::to_owned);
        if names.any(|name| self.has(name)) {
            return Ok(());
        }
        let what = match first {
            Some(name) => format!("none of the roster's exports is there, expected \"{name}\" and others"),
            None => "the roster names no export, expected a `file` for each logger".to_owned(),
        };
        let (place, hint) = match self {
            Self::Folder(folder) => (
                folder.display().to_string(),
                "check `exports` in the site file: file names in the roster start from that folder",
            ),
            Self::Memory(_) => {
                (IN_MEMORY.to_owned(), "check their names: they are the file names in the roster")
            }
        };
        Err(Error::NothingToRead { place, what, hint: hint.to_owned() })
    }

    fn has(&self, name: &str) -> bool {
        match self {
            Self::Folder(folder) => files::has_export(folder, name),
            Self::Memory(held) => held.contains_key(file_and_part(name).0),
        }
    }
}
