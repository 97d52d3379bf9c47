//! Times of a record that are not, or may not be, the air of its room: each with what speaks for it.
//!
//! A reading is left out of the numbers only where there is evidence: never because it is extreme, and never because a
//! room is steady. What is only unusual stays in, and is counted both ways.

use super::handled::{self, Edges};
use super::place;
use super::repeats::{Repeat, repeats};
use super::stuck::{self, Moved};
use super::{Flag, Flagged, brought, unit};
use crate::clock::Span;
use crate::clock::UtcTime;
use crate::quality::peer_check::PeerCheck;
use crate::site::{QualityLimits, Test};
use crate::units::TemperatureUnit;

/// What was seen.
#[derive(Clone, Debug, PartialEq)]
pub enum Seen {
    /// One value, while a witness moved by so much that the room must have.
    Stuck {
        /// The value, °C.
        degc: f64,
        /// The longest other run of the logger, hours.
        longest_other_h: f64,
        /// Who moved, and what that makes of the room.
        moved: Moved,
    },
    /// One value for unusually long, and no witness.
    Flat {
        /// The value, °C.
        degc: f64,
        /// The longest other run of the logger, hours.
        longest_other_h: f64,
    },
    /// Readings in °F that are taken for °C, or the other way round.
    WrongUnit {
        /// The unit that they were read in.
        read: TemperatureUnit,
        /// Their median, as read, °C.
        median_degc: f64,
        /// The same in the other unit, °C.
        other_degc: f64,
        /// Median of the other rooms, °C, where there are any that can be right.
        others_degc: Option<f64>,
    },
    /// Exactly 0.0 from one reading to the next, and back again.
    Zeros {
        /// The value, °C.
        degc: f64,
        /// How many readings.
        readings: usize,
    },
    /// In a hand, a bag or another place at the start or the end of a download.
    Handled {
        /// At the start, else at the end.
        at_start: bool,
        /// How far from its usual distance to the other rooms, K.
        away_k: f64,
        /// Whether it moved as a thing that is carried, and not only further than it ever does.
        quick: bool,
    },
    /// It follows the outdoor air.
    Outdoors {
        /// Mean distance to the outdoor air meanwhile, K.
        off_k: f64,
        /// How much colder (below 0) or warmer outdoors was than the other rooms, K.
        others_k: f64,
    },
    /// Far colder than every other room from one half hour to the next, without an outdoor series to hold it against.
    Away {
        /// Mean distance to the other rooms meanwhile, less the usual one, K.
        by_k: f64,
    },
    /// In a colder place at the start of its record, left by a jump that no room makes.
    Brought {
        /// By how much it jumped, K.
        jump_k: f64,
    },
    /// From a jump on at no level beside the other rooms any more.
    Unsettled {
        /// By how much it jumped, K.
        by_k: f64,
        /// From the lowest to the highest tenth of its distances to the other rooms afterwards, K.
        swing_k: f64,
    },
    /// With the other loggers of the home in one place.
    Together {
        /// How many they are.
        loggers: usize,
        /// Their median spread meanwhile, and afterwards (before, at the end), K.
        spread_k: (f64, f64),
        /// At the start, else at the end.
        at_start: bool,
    },
}

impl Seen {
    /// The test that says it.
    pub const fn test(&self) -> Test {
        match self {
            Seen::Stuck { .. } | Seen::Flat { .. } => Test::FlatLine,
            Seen::WrongUnit { .. } | Seen::Zeros { .. } => Test::GrossRange,
            _ => Test::Place,
        }
    }

    /// What becomes of the readings: left out where there is evidence, else used and counted both ways.
    pub const fn flag(&self) -> Flag {
        match self {
            Seen::Flat { .. }
            | Seen::Away { .. }
            | Seen::Brought { .. }
            | Seen::Unsettled { .. }
            | Seen::Together { .. } => Flag::Suspect,
            _ => Flag::Fail,
        }
    }
}

/// A time of a record, and what was seen in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Episode {
    /// When.
    pub span: Span,
    /// What.
    pub seen: Seen,
}

impl Episode {
    /// Says of the readings of its time what was seen.
    pub fn mark(&self, flagged: &mut Flagged, limits: &QualityLimits) {
        flagged.mark(self.seen.test(), self.span, self.seen.flag(), limits);
    }
}

/// The rooms of a home on the grid, and the outdoor air at the same instants.
#[derive(Clone, Copy, Debug)]
pub struct Witnesses<'a> {
    /// Each room beside the others.
    pub side: &'a PeerCheck<'a>,
    /// Outdoor temperature, NaN where missing.
    pub outdoor: Option<&'a [f64]>,
    /// The first instant.
    pub first: UtcTime,
}

