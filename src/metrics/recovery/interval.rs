//! How sure a quantile of recovery times is, for mornings that resemble their neighbours and a sensor that errs.
//!
//! Settled here, and why:
//! - **A share of mornings is less alike than their mean**: the error of a survival grows by what likeness does to "at
//!   the line by then", the mornings taken for a rising function of a normal first-order process. What it does to the
//!   mean of the times is too much: it left two medians in five and every p90 without an upper end.
//! - **No upper end of a recovery time** where too few mornings set one: `high` is missing then, and all of the 5 % lie
//!   below `low`. 28 mornings that are not alike all lie under their p90 in 5 % of the cases, so that no method can say
//!   how late it may be without assuming a shape of the times; the log-log interval of a p90 gives an upper end from 46
//!   mornings on.

use std::cell::OnceCell;

use super::follow::Course;
use crate::stats::{self, KaplanMeier};

/// Sensor errors that are weighed: every half standard deviation, to two and a half on both sides.
const ERRORS: std::ops::RangeInclusive<i32> = -5..=5;
const ERROR_STEP: f64 = 0.5;
/// Standard deviations in the half-width of 95 % of a normal value.
const NORMAL_95: f64 = 1.959964;
/// What lies outside an interval of 95 %.
const OUTSIDE: f64 = 0.05;

/// Times of the recoveries of a room in order of mornings, each with whether the line was reached; `None` on mornings with
/// nothing to recover from.
type Recoveries = Vec<Option<(f64, bool)>>;

/// Times of the recoveries of a room, as they were seen and as they would have been had the sensor erred.
pub(super) struct Times {
    of_errors: Vec<OfError>,
    /// Every step of every curve, in order of time: when, of which error, and which of its steps.
    steps: Vec<(f64, usize, usize)>,
}

/// The recoveries with the line moved by one sensor error.
struct OfError {
    /// How likely the error is.
    weight: f64,
    recoveries: Recoveries,
    curve: KaplanMeier,
}

