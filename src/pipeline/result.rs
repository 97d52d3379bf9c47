//! What came of one home: all of it, for its tables; and what is kept of it, for the building and the report.

use arrow::record_batch::RecordBatch;

use super::TRACE_PAIRS;
use crate::audit::HomeAudit;
use crate::error::Result;
use crate::exports::SetAsides;
use crate::grid::AlignedHome;
use crate::metrics::{self, EVENNESS_VERDICT, Event, HomeHours, MetricRow, PooledOfHome, Slice};
use crate::quality::copies::Sketch;
use crate::site::{Home, Site};
use crate::tables::{self, Group, ReadingsRows, Table};

/// All that came of one home by itself; the other homes of its building may add findings, and take verdicts back.
pub struct HomeResult {
    pub(super) site: Site,
    pub(super) rows: HomeRows,
    pub(super) readings: ReadingsRows,
    pub(super) aligned: AlignedHome,
}

/// What came of a home, but for its rows of the two large tables.
pub struct HomeRows {
    /// The home, with the accuracies that are in force.
    pub home: Home,
    /// Metric rows, of every slice.
    pub metrics: Vec<MetricRow>,
    /// Events, of every kind.
    pub events: Vec<Event>,
    /// Rows of its exports that did not become readings.
    pub set_aside: SetAsides,
    /// Loggers, findings, cases and notes; metrics and events stand beside it.
    pub(super) audit: HomeAudit,
    pub(super) hours: HomeHours,
    pub(super) sketches: Vec<Sketch>,
}

/// A home whose rows of the two large tables are encoded.
pub struct EncodedHome {
    /// All other rows.
    pub rows: HomeRows,
    /// What is to be kept of it.
    pub keep: Keep,
    /// A row group of the readings table.
    pub readings: Group,
    /// A row group of the aligned table.
    pub aligned: Group,
}

/// What is kept of a home until all homes are read.
pub struct KeptHome {
    /// The home, with the accuracies that are in force.
    pub home: Home,
    /// Loggers, findings, cases, notes; and as many metrics and events as were asked for.
    pub audit: HomeAudit,
    /// Its hourly means, for the rest of the building.
    pub hours: HomeHours,
    /// What is kept of each logger's series, in the order of the loggers, to find its copies.
    pub sketches: Vec<Sketch>,
    /// Its numbers that are pooled over homes.
    pub pooled: PooledOfHome,
}

/// What is to be kept of a home.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// All metrics and events.
    Everything,
    /// Metrics of whole periods, the longest events below the heat rule's minimum, and the curves.
    ForReport,
    /// The same events, and the metrics that the rest of the building may change; no curve.
    ForTables,
}

impl HomeResult {
    /// Metric rows, of every slice.
    pub fn metrics(&self) -> &[MetricRow] {
        &self.rows.metrics
    }

    /// Events, of every kind.
    pub fn events(&self) -> &[Event] {
        &self.rows.events
    }

    /// Rows of its exports that did not become readings.
    pub const fn set_aside(&self) -> &SetAsides {
        &self.rows.set_aside
    }

    /// Loggers, findings, cases and notes.
    pub const fn audit(&self) -> &HomeAudit {
        &self.rows.audit
    }

