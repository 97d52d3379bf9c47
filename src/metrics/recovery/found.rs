//! Setbacks that nobody told of, found in the heated rooms.
//!
//! Settled here, and why:
//! - **Setbacks found in the data**: the target is each room's own median of the 6 h before the fall; a fall starts at
//!   the last value within a tenth of its depth from the top, recovery at the last within a tenth from the bottom.
//! - **Suspect readings** of half of the heated rooms, as in one box, tell of no setback: it is a guess, and those are no
//!   ground for it. In every number they stay.

use std::ops::Range;

use super::super::HomeScope;
use super::{LONGEST_H, SetbackEnd, late_from, outdoor_mean};
use crate::clock::{HOUR_MS, Span};
use crate::stats;

/// How far the heated rooms must fall, and rise again.
const FALL_K: f64 = 1.5;
/// How long the fall may take.
const FALL_H: i64 = 10;
/// Width of the median filter.
const FILTER_MS: i64 = 30 * 60_000;
/// Spacing at which setbacks are looked for, where the grid is finer.
const THIN_MS: i64 = 5 * 60_000;
/// How long before the fall the target is taken from.
const BEFORE_H: i64 = 6;
/// Share of the fall within which a value counts as still at the top, or still at the bottom.
const STILL: f64 = 0.1;
/// Share of the record that a heated room must have to count.
const ROOM_COVERAGE: f64 = 0.75;

/// Indices of a fall: its start, and the instant from which it rises again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Fall {
    from: usize,
    rises: usize,
}

/// Falls of the heated rooms in which nobody told of a setback: from where they fall until they rise again.
pub(in super::super) fn falls(scope: &HomeScope<'_>) -> Vec<Range<usize>> {
    falls_of_home(scope).iter().map(|fall| fall.from..fall.rises).collect()
}

fn falls_of_home(scope: &HomeScope<'_>) -> Vec<Fall> {
    let steps = |ms: i64| (ms / scope.aligned().step_ms()).max(1) as usize;
    // Every five minutes are enough, and keep the filter cheap on a fine grid.
    let every = steps(THIN_MS);
    let thinned: Vec<f64> = heated_mean(scope).into_iter().step_by(every).collect();
    let mean = filtered(&thinned, steps(FILTER_MS) / every / 2);
    let mut falls = falls_in(&mean, steps(FALL_H * HOUR_MS) / every);
    falls.iter_mut().for_each(|f| *f = Fall { from: f.from * every, rises: f.rises * every });
    falls.retain(|f| !mostly_suspect(scope, f.rises));
    falls
}

/// Whether half of the heated rooms with a value rest on suspect readings at an instant, as where loggers lie in one box:
/// such readings are used, and no setback that nobody told of is read out of them.
fn mostly_suspect(scope: &HomeScope<'_>, i: usize) -> bool {
    let there = |r: &usize| scope.rooms()[*r].heated.surely() && !scope.degc(*r)[i].is_nan();
    let rooms: Vec<usize> = (0..scope.rooms().len()).filter(there).collect();
    let suspect = rooms.iter().filter(|r| scope.room(**r).is_suspect(i)).count();
    suspect > 0 && 2 * suspect >= rooms.len()
}

pub(super) fn in_data(scope: &HomeScope<'_>) -> Vec<SetbackEnd> {
    let aligned = scope.aligned();
    let steps = |ms: i64| (ms / aligned.step_ms()).max(1) as usize;
    let falls = falls_of_home(scope);
    let end = |(k, fall): (usize, &Fall)| {
        let start = aligned.time(fall.rises);
        let latest = start.plus_ms(LONGEST_H * HOUR_MS);
        let before = fall.from.saturating_sub(steps(BEFORE_H * HOUR_MS))..fall.from + 1;
        let target = |room: usize| {
            let blocks = scope.room(room).blocks();
            stats::median(blocks.values(scope.degc(room), std::slice::from_ref(&before)))
        };
        SetbackEnd {
            start,
            until: falls.get(k + 1).map_or(latest, |next| aligned.time(next.from).min(latest)),
            late_from: late_from(scope, start, Span { from: aligned.time(fall.from), to: start }.hours()),
            targets: (0..scope.rooms().len()).map(target).collect(),
            outdoor_degc: outdoor_mean(scope, start),
        }
    };
    falls.iter().enumerate().map(end).collect()
}

/// Mean of the heated rooms where all of those with most of the record are present; NaN elsewhere.
fn heated_mean(scope: &HomeScope<'_>) -> Vec<f64> {
    let record = scope.aligned().record();
    let covers = |room: &usize| {
        let present = scope.room(*room).blocks().count(&record);
        present > 0 && present as f64 >= ROOM_COVERAGE * record.len() as f64
    };
    let rooms: Vec<&[f64]> = (0..scope.rooms().len())
        .filter(|r| scope.rooms()[*r].heated.surely())
        .filter(covers)
        .map(|r| scope.degc(r))
        .collect();
    let mut sums = vec![0.0; scope.aligned().len()];
    for room in &rooms {
        sums.iter_mut().zip(*room).for_each(|(sum, x)| *sum += x);
    }
    sums.iter_mut().for_each(|sum| *sum /= rooms.len() as f64);
    sums
}

