//! `audit --sensitivity`: the same records with one setting changed at a time, and which verdicts turn.
//!
//! Settled here, and why:
//! - **The whole audit again**: each change goes from the exports to acceptance, for nobody knows beforehand what a setting moves.
//! - **Verdicts, not numbers**: how far numbers move stands in other audits; what people act on is what turns.
//! - **A change that an audit refuses** (loggers that are too far apart for a smaller accuracy) is told in a note, and has no rows.

use std::collections::BTreeMap;
use std::path::Path;

use super::again::again;
use super::table_writers::write_table;
use super::threads::Threads;
use crate::audit::HomeAudit;
use crate::error::{Note, Result};
use crate::files::Outputs;
use crate::metrics::{EVENNESS_VERDICT, Evenness, Slice};
use crate::pipeline::BesideRoster;
use crate::site::{DEFAULT_ACCURACY, SITE_FILE, Site};
use crate::tables::{SENSITIVITY, Varied, sensitivity_cells};
use crate::units::{KelvinDiff, show_duration};

/// Steps that are tried, in seconds: those next to the one in force.
const STEPS_S: [i64; 8] = [60, 120, 300, 600, 900, 1200, 1800, 3600];
/// By what accuracies are multiplied.
const ACCURACY_TIMES: [(f64, &str); 2] = [(2.0 / 3.0, "two thirds"), (1.5, "half as much again")];
/// How far the margin is moved, in K.
const MARGIN_K: f64 = 0.5;

/// A building with one setting changed.
struct Change {
    setting: &'static str,
    in_force: String,
    changed_to: String,
    site: Site,
}

/// The changes that are tried on a site.
fn changes(site: &Site) -> Vec<Change> {
    let mut all = Vec::new();
    let mut add = |setting, [in_force, changed_to]: [String; 2], site: Site| {
        all.push(Change { setting, in_force, changed_to, site });
    };
    let seconds = |ms: i64| show_duration(ms as f64 / 1000.0);
    let below = STEPS_S.iter().rev().find(|s| **s * 1000 < site.step_ms);
    let above = STEPS_S.iter().find(|s| **s * 1000 > site.step_ms);
    for ms in below.into_iter().chain(above).map(|s| s * 1000) {
        add("site.step", [site.step_ms, ms].map(seconds), site.with(|facts| facts.step_ms = ms));
    }
    for ms in [site.max_gap_ms / 2, site.max_gap_ms * 2] {
        add("site.max_gap", [site.max_gap_ms, ms].map(seconds), site.with(|facts| facts.max_gap_ms = ms));
    }
    for (times, words) in ACCURACY_TIMES {
        let words = ["as in the roster".to_owned(), words.to_owned()];
        add("accuracy_k", words, with_accuracy(site, times));
    }
    let margin = site.spread.margin.k();
    for k in [margin - MARGIN_K, margin + MARGIN_K].into_iter().filter(|k| *k > 0.0) {
        let changed = site.with(|facts| facts.spread.margin = KelvinDiff::new(k));
        add("spread.margin", [margin, k].map(|k| format!("{k:.1} K")), changed);
    }
    let used = site.quality.use_suspect;
    let changed = site.with(|facts| facts.quality.use_suspect = !used);
    add("quality.use_suspect", [used, !used].map(|yes| yes.to_string()), changed);
    all
}

fn with_accuracy(site: &Site, times: f64) -> Site {
    site.with(|facts| {
        let rooms = facts.homes.iter_mut().flat_map(|home| &mut home.rooms);
        for placement in rooms.flat_map(|room| &mut room.placements) {
            let stated = placement.accuracy.unwrap_or(DEFAULT_ACCURACY);
            placement.accuracy = Some(KelvinDiff::new(times * stated.k()));
        }
    })
}

