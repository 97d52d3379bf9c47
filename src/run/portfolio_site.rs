//! The results of one audit, read for a portfolio.

use std::path::Path;

use crate::error::{Error, Result, Trouble};
use crate::files::{Held, Input, ResultSet};
use crate::portfolio::{MetricIn, OneSite};
use crate::tables::{
    ACCEPTANCE, CASES, EVENTS, FINDINGS, Format, LOGGERS, METRICS, NOT_JUDGED, ROOMS, Row, Table,
    has_columns, read_csv, read_parquet,
};
use crate::texts;

/// The tables that are put together, and in which of their formats; the rooms come first, and all but the loggers' must be there: an audit of an
/// aligned table has none of loggers.
static MERGED: [(&Table, Format); 8] = [
    (&ROOMS, Format::Parquet),
    (&ACCEPTANCE, Format::Csv),
    (&CASES, Format::Parquet),
    (&METRICS, Format::Parquet),
    (&EVENTS, Format::Parquet),
    (&FINDINGS, Format::Parquet),
    (&NOT_JUDGED, Format::Csv),
    (&LOGGERS, Format::Csv),
];

/// A table of a site.
pub(super) struct Part {
    pub(super) table: &'static Table,
    pub(super) format: Format,
    pub(super) input: Input,
}

/// Where a site's results lie.
pub(super) struct Source {
    pub(super) results: ResultSet,
    pub(super) parts: Vec<Part>,
}

/// A site that was read.
pub(super) struct Taken {
    pub(super) site: OneSite,
    pub(super) source: Source,
}

/// What to do where results are not of this version.
const AGAIN: &str = "audit this site again with this version of evenrooms";

/// Reads the results of an audit: every table that is put together is held against the provenance, and has this version's columns.
pub(super) fn take(folder: &Path) -> Result<Taken> {
    let results = ResultSet::open(folder)?;
    let unfit = |what: String, hint: &str| Error::Unfit {
        place: folder.display().to_string(),
        what,
        hint: hint.to_owned(),
    };
    if results.command() != "audit" {
        let what =
            format!("found results of `{}`, expected those of an audit", texts::shown(results.command()));
        return Err(unfit(what, "name the folder that `evenrooms audit --out` wrote"));
    }
    let mut site = OneSite::begin(results.about()).ok_or_else(|| {
        unfit("its provenance names no site, version or period that decides".to_owned(), AGAIN)
    })?;
    let mut parts = Vec::new();
    for (table, format) in MERGED {
        let name = format!("{}.{}", table.name, format.ending());
        if !results.has(&name) {
            if table.name == LOGGERS.name {
                continue;
            }
            let what =
                format!("its audit (version {}) wrote no {name}, expected one", texts::shown(&site.version));
            return Err(unfit(what, AGAIN));
        }
        let (held, input) = results.held(&name)?;
        let part = Part { table, format, input };
        // Not held open: of very many sites no system has so many files.
        read(&mut site, &part, held).map_err(|trouble| Error::Unfit {
            place: folder.join(&name).display().to_string(),
            what: trouble.what.told(),
            hint: trouble.hint,
        })?;
        parts.push(part);
    }
    if let Some(home) = site.without_standing() {
        let what =
            format!("nothing says where home {} stands, expected it of every home", texts::shown(home));
        return Err(unfit(what, AGAIN));
    }
    Ok(Taken { site, source: Source { results, parts } })
}

/// Hands the rows of a table on; of a table of which no number is made only the columns are looked at.
fn read(site: &mut OneSite, part: &Part, held: Held) -> std::result::Result<(), Trouble> {
    let name = site.name.clone();
    let own = |row: &Row<'_>| row.text("site") == Some(&name);
    match part.table.name {
        "rooms" => read_parquet(part.table, held, |row| known(row, own(row).then(|| room(site, row)))),
        "cases" => read_parquet(part.table, held, |row| known(row, own(row).then(|| case(site, row)))),
        "metrics" => read_parquet(part.table, held, |row| known(row, own(row).then(|| metric(site, row)))),
        "acceptance" => {
            let bytes = held.bytes().map_err(|e| Trouble::new(e.to_string(), AGAIN))?;
            read_csv(part.table, &bytes, |row| known(row, own(row).then(|| criterion(site, row))))
        }
        _ if part.format == Format::Csv => {
            let bytes = held.bytes().map_err(|e| Trouble::new(e.to_string(), AGAIN))?;
            read_csv(part.table, &bytes, |row| known(row, own(row).then_some(Some(()))))
        }
        _ => has_columns(part.table, &held),
    }
}

/// A row of another site, or one that this version does not understand.
fn known(row: &Row<'_>, taken: Option<Option<()>>) -> std::result::Result<(), Trouble> {
    let home = texts::name(row.text("home").unwrap_or_default());
    match taken {
        Some(Some(())) => Ok(()),
        Some(None) => {
            let what = format!("found a row of home {home} with a word that this version does not know");
            Err(Trouble::new(what, AGAIN))
        }
        None => Err(Trouble::new(format!("found a row of home {home} of another site"), AGAIN)),
    }
}

fn room(site: &mut OneSite, row: &Row<'_>) -> Option<()> {
    site.add_room(row.text("home")?, row.text("room")?, row.text("use")?)
}

fn criterion(site: &mut OneSite, row: &Row<'_>) -> Option<()> {
    site.add_criterion(
        row.text("home")?,
        row.text("standing")?,
        (row.text("criterion")?, row.text("answer")?),
    )
}

fn case(site: &mut OneSite, row: &Row<'_>) -> Option<()> {
    site.add_case(row.text("home")?, row.text("severity")?, (row.text("course")?, row.text("sentence")?))
}

fn metric(site: &mut OneSite, row: &Row<'_>) -> Option<()> {
    if row.text("slice")? != "all" || row.text("period")? != site.period {
        return Some(());
    }
    let ends = row.number("low").zip(row.number("high"));
    site.add_metric(&MetricIn {
        home: row.text("home").unwrap_or_default(),
        room: row.text("room"),
        metric: row.text("metric")?,
        value: row.number("value")?,
        interval: ends.zip(row.text("interval")).map(|((low, high), words)| (low, high, words)),
        hours: row.number("hours_observed")?,
    })
}
