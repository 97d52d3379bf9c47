//! What must have been judged of the hours that a number is about: what is missing may have been the worst, night after night.
//!
//! Settled here, and why:
//! - **A pass rests on hours that are there** (`findings/enough.rs`): 90 % of those that its number is about, each number
//!   its own. Rooms: of the time, and of days and nights apart where their bands differ; the heat rule: of its hours,
//!   judged (too close to call is judged; 75 % must be told besides); the spread: of the time in which loggers stood in
//!   as many rooms as it takes; evenness: of the hours of days on which they did for three quarters; recovery: of the
//!   mornings, those that tell whether the room was in time.

use super::{HomeCase, RoomCase, Verdict};
use crate::clock::{Span, local_days};
use crate::metrics::{self, DAY_COVERAGE, Slice, quorum};
use crate::site::Room;

/// Share of the hours that a number is about, in %, that must have been judged for it to be a pass.
///
/// # Source
/// METRICS, section 9: default of the coverage that acceptance asks for.
const PASSING: f64 = 90.0;

/// Nothing was found, as far as was judged: clear where that is enough. `what`: of what the share is, and what was judged.
pub(super) fn clear_where_seen(share: f64, what: &str) -> Verdict {
    if share >= PASSING {
        return Verdict::Clear;
    }
    // Rounded up it would read as enough.
    Verdict::NotJudged(format!("{:.0} % of {what}, {PASSING:.0} % are needed", share.min(PASSING - 1.0)))
}

/// Nothing was found in a room, as far as its record goes.
pub(super) fn clear_in_room(case: &RoomCase<'_>) -> Verdict {
    match coverage(case, Slice::All).filter(|share| *share > 0.0) {
        Some(share) => clear_where_seen(share, "the time has a usable value"),
        None => Verdict::NotJudged("the record has no usable value".to_owned()),
    }
}

/// The same beside a band: by day and by night apart, where these have bands of their own.
pub(super) fn clear_within_band(case: &RoomCase<'_>) -> Verdict {
    let bands = &case.case.evidence.site.bands;
    let apart = bands.night.is_some() && bands.night != bands.occupied;
    let whole = clear_in_room(case);
    if !apart || !matches!(whole, Verdict::Clear) {
        return whole;
    }
    let parts = [
        (Slice::Night, "the time by night has a usable value"),
        (Slice::Day, "the time by day has a usable value"),
    ];
    let verdict = |(slice, what)| Some(clear_where_seen(coverage(case, slice)?, what));
    let mut open = parts.into_iter().filter_map(verdict).filter(|part| !matches!(part, Verdict::Clear));
    open.next().unwrap_or(whole)
}

fn coverage(case: &RoomCase<'_>, slice: Slice) -> Option<f64> {
    case.case.row_in(slice, Some(&case.room.name), &metrics::COVERAGE).map(|row| row.value)
}

/// Hours of the period in which loggers stood in as many rooms as a spread takes.
pub(super) fn hours_together(case: &HomeCase<'_>) -> f64 {
    times_together(case).iter().map(Span::hours).sum()
}

/// Hours of the days on which a logger stood in the room, and in as many rooms as a spread takes, for most of the day.
pub(super) fn hours_of_days(case: &RoomCase<'_>) -> f64 {
    let together = times_together(&case.case);
    let Some(period) = case.case.evidence.span_of(case.case.period) else { return 0.0 };
    let of_day = |day: Span| {
        let here = together.iter().map(|time| time.intersect(&day));
        let here = here.flat_map(|time| case.room.placements.iter().map(move |p| p.span.intersect(&time)));
        let hours: f64 = here.filter(|span| span.from < span.to).map(|span| span.hours()).sum();
        if hours >= DAY_COVERAGE * day.hours() { hours } else { 0.0 }
    };
    local_days(case.case.evidence.site.zone, period).iter().map(|day| of_day(day.span)).sum()
}

/// The parts of the period in which loggers stood in as many rooms as a spread takes, whether they recorded or not.
fn times_together(case: &HomeCase<'_>) -> Vec<Span> {
    let evidence = &case.evidence;
    let Some(period) = evidence.span_of(case.period) else { return Vec::new() };
    let quorum = quorum(evidence.site, evidence.home);
    let rooms = &evidence.home.rooms;
    let placed = rooms.iter().flat_map(|room| &room.placements).map(|p| p.span.intersect(&period));
    let mut edges: Vec<_> =
        placed.filter(|span| span.from < span.to).flat_map(|span| [span.from, span.to]).collect();
    edges.sort_unstable();
    edges.dedup();
    let parts = edges.windows(2).map(|at| Span { from: at[0], to: at[1] });
    let stands = |room: &&Room, part: &Span| room.placements.iter().any(|p| p.span.contains(part.from));
    parts.filter(|part| rooms.iter().filter(|room| stands(room, part)).count() >= quorum).collect()
}
