//! Whether a time was spent elsewhere: what loggers say in a box, or before they were brought, is no room's.

use super::Evidence;
use crate::clock::Span;
use crate::quality::LoggerRow;
use crate::quality::episodes::{Episode, Seen};

/// Share of a time that lies in one box, or in a colder place, from which on it tells nothing.
const ELSEWHERE: f64 = 0.5;
/// The rules that tell of them.
const BOX: &str = "loggers-together";
const COLDER_PLACE: &str = "logger-elsewhere";
/// Share of a home's loggers that were in a colder place.
const OF_LOGGERS: f64 = 0.5;

/// The rule that tells of a box, or of a colder place that loggers came from, where most of a time was spent there:
/// then it tells nothing of a room.
///
/// `room`: whose loggers; `None`: of a box any of the home, of a colder place half of them.
pub fn elsewhere_then(evidence: &Evidence<'_>, room: Option<&str>, time: Span) -> Option<&'static str> {
    let loggers: Vec<&LoggerRow> =
        evidence.loggers.iter().filter(|l| room.is_none_or(|room| l.room == room)).collect();
    let mostly = |l: &&&LoggerRow, seen: fn(&Seen) -> bool| {
        let inside = |e: &Episode| match seen(&e.seen) && e.span.overlaps(&time) {
            true => e.span.intersect(&time).hours(),
            false => 0.0,
        };
        l.episodes.iter().map(inside).fold(0.0, f64::max) > ELSEWHERE * time.hours()
    };
    let boxed = loggers.iter().any(|l| mostly(&l, |seen| matches!(seen, Seen::Together { .. })));
    let brought = loggers.iter().filter(|l| mostly(l, |seen| matches!(seen, Seen::Brought { .. }))).count();
    let most = if room.is_some() { brought > 0 } else { brought as f64 >= OF_LOGGERS * loggers.len() as f64 };
    match () {
        () if boxed => Some(BOX),
        () if brought > 0 && most => Some(COLDER_PLACE),
        () => None,
    }
}
