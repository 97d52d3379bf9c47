//! The side-by-side check across all loggers of a site.

use std::collections::BTreeMap;

use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::error::{Error, Mistake, Note, Result};
use crate::exports::{self, Files, Opened, Purpose};
use crate::grid::{AlignedHome, RoomSeries};
use crate::quality::checks::resolution;
use crate::quality::colocation::{self, AsElsewhere, Beside, CheckMade, Checked, NotTogether};
use crate::quality::{Corrected, Flagged};
use crate::site::{Colocation, DEFAULT_ACCURACY, Home, Placement, Site};
use crate::units::{Accuracy, KelvinDiff, TemperatureUnit};

/// Which series of a site a logger's offset belongs to: the logger, and its column where it has several.
pub(super) type LoggerKey = (String, Option<String>);

/// The key of a placement's series.
pub(super) fn logger_key(placement: &Placement) -> LoggerKey {
    (placement.logger.own().to_owned(), placement.sources.first().and_then(|s| s.column.clone()))
}

/// What came of each logger in the side-by-side time.
pub(super) type Offsets = BTreeMap<LoggerKey, Checked>;

/// What the loggers of a home recorded while they lay side by side, and at other times.
pub struct HomeBeside(Vec<(LoggerKey, (String, Beside))>);

impl HomeBeside {
    /// Reads it; nothing where the site has no side-by-side time.
    pub(super) fn of(site: &Site, home: &Home, files: &Files) -> Result<Self> {
        let Some(colocation) = &site.colocation else { return Ok(Self(Vec::new())) };
        let opened = exports::open_home(site, home, files, Purpose::Colocation)?;
        let placements = home.rooms.iter().flat_map(|r| &r.placements).zip(opened.into_iter().flatten());
        let there = placements.filter(|(p, _)| colocation.holds_for(&p.logger));
        let one = |(p, o): (&Placement, Opened)| {
            (logger_key(p), (p.logger.told().to_owned(), beside(site, colocation, p, o)))
        };
        Ok(Self(there.map(one).collect()))
    }
}

/// What the loggers of all homes recorded then.
#[derive(Default)]
pub(super) struct AllBeside(BTreeMap<LoggerKey, (String, Beside)>);

impl AllBeside {
    /// Adds a home, in roster order.
    pub(super) fn add(&mut self, home: HomeBeside) {
        for (key, one) in home.0 {
            match self.0.get_mut(&key) {
                Some((_, known)) => known.fill(&one.1),
                None => drop(self.0.insert(key, one)),
            }
        }
    }

    /// What came of each logger, and the site with the accuracies that follow.
    ///
    /// # Errors
    /// [`Error::Mistakes`] where the loggers did not run together; `site_file` is where that time stands.
    pub(super) fn settle(self, site: Site, site_file: &str) -> Result<(Site, Offsets, Vec<Note>)> {
        let Some(colocation) = site.colocation.clone() else { return Ok((site, Offsets::new(), Vec::new())) };
        let mut series = self.0;
        series.retain(|_, (_, beside)| beside.degc.iter().any(|x| !x.is_nan()));
        let (keys, named): (Vec<LoggerKey>, Vec<(String, Beside)>) = series.into_iter().unzip();
        let (names, loggers): (Vec<String>, Vec<Beside>) = named.into_iter().unzip();
        let made = CheckMade {
            per_hour: (HOUR_MS / site.step_ms).max(1) as usize,
            independent: colocation.independent,
        };
        let mut checked = colocation::side_by_side(&loggers, made)
            .map_err(|apart| refused(&site, &colocation, site_file, apart_words(&site, &apart, &names)))?;
        match colocation::as_elsewhere(&loggers, &checked) {
            Some(_) if colocation.on_its_word => checked.iter_mut().for_each(Checked::take_word_for_time),
            Some(same) => {
                return Err(refused(&site, &colocation, site_file, elsewhere_words(&site, same)));
            }
            None => {}
        }
        let checked: Offsets = keys.into_iter().zip(checked).collect();
        let (site, notes) = with_accuracies(&site, &colocation, &checked);
        Ok((site, checked, notes))
    }
}

