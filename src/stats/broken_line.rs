//! A line with one break, continuous, where it is surely better than a straight one.
//!
//! Settled here, and why:
//! - **Days resemble their neighbours**: both lines are fitted on what is left of each value, and of each column, after the share
//!   `alike` of the one before (J. C. Prais, C. B. Winsten, 1954, from memory). Without, one straight line in thirty was broken.

use super::least_squares::{Fit, fit, variance_of};
use super::student::t_quantile;

/// Two half lines that meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BrokenLine {
    /// Where they meet.
    pub at: f64,
    /// The 95 % interval of that; an end without bound is infinite.
    pub interval: (f64, f64),
    /// Value where they meet.
    pub value: f64,
    /// Slope below and above.
    pub slopes: (f64, f64),
    /// Standard error of the slope below.
    pub slope_error: f64,
    /// F of the two terms that a straight line lacks, and its p by an F distribution with 2 and n − 4 degrees of freedom.
    pub f: f64,
    /// See `f`.
    pub p: f64,
    /// Variance of the residuals.
    variance: f64,
    degrees: f64,
    alike: f64,
    inverse: [[f64; 4]; 4],
}

/// Points that follow each other in time, and what is said of each after the one before.
struct Series<'a> {
    points: &'a [(f64, f64)],
    alike: f64,
}

impl Series<'_> {
    /// Rows of a design, prewhitened.
    fn rows<const P: usize>(
        &self,
        columns: impl Fn(f64) -> [f64; P] + Clone,
    ) -> impl Iterator<Item = ([f64; P], f64)> + Clone {
        let alike = self.alike;
        let first = (1.0 - alike * alike).sqrt();
        let own = columns.clone();
        let begin = self.points.iter().take(1).map(move |(x, y)| (own(*x).map(|c| c * first), y * first));
        let later = self.points.windows(2).map(move |pair| {
            let (before, now) = (columns(pair[0].0), columns(pair[1].0));
            (std::array::from_fn(|k| now[k] - alike * before[k]), pair[1].1 - alike * pair[0].1)
        });
        begin.chain(later)
    }

    fn broken(&self, at: f64) -> Option<Fit<3>> {
        fit(self.rows(move |x| [1.0, (x - at).min(0.0), (x - at).max(0.0)]))
    }

    fn squares(&self, at: f64) -> f64 {
        self.broken(at).map_or(f64::INFINITY, |fit| fit.squares)
    }
}

/// Places at which a break is looked for at first, and around the best of them again, twice.
const COARSE: usize = 100;
const FINE: usize = 20;

impl BrokenLine {
    /// The best broken line of points `(x, y)` in order of time with at least `least` of them on either side, prewhitened by
    /// the autocorrelation `alike` (0: not at all); `None` where there are too few.
    ///
    /// # Source
    /// Continuous two-phase regression: D. J. Hudson, Journal of the American Statistical Association 61 (1966), from memory;
    /// interval: the breaks whose squares an F test with 1 degree of freedom does not tell from the least.
    pub fn fit(points: &[(f64, f64)], least: usize, alike: f64) -> Option<Self> {
        let mut xs: Vec<f64> = points.iter().map(|p| p.0).collect();
        xs.sort_by(f64::total_cmp);
        let (from, to) = (*xs.get(least.checked_sub(1)?)?, *xs.get(xs.len().checked_sub(least)?)?);
        if from >= to || points.len() < 5 {
            return None;
        }
        let series = Series { points, alike };
        let step = (to - from) / COARSE as f64;
        let profile: Vec<(f64, f64)> =
            (0..=COARSE).map(|k| from + k as f64 * step).map(|at| (at, series.squares(at))).collect();
        let at = refined(&series, &profile, step, (from, to))?;
        let (straight, broken) = (fit(series.rows(|x| [1.0, x]))?, series.broken(at)?);
        let degrees = points.len() as f64 - 4.0;
        let variance = broken.squares / degrees;
        let f = (straight.squares - broken.squares).max(0.0) / 2.0 / variance;
        let [value, below, above] = broken.coefficients;
        // The break is estimated too: moving it moves the value by the slope of either side.
        let moved = move |x: f64| if x < at { -below } else { -above };
        let all = fit(series.rows(move |x| [1.0, (x - at).min(0.0), (x - at).max(0.0), moved(x)]));
        let inverse = all.map(|fit| fit.inverse)?;
        Some(Self {
            at,
            interval: interval(&profile, broken.squares, degrees)?,
            value,
            slopes: (below, above),
            slope_error: (variance * inverse[1][1]).sqrt(),
            f,
            p: libm::pow(1.0 + 2.0 * f / degrees, -degrees / 2.0),
            variance,
            degrees,
            alike,
            inverse,
        })
    }

