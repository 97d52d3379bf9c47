//! A folder of exports → a first `site.toml` and roster, with what could be told and what a person must decide.

mod clocks;
mod columns;
mod guess;
mod homes;
mod left_out;
mod nowhere;
mod outdoor;
mod questions;
mod rooms;
mod site_text;
mod together;
mod twins;
mod words;
mod write;

pub use questions::Question;
pub use write::Draft;

use crate::clock::{UtcTime, Zone};
use crate::exports::{Inspection, SeriesSeen, TextSeen, clock_habit};
use crate::site::ClockSetting;
use left_out::LeftOut;

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
    /// What of the folder was not looked at, and why.
    pub passed_over: Vec<(String, &'static str)>,
}

/// One series that may be a room.
struct Candidate<'a> {
    file: String,
    column: Option<String>,
    series: &'a SeriesSeen,
    text: &'a TextSeen,
    home: Option<String>,
    /// Where the home was read.
    home_read: Option<guess::Read>,
    /// What may be the home, where no name says it.
    home_proposed: Option<String>,
    room: Option<String>,
    /// The folder after which the room is named, where nothing else speaks of one.
    room_folder: Option<guess::RoomFolder>,
    /// The words of a name that say that nobody knows the room.
    nowhere: Option<String>,
    logger: String,
    guess: Option<guess::Use>,
    /// The word that spoke of the use.
    said: Option<String>,
    clock: Option<String>,
    dates: Option<String>,
    from: Option<String>,
    to: Option<String>,
    zone: Option<Zone>,
    /// First and last time, as the file has them.
    ends: Option<(i64, i64)>,
    /// What a person must decide or check in this row.
    notes: Vec<String>,
}

impl Candidate<'_> {
    /// A value as °C: in the unit that is stated, or told by the values.
    fn degc(&self, x: f64) -> f64 {
        let unit = self.series.unit_stated.as_ref().or(self.series.unit_told_by_values.as_ref());
        if unit.is_some_and(|u| u == "°F") { (x - 32.0) / 1.8 } else { x }
    }

    /// The home, or what may be it.
    fn any_home(&self) -> Option<String> {
        self.home.clone().or_else(|| self.home_proposed.clone())
    }

    /// Whether its times can be told on the site's wall clock.
    fn wall_known(&self) -> bool {
        !self.series.in_utc || self.zone.is_some()
    }

    /// A time of the file on the wall clock; as it stands where that is not known.
    fn on_the_wall(&self, ms: i64) -> i64 {
        match self.zone.filter(|_| self.series.in_utc) {
            Some(zone) => zone.local(UtcTime::from_ms(ms)).ms(),
            None => ms,
        }
    }
}

/// Drafts the two files from what was seen in the exports.
pub fn draft(inspections: &[Inspection], known: &Known) -> Draft {
    let mut left_out = LeftOut::default();
    let mut candidates: Vec<Candidate<'_>> =
        inspections.iter().flat_map(|i| candidates(i, known, &mut left_out)).collect();
    homes::settle(&mut candidates, &known.name);
    left_out.files(twins::settle(&mut candidates));
    let outdoors = outdoor::take(&mut candidates, &mut left_out);
    columns::settle(&mut candidates);
    rooms::settle(&mut candidates);
    nowhere::ask(&mut candidates);
    match known.zone {
        Some(zone) => clocks::mark_shifted(&mut candidates, zone),
        None if known.clock.is_none() => clocks::mark_steady(&mut candidates),
        None => {}
    }
    let suspect = outdoor::suspect(&mut candidates).filter(|_| outdoors.is_none());
    let mut draft = Draft::new(known, together::find(&candidates));
    draft.set_outdoor(outdoors.as_ref(), suspect.map(|at| &candidates[at]));
    for candidate in &candidates {
        draft.add(candidate);
    }
    tell_troubles(inspections, &mut left_out);
    left_out.files(known.passed_over.iter().map(|(name, why)| (name.clone(), (*why).to_owned())));
    draft.left_out = left_out.lines();
    draft
}

fn candidates<'a>(inspection: &'a Inspection, known: &Known, left_out: &mut LeftOut) -> Vec<Candidate<'a>> {
    let several_texts = inspection.texts.iter().filter(|t| !t.series.is_empty()).count() > 1;
    let mut all = Vec::new();
    for text in inspection.texts.iter().filter(|t| !t.no_export) {
        let file = match &text.part {
            Some(part) if several_texts => format!("{}#{part}", inspection.file),
            _ => inspection.file.clone(),
        };
        let (rooms, others) = columns::of_rooms(text);
        let mut told: Vec<&str> = Vec::new();
        for (series, why) in others {
            let name = columns::name_of(series);
            // A column of many loggers is told once.
            if !told.contains(&name) {
                let column = readable(name);
                match why {
                    columns::NO_VALUE => left_out.file(format!("{file} (column {column})"), why.to_owned()),
                    _ => left_out.column(column, &file, why),
                }
                told.push(name);
            }
        }
        let several = different(text.series.iter()) > 1;
        let several_rooms = different(rooms.iter().copied()) > 1;
        all.extend(rooms.into_iter().map(|series| {
            let column = several.then(|| columns::name_of(series).to_owned());
            candidate(&file, (text, series), (column, several_rooms), known)
        }));
    }
    all
}

