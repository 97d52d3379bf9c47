//! What the rules of an audit say of a logger, and what its files say, as things to do.
//!
//! Settled here, and why:
//! - **A finding that goes on sends somebody** where the record is lost by it: a logger that is stuck, fades, fails, is
//!   elsewhere, has a clock in doubt, or whose readings are those of another room. It goes on where it was seen within a day
//!   of the record's end.
//! - **Sun, heat, drift and spikes** spoil numbers, and the record goes on: they are to be looked at.
//! - **What only the roster must be told** (a unit, a time in a hand) sends nobody.

use super::ends;
use super::{FileSeen, State, Trouble};
use crate::audit::HomeAudit;
use crate::cases::of_record;
use crate::clock::{Span, UtcTime};
use crate::findings::{Finding, Severity};
use crate::quality::LoggerRow;
use crate::site::{Placement, Site};

/// Rules that lose the record while they go on.
const LOSES: [&str; 13] = [
    "stuck",
    "may-be-stuck",
    "logger-elsewhere",
    "failure-value",
    "out-of-range",
    "not-a-number",
    "no-value",
    "record-fades",
    "clock-suspect",
    "same-readings",
    "logger-in-two-rooms",
    "loggers-exchanged",
    "logger-moved",
];
/// Rules that tell why readings are missing: the gaps that they leave are not told once more, with another remedy.
const TELL_OF_GAPS: [&str; 6] =
    ["failure-value", "out-of-range", "not-a-number", "no-value", "hole", "record-fades"];
/// Rules of which nothing need be done now: an audit tells them.
const REMARKS: [&str; 1] = ["logger-handled"];
/// Rules about ends of records, which are told from here.
const ENDS: [&str; 2] = ["partial-record", "shorter-record"];
/// Hours before the end of a record within which something goes on.
const GOES_ON_H: f64 = 24.0;
/// Share of the readings expected, in %, below which a record has too many gaps to go on so: that of the rule `thin-coverage`.
const THIN: f64 = 75.0;

/// A logger, and what it is held against.
pub(super) struct Logger<'a> {
    pub(super) site: &'a Site,
    pub(super) audit: &'a HomeAudit,
    pub(super) row: &'a LoggerRow,
    pub(super) placement: &'a Placement,
    /// From when to when its home records.
    pub(super) own: Option<Span>,
    /// The newest reading of the site.
    pub(super) newest: Option<UtcTime>,
}

/// What is wrong with a logger.
pub(super) fn troubles(about: &Logger<'_>, files: &[FileSeen]) -> Vec<Trouble> {
    let row = about.row;
    let mut troubles = of_files(about, files);
    let findings: Vec<&Finding> =
        about.audit.findings.iter().filter(|f| is_about(f, row, &about.audit.loggers)).collect();
    troubles.extend(findings.iter().map(|f| of_finding(f, row)));
    let found = |rule: &str| findings.iter().any(|f| f.rule == rule);
    match (row.record(), about.own) {
        (None, _) if troubles.is_empty() => troubles.push(nothing_read(about)),
        (Some(_), Some(own)) => {
            let ends = ends::of_logger(about.site, (row, about.placement), &about.audit.loggers, own);
            // What the changes say of the clock explains ends that stand whole hours apart.
            let clock = [of_record("clock-suspect").words, ends::STOPPED];
            let known = |t: &Trouble| {
                let of_clock = t.words == clock[0] || t.shows.told().contains(ends::OR_ITS_CLOCK);
                of_clock && clock.contains(&t.words) && found("clock-suspect")
            };
            troubles.extend(ends.into_iter().filter(|t| !known(t)));
            one_end(&mut troubles);
            told_once(&mut troubles, found("out-of-period"));
        }
        _ => {}
    }
    if !TELL_OF_GAPS.iter().any(|rule| found(rule)) {
        troubles.extend(gaps(about));
    }
    troubles
}

/// A record of another time is told as such, and not once more as a clock in doubt.
fn told_once(troubles: &mut Vec<Trouble>, out_of_period: bool) {
    if out_of_period && troubles.iter().any(|t| t.words == ends::OTHER_TIME) {
        let again = of_record("out-of-period").words;
        troubles.retain(|t| t.words != again || t.state == State::Go);
    }
}

/// A logger that faded until it stopped did one thing.
fn one_end(troubles: &mut Vec<Trouble>) {
    let fading = of_record("record-fades").words;
    let Some(at) = troubles.iter().position(|t| t.words == fading) else { return };
    if let Some(stopped) = troubles.iter().position(|t| t.words == ends::STOPPED) {
        let faded = troubles[at].shows.told();
        let stopped = &mut troubles[stopped];
        stopped.shows = format!("{} {faded}", stopped.shows.told()).into();
        troubles.remove(at);
    }
}

/// Whether a finding is about a logger: by its name, or by its room where the rule names none.
fn is_about(finding: &Finding, row: &LoggerRow, loggers: &[LoggerRow]) -> bool {
    let of_room = finding.room.as_deref() == Some(row.room.as_str());
    let named = finding.of == row.logger || finding.of.starts_with(&format!("{} and ", row.logger));
    // A logger that came back to its room has two rows, and what was seen in one record is told of that.
    let twice = loggers.iter().filter(|l| l.room == row.room && l.logger == row.logger).count() > 1;
    let then = finding.span.zip(row.record()).is_none_or(|(a, b)| a.from <= b.to && b.from <= a.to);
    of_room && named && (then || !twice)
}

