//! A time in which the loggers lay side by side, as an audit tells it: home by home, on the grid of an audit.
//!
//! Settled here, and why:
//! - **Side by side in a draft** is told as an audit tells a box (`quality/together.rs`), home by home on the audit's own
//!   grid; of several homes the time that all share, else that of all loggers together; it names the loggers that the
//!   audit would find together. Where none part at once, it is enough that they lie apart in the middle of the rest: it
//!   is proposed as a comment, and a person knows.

use std::collections::BTreeMap;

use super::Candidate;
use crate::clock::{HOUR_MS, LocalTime};
use crate::exports::Readings;
use crate::grid::{Resampling, Stretch, resample};
use crate::quality::checks::resolution;
use crate::quality::colocation::{self, Beside, CheckMade};
use crate::quality::together::{InOnePlace, Parting, in_one_place, to_the_edge};
use crate::quality::{Corrected, Flagged};
use crate::site::{Alignment, DEFAULT_ACCURACY, QualityLimits};
use crate::units::KelvinDiff;

/// The grid of an audit whose site file says nothing else.
const HOW: Resampling = Resampling { step_ms: 300_000, max_gap_ms: 1_800_000, alignment: Alignment::Instant };
/// Shortest time that the homes must share.
const SHARED_MS: i64 = 3 * HOUR_MS;

/// A proposed side-by-side time.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Together {
    pub(super) from: String,
    pub(super) to: String,
    /// What speaks for it.
    pub(super) why: String,
    /// The loggers that an audit finds to have run together then.
    pub(super) loggers: Vec<String>,
}

/// Loggers in one place, and when, on the wall clock.
#[derive(Clone)]
struct Found {
    ms: (i64, i64),
    what: InOnePlace,
}

