//! Files of the exports folder that the roster does not name: they may be copies of those that it does.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::naming::Naming;
use super::sources;
use crate::error::Note;
use crate::exports;
use crate::files;
use crate::pipeline::Unnamed;
use crate::quality::copies::Sketch;
use crate::site::Site;

/// Most such files that are read; more of them are counted.
const MOST: usize = 200;
/// Names that are told.
const TOLD: usize = 5;

/// The series of such files, and a note that names the files.
///
/// `own`: what is no export, wherever it lies.
pub(super) fn unnamed(
    site: &Site,
    folder: &Path,
    own: &[PathBuf],
    naming: &Naming,
) -> (Vec<Unnamed>, Option<Note>) {
    let bare = |name: &str| name.split('#').next().unwrap_or(name).replace('\\', "/");
    let outdoor = site.outdoor.iter().map(|o| o.source.file.own());
    let named: BTreeSet<String> = site.homes.iter().flat_map(sources).chain(outdoor).map(bare).collect();
    // Where the folder cannot be listed, the audit says so of each file that it cannot read.
    let names: Vec<String> = files::list_exports(folder).unwrap_or_default();
    let own: Vec<&PathBuf> = own.iter().filter(|own| files::is_inside(own, folder)).collect();
    let is_own = |name: &String| own.iter().any(|own| files::is_inside(&folder.join(name), own));
    let rest: Vec<&String> = names.iter().filter(|name| !named.contains(*name) && !is_own(name)).collect();
    let mut series = Vec::new();
    for name in rest.iter().take(MOST) {
        let (mut read, _) = files::read_exports(folder, std::iter::once(name.as_str()));
        let Some(Ok(bytes)) = read.remove(*name) else { continue };
        for seen in exports::inspect(name, &bytes, None).texts.into_iter().flat_map(|text| text.series) {
            let mut readings = seen.readings;
            readings.sort_by_key(|(t, _)| *t);
            let (times, values): (Vec<i64>, Vec<f64>) = readings.into_iter().unzip();
            series.push((naming.file(name), Sketch::of(&times, &values)));
        }
    }
    (series, note(naming.place(folder, "exports folder"), naming, &rest))
}

fn note(place: String, naming: &Naming, rest: &[&String]) -> Option<Note> {
    let told: Vec<String> = rest.iter().take(TOLD).map(|name| naming.file(name)).collect();
    let more = rest.len().saturating_sub(TOLD);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    let looked = match rest.len() > MOST {
        true => format!("; the first {MOST} of them were looked at for copies"),
        false => String::new(),
    };
    (!rest.is_empty()).then(|| Note {
        place,
        line: None,
        what: format!(
            "the roster does not name {} of the files: {}{more}{looked}",
            rest.len(),
            told.join(", ")
        )
        .into(),
        hint: "give each a row in the roster, or move it out of the exports folder".to_owned(),
        unreadable: false,
    })
}