/// How many columns, or quantities, some series have.
fn different<'s>(series: impl Iterator<Item = &'s SeriesSeen>) -> usize {
    let mut names: Vec<&str> = series.map(columns::name_of).collect();
    names.sort_unstable();
    names.dedup();
    names.len()
}

/// A header without what its encoding lost: the roster finds it by what stands before the bracket.
fn readable(column: &str) -> &str {
    match column.split_once(['(', '[']) {
        Some((bare, unit)) if unit.contains('\u{fffd}') && !bare.trim().is_empty() => bare.trim(),
        _ => column,
    }
}

fn candidate<'a>(
    file: &str,
    (text, series): (&'a TextSeen, &'a SeriesSeen),
    (column, several_rooms): (Option<String>, bool),
    known: &Known,
) -> Candidate<'a> {
    let place = guess::place(guess::Names {
        file,
        column: column.as_deref().filter(|_| several_rooms),
        is_quantity: series.quantity.is_some(),
        logger: series.logger.as_deref(),
        before: &text.lines_before,
        above_numbers: text.above_numbers.as_deref(),
    });
    let (mut guess, mut said) = (place.guess, place.said);
    let of_weather = outdoor::weather_columns(text);
    // A file of many rooms may hold the weather too.
    if !of_weather.is_empty() && !several_rooms {
        guess = guess::use_of("outdoors").map(|(guess, _)| guess);
        said = Some(of_weather.join(", "));
    }
    let mut notes = Vec::new();
    if place.room.is_none() && place.nowhere.is_none() {
        notes.push("check: room (named after the logger)".to_owned());
    }
    if series.unit_stated.is_none() {
        notes.push(match &series.unit_told_by_values {
            Some(unit) => format!("check: {unit} told by the values only"),
            None => "decide: unit".to_owned(),
        });
    }
    if let Some(all) = text.clock.strip_prefix("stated differently: ") {
        notes.push(format!("decide: clock ({all})"));
    }
    if let Some(question) = &text.dates_open {
        notes.push(format!("decide: dates ({question})"));
    }
    let clock = clock(text, series, known);
    if let Some(kept) = clock.as_ref().filter(|clock| *clock != write::DECIDE) {
        notes.push(format!(
            "proposed: clock ({kept}: so its times run where the clocks of the time zone change)"
        ));
    }
    let (home, home_read) = place.home.map_or((None, None), |(home, read)| (Some(home), Some(read)));
    Candidate {
        column: column.map(|c| readable(&c).to_owned()),
        logger: series.logger.clone().unwrap_or(place.logger),
        home,
        home_read,
        home_proposed: None,
        room: place.room,
        room_folder: place.room_folder,
        nowhere: place.nowhere,
        guess,
        said,
        clock,
        dates: text.dates_open.as_ref().map(|_| write::DECIDE.to_owned()),
        from: None,
        to: None,
        zone: known.zone,
        ends: ends(series),
        notes,
        file: file.to_owned(),
        series,
        text,
    }
}

fn ends(series: &SeriesSeen) -> Option<(i64, i64)> {
    let times = || series.readings.iter().map(|r| r.0);
    Some((times().min()?, times().max()?))
}

/// The clock, where the export does not state it but its behaviour at a change of daylight saving does.
fn clock(text: &TextSeen, series: &SeriesSeen, known: &Known) -> Option<String> {
    if text.clock.starts_with("stated differently") {
        return Some(write::DECIDE.to_owned());
    }
    if text.clock.starts_with("not stated") && text.dates_open.is_none() {
        clock_habit(series.readings.iter().map(|r| r.0), known.zone?)
    } else {
        None
    }
}

fn tell_troubles(inspections: &[Inspection], left_out: &mut LeftOut) {
    for inspection in inspections {
        let readable = inspection.texts.iter().any(|t| t.trouble.is_none() || t.dates_open.is_some());
        for text in &inspection.texts {
            let part = text.part.as_ref().map_or(String::new(), |p| format!("#{p}"));
            let name = format!("{}{part}", inspection.file);
            match &text.trouble {
                _ if text.no_export => left_out.table(name),
                // A workbook's cover sheet has no readings; that is worth no word where another sheet has them.
                Some(why) if !readable || text.lost => left_out.file(name, why.clone()),
                _ => {}
            }
        }
        left_out.files(inspection.trouble.iter().map(|why| (inspection.file.clone(), why.clone())));
    }
}