impl Times {
    /// `accuracy_k`: the 95 % half-width of the sensor's error.
    pub(super) fn of(courses: &[Course<'_>], accuracy_k: f64) -> Self {
        let deviation = accuracy_k / NORMAL_95;
        Self::with(|errors| {
            let followed = courses.iter().map(|course| course.follow(errors * deviation));
            followed.map(|f| f.recovery().map(|r| (r.hours, r.reached.is_some()))).collect()
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
        Self::new(ERRORS.map(moved))
    }

    /// The same on some of the mornings.
    pub(super) fn on(&self, mornings: &[usize]) -> Self {
        let some = |all: &Recoveries| mornings.iter().map(|k| all[*k]).collect();
        Self::new(self.of_errors.iter().map(|e| (e.weight, some(&e.recoveries))))
    }

    /// From how likely each error is, and the recoveries then.
    fn new(moved: impl Iterator<Item = (f64, Recoveries)>) -> Self {
        let of_error = |(weight, recoveries): (f64, Recoveries)| {
            let times: Vec<(f64, bool)> = recoveries.iter().flatten().copied().collect();
            OfError { weight, curve: KaplanMeier::new(&times), recoveries }
        };
        let of_errors: Vec<OfError> = moved.map(of_error).collect();
        let steps_of = |(error, of): (usize, &OfError)| -> Vec<(f64, usize, usize)> {
            of.curve.steps().iter().enumerate().map(|(k, step)| (step.time, error, k)).collect()
        };
        let mut steps: Vec<(f64, usize, usize)> = of_errors.iter().enumerate().flat_map(steps_of).collect();
        // Those of a curve are in order already, which a stable sort makes use of.
        steps.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
        Self { of_errors, steps }
    }

    /// Without any error.
    fn seen(&self) -> &OfError {
        &self.of_errors[ERRORS.start().unsigned_abs() as usize]
    }

    /// Times of the recoveries as they were seen.
    fn hours_seen(&self) -> impl Iterator<Item = f64> {
        self.seen().recoveries.iter().flatten().map(|r| r.0)
    }

    /// Hours from the starts of the recoveries to their ends.
    pub(super) fn hours(&self) -> f64 {
        self.hours_seen().sum()
    }

    /// A quantile of the times and the ends of its 95 % interval; without an upper end, which is then infinite, all of the
    /// 5 % lie below. `None` where the curve does not go so low.
    pub(super) fn quantile(&self, p: f64) -> Option<(f64, f64, f64)> {
        let value = self.seen().curve.quantile(p)?;
        let hours: Vec<f64> = self.hours_seen().collect();
        let widening = stats::share_error_growth(&hours, p);
        let beliefs: Vec<Belief<'_>> = self.of_errors.iter().map(|of| Belief::new(of, p, widening)).collect();
        let high = self.first(&beliefs, End::Upper, 1.0 - OUTSIDE / 2.0);
        let below = if high.is_some() { OUTSIDE / 2.0 } else { OUTSIDE };
        let low = self.first(&beliefs, End::Lower, below).unwrap_or(value);
        Some((value, low.min(value), high.map_or(f64::INFINITY, |h| h.max(value))))
    }

    /// The first time by which it is so sure, over all errors, that the quantile has come.
    fn first(&self, beliefs: &[Belief<'_>], end: End, least: f64) -> Option<f64> {
        let weighed = |error: usize, sure: f64| self.of_errors[error].weight * sure;
        let mut sure: Vec<f64> = beliefs.iter().enumerate().map(|(k, b)| weighed(k, b.at_start())).collect();
        let mut about: f64 = sure.iter().sum();
        let mut steps = self.steps.iter().peekable();
        std::iter::once(0.0).chain(self.steps.iter().map(|s| s.0)).find(|t| {
            while let Some((_, error, k)) = steps.next_if(|step| step.0 <= *t) {
                let now = weighed(*error, beliefs[*error].after(*k, end));
                about += now - sure[*error];
                sure[*error] = now;
            }
            // Kept up from step to step the sum is only nearly right: near the limit it is made anew.
            about >= least - NEARLY && sure.iter().sum::<f64>() >= least
        })
    }
}

/// More than what sums of shares lose by being kept up.
const NEARLY: f64 = 1e-9;

#[derive(Clone, Copy, PartialEq)]
enum End {
    Lower,
    Upper,
}

/// How sure it is, of one sensor error, that the quantile has come by a time.
struct Belief<'a> {
    curve: &'a KaplanMeier,
    /// The share that is left when the quantile has come, and by how much the curve's errors grow.
    left: f64,
    widening: f64,
    /// The confidence at each step of the curve, once it was asked for: most steps lie behind the end of the interval.
    confidence: Vec<OnceCell<Option<f64>>>,
    /// With the line moved so, no morning had anything to recover from.
    at_once: bool,
}

impl<'a> Belief<'a> {
    fn new(of: &'a OfError, p: f64, widening: f64) -> Self {
        let confidence = vec![OnceCell::new(); of.curve.steps().len()];
        let at_once = of.recoveries.iter().all(Option::is_none);
        Self { curve: &of.curve, left: 1.0 - p, widening, confidence, at_once }
    }

    /// Before its first step.
    fn at_start(&self) -> f64 {
        if self.at_once { 1.0 } else { 0.0 }
    }

    /// From one of its steps on. The ends differ at a survival of 0, the last step of a curve, whose interval goes down to 0
    /// and upwards no further than the step before.
    fn after(&self, step: usize, end: End) -> f64 {
        match (self.confidence(step), end) {
            (Some(confidence), _) => confidence,
            (None, End::Lower) => 1.0,
            (None, End::Upper) => step.checked_sub(1).and_then(|step| self.confidence(step)).unwrap_or(0.0),
        }
    }

    fn confidence(&self, step: usize) -> Option<f64> {
        let confidence = || self.curve.steps()[step].confidence(self.left, self.widening);
        *self.confidence[step].get_or_init(confidence)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mornings that do not resemble their neighbours.
    fn mornings(n: u32) -> Vec<(f64, bool)> {
        (0..n).map(|i| (1.0 + f64::from(i * 7 % n) / 10.0, true)).collect()
    }

    fn with(moved_by: impl Fn(f64) -> Vec<(f64, bool)>) -> Times {
        Times::with(|errors| moved_by(errors).into_iter().map(Some).collect())
    }

    #[test]
    fn with_a_perfect_sensor_it_is_the_interval_of_the_curve() {
        for times in [mornings(20), mornings(60).into_iter().map(|(t, _)| (t, t < 5.5)).collect()] {
            let curve = KaplanMeier::new(&times);
            let (_, low, high) = with(|_| times.clone()).quantile(0.5).unwrap();
            let hours: Vec<f64> = times.iter().map(|t| t.0).collect();
            let widening = stats::share_error_growth(&hours, 0.5);
            assert_eq!((Some(low), Some(high)), curve.quantile_interval(0.5, 0.95, widening));
        }
    }

    #[test]
    fn without_an_upper_end_the_lower_one_is_one_sided() {
        let times = mornings(20);
        let (value, low, high) = with(|_| times.clone()).quantile(0.9).unwrap();
        assert!(high.is_infinite() && low < value);
        assert_eq!(Some(low), KaplanMeier::new(&times).quantile_interval(0.9, 0.9, 1.0).0);
    }

    #[test]
    fn many_like_mornings_leave_the_error_of_the_sensor() {
        let alike =
            |error: f64| mornings(40).iter().map(|t| (2.0 + 0.3 * error + t.0 * 1e-3, true)).collect();
        let (value, low, high) = with(alike).quantile(0.5).unwrap();
        let apart = |x: f64| (x - value).abs() / 0.3;
        assert!((1.9..2.1).contains(&apart(low)) && (1.9..2.1).contains(&apart(high)), "{low} {high}");
    }

    #[test]
    fn a_line_that_need_not_be_reached_opens_the_lower_end_to_0() {
        let colder = |error: f64| if error < -1.0 { Vec::new() } else { mornings(20) };
        let (_, low, high) = with(colder).quantile(0.5).unwrap();
        assert!(low == 0.0 && high.is_finite());
    }
}
