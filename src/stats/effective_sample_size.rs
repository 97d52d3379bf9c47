//! The effective sample size of days that resemble the day before: they say less than as many days apart would.
//!
//! Settled here, and why:
//! - **Days resemble their neighbours**: an interval over days is as wide as the effective number of days asks (lag-1
//!   autocorrelation, put right for short records), and never narrower than Newey and West's. `offset_standard_error` is
//!   Newey and West's alone.

use super::moments::autocorrelation;
use super::student::{normal_quantile, t_quantile};

/// The strongest likeness of neighbouring days that is believed, and the fewest effective days.
const STRONGEST: f64 = 0.9;
const FEWEST: f64 = 3.0;

/// How many independent values say as much about a mean as `n` with autocorrelation `r` from one to the next: n (1 − r)/(1 + r).
///
/// # Source
/// First-order autoregressive process; textbook result, for example D. S. Wilks, Statistical Methods in the Atmospheric
/// Sciences, section on serial correlation (from memory).
///
/// # Example
/// ```
/// assert!((evenrooms::stats::effective_number(100.0, 0.5) - 33.333333).abs() < 1e-6);
/// ```
pub fn effective_number(n: f64, r: f64) -> f64 {
    n * (1.0 - r) / (1.0 + r)
}

/// The effective number of values in order of time, at least 3 and at most as many as there are.
///
/// The autocorrelation of a short series comes out too small by about (1 + 4 r)/n, which is put right first.
///
/// # Source
/// F. H. C. Marriott, J. A. Pope, "Bias in the estimation of autocorrelations", Biometrika 41 (1954).
pub fn effective_count(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let r = autocorrelation(values, 1).filter(|_| n > 4.0).map_or(0.0, |r| (n * r + 1.0) / (n - 4.0));
    effective_number(n, r.clamp(0.0, STRONGEST)).max(FEWEST.min(n))
}

/// By how much a standard error for independent values must grow: √(n/effective).
pub fn error_growth(values: &[f64]) -> f64 {
    (values.len() as f64 / effective_count(values)).sqrt()
}

/// By how much the standard error of the share of values at or under their quantile `p` (between 0 and 1) must grow: days
/// that are alike say more about such a share than about a mean, the more so the nearer `p` is to 0 or 1.
///
/// √(1 + 2 Σ (1 − k/n) ρₖ), ρₖ the [`share_correlation`] at rᵏ, and r the autocorrelation that [`effective_count`] stands for.
///
/// # Source
/// Own definition: the values are taken for some rising function of a normal first-order process.
pub fn share_error_growth(values: &[f64], p: f64) -> f64 {
    let (n, effective) = (values.len() as f64, effective_count(values));
    let r = (n - effective) / (n + effective);
    let alike = |(k, alike): (usize, f64)| (1.0 - k as f64 / n) * share_correlation(p, alike);
    let powers = std::iter::successors(Some(r), |power| Some(power * r)).take_while(|power| *power > 1e-3);
    (1.0 + 2.0 * (1..values.len()).zip(powers).map(alike).sum::<f64>()).sqrt()
}

/// Correlation of "at or under the quantile `p`" in two normal values whose own correlation is `r` (0 to 1).
///
/// # Source
/// R. L. Plackett, "A reduction formula for normal multivariate integrals", Biometrika 41 (1954), from memory: the
/// derivative of the share in which both are under is their density there. For p = 1/2 it is 2/π · arcsin r
/// (W. F. Sheppard, 1899, from memory).
///
/// # Example
/// ```
/// assert!((evenrooms::stats::share_correlation(0.5, 0.5) - 1.0 / 3.0).abs() < 1e-12);
/// ```
pub fn share_correlation(p: f64, r: f64) -> f64 {
    const PARTS: i32 = 32;
    let (z, whole) = (normal_quantile(p), libm::asin(r));
    // Simpson's rule over the angle whose sine is the correlation.
    let at = |i: i32| libm::exp(-z * z / (1.0 + libm::sin(whole * f64::from(i) / f64::from(PARTS))));
    let weight = |i: i32| match i {
        0 | PARTS => 1.0,
        i if i % 2 == 1 => 4.0,
        _ => 2.0,
    };
    let sum: f64 = (0..=PARTS).map(|i| weight(i) * at(i)).sum();
    sum * whole / f64::from(PARTS) / 3.0 / (std::f64::consts::TAU * p * (1.0 - p))
}

/// By how much the half-width of an interval for independent values must grow, where its error was estimated from the
/// values too: [`error_growth`] · t/z.
pub fn widening(values: &[f64], confidence: f64) -> f64 {
    let p = (1.0 + confidence) / 2.0;
    let student = t_quantile(p, effective_count(values) - 1.0).unwrap_or(f64::INFINITY);
    error_growth(values) * student / normal_quantile(p)
}

/// Half the interval of a mean with two errors: one estimated from `days` (effective) days, one known (a sensor's).
///
/// t(ν) · √(days_error² + known_error²), with ν = (days_error² + known_error²)² (days − 1)/days_error⁴.
///
/// # Source
/// JCGM 100:2008 (GUM), G.4.1, formula of Welch and Satterthwaite.
pub fn combined_half_width(days_error: f64, days: f64, known_error: f64, confidence: f64) -> f64 {
    let p = (1.0 + confidence) / 2.0;
    let (error, degrees) = combined_error(days_error, days, known_error);
    let factor = if degrees < 1e6 { t_quantile(p, degrees) } else { Some(normal_quantile(p)) };
    factor.unwrap_or_else(|| normal_quantile(p)) * error
}

/// The standard error of a mean with two errors, and its degrees of freedom: see [`combined_half_width`].
pub fn combined_error(days_error: f64, days: f64, known_error: f64) -> (f64, f64) {
    let variance = days_error.powi(2) + known_error.powi(2);
    (variance.sqrt(), variance.powi(2) * (days - 1.0) / days_error.powi(4))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_that_resemble_each_other_count_less() {
        let slow: Vec<f64> = (0..40).map(|i| f64::from(i / 8 % 2)).collect();
        let quick: Vec<f64> = (0..40).map(|i| f64::from(i % 2)).collect();
        assert!(effective_count(&slow) < 10.0);
        assert!((effective_count(&quick) - 40.0).abs() < 1e-9, "no more than there are");
        assert!(widening(&slow, 0.95) > 2.0 && widening(&quick, 0.95) < 1.1);
    }

    #[test]
    fn alike_days_say_more_about_a_share_than_about_a_mean() {
        let slow: Vec<f64> = (0..40).map(|i| f64::from(i / 8 % 2) + f64::from(i) * 1e-3).collect();
        let (mean, median, p90) =
            (error_growth(&slow), share_error_growth(&slow, 0.5), share_error_growth(&slow, 0.9));
        assert!(1.2 < p90 && p90 < median && median < mean, "{p90} {median} {mean}");
        assert!((share_error_growth(&[1.0, 3.0, 2.0, 4.0, 1.0, 3.0], 0.5) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn one_error_alone_gives_its_own_interval() {
        let days = combined_half_width(0.1, 10.0, 0.0, 0.95);
        assert!((days - 0.1 * t_quantile(0.975, 9.0).unwrap()).abs() < 1e-12);
        let sensor = combined_half_width(0.0, 10.0, 0.1, 0.95);
        assert!((sensor - 0.1 * normal_quantile(0.975)).abs() < 1e-12);
    }

    #[test]
    fn equal_days_are_taken_as_they_are() {
        assert!((effective_count(&[1.0; 9]) - 9.0).abs() < 1e-12);
    }
}
