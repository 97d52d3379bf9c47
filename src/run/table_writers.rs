//! What writes the tables while the homes come.
#![expect(clippy::disallowed_methods, reason = "one thread waits for the disk")]

use std::path::Path;
use std::thread;

use super::source::Source;
use crate::audit::HomeAudit;
use crate::error::Result;
use crate::exports::{SetAside, SetAsides};
use crate::files::{Digested, Outputs, PROVENANCE, Results, Syncing};
use crate::metrics::BuildingRows;
use crate::pipeline::{EncodedHome, KeptHome, waits};
use crate::site::Site;
use crate::tables::encode::{Csv, Json};
use crate::tables::{self, Cell, Format, GroupFile, Page, ParquetFile, Table, Written};

/// Name of the Data Package descriptor.
pub(super) const DATA_PACKAGE: &str = "datapackage.json";
/// Rows of a small table that are encoded together.
const ROWS_TOGETHER: usize = 8192;

/// Opens a folder for results; a thread of its own waits for the disk while they are made.
pub(super) fn begin(folder: &Path, results: Results) -> Result<Outputs> {
    let start =
        |syncing: Syncing| thread::Builder::new().name("disk".to_owned()).spawn(move || syncing.run());
    Outputs::begin(folder, results, start)
}

/// A table of which one cell after the other is written, in each of its formats.
pub(super) struct SmallTable {
    csv: Option<(String, Csv<Digested>)>,
    json: Option<(String, Json)>,
    parquet: Option<(String, ParquetFile<Digested>)>,
}

impl SmallTable {
    pub(super) fn start(table: &'static Table, outputs: &mut Outputs) -> Result<Self> {
        let mut started = Self { csv: None, json: None, parquet: None };
        for (format, name) in table.files() {
            match format {
                Format::Csv => {
                    let csv = Csv::start(table, outputs.create(&name)?)?;
                    started.csv = Some((name, csv));
                }
                Format::Json => started.json = Some((name, Json::start(table))),
                Format::Parquet => {
                    let parquet = ParquetFile::start(table, outputs.create(&name)?)?;
                    started.parquet = Some((name, parquet));
                }
            }
        }
        Ok(started)
    }

    pub(super) fn add<'a>(&mut self, mut rows: impl Iterator<Item = Vec<Cell<'a>>>) -> Result<()> {
        loop {
            let some: Vec<_> = rows.by_ref().take(ROWS_TOGETHER).collect();
            if some.is_empty() {
                return Ok(());
            }
            if let Some((_, csv)) = &mut self.csv {
                csv.add(&some)?;
            }
            if let Some((_, json)) = &mut self.json {
                json.add(&some);
            }
            if let Some((_, parquet)) = &mut self.parquet {
                parquet.add(&some)?;
            }
        }
    }

    pub(super) fn finish(self, outputs: &mut Outputs) -> Result<()> {
        if let Some((name, csv)) = self.csv {
            outputs.close(&name, csv.finish()?)?;
        }
        if let Some((name, json)) = self.json {
            outputs.write(&name, &json.finish()?)?;
        }
        if let Some((name, parquet)) = self.parquet {
            outputs.close(&name, parquet.finish()?)?;
        }
        Ok(())
    }
}

/// A small table from all of its rows.
pub(super) fn write_table<'a>(
    table: &'static Table,
    rows: impl Iterator<Item = Vec<Cell<'a>>>,
    outputs: &mut Outputs,
) -> Result<()> {
    let mut small = SmallTable::start(table, outputs)?;
    small.add(rows)?;
    small.finish(outputs)
}

/// What is in the provenance, for the Data Package.
const OF_PROVENANCE: &str = "where the numbers come from: version, settings in force, inputs with their SHA-256, row ledger, notes; it holds the SHA-256 of every result, of this descriptor too, so that its own cannot stand here";

