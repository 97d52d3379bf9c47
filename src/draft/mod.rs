//! A folder of exports → a first `site.toml` and roster, with what could be told and what a person must decide.

mod clocks;
mod columns;
mod guess;
mod twins;
mod write;

pub use write::Draft;

use crate::clock::Zone;
use crate::exports::{Inspection, SeriesSeen, TextSeen, clock_habit};
use crate::site::ClockSetting;

/// What the person said beforehand.
#[derive(Clone, Debug, Default)]
pub struct Known {
    /// The site's time zone.
    pub zone: Option<Zone>,
    /// The clock of loggers whose export does not say.
    pub clock: Option<ClockSetting>,
    /// The folder of the exports, as the site file should name it.
    pub exports: String,
    /// A name for the site.
    pub name: String,
}

/// One series that may be a room.
struct Candidate<'a> {
    file: String,
    column: Option<&'a str>,
    series: &'a SeriesSeen,
    text: &'a TextSeen,
    home: Option<String>,
    room: Option<String>,
    logger: String,
    guess: Option<guess::Use>,
    clock: Option<String>,
    /// What a person must decide or check in this row.
    notes: Vec<String>,
}

/// Drafts the two files from what was seen in the exports.
pub fn draft(inspections: &[Inspection], known: &Known) -> Draft {
    let mut candidates: Vec<Candidate<'_>> = inspections.iter().flat_map(|i| candidates(i, known)).collect();
    let mut left_out = columns::settle(&mut candidates);
    left_out.extend(twins::settle(&mut candidates));
    if let Some(zone) = known.zone {
        clocks::mark_shifted(&mut candidates, zone);
    }
    let mut draft = Draft::new(known);
    for candidate in &candidates {
        draft.add(candidate);
    }
    for (file, why) in left_out.iter().chain(&troubles(inspections)) {
        draft.left_out(file, why);
    }
    draft
}

fn candidates<'a>(inspection: &'a Inspection, known: &Known) -> Vec<Candidate<'a>> {
    let several_texts = inspection.texts.iter().filter(|t| !t.series.is_empty()).count() > 1;
    let of_text = |text: &'a TextSeen| {
        let file = match &text.part {
            Some(part) if several_texts => format!("{}#{part}", inspection.file),
            _ => inspection.file.clone(),
        };
        let columns: Vec<&str> = {
            let mut names: Vec<&str> = text.series.iter().map(|s| s.column.as_str()).collect();
            names.sort_unstable();
            names.dedup();
            names
        };
        let several = columns.len() > 1;
        text.series
            .iter()
            .filter(|s| s.rows > s.missing)
            .map(move |s| candidate(file.clone(), text, s, several, known))
            .collect::<Vec<_>>()
    };
    inspection.texts.iter().flat_map(of_text).collect()
}

fn candidate<'a>(
    file: String,
    text: &'a TextSeen,
    series: &'a SeriesSeen,
    several: bool,
    known: &Known,
) -> Candidate<'a> {
    let place = guess::place(
        &file,
        several.then_some(series.column.as_str()),
        series.logger.as_deref(),
        &text.lines_before,
    );
    let mut notes = Vec::new();
    if place.home.is_none() {
        notes.push("decide: home".to_owned());
    }
    if place.room.is_none() {
        notes.push("check: room (named after the logger)".to_owned());
    }
    if series.unit_stated.is_none() {
        notes.push(match &series.unit_told_by_values {
            Some(unit) => format!("check: {unit} told by the values only"),
            None => "decide: unit".to_owned(),
        });
    }
    let clock = clock(text, series, known);
    Candidate {
        column: several.then_some(series.column.as_str()),
        logger: series.logger.clone().unwrap_or(place.logger),
        home: place.home,
        room: place.room,
        guess: place.guess,
        clock,
        notes,
        file,
        series,
        text,
    }
}

/// The clock, where the export does not state it but its behaviour at a change of daylight saving does.
fn clock(text: &TextSeen, series: &SeriesSeen, known: &Known) -> Option<String> {
    if text.clock.starts_with("not stated") {
        clock_habit(series.readings.iter().map(|r| r.0), known.zone?)
    } else {
        None
    }
}

fn troubles(inspections: &[Inspection]) -> Vec<(String, String)> {
    let mut troubles = Vec::new();
    for inspection in inspections {
        let of_texts = inspection.texts.iter().filter_map(|t| Some((t.part.as_deref(), t.trouble.as_ref()?)));
        let readable = inspection.texts.iter().any(|t| t.trouble.is_none());
        // A workbook's cover sheet has no readings; that is worth no word where another sheet has them.
        for (part, why) in of_texts.filter(|_| !readable) {
            let part = part.map_or(String::new(), |p| format!("#{p}"));
            troubles.push((format!("{}{part}", inspection.file), why.clone()));
        }
        troubles.extend(inspection.trouble.iter().map(|why| (inspection.file.clone(), why.clone())));
    }
    troubles
}
