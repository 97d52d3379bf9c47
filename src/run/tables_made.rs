//! Tables in the making, in memory.

use arrow::record_batch::RecordBatch;

use crate::error::{Error, Result};
use crate::exports::SetAside;
use crate::metrics::MetricRow;
use crate::pipeline::Prepared;
use crate::site::Site;
use crate::tables::{self, Cell, TABLES, Table};

/// The tables that are wanted, as far as they are made.
pub(super) struct Made(Vec<(&'static Table, Vec<RecordBatch>)>);

impl Made {
    /// None of their rows yet; `names`: which are wanted, `None`: all.
    ///
    /// # Errors
    /// [`Error::Unfit`] where there is no table of a name.
    pub(super) fn of(names: Option<&[String]>) -> Result<Self> {
        let strange = names.unwrap_or_default().iter().find(|name| TABLES.iter().all(|t| t.name != **name));
        if let Some(name) = strange {
            let all: Vec<&str> = TABLES.iter().map(|table| table.name).collect();
            return Err(Error::Unfit {
                place: "tables".to_owned(),
                what: format!("found \"{name}\", expected names of tables"),
                hint: format!("there are {}", all.join(", ")),
            });
        }
        let is_wanted =
            |table: &&Table| names.is_none_or(|names| names.iter().any(|name| name == table.name));
        Ok(Self(TABLES.into_iter().filter(is_wanted).map(|table| (table, Vec::new())).collect()))
    }

    /// The names of those that are wanted.
    pub(super) fn wanted(&self) -> Vec<&'static str> {
        self.0.iter().map(|(table, _)| table.name).collect()
    }

    /// Adds what comes before the homes: what became of the weather.
    ///
    /// # Errors
    /// [`Error::Encode`]: a bug.
    pub(super) fn start(&mut self, prepared: &Prepared) -> Result<()> {
        let site = prepared.site();
        if let Some(series) = prepared.weather() {
            self.add(&tables::WEATHER, tables::weather_batch(&site.name, series)?);
        }
        if let Some(outdoor) = prepared.outdoor() {
            self.add_metrics(site, &outdoor.metrics)?;
        }
        let aside: Vec<SetAside> =
            prepared.outdoor_set_aside().into_iter().flat_map(|all| all.iter()).collect();
        let rows: Vec<_> = aside.iter().map(|row| tables::set_aside_cells(&site.name, "", row)).collect();
        self.add_rows(&tables::SET_ASIDE, &rows)
    }

    /// Adds rows of the metrics table.
    ///
    /// # Errors
    /// [`Error::Encode`]: a bug.
    pub(super) fn add_metrics<'a>(
        &mut self,
        site: &Site,
        rows: impl IntoIterator<Item = &'a MetricRow>,
    ) -> Result<()> {
        let rows: Vec<_> = rows.into_iter().map(|row| tables::metric_cells(&site.name, row)).collect();
        self.add_rows(&tables::METRICS, &rows)
    }

    /// Adds rows by their cells.
    ///
    /// # Errors
    /// [`Error::Encode`]: a bug.
    pub(super) fn add_rows(&mut self, table: &'static Table, rows: &[Vec<Cell<'_>>]) -> Result<()> {
        if let Some(parts) = self.parts(table) {
            parts.push(table.batch(rows)?);
        }
        Ok(())
    }

    /// Adds a part of a table, where it is wanted.
    pub(super) fn add(&mut self, table: &'static Table, part: RecordBatch) {
        if let Some(parts) = self.parts(table) {
            parts.push(part);
        }
    }

    fn parts(&mut self, table: &Table) -> Option<&mut Vec<RecordBatch>> {
        self.0.iter_mut().find(|(wanted, _)| wanted.name == table.name).map(|(_, parts)| parts)
    }

    /// The tables; parts without rows are left out, but for the only one.
    ///
    /// # Errors
    /// [`Error::Encode`]: a bug.
    pub(super) fn finish(self) -> Result<Vec<(&'static Table, Vec<RecordBatch>)>> {
        let mut tables = self.0;
        for (table, parts) in &mut tables {
            parts.retain(|part| part.num_rows() > 0);
            if parts.is_empty() {
                parts.push(table.batch(&[])?);
            }
        }
        Ok(tables)
    }
}
