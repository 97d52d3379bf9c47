//! A straight line through points.

use super::moments::mean;
use super::student::t_quantile;

/// A line by ordinary least squares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Rise per unit of x.
    pub slope: f64,
    /// Value at x = 0.
    pub intercept: f64,
    /// Standard error of the slope.
    pub slope_error: f64,
    /// Standard error of the intercept.
    pub intercept_error: f64,
    /// Standard deviation of the residuals, with n − 2.
    pub residual_deviation: f64,
    /// Share of the variance that the line takes up.
    pub r_squared: f64,
    n: f64,
    x_mean: f64,
    y_mean: f64,
    x_squares: f64,
}

impl Line {
    /// The line through points `(x, y)`; `None` for fewer than three points or where all x are equal.
    ///
    /// Sums are taken from the means, in two passes.
    pub fn fit(points: &[(f64, f64)]) -> Option<Self> {
        let (xs, ys): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let (x_mean, y_mean) = (mean(&xs)?, mean(&ys)?);
        let sum = |f: fn(f64, f64) -> f64| points.iter().map(|(x, y)| f(x - x_mean, y - y_mean)).sum::<f64>();
        let (x_squares, y_squares) = (sum(|x, _| x * x), sum(|_, y| y * y));
        if points.len() < 3 || x_squares <= 0.0 {
            return None;
        }
        let n = points.len() as f64;
        let slope = sum(|x, y| x * y) / x_squares;
        let squares: f64 = points.iter().map(|(x, y)| (y - y_mean - slope * (x - x_mean)).powi(2)).sum();
        let residual_deviation = (squares / (n - 2.0)).sqrt();
        Some(Self {
            slope,
            intercept: y_mean - slope * x_mean,
            slope_error: residual_deviation / x_squares.sqrt(),
            intercept_error: residual_deviation * (1.0 / n + x_mean * x_mean / x_squares).sqrt(),
            residual_deviation,
            r_squared: if y_squares > 0.0 { 1.0 - squares / y_squares } else { 1.0 },
            n,
            x_mean,
            y_mean,
            x_squares,
        })
    }

    /// The line's value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.y_mean + self.slope * (x - self.x_mean)
    }

    /// Standard error of the prediction of one new value at `x`.
    pub fn prediction_error(&self, x: f64) -> f64 {
        self.residual_deviation * (1.0 + self.leverage(x)).sqrt()
    }

    /// The variance of the line at `x`, in variances of its residuals.
    pub(super) fn leverage(&self, x: f64) -> f64 {
        1.0 / self.n + (x - self.x_mean).powi(2) / self.x_squares
    }

    /// Degrees of freedom of its residuals: n − 2.
    pub(super) fn degrees(&self) -> f64 {
        self.n - 2.0
    }

    /// The interval that a new value at `x` lies in, with this confidence.
    pub fn prediction_interval(&self, x: f64, confidence: f64) -> Option<(f64, f64)> {
        let half = t_quantile((1.0 + confidence) / 2.0, self.n - 2.0)? * self.prediction_error(x);
        Some((self.at(x) - half, self.at(x) + half))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_points_are_needed_and_some_width() {
        assert_eq!(Line::fit(&[(0.0, 1.0), (1.0, 2.0)]), None);
        assert_eq!(Line::fit(&[(1.0, 1.0), (1.0, 2.0), (1.0, 3.0)]), None);
        let line = Line::fit(&[(0.0, 1.0), (1.0, 3.0), (2.0, 5.0)]).unwrap();
        assert!((line.at(10.0) - 21.0).abs() < 1e-12 && line.residual_deviation < 1e-12);
    }
}
