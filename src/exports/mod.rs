//! Exports of loggers → [`Readings`]: UTC, °C, rising, unique, and every row accounted for.
//!
//! The way: bytes → texts ([`unpack`]) → lines and cells (`sheet`) → how it is written (`dialect`) → rows as written
//! (`raw`) → [`Readings`]. Local time never leaves this folder. A file that cannot be understood becomes a note that
//! says what was found and what to do; the run goes on without it.

mod asides;
mod clock_drift;
mod contradictions;
mod dialect;
mod double_claims;
mod duplicates;
mod events;
mod fast_rows;
mod headers;
mod inspect;
mod ledger;
mod local_to_utc;
mod logger_ids;
mod names;
mod numbers;
mod placement_readings;
mod quantities;
mod raw;
mod readings;
mod rows;
mod runs;
mod select;
mod sentinels;
mod series;
mod set_back;
mod sheet;
mod times;
mod unit;
mod unit_by_values;
pub(crate) mod vocabulary;
mod wanted;
mod words;

pub use asides::SetAsides;
pub use contradictions::is_stated;
pub use inspect::{Inspection, LinesAside, SeriesSeen, TextSeen, inspect};
pub use ledger::{Ledger, Reason, SetAside};
pub use local_to_utc::clock_habit;
pub use readings::{Opened, Readings};
pub use set_back::SetBack;
pub use words::{Said, WordsRead};

use std::collections::BTreeMap;

use double_claims::taken_twice;
use placement_readings::Gathering;
use raw::{NotUnderstood, Opening, RawExport};
use series::Series;
use sheet::Sheet;
use unit_by_values::Role;
use wanted::Wanted;

use crate::error::{Note, Result, Trouble};
use crate::site::{Dates, Home, Name, Site, Source};
use crate::texts::name;
use crate::unpack::{self, Part, file_and_part};

/// The bytes of the exports, by file name without a part; `Err` holds why a file could not be had.
pub type Files = BTreeMap<String, std::result::Result<Vec<u8>, String>>;

/// What the readings are wanted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The audit of the rooms: rows outside the placement, or while loggers lay side by side, are set aside.
    Audit,
    /// The side-by-side check: only rows of that time.
    Colocation,
}

/// Readings of every placement of a home, in the order of its rooms and their placements.
///
/// Each file is read once, however many series of it are used.
///
/// # Errors
/// [`crate::error::Error::Imbalance`] where the rows of a file do not add up.
pub fn open_home(site: &Site, home: &Home, files: &Files, purpose: Purpose) -> Result<Vec<Vec<Opened>>> {
    let placements = || home.rooms.iter().flat_map(|r| &r.placements);
    let wanted: Vec<(&Source, &str)> =
        placements().flat_map(|p| p.sources.iter().map(|s| (s, p.logger.own()))).collect();
    let mut exports = Exports::read(&wanted, files, site);
    let mut opened: Vec<Vec<Opened>> = Vec::new();
    for room in &home.rooms {
        let mut of_room = Vec::new();
        for placement in &room.placements {
            let for_colocation = purpose == Purpose::Colocation;
            let gathering = Gathering::new(site, Role::Room, Some(placement), for_colocation);
            let logger = placement.logger.own();
            of_room.push(gather(gathering, &placement.sources, logger, &mut exports)?);
        }
        opened.push(of_room);
    }
    if let Some(first) = opened.iter_mut().flatten().next() {
        first.notes.extend(exports.loggers_left_out(site));
        first.notes.extend(exports.lost);
    }
    Ok(opened)
}

/// Readings of the weather series.
///
/// # Errors
/// As [`open_home`].
pub fn open_outdoor(site: &Site, source: &Source, files: &Files) -> Result<Opened> {
    let mut exports = Exports::read(&[(source, OUTDOOR)], files, site);
    let gathering = Gathering::new(site, Role::Outdoor, None, false);
    let mut opened = gather(gathering, std::slice::from_ref(source), OUTDOOR, &mut exports)?;
    opened.notes.extend(exports.lost);
    Ok(opened)
}

/// What stands for the logger of the weather series.
const OUTDOOR: &str = "outdoor";

