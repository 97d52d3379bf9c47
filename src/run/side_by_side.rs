//! The side-by-side check across all loggers of a site.
#![expect(clippy::disallowed_methods, reason = "part of the room that runs things side by side")]

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;

use super::sources;
use crate::clock::{Span, UtcTime};
use crate::error::{Note, Result};
use crate::exports::{self, Opened, Purpose};
use crate::files;
use crate::grid::{AlignedHome, RoomSeries};
use crate::pipeline::{LoggerKey, Offsets, logger_key};
use crate::quality::{Corrected, Flagged, colocation};
use crate::site::{DEFAULT_ACCURACY, Home, Site};

/// The side-by-side check, where the site has one: offsets to take off, and the site with the accuracies that follow.
pub(super) fn side_by_side(mut site: Site, folder: &Path) -> Result<(Site, Offsets, Vec<Note>)> {
    let Some(window) = site.colocation else { return Ok((site, Offsets::new(), Vec::new())) };
    let read = |home: &Home| -> Result<Vec<(LoggerKey, Vec<f64>)>> {
        let (files, _) = files::read_exports(folder, sources(home));
        let opened = exports::open_home(&site, home, &files, Purpose::Colocation)?;
        let placements = home.rooms.iter().flat_map(|r| &r.placements).zip(opened.into_iter().flatten());
        Ok(placements.map(|(p, o)| (logger_key(p), on_window(&site, o, window))).collect())
    };
    let mut series: BTreeMap<LoggerKey, Vec<f64>> = BTreeMap::new();
    for home in site.homes.par_iter().map(read).collect::<Vec<_>>() {
        series.extend(home?.into_iter().filter(|(_, s)| s.iter().any(|x| !x.is_nan())));
    }
    let (keys, values): (Vec<LoggerKey>, Vec<Vec<f64>>) = series.into_iter().unzip();
    let checked: BTreeMap<LoggerKey, colocation::SideBySide> = keys
        .into_iter()
        .zip(colocation::side_by_side(&values, DEFAULT_ACCURACY))
        .filter_map(|(k, c)| Some((k, c?)))
        .collect();
    let placements = site.homes.iter_mut().flat_map(|h| &mut h.rooms).flat_map(|r| &mut r.placements);
    let mut notes = Vec::new();
    for placement in placements {
        match checked.get(&logger_key(placement)) {
            Some(check) => placement.accuracy = placement.accuracy.or(Some(check.accuracy)),
            None => notes.push(Note {
                place: format!("logger {}", placement.logger.told()),
                line: None,
                what: format!("has too little in common with other loggers in the side-by-side time ({} instants and {} loggers are needed): no offset was taken off", colocation::MIN_INSTANTS, colocation::MIN_LOGGERS).into(),
                hint: "check [colocation] from and to, or leave the section out".to_owned(),
                unreadable: false,
            }),
        }
    }
    Ok((site, checked.into_iter().map(|(k, c)| (k, c.offset)).collect(), notes))
}

/// One logger on the grid of the side-by-side window.
fn on_window(site: &Site, opened: Opened, window: Span) -> Vec<f64> {
    let flagged = Flagged::new(opened.readings, &site.quality);
    let series = RoomSeries {
        placements: vec![(Corrected::new(&flagged, None, site.quality.use_suspect), window)],
        accuracy: DEFAULT_ACCURACY,
    };
    let aligned = AlignedHome::align(site, &[series]);
    let first = UtcTime::from_ms(window.from.ms().div_euclid(site.step_ms) * site.step_ms);
    let value = |t: i64| {
        let i = aligned.index_from(UtcTime::from_ms(t));
        let here = i < aligned.len() && aligned.time(i).ms() == t;
        if here { aligned.rooms()[0].degc()[i] } else { f64::NAN }
    };
    (first.ms()..window.to.ms()).step_by(site.step_ms as usize).map(value).collect()
}
