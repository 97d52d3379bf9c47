//! How sure a quantile of recovery times is, for mornings that resemble their neighbours and a sensor that errs.

use super::super::HomeScope;
use super::SetbackEnd;
use super::follow::follow;
use crate::stats::{self, KaplanMeier};

/// Sensor errors that are weighed: every half standard deviation, to two and a half on both sides.
const ERRORS: std::ops::RangeInclusive<i32> = -5..=5;
const ERROR_STEP: f64 = 0.5;
/// Standard deviations in the half-width of 95 % of a normal value.
const NORMAL_95: f64 = 1.959964;
/// What lies outside an interval of 95 %.
const OUTSIDE: f64 = 0.05;

/// Times of the recoveries of a room in order of mornings, each with whether the line was reached.
type Recoveries = Vec<(f64, bool)>;

/// Times of some recoveries of a room, as they were seen and as they would have been had the sensor erred.
pub(super) struct Times {
    seen: Recoveries,
    /// Per sensor error: how likely it is, and the times with the line moved by it.
    moved: Vec<(f64, Recoveries)>,
}

impl Times {
    pub(super) fn of(scope: &HomeScope<'_>, room: usize, ends: &[&SetbackEnd]) -> Self {
        let deviation = scope.room(room).accuracy_k() / NORMAL_95;
        Self::with(|errors| {
            let followed = ends.iter().filter_map(|end| follow(scope, room, end, errors * deviation));
            followed.filter_map(|f| f.recovery().map(|r| (r.hours, r.reached))).collect()
        })
    }

    /// From the times with the line moved by so many standard deviations of the sensor.
    fn with(moved_by: impl Fn(f64) -> Recoveries) -> Self {
        let (first, last) = (*ERRORS.start(), *ERRORS.end());
        // Every error stands for those nearest to it, the outermost for all beyond.
        let below = |i: i32| match i {
            i if i == first => 0.0,
            i if i > last => 1.0,
            i => stats::normal_share((f64::from(i) - 0.5) * ERROR_STEP),
        };
        let moved = |i: i32| (below(i + 1) - below(i), moved_by(f64::from(i) * ERROR_STEP));
        Self { seen: moved_by(0.0), moved: ERRORS.map(moved).collect() }
    }

    /// Hours from the starts of the recoveries to their ends.
    pub(super) fn hours(&self) -> f64 {
        self.seen.iter().map(|t| t.0).sum()
    }

    /// A quantile of the times and the ends of its 95 % interval; without an upper end, which is then infinite, all of the
    /// 5 % lie below. `None` where the curve does not go so low.
    pub(super) fn quantile(&self, p: f64) -> Option<(f64, f64, f64)> {
        let value = KaplanMeier::new(&self.seen).quantile(p)?;
        let hours: Vec<f64> = self.seen.iter().map(|t| t.0).collect();
        let widening = stats::share_error_growth(&hours, p);
        let believed: Vec<(f64, Belief)> =
            self.moved.iter().map(|(weight, times)| (*weight, Belief::new(times, p, widening))).collect();
        let steps = believed.iter().flat_map(|(_, b)| &b.steps).map(|s| s.0);
        let mut times: Vec<f64> = std::iter::once(0.0).chain(steps).collect();
        times.sort_unstable_by(f64::total_cmp);
        let first = |end: End, least: f64| {
            // Times rise, and so do the steps that have been passed.
            let mut passed = vec![0; believed.len()];
            times.iter().copied().find(|t| {
                let by = believed.iter().zip(&mut passed).map(|((weight, belief), passed)| {
                    *passed += belief.steps[*passed..].iter().take_while(|step| step.0 <= *t).count();
                    weight * belief.after(*passed, end)
                });
                by.sum::<f64>() >= least
            })
        };
        let high = first(End::Upper, 1.0 - OUTSIDE / 2.0);
        let below = if high.is_some() { OUTSIDE / 2.0 } else { OUTSIDE };
        let low = first(End::Lower, below).unwrap_or(value);
        Some((value, low.min(value), high.map_or(f64::INFINITY, |h| h.max(value))))
    }
}

#[derive(Clone, Copy, PartialEq)]
enum End {
    Lower,
    Upper,
}

/// How sure it is, of one sensor error, that the quantile has come by a time.
struct Belief {
    /// Time, and confidence for the lower and for the upper end. They differ at a survival of 0, whose interval goes
    /// down to 0 and upwards no further than the step before.
    steps: Vec<(f64, f64, f64)>,
    /// With the line moved so, no morning had anything to recover from.
    at_once: bool,
}

impl Belief {
    fn new(times: &[(f64, bool)], p: f64, widening: f64) -> Self {
        let mut before = 0.0;
        let curve = KaplanMeier::new(times);
        let steps = curve.steps().iter().map(|step| {
            let confidence = step.confidence(1.0 - p, widening);
            before = confidence.unwrap_or(before);
            (step.time, confidence.unwrap_or(1.0), before)
        });
        Self { steps: steps.collect(), at_once: times.is_empty() }
    }

    /// When so many of its steps have been passed.
    fn after(&self, passed: usize, end: End) -> f64 {
        if self.at_once {
            return 1.0;
        }
        let (_, lower, upper) = match passed {
            0 => return 0.0,
            n => self.steps[n - 1],
        };
        if end == End::Lower { lower } else { upper }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mornings that do not resemble their neighbours.
    fn mornings(n: u32) -> Recoveries {
        (0..n).map(|i| (1.0 + f64::from(i * 7 % n) / 10.0, true)).collect()
    }

    #[test]
    fn with_a_perfect_sensor_it_is_the_interval_of_the_curve() {
        for times in [mornings(20), mornings(60).into_iter().map(|(t, _)| (t, t < 5.5)).collect()] {
            let curve = KaplanMeier::new(&times);
            let (_, low, high) = Times::with(|_| times.clone()).quantile(0.5).unwrap();
            let hours: Vec<f64> = times.iter().map(|t| t.0).collect();
            let widening = stats::share_error_growth(&hours, 0.5);
            assert_eq!((Some(low), Some(high)), curve.quantile_interval(0.5, 0.95, widening));
        }
    }

    #[test]
    fn without_an_upper_end_the_lower_one_is_one_sided() {
        let times = mornings(20);
        let (value, low, high) = Times::with(|_| times.clone()).quantile(0.9).unwrap();
        assert!(high.is_infinite() && low < value);
        assert_eq!(Some(low), KaplanMeier::new(&times).quantile_interval(0.9, 0.9, 1.0).0);
    }

    #[test]
    fn many_like_mornings_leave_the_error_of_the_sensor() {
        let alike =
            |error: f64| mornings(40).iter().map(|t| (2.0 + 0.3 * error + t.0 * 1e-3, true)).collect();
        let (value, low, high) = Times::with(alike).quantile(0.5).unwrap();
        let apart = |x: f64| (x - value).abs() / 0.3;
        assert!((1.9..2.1).contains(&apart(low)) && (1.9..2.1).contains(&apart(high)), "{low} {high}");
    }

    #[test]
    fn a_line_that_need_not_be_reached_opens_the_lower_end_to_0() {
        let colder = |error: f64| if error < -1.0 { Vec::new() } else { mornings(20) };
        let (_, low, high) = Times::with(colder).quantile(0.5).unwrap();
        assert!(low == 0.0 && high.is_finite());
    }
}