    /// The value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        let slope = if x < self.at { self.slopes.0 } else { self.slopes.1 };
        self.value + slope * (x - self.at)
    }

    /// Half the interval that a new value at `x` lies in, with this confidence.
    pub fn prediction_half_width(&self, x: f64, confidence: f64) -> Option<f64> {
        let moved = if x < self.at { -self.slopes.0 } else { -self.slopes.1 };
        let columns = [1.0, (x - self.at).min(0.0), (x - self.at).max(0.0), moved];
        // What is left of a value scatters less than the value itself.
        let own = 1.0 / (1.0 - self.alike * self.alike);
        let variance = self.variance * (own + variance_of(&columns, &self.inverse));
        Some(t_quantile((1.0 + confidence) / 2.0, self.degrees)? * variance.sqrt())
    }
}

/// The best place of a break, looked for more and more closely.
fn refined(series: &Series<'_>, profile: &[(f64, f64)], step: f64, (from, to): (f64, f64)) -> Option<f64> {
    let best = |places: &[(f64, f64)]| places.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1));
    let (mut at, mut step) = (best(profile).filter(|(_, squares)| squares.is_finite())?.0, step);
    for _ in 0..3 {
        let near = |k: usize| (at + (k as f64 / FINE as f64 - 1.0) * step).clamp(from, to);
        let places: Vec<(f64, f64)> = (0..=2 * FINE).map(near).map(|at| (at, series.squares(at))).collect();
        at = best(&places)?.0;
        step /= FINE as f64;
    }
    Some(at)
}

/// The breaks that the data do not tell from the best.
fn interval(profile: &[(f64, f64)], least: f64, degrees: f64) -> Option<(f64, f64)> {
    let most = least * (1.0 + t_quantile(0.975, degrees)?.powi(2) / degrees);
    let like = |(_, squares): &&(f64, f64)| *squares <= most;
    let (first, last) = (profile.iter().find(like)?.0, profile.iter().rev().find(like)?.0);
    let end = |at: f64, edge: Option<&(f64, f64)>, open: f64| {
        // At the edge of where a break may be nobody knows how much further it is.
        if edge.is_some_and(|edge| edge.0.total_cmp(&at).is_eq()) { open } else { at }
    };
    Some((end(first, profile.first(), f64::NEG_INFINITY), end(last, profile.last(), f64::INFINITY)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Flat at 21 above 0, falling by 0.4 per unit below, with a wobble that repeats.
    fn bent(n: i32, slope: f64) -> Vec<(f64, f64)> {
        let x = |i: i32| f64::from(i * 7 % n) * 20.0 / f64::from(n) - 12.0;
        (0..n).map(|i| (x(i), 21.0 + slope * x(i).min(0.0) + f64::from(i % 3) * 0.1)).collect()
    }

    #[test]
    fn a_bend_is_found_where_it_is_and_none_in_a_straight_line() {
        let found = BrokenLine::fit(&bent(60, 0.4), 8, 0.0).unwrap();
        assert!(found.at.abs() < 0.3 && found.p < 1e-6, "{found:?}");
        assert!(found.interval.0 < 0.0 && found.interval.1 > 0.0, "{found:?}");
        let half = found.prediction_half_width(-15.0, 0.95).unwrap();
        assert!((found.at(-15.0) - 15.1).abs() < half && half < 0.6, "{half}");
        assert!(BrokenLine::fit(&bent(60, 0.0), 8, 0.0).unwrap().p > 0.01);
    }

    #[test]
    fn both_sides_need_their_days() {
        assert_eq!(BrokenLine::fit(&bent(15, 0.4), 8, 0.0), None);
    }

    #[test]
    fn a_mirror_swaps_the_sides_and_leaves_every_width() {
        let points = bent(60, 0.4);
        let mirrored: Vec<(f64, f64)> = points.iter().map(|(x, y)| (-x, *y)).collect();
        let (found, mirror) =
            (BrokenLine::fit(&points, 8, 0.3).unwrap(), BrokenLine::fit(&mirrored, 8, 0.3).unwrap());
        for x in [-14.0, -3.0, 3.0, 9.0] {
            let (here, there) = (found.prediction_half_width(x, 0.9), mirror.prediction_half_width(-x, 0.9));
            assert!((here.unwrap() - there.unwrap()).abs() < 1e-4, "{x}: {here:?} {there:?}");
            assert!((found.at(x) - mirror.at(-x)).abs() < 1e-4);
        }
    }
}
