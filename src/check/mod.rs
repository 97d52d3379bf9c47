//! Mid-way and on the day of the download: whether every logger's record goes on. Nothing is said of how warm a room is.
//!
//! What happened to a record is told by the rules of an audit ([`crate::findings`]); here stands what only a look at
//! files and at the ends of records tells, and where somebody must go.
//!
//! Settled here, and why:
//! - **What could not be read never runs.** A file that is missing or not understood sends somebody, as a logger that stopped
//!   does: nobody knows that it records.
//! - **Where somebody must go** is decided by whether the record goes wrong to its end. What was wrong and is over is to be
//!   looked at when somebody is there; what only the roster must be told needs no visit.
//! - **The end that counts** is the latest of a home, but for a record whose clock is in doubt or that is of another time: one
//!   clock that is ahead must not make all others seem to have stopped, and many that stopped must not look as if they ran.
//! - **When they were read out** may be said ([`Seen::read_out`]): then all of a building that stopped together stopped too. Without
//!   it the newest reading is the latest that anybody knows of.
//! - **Stopped** is a record that ends [`STOPPED_H`] before the others of its home: loggers of one home are read out within an
//!   hour or two, and on the way back it is too late. A whole home is held against the building with a day in hand.

mod ends;
mod told;

pub use ends::{BEGINS_LATE_H, HOME_BEHIND_H, STOPPED_H};

use std::collections::{BTreeMap, BTreeSet};

use crate::audit::HomeAudit;
use crate::clock::{Span, UtcTime};
use crate::error::Note;
use crate::quality::LoggerRow;
use crate::site::{Home, Placement, Site};

/// Whether somebody must go there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Somebody must go there.
    Go,
    /// The record goes on; something is to be looked at by whoever is there, or to be written into the roster.
    Look,
    /// The record goes on.
    Runs,
    /// The roster ended the placement before the newest reading, and the record is there.
    Ended,
}

impl State {
    /// All states, the most pressing first.
    pub const ALL: [State; 4] = [State::Go, State::Look, State::Runs, State::Ended];

    /// The word for lists.
    pub const fn word(self) -> &'static str {
        match self {
            State::Go => "go",
            State::Look => "look",
            State::Runs => "runs",
            State::Ended => "ended",
        }
    }

    /// What it asks for.
    pub const fn meaning(self) -> &'static str {
        match self {
            State::Go => "somebody must go there",
            State::Look => "it records; look when you are there, or mend the roster",
            State::Runs => "it records",
            State::Ended => "it was taken away, as the roster says",
        }
    }
}

/// Something that is wrong with a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Trouble {
    /// What it asks for.
    pub state: State,
    /// A few words for a list: `stopped`, `logger fading`.
    pub words: &'static str,
    /// What is seen, in a sentence; with marks around what is quoted.
    pub shows: crate::texts::Words,
    /// What to do.
    pub to_do: String,
    /// What to bring; empty: nothing.
    pub bring: &'static str,
}

/// A file of the roster, and whether it is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileSeen {
    /// Its name.
    pub name: String,
    /// Whether it is in the folder of the exports.
    pub there: bool,
}

/// One logger where the roster places it.
#[derive(Debug)]
pub struct LoggerCheck<'a> {
    /// The room.
    pub room: &'a str,
    /// Where and when it is placed.
    pub placement: &'a Placement,
    /// Its exports.
    pub files: Vec<FileSeen>,
    /// Its record, as an audit tells it.
    pub row: &'a LoggerRow,
    /// Hours from its last reading to the newest of the site.
    pub behind_h: Option<f64>,
    /// Whether the roster ends its placement before the newest reading of the site.
    pub over: bool,
    /// What is wrong, the most pressing first.
    pub troubles: Vec<Trouble>,
}

impl LoggerCheck<'_> {
    /// Whether it runs: never without a reading.
    pub fn state(&self) -> State {
        let fine = if self.over { State::Ended } else { State::Runs };
        self.troubles.iter().map(|t| t.state).filter(|s| *s < State::Runs).min().unwrap_or(fine)
    }

    /// From when to when the roster places it, in local time.
    pub fn placed(&self, site: &Site) -> String {
        let Span { from, to } = self.placement.span;
        match (from > Span::ALWAYS.from, to < Span::ALWAYS.to) {
            (false, false) => "all the time".to_owned(),
            (true, false) => format!("from {}", site.zone.show(from)),
            (false, true) => format!("until {}", site.zone.show(to)),
            (true, true) => format!("{} to {}", site.zone.show(from), site.zone.show(to)),
        }
    }
}

/// A home.
#[derive(Debug)]
pub struct HomeCheck<'a> {
    /// The home.
    pub home: &'a Home,
    /// Its loggers, in roster order.
    pub loggers: Vec<LoggerCheck<'a>>,
    /// Rooms for which the roster names no logger.
    pub without_logger: Vec<&'a str>,
    /// What is wrong with the home as a whole.
    pub troubles: Vec<Trouble>,
}

impl HomeCheck<'_> {
    /// The most pressing of the home.
    pub fn state(&self) -> State {
        let loggers = self.loggers.iter().map(LoggerCheck::state);
        loggers.chain(self.troubles.iter().map(|t| t.state)).min().unwrap_or(State::Runs).min(State::Runs)
    }

    /// How many of its loggers record, of how many that should.
    pub fn recording(&self) -> (usize, usize) {
        let count =
            |states: &[State]| self.loggers.iter().filter(|l| states.contains(&self.state_of(l))).count();
        (count(&[State::Look, State::Runs]), count(&[State::Go, State::Look, State::Runs]))
    }

    /// The state of one of its loggers: none of a home of which nothing new is there is known to run.
    pub fn state_of(&self, logger: &LoggerCheck<'_>) -> State {
        match logger.state() {
            State::Look | State::Runs if self.is_behind() => State::Go,
            state => state,
        }
    }

    /// Whether the home as a whole ends long before the others, or before it was read out.
    fn is_behind(&self) -> bool {
        self.troubles.iter().any(|t| t.words == ends::BEHIND)
    }
}