/// Each value the median of itself and `side` values on either side, NaN beside a hole.
fn filtered(values: &[f64], side: usize) -> Vec<f64> {
    let width = 2 * side + 1;
    let Some(last) = values.len().checked_sub(width) else {
        return (0..values.len()).map(|i| window_median(values, i, side)).collect();
    };
    // At the ends windows are cut short.
    let mut filtered: Vec<f64> = (0..side).map(|i| window_median(values, i, side)).collect();
    filtered.reserve(values.len());
    let moved: Vec<&[f64]> = (0..width).map(|k| &values[k..=last + k]).collect();
    stats::ranks_by_block(&moved, &[side], |_, ranked| filtered.extend_from_slice(&ranked[side]));
    filtered.extend((last + side + 1..values.len()).map(|i| window_median(values, i, side)));
    for hole in (0..values.len()).filter(|i| values[*i].is_nan()) {
        filtered[hole.saturating_sub(side)..(hole + side + 1).min(values.len())].fill(f64::NAN);
    }
    filtered
}

fn window_median(values: &[f64], i: usize, side: usize) -> f64 {
    let window = &values[i.saturating_sub(side)..(i + side + 1).min(values.len())];
    if window.iter().any(|x| x.is_nan()) {
        return f64::NAN;
    }
    stats::median(window.to_vec()).unwrap_or(f64::NAN)
}

/// Falls by [`FALL_K`] within `longest` steps, each followed by a rise as large; a hole ends what was begun.
fn falls_in(values: &[f64], longest: usize) -> Vec<Fall> {
    let mut found = Vec::new();
    let (mut top, mut bottom): (Option<usize>, Option<usize>) = (None, None);
    for (i, x) in values.iter().enumerate() {
        let value = |at: Option<usize>| at.map(|at| values[at]);
        if x.is_nan() {
            (top, bottom) = (None, None);
        } else if let Some(low) = value(bottom) {
            if *x <= low {
                bottom = Some(i);
            } else if *x >= low + FALL_K {
                found.extend(bottom.and_then(|lowest| fall(values, lowest, i, longest)));
                (top, bottom) = (Some(i), None);
            }
        } else if value(top).is_none_or(|high| *x >= high) {
            top = Some(i);
        } else if value(top).is_some_and(|high| *x <= high - FALL_K) {
            bottom = Some(i);
        }
    }
    found
}

/// The fall to `lowest`, if it was quick enough; `rose` is where the rise is sure.
fn fall(values: &[f64], lowest: usize, rose: usize, longest: usize) -> Option<Fall> {
    let since = lowest.saturating_sub(longest);
    let seen = values[since..=lowest].iter().rposition(|x| x.is_nan()).map_or(since, |hole| since + hole + 1);
    let high = values[seen..=lowest].iter().copied().reduce(f64::max)?;
    let depth = high - values[lowest];
    let from = seen + values[seen..=lowest].iter().rposition(|x| *x >= high - STILL * depth)?;
    let rises = lowest + values[lowest..=rose].iter().rposition(|x| *x <= values[lowest] + STILL * depth)?;
    (depth >= FALL_K).then_some(Fall { from, rises })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hourly: a steady evening, a fall by 3 K over 4 h, 3 h at the bottom, a rise.
    const NIGHT: [f64; 14] =
        [21.0, 21.0, 21.0, 20.0, 19.0, 18.5, 18.0, 18.0, 18.05, 19.0, 20.0, 21.0, 21.0, 21.0];

    #[test]
    fn a_setback_is_a_fall_and_a_rise() {
        assert_eq!(falls_in(&NIGHT, 10), [Fall { from: 2, rises: 8 }]);
        let two: Vec<f64> = NIGHT.iter().chain(&NIGHT).copied().collect();
        assert_eq!(falls_in(&two, 10).len(), 2);
    }

    #[test]
    fn a_slow_fall_a_small_one_and_one_without_a_rise_are_none() {
        assert!(falls_in(&NIGHT, 1).is_empty(), "within one hour it falls by 1 K only");
        assert!(falls_in(&NIGHT.map(|x| 20.0 + (x - 20.0) / 2.1), 10).is_empty());
        assert!(falls_in(&NIGHT[..9], 10).is_empty());
    }

    #[test]
    fn all_windows_together_give_what_each_gives() {
        let value = |i: usize| if i % 91 == 4 { f64::NAN } else { (i * 7919 % 53) as f64 / 8.0 };
        for len in [0, 1, 5, 7, 8, 1300] {
            let values: Vec<f64> = (0..len).map(value).collect();
            for side in [0, 1, 3] {
                let each = (0..len).map(|i| window_median(&values, i, side).to_bits());
                let together: Vec<u64> = filtered(&values, side).into_iter().map(f64::to_bits).collect();
                assert_eq!(together, each.collect::<Vec<_>>(), "{len} {side}");
            }
        }
    }

    #[test]
    fn a_hole_ends_what_was_begun() {
        let mut holed = NIGHT;
        holed[7] = f64::NAN;
        assert!(falls_in(&holed, 10).is_empty());
        assert!(filtered(&holed, 1)[6].is_nan() && !filtered(&holed, 1)[5].is_nan());
    }
}
