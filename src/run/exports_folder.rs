//! Where the exports of a site lie.

use std::path::{Path, PathBuf};

use crate::error::{Error, Result};
use crate::files;
use crate::site::{Home, Site};

pub(super) fn exports_folder(site_path: &Path, site: &Site) -> PathBuf {
    files::named(site_path.parent().unwrap_or(Path::new("")), &site.exports)
}

pub(super) fn sources(home: &Home) -> impl Iterator<Item = &str> {
    home.rooms.iter().flat_map(|r| &r.placements).flat_map(|p| &p.sources).map(|s| s.file.own())
}

/// A wrong folder is told at once, not as a hundred missing files.
pub(super) fn some_export_exists(site: &Site, folder: &Path) -> Result<()> {
    let mut names = site.homes.iter().flat_map(sources).peekable();
    let first = names.peek().copied().map(str::to_owned);
    if names.any(|name| files::has_export(folder, name)) {
        return Ok(());
    }
    let what = match first {
        Some(name) => format!("none of the roster's exports is there, expected \"{name}\" and others"),
        None => "the roster names no export, expected a `file` for each logger".to_owned(),
    };
    Err(Error::NothingToRead {
        place: folder.display().to_string(),
        what,
        hint: "check `exports` in the site file: file names in the roster start from that folder".to_owned(),
    })
}
