//! Readings that cannot be those of two rooms: series that are copies of each other, a logger in two places at once.
//!
//! Settled here, and why:
//! - **Files that are the same byte by byte** are told as copies however little their readings change: two steady rooms
//!   read alike, two files do not. A logger in two rooms of a home at once is told by the records of both; across homes
//!   names of loggers may come again ("living"). Verdicts on evenness are written last, because a copy in another home
//!   takes them back.

use super::{
    About, Evidence, Finding, Found, Judge, Judged, NotJudged, Place, Rule, Severity, Verdict, show_span,
};
use super::{homes, uneven};
use crate::clock::{HOUR_MS, Span};
use crate::quality::LoggerRow;
use crate::quality::copies::Copy;
use crate::site::{Heated, Home, Site};
use crate::units::KelvinDiff;

/// Two series that are one.
pub(super) static SAME_READINGS: Rule = Rule {
    name: "same-readings",
    shows: "two series change by the same amounts at the same distances in time for a day and a half or more, wherever they lie in time and level, or they agree within 0.06 K at the same instants while both move, as when one was rounded anew on its way through °F, or their files are the same byte by byte: one is a copy of the other, and evenness is judged of neither room (act: of two rooms; note: of a file in the exports folder that the roster does not name)",
    could_also_be: "nothing that is known: two loggers in one place do not change together to the second",
    next_step: "find out which room the logger stood in and correct the roster; remove what is a copy, and look for the file that is missing",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Site,
};

/// What to do with a copy that the roster does not name: giving it a row would count its readings twice.
const LEAVE_OUT: &str = "nothing need be done: leave it out of the roster; move the file out of the exports folder to be told no more";

/// The same where it holds more than what the roster names.
const MORE_OF_IT: &str = "it holds more than the file in the roster: if it is another download of the same logger, give it a row of the same room and logger (what both hold is taken once); else leave it out of the roster";

/// One logger that was in two rooms.
pub(super) static LOGGER_TWICE: Rule = Rule {
    name: "logger-in-two-rooms",
    shows: "the roster has one logger in two rooms of a home, and it recorded in both at the same time for more than an hour; evenness is judged of neither room (act). Rows that name different columns are those of a logger with several probes",
    could_also_be: "two loggers that go by one name, or probes of one logger that store a file each",
    next_step: "look at the labels of the loggers and correct the roster: each logger under a name of its own, with `column` where one logger has several probes, and `from` and `to` where it moved",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(in_two_rooms),
};

/// A logger that moved is read out there and started here: its records may touch.
const TOUCH_MS: i64 = HOUR_MS;

fn in_two_rooms(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let both = |other: &LoggerRow| {
        let shared = logger.record()?.intersect(&other.record()?);
        (shared.to.ms() - shared.from.ms() > TOUCH_MS).then_some(shared)
    };
    let elsewhere = |other: &&LoggerRow| other.room != logger.room && other.logger == logger.logger;
    let others = evidence.loggers.iter().filter(elsewhere);
    let mut met = others.filter(|other| !probes(evidence.home, logger, other));
    let Some((other, shared)) = met.find_map(|other| Some((other, both(other)?))) else {
        return Verdict::Clear;
    };
    let shows = format!(
        "Logger {} is in {} ({}) and in {} ({}) at the same time ({}).",
        logger.logger,
        logger.room,
        logger.file,
        other.room,
        other.file,
        show_span(shared, evidence.site.zone)
    );
    let found = Found::new(Severity::Act, shared.hours(), shows);
    Verdict::Found(Found { span: Some(shared), unit: "h", ..found })
}

/// Whether two rows of one logger name different columns.
fn probes(home: &Home, one: &LoggerRow, other: &LoggerRow) -> bool {
    let columns = |row: &LoggerRow| -> Vec<Option<&str>> {
        let rooms = home.rooms.iter().filter(|room| room.name == row.room);
        let placements = rooms.flat_map(|room| &room.placements).filter(|p| p.logger.told() == row.logger);
        placements.flat_map(|p| &p.sources).map(|s| s.column.as_deref()).collect()
    };
    let (own, others) = (columns(one), columns(other));
    own.iter().all(|column| column.is_some() && !others.contains(column))
        && others.iter().all(Option::is_some)
}

/// Takes back what was said about the evenness of rooms whose readings are also those of another, and answers which rooms
/// these are. Where one of them is heated the others were held against it, and nothing is left of what was said of them.
pub fn without_evenness(
    home: &Home,
    findings: &mut Vec<Finding>,
    not_judged: &mut Vec<NotJudged>,
) -> Vec<String> {
    let of_two = |f: &&Finding| {
        f.severity == Severity::Act && [SAME_READINGS.name, LOGGER_TWICE.name].contains(&f.rule)
    };
    let doubled: Vec<String> = findings.iter().filter(of_two).filter_map(|f| f.room.clone()).collect();
    let is_doubled = |room: &str| doubled.iter().any(|d| d == room);
    let reference = home.rooms.iter().any(|room| room.heated == Heated::Yes && is_doubled(&room.name));
    let rooms = home.rooms.iter().filter(|room| reference || is_doubled(&room.name));
    let without: Vec<String> =
        if doubled.is_empty() { Vec::new() } else { rooms.map(|r| r.name.clone()).collect() };
    let (own, others) = (uneven::ROOM_UNEVEN.name, homes::HOME_UNEVEN.name);
    let of_room = |room: Option<&String>| room.is_some_and(|room| without.contains(room));
    findings.retain(|f| f.rule != own || !of_room(f.room.as_ref()));
    for finding in findings.iter_mut().filter(|f| f.rule == others && !without.is_empty()) {
        finding.doubt = Some(SAME_READINGS.name);
        finding.severity = finding.severity.max(Severity::Watch);
    }
    not_judged.retain(|open| open.rule != own || !of_room(open.room.as_ref()));
    not_judged.extend(without.iter().map(|room| NotJudged {
        rule: own,
        home: home.name.clone(),
        room: Some(room.clone()),
        period: None,
        why: match is_doubled(room) {
            true => "its readings are also those of another room".to_owned(),
            false => {
                "readings of a heated room that it is held against are also those of another room".to_owned()
            }
        },
    }));
    without
}