impl Witnesses<'_> {
    /// Instants within a span, as places on the grid.
    pub(super) fn within(&self, span: Span) -> std::ops::Range<usize> {
        let (step, len) = (self.side.step_ms(), self.side.len() as i64);
        let at = |t: UtcTime| {
            let ms = t.ms().saturating_sub(self.first.ms());
            ((ms.div_euclid(step) + i64::from(ms.rem_euclid(step) != 0)).clamp(0, len)) as usize
        };
        at(span.from)..at(span.to)
    }

    /// The time of a range of places on the grid.
    pub(super) fn span(&self, range: std::ops::Range<usize>) -> Span {
        Span { from: self.time(range.start), to: self.time(range.end) }
    }

    /// The instant of a place on the grid.
    pub(super) fn time(&self, i: usize) -> UtcTime {
        self.first.plus_ms(i as i64 * self.side.step_ms())
    }
}

/// One logger in one room, as it was flagged without witnesses.
#[derive(Clone, Copy, Debug)]
pub struct Logger<'a> {
    /// Place of the room in the home.
    pub room: usize,
    /// Its readings.
    pub flagged: &'a Flagged,
    /// When it stood there, as the roster has it.
    pub placed: Span,
}

/// The episodes of each logger of a home, in order of time; what needs no witness is left to the tests of each reading.
///
/// # Source
/// METRICS, section 2: own definitions.
pub fn find(witnesses: &Witnesses<'_>, loggers: &[Logger<'_>], limits: &QualityLimits) -> Vec<Vec<Episode>> {
    let runs: Vec<Vec<Repeat>> =
        loggers.iter().map(|l| repeats(l.flagged.readings(), &limits.flat_line)).collect();
    let hourly = (runs.iter().any(|r| !r.is_empty())).then(|| stuck::Hourly::of(witnesses, loggers));
    let units = unit::wrong(witnesses, loggers);
    let together = super::together::find(witnesses, loggers);
    let mut found = Vec::with_capacity(loggers.len());
    for ((logger, runs), wrong_unit) in loggers.iter().zip(&runs).zip(units) {
        let mut episodes: Vec<Episode> = wrong_unit.into_iter().collect();
        if episodes.is_empty() {
            let zeros = super::zeros::bursts(logger.flagged.readings());
            let told = |e: &Episode| zeros.iter().any(|zero| zero.span.overlaps(&e.span));
            let stuck = hourly.as_ref().map(|hourly| stuck::judge(hourly, witnesses, logger, runs));
            episodes.extend(stuck.into_iter().flatten().filter(|e| !told(e)));
            episodes.extend(zeros);
            episodes.extend(place::outdoors(witnesses, logger));
            episodes.extend(place::unsettled(witnesses, logger));
            let in_box = together.iter().filter(|e| witnesses.overlaps_record(logger, e.span));
            let parting = |e: &Episode| match e.seen {
                Seen::Together { at_start: false, .. } => e.span.from,
                _ => e.span.to,
            };
            let boxed: Vec<UtcTime> = in_box.clone().map(parting).collect();
            episodes.extend(in_box.cloned());
            // One of those in a box may have been in a bag before, and what is far colder at an edge of a record too.
            let told = |e: &&Episode| !matches!(e.seen, Seen::Together { .. } | Seen::Away { .. });
            let busy: Vec<Span> = episodes.iter().filter(told).map(|e| e.span).collect();
            let handled = handled::handled(witnesses, logger, &Edges::of(logger, &boxed), &busy);
            let in_hand = |e: &Episode| handled.iter().any(|h| h.span.overlaps(&e.span));
            episodes.retain(|e| !(matches!(e.seen, Seen::Away { .. }) && in_hand(e)));
            episodes.extend(handled);
            let brought = brought::brought(witnesses, logger).filter(|e| !covered(&episodes, e));
            episodes.extend(brought);
        }
        episodes.sort_by_key(|e| e.span.from);
        found.push(episodes);
    }
    without_rooms_that_cool(&mut found);
    found
}

/// Whether most of a time is told by something else.
fn covered(episodes: &[Episode], of: &Episode) -> bool {
    let inside =
        episodes.iter().filter(|e| e.span.overlaps(&of.span)).map(|e| e.span.intersect(&of.span).hours());
    inside.sum::<f64>() > of.span.hours() / 2.0
}

/// Takes back hands and bags that were only told by a slow fall, where two loggers of the home have one at a time: rooms
/// that cool without heat do that, and a bag that holds several loggers is entered at once.
fn without_rooms_that_cool(found: &mut [Vec<Episode>]) {
    let slow = |e: &Episode| matches!(e.seen, Seen::Handled { quick: false, away_k, .. } if away_k < 0.0);
    let falls: Vec<(usize, Span)> = (0..found.len())
        .flat_map(|logger| found[logger].iter().filter(|e| slow(e)).map(move |e| (logger, e.span)))
        .collect();
    for (logger, episodes) in found.iter_mut().enumerate() {
        let others =
            |e: &Episode| falls.iter().any(|(other, span)| *other != logger && span.overlaps(&e.span));
        episodes.retain(|e| !(slow(e) && others(e)));
    }
}

impl Witnesses<'_> {
    fn overlaps_record(&self, logger: &Logger<'_>, span: Span) -> bool {
        let times = logger.flagged.readings().times_ms();
        let ends = times.first().zip(times.last());
        ends.is_some_and(|(a, b)| *a < span.to.ms() && *b >= span.from.ms())
    }
}
