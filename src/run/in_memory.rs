//! An audit without a folder of results: its tables in memory, as Arrow has them, for programs that go on with them.
//!
//! Settled here, and why:
//! - **The rows are those of the folder**: the same homes go the same way to the same rows, in the same order, and only where they end
//!   differs.
//! - **No pseudonyms**: they are for results that leave the house, and a folder says of itself that it has them.
//! - **Nothing vouches for a table in memory**: an aligned table is held against the site row by row, as one through a pipe.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use arrow::record_batch::{RecordBatch, RecordBatchReader};
use bytes::Bytes;

use super::exports_folder::ExportsAt;
use super::gathered::Gathered;
use super::naming::Naming;
use super::small_rows::small_rows;
use super::source::{Source, on_the_grid, unfit};
use super::tables_made::Made;
use super::threads::Threads;
use super::worker;
use super::{left_open, open_site};
use crate::audit::Audit;
use crate::error::{Error, Result, Trouble};
use crate::files;
use crate::pipeline::{Keep, OpenedHome, Prepared, waits};
use crate::site::{Site, read_site_file};
use crate::tables::{self, AlignedStream, Table, WeatherRows};

/// What messages call a site file and a roster that are no files.
const TEXTS: [&str; 2] = ["site file", "roster"];
/// What messages call tables that are handed over.
const HANDED_OVER: [&str; 2] = ["aligned table", "weather table"];

/// A site, and where its exports are had.
#[derive(Clone, Debug)]
pub struct Subject {
    site: Site,
    site_file: String,
    exports: Option<ExportsAt>,
    /// What is no export, wherever it lies.
    own: Vec<PathBuf>,
}

/// What is asked of an audit.
pub struct Asked<'a> {
    /// The tables that are wanted, by their names; `None`: all of them.
    pub tables: Option<&'a [String]>,
    /// Threads; `None`: one per core.
    pub threads: Option<u16>,
    /// Asked between homes whether to go on.
    pub go_on: &'a mut dyn FnMut() -> bool,
}

/// What an audit came to.
pub struct Audited {
    /// Standing, cases, findings, notes of each home; of metrics and events what the building says.
    pub audit: Audit,
    /// Each table that was wanted with its rows, in as many parts as it was made in, one at least.
    pub tables: Vec<(&'static Table, Vec<RecordBatch>)>,
}

impl Subject {
    /// A site file of the disk with its roster, and the folder of exports that it names.
    ///
    /// # Errors
    /// [`Error::Disk`], and [`Error::Mistakes`] with every mistake of both files.
    pub fn open(site_file: &Path) -> Result<Self> {
        let (site, inputs) = open_site(site_file)?;
        let exports = Some(ExportsAt::of_site(site_file, &site));
        let beside = site_file.parent().unwrap_or(Path::new(""));
        let own = inputs.iter().map(|input| files::named(beside, &input.name)).collect();
        Ok(Self { site, site_file: site_file.display().to_string(), exports, own })
    }

    /// The text of a site file, and the bytes of a roster, whatever the site file calls it; exports are still to be named.
    ///
    /// # Errors
    /// [`Error::Mistakes`] with every mistake of both.
    pub fn of_texts(site: &str, roster: &[u8]) -> Result<Self> {
        let [site_file, roster_file] = TEXTS;
        let site = read_site_file(site_file, site).with_roster(roster_file, roster)?;
        Ok(Self { site, site_file: site_file.to_owned(), exports: None, own: Vec::new() })
    }

    /// The same with the exports of another folder.
    #[must_use]
    pub fn with_folder(self, folder: PathBuf) -> Self {
        Self { exports: Some(ExportsAt::Folder(folder)), ..self }
    }

    /// The same with exports in memory, by the names that the roster has for their files.
    #[must_use]
    pub fn with_exports(self, exports: BTreeMap<String, Bytes>) -> Self {
        Self { exports: Some(ExportsAt::Memory(exports)), ..self }
    }

