//! Rules about how much of a record there is, and of which time: when the data cannot carry a verdict, that is the finding.

use super::{About, Evidence, Finding, Found, Judge, RoomCase, Rule, Severity, Verdict};
use crate::clock::Span;
use crate::metrics;
use crate::quality::LoggerRow;
use crate::site::Placement;

/// Coverage of its own record, in %, below which it is thin, and below which it cannot carry a verdict.
const THIN: f64 = 75.0;
const TOO_THIN: f64 = 50.0;
/// A record that begins or ends so many hours inside the period is told.
const LATE_H: f64 = 24.0;
/// Rooms that are named; the others are counted.
const NAMED: usize = 8;

/// A record with too little in it.
pub(super) static THIN_COVERAGE: Rule = Rule {
    name: "thin-coverage",
    shows: "between the first and the last reading of a room's loggers there are usable values for less than 75 % of the time (act: less than 50 %, which carries no verdict)",
    could_also_be: "a weak battery or radio link, a full memory, downloads that are missing from the folder, or readings that were left out because they are not the air of the room (other findings say so)",
    next_step: "look for the rest of the downloads; else check the logger's battery and memory, replace it and record again",
    source: "own definition",
    needs: &[&metrics::COVERAGE],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Room(thin),
};

/// Records that begin late or end early.
pub(super) static PARTIAL_RECORD: Rule = Rule {
    name: "partial-record",
    shows: "the record of one or more rooms begins or ends more than a day inside the period that is judged",
    could_also_be: "loggers that were placed later or collected earlier on purpose, a download that is missing, or a logger that stopped",
    next_step: "write the dates into `from` and `to` of the roster where the logger was not in the room before or after; else look for the rest of the download",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Records(partial),
};

/// A long hole in a record.
pub(super) static HOLE: Rule = Rule {
    name: "hole",
    shows: "a logger recorded nothing for more than a day in the middle of its record",
    could_also_be: "a logger that was taken away and put back, that stopped and was started again, or a download that is missing",
    next_step: "ask where the logger was; look for the download of that time; if it stood elsewhere meanwhile, give it two rows in the roster",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(hole),
};

/// A record of another time.
pub(super) static OUT_OF_PERIOD: Rule = Rule {
    name: "out-of-period",
    shows: "the whole record of a logger lies outside the periods that are judged",
    could_also_be: "an old download, a date that was never set or set a year off, or a logger that stood there before the others",
    next_step: "correct the dates of the export, or leave it out of the roster; it is in no number now",
    source: "own definition",
    needs: &[],
    looks_at: &[],
    about: About::Record,
    judge: Judge::Logger(out_of_period),
};

/// What to do about a thin record of which another finding says why: nothing of it is missing.
const EXPLAINED: &str =
    "settle first what another finding says of this logger: its readings are there, and were left out";
/// Rules by which readings that are there are left out.
const LEAVE_OUT: [&str; 4] = ["wrong-unit", "stuck", "logger-elsewhere", "failure-value"];

/// Sends nobody to look for downloads of a logger whose readings were left out for what another rule found.
pub(super) fn explained(findings: &mut [Finding]) {
    let of = |f: &Finding| (f.home.clone(), f.room.clone());
    let left_out = findings.iter().filter(|f| LEAVE_OUT.contains(&f.rule) && f.severity <= Severity::Act);
    let left_out: Vec<_> = left_out.map(of).collect();
    for finding in findings.iter_mut().filter(|f| f.rule == THIN_COVERAGE.name) {
        if left_out.contains(&of(finding)) {
            finding.next_step = EXPLAINED;
        }
    }
}

/// The part of a logger's record, or of a placement, that lies in a period.
fn within(of: Span, period: Span) -> Option<Span> {
    Some(of.intersect(&period)).filter(|span| span.from < span.to)
}

