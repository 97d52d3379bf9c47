//! Setbacks that nobody told of, found in the heated rooms.

use super::super::HomeScope;
use super::{LONGEST_H, SetbackEnd, late_from};
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

pub(super) fn in_data(scope: &HomeScope<'_>) -> Vec<SetbackEnd> {
    let aligned = scope.aligned();
    let steps = |ms: i64| (ms / aligned.step_ms()).max(1) as usize;
    // Every five minutes are enough, and keep the filter cheap on a fine grid.
    let every = steps(THIN_MS);
    let thinned: Vec<f64> = heated_mean(scope).into_iter().step_by(every).collect();
    let mean = filtered(&thinned, steps(FILTER_MS) / every / 2);
    let mut falls = falls(&mean, steps(FALL_H * HOUR_MS) / every);
    falls.iter_mut().for_each(|f| *f = Fall { from: f.from * every, rises: f.rises * every });
    let end = |(k, fall): (usize, &Fall)| {
        let start = aligned.time(fall.rises);
        let latest = start.plus_ms(LONGEST_H * HOUR_MS);
        let before = fall.from.saturating_sub(steps(BEFORE_H * HOUR_MS))..fall.from + 1;
        let target = |room: usize| {
            let values: Vec<f64> =
                scope.degc(room)[before.clone()].iter().copied().filter(|x| !x.is_nan()).collect();
            stats::median(values)
        };
        SetbackEnd {
            start,
            until: falls.get(k + 1).map_or(latest, |next| aligned.time(next.from).min(latest)),
            late_from: late_from(scope, start, Span { from: aligned.time(fall.from), to: start }.hours()),
            targets: (0..scope.rooms().len()).map(target).collect(),
        }
    };
    falls.iter().enumerate().map(end).collect()
}

/// Mean of the heated rooms where all of those with most of the record are present; NaN elsewhere.
fn heated_mean(scope: &HomeScope<'_>) -> Vec<f64> {
    let record = scope.aligned().record();
    let covers = |room: &usize| {
        let present = scope.degc(*room)[record.clone()].iter().filter(|x| !x.is_nan()).count();
        present > 0 && present as f64 >= ROOM_COVERAGE * record.len() as f64
    };
    let rooms: Vec<&[f64]> = (0..scope.rooms().len())
        .filter(|r| scope.rooms()[*r].heated)
        .filter(covers)
        .map(|r| scope.degc(r))
        .collect();
    (0..scope.aligned().len()).map(|i| rooms.iter().map(|r| r[i]).sum::<f64>() / rooms.len() as f64).collect()
}

/// Each value the median of itself and `side` values on either side, NaN beside a hole.
fn filtered(values: &[f64], side: usize) -> Vec<f64> {
    let mut sorted = Vec::with_capacity(2 * side + 1);
    let mut at = |i: usize| {
        let window = &values[i.saturating_sub(side)..(i + side + 1).min(values.len())];
        if window.iter().any(|x| x.is_nan()) {
            return f64::NAN;
        }
        sorted.clear();
        sorted.extend_from_slice(window);
        sorted.sort_unstable_by(f64::total_cmp);
        stats::sorted_quantile(&sorted, 0.5).unwrap_or(f64::NAN)
    };
    (0..values.len()).map(&mut at).collect()
}

/// Falls by [`FALL_K`] within `longest` steps, each followed by a rise as large; a hole ends what was begun.
fn falls(values: &[f64], longest: usize) -> Vec<Fall> {
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
        assert_eq!(falls(&NIGHT, 10), [Fall { from: 2, rises: 8 }]);
        let two: Vec<f64> = NIGHT.iter().chain(&NIGHT).copied().collect();
        assert_eq!(falls(&two, 10).len(), 2);
    }

    #[test]
    fn a_slow_fall_a_small_one_and_one_without_a_rise_are_none() {
        assert!(falls(&NIGHT, 1).is_empty(), "within one hour it falls by 1 K only");
        assert!(falls(&NIGHT.map(|x| 20.0 + (x - 20.0) / 2.1), 10).is_empty());
        assert!(falls(&NIGHT[..9], 10).is_empty());
    }

    #[test]
    fn a_hole_ends_what_was_begun() {
        let mut holed = NIGHT;
        holed[7] = f64::NAN;
        assert!(falls(&holed, 10).is_empty());
        assert!(filtered(&holed, 1)[6].is_nan() && !filtered(&holed, 1)[5].is_nan());
    }
}
