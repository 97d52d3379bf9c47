//! The mean of values that follow each other in time, and how sure it is.

use super::moments::mean;
use super::student::t_quantile;

/// How many lags count for `n` values: ⌊4 (n/100)^(2/9)⌋, and never as many as there are values.
///
/// # Source
/// W. K. Newey, K. D. West, "Automatic lag selection in covariance matrix estimation", Review of Economic Studies 61
/// (1994), as the rule of thumb is usually written.
pub fn bartlett_lag(n: usize) -> usize {
    let rule = (4.0 * libm::pow(n as f64 / 100.0, 2.0 / 9.0)).floor() as usize;
    rule.min(n.saturating_sub(1))
}

/// The standard error of the mean, with `lag` lags weighed by Bartlett's kernel and no small-sample factor; `None` for no values.
///
/// Values in order of time. S = γ₀ + 2 Σ (1 − k/(lag+1)) γₖ, γₖ with divisor n; the error is √(S/n).
///
/// # Source
/// W. K. Newey, K. D. West, "A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent
/// covariance matrix", Econometrica 55 (1987).
pub fn newey_west_error(values: &[f64], lag: usize) -> Option<f64> {
    let mean = mean(values)?;
    let n = values.len() as f64;
    let covariance = |k: usize| {
        let pairs = values.iter().zip(values.get(k..).unwrap_or_default());
        pairs.map(|(a, b)| (a - mean) * (b - mean)).sum::<f64>() / n
    };
    let weighed = |k: usize| 2.0 * (1.0 - k as f64 / (lag as f64 + 1.0)) * covariance(k);
    let s = covariance(0) + (1..=lag).map(weighed).sum::<f64>();
    Some((s.max(0.0) / n).sqrt())
}

/// A mean, its standard error and its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanInterval {
    /// The mean.
    pub mean: f64,
    /// Its standard error.
    pub error: f64,
    /// Degrees of freedom.
    pub degrees: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// The mean with its interval: mean ± t(n − 1) times the Newey–West error with the lag of [`bartlett_lag`] and the
/// small-sample factor n/(n − 1) on the variance; `None` for fewer than two values.
///
/// `confidence`: 0.9 for a 90 % interval.
pub fn mean_interval(values: &[f64], confidence: f64) -> Option<MeanInterval> {
    let degrees = values.len().checked_sub(1).filter(|d| *d > 0)? as f64;
    let mean = mean(values)?;
    let factor = (values.len() as f64 / degrees).sqrt();
    let error = newey_west_error(values, bartlett_lag(values.len()))? * factor;
    let half = t_quantile((1.0 + confidence) / 2.0, degrees)? * error;
    Some(MeanInterval { mean, error, degrees, low: mean - half, high: mean + half })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lags_grow_slowly_and_never_reach_the_number_of_values() {
        assert_eq!([1, 2, 7, 28, 100, 365].map(bartlett_lag), [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn one_value_has_no_interval() {
        assert_eq!(mean_interval(&[1.0], 0.9), None);
        assert_eq!(newey_west_error(&[], 0), None);
    }

    /// Mean 2.5, one lag: γ₀ = 1.25, γ₁ = 0.3125, so that S = 1.25 + 2 · 1/2 · 0.3125 = 1.5625, and the error √(S/3).
    #[test]
    fn an_interval_lies_evenly_around_its_mean() {
        let found = mean_interval(&[1.0, 2.0, 3.0, 4.0], 0.95).unwrap();
        let error = 1.25 / 3.0_f64.sqrt();
        assert_eq!((found.mean, found.degrees, bartlett_lag(4)), (2.5, 3.0, 1));
        assert!((found.error - error).abs() < 1e-12, "{found:?}");
        let half = t_quantile(0.975, 3.0).unwrap() * error;
        assert!((found.low - (2.5 - half)).abs() < 1e-12 && (found.high - (2.5 + half)).abs() < 1e-12);
    }
}
