//! Exports of loggers → [`Readings`]: UTC, °C, rising, unique, and every row accounted for.
//!
//! The way: bytes → text and lines (`sheet`) → how it is written (`dialect`) → rows as written (`raw`) →
//! [`Readings`]. Local time never leaves this folder. A file that cannot be understood becomes a note that
//! says what was found and what to do; the run goes on without it.

mod dialect;
mod instants;
mod ledger;
mod numbers;
mod raw;
mod readings;
mod sheet;
mod times;
mod unit;

pub use ledger::{Ledger, Reason, SetAside};
pub use readings::{Opened, Readings};

use std::collections::BTreeMap;

use dialect::Trouble;
use raw::{RawExport, Wanted};
use readings::Gathering;
use unit::Role;

use crate::error::Result;
use crate::site::{DateOrder, Home, Placement, Site, Source};

/// The bytes of the exports, by the name the roster gives them; `Err` holds why a file could not be had.
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
/// Each file is read once, however many columns of it are used.
///
/// # Errors
/// [`crate::error::Error::Imbalance`] where the rows of a file do not add up.
pub fn open_home(site: &Site, home: &Home, files: &Files, purpose: Purpose) -> Result<Vec<Vec<Opened>>> {
    let placements = || home.rooms.iter().flat_map(|r| &r.placements);
    let sources: Vec<&Source> = placements().flat_map(|p| &p.sources).collect();
    let exports = read_all(&sources, files);
    let open = |placement: &Placement| {
        let gathering = Gathering::new(site, Role::Room, Some(placement), purpose == Purpose::Colocation);
        gather(gathering, &placement.sources, &exports)
    };
    home.rooms.iter().map(|room| room.placements.iter().map(open).collect()).collect()
}

/// Readings of the weather series.
///
/// # Errors
/// As [`open_home`].
pub fn open_outdoor(site: &Site, source: &Source, files: &Files) -> Result<Opened> {
    let exports = read_all(&[source], files);
    gather(Gathering::new(site, Role::Outdoor, None, false), std::slice::from_ref(source), &exports)
}

/// Files with what was read of them; a file is read once for all columns, unless rows disagree on the order of its dates.
struct Exports<'b> {
    read: BTreeMap<(String, Option<u8>), std::result::Result<RawExport<'b>, Trouble>>,
    columns: BTreeMap<(String, Option<u8>), Vec<Option<String>>>,
}

fn key(source: &Source) -> (String, Option<u8>) {
    (source.file.clone(), source.date_order.map(|o| o as u8))
}

fn read_all<'b>(sources: &[&Source], files: &'b Files) -> Exports<'b> {
    let mut columns: BTreeMap<(String, Option<u8>), Vec<Option<String>>> = BTreeMap::new();
    let mut orders: BTreeMap<(String, Option<u8>), Option<DateOrder>> = BTreeMap::new();
    for source in sources {
        let of_file = columns.entry(key(source)).or_default();
        if !of_file.contains(&source.column) {
            of_file.push(source.column.clone());
        }
        orders.insert(key(source), source.date_order);
    }
    let mut read = BTreeMap::new();
    for (key, columns) in &columns {
        let wanted: Vec<Option<&str>> = columns.iter().map(Option::as_deref).collect();
        let wanted = Wanted { columns: &wanted, order: orders[key] };
        let answer = match files.get(&key.0) {
            Some(Ok(bytes)) => raw::read(bytes, &wanted),
            Some(Err(why)) => {
                Err(Trouble::new(why.clone(), "correct `file` in the roster, or put the export there"))
            }
            None => {
                Err(Trouble::new("the file was not read", "this is a bug in evenrooms; please report it"))
            }
        };
        read.insert(key.clone(), answer);
    }
    Exports { read, columns }
}

impl Exports<'_> {
    fn series_of(&self, source: &Source) -> std::result::Result<(&RawExport<'_>, &raw::Series), &Trouble> {
        let key = key(source);
        let raw = self.read[&key].as_ref()?;
        let at = self.columns[&key].iter().position(|c| *c == source.column).unwrap_or(0);
        Ok((raw, &raw.series[at]))
    }
}

fn gather(mut gathering: Gathering<'_>, sources: &[Source], exports: &Exports<'_>) -> Result<Opened> {
    let mut raws = Vec::new();
    for source in sources {
        match exports.series_of(source) {
            Ok((raw, series)) => {
                gathering.add(source, raw, series);
                raws.push(Some(raw));
            }
            Err(trouble) => {
                gathering.unreadable(source, trouble);
                raws.push(None);
            }
        }
    }
    gathering.finish(&raws)
}
