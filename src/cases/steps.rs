//! What to do first about a case, what to bring, and what else it may be: that of its kind, unless more is known of its rooms.
//!
//! Settled here, and why:
//! - **A room without heating of its own** sends nobody to a filter or a remote control: heat comes to it through a door.
//! - **Two heated rooms and more, or late mornings** are no logger in a bad place: there the heating is looked at first, with what
//!   it takes to see whether it gives what it should.
//! - **Rooms far apart** are named, the coldest and the warmest: nobody has to look for them in a table.

use super::assemble::Draft;
use super::kinds;
use crate::findings::Evidence;
use crate::metrics::{LONGEST_ABOVE_BAND, Metric, SHARE_COLDEST, SHARE_WARMEST, Slice};
use crate::site::{Heated, Purpose, Room};

/// Heated rooms from which on a cold home is no matter of a single logger.
const SEVERAL: usize = 2;

/// First step of a case, and what to bring.
pub(super) fn first_step(evidence: &Evidence<'_>, draft: &Draft<'_>) -> (String, String) {
    let (step, bring) = match draft.kind {
        kind if kind == &kinds::TOO_COLD => too_cold(evidence, draft),
        kind if kind == &kinds::STUCK && draft.findings.iter().all(|f| f.rule == "may-be-stuck") => (
            "hold the logger beside another for a day; replace it if it does not follow (its readings are used, and counted both ways)",
            kind.bring,
        ),
        // Nobody takes a meter to a home that was empty and is warm again.
        _ if draft.outage.is_some_and(|outage| outage.nobody && !outage.censored) => (
            "ask the people who live there whether they were away and turned the heating down; if not, look at the heat pumps' fault memory",
            "list of fault codes",
        ),
        kind if kind == &kinds::UNEVEN => return uneven(evidence, draft),
        // A file that the roster does not name is another matter than two rooms with one record: the finding knows which it is.
        kind if kind == &kinds::ALIKE => (
            draft.findings.iter().min_by_key(|f| f.severity).map_or(kind.next_step, |f| f.next_step),
            kind.bring,
        ),
        kind => (kind.next_step, kind.bring),
    };
    (step.to_owned(), bring.to_owned())
}

/// Unbroken hours above the band up to which cooking may have made them.
const MEAL_H: f64 = 4.0;

/// What else could look like a case: that of its kind; and in a kitchen that is too warm for a few hours at a time, cooking.
pub(super) fn could_also_be(evidence: &Evidence<'_>, draft: &Draft<'_>) -> String {
    let other = draft.kind.could_also_be;
    let short = |room: &Room| {
        let row = evidence.rows.row(draft.period, Slice::All, Some(&room.name), &LONGEST_ABOVE_BAND);
        row.is_some_and(|row| row.value <= MEAL_H)
    };
    let cooked_in = |room: &usize| {
        let room = &evidence.home.rooms[*room];
        room.purpose == Purpose::Kitchen && short(room)
    };
    match draft.kind == &kinds::OVERHEATS && draft.rooms.iter().any(cooked_in) {
        true => format!("cooking (short peaks at meal times), {other}"),
        false => other.to_owned(),
    }
}

fn too_cold(evidence: &Evidence<'_>, draft: &Draft<'_>) -> (&'static str, &'static str) {
    let is = |heated: Heated| {
        let rooms = &evidence.home.rooms;
        draft.rooms.iter().filter(move |room| rooms[**room].heated == heated).count()
    };
    let late = draft.findings.iter().any(|f| f.rule == "slow-recovery");
    match () {
        () if !draft.rooms.is_empty() && is(Heated::No) == draft.rooms.len() => (
            "look where the logger stands, at windows, and whether air from the heated rooms reaches this one with its door as people keep it",
            "thermometer, tape measure for the gap below the door",
        ),
        () if is(Heated::Yes) >= SEVERAL || late => (
            "look at what the heating of these rooms gives: setting, filter, air paths, outdoor unit, refrigerant, then its size; last at windows and doors",
            "thermometer, remote control, filter, gauge set",
        ),
        () => (kinds::TOO_COLD.next_step, kinds::TOO_COLD.bring),
    }
}

fn uneven(evidence: &Evidence<'_>, draft: &Draft<'_>) -> (String, String) {
    let ends = [&SHARE_COLDEST, &SHARE_WARMEST].map(|share| highest(evidence, draft.period, share));
    let step = match ends {
        [Some(coldest), Some(warmest)] if draft.rooms.is_empty() => format!(
            "look first at {} (mostly the coldest) and {} (mostly the warmest): doors, settings, and where their loggers stand",
            coldest.name, warmest.name
        ),
        _ => kinds::UNEVEN.next_step.to_owned(),
    };
    (step, kinds::UNEVEN.bring.to_owned())
}

/// The room with the highest share; of equal ones the first.
fn highest<'e>(evidence: &Evidence<'e>, period: &str, share: &Metric) -> Option<&'e Room> {
    let of = |room: &'e Room| {
        let row = evidence.rows.row(period, Slice::All, Some(&room.name), share)?;
        Some((row.value, room))
    };
    let rooms = evidence.home.rooms.iter().filter_map(of);
    rooms.reduce(|a, b| if b.0 > a.0 { b } else { a }).map(|(_, room)| room)
}