/// The time at the start, else at the end, in which the loggers of a home, of several homes or of all ran together and
/// after (before) which they did not.
pub(super) fn find(candidates: &[Candidate<'_>]) -> Option<Together> {
    let placed: Vec<&Candidate<'_>> =
        candidates.iter().filter(|c| c.dates.is_none() && c.wall_known()).collect();
    let mut homes: BTreeMap<Option<String>, Vec<&Candidate<'_>>> = BTreeMap::new();
    for candidate in &placed {
        homes.entry(candidate.any_home()).or_default().push(candidate);
    }
    [Parting::AtOnce, Parting::InTheLongRun].into_iter().find_map(|parting| {
        let of_homes: Vec<(Found, &Vec<&Candidate<'_>>)> = homes
            .values()
            .flat_map(|home| of_loggers(home, parting).into_iter().map(move |found| (found, home)))
            .collect();
        let found: Vec<Found> = of_homes.iter().map(|(found, _)| found.clone()).collect();
        let all: Vec<Found> = if homes.len() > 1 { of_loggers(&placed, parting) } else { Vec::new() };
        let whole = choose(&found, &all, homes.len()).and_then(|(ms, told)| of_which(&placed, ms, told));
        // Loggers that lay together home by home lay in several places: the largest of them is proposed.
        whole.or_else(|| {
            let mut of_homes: Vec<_> = of_homes.iter().collect();
            of_homes.sort_by_key(|(found, _)| std::cmp::Reverse(found.what.loggers));
            of_homes.into_iter().find_map(|(found, home)| {
                of_which(home, found.ms, found.told(&format!("{} loggers", found.what.loggers)))
            })
        })
    })
}

/// A proposal with the loggers that an audit would find together in it; `None` where it would refuse the time.
fn of_which(candidates: &[&Candidate<'_>], ms: (i64, i64), proposed: Together) -> Option<Together> {
    let (first, end) = (ms.0.div_euclid(HOW.step_ms), ms.1.div_euclid(HOW.step_ms));
    let beside = |candidate: &&Candidate<'_>| {
        let (stretch, _) = resampled(candidate);
        let inside = candidate
            .series
            .readings
            .iter()
            .filter(|(t, _)| (ms.0..ms.1).contains(&candidate.on_the_wall(*t)));
        let inside: Vec<f64> = inside.map(|(_, x)| candidate.degc(*x)).collect();
        let resolution = resolution(&inside);
        let at = |place: i64| usize::try_from(place - stretch.first).ok();
        let value = |place| at(place).and_then(|at| stretch.degc.get(at).copied()).unwrap_or(f64::NAN);
        let degc = (first..end).map(value).collect();
        Beside { degc, elsewhere: Vec::new(), accuracy: DEFAULT_ACCURACY, resolution, accepted: false }
    };
    let beside: Vec<Beside> = candidates.iter().map(beside).collect();
    let made = CheckMade { per_hour: (HOUR_MS / HOW.step_ms) as usize, independent: false };
    let checked = colocation::side_by_side(&beside, made).ok()?;
    let with = candidates.iter().zip(checked).filter(|(_, checked)| checked.taken_off().is_some());
    let mut loggers: Vec<String> = with.map(|(candidate, _)| candidate.logger.trim().to_owned()).collect();
    loggers.sort_unstable();
    loggers.dedup();
    (loggers.len() >= colocation::MIN_LOGGERS).then_some(Together { loggers, ..proposed })
}

/// Of what was found of each home, and of all loggers, what is proposed.
fn choose(found: &[Found], all: &[Found], homes: usize) -> Option<((i64, i64), Together)> {
    [true, false].into_iter().find_map(|start| {
        let at = |found: &'_ Found| found.what.at_start == start;
        let of_homes: Vec<&Found> = found.iter().filter(|f| at(f)).collect();
        let one = |found: &Found| (found.ms, found.told(&format!("{} loggers", found.what.loggers)));
        match (homes, of_homes.as_slice()) {
            (1, [only]) => Some(one(only)),
            (_, [_, _, ..]) => shared(&of_homes, homes),
            _ => all.iter().find(|f| at(f)).map(one),
        }
    })
}

/// The time that the loggers of several homes share.
fn shared(found: &[&Found], homes: usize) -> Option<((i64, i64), Together)> {
    let ms = (found.iter().map(|f| f.ms.0).max()?, found.iter().map(|f| f.ms.1).min()?);
    let worst = found.iter().map(|f| f.what.spread_k.0).fold(0.0, f64::max);
    let least_apart = found.iter().map(|f| f.what.spread_k.1).fold(f64::INFINITY, f64::min);
    let what = InOnePlace { spread_k: (worst, least_apart), ..found.first()?.what.clone() };
    let who = format!("the loggers of {} of {homes} homes, home by home,", found.len());
    (ms.1 - ms.0 >= SHARED_MS).then(|| (ms, Found { ms, what }.told(&who)))
}

impl Found {
    fn told(&self, who: &str) -> Together {
        let show = |ms: i64| LocalTime::from_ms(ms).show();
        let (place, then) = if self.what.at_start { ("start", "afterwards") } else { ("end", "before") };
        let (inside, outside) = self.what.spread_k;
        let hours = (self.ms.1 - self.ms.0) as f64 / HOUR_MS as f64;
        Together {
            from: show(self.ms.0),
            to: show(self.ms.1),
            loggers: Vec::new(),
            why: format!(
                "{who} ran within {inside:.1} K of each other for {hours:.0} h at the {place}, and {outside:.1} K apart {then}"
            ),
        }
    }
}

/// What an audit finds among the rooms of some loggers.
fn of_loggers(candidates: &[&Candidate<'_>], parting: Parting) -> Vec<Found> {
    let mut rooms: BTreeMap<(Option<String>, &str), Vec<Stretch>> = BTreeMap::new();
    let mut steps_k = Vec::new();
    for candidate in candidates {
        let (stretch, resolution) = resampled(candidate);
        steps_k.push(resolution.k());
        let room = candidate.room.as_deref().unwrap_or(&candidate.logger);
        rooms.entry((candidate.any_home(), room)).or_default().push(stretch);
    }
    let stretches = || rooms.values().flatten().filter(|s| !s.degc.is_empty());
    let Some(first) = stretches().map(|s| s.first).min() else { return Vec::new() };
    let end = stretches().map(|s| s.first + s.degc.len() as i64).max().unwrap_or(first);
    let laid: Vec<Vec<f64>> = rooms.values().map(|room| laid(room, first, (end - first) as usize)).collect();
    let laid: Vec<&[f64]> = laid.iter().map(Vec::as_slice).collect();
    let ms = |place: usize| (first + place as i64) * HOW.step_ms;
    let on_the_wall = |c: &&Candidate<'_>| c.ends.map(|(a, b)| (c.on_the_wall(a), c.on_the_wall(b)));
    let ends: Vec<(i64, i64)> = candidates.iter().filter_map(on_the_wall).collect();
    let told = |what: InOnePlace| {
        let on_grid = (ms(what.range.start), ms(what.range.end));
        Found { ms: to_the_edge(on_grid, what.at_start, HOW.step_ms, &ends), what }
    };
    in_one_place(&laid, HOW.step_ms, steps_k, parting).into_iter().map(told).collect()
}

/// A logger on the grid of an audit, on the wall clock, and its resolution.
fn resampled(candidate: &Candidate<'_>) -> (Stretch, KelvinDiff) {
    let rows: Vec<(i64, Option<f64>)> = candidate
        .series
        .readings
        .iter()
        .map(|(ms, x)| (candidate.on_the_wall(*ms), Some(candidate.degc(*x))))
        .collect();
    let flagged = Flagged::new(Readings::from_series(&rows), &QualityLimits::default());
    let resolution = resolution(flagged.readings().degc());
    (resample(&Corrected::new(&flagged, None, true), HOW), resolution)
}

/// The loggers of a room on one grid.
fn laid(stretches: &[Stretch], first: i64, len: usize) -> Vec<f64> {
    let mut degc = vec![f64::NAN; len];
    for stretch in stretches {
        let from = (stretch.first - first) as usize;
        for (place, x) in degc[from..].iter_mut().zip(&stretch.degc).filter(|(_, x)| !x.is_nan()) {
            *place = *x;
        }
    }
    degc
}
