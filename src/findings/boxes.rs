//! Whether a time was spent in a box: what all loggers say there is no room's.

use super::Evidence;
use crate::clock::Span;
use crate::quality::LoggerRow;
use crate::quality::episodes::{Episode, Seen};

/// Share of an outage that lies in a time in one box, from which on it is none.
const IN_A_BOX: f64 = 0.5;

/// Whether loggers that are taken to have lain in one box lay there for most of a time: then it tells nothing of a room.
///
/// `room`: whose loggers; `None`: any of the home.
pub fn mostly_in_a_box(evidence: &Evidence<'_>, room: Option<&str>, time: Span) -> bool {
    let of_room = |l: &&LoggerRow| room.is_none_or(|room| l.room == room);
    let boxes = evidence.loggers.iter().filter(of_room).flat_map(|l| &l.episodes);
    let inside = |e: &Episode| match e.seen {
        Seen::Together { .. } if e.span.overlaps(&time) => e.span.intersect(&time).hours(),
        _ => 0.0,
    };
    boxes.map(inside).fold(0.0, f64::max) > IN_A_BOX * time.hours()
}
