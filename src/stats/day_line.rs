//! Where one more day would lie on a line through days that resemble their neighbours.
//!
//! Settled here, and why:
//! - **The line is less sure than that of as many days apart**, the further out the more: four weeks are three or four spells of
//!   weather. Taken for days apart, one room in twelve was colder on the coldest day of another winter than its interval said.
//!   How far a single day lies from the line is another matter, and stays as it is.

use super::days::alike_around;
use super::regression::Line;
use super::student::t_quantile;

/// A line through days, by ordinary least squares, and how much less sure it is because they are alike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayLine {
    /// The line.
    pub line: Line,
    /// By how much the variance of the line grows: n / effective days, 1 for days that are not alike.
    pub growth: f64,
}

impl DayLine {
    /// The line through points `(x, y)` in order of time; `None` for fewer than three, or where all x are equal.
    pub fn fit(points: &[(f64, f64)]) -> Option<Self> {
        let line = Line::fit(points)?;
        Some(Self { line, growth: points.len() as f64 / alike_around(points, &line) })
    }

    /// The line's value at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.line.at(x)
    }

    /// Half the interval that the value of one more day at `x` lies in, with this confidence; `None` for three points.
    ///
    /// t(n − 2) · s · √(1 + growth · (1/n + (x − x̄)²/Sxx)).
    ///
    /// # Source
    /// Prediction interval of a least-squares line; the growth: own definition, days worth n (1 − r)/(1 + r).
    pub fn one_day(&self, x: f64, confidence: f64) -> Option<f64> {
        let deviation = self.line.residual_deviation * (1.0 + self.growth * self.line.leverage(x)).sqrt();
        Some(t_quantile((1.0 + confidence) / 2.0, self.line.degrees())? * deviation)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wobble of so many days in a row to either side, around a line, in weather that comes and goes more slowly.
    fn points(n: i32, spell: i32) -> Vec<(f64, f64)> {
        let wobble = |i: i32| if i / spell % 2 == 0 { 0.1 } else { -0.1 };
        (0..n)
            .map(|i| (f64::from(i * 7 % n) / 2.0 - 8.0, 20.0 + f64::from(i % 3) * 0.01 + wobble(i)))
            .collect()
    }

    #[test]
    fn days_that_are_not_alike_have_the_interval_of_their_line() {
        let line = DayLine::fit(&points(40, 1)).unwrap();
        assert!((line.growth - 1.0).abs() < 1e-12, "{}", line.growth);
        let (low, high) = line.line.prediction_interval(-20.0, 0.95).unwrap();
        assert!((2.0 * line.one_day(-20.0, 0.95).unwrap() - (high - low)).abs() < 1e-12);
        assert!((line.at(-20.0) - (high + low) / 2.0).abs() < 1e-9, "in the middle of its interval");
    }

    #[test]
    fn alike_days_make_a_line_less_sure_where_it_reaches_furthest() {
        let line = DayLine::fit(&points(40, 8)).unwrap();
        let wider = |x: f64| {
            let (low, high) = line.line.prediction_interval(x, 0.95).unwrap();
            2.0 * line.one_day(x, 0.95).unwrap() / (high - low)
        };
        assert!(line.growth > 2.0 && wider(-40.0) > wider(-20.0) && wider(-20.0) > wider(0.0), "{line:?}");
    }
}
