//! Runs of one value: what a stuck logger writes, and a steady room too.

use std::ops::Range;

use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::exports::Readings;
use crate::site::FlatLine;
use crate::units::KelvinDiff;

/// Values that differ by less, in K, are one value.
const NOISE_K: f64 = 1e-4;
/// Most runs of one logger that are looked at: one that stops and starts for longer has other troubles.
const MOST: usize = 4;

/// A run of one value that is far longer than the logger's others.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeat {
    /// Places of its readings.
    pub readings: Range<usize>,
    /// From its first to just after its last reading.
    pub span: Span,
    /// The value.
    pub degc: f64,
    /// The longest other run of the logger, in hours; 0 where it has none worth counting.
    pub longest_other_h: f64,
}

/// The runs of a record that may be those of a stuck logger, in order of time.
///
/// A run lasts from its first to its last reading; a hole of more than 2.5 intervals ends it, and what has no value is
/// passed over. It counts when it is at least as long as `limits` ask, and so many times as long as the longest run that
/// does not count: a room that is steady for hours is steady more than once. Of a logger that stuck more than once, each
/// run is held against the runs of its healthy time.
///
/// # Source
/// METRICS, section 2: own definition.
pub fn repeats(readings: &Readings, limits: &FlatLine) -> Vec<Repeat> {
    let least_ms = limits.least_s * 1000;
    let worth_ms = (least_ms as f64 / limits.times_longest) as i64;
    let within = limits.within.map_or(NOISE_K, KelvinDiff::k);
    let mut runs: Vec<Range<usize>> = runs(readings, within, worth_ms);
    let times = readings.times_ms();
    let length = |run: &Range<usize>| times[run.end - 1] - times[run.start];
    runs.sort_by_key(|run| std::cmp::Reverse(length(run)));
    let far_longer = |count: &usize| {
        let (shortest, other) = (length(&runs[count - 1]), runs.get(*count).map_or(0, &length));
        shortest >= least_ms && shortest as f64 >= limits.times_longest * other as f64
    };
    let Some(count) = (1..=runs.len().min(MOST)).rev().find(far_longer) else { return Vec::new() };
    let longest_other_h = runs.get(count).map_or(0.0, |run| length(run) as f64 / HOUR_MS as f64);
    let mut found: Vec<Repeat> = runs[..count]
        .iter()
        .map(|run| Repeat {
            span: Span {
                from: UtcTime::from_ms(times[run.start]),
                to: UtcTime::from_ms(times[run.end - 1] + 1),
            },
            degc: readings.degc()[run.start],
            readings: run.clone(),
            longest_other_h,
        })
        .collect();
    found.sort_by_key(|repeat| repeat.span.from);
    found
}

/// The times of runs of at least so many equal readings, whatever lies between them.
///
/// # Source
/// QARTOD manual, flat line test, with a count of readings.
pub(super) fn equal_readings(readings: &Readings, least: usize) -> Vec<Span> {
    let (times, degc) = (readings.times_ms(), readings.degc());
    let valued: Vec<usize> = (0..degc.len()).filter(|i| !degc[*i].is_nan()).collect();
    let runs = valued.chunk_by(|a, b| (degc[*a] - degc[*b]).abs() < NOISE_K);
    runs.filter(|run| run.len() >= least)
        .map(|run| Span {
            from: UtcTime::from_ms(times[run[0]]),
            to: UtcTime::from_ms(times[run[run.len() - 1]] + 1),
        })
        .collect()
}

/// Runs of one value that last so long.
fn runs(readings: &Readings, within: f64, least_ms: i64) -> Vec<Range<usize>> {
    let (times, degc) = (readings.times_ms(), readings.degc());
    let reach_ms = readings.interval_ms().unwrap_or(0) * 5 / 2;
    let mut runs = Vec::new();
    let mut open: Option<Range<usize>> = None;
    for (i, x) in degc.iter().enumerate().filter(|(_, x)| !x.is_nan()) {
        let goes_on = |run: &Range<usize>| {
            (x - degc[run.start]).abs() < within && times[i] - times[run.end - 1] <= reach_ms
        };
        match &mut open {
            Some(run) if goes_on(run) => run.end = i + 1,
            _ => {
                let done = open.replace(i..i + 1);
                runs.extend(done.filter(|run| times[run.end - 1] - times[run.start] >= least_ms));
            }
        }
    }
    runs.extend(open.filter(|run| times[run.end - 1] - times[run.start] >= least_ms));
    runs
}

/// The resolution of a logger, in K, without the readings of some runs: the smallest change from one reading to the next.
/// Where nothing else was ever read, the coarsest common step (a degree, a half, a tenth of one; of °C or of °F) that
/// the value `degc` lies on, but none coarser than `coarsest`: a home seldom has one logger that is coarser than all others.
pub fn resolution_without(readings: &Readings, runs: &[Repeat], degc: f64, coarsest: f64) -> f64 {
    let inside = |i: usize| runs.iter().any(|run| run.readings.contains(&i));
    let x = readings.degc();
    let changes = (1..x.len()).filter(|i| !inside(*i) && !inside(*i - 1)).map(|i| (x[i] - x[i - 1]).abs());
    if let Some(step) = smallest(changes) { step } else { coarsest_step(degc).min(coarsest.max(LIKELY_STEP)) }
}