fn thin(case: &RoomCase<'_>) -> Verdict {
    let Some(coverage) = case.row(&metrics::COVERAGE) else {
        return Verdict::NotJudged("the logger stood elsewhere".to_owned());
    };
    let observed = coverage.hours_observed;
    let recorded = own_hours(case);
    let share = match recorded {
        Some(hours) if hours > 0.0 => (100.0 * observed / hours).min(100.0),
        // A record of another time has a finding of its own.
        Some(_) if case.loggers().any(|l| l.record().is_some()) => {
            return Verdict::NotJudged("its loggers recorded nothing in this time".to_owned());
        }
        _ => coverage.value,
    };
    let severity = match share {
        c if c >= THIN => return Verdict::Clear,
        c if c >= TOO_THIN => Severity::Watch,
        _ => Severity::Act,
    };
    let why = if case.room.placements.is_empty() { "; the roster names no logger for it" } else { "" };
    let of = recorded
        .filter(|hours| *hours > 0.0)
        .map_or(String::new(), |hours| format!(" of {hours:.1} h from its first to its last reading"));
    let shows = format!(
        "The record of {} has usable values for {share:.0} % of the time ({observed:.1} h{of}){why}.",
        case.room.name
    );
    Verdict::Found(Found { unit: "%", limit: THIN, ..Found::new(severity, share, shows) })
}

/// Hours of the period from the first to the last reading of the room's loggers, where they were placed; `None` where nothing
/// is known of loggers.
fn own_hours(case: &RoomCase<'_>) -> Option<f64> {
    let evidence = &case.case.evidence;
    let period = evidence.span_of(case.case.period)?;
    let of_logger = |logger: &LoggerRow| {
        let placements = case.room.placements.iter().filter(|p| p.logger.told() == logger.logger);
        let own = logger.record()?;
        let recorded = |p: &Placement| within(within(own, p.span)?, period);
        // Side by side a logger was not in its room.
        let checked = |p: &Placement, span: Span| {
            let check = evidence.site.side_by_side(p).and_then(|check| within(span, check));
            check.map_or(0.0, |check| check.hours())
        };
        let hours = placements.filter_map(|p| Some((p, recorded(p)?)));
        let hours = hours.map(|(p, span)| span.hours() - checked(p, span));
        Some(hours.sum::<f64>())
    };
    let hours: Vec<f64> = case.loggers().filter_map(of_logger).collect();
    (!evidence.loggers.is_empty()).then(|| hours.iter().sum())
}

/// When a logger lay side by side with others, as the site file says.
pub(super) fn side_by_side(evidence: &Evidence<'_>, logger: &LoggerRow) -> Option<Span> {
    let room = evidence.home.rooms.iter().find(|room| room.name == logger.room)?;
    let mut own = room.placements.iter().filter(|p| p.logger.told() == logger.logger);
    own.find_map(|p| evidence.site.side_by_side(p))
}

/// What is left of a hole without the time in which the site says that the loggers lay side by side, where that is long.
fn without_check(check: Option<Span>, hole: Span) -> Vec<Span> {
    let parts = match check {
        Some(check) if check.overlaps(&hole) => {
            vec![Span { to: check.from, ..hole }, Span { from: check.to, ..hole }]
        }
        _ => return vec![hole],
    };
    parts.into_iter().filter(|part| part.hours() > LATE_H).collect()
}

/// A room that begins late or ends early.
struct Part<'a> {
    room: &'a str,
    from: Option<Span>,
    to: Option<Span>,
}

fn partial(evidence: &Evidence<'_>) -> Verdict {
    let spans = || evidence.periods.iter().map(|(_, span)| *span);
    let Some(judged) = spans().reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) }) else {
        return Verdict::Clear;
    };
    let parts: Vec<Part<'_>> =
        evidence.home.rooms.iter().filter_map(|room| part(evidence, room, judged)).collect();
    let zone = evidence.site.zone;
    let cell = |at: crate::clock::UtcTime| zone.local(at).show();
    let words = |part: &Part<'_>| {
        let late = part.from.map(|gap| format!("begins late (from = {})", cell(gap.to)));
        let early = part.to.map(|gap| format!("ends early (to = {})", cell(gap.from)));
        format!("{} {}", part.room, [late, early].into_iter().flatten().collect::<Vec<_>>().join(" and "))
    };
    let mut listed: Vec<String> = parts.iter().take(NAMED).map(words).collect();
    if parts.len() > NAMED {
        listed.push(format!("{} more rooms", parts.len() - NAMED));
    }
    let gaps = || parts.iter().flat_map(|p| [p.from, p.to]).flatten();
    let Some(longest) = gaps().map(|gap| gap.hours()).reduce(f64::max) else { return Verdict::Clear };
    let shows = format!(
        "Not every room has a record from {} to {}: {}. What a room lacks there is missing from its hours, and is no fault of its record.",
        zone.show(judged.from),
        zone.show(judged.to),
        listed.join("; ")
    );
    let span = gaps().reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) });
    Verdict::Found(Found { span, unit: "h", limit: LATE_H, ..Found::new(Severity::Watch, longest, shows) })
}

