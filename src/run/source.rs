//! Where homes come from: the exports of their loggers, or the aligned table of an earlier audit.

use std::path::{Path, PathBuf};

use super::exports_folder::ExportsAt;
use super::naming::Naming;
use super::threads::Threads;
use crate::error::{Error, Note, Result, Trouble};
use crate::files::{self, Held, Input, Vouched};
use crate::pipeline::{OpenedHome, Prepared, Preparing};
use crate::site::{Home, SITE_FILE, Site};
use crate::tables::{ALIGNED, AlignedIndex, Format, RoomRows, Table, WEATHER, WeatherRows, read_weather};
use crate::texts;

/// Homes, and what all of them share.
pub(super) struct Source {
    /// The building, of which every home can be opened.
    pub(super) prepared: Prepared,
    /// Notes about the site as a whole.
    pub(super) notes: Vec<Note>,
    /// What was read for all homes together.
    pub(super) inputs: Vec<Input>,
    /// What results call what was read.
    pub(super) naming: Naming,
    from: From,
}

enum From {
    Exports(ExportsAt),
    Aligned { path: PathBuf, held: Held, index: AlignedIndex },
}

impl Source {
    /// The exports that the roster names; `site_file`: what messages call the site file.
    pub(super) fn exports(
        threads: &Threads,
        site: Site,
        (site_file, exports): (&str, ExportsAt),
        naming: Naming,
    ) -> Result<Self> {
        exports.some_exists(&site)?;
        let mut preparing = Preparing::begin(site);
        let homes = preparing.homes();
        let read = |home: &Home| preparing.read_home(home, &mut exports.reader(&mut Vec::new()));
        let beside = threads.each(&homes, read)?;
        beside.into_iter().for_each(|home| preparing.add(home));
        let mut inputs = Vec::new();
        let prepared = preparing.finish(site_file, &mut exports.reader(&mut inputs))?;
        let (notes, inputs) = (prepared.notes().to_vec(), naming.inputs(inputs));
        Ok(Self { prepared, notes, inputs, naming, from: From::Exports(exports) })
    }

    /// The same from the folder that the site file names.
    pub(super) fn folder(threads: &Threads, site: Site, site_path: &Path, naming: Naming) -> Result<Self> {
        let exports = ExportsAt::of_site(site_path, &site);
        let site_file = naming.place(site_path, SITE_FILE);
        Self::exports(threads, site, (&site_file, exports), naming)
    }

    /// The aligned table of an earlier audit: the file itself, or its folder; the weather table lies beside it.
    pub(super) fn aligned(site: Site, path: &Path, naming: Naming) -> Result<Self> {
        let path = if files::is_folder(path) { path.join(table_name(&ALIGNED)) } else { path.to_owned() };
        let Reentered { held, index, weather, fingerprints } = reenter(&path, &site)?;
        let strange = index.homes().find(|h| site.homes.iter().all(|own| own.name != *h));
        if let Some(home) = strange {
            let what = format!("found home {home}, expected homes of the roster only");
            return Err(unfit(&path, Trouble::new(what, SAME_SITE)));
        }
        let [table, weather_table] = fingerprints;
        let inputs = vec![
            naming.table_input(table, "aligned table"),
            naming.table_input(weather_table, "weather table"),
        ];
        let notes = vec![note(naming.place(&path, "aligned table"))];
        let prepared = Prepared::restored(site, weather);
        Ok(Self { prepared, notes, inputs, naming, from: From::Aligned { path, held, index } })
    }

    /// The site, with the accuracies that are in force for all homes.
    pub(super) const fn site(&self) -> &Site {
        self.prepared.site()
    }

    /// Where the exports are had; `None`: the homes come from an aligned table.
    pub(super) const fn of_exports(&self) -> Option<&ExportsAt> {
        match &self.from {
            From::Exports(exports) => Some(exports),
            From::Aligned { .. } => None,
        }
    }

    /// Opens a home; beside it, what was read for it.
    pub(super) fn open(&self, home: &Home) -> Result<(OpenedHome, Vec<Input>)> {
        match &self.from {
            From::Exports(exports) => {
                let mut inputs = Vec::new();
                let opened = self.prepared.open(home, &mut exports.reader(&mut inputs))?;
                Ok((opened, self.naming.inputs(inputs)))
            }
            From::Aligned { path, held, index } => {
                let rows = rows_of(path, held, index, self.site(), &home.name)?;
                Ok((self.prepared.reopen(home, rows), Vec::new()))
            }
        }
    }
}

fn table_name(table: &Table) -> String {
    format!("{}.{}", table.name, Format::Parquet.ending())
}

/// What to do where a table names what the site does not.
const SAME_SITE: &str = "name the site file that the table was made with, and the key with --pseudonyms where it was made under one";
/// The tables of an earlier audit, opened.
struct Reentered {
    held: Held,
    index: AlignedIndex,
    weather: WeatherRows,
    /// Of the aligned table, and of the weather's.
    fingerprints: [Input; 2],
}

