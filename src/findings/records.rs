//! Rules about the record itself: when the data cannot carry a verdict, that is the finding.

use super::{About, Found, Judge, RoomCase, Rule, Severity, Verdict};
use crate::clock::Span;
use crate::quality::LoggerRow;
use crate::site::Site;

/// Coverage, in %, below which a record is thin, and below which it cannot carry a verdict.
const THIN: f64 = 75.0;
const TOO_THIN: f64 = 50.0;
/// Share of doubtful readings, in %, that is worth a look, and that is worth a visit.
pub(super) const DOUBTFUL: f64 = 1.0;
const MOSTLY_DOUBTFUL: f64 = 10.0;
/// Spikes within 24 hours that are a burst.
const BURST: u64 = 5;

/// A record with too little in it.
pub(super) static THIN_COVERAGE: Rule = Rule {
    name: "thin-coverage",
    shows: "the record of a room has usable values for less than 75 % of the time (act: less than 50 %, which carries no verdict)",
    could_also_be: "a logger that stopped, was started late, was downloaded in part, or whose file is missing from the folder; or the record of another logger of the home lies in another time, so that the period is longer than the record (a note says so)",
    next_step: "look for the rest of the download; else check the logger's battery and memory, replace it and record again",
    source: "own definition",
    needs: &["coverage"],
    about: About::Record,
    judge: Judge::Room(thin),
};

/// A logger whose readings are doubtful.
pub(super) static SENSOR_SUSPECT: Rule = Rule {
    name: "sensor-suspect",
    shows: "more than 1 % of a logger's readings failed the quality tests or are suspect (act: more than 10 %), or five or more spikes fell within 24 hours; such readings were left out of every number",
    could_also_be: "real and quick changes (airing, cooking, a shower) beside the logger, a logger moved by hand, or the wrong unit in the roster",
    next_step: "read the test results in readings.parquet for this logger; check unit and place, compare it side by side with another logger, and replace it if it is stuck",
    source: "own definition; the tests follow the QARTOD scheme",
    needs: &[],
    about: About::Record,
    judge: Judge::Logger(suspect),
};

fn thin(case: &RoomCase<'_>) -> Verdict {
    let Some(coverage) = case.row("coverage") else {
        return Verdict::NotJudged("the logger stood elsewhere".to_owned());
    };
    let severity = match coverage.value {
        c if c >= THIN => return Verdict::Clear,
        c if c >= TOO_THIN => Severity::Watch,
        _ => Severity::Act,
    };
    let why = if case.room.placements.is_empty() { "; the roster names no logger for it" } else { "" };
    let shows = format!(
        "The record of {} has usable values for {:.0} % of the time ({:.1} h){why}.",
        case.room.name, coverage.value, coverage.hours_observed
    );
    Verdict::Found(Found {
        severity,
        span: None,
        observed: coverage.value,
        unit: "%",
        limit: THIN,
        range: None,
        shows,
        doubt: None,
    })
}

fn suspect(logger: &LoggerRow, _: &Site) -> Verdict {
    let Some(share) = logger.share_doubtful() else {
        return Verdict::NotJudged(format!("logger {} has no readings with a value", logger.logger));
    };
    let severity = match share {
        s if s <= DOUBTFUL && logger.spikes_in_a_day < BURST => return Verdict::Clear,
        s if s <= MOSTLY_DOUBTFUL => Severity::Watch,
        _ => Severity::Act,
    };
    let [.., suspect, fail, _] = logger.counts;
    let flat_h = logger.flat as f64 * logger.interval_s.unwrap_or(0.0) / 3600.0;
    let stuck = if logger.flat > 0 {
        format!("; it repeats one value for {flat_h:.0} h in all")
    } else {
        String::new()
    };
    let burst = match logger.spikes_in_a_day {
        n if n >= BURST => format!("; {n} of them are spikes within 24 hours"),
        _ => String::new(),
    };
    let shows = format!(
        "Of logger {}'s readings in {} {share:.1} % are doubtful ({fail} failed, {suspect} suspect){stuck}{burst}.",
        logger.logger, logger.room
    );
    let span = logger.first_utc.zip(logger.last_utc).map(|(from, to)| Span { from, to });
    Verdict::Found(Found {
        severity,
        span,
        observed: share,
        unit: "%",
        limit: DOUBTFUL,
        range: None,
        shows,
        doubt: None,
    })
}