/// What is wrong with the records of a home together.
pub(super) fn of_home(site: &Site, audit: &HomeAudit) -> Vec<Trouble> {
    let of_all = audit.findings.iter().filter(|f| f.room.is_none() && !ENDS.contains(&f.rule));
    let end = ends::of_home(site, &audit.loggers).map(|span| span.to);
    of_all.map(|f| trouble(f, end)).collect()
}

fn of_finding(finding: &Finding, row: &LoggerRow) -> Trouble {
    trouble(finding, row.last_utc)
}

fn trouble(finding: &Finding, end: Option<UtcTime>) -> Trouble {
    let kind = of_record(finding.rule);
    let goes_on = finding
        .span
        .zip(end)
        .is_none_or(|(span, end)| Span { from: span.to.min(end), to: end }.hours() <= GOES_ON_H);
    let state = match finding.rule {
        rule if REMARKS.contains(&rule) => State::Runs,
        _ if finding.severity == Severity::Note => State::Runs,
        rule if LOSES.contains(&rule) && goes_on => State::Go,
        _ => State::Look,
    };
    let bring = if kind.bring == "nothing" { "" } else { kind.bring };
    Trouble {
        state,
        words: kind.words,
        shows: finding.shows.clone().into(),
        to_do: kind.next_step.to_owned(),
        bring,
    }
}

/// Files that are not there, or could not be understood.
fn of_files(about: &Logger<'_>, files: &[FileSeen]) -> Vec<Trouble> {
    let read = about.row.record().is_some();
    let missing = files.iter().filter(|f| !f.there).map(|file| missing(about, file));
    let unnamed = files.is_empty().then(|| Trouble {
        state: State::Go,
        words: "no file",
        shows: "The roster names no file for it: nobody knows that it records.".to_owned().into(),
        to_do:
            "write its download into `file` of the roster; where there is none, go and read the logger out"
                .to_owned(),
        bring: "cable of the logger, battery, logger",
    });
    let of_file = |place: &str| files.iter().any(|f| f.there && f.name == place);
    let notes = about.audit.notes.iter().filter(|n| n.unreadable && of_file(&n.place));
    let unread = notes.map(|note| Trouble {
        state: if read { State::Look } else { State::Go },
        words: if read { "partly unread" } else { "cannot be read" },
        shows: note.what.clone(),
        to_do: note.hint.clone(),
        bring: if read { "" } else { "cable of the logger" },
    });
    missing.chain(unnamed).chain(unread).collect()
}

/// A file of the roster that is not there; where others have the record to the end of the home's, it records.
fn missing(about: &Logger<'_>, file: &FileSeen) -> Trouble {
    let record = about.row.record();
    let to_the_end = record.zip(about.own).is_some_and(|(record, own)| {
        Span { from: record.to, to: own.to.max(record.to) }.hours() < ends::STOPPED_H
    });
    let name = &file.name;
    match (record, to_the_end) {
        (Some(_), true) => Trouble {
            state: State::Look,
            words: "a file is missing",
            shows: format!("{name} is not in the folder of the exports; its other files go to the end of the others' records.").into(),
            to_do: "look for the download, or take it out of the roster".to_owned(),
            bring: "",
        },
        (record, _) => Trouble {
            state: State::Go,
            words: if record.is_some() { "a file is missing" } else { "no file" },
            shows: format!("{name} is not in the folder of the exports: nobody knows that it records.").into(),
            to_do: "look for the download; where there is none, go and read the logger out".to_owned(),
            bring: "cable of the logger, battery, logger",
        },
    }
}

/// A file that is there and has no reading for the logger.
fn nothing_read(about: &Logger<'_>) -> Trouble {
    let zone = about.site.zone;
    let placed = about.placement.span;
    if about.newest.is_some_and(|newest| placed.from > newest) {
        return Trouble {
            state: State::Look,
            words: "not due yet",
            shows: format!(
                "The roster places it from {} on, after the newest reading.",
                zone.show(placed.from)
            )
            .into(),
            to_do: "see that it was placed".to_owned(),
            bring: "",
        };
    }
    Trouble {
        state: State::Go,
        words: "no reading",
        shows: format!(
            "Its file has no reading in the time of its placement ({} rows seen, {} set aside).",
            about.row.rows_seen, about.row.rows_set_aside
        )
        .into(),
        to_do: "look at `from` and `to` in the roster and at the dates in the file; else go and see whether it runs".to_owned(),
        bring: "cable of the logger, battery, logger",
    }
}

/// A record with many gaps; while it lay side by side with others a logger was not in its room.
fn gaps(about: &Logger<'_>) -> Option<Trouble> {
    let Logger { site, row, placement, .. } = about;
    let record = row.record()?;
    let check = site.side_by_side(placement).map_or(0.0, |check| check.intersect(&record).hours());
    let own = record.hours() - check;
    let limit = site.acceptance.coverage.unwrap_or(THIN).max(THIN);
    let coverage = row.coverage.map(|c| if own > 0.0 { (c * record.hours() / own).min(100.0) } else { c });
    let coverage = coverage.filter(|c| *c < limit)?;
    let longest =
        row.longest_gap_h.map_or(String::new(), |h| format!(", the longest gap {}", ends::length(h)));
    Some(Trouble {
        state: if coverage < THIN { State::Go } else { State::Look },
        words: "gaps",
        shows: format!("It has {coverage:.0} % of the readings from its first to its last{longest}.").into(),
        to_do: "change the battery; where it sends by radio, move the receiver nearer".to_owned(),
        bring: "battery, logger",
    })
}
