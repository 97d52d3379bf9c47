//! Loggers of a home whose records lie in another time than those of its other rooms.

use super::LoggerRow;
use crate::clock::{HOUR_MS, Span};
use crate::error::Note;
use crate::site::Site;

/// Records further apart than this are of another time.
const ELSEWHERE_MS: i64 = 60 * 24 * HOUR_MS;

/// A note for each logger of a home whose record lies months away from those of all other rooms, while those overlap.
///
/// A room that was recorded a little earlier or later than the others, with one logger for several rooms, gives none.
pub fn notes(site: &Site, loggers: &[LoggerRow]) -> Vec<Note> {
    let record = |l: &LoggerRow| Some(Span { from: l.first_utc?, to: l.last_utc? });
    let records: Vec<(&LoggerRow, Span)> = loggers.iter().filter_map(|l| Some((l, record(l)?))).collect();
    let alone = |(logger, span): &&(&LoggerRow, Span)| {
        let others = || records.iter().filter(|(o, _)| o.room != logger.room);
        let together =
            |(a, one): &(&LoggerRow, Span)| others().any(|(b, two)| a.room != b.room && one.overlaps(two));
        !others().any(|(_, other)| near(span, other)) && others().any(together)
    };
    let note = |(logger, span): &(&LoggerRow, Span)| {
        let others = records.iter().filter(|(o, _)| o.room != logger.room).map(|(_, span)| *span);
        let hull = others.reduce(|a, b| Span { from: a.from.min(b.from), to: a.to.max(b.to) })?;
        let show = |span: Span| format!("{} to {}", site.zone.show(span.from), site.zone.show(span.to));
        Some(Note {
            place: logger.file.clone(),
            line: None,
            what: format!(
                "logger {} in {} {} recorded {}, the other rooms of the home {}: they share no time",
                logger.logger,
                logger.home,
                logger.room,
                show(*span),
                show(hull)
            ),
            hint: "a date that was never set, or set a year off, looks like this, and so does an old download: correct the dates of the export, or leave it out; until then coverage counts both times".to_owned(),
            unreadable: false,
        })
    };
    records.iter().filter(alone).filter_map(note).collect()
}

fn near(one: &Span, other: &Span) -> bool {
    one.from < other.to.plus_ms(ELSEWHERE_MS) && other.from < one.to.plus_ms(ELSEWHERE_MS)
}
