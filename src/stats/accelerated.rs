//! Times to an event that depend on something else, some of them cut off before it came.

use super::least_squares::{dot, inverse, variance_of};
use super::student::{normal_density, normal_share};

/// Normal logarithms of times on a line: ln t = intercept + slope · x + deviation · ε.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogNormalTimes {
    /// Logarithm of the median time at x = 0.
    pub intercept: f64,
    /// By how much the logarithm rises per unit of x.
    pub slope: f64,
    /// Standard deviation of the logarithms around the line.
    pub deviation: f64,
    /// Logarithm of the likelihood of the times.
    pub log_likelihood: f64,
    /// Covariance of intercept/deviation, slope/deviation and 1/deviation.
    covariance: [[f64; 3]; 3],
}

/// A time: at which x, how long, and whether the event came then (`false`: cut off then).
pub type TimeAt = (f64, f64, bool);

/// Steps of Newton's method.
const STEPS: usize = 100;

impl LogNormalTimes {
    /// The most likely line; `None` for fewer than three events, equal x, or no positive scatter.
    ///
    /// Newton's method on (intercept, slope, 1)/deviation, in which the likelihood has one top (R. J. Olsen, Econometrica 46,
    /// 1978, from memory).
    ///
    /// # Source
    /// D. R. Cox, D. Oakes, Analysis of Survival Data (1984), chapter 5 (from memory).
    pub fn fit(times: &[TimeAt]) -> Option<Self> {
        let events = times.iter().filter(|t| t.2).count();
        let usable = times.iter().all(|(x, t, _)| x.is_finite() && *t > 0.0);
        if events < 3 || !usable {
            return None;
        }
        let mut at = start(times)?;
        let mut now = likelihood(times, &at);
        for _ in 0..STEPS {
            let (slope, curvature) = derivatives(times, &at);
            let inverse = inverse(curvature)?;
            let step: [f64; 3] = std::array::from_fn(|k| dot(&inverse[k], &slope));
            let mut share = 1.0;
            let (next, then) = loop {
                let next: [f64; 3] = std::array::from_fn(|k| at[k] + share * step[k]);
                let then = if next[2] > 0.0 { likelihood(times, &next) } else { f64::NEG_INFINITY };
                if then >= now || share < 1e-9 {
                    break (next, then);
                }
                share /= 2.0;
            };
            let done = dot(&step, &slope).abs() < 1e-20 || then <= now;
            if then >= now {
                (at, now) = (next, then);
            }
            if done {
                break;
            }
        }
        let covariance = inverse(derivatives(times, &at).1)?;
        let deviation = 1.0 / at[2];
        let logs: f64 = times.iter().filter(|t| t.2).map(|t| libm::log(t.1)).sum();
        let found = Self {
            intercept: at[0] * deviation,
            slope: at[1] * deviation,
            deviation,
            log_likelihood: now - logs,
            covariance,
        };
        (deviation.is_finite() && covariance.iter().flatten().all(|x| x.is_finite())).then_some(found)
    }

    /// The logarithm of the median time at `x`.
    pub fn log_median(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }

    /// The standard error of [`LogNormalTimes::log_median`].
    pub fn log_median_error(&self, x: f64) -> f64 {
        let by_scale = -self.log_median(x) * self.deviation;
        let direction = [self.deviation, self.deviation * x, by_scale];
        variance_of(&direction, &self.covariance).max(0.0).sqrt()
    }

    /// How many deviations the logarithm of a time lies beyond the line.
    pub fn residual(&self, (x, time, _): TimeAt) -> f64 {
        (libm::log(time) - self.log_median(x)) / self.deviation
    }
}

/// The line through all logarithms, as if none were cut off.
fn start(times: &[TimeAt]) -> Option<[f64; 3]> {
    let points: Vec<(f64, f64)> = times.iter().map(|(x, t, _)| (*x, libm::log(*t))).collect();
    let line = super::Line::fit(&points)?;
    let scale = 1.0 / line.residual_deviation;
    (scale.is_finite() && scale < 1e9).then_some([line.intercept * scale, line.slope * scale, scale])
}

/// A time beyond the line, in deviations.
fn beyond([a, b, scale]: &[f64; 3], x: f64, log: f64) -> f64 {
    scale * log - a - b * x
}

/// The logarithm of the likelihood of the logarithms.
fn likelihood(times: &[TimeAt], at: &[f64; 3]) -> f64 {
    let one = |(x, time, came): &TimeAt| {
        let z = beyond(at, *x, libm::log(*time));
        match came {
            true => libm::log(at[2]) - z * z / 2.0 - libm::log(std::f64::consts::TAU) / 2.0,
            false => libm::log(normal_share(-z).max(f64::MIN_POSITIVE)),
        }
    };
    times.iter().map(one).sum()
}

/// First derivatives of the likelihood, and the second ones with their sign turned.
fn derivatives(times: &[TimeAt], at: &[f64; 3]) -> ([f64; 3], [[f64; 3]; 3]) {
    let (mut slope, mut curvature) = ([0.0; 3], [[0.0; 3]; 3]);
    for (x, time, came) in times {
        let log = libm::log(*time);
        let z = beyond(at, *x, log);
        // Of a time that was cut off only what lies beyond counts.
        let hazard = normal_density(z) / normal_share(-z).max(f64::MIN_POSITIVE);
        let (push, weight) = if *came { (z, 1.0) } else { (hazard, hazard * (hazard - z)) };
        let direction = [1.0, *x, -log];
        for i in 0..3 {
            slope[i] += push * direction[i];
            for k in 0..3 {
                curvature[i][k] += weight * direction[i] * direction[k];
            }
        }
        if *came {
            slope[2] += 1.0 / at[2];
            curvature[2][2] += 1.0 / (at[2] * at[2]);
        }
    }
    (slope, curvature)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_cuts_it_is_the_line_through_the_logarithms() {
        let times: Vec<TimeAt> = (0..12)
            .map(|i| (f64::from(i), libm::exp(1.0 - 0.1 * f64::from(i) + 0.05 * f64::from(i % 3)), true))
            .collect();
        let points: Vec<(f64, f64)> = times.iter().map(|(x, t, _)| (*x, libm::log(*t))).collect();
        let (line, found) = (crate::stats::Line::fit(&points).unwrap(), LogNormalTimes::fit(&times).unwrap());
        assert!((found.slope - line.slope).abs() < 1e-9 && (found.intercept - line.intercept).abs() < 1e-9);
        let deviation = line.residual_deviation * (10.0_f64 / 12.0).sqrt();
        assert!((found.deviation - deviation).abs() < 1e-9);
    }

    #[test]
    fn a_time_that_was_cut_off_says_that_it_takes_longer() {
        let times = |came: bool| -> Vec<TimeAt> {
            let end = |i: i32| f64::from(i % 4) + 1.0;
            (0..16).map(|i| (f64::from(i % 5), end(i), came || i % 4 < 3)).collect()
        };
        let (all, cut) =
            (LogNormalTimes::fit(&times(true)).unwrap(), LogNormalTimes::fit(&times(false)).unwrap());
        assert!(cut.log_median(2.0) > all.log_median(2.0));
        assert_eq!(LogNormalTimes::fit(&[(1.0, 2.0, true), (2.0, 3.0, true)]), None);
        assert_eq!(LogNormalTimes::fit(&[(1.0, 2.0, true); 9]), None, "one temperature tells no line");
    }
}
