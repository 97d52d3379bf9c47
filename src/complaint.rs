//! What the audit of one home and one time says to a complaint about heat: for the sheet, the terminal and programs.
//!
//! Settled here, and why:
//! - **Other homes beside a complaint** are compared in the whole hours of the home's shortfalls (the heat rule's, else
//!   those that findings about cold rest on), in the whole time only where there is none.
//! - **One sentence answers**: by the legal minimum where an hour was held against it, else by the comfort band, which is said.

mod absent;
mod answer;
mod course;
mod explained;
mod numbers;
mod others;
mod time;

pub use answer::{Answer, Verdict};
pub use course::Outage;
pub use explained::Explained;
pub use others::{BelowToo, OtherHome, Others, shared_hours};

use crate::audit::{Audit, HomeAudit};
use crate::clock::Span;
use crate::findings::{About, Finding, HoursBelow, NotJudged};
use crate::metrics::{self, Metric, MetricRow, SERIOUS_COLD, Slice};
use crate::site::{Home, Period, Room, Site};
use crate::units::{Celsius, KelvinDiff};

/// A home and a time, with what the other homes were like meanwhile.
#[derive(Debug)]
pub struct Complaint<'a> {
    /// Its audit.
    pub audit: &'a Audit,
    /// The home.
    pub home: &'a HomeAudit,
    /// The home as the roster has it.
    pub of_roster: &'a Home,
    /// The time.
    pub period: &'a Period,
    /// What came of other homes, and of files.
    pub heard: Heard,
}

/// What is known beside the audit of the home.
#[derive(Debug, Default)]
pub struct Heard {
    /// The other homes.
    pub others: Others,
    /// When each room (`None`: their mean) was certainly below the minimum.
    pub below: Vec<(Option<String>, Span)>,
    /// When any room was certainly below the minimum in the whole record.
    pub below_ever: Vec<Span>,
    /// Times without heat in the whole record.
    pub outages: Vec<Outage>,
    /// What the heat rule asked for in this time, in °C.
    pub minima: Vec<(Span, f64)>,
    /// Accuracy that each room was counted with, in roster order.
    pub accuracy: Vec<KelvinDiff>,
    /// Name and SHA-256 of each file.
    pub files: Vec<(String, String)>,
    /// Who asked, where it was said.
    pub asked_by: Option<String>,
    /// Who made the sheet, where it was said.
    pub made_by: Option<String>,
    /// The name of the sheet, without its ending.
    pub stem: String,
}

/// A logger that stood in the home in this time.
#[derive(Debug)]
pub struct LoggerLine<'a> {
    /// The room.
    pub room: &'a str,
    /// The logger.
    pub logger: &'a str,
    /// Height above the floor in m, where stated.
    pub height_m: Option<f64>,
    /// What its room was counted as good to.
    pub accuracy: Option<KelvinDiff>,
    /// What was taken off after a side-by-side check.
    pub offset: Option<KelvinDiff>,
    /// Name and SHA-256 of its files.
    pub files: Vec<&'a (String, String)>,
}

/// What a room, or the mean of the rooms, came to.
#[derive(Clone, Copy, Debug)]
pub struct OfRoom<'a> {
    /// The room; `None` for the mean.
    pub room: Option<&'a str>,
    /// Its hours.
    pub hours: HoursBelow,
}

impl<'a> OfRoom<'a> {
    /// For a sentence.
    pub fn name(&self) -> &'a str {
        self.room.unwrap_or("the mean of the rooms")
    }
}

impl<'a> Complaint<'a> {
    /// Of the only home of an audit in its only period; `None` where it has none.
    pub fn new(audit: &'a Audit, heard: Heard) -> Option<Self> {
        let home = audit.homes.first()?;
        let of_roster = audit.site.homes.iter().find(|h| h.name == home.name)?;
        Some(Self { audit, home, of_roster, period: audit.site.periods.first()?, heard })
    }

