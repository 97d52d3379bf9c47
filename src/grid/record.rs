//! The time in which most rooms of a home record.
//!
//! Settled here, and why:
//! - **Without periods** there is one, `whole record`: from the first to the last instant at which at least half of the
//!   home's rooms record (a hole of a day ends a room's record; where never so many record at once, as many as ever do).
//!   Rooms are counted, not loggers, because a room may have had several. What begins late or ends early is told once for
//!   a home (`partial-record`), what lies outside altogether by logger (`out-of-period`); `thin-coverage` asks only for
//!   the time from a room's first to its last reading.

use std::ops::Range;

use super::AlignedRoom;
use crate::clock::HOUR_MS;

/// A hole of this length ends the record of a room.
const RECORD_ENDS_MS: i64 = 24 * HOUR_MS;

/// From the first to the last instant at which at least half of the rooms record.
pub(super) fn most_record(rooms: &[AlignedRoom], step_ms: i64) -> Range<usize> {
    let longest_hole = (RECORD_ENDS_MS / step_ms).max(1) as usize;
    let records: Vec<Vec<Range<usize>>> = rooms.iter().map(|r| parts(&r.degc, longest_hole)).collect();
    let half = records.iter().filter(|parts| !parts.is_empty()).count().div_ceil(2);
    let mut changes: Vec<(usize, i32)> =
        records.iter().flatten().flat_map(|part| [(part.start, 1), (part.end, -1)]).collect();
    // Where one record ends just as another begins, both are there.
    changes.sort_by_key(|(at, change)| (*at, -*change));
    let counts = changes.iter().scan(0, |count, (at, change)| {
        *count += change;
        Some((*at, *count))
    });
    let counts: Vec<(usize, i32)> = counts.collect();
    let most = counts.iter().map(|(_, count)| *count).max().unwrap_or(0);
    let enough = i32::try_from(half).unwrap_or(i32::MAX).min(most).max(1);
    let from = counts.iter().find(|(_, count)| *count >= enough).map(|(at, _)| *at);
    let to = counts.iter().rposition(|(_, count)| *count >= enough).and_then(|i| counts.get(i + 1));
    from.zip(to).map_or(0..0, |(from, (to, _))| from..*to)
}

/// The parts of a record, from value to value, without holes longer than so many instants.
fn parts(degc: &[f64], longest_hole: usize) -> Vec<Range<usize>> {
    within(present(degc), longest_hole)
}

/// The stretches of instants that have a value.
pub(crate) fn present(degc: &[f64]) -> impl Iterator<Item = Range<usize>> + Clone {
    let mut from = 0;
    std::iter::from_fn(move || {
        from += degc[from..].iter().position(|x| !x.is_nan())?;
        let rest = &degc[from..];
        let length = rest.iter().position(|x| x.is_nan()).unwrap_or(rest.len());
        from += length;
        Some(from - length..from)
    })
}

/// Ranges in rising order, those that touch or overlap made one.
pub(crate) fn joined(ranges: impl Iterator<Item = Range<usize>>) -> Vec<Range<usize>> {
    let mut ranges: Vec<Range<usize>> = ranges.collect();
    ranges.sort_by_key(|r| r.start);
    within(ranges.into_iter(), 0)
}

/// Ranges that rise, those that lie no further apart than so many instants made one.
fn within(ranges: impl Iterator<Item = Range<usize>>, apart: usize) -> Vec<Range<usize>> {
    let mut joined: Vec<Range<usize>> = Vec::new();
    for range in ranges {
        match joined.last_mut() {
            Some(last) if range.start <= last.end + apart => last.end = last.end.max(range.end),
            _ => joined.push(range),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Accuracy, KelvinDiff};

    #[test]
    fn one_long_or_stale_record_stretches_nothing() {
        let room =
            |parts: &[(usize, usize)]| AlignedRoom {
                degc: (0..9000)
                    .map(|i| {
                        if parts.iter().any(|(from, to)| (*from..*to).contains(&i)) { 20.0 } else { f64::NAN }
                    })
                    .collect(),
                humidity: None,
                placed: Vec::new(),
                suspect: Vec::new(),
                accuracy: Accuracy::stated(KelvinDiff::new(0.5)),
                doubted: false,
            };
        let of = |rooms: &[AlignedRoom]| most_record(rooms, 300_000);
        let (short, long) = (room(&[(100, 3000)]), room(&[(0, 3050), (6000, 9000)]));
        assert_eq!(of(&[short.clone(), room(&[(90, 2990)]), long.clone()]), 90..3000);
        assert_eq!(of(&[short.clone(), room(&[(110, 2000), (2100, 2900)])]), 100..3000);
        assert_eq!(
            of(&[short.clone(), room(&[(5000, 6000)]), room(&[(7000, 8000)])]),
            100..8000,
            "never two at once"
        );
        assert_eq!(of(&[room(&[])]), 0..0);
    }

    #[test]
    fn stretches_hold_every_value_and_no_gap() {
        let gap = f64::NAN;
        let of = |degc: &[f64]| -> Vec<Range<usize>> { present(degc).collect() };
        let none: [Range<usize>; 0] = [];
        assert_eq!(of(&[gap, 1.0, 2.0, gap, gap, 3.0]), [1..3, 5..6]);
        assert_eq!(of(&[1.0, 2.0]), vec![Range { start: 0, end: 2 }]);
        assert_eq!(of(&[gap]), none);
        assert_eq!(of(&[]), none);
    }

    #[test]
    fn ranges_that_touch_or_overlap_are_one() {
        assert_eq!(joined([0..2, 2..5, 7..8].into_iter()), [0..5, 7..8]);
        assert_eq!(joined([7..8, 0..4, 1..2].into_iter()), [0..4, 7..8]);
    }
}