/// The Data Package of a folder, of which all tables and pages are written; the provenance comes last.
pub(super) fn write_data_package(
    site: &Site,
    tables: &[&'static Table],
    mut pages: Vec<Page>,
    outputs: &mut Outputs,
) -> Result<()> {
    let written =
        |name: &str| outputs.ended(name).map(|(bytes, sha256)| Written { bytes, sha256: sha256.to_owned() });
    pages.push(Page { path: PROVENANCE.to_owned(), about: OF_PROVENANCE });
    let package = tables::data_package(site, (tables, &pages), written);
    outputs.write(DATA_PACKAGE, &package)
}

/// The tables that are written home by home, so that their rows need not be kept.
pub(super) struct HomeTables {
    site: String,
    metrics: SmallTable,
    events: SmallTable,
    of_exports: Option<OfExports>,
}

/// Those that only exports give.
struct OfExports {
    readings: GroupFile<Digested>,
    weather: GroupFile<Digested>,
    aligned: GroupFile<Digested>,
    set_aside: SmallTable,
}

impl HomeTables {
    /// Starts the tables, with the rows of the weather.
    pub(super) fn start(outputs: &mut Outputs, from_aligned: bool, source: &Source) -> Result<Self> {
        let mut metrics = SmallTable::start(&tables::METRICS, outputs)?;
        let (site, prepared) = (&source.site().name, &source.prepared);
        let of_weather = prepared.outdoor().into_iter().flat_map(|o| &o.metrics);
        metrics.add(of_weather.map(|row| tables::metric_cells(site, row)))?;
        let events = SmallTable::start(&tables::EVENTS, outputs)?;
        let site = site.to_owned();
        if from_aligned {
            return Ok(Self { site, metrics, events, of_exports: None });
        }
        let mut file = |table: &'static Table| GroupFile::start(table, outputs.create(&parquet_name(table))?);
        let (readings, aligned) = (file(&tables::READINGS)?, file(&tables::ALIGNED)?);
        let mut weather = file(&tables::WEATHER)?;
        if let Some(series) = prepared.weather() {
            weather.add(tables::weather_group(&site, series)?)?;
        }
        let mut set_aside = SmallTable::start(&tables::SET_ASIDE, outputs)?;
        if let Some(of_outdoor) = prepared.outdoor_set_aside() {
            add_rows_set_aside(&mut set_aside, (&site, ""), of_outdoor)?;
        }
        let of_exports = Some(OfExports { readings, weather, aligned, set_aside });
        Ok(Self { site, metrics, events, of_exports })
    }

    /// Adds a home; the answer is what is kept of it.
    pub(super) fn add_home(&mut self, home: EncodedHome) -> Result<KeptHome> {
        let (site, EncodedHome { rows, keep, readings, aligned }) = (&self.site, home);
        let metrics = rows.metrics.iter().filter(|row| !waits(row));
        self.metrics.add(metrics.map(|row| tables::metric_cells(site, row)))?;
        self.events.add(rows.events.iter().map(|event| tables::event_cells(site, event)))?;
        if let Some(tables) = &mut self.of_exports {
            tables.readings.add(readings)?;
            tables.aligned.add(aligned)?;
            add_rows_set_aside(&mut tables.set_aside, (site, &rows.home.name), &rows.set_aside)?;
        }
        Ok(rows.keep(keep))
    }

    /// Ends the tables, with what had to wait for all homes, and how each stands beside the building.
    pub(super) fn finish(
        mut self,
        homes: &[HomeAudit],
        building: &BuildingRows,
        outputs: &mut Outputs,
    ) -> Result<()> {
        let waited = homes.iter().flat_map(|home| &home.metrics).filter(|row| waits(row));
        let site = &self.site;
        self.metrics.add(waited.map(|row| tables::metric_cells(site, row)))?;
        let rows = building.rows.iter().chain(building.of_homes.iter().flatten());
        self.metrics.add(rows.map(|row| tables::metric_cells(site, row)))?;
        self.metrics.finish(outputs)?;
        self.events.finish(outputs)?;
        let Some(OfExports { readings, weather, aligned, set_aside }) = self.of_exports else {
            return Ok(());
        };
        outputs.close(&parquet_name(&tables::READINGS), readings.finish()?)?;
        outputs.close(&parquet_name(&tables::ALIGNED), aligned.finish()?)?;
        outputs.close(&parquet_name(&tables::WEATHER), weather.finish()?)?;
        set_aside.finish(outputs)
    }
}

/// Adds what a home of a site lost, or the weather (an empty name): some rows at a time, so that no more are held in memory.
fn add_rows_set_aside(
    table: &mut SmallTable,
    (site, home): (&str, &str),
    set_aside: &SetAsides,
) -> Result<()> {
    let mut rows = set_aside.iter();
    loop {
        let some: Vec<SetAside> = rows.by_ref().take(ROWS_TOGETHER).collect();
        if some.is_empty() {
            return Ok(());
        }
        table.add(some.iter().map(|row| tables::set_aside_cells(site, home, row)))?;
    }
}

fn parquet_name(table: &Table) -> String {
    format!("{}.{}", table.name, Format::Parquet.ending())
}
