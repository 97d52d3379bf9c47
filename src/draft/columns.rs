//! Which series of an export may be rooms: only temperatures, and of one room only one.
//!
//! Settled here, and why:
//! - **Which columns a draft takes**: where some say that they are temperatures, of the others only those named after a
//!   room; what is left out is named with its reason.

use super::Candidate;
use super::guess::use_of;
use crate::exports::vocabulary::{Holds, has_part, has_word};
use crate::exports::{SeriesSeen, TextSeen};

/// What columns beside a room's temperature hold.
const SOMETHING_ELSE: [Holds; 7] = [
    Holds::Setting,
    Holds::DewPoint,
    Holds::Felt,
    Holds::Extreme,
    Holds::Serial,
    Holds::Battery,
    Holds::OfHeating,
];
/// Why a series of temperatures is no row.
pub(super) const NO_VALUE: &str = "no row of it has a value";
/// No room and no street is this warm or cold, in either unit.
const NO_TEMPERATURE: [f64; 2] = [-60.0, 130.0];

/// The name by which a roster finds a series in its file.
pub(super) fn name_of(series: &SeriesSeen) -> &str {
    series.quantity.as_deref().unwrap_or(&series.column)
}

/// The series of a text that may be rooms, and why others are none.
pub(super) fn of_rooms(text: &TextSeen) -> (Vec<&SeriesSeen>, Vec<(&SeriesSeen, &'static str)>) {
    let some = |is: &dyn Fn(&SeriesSeen) -> bool| text.series.iter().any(is);
    let says = some(&|s| s.says_temperature && !speaks_of_something_else(name_of(s)));
    let air = some(&|s| !speaks_of_something_else(name_of(s)));
    let (mut rooms, mut others) = (Vec::new(), Vec::new());
    for series in &text.series {
        let far = |x: f64| !(NO_TEMPERATURE[0]..=NO_TEMPERATURE[1]).contains(&x);
        if series.rows == series.missing {
            others.push((series, NO_VALUE));
        } else if air && speaks_of_something_else(name_of(series)) {
            others.push((
                series,
                "its name speaks of something else than the room's temperature, which another column has",
            ));
        } else if says && !series.says_temperature && use_of(name_of(series)).is_none() {
            others
                .push((series, "nothing in its name says that it is a temperature, which other columns say"));
        } else if series.unit_stated.is_none() && series.median.is_some_and(far) {
            others.push((series, "its values are no temperatures of a room"));
        } else {
            rooms.push(series);
        }
    }
    (rooms, others)
}

/// Asks for a decision where several columns of one file are the same room's.
pub(super) fn settle(candidates: &mut [Candidate<'_>]) {
    for at in 0..candidates.len() {
        let others =
            candidates.iter().enumerate().filter(|(o, other)| *o != at && same_place(other, &candidates[at]));
        if others.count() > 0 {
            let note = "decide: column (keep the row with the room's temperature, remove the others)";
            candidates[at].notes.push(note.to_owned());
        }
    }
}

fn same_place(one: &Candidate<'_>, other: &Candidate<'_>) -> bool {
    one.column.is_some()
        && one.file == other.file
        && one.nowhere.is_none()
        && (&one.home, &one.logger) == (&other.home, &other.logger)
        && one.room == other.room
}

fn speaks_of_something_else(name: &str) -> bool {
    has_word(name, &SOMETHING_ELSE) || has_part(name, &[Holds::Setpoint, Holds::DewPoint, Holds::Serial])
}