/// A file is read once for all series that are wanted of it, unless roster rows disagree on what its dates mean.
type Key<'a> = (&'a Name, Option<Dates>);
type Answer<'b> =
    std::result::Result<(RawExport<'b>, Vec<std::result::Result<usize, Trouble>>), NotUnderstood<'b>>;

struct Exports<'a> {
    wanted: BTreeMap<Key<'a>, Vec<Wanted<'a>>>,
    read: BTreeMap<Key<'a>, Answer<'a>>,
    /// How often each series is still wanted, by the file and its place in it.
    uses: BTreeMap<(Key<'a>, usize), usize>,
    /// For lines of the roster why their readings cannot be theirs.
    taken_twice: BTreeMap<u32, Trouble>,
    /// Parts of files that could not be taken out, and that no row names.
    lost: Vec<Note>,
}

impl<'a> Exports<'a> {
    fn read(sources: &[(&'a Source, &'a str)], files: &'a Files, site: &Site) -> Self {
        let mut wanted: BTreeMap<Key<'a>, Vec<Wanted<'a>>> = BTreeMap::new();
        for (source, logger) in sources {
            let of_file = wanted.entry((&source.file, source.dates)).or_default();
            let series = Wanted { column: source.column.as_deref(), logger };
            if !of_file.contains(&series) {
                of_file.push(series);
            }
        }
        let mut lost = Vec::new();
        let read: BTreeMap<Key<'a>, Answer<'a>> =
            wanted.iter().map(|(key, wanted)| (*key, read_one(*key, wanted, files, &mut lost))).collect();
        let taken_twice = read.iter().filter_map(|(key, answer)| {
            let rows = site.rows_of_shared(key.0.own());
            let (raw, _) = answer.as_ref().ok().filter(|_| !rows.is_empty())?;
            Some(taken_twice(rows, &wanted[key], raw))
        });
        let taken_twice = taken_twice.flatten().collect();
        let mut exports = Self { wanted, read, uses: BTreeMap::new(), taken_twice, lost };
        for (source, logger) in sources {
            if let Some(place) = exports.place_of(source, logger) {
                *exports.uses.entry(place).or_default() += 1;
            }
        }
        exports
    }

    /// Where the series stands that a download has for a logger.
    fn place_of(&self, source: &'a Source, logger: &str) -> Option<(Key<'a>, usize)> {
        let key = (&source.file, source.dates);
        let (_, places) = self.read.get(&key)?.as_ref().ok()?;
        let of = |w: &Wanted<'_>| w.column == source.column.as_deref() && w.logger == logger;
        let at = self.wanted.get(&key)?.iter().position(of)?;
        Some((key, *places[at].as_ref().ok()?))
    }

    /// The series that a download has for a logger; whoever wants it last gets it whole, the others a copy.
    fn hand_over(&mut self, source: &'a Source, logger: &str) -> Option<Series> {
        let (key, place) = self.place_of(source, logger)?;
        let left = self.uses.entry((key, place)).or_default();
        *left = left.saturating_sub(1);
        let series = &mut self.read.get_mut(&key)?.as_mut().ok()?.0.series[place];
        Some(if *left == 0 { series.hand_over() } else { series.clone() })
    }

    /// The text of a file, where it is one.
    fn sheet_of(&self, source: &'a Source) -> Option<&Sheet<'a>> {
        match self.read.get(&(&source.file, source.dates))? {
            Ok((raw, _)) => Some(&raw.sheet),
            Err(n) => n.sheet.as_ref(),
        }
    }

    /// What there is of a download for a logger.
    fn take(&mut self, source: &'a Source, logger: &str) -> Download<'_, 'a> {
        let key = (&source.file, source.dates);
        let series = self.hand_over(source, logger);
        let (raw, places) = match &self.read[&key] {
            Ok(read) => read,
            Err(n) => return Download::NotUnderstood(&n.trouble, n.sheet.as_ref()),
        };
        let at =
            self.wanted[&key].iter().position(|w| w.column == source.column.as_deref() && w.logger == logger);
        let place = &places[at.expect("each source was asked for when its file was read")];
        let series = match place {
            Ok(_) => series.expect("a series with a place is there"),
            Err(trouble) => return Download::NoSeries(trouble, raw),
        };
        match source.line.and_then(|line| self.taken_twice.get(&line)) {
            Some(trouble) => Download::OfTwoRooms(trouble, raw, Box::new(series)),
            None => Download::Of(raw, Box::new(series)),
        }
    }
}

/// What a file has for a row of the roster.
enum Download<'e, 'a> {
    /// Its series.
    Of(&'e RawExport<'a>, Box<Series>),
    /// A series that another room takes too.
    OfTwoRooms(&'e Trouble, &'e RawExport<'a>, Box<Series>),
    /// No series for it.
    NoSeries(&'e Trouble, &'e RawExport<'a>),
    /// Nothing that could be understood.
    NotUnderstood(&'e Trouble, Option<&'e Sheet<'a>>),
}

impl Exports<'_> {
    /// Loggers that a file names and no roster row does: their rows are in no result.
    fn loggers_left_out(&self, site: &Site) -> Vec<Note> {
        let placements = || site.homes.iter().flat_map(|h| &h.rooms).flat_map(|r| &r.placements);
        let of_file = |file: &Name, name: &str| {
            placements().any(|p| {
                p.logger.own().eq_ignore_ascii_case(name) && p.sources.iter().any(|s| s.file == *file)
            })
        };
        let note = |((file, _), answer): (&Key<'_>, &Answer<'_>)| {
            let (raw, _) = answer.as_ref().ok()?;
            let (_, loggers) = raw.loggers.as_ref()?;
            let open: Vec<&String> = loggers.iter().filter(|name| !of_file(file, name)).collect();
            let shown = open.iter().take(8).map(|n| name(n)).collect::<Vec<_>>().join(", ");
            (!open.is_empty() && open.len() < loggers.len()).then(|| Note {
                place: file.told().to_owned(),
                line: None,
                what: format!(
                    "{} loggers in it are in no roster row ({shown}), and their rows in no result",
                    open.len()
                )
                .into(),
                hint: "add them to the roster where they belong to a room".to_owned(),
                unreadable: false,
            })
        };
        self.read.iter().filter_map(note).collect()
    }
}

fn read_one<'a>(
    (file_name, dates): Key<'a>,
    wanted: &[Wanted<'a>],
    files: &'a Files,
    lost: &mut Vec<Note>,
) -> Answer<'a> {
    let (file, part) = file_and_part(file_name.own());
    let bytes = match files.get(file) {
        Some(Ok(bytes)) => bytes,
        Some(Err(why)) => {
            let of_weather = wanted.iter().any(|w| w.logger == OUTDOOR);
            let place = if of_weather { "`outdoor` of the site file" } else { "the roster" };
            let hint = format!("correct `file` in {place}, or put the export there");
            return Err(Trouble::new(why.clone(), hint).into());
        }
        None => {
            let hint = "this is a bug in evenrooms; please report it";
            return Err(Trouble::new("the file was not read", hint).into());
        }
    };
    let mut parts = unpack::unpack(bytes)?;
    // A lost part that is wanted by its name, or is the only one, is told as that.
    let others = parts.iter().filter(|p| parts.len() > 1 && !is_named(p, part));
    lost.extend(others.filter_map(|p| lost_part(file_name, p)));
    match part {
        Some(wanted_part) => {
            let listed = list(&parts);
            let found = parts.into_iter().find(|p| is_named(p, part));
            let missing = || {
                Trouble::new(
                    format!("no part \"{}\" in it; there are {listed}", name(wanted_part)),
                    "correct what stands behind # in the roster's `file`",
                )
            };
            open_part(found.ok_or_else(missing)?, wanted, dates)
        }
        None if parts.len() == 1 => open_part(parts.remove(0), wanted, dates),
        None => only_readable(parts, wanted, dates),
    }
}

fn is_named(part: &Part<'_>, name: Option<&str>) -> bool {
    part.name.as_deref().zip(name).is_some_and(|(own, name)| own.eq_ignore_ascii_case(name))
}

/// What is told of a part that is lost, whoever would have wanted it.
fn lost_part(file: &Name, part: &Part<'_>) -> Option<Note> {
    let Trouble { line, what, hint } = part.lost()?.clone();
    Some(Note { place: file.told().to_owned(), line, what, hint, unreadable: true })
}

fn open_part<'a>(part: Part<'a>, wanted: &[Wanted<'a>], dates: Option<Dates>) -> Answer<'a> {
    let asked: Vec<&str> = wanted.iter().map(|w| w.logger).collect();
    Ok(Opening::new(Sheet::decode(part.opened()?), dates, &asked)?.read_wanted(wanted))
}

/// Of several sheets or members the only one with readings; several are asked about.
fn only_readable<'a>(parts: Vec<Part<'a>>, wanted: &[Wanted<'a>], dates: Option<Dates>) -> Answer<'a> {
    let listed = list(&parts);
    let mut readable: Vec<Answer<'a>> = Vec::new();
    let mut trouble = None;
    for part in parts {
        match open_part(part, wanted, dates) {
            Ok(answer) => readable.push(Ok(answer)),
            Err(t) => trouble = trouble.or(Some(t.trouble)),
        }
    }
    match readable.len() {
        1 => readable.remove(0),
        0 => Err(trouble.unwrap_or_else(|| Trouble::new("nothing in it", "export the logger again")).into()),
        n => Err(Trouble::new(
            format!("{n} of its parts hold readings: {listed}"),
            "name one behind # in the roster's `file`, as in book.xlsx#Sheet 2",
        )
        .into()),
    }
}

fn list(parts: &[Part<'_>]) -> String {
    let names: Vec<String> =
        parts.iter().filter_map(|p| p.name.as_deref()).take(12).map(|n| format!("\"{}\"", name(n))).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

fn gather<'a>(
    mut gathering: Gathering<'_>,
    sources: &'a [Source],
    logger: &str,
    exports: &mut Exports<'a>,
) -> Result<Opened> {
    for source in sources {
        match exports.take(source, logger) {
            Download::Of(raw, series) => gathering.add(source, raw, *series),
            Download::OfTwoRooms(trouble, raw, series) => {
                gathering.of_two_rooms(source, trouble, raw, &series);
            }
            Download::NoSeries(trouble, raw) => gathering.no_series(source, trouble, raw),
            Download::NotUnderstood(trouble, sheet) => gathering.not_understood(source, trouble, sheet),
        }
    }
    let sheets: Vec<_> = sources.iter().map(|source| exports.sheet_of(source)).collect();
    gathering.finish(&sheets)
}
