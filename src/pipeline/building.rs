//! The homes of a building held against each other, once each is judged by itself.
//!
//! Settled here, and why:
//! - **Cases are made at the home** and told anew what the building adds: made at the end, all metrics, events and
//!   loggers of every home would have to wait in memory until then.

use std::collections::BTreeMap;

use chrono::Datelike;

use super::result::KeptHome;
use crate::audit::HomeAudit;
use crate::cases;
use crate::findings::{self, SeriesPlace};
use crate::metrics::{
    BuildingRows, EVENNESS_VERDICT, HomeHours, MetricRow, at_once, is_of_many, rows_over_homes,
};
use crate::quality::LoggerRow;
use crate::quality::copies::{self, Sketch};
use crate::site::Site;
use crate::units::Celsius;

/// A file of the exports folder that the roster does not name, and the sketch of a series in it.
pub type Unnamed = (String, Sketch);

/// What is known of files, to find copies: those that the roster does not name, and the digest of each export.
#[derive(Clone, Copy, Debug)]
pub struct BesideRoster<'a> {
    /// Series of files that the roster does not name.
    pub unnamed: &'a [Unnamed],
    /// The digest of each export, by its name in results.
    pub digests: &'a BTreeMap<String, String>,
}

/// What came of a building.
pub struct Building {
    /// What came of each home, in roster order, with what the others say of it.
    pub homes: Vec<HomeAudit>,
    /// Metric rows of the building (their home is empty), and of each home beside the others.
    pub rows: BuildingRows,
    /// Files that the roster does not name and that hold nothing beyond one that it does, which stands beside each.
    pub copies: Vec<(String, String)>,
}

impl Building {
    /// The building of some homes, in roster order; `files`: `None` where nothing is known of files.
    pub fn of(site: &Site, kept: Vec<KeptHome>, files: Option<BesideRoster<'_>>) -> Self {
        let (mut hours, mut pooled) = (Vec::new(), Vec::new());
        let of_home = |kept: KeptHome| {
            hours.push(kept.hours);
            pooled.push(kept.pooled);
            (kept.audit, kept.sketches)
        };
        let homes: Vec<(HomeAudit, Vec<Sketch>)> = kept.into_iter().map(of_home).collect();
        let (mut homes, copies) = match files {
            Some(files) => with_copies_told(site, homes, files),
            None => (homes.into_iter().map(|(audit, _)| audit).collect(), Vec::new()),
        };
        let mut rows = beside_each_other(site, &mut homes, &hours);
        rows.rows.extend(rows_over_homes(&pooled));
        rows.rows.extend(verdicts_at_once(site, &mut homes));
        Self { homes, rows, copies }
    }
}

/// Tells of series that are copies of each other, in the homes of their rooms; each comes with what was kept of the series of
/// its loggers. No room of which the readings are also those of another keeps a verdict on evenness. Beside the homes: the
/// unnamed files that hold nothing beyond a file of the roster, with it.
pub fn with_copies_told(
    site: &Site,
    homes: Vec<(HomeAudit, Vec<Sketch>)>,
    beside: BesideRoster<'_>,
) -> (Vec<HomeAudit>, Vec<(String, String)>) {
    let (mut homes, sketches): (Vec<HomeAudit>, Vec<Vec<Sketch>>) = homes.into_iter().unzip();
    let (mut series, mut all) = (Vec::new(), Vec::new());
    for (number, (home, sketches)) in homes.iter().zip(&sketches).enumerate() {
        for (logger, sketch) in home.loggers.iter().zip(sketches) {
            series.push(SeriesPlace {
                room: Some((number, logger.room.clone())),
                logger: logger.logger.clone(),
                file: logger.file.clone(),
                record: sketch.record(),
            });
            all.push(sketch);
        }
    }
    for (file, sketch) in beside.unnamed {
        let record = sketch.record();
        series.push(SeriesPlace { room: None, logger: file.clone(), file: file.clone(), record });
        all.push(sketch);
    }
    let mut pairs = copies::pairs(&all);
    let known: Vec<(usize, usize)> = pairs.iter().map(|(a, b, _)| (*a, *b)).collect();
    let same = same_files(&series, beside.digests).into_iter().filter(|pair| !known.contains(pair));
    pairs.extend(same.filter_map(|(a, b)| Some((a, b, all[a].same(all[b])?))));
    for (home, finding) in findings::copies(site, &series, &pairs) {
        add_finding(site, &mut homes[home], finding);
    }
    for (home, audit) in site.homes.iter().zip(&mut homes) {
        let without = findings::without_evenness(home, &mut audit.findings, &mut audit.not_judged);
        let keeps = |row: &MetricRow| {
            (row.metric != &EVENNESS_VERDICT && !is_of_many(row))
                || row.room.as_ref().is_none_or(|room| !without.contains(room))
        };
        audit.metrics.retain(keeps);
        audit.findings.sort_by_key(|f| f.severity);
        cases::forget_findings(&mut audit.cases, &mut audit.criteria, &audit.findings, &without);
    }
    let copies = findings::older_copies(&series, &pairs);
    (homes, copies)
}