/// Opens an aligned table, and the weather table beside it, that one provenance vouches for, byte by byte: nothing else of
/// them is believed.
fn reenter(path: &Path, site: &Site) -> Result<Reentered> {
    // A run that died while it replaced the tables is put right where that can be done; else they do not fit.
    if let Some(folder) = path.parent() {
        let _ = files::settle(folder);
    }
    let held = Held::open(path)?;
    let vouched = Vouched::beside(path)?;
    let fingerprint = held.fingerprint()?;
    vouched.for_table(path, &fingerprint)?;
    let index = AlignedIndex::load(&held).map_err(|t| unfit(path, t))?;
    if let Some(other) = index.sites().find(|other| *other != site.name) {
        let [found, expected] = [other, &site.name].map(texts::name);
        let what = format!("found a table of the site {found}, expected one of {expected}");
        return Err(unfit(path, Trouble::new(what, SAME_SITE)));
    }
    let beside = path.with_file_name(table_name(&WEATHER));
    if !files::is_file(&beside) {
        let what = format!("there is no {} beside it, expected that of the same audit", table_name(&WEATHER));
        return Err(unfit(path, Trouble::new(what, "name the folder of the audit, with all of its tables")));
    }
    let (weather, of_weather) = weather_of(&beside, &vouched, site)?;
    Ok(Reentered { held, index, weather, fingerprints: [fingerprint, of_weather] })
}

/// A weather table that a provenance vouches for.
fn weather_of(path: &Path, vouched: &Vouched, site: &Site) -> Result<(WeatherRows, Input)> {
    let weather = Held::open(path)?;
    let of_weather = weather.fingerprint()?;
    vouched.for_table(path, &of_weather)?;
    let weather = read_weather(weather, site).map_err(|t| unfit(path, t))?;
    on_the_grid(site, std::iter::once(&weather.times_ms[..])).map_err(|t| unfit(path, t))?;
    Ok((weather, of_weather))
}

/// The weather table of an audit, or that in the folder of its results, for which the provenance beside it vouches.
pub(super) fn vouched_weather(path: &Path, site: &Site) -> Result<(WeatherRows, Input)> {
    let path = if files::is_folder(path) { path.join(table_name(&WEATHER)) } else { path.to_owned() };
    weather_of(&path, &Vouched::beside(&path)?, site)
}

/// The rows of a home, held against the site.
fn rows_of(path: &Path, held: &Held, index: &AlignedIndex, site: &Site, home: &str) -> Result<Vec<RoomRows>> {
    let rows = index.rooms(held.clone(), home, site).map_err(|t| unfit(path, t))?;
    fits_roster(site, home, &rows).map_err(|t| unfit(path, t))?;
    Ok(rows)
}

/// The rooms must be the roster's, and the step the site's.
pub(super) fn fits_roster(site: &Site, home: &str, rows: &[RoomRows]) -> std::result::Result<(), Trouble> {
    let of_roster = site.homes.iter().find(|h| h.name == home);
    let strange = rows.iter().find(|r| of_roster.is_some_and(|h| h.rooms.iter().all(|o| o.name != r.room)));
    if let Some(room) = strange {
        return Err(Trouble::new(
            format!("found {home} {}, expected rooms of the roster only", room.room),
            SAME_SITE,
        ));
    }
    on_the_grid(site, rows.iter().map(|r| &r.times_ms[..]))
}

/// Instants must be those of the site's grid.
pub(super) fn on_the_grid<'t>(
    site: &Site,
    times_ms: impl Iterator<Item = &'t [i64]> + Clone,
) -> std::result::Result<(), Trouble> {
    let steps = times_ms.clone().flat_map(|t| t.windows(2).map(|w| w[1] - w[0])).min();
    if times_ms.flatten().any(|t| t % site.step_ms != 0) || steps.is_some_and(|s| s > site.step_ms) {
        return Err(Trouble::new(
            format!("found instants on another grid, expected a step of {} s", site.step_ms / 1000),
            "set `step` in the site file as it was when the table was made",
        ));
    }
    Ok(())
}

/// A table that does not fit, as what stops the command.
pub(super) fn unfit(path: &Path, trouble: Trouble) -> Error {
    Error::Unfit { place: path.display().to_string(), what: trouble.what.told(), hint: trouble.hint }
}

fn note(place: String) -> Note {
    Note {
        place,
        line: None,
        what: "this audit starts from an aligned table: loggers, readings, clocks and rows of exports were not judged again, so nothing is said about suspect sensors, and a finding that such a doubt would soften is as pressing as its numbers".into(),
        hint: "see the audit that made the table for those; quality settings of the site file have no effect here".to_owned(),
        unreadable: false,
    }
}
