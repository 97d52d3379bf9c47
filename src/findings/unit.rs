//! Cold rooms whose numbers are those of a usual room in the other unit: readings that were converted once too often, or never.
//!
//! Settled here, and why:
//! - **The unit in doubt** (`findings/unit.rs`): a cold room whose readings, taken for °F and turned back, are 15 to 28
//!   °C and steady, while no other room that cannot be so explained is cold too. It is a doubt, not evidence: the
//!   readings are used.

use super::rooms::settle_first;
use super::{Found, RoomCase, Verdict};
use crate::metrics;
use crate::units::Celsius;

/// The rule that is to be settled first.
pub(super) const RULE: &str = "wrong-unit";

/// What to do first.
pub(super) const NEXT_STEP: &str = "find out first in which unit these readings are: open the export, ask who converted it, and whether somebody did so twice; write `unit` into the roster, or take the file as the logger wrote it, and run again; where the unit is right, the room is as cold as it seems: go there today, look for frozen pipes before water is turned on, and see that nobody who is old, ill or very young stays in such cold";

/// What a usual room is, °C, once the numbers are taken for that unit.
const ROOM_DEGC: std::ops::RangeInclusive<f64> = 15.0..=28.0;
/// Nine tenths of its readings lie within so many K then.
const STEADY_K: f64 = 12.0;
/// Another room that is so cold, °C, and no usual room in the other unit, bears the cold out.
const ALSO_COLD_DEGC: f64 = 10.0;

/// The lowest and the highest twentieth of a room as they would be in the other unit, °C: of the readings of a usual room
/// taken for °F where they were °C.
fn in_other_unit(case: &RoomCase<'_>) -> Option<(f64, f64)> {
    let value = |id| case.row(id).map(|row| Celsius::new(row.value).degf());
    let (low, middle, high) = (value(&metrics::P05)?, value(&metrics::MEDIAN)?, value(&metrics::P95)?);
    (ROOM_DEGC.contains(&middle) && high - low <= STEADY_K).then_some((low, high))
}

/// Whether it may be the unit that makes a room cold, and no other room of the home speaks for the cold.
pub(super) fn in_doubt(case: &RoomCase<'_>) -> bool {
    let others = case.case.evidence.home.rooms.iter().filter(|room| room.name != case.room.name);
    let mut others = others.map(|room| RoomCase { room, ..*case });
    in_other_unit(case).is_some()
        && !others.any(|other| {
            in_other_unit(&other).is_none()
                && other.row(&metrics::MEDIAN).is_some_and(|median| median.value <= ALSO_COLD_DEGC)
        })
}

/// Says first that the unit may be wrong, where that is the doubt: nothing is certain then.
pub(super) fn told_first(verdict: Verdict, case: &RoomCase<'_>) -> Verdict {
    let Verdict::Found(found) = verdict else { return verdict };
    let Some((low, high)) = in_other_unit(case).filter(|_| found.doubt == Some(RULE)) else {
        return Verdict::Found(found);
    };
    let mut shows = found.shows.replace("(certainly ", "(at least ").replace(", possibly ", ", at most ");
    shows = shows.replace("certainly ", "").replace(&settle_first(Some(RULE)), "");
    let rest = shows.strip_prefix('T').map_or(shows.clone(), |rest| format!("t{rest}"));
    let shows = format!(
        "Either the unit is wrong (in the other one its readings are {} to {} nine tenths of the time), or {rest}",
        case.show(low),
        case.show(high)
    );
    Verdict::Found(Found { shows, ..found })
}