/// All of a site.
#[derive(Debug)]
pub struct Check<'a> {
    /// The site.
    pub site: &'a Site,
    /// Its homes, the worst first; equal ones in roster order.
    pub homes: Vec<HomeCheck<'a>>,
    /// The newest reading.
    pub newest: Option<UtcTime>,
    /// When the loggers were read out, where that was said.
    pub read_out: Option<UtcTime>,
    /// What is told of the site, and of files that the roster does not name.
    pub notes: &'a [Note],
}

/// What was read of a site.
#[derive(Clone, Copy, Debug)]
pub struct Seen<'a> {
    /// The site.
    pub site: &'a Site,
    /// Homes in the order of the site, with the findings about their records.
    pub audits: &'a [HomeAudit],
    /// Files of the roster that are not there.
    pub missing: &'a BTreeSet<String>,
    /// When the loggers were read out, where somebody says so.
    pub read_out: Option<UtcTime>,
    /// What is told of the site as a whole.
    pub notes: &'a [Note],
}

impl<'a> Check<'a> {
    /// Looks at every logger of the roster.
    pub fn of(seen: Seen<'a>) -> Self {
        let pairs = || seen.site.homes.iter().zip(seen.audits);
        let end = |(_, audit): (_, &HomeAudit)| ends::of_home(seen.site, &audit.loggers);
        let ends: Vec<Option<Span>> = pairs().map(end).collect();
        let newest = ends.iter().flatten().map(|span| span.to).max();
        let one = |((home, audit), own): ((&'a Home, &'a HomeAudit), &Option<Span>)| {
            home_check(seen, (home, audit), *own, newest)
        };
        let mut homes: Vec<HomeCheck<'a>> = pairs().zip(&ends).map(one).collect();
        homes.sort_by_key(HomeCheck::state);
        Self { site: seen.site, homes, newest, read_out: seen.read_out, notes: seen.notes }
    }

    /// Every logger with its home.
    pub fn loggers(&self) -> impl Iterator<Item = (&HomeCheck<'a>, &LoggerCheck<'a>)> {
        self.homes.iter().flat_map(|h| h.loggers.iter().map(move |l| (h, l)))
    }

    /// How many loggers are in a state.
    pub fn count(&self, state: State) -> usize {
        self.loggers().filter(|(home, l)| home.state_of(l) == state).count()
    }

    /// Files that the roster names, and those of them that are there.
    pub fn files(&self) -> (usize, usize) {
        let files: BTreeMap<&str, bool> =
            self.loggers().flat_map(|(_, l)| &l.files).map(|f| (f.name.as_str(), f.there)).collect();
        (files.len(), files.values().filter(|there| **there).count())
    }

    /// Whether somebody must go anywhere.
    pub fn somebody_must_go(&self) -> bool {
        self.homes.iter().any(|h| h.state() == State::Go)
    }

    /// What to bring, each with how many loggers ask for it.
    pub fn bring(&self) -> Vec<(&'static str, usize)> {
        let troubles = |l: &LoggerCheck<'_>| {
            let go = l.troubles.iter().filter(|t| t.state != State::Runs);
            go.flat_map(|t| t.bring.split(", ")).filter(|b| !b.is_empty()).collect::<BTreeSet<&'static str>>()
        };
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        self.loggers().flat_map(|(_, l)| troubles(l)).for_each(|b| *counts.entry(b).or_default() += 1);
        counts.into_iter().collect()
    }
}

fn home_check<'a>(
    seen: Seen<'a>,
    (home, audit): (&'a Home, &'a HomeAudit),
    own: Option<Span>,
    newest: Option<UtcTime>,
) -> HomeCheck<'a> {
    let placements = home.rooms.iter().flat_map(|r| r.placements.iter().map(move |p| (r, p)));
    let logger = |((room, placement), row): ((&'a crate::site::Room, &'a Placement), &'a LoggerRow)| {
        let files: Vec<FileSeen> =
            placement.sources.iter().map(|s| file_seen(seen, s.file.own(), s.file.told())).collect();
        let behind = row.last_utc.zip(newest).map(|(last, newest)| Span { from: last, to: newest }.hours());
        let about = told::Logger { site: seen.site, audit, row, placement, own, newest };
        let mut troubles = told::troubles(&about, &files);
        troubles.sort_by_key(|t| t.state);
        LoggerCheck {
            room: &room.name,
            placement,
            files,
            row,
            behind_h: behind.map(|h| h.max(0.0)),
            over: newest.is_some_and(|newest| placement.span.to <= newest),
            troubles,
        }
    };
    let loggers = placements.zip(&audit.loggers).map(logger).collect();
    let rooms = home.rooms.iter().filter(|r| r.placements.is_empty());
    let mut troubles = told::of_home(seen.site, audit);
    troubles.extend(ends::behind(seen.site, &home.name, own, (newest, seen.read_out)));
    HomeCheck { home, loggers, without_logger: rooms.map(|r| r.name.as_str()).collect(), troubles }
}

fn file_seen(seen: Seen<'_>, own: &str, told: &str) -> FileSeen {
    FileSeen { name: told.to_owned(), there: !seen.missing.contains(own) }
}