/// The smallest change from one reading to the next, K; `None` where nothing ever changed.
pub(super) fn step_of(degc: &[f64]) -> Option<f64> {
    smallest(degc.windows(2).map(|pair| (pair[1] - pair[0]).abs()))
}

fn smallest(changes: impl Iterator<Item = f64>) -> Option<f64> {
    changes.filter(|change| *change > NOISE_K).reduce(f64::min)
}

/// A step that any logger may have, K.
const LIKELY_STEP: f64 = 0.1;

fn coarsest_step(degc: f64) -> f64 {
    let lies_on = |value: f64, step: f64| (value / step - (value / step).round()).abs() < 1e-3;
    let degf = degc * 1.8 + 32.0;
    let of_c = [1.0, 0.5, 0.1].into_iter().find(|step| lies_on(degc, *step));
    let of_f = [1.0, 0.5, 0.1].into_iter().find(|step| lies_on(degf, *step)).map(|step| step / 1.8);
    [of_c, of_f].into_iter().flatten().fold(0.05, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::site::QualityLimits;

    const STEP: i64 = 600_000;

    fn of(values: &[Option<f64>]) -> Vec<Range<usize>> {
        let series: Vec<(i64, Option<f64>)> =
            values.iter().enumerate().map(|(i, x)| (i as i64 * STEP, *x)).collect();
        let readings = Readings::from_series(&series);
        repeats(&readings, &QualityLimits::default().flat_line).into_iter().map(|r| r.readings).collect()
    }

    fn wandering(n: usize) -> Vec<Option<f64>> {
        (0..n).map(|i| Some(20.0 + (i % 7) as f64 * 0.1)).collect()
    }

    #[test]
    fn a_run_counts_from_six_hours_on_and_three_times_the_longest_other() {
        let mut values = wandering(200);
        values[20..56].fill(Some(21.5));
        assert!(of(&values).is_empty(), "36 readings at 10 min last 5 h 50 min");
        values[56] = Some(21.5);
        assert_eq!(of(&values), vec![Range { start: 20, end: 57 }]);
        values[100..114].fill(Some(20.2));
        assert!(of(&values).is_empty(), "another run of 2 h 10 min is more than a third as long");
    }

    #[test]
    fn a_logger_that_sticks_twice_is_held_against_its_healthy_time() {
        let mut values = wandering(400);
        values[20..100].fill(Some(21.5));
        values[200..320].fill(Some(19.5));
        assert_eq!(of(&values), vec![Range { start: 20, end: 100 }, Range { start: 200, end: 320 }]);
    }

    #[test]
    fn what_has_no_value_is_passed_over_and_a_hole_ends_a_run() {
        let mut values = wandering(200);
        values[20..70].fill(Some(21.5));
        values[40] = None;
        assert_eq!(of(&values), vec![Range { start: 20, end: 70 }]);
        values[38..46].fill(None);
        assert!(
            of(&values).is_empty(),
            "after a long run of no-data marks nothing is known of the value before"
        );
    }

    #[test]
    fn equal_readings_are_counted_whatever_lies_between() {
        let series: Vec<(i64, Option<f64>)> = [(0, 20.0), (1, 20.0), (900, 20.0), (901, 20.1), (902, 20.1)]
            .map(|(t, x)| (t * STEP, Some(x)))
            .to_vec();
        let readings = Readings::from_series(&series);
        let spans: Vec<(i64, i64)> =
            equal_readings(&readings, 3).iter().map(|s| (s.from.ms(), s.to.ms())).collect();
        assert_eq!(spans, [(0, 900 * STEP + 1)]);
        assert_eq!(equal_readings(&readings, 2).len(), 2);
        assert!(equal_readings(&readings, 4).is_empty());
    }

    #[test]
    fn a_value_that_never_changes_tells_the_coarsest_step_it_lies_on() {
        for (degc, step) in
            [(20.0, 1.0), (20.5, 0.5), (20.3, 0.1), (20.0 + 5.0 / 9.0, 5.0 / 9.0), (20.37, 0.05)]
        {
            assert!((coarsest_step(degc) - step).abs() < 1e-9, "{degc}");
        }
    }

    #[test]
    fn a_run_lasts_to_its_last_reading_and_no_longer() {
        let mut values = wandering(200);
        values[20..70].fill(Some(21.5));
        let series: Vec<(i64, Option<f64>)> = (0..).zip(values).map(|(i, x)| (i * STEP, x)).collect();
        let readings = Readings::from_series(&series);
        let found = repeats(&readings, &QualityLimits::default().flat_line);
        let span = Span { from: UtcTime::from_ms(20 * STEP), to: UtcTime::from_ms(69 * STEP + 1) };
        assert_eq!(found.iter().map(|r| (r.span, r.degc)).collect::<Vec<_>>(), [(span, 21.5)]);
        assert_eq!(equal_readings(&readings, 50), [span]);
    }
}
