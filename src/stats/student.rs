//! Quantiles of the normal and of Student's distribution.

use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};

/// The standard normal value that lies above a share `p` (between 0 and 1) of all.
pub fn normal_quantile(p: f64) -> f64 {
    Normal::standard().inverse_cdf(p)
}

/// The share of all standard normal values below `x`.
pub fn normal_share(x: f64) -> f64 {
    Normal::standard().cdf(x)
}

/// The density of the standard normal distribution at `x`.
pub fn normal_density(x: f64) -> f64 {
    libm::exp(-x * x / 2.0) / std::f64::consts::TAU.sqrt()
}

/// The value of Student's distribution with `degrees` of freedom that lies above a share `p` of all; `None` without freedom.
///
/// # Example
/// ```
/// let t = evenrooms::stats::t_quantile(0.975, 9.0).unwrap();
/// assert!((t - 2.262157).abs() < 1e-6);
/// ```
pub fn t_quantile(p: f64, degrees: f64) -> Option<f64> {
    let student = StudentsT::new(0.0, 1.0, degrees).ok()?;
    let first = student.inverse_cdf(p);
    // The library's inverse is good to some eight digits: one step of Newton's gives the rest.
    Some(first - (student.cdf(first) - p) / student.pdf(first))
}

/// The share of Student's distribution above `t`; `None` without freedom.
pub fn t_tail(t: f64, degrees: f64) -> Option<f64> {
    Some(StudentsT::new(0.0, 1.0, degrees).ok()?.sf(t))
}