/// The site with the accuracies that the check gives, whatever the roster states; and what is told of loggers without an offset.
fn with_accuracies(site: &Site, colocation: &Colocation, checked: &Offsets) -> (Site, Vec<Note>) {
    let mut notes = Vec::new();
    let site = site.with(|facts| {
        let placements = facts.homes.iter_mut().flat_map(|h| &mut h.rooms).flat_map(|r| &mut r.placements);
        for placement in placements.filter(|p| colocation.holds_for(&p.logger)) {
            match checked.get(&logger_key(placement)) {
                Some(Checked::With(check)) => {
                    placement.checked = check.good_to.map(|good_to| good_to.accuracy);
                }
                // A finding tells of it, where there are any.
                Some(Checked::Apart { .. }) => {}
                Some(Checked::FarOff { offset, .. }) => notes.push(far_off(facts.units, placement, *offset)),
                Some(Checked::TooLittle) | None => notes.push(too_little(placement)),
            }
        }
    });
    (site, notes)
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

/// Loggers that did not run together, in words, and what to do.
fn apart_words(site: &Site, apart: &NotTogether, names: &[String]) -> [String; 2] {
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
    let what = format!(
        "{} of {} loggers do not run with the others ({})",
        apart.apart.len(),
        apart.compared,
        told.join(", ")
    );
    [what, "where only some loggers lay there, name them: loggers = [\"…\", \"…\", \"…\"]".to_owned()]
}

/// Loggers that stand to each other as at other times, in words, and what to do.
fn elsewhere_words(site: &Site, same: AsElsewhere) -> [String; 2] {
    let show = |k| site.units.show_difference(k);
    let ([there, elsewhere], [moved, usually]) = (same.wander, same.moved);
    let what = format!(
        "the loggers stand to each other as they do before and after it (on the mean {} from where they stand at other times, which are {} from each other) and run no closer together (within {}, at other times within {}): were they together then?",
        show(moved),
        show(usually),
        show(there),
        show(elsewhere)
    );
    [what, "where they surely lay there, accept_without_evidence = true in [colocation]".to_owned()]
}

/// Why a side-by-side time is refused.
fn refused(site: &Site, colocation: &Colocation, site_file: &str, [what, hint]: [String; 2]) -> Error {
    let (from, to) = (site.zone.show(colocation.span.from), site.zone.show(colocation.span.to));
    Error::Mistakes(vec![Mistake {
        file: site_file.to_owned(),
        line: Some(colocation.line),
        found: format!("from {from} to {to} that {what}"),
        expected: "a time in which the loggers lay side by side".to_owned(),
        hint: format!(
            "check `from` and `to` of [colocation]; {hint}; where they never did, leave the section out"
        ),
    }])
}

/// One logger on the grid of the side-by-side window, and at other times where it stood in its room.
fn beside(site: &Site, colocation: &Colocation, placement: &Placement, opened: Opened) -> Beside {
    let flagged = Flagged::new(opened.readings, &site.quality);
    let resolution = resolution(flagged.readings().degc());
    let record = Record::new(site, &flagged, colocation.around());
    let placed = |t: UtcTime| placement.span.contains(t);
    // No value of the check rests on a reading before or after it.
    let inside = |t: &&i64| colocation.span.contains(UtcTime::from_ms(**t));
    let times = flagged.readings().times_ms();
    let ends = times.iter().find(inside).zip(times.iter().rev().find(inside));
    let checked = |t: UtcTime| ends.is_some_and(|(first, last)| (*first..=*last).contains(&t.ms()));
    let other = colocation.other_times().into_iter();
    Beside {
        degc: record.within(colocation.span, checked),
        elsewhere: other.map(|time| record.within(time, placed)).collect(),
        accuracy: placement.accuracy.unwrap_or(DEFAULT_ACCURACY),
        resolution,
        accepted: colocation.accepts(&placement.logger),
    }
}

/// The record of a logger on the grid.
struct Record {
    aligned: AlignedHome,
    step_ms: i64,
}

impl Record {
    fn new(site: &Site, flagged: &Flagged, around: Span) -> Self {
        let series = RoomSeries {
            placements: vec![(Corrected::new(flagged, None, site.quality.use_suspect), around)],
            accuracy: Accuracy::stated(DEFAULT_ACCURACY),
        };
        Self { aligned: AlignedHome::align(site, &[series]), step_ms: site.step_ms }
    }

    /// Its values at the instants of a time; NaN where it has none, or where they do not count.
    fn within(&self, time: Span, counts: impl Fn(UtcTime) -> bool) -> Vec<f64> {
        let first = time.from.ms().div_euclid(self.step_ms) * self.step_ms;
        let value = |t: i64| {
            let at = UtcTime::from_ms(t);
            let i = self.aligned.index_from(at);
            let here = i < self.aligned.len() && self.aligned.time(i) == at && counts(at);
            if here { self.aligned.rooms()[0].degc()[i] } else { f64::NAN }
        };
        (first..time.to.ms()).step_by(self.step_ms as usize).map(value).collect()
    }
}