/// Where a series comes from.
#[derive(Clone, Debug)]
pub struct SeriesPlace {
    /// Home (its place in the site) and room; `None` for a file that the roster does not name.
    pub room: Option<(usize, String)>,
    /// The logger.
    pub logger: String,
    /// The file.
    pub file: String,
    /// From its first to its last reading.
    pub record: Span,
}

/// Readings of a file that its copy lacks, in hours, from which it is more than an older copy.
const MORE_H: f64 = 24.0;

impl SeriesPlace {
    /// Whether a series that the roster does not name holds nothing beyond what it shares with one that it names, which
    /// has it so much later.
    fn adds_nothing(&self, copy: Copy) -> bool {
        let shared =
            Span { from: copy.span.from.plus_ms(copy.later_ms), to: copy.span.to.plus_ms(copy.later_ms) };
        let before = Span { from: self.record.from, to: shared.from };
        let after = Span { from: shared.to, to: self.record.to };
        before.hours() <= MORE_H && after.hours() <= MORE_H
    }
}

/// The files that the roster does not name, and that hold nothing beyond a file that it names, which stands beside them.
pub fn older_copies(series: &[SeriesPlace], pairs: &[(usize, usize, Copy)]) -> Vec<(String, String)> {
    let both = |(a, b, copy): &(usize, usize, Copy)| {
        let back = Copy { later_ms: -copy.later_ms, span: copy.span, ..*copy };
        [(*a, *b, *copy), (*b, *a, back)]
    };
    let older = |(own, other, copy): (usize, usize, Copy)| {
        let (own, other) = (&series[own], &series[other]);
        let is = own.room.is_some() && other.room.is_none() && other.adds_nothing(copy);
        is.then(|| (other.file.clone(), own.file.clone()))
    };
    let mut files: Vec<(String, String)> = pairs.iter().flat_map(both).filter_map(older).collect();
    files.sort();
    files.dedup_by(|a, b| a.0 == b.0);
    files
}

/// The findings about copies, each with the place of its home in the site; both rooms of a pair have one.
///
/// Copies within one room are no trouble, and copies among files that the roster does not name are not told.
pub fn copies(site: &Site, series: &[SeriesPlace], pairs: &[(usize, usize, Copy)]) -> Vec<(usize, Finding)> {
    let mut found = Vec::new();
    for (a, b, copy) in pairs {
        let back = Copy { later_ms: -copy.later_ms, warmer_k: -copy.warmer_k, ..*copy };
        for (own, other, copy) in [(&series[*a], &series[*b], *copy), (&series[*b], &series[*a], back)] {
            let Some((home, room)) = &own.room else { continue };
            if own.room != other.room {
                found.extend(finding(site, *home, room, own, other, copy).map(|f| (*home, f)));
            }
        }
    }
    found
}

fn finding(
    site: &Site,
    home: usize,
    room: &str,
    own: &SeriesPlace,
    other: &SeriesPlace,
    copy: Copy,
) -> Option<Finding> {
    let hours = copy.later_ms as f64 / 3_600_000.0;
    let whose = match &other.room {
        Some((at, room)) => {
            format!("{} {room} (logger {}, {})", site.homes[*at].name, other.logger, other.file)
        }
        None => format!("{}, which the roster does not name", other.file),
    };
    let mut apart = Vec::new();
    if copy.later_ms != 0 {
        apart.push(format!("{:.2} h {}", hours.abs(), if hours > 0.0 { "later" } else { "earlier" }));
    }
    if copy.warmer_k.abs() > 0.005 {
        apart.push(format!(
            "{} {}",
            site.units.show_difference(KelvinDiff::new(copy.warmer_k.abs())),
            if copy.warmer_k > 0.0 { "warmer" } else { "colder" }
        ));
    }
    let apart = if apart.is_empty() { String::new() } else { format!(", there {}", apart.join(" and ")) };
    let rounded = match copy.apart_k {
        0.0 => String::new(),
        k => format!(", rounded anew (never more than {:.2} K apart),", k),
    };
    let shows = format!(
        "Logger {} in {room} ({}) has the same readings{rounded} as {whose}{apart} ({}).",
        own.logger,
        own.file,
        show_span(copy.span, site.zone)
    );
    let severity = if other.room.is_some() { Severity::Act } else { Severity::Note };
    let found = Found { span: Some(copy.span), unit: "h", ..Found::new(severity, hours, shows) };
    let of = format!("{} and {}", own.logger, other.logger);
    let place =
        Place { rule: &SAME_READINGS, home: &site.homes[home].name, room: Some(room), of: &of, period: None };
    let mut judged = Judged::default();
    judged.add(&place, Verdict::Found(found));
    let finding = judged.findings.pop()?;
    Some(match other.room {
        Some(_) => finding,
        None if other.adds_nothing(copy) => Finding { next_step: LEAVE_OUT, ..finding },
        None => Finding { next_step: MORE_OF_IT, ..finding },
    })
}