    /// The whole way from exports to tables, homes side by side.
    ///
    /// # Errors
    /// [`Error::NothingToRead`] where none of the exports is there; [`Error::Unfit`] where a table is wanted that there is not;
    /// [`Error::Stopped`] where it was not to go on; as `evenrooms audit` else.
    pub fn audit(&self, asked: Asked<'_>) -> Result<Audited> {
        let Asked { tables, threads, go_on } = asked;
        let mut made = Made::of(tables)?;
        let exports = self.exports.clone().ok_or_else(no_exports)?;
        let threads = &Threads::start(threads)?;
        let from = (self.site_file.as_str(), exports);
        let source = Source::exports(threads, self.site.clone(), from, Naming::AsWritten)?;
        made.start(&source.prepared)?;
        let wanted = made.wanted();
        let work = |opened: OpenedHome| {
            let home = opened.judge();
            let batches = home.settled_batches(|table| wanted.contains(&table.name))?;
            Ok((batches, home.keep(Keep::ForTables)))
        };
        let gathered = Gathered::of(&source, &self.own, threads, work, |(batches, kept)| {
            if !go_on() {
                return Err(Error::Stopped);
            }
            batches.into_iter().for_each(|(table, batch)| made.add(table, batch));
            Ok(kept)
        })?;
        let notes = [source.notes.clone(), left_open(source.site()), gathered.notes].concat();
        let (homes, rows) = (gathered.building.homes, gathered.building.rows);
        let waited = homes.iter().flat_map(|home| &home.metrics).filter(|row| waits(row));
        let late = waited.chain(&rows.rows).chain(rows.of_homes.iter().flatten());
        made.add_metrics(&gathered.site, late)?;
        let outdoor = source.prepared.into_outdoor();
        let building = rows.rows;
        let audit = Audit { site: gathered.site, homes, outdoor, building, notes, from_aligned: false };
        small_rows(&audit, |table, rows| made.add_rows(table, &rows.collect::<Vec<_>>()))?;
        Ok(Audited { audit, tables: made.finish()? })
    }

    /// Metric rows of homes from their rows of the aligned table, home by home; what the building says of its homes is not among
    /// them. `weather`: the weather table of the audit that made the rows, which a site with weather is not judged without.
    ///
    /// # Errors
    /// [`Error::Unfit`] where a table lacks columns, or its rows do not fit the site.
    pub fn metrics(
        &self,
        aligned: impl RecordBatchReader,
        weather: Option<impl RecordBatchReader>,
    ) -> Result<Vec<RecordBatch>> {
        let [of_aligned, of_weather] = HANDED_OVER.map(|name| move |t: Trouble| unfit(Path::new(name), t));
        let weather = match weather {
            Some(weather) => weather_of(weather, &self.site).map_err(&of_weather)?,
            None if self.site.outdoor.is_some() => {
                return Err(worker::no_weather(HANDED_OVER[1], "hand it over too"));
            }
            None => WeatherRows::default(),
        };
        let prepared = Prepared::restored(self.site.clone(), weather);
        let site = prepared.site();
        let mut homes = AlignedStream::of(aligned, site).map_err(&of_aligned)?;
        let mut batches = Vec::new();
        worker::judged(&prepared, &mut homes, &of_aligned, |rows| {
            let rows: Vec<_> = rows.iter().map(|row| tables::metric_cells(&site.name, row)).collect();
            batches.push(tables::METRICS.batch(&rows)?);
            Ok(())
        })?;
        if batches.is_empty() {
            batches.push(tables::METRICS.batch(&[])?);
        }
        Ok(batches)
    }
}

fn no_exports() -> Error {
    Error::NothingToRead {
        place: TEXTS[0].to_owned(),
        what: "no exports were named, and a site file that is no file has no folder beside it".to_owned(),
        hint: "name a folder of exports, or hand over their bytes".to_owned(),
    }
}

/// The weather of a table that is handed over, on the site's grid.
fn weather_of(reader: impl RecordBatchReader, site: &Site) -> std::result::Result<WeatherRows, Trouble> {
    let weather = tables::weather_of(reader, site)?;
    on_the_grid(site, std::iter::once(&weather.times_ms[..]))?;
    Ok(weather)
}
