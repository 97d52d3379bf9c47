//! Corrections of the roster that records speak for, as data: the same that findings about records tell a person to write into it.
//!
//! Settled here, and why:
//! - **Only what a roster can say**: a clock, a time in a room, two loggers exchanged. What a sensor is off by is no matter of the
//!   roster, and a wrong time zone is one of the site file, for a person.
//! - **Nobody's word**: a finding about a record is to watch, never certain. What is applied is therefore said as a correction with
//!   its rule, beside the line that would make it the roster's own.

use super::loggers::is_of_the_zone;
use super::placed::{LOGGER_MOVED, LOGGERS_EXCHANGED, clock_of};
use super::readings::{LOGGERS_TOGETHER, box_of};
use crate::clock::{Span, UtcTime};
use crate::quality::LoggerRow;
use crate::site::{ClockSetting, Home, Placement, Room, Site};

/// A correction that the record of a logger speaks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// The home.
    pub home: String,
    /// The room that the roster has for the logger.
    pub room: String,
    /// The logger.
    pub logger: String,
    /// The rule whose finding proposes it.
    pub rule: &'static str,
    /// What would be written into the roster.
    pub correction: Correction,
}

/// What is wrong in the roster, if the record is right.
#[derive(Clone, Debug, PartialEq)]
pub enum Correction {
    /// The logger's clock, for readings of this time.
    Clock(ClockSetting, Span),
    /// The logger stood in its room for no longer than this.
    Stood(Span),
    /// From this moment on it stood in another room, and the logger of that room in its own.
    Exchanged {
        /// The other room.
        with: String,
        /// Since when.
        from: UtcTime,
    },
}

/// Rule that doubts clocks.
const CLOCK_SUSPECT: &str = "clock-suspect";

/// What the records of a home propose, in the order of its loggers; an exchange stands once.
pub fn proposals(site: &Site, home: &Home, loggers: &[LoggerRow]) -> Vec<Proposal> {
    let mut all = Vec::new();
    for logger in loggers {
        let mut add = |rule: &'static str, correction| {
            all.push(Proposal {
                home: home.name.clone(),
                room: logger.room.clone(),
                logger: logger.logger.clone(),
                rule,
                correction,
            });
        };
        let late = logger.doubts.clock.filter(|late| !is_of_the_zone(logger, loggers, late.hours));
        if let Some((clock, time)) = late.and_then(|late| clock_of(logger, site, late.hours)) {
            add(CLOCK_SUSPECT, Correction::Clock(clock, time));
        }
        let own = home.rooms.iter().position(|room| room.name == logger.room);
        match logger.moved {
            Some(it) if it.exchanged && own < Some(it.room) => {
                let with = home.rooms[it.room].name.clone();
                add(LOGGERS_EXCHANGED.name, Correction::Exchanged { with, from: it.span.from });
            }
            Some(it) if !it.exchanged => {
                add(LOGGER_MOVED.name, Correction::Stood(Span { to: it.span.from, ..Span::ALWAYS }));
            }
            _ => {}
        }
        if let Some((at_start, span)) = box_of(std::slice::from_ref(logger)) {
            let stood = match at_start {
                true => Span { from: span.to, ..Span::ALWAYS },
                false => Span { to: span.from, ..Span::ALWAYS },
            };
            add(LOGGERS_TOGETHER.name, Correction::Stood(stood));
        }
    }
    all
}

impl Proposal {
    /// What the roster would say, as cells.
    pub fn cells(&self, site: &Site) -> String {
        let local = |at: UtcTime| site.zone.local(at).show();
        let ends = |span: &Span| {
            let from = (span.from != Span::ALWAYS.from).then(|| format!("from = {}", local(span.from)));
            let to = (span.to != Span::ALWAYS.to).then(|| format!("to = {}", local(span.to)));
            from.into_iter().chain(to).collect::<Vec<String>>().join(", ")
        };
        match &self.correction {
            Correction::Clock(clock, time) => match ends(time).as_str() {
                "" => format!("clock = {}", clock.show()),
                part => format!("clock = {} in a row of its own with {part}", clock.show()),
            },
            Correction::Stood(time) => ends(time),
            Correction::Exchanged { with, from } => format!(
                "to = {0}, and a row for {with} with from = {0}; the logger of {with} the other way round",
                local(*from)
            ),
        }
    }

    /// The site with it in its roster; unchanged where the logger has no row there.
    pub fn applied(&self, site: &Site) -> Site {
        site.with(|facts| {
            let Some(home) = facts.homes.iter_mut().find(|home| home.name == self.home) else { return };
            let Some(own) = home.rooms.iter().position(|room| room.name == self.room) else { return };
            match &self.correction {
                Correction::Clock(clock, time) => {
                    let rows = std::mem::take(&mut home.rooms[own].placements);
                    let here = |row: &Placement| row.logger.told() == self.logger && row.span.overlaps(time);
                    let of_row =
                        |row: Placement| if here(&row) { with_clock(row, *clock, time) } else { vec![row] };
                    home.rooms[own].placements = rows.into_iter().flat_map(of_row).collect();
                }
                Correction::Stood(time) => {
                    for row in &mut home.rooms[own].placements {
                        if row.logger.told() == self.logger && row.span.overlaps(time) {
                            row.span = row.span.intersect(time);
                        }
                    }
                }
                Correction::Exchanged { with, from } => {
                    let Some(other) = home.rooms.iter().position(|room| room.name == *with) else { return };
                    let after = [own, other].map(|room| ends_at(&mut home.rooms[room], *from));
                    let [of_own, of_other] = after;
                    home.rooms[other].placements.extend(of_own);
                    home.rooms[own].placements.extend(of_other);
                }
            }
        })
    }
}

/// Ends each row of a room at a moment; the rows that would have gone on, from that moment on.
fn ends_at(room: &mut Room, at: UtcTime) -> Vec<Placement> {
    let after = room.placements.iter().filter(|row| at < row.span.to).map(|row| {
        let from = row.span.from.max(at);
        Placement { span: Span { from, ..row.span }, ..row.clone() }
    });
    let after: Vec<Placement> = after.collect();
    room.placements.retain(|row| row.span.from < at);
    room.placements.iter_mut().for_each(|row| row.span.to = row.span.to.min(at));
    after
}

/// A row with another clock for the readings of a time, in up to three rows.
fn with_clock(row: Placement, clock: ClockSetting, time: &Span) -> Vec<Placement> {
    let before = Span { to: row.span.to.min(time.from), ..row.span };
    let after = Span { from: row.span.from.max(time.to), ..row.span };
    let part = |span: Span, clock: Option<ClockSetting>| {
        let mut part = Placement { span, ..row.clone() };
        if clock.is_some() {
            part.sources.iter_mut().for_each(|source| source.clock = clock);
        }
        (span.from < span.to).then_some(part)
    };
    [part(before, None), part(row.span.intersect(time), Some(clock)), part(after, None)]
        .into_iter()
        .flatten()
        .collect()
}
