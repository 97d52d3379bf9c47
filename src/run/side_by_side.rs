//! The side-by-side check across all loggers of a site.
#![expect(clippy::disallowed_methods, reason = "part of the room that runs things side by side")]

use std::collections::BTreeMap;
use std::path::Path;

use rayon::prelude::*;

use super::sources;
use crate::clock::{Span, UtcTime};
use crate::error::{Error, Mistake, Note, Result};
use crate::exports::{self, Opened, Purpose};
use crate::files;
use crate::grid::{AlignedHome, RoomSeries};
use crate::pipeline::{LoggerKey, Offsets, logger_key};
use crate::quality::checks::resolution;
use crate::quality::colocation::{self, Beside, Checked, NotTogether};
use crate::quality::{Corrected, Flagged};
use crate::site::{Colocation, DEFAULT_ACCURACY, Home, Placement, Site};
use crate::units::{KelvinDiff, TemperatureUnit};

/// The side-by-side check, where the site has one: what came of each logger, and the site with the accuracies that follow.
///
/// # Errors
/// [`Error::Mistakes`] where the loggers did not run together; `site_file` is where that time stands.
pub(super) fn side_by_side(
    mut site: Site,
    folder: &Path,
    site_file: &str,
) -> Result<(Site, Offsets, Vec<Note>)> {
    let Some(colocation) = site.colocation.clone() else { return Ok((site, Offsets::new(), Vec::new())) };
    let read = |home: &Home| -> Result<Vec<(LoggerKey, (String, Beside))>> {
        let (files, _) = files::read_exports(folder, sources(home));
        let opened = exports::open_home(&site, home, &files, Purpose::Colocation)?;
        let placements = home.rooms.iter().flat_map(|r| &r.placements).zip(opened.into_iter().flatten());
        let there = placements.filter(|(p, _)| colocation.holds_for(&p.logger));
        let named = |p: &Placement| (logger_key(p), p.logger.told().to_owned());
        let one = |(p, o): (&Placement, Opened)| {
            let (key, told) = named(p);
            (key, (told, beside(&site, &colocation, p, o)))
        };
        Ok(there.map(one).collect())
    };
    let mut series: BTreeMap<LoggerKey, (String, Beside)> = BTreeMap::new();
    for home in site.homes.par_iter().map(read).collect::<Vec<_>>() {
        series.extend(home?.into_iter().filter(|(_, (_, b))| b.degc.iter().any(|x| !x.is_nan())));
    }
    let (keys, named): (Vec<LoggerKey>, Vec<(String, Beside)>) = series.into_iter().unzip();
    let (names, loggers): (Vec<String>, Vec<Beside>) = named.into_iter().unzip();
    let checked = colocation::side_by_side(&loggers, DEFAULT_ACCURACY)
        .map_err(|apart| refused(&site, &colocation, site_file, (&apart, &names)))?;
    let checked: Offsets = keys.into_iter().zip(checked).collect();
    let units = site.units;
    let placements = site.homes.iter_mut().flat_map(|h| &mut h.rooms).flat_map(|r| &mut r.placements);
    let mut notes = Vec::new();
    for placement in placements.filter(|p| colocation.holds_for(&p.logger)) {
        match checked.get(&logger_key(placement)) {
            Some(Checked::With(check)) => placement.accuracy = placement.accuracy.or(Some(check.accuracy)),
            // A finding tells of it, where there are any.
            Some(Checked::Apart { .. }) => {}
            Some(Checked::FarOff { offset, .. }) => notes.push(far_off(units, placement, *offset)),
            Some(Checked::TooLittle) | None => notes.push(too_little(placement)),
        }
    }
    Ok((site, checked, notes))
}

fn too_little(placement: &Placement) -> Note {
    Note {
        place: format!("logger {}", placement.logger.told()),
        line: None,
        what: format!("has too little in common with other loggers in the side-by-side time ({} instants and {} loggers that agree are needed): no offset was taken off", colocation::MIN_INSTANTS, colocation::MIN_LOGGERS).into(),
        hint: "check [colocation] from and to, or leave the section out".to_owned(),
        unreadable: false,
    }
}

fn far_off(units: TemperatureUnit, placement: &Placement, offset: KelvinDiff) -> Note {
    let logger = placement.logger.told();
    Note {
        place: format!("logger {logger}"),
        line: None,
        what: format!(
            "read {} off the others side by side, more than its accuracy explains: that was not taken off",
            units.show_difference(offset)
        )
        .into(),
        hint: format!(
            "check the logger and the side-by-side dates; where that is right, in [colocation]: accept_offset_of = [{logger:?}]"
        ),
        unreadable: false,
    }
}

/// Loggers in told names that stand out, at most so many.
const TOLD: usize = 6;

/// Why a side-by-side time is refused.
fn refused(
    site: &Site,
    colocation: &Colocation,
    site_file: &str,
    (apart, names): (&NotTogether, &[String]),
) -> Error {
    let show = |k| site.units.show_difference(k);
    let one = |(at, checked): &(usize, Checked)| match checked {
        Checked::FarOff { offset, .. } => format!("{} {} off", names[*at], show(*offset)),
        Checked::Apart { wander, .. } => format!("{} wanders by ±{}", names[*at], show(*wander)),
        Checked::With(_) | Checked::TooLittle => names[*at].clone(),
    };
    let mut told: Vec<String> = apart.apart.iter().take(TOLD).map(one).collect();
    if apart.apart.len() > TOLD {
        told.push(format!("and {} more", apart.apart.len() - TOLD));
    }
    Error::Mistakes(vec![Mistake {
        file: site_file.to_owned(),
        line: Some(colocation.line),
        found: format!(
            "from {} to {} that {} of {} loggers do not run with the others ({})",
            site.zone.show(colocation.span.from),
            site.zone.show(colocation.span.to),
            apart.apart.len(),
            apart.compared,
            told.join(", ")
        ),
        expected: "a time in which the loggers lay side by side".to_owned(),
        hint: "check `from` and `to` of [colocation]; where only some loggers lay there, name them: loggers = [\"…\", \"…\", \"…\"]; where they never did, leave the section out".to_owned(),
    }])
}

/// One logger on the grid of the side-by-side window.
fn beside(site: &Site, colocation: &Colocation, placement: &Placement, opened: Opened) -> Beside {
    let flagged = Flagged::new(opened.readings, &site.quality);
    let resolution = resolution(flagged.readings().degc());
    Beside {
        degc: on_window(site, &flagged, colocation.span),
        accuracy: placement.accuracy.unwrap_or(DEFAULT_ACCURACY),
        resolution,
        accepted: colocation.accepts(&placement.logger),
    }
}

fn on_window(site: &Site, flagged: &Flagged, window: Span) -> Vec<f64> {
    let series = RoomSeries {
        placements: vec![(Corrected::new(flagged, None, site.quality.use_suspect), window)],
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