/// What was judged of which room (`None`: the home) in which period.
type Key = (Option<String>, String, &'static str);

/// What a verdict is called that is none.
const NONE: &str = "none";

/// Every verdict of a home.
fn verdicts(home: &HomeAudit) -> BTreeMap<Key, String> {
    let period = &home.judged_period;
    let standing = ((None, period.clone(), "standing"), home.standing().word().to_owned());
    let criteria = home.criteria.iter().map(|c| {
        // Which room decides may change with the answer.
        ((None, c.period.clone(), c.kind.id), c.answer.words().to_owned())
    });
    let rows = home.metrics.iter().filter(|row| row.metric == &EVENNESS_VERDICT && row.slice == Slice::All);
    let evenness = rows.map(|row| {
        let key = (row.room.clone(), row.period.clone(), EVENNESS_VERDICT.id);
        (key, Evenness::of(row.value).word().to_owned())
    });
    std::iter::once(standing).chain(criteria).chain(evenness).collect()
}

/// What an audit is held against, and what it was made of.
pub(super) struct Audited<'a> {
    /// As it was asked, before any side-by-side check.
    pub(super) site: &'a Site,
    pub(super) site_path: &'a Path,
    pub(super) homes: &'a [HomeAudit],
    pub(super) files: Option<BesideRoster<'a>>,
}

/// Each verdict under each change; changes that no audit takes are added to the notes.
pub(super) fn sensitivity(audited: &Audited<'_>, threads: &Threads, notes: &mut Vec<Note>) -> Vec<Varied> {
    let mut rows = Vec::new();
    for change in changes(audited.site) {
        match again(&change.site, audited.site_path, audited.files, threads) {
            Ok(homes) => {
                for (before, after) in audited.homes.iter().zip(&homes) {
                    rows.extend(held_against(&change, before, after));
                }
            }
            // What it says may name loggers.
            Err(_) => notes.push(Note {
                place: SITE_FILE.to_owned(),
                line: None,
                what: format!(
                    "with {} at {} the audit is refused, so that its sensitivity to that is not told",
                    change.setting, change.changed_to
                )
                .into(),
                hint: "an audit with that setting says why".to_owned(),
                unreadable: false,
            }),
        }
    }
    rows
}

fn held_against(change: &Change, before: &HomeAudit, after: &HomeAudit) -> Vec<Varied> {
    let (before_change, changed) = (verdicts(before), verdicts(after));
    let mut keys: Vec<&Key> = before_change.keys().chain(changed.keys()).collect();
    keys.sort();
    keys.dedup();
    let said = |of: &BTreeMap<Key, String>, key: &Key| of.get(key).cloned().unwrap_or(NONE.to_owned());
    let row = |key: &Key| Varied {
        setting: change.setting,
        in_force: change.in_force.clone(),
        changed_to: change.changed_to.clone(),
        home: before.name.clone(),
        room: key.0.clone(),
        period: key.1.clone(),
        verdict: key.2,
        as_audited: said(&before_change, key),
        changed: said(&changed, key),
    };
    keys.into_iter().map(row).collect()
}

/// Writes the table.
pub(super) fn write(site: &Site, rows: &[Varied], outputs: &mut Outputs) -> Result<()> {
    let cells = rows.iter().map(|row| sensitivity_cells(&site.name, row));
    write_table(&SENSITIVITY, cells, outputs)
}

/// How much turns, for the terminal.
pub(super) fn told(rows: &[Varied]) -> String {
    let key = |row: &Varied| (row.home.clone(), row.room.clone(), row.period.clone(), row.verdict);
    let count = |rows: &mut dyn Iterator<Item = &Varied>| {
        rows.map(key).collect::<std::collections::BTreeSet<_>>().len()
    };
    let all = count(&mut rows.iter());
    let turned = count(&mut rows.iter().filter(|row| row.as_audited != row.changed));
    let mut changes: Vec<(&str, &str)> =
        rows.iter().map(|row| (row.setting, row.changed_to.as_str())).collect();
    changes.dedup();
    format!(
        "Sensitivity: {turned} of {all} verdicts turn under one or more of {} changes of one setting; sensitivity.csv tells which.",
        changes.len()
    )
}