/// How a room's record falls short of the time in which the roster places a logger there.
fn part<'a>(evidence: &Evidence<'_>, room: &'a crate::site::Room, judged: Span) -> Option<Part<'a>> {
    let records = evidence.loggers.iter().filter(|l| l.room == room.name).filter_map(LoggerRow::record);
    let own = records.reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })?;
    let placed = room.placements.iter().map(|p| p.span);
    let placed = placed.reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })?;
    let wanted = within(placed, judged)?;
    within(own, wanted)?;
    let check = room.placements.iter().find_map(|p| evidence.site.side_by_side(p));
    let gap = |from, to| {
        let gaps = without_check(check, Span { from, to });
        gaps.into_iter().find(|gap| gap.hours() > LATE_H)
    };
    let (from, to) = (gap(wanted.from, own.from), gap(own.to, wanted.to));
    (from.is_some() || to.is_some()).then_some(Part { room: &room.name, from, to })
}

fn hole(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let check = side_by_side(evidence, logger);
    let holes: Vec<Span> = logger.holes.iter().flat_map(|hole| without_check(check, *hole)).collect();
    let hull = holes.iter().copied().reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) });
    let Some(span) = hull else { return Verdict::Clear };
    let lost_h: f64 = holes.iter().map(Span::hours).sum();
    let length = if lost_h >= 48.0 { format!("{:.0} days", lost_h / 24.0) } else { format!("{lost_h:.0} h") };
    let mut listed: Vec<String> =
        holes.iter().take(NAMED).map(|hole| super::show_span(*hole, evidence.site.zone)).collect();
    if holes.len() > NAMED {
        listed.push(format!("{} more times", holes.len() - NAMED));
    }
    let times = if holes.len() > 1 { " in all" } else { "" };
    let shows = format!(
        "Logger {} in {} recorded nothing for {length}{times}, from {}.",
        logger.logger,
        logger.room,
        listed.join(", from ")
    );
    let found = Found::new(Severity::Watch, lost_h, shows);
    Verdict::Found(Found { span: Some(span), unit: "h", limit: LATE_H, ..found })
}

fn out_of_period(logger: &LoggerRow, evidence: &Evidence<'_>) -> Verdict {
    let Some(own) = logger.record() else { return Verdict::Clear };
    if evidence.periods.iter().all(|(_, span)| span.from >= span.to) {
        return Verdict::Clear;
    }
    if evidence.periods.iter().any(|(_, span)| own.overlaps(span)) {
        return Verdict::Clear;
    }
    let apart = |span: &Span| {
        if own.to <= span.from {
            Span { from: own.to, to: span.from }.hours()
        } else {
            Span { from: span.to, to: own.from }.hours()
        }
    };
    let nearest = evidence.periods.iter().map(|(_, span)| apart(span)).fold(f64::INFINITY, f64::min);
    let shows = format!(
        "Logger {} in {} recorded {}: {} away from the time that is judged; it is in no number.",
        logger.logger,
        logger.room,
        super::show_span(own, evidence.site.zone),
        if nearest < 48.0 { format!("{nearest:.0} h") } else { format!("{:.0} days", nearest / 24.0) }
    );
    Verdict::Found(Found { span: Some(own), unit: "h", ..Found::new(Severity::Watch, nearest, shows) })
}