    /// The site.
    pub fn site(&self) -> &'a Site {
        &self.audit.site
    }

    /// What was found about cold: under the heat rule first.
    pub fn found(&self) -> impl Iterator<Item = &'a Finding> {
        let home = self.home;
        let of = |in_rule: bool| {
            let of_rule = move |f: &&Finding| f.rule.starts_with(HEAT_RULE) == in_rule;
            home.findings.iter().filter(|f| is_about_cold(f.rule)).filter(of_rule)
        };
        of(true).chain(of(false))
    }

    /// What the record shows of rooms in which it was too cold, a sentence for each room and limit with its hours.
    pub fn in_detail(&self) -> Vec<String> {
        let (rule, band) = (self.of_rule(), self.of_band());
        let cold: Vec<&str> =
            self.found().filter(|f| f.rule == "room-cold").filter_map(|f| f.room.as_deref()).collect();
        let below_rule = rule.iter().filter(|of| of.hours.possible > 0.0);
        let below_band = band.iter().filter(|of| of.room.is_some_and(|room| cold.contains(&room)));
        let sentence = |limit: &str, of: &OfRoom<'_>| {
            format!("The record shows {} below {limit} for {}.", of.name(), of.hours.in_full())
        };
        let mut sentences: Vec<String> =
            below_rule.map(|of| sentence("the heat rule's minimum", of)).collect();
        sentences.extend(below_band.map(|of| sentence("the comfort band", of)));
        sentences
    }

    /// The longest time certainly below 16 °C of any room, whatever else was asked of it; `None` where no room was for long.
    pub fn serious(&self) -> Option<String> {
        let longest = self.longest_in_the_cold()?;
        let (sixteen, room) = (self.site().units.show(SERIOUS_COLD), longest.room.as_deref()?);
        Some(format!(
            "Cold that endangers people, below {sixteen}: up to {:.1} h on end ({room}), even with the sensor accuracy added.",
            longest.value
        ))
    }

    /// The room that was certainly below 16 °C for the longest time on end.
    fn longest_in_the_cold(&self) -> Option<&'a MetricRow> {
        self.rows(&metrics::LONGEST_BELOW_16).max_by(|a, b| a.value.total_cmp(&b.value))
    }

    /// From when to when rooms were certainly below the minimum; `None` where none was.
    pub fn cold_from_to(&self) -> Option<Span> {
        let from = self.heard.below.iter().map(|(_, span)| span.from).min()?;
        let to = self.heard.below.iter().map(|(_, span)| span.to).max()?;
        Some(Span { from, to })
    }

    fn row(&self, room: Option<&str>, metric: &Metric) -> Option<&'a MetricRow> {
        self.home.value(&self.period.name, room, metric)
    }

    /// A number of a room in this time; `None` where there is none.
    pub fn value(&self, room: Option<&str>, metric: &Metric) -> Option<f64> {
        self.row(room, metric).map(|row| row.value)
    }

    /// Rows of a metric about the whole time, in the order of the rooms.
    fn rows(&self, metric: &Metric) -> impl Iterator<Item = &'a MetricRow> {
        let period: &'a str = &self.period.name;
        let of_time = move |r: &&MetricRow| r.slice == Slice::All && r.period == period && r.metric == metric;
        self.home.metrics.iter().filter(of_time)
    }

    /// What was held against the heat rule's minimum; empty where the rule holds at no hour of this time.
    pub fn of_rule(&self) -> Vec<OfRoom<'a>> {
        let hours = |row: &'a MetricRow| {
            let room = row.room.as_deref();
            Some(OfRoom { room, hours: HoursBelow::minimum(|id| self.row(room, id))? })
        };
        self.rows(&metrics::HEAT_RULE_HOURS_NO_DATA).filter_map(hours).collect()
    }

    /// What was held against the lower limit of the comfort band.
    pub fn of_band(&self) -> Vec<OfRoom<'a>> {
        let hours = |row: &'a MetricRow| {
            let room = row.room.as_deref();
            Some(OfRoom { room, hours: HoursBelow::band(|id| self.row(room, id))? })
        };
        self.rows(&metrics::HOURS_BELOW_BAND).filter_map(hours).collect()
    }

    /// What about cold could not be judged.
    pub fn open(&self) -> impl Iterator<Item = &'a NotJudged> {
        self.home.not_judged.iter().filter(|n| is_about_cold(n.rule))
    }

    /// What is wrong with the record itself in this time.
    pub fn doubts(&self) -> impl Iterator<Item = &'a Finding> {
        let time = self.period.span;
        let inside = move |f: &&Finding| f.span.is_none_or(|span| span.overlaps(&time));
        self.home.findings.iter().filter(|f| f.about == About::Record).filter(inside)
    }

    /// What the record cannot tell of this time, a line each; empty where nothing is missing.
    pub fn cannot_tell(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let here = |room: &&Room| room.placements.iter().any(|p| p.span.overlaps(&self.period.span));
        let unseen: Vec<&str> =
            self.of_roster.rooms.iter().filter(|r| !here(r)).map(|r| r.name.as_str()).collect();
        // Of a room without a logger one line says it all.
        let told_once = |room: Option<&str>| room.is_some_and(|room| unseen.contains(&room));
        let open: Vec<OfRoom<'_>> = self
            .of_rule()
            .into_iter()
            .filter(|of| of.hours.open().is_some() && !told_once(of.room))
            .collect();
        match open.len() {
            0..=ROOMS_NAMED => lines
                .extend(open.iter().filter_map(|of| Some(format!("{}: {}.", of.name(), of.hours.open()?)))),
            n => {
                let most = |hours: fn(&HoursBelow) -> f64| {
                    open.iter().map(|of| hours(&of.hours)).fold(0.0, f64::max)
                };
                lines.push(format!(
                    "{n} rooms: up to {:.1} hours without data and up to {:.1} without outdoor temperature could not be judged.",
                    most(|h| h.without_data),
                    most(|h| h.without_outdoor)
                ));
            }
        }
        if !unseen.is_empty() {
            lines.push(format!("No logger stood in {} in this time.", unseen.join(", ")));
        }
        lines.extend(self.without_readings());
        // Of the heat rule's hours it was told already.
        let untold = self.open().filter(|n| open.is_empty() || !n.rule.starts_with(HEAT_RULE));
        let untold = untold.filter(|n| !told_once(n.room.as_deref()));
        lines.extend(untold.map(|n| format!("{}: {}.", n.place(), n.why)));
        lines.extend(self.doubts().filter(|f| !told_once(f.room.as_deref())).map(|f| match &f.room {
            Some(room) => format!("{room}, {}: {}", f.rule, f.shows),
            None => format!("{}: {}", f.rule, f.shows),
        }));
        lines
    }

    /// The loggers that stood in the home in this time, in the order of the roster; none where the exports were not read.
    pub fn loggers(&self) -> Vec<LoggerLine<'_>> {
        let mut lines = Vec::new();
        for (at, room) in self.of_roster.rooms.iter().enumerate() {
            for placement in room.placements.iter().filter(|p| p.span.overlaps(&self.period.span)) {
                let of_logger = |l: &&crate::quality::LoggerRow| {
                    l.room == room.name && l.logger == placement.logger.told()
                };
                let Some(row) = self.home.loggers.iter().find(of_logger) else { continue };
                lines.push(LoggerLine {
                    room: &room.name,
                    logger: &row.logger,
                    height_m: placement.height_m,
                    accuracy: self.heard.accuracy.get(at).copied(),
                    offset: row.offset,
                    files: row
                        .file
                        .split("; ")
                        .filter_map(|name| self.heard.files.iter().find(|f| f.0 == name))
                        .collect(),
                });
            }
        }
        lines
    }

    /// The lowest temperature of each room, in a sentence; empty without any.
    fn lowest(&self) -> String {
        let show = |row: &MetricRow| {
            Some(format!("{} {}", row.room.as_deref()?, self.site().units.show(Celsius::new(row.value))))
        };
        let rooms: Vec<String> = self.rows(&metrics::MINIMUM).filter_map(show).collect();
        if rooms.is_empty() {
            String::new()
        } else {
            format!(" The lowest temperatures: {}.", rooms.join(", "))
        }
    }
}

/// Rooms with hours that could not be judged that are told one by one.
const ROOMS_NAMED: usize = 2;

/// How the names of the rules about the legal minimum begin.
const HEAT_RULE: &str = "heat-rule-shortfall";

fn is_about_cold(rule: &str) -> bool {
    rule == "room-cold" || rule.starts_with(HEAT_RULE)
}