    /// Encodes its rows of the two large tables, which are let go; `keep`: what is to be kept of it afterwards.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn encode(mut self, keep: Keep) -> Result<EncodedHome> {
        self.draw(keep);
        let Self { site, rows, readings, aligned } = self;
        let readings = readings.encode(&site.name, &rows.home.name)?;
        let aligned = tables::aligned_group(&site.name, &rows.home, &aligned)?;
        Ok(EncodedHome { rows, keep, readings, aligned })
    }

    /// What is kept of it; the rest is let go.
    pub fn keep(mut self, keep: Keep) -> KeptHome {
        self.draw(keep);
        self.rows.keep(keep)
    }

    /// Adds the curves and what else its pictures show, where they are to be kept.
    fn draw(&mut self, keep: Keep) {
        if keep != Keep::ForTables {
            self.rows.audit.trace = self.aligned.trace(TRACE_PAIRS);
            self.rows.audit.pictures = metrics::pictures(&self.site, &self.rows.home, &self.aligned);
        }
    }

    /// The rows that no other home can change, in memory, of those of their tables that are wanted: readings, aligned, set_aside,
    /// metrics but those that wait, events.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn settled_batches(
        &self,
        wanted: impl Fn(&Table) -> bool,
    ) -> Result<Vec<(&'static Table, RecordBatch)>> {
        let HomeRows { home, metrics, events, set_aside, .. } = &self.rows;
        let site = &self.site.name;
        let mut batches = Vec::new();
        if wanted(&tables::READINGS) {
            batches.push((&tables::READINGS, self.readings.batch(site, &home.name)?));
        }
        if wanted(&tables::ALIGNED) {
            batches.push((&tables::ALIGNED, tables::aligned_batch(site, home, &self.aligned)?));
        }
        let mut add = |table: &'static Table, rows: &dyn Fn() -> Result<RecordBatch>| {
            if wanted(table) {
                batches.push((table, rows()?));
            }
            Ok(())
        };
        add(&tables::SET_ASIDE, &|| {
            let aside: Vec<_> = set_aside.iter().collect();
            let cells = aside.iter().map(|row| tables::set_aside_cells(site, &home.name, row));
            tables::SET_ASIDE.batch(&cells.collect::<Vec<_>>())
        })?;
        add(&tables::METRICS, &|| {
            let settled = metrics.iter().filter(|row| !waits(row));
            tables::METRICS.batch(&settled.map(|row| tables::metric_cells(site, row)).collect::<Vec<_>>())
        })?;
        add(&tables::EVENTS, &|| {
            let cells = events.iter().map(|row| tables::event_cells(site, row));
            tables::EVENTS.batch(&cells.collect::<Vec<_>>())
        })?;
        Ok(batches)
    }

    /// Every table of the home with its rows, in memory, by the schema that the table declares; one without rows too.
    ///
    /// # Errors
    /// [`crate::error::Error::Encode`]: a bug.
    pub fn batches(&self) -> Result<Vec<(&'static Table, RecordBatch)>> {
        let HomeRows { home, metrics, events, set_aside, audit, .. } = &self.rows;
        let site = &self.site.name;
        let standing = audit.standing();
        let aside: Vec<_> = set_aside.iter().collect();
        let cells = [
            (
                &tables::SET_ASIDE,
                aside.iter().map(|row| tables::set_aside_cells(site, &home.name, row)).collect(),
            ),
            (&tables::METRICS, metrics.iter().map(|row| tables::metric_cells(site, row)).collect()),
            (&tables::EVENTS, events.iter().map(|row| tables::event_cells(site, row)).collect()),
            (&tables::FINDINGS, audit.findings.iter().map(|row| tables::finding_cells(site, row)).collect()),
            (
                &tables::NOT_JUDGED,
                audit.not_judged.iter().map(|row| tables::not_judged_cells(site, row)).collect(),
            ),
            (&tables::CASES, audit.cases.iter().map(|row| tables::case_cells(site, row)).collect()),
            (
                &tables::ACCEPTANCE,
                audit.criteria.iter().map(|row| tables::criterion_cells(site, row, standing)).collect(),
            ),
            (&tables::ROOMS, home.rooms.iter().map(|room| tables::room_cells(site, home, room)).collect()),
            (&tables::LOGGERS, audit.loggers.iter().map(|row| tables::logger_cells(site, row)).collect()),
        ];
        let mut batches = vec![
            (&tables::READINGS, self.readings.batch(site, &home.name)?),
            (&tables::ALIGNED, tables::aligned_batch(site, home, &self.aligned)?),
        ];
        for (table, rows) in cells {
            let rows: Vec<Vec<tables::Cell<'_>>> = rows;
            batches.push((table, table.batch(&rows)?));
        }
        Ok(batches)
    }
}

impl HomeRows {
    /// What is kept of it; the rest is let go.
    pub fn keep(self, keep: Keep) -> KeptHome {
        let Self { home, mut audit, mut metrics, events, hours, sketches, .. } = self;
        let pooled = PooledOfHome::of(&home, &metrics);
        match keep {
            Keep::Everything => {}
            Keep::ForReport => metrics.retain(|row| row.slice == Slice::All || waits(row)),
            Keep::ForTables => metrics.retain(waits),
        }
        metrics.shrink_to_fit();
        (audit.metrics, audit.events) = (metrics, events);
        if keep != Keep::Everything {
            audit.keep_longest_shortfalls();
        }
        KeptHome { home, audit, hours, sketches, pooled }
    }
}

/// Whether a row is known only when all homes are read: a copy in another home takes a verdict on evenness back.
pub fn waits(row: &MetricRow) -> bool {
    row.metric == &EVENNESS_VERDICT || metrics::is_of_many(row)
}