/// Adds the p values that are adjusted for all rooms to the homes; the answer is the row of the building.
fn verdicts_at_once(site: &Site, homes: &mut [HomeAudit]) -> Option<MetricRow> {
    let all: Vec<&[MetricRow]> = homes.iter().map(|home| &home.metrics[..]).collect();
    let (rows, building) = at_once(&all, site.judged_period());
    for (home, row) in rows {
        homes[home].metrics.push(row);
    }
    building
}

/// Adds a finding that was known only once all homes were read.
fn add_finding(site: &Site, home: &mut HomeAudit, finding: crate::findings::Finding) {
    let ends = home.loggers.iter().filter_map(LoggerRow::record).map(|record| record.to);
    let year = ends.max().map_or(0, |end| site.zone.date(end).year());
    cases::add_finding(&mut home.cases, &finding, (&home.judged_period, site.zone, year));
    home.findings.push(finding);
    home.findings.sort_by_key(|f| f.severity);
}

/// Pairs of series whose files are the same byte by byte, each pair once.
fn same_files(series: &[SeriesPlace], digests: &BTreeMap<String, String>) -> Vec<(usize, usize)> {
    let mut of_digest: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (at, place) in series.iter().enumerate() {
        if let Some(digest) = digests.get(&place.file) {
            of_digest.entry(digest).or_default().push(at);
        }
    }
    // Of very many the neighbours are enough: each of them is named.
    let pairs = of_digest.values().flat_map(|same| same.windows(2).map(|pair| (pair[0], pair[1])));
    pairs.collect()
}

/// Holds every home against the others: rows of the building, and of each home into its audit; findings about cold say how
/// warm the rest of the building was.
fn beside_each_other(site: &Site, homes: &mut [HomeAudit], hours: &[HomeHours]) -> BuildingRows {
    let records = homes.iter().enumerate().filter_map(|(home, audit)| {
        let loggers = audit.loggers.iter().filter_map(LoggerRow::record);
        Some((home, findings::half_record(loggers)?))
    });
    for (home, finding) in findings::shorter_records(site, &records.collect::<Vec<_>>()) {
        add_finding(site, &mut homes[home], finding);
    }
    cases::building_cold(&mut homes.iter_mut().map(|home| &mut home.cases).collect::<Vec<_>>());
    let building = BuildingRows::of(site, hours);
    for ((audit, hours), rows) in homes.iter_mut().zip(hours).zip(&building.of_homes) {
        audit.metrics.extend(rows.iter().cloned());
        for finding in audit.findings.iter_mut().filter(|f| f.is_about_cold()) {
            if let Some((median, own)) = building.beside(hours, &finding.times) {
                finding.tell_building(site.units, Celsius::new(median), Celsius::new(own));
            }
        }
    }
    building
}
