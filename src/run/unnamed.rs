//! Files of the exports folder that the roster does not name: they may be copies of those that it does.

use std::collections::BTreeSet;
use std::path::PathBuf;

use super::exports_folder::{ExportsAt, sources};
use super::naming::Naming;
use crate::clock::LocalTime;
use crate::error::Note;
use crate::exports::{Inspection, SeriesSeen, inspect};
use crate::files::Listing;
use crate::pipeline::Unnamed;
use crate::quality::copies::Sketch;
use crate::site::{ClockSetting, Site};
use crate::units::TemperatureUnit;

/// Most such files that are read; more of them are counted.
const MOST: usize = 200;
/// Names that are told.
const TOLD: usize = 5;

/// Such files.
pub(super) struct UnnamedFiles {
    /// Their series.
    pub(super) series: Vec<Unnamed>,
    kinds: Kinds,
    /// Names that results may have of those that may be exports.
    rest: Vec<String>,
    /// What was not looked at, and why.
    passed_over: Vec<(String, &'static str)>,
    place: String,
}

/// What stands in such files; `own`: what is no export, wherever it lies.
pub(super) fn unnamed(site: &Site, exports: &ExportsAt, own: &[PathBuf], naming: &Naming) -> UnnamedFiles {
    let bare = |name: &str| name.split('#').next().unwrap_or(name).replace('\\', "/");
    let outdoor = site.outdoor.iter().map(|o| o.source.file.own());
    let named: BTreeSet<String> = site.homes.iter().flat_map(sources).chain(outdoor).map(bare).collect();
    let Listing { exports: names, passed_over } = exports.list();
    let own = exports.inside(own);
    let is_own = |name: &String| exports.is_in(name, &own);
    let rest: Vec<&String> = names.iter().filter(|name| !named.contains(*name) && !is_own(name)).collect();
    let mut series = Vec::new();
    let mut kinds = Kinds::default();
    for name in rest.iter().take(MOST) {
        let (mut read, _) = exports.read(&[name.as_str()]);
        let Some(Ok(bytes)) = read.remove(*name) else { continue };
        let inspection = inspect(name, &bytes, None);
        kinds.add(naming.file(name), &inspection);
        for seen in inspection.texts.into_iter().filter(|t| !t.no_export).flat_map(|text| text.series) {
            let (times, degc): (Vec<i64>, Vec<f64>) = readings(site, &seen).into_iter().unzip();
            series.push((naming.file(name), Sketch::of(&times, &degc)));
        }
    }
    let rest = rest.into_iter().map(|name| naming.file(name));
    let rest = rest.filter(|name| !kinds.no_exports.contains(name)).collect();
    // What the roster names is read, or told as unreadable, whatever it is.
    let is_named = |name: &str| named.iter().any(|n| n == name || n.starts_with(&format!("{name}/")));
    let open = passed_over.iter().filter(|(name, _)| !is_named(name) && !is_own(name));
    let passed_over = open.map(|(name, why)| (naming.file(name), *why)).collect();
    UnnamedFiles { series, kinds, rest, passed_over, place: exports.place(naming) }
}

/// In UTC and °C as far as the file says, or the values and the site's clock do: a copy on another clock is found too.
fn readings(site: &Site, seen: &SeriesSeen) -> Vec<(i64, f64)> {
    let unit = seen.unit_stated.as_ref().or(seen.unit_told_by_values.as_ref());
    let unit = unit.and_then(|u| TemperatureUnit::parse(u)).unwrap_or(TemperatureUnit::Celsius);
    let utc = |ms: i64| {
        let local = LocalTime::from_ms(ms);
        match site.clock {
            _ if seen.in_utc => ms,
            Some(ClockSetting::Fixed(offset_s)) => local.at_offset(offset_s).ms(),
            _ => local.at_offset(site.zone.offset_s(local.at_offset(0))).ms(),
        }
    };
    let mut readings: Vec<(i64, f64)> =
        seen.readings.iter().map(|(ms, x)| (utc(*ms), unit.temperature(*x).degc())).collect();
    readings.sort_by_key(|(t, _)| *t);
    readings
}

/// Such files that are no exports, and exports that cannot be read.
#[derive(Default)]
struct Kinds {
    no_exports: Vec<String>,
    unreadable: Vec<String>,
}

impl Kinds {
    fn add(&mut self, name: String, inspection: &Inspection) {
        let texts = &inspection.texts;
        if !texts.is_empty() && texts.iter().all(|t| t.no_export) {
            self.no_exports.push(name);
        } else if texts.iter().all(|t| t.no_export || (t.trouble.is_some() && t.dates_open.is_none())) {
            self.unreadable.push(name);
        }
    }
}

/// The first of some names, and how many more there are.
fn some(names: &[String]) -> String {
    let more = names.len().saturating_sub(TOLD);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", names[..names.len().min(TOLD)].join(", "))
}

impl UnnamedFiles {
    /// What is told of them; `copies`: those that hold nothing beyond a file of the roster, and that file.
    pub(super) fn notes(&self, copies: &[(String, String)]) -> Vec<Note> {
        let notes = [self.no_exports(), self.copies(copies), self.unnamed(copies)];
        notes.into_iter().flatten().chain(self.passed_over()).collect()
    }

    fn note(&self, what: String, hint: &str) -> Note {
        let place = self.place.clone();
        Note { place, line: None, what: what.into(), hint: hint.to_owned(), unreadable: false }
    }

    fn copies(&self, copies: &[(String, String)]) -> Option<Note> {
        let words = |(file, of): &(String, String)| format!("{file} (of {of})");
        let words: Vec<String> = copies.iter().map(words).collect();
        let what = format!("the roster does not name copies of files that it names: {}", some(&words));
        let hint = "leave them out of the roster; move them out of the exports folder to be told no more";
        (!copies.is_empty()).then(|| self.note(what, hint))
    }

    /// A note for each reason.
    fn passed_over(&self) -> Vec<Note> {
        let open = &self.passed_over;
        let whys: BTreeSet<&str> = open.iter().map(|(_, why)| *why).collect();
        let note = |why: &str| {
            let of_it = open.iter().filter(|(_, w)| *w == why);
            let names: Vec<String> = of_it.map(|(name, _)| name.clone()).collect();
            let (is, remedy) = why.split_once("; ").unwrap_or((why, "move it out of the exports folder"));
            self.note(format!("not looked at: {}: {is}", some(&names)), remedy)
        };
        whys.into_iter().map(note).collect()
    }

    fn no_exports(&self) -> Option<Note> {
        let names = &self.kinds.no_exports;
        let what =
            format!("not logger exports: {} (tables of times and words, without readings)", some(names));
        let hint = "nothing need be done; move them out of the exports folder to be told no more";
        (!names.is_empty()).then(|| self.note(what, hint))
    }

    fn unnamed(&self, copies: &[(String, String)]) -> Option<Note> {
        let is_copy = |name: &&String| copies.iter().any(|(file, _)| file == *name);
        let rest: Vec<String> = self.rest.iter().filter(|name| !is_copy(name)).cloned().collect();
        let looked = match self.rest.len() > MOST {
            true => format!("; the first {MOST} of them were looked at for copies"),
            false => String::new(),
        };
        let unreadable = match self.kinds.unreadable.as_slice() {
            [] => String::new(),
            names => format!("; not understood as an export: {}", some(names)),
        };
        let what = format!(
            "the roster does not name {} of the files: {}{looked}{unreadable}",
            rest.len(),
            some(&rest)
        );
        let hint = "give each a row in the roster, or move it out of the exports folder";
        (!rest.is_empty()).then(|| self.note(what, hint))
    }
}
