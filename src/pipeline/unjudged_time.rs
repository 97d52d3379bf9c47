//! What was recorded at times that no number holds.

use crate::clock::Span;
use crate::error::Note;
use crate::quality::LoggerRow;
use crate::site::Site;

/// Hours of a record outside of what is judged that are worth a note.
const OUTSIDE_H: f64 = 24.0;

/// The hint of the note on what is recorded after the last period; whoever asks about one time asks for nothing after it.
pub const AFTER_THE_PERIODS: &str = "add a [[period]] that reaches to the end of the record";

/// Where the site names no period: what loggers recorded while fewer than half of the home's rooms did, which is in no number.
pub(super) fn unjudged_time(site: &Site, periods: &[(String, Span)], loggers: &[LoggerRow]) -> Vec<Note> {
    if !site.periods.is_empty() {
        return after_the_periods(site, periods, loggers).into_iter().collect();
    }
    let [(_, judged)] = periods else { return Vec::new() };
    let outside = |span: Span| {
        let inside = span.intersect(judged);
        span.hours() - if inside.from < inside.to { inside.hours() } else { 0.0 }
    };
    let note = |logger: &LoggerRow| {
        let own = logger.record()?;
        let empty = logger.holes.iter().chain(&logger.blanks).copied().map(outside).sum::<f64>();
        let hours = outside(own) - empty;
        // A record that lies outside altogether is a finding.
        (site.periods.is_empty() && own.overlaps(judged) && hours > OUTSIDE_H).then(|| Note {
            place: logger.file.clone(),
            line: None,
            what: format!(
                "logger {} in {} {} recorded {hours:.0} h while fewer than half of the home's rooms did: they are in no number",
                logger.logger, logger.home, logger.room
            )
            .into(),
            hint: format!(
                "if it was carried away by then, end its row of the roster there (`to`); if it stood in its room, add a [[period]] to the site file that has them, with name, from and to (their record: {} to {})",
                site.zone.date(own.from),
                site.zone.date(own.to)
            ),
            unreadable: false,
        })
    };
    loggers.iter().filter_map(note).collect()
}

/// A home that is recorded for a day and more after the last period: what happens there now is in no number.
fn after_the_periods(site: &Site, periods: &[(String, Span)], loggers: &[LoggerRow]) -> Option<Note> {
    let judged_to = periods.iter().map(|(_, span)| span.to).max()?;
    let last = loggers.iter().filter_map(LoggerRow::record).map(|record| record.to).max()?;
    let home = &loggers.first()?.home;
    (Span { from: judged_to, to: last }.hours() > OUTSIDE_H).then(|| Note {
        place: format!("home {home}"),
        line: None,
        what: format!(
            "its record goes on to {}, and no period holds what comes after {}: nothing is said of that time",
            site.zone.show(last),
            site.zone.show(judged_to)
        )
        .into(),
        hint: AFTER_THE_PERIODS.to_owned(),
        unreadable: false,
    })
}
