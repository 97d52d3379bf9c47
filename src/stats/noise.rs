//! What sensor error alone does to a spread.

use statrs::distribution::{ContinuousCDF, Normal};

/// The expected range of `n` independent standard normal values (the control-chart constant d₂); `None` below 2.
///
/// d₂(n) = ∫ 1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ dx, by Simpson's rule over −9…9.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1 (table for n = 2…10).
///
/// # Example
/// ```
/// use evenrooms::stats::expected_range_factor;
/// let two = expected_range_factor(2).unwrap();
/// assert!((two - 2.0 / std::f64::consts::PI.sqrt()).abs() < 1e-9);
/// ```
pub fn expected_range_factor(n: usize) -> Option<f64> {
    const HALF_WIDTH: f64 = 9.0;
    const STEPS: usize = 720;
    let normal = Normal::standard();
    let power = i32::try_from(n).ok().filter(|n| *n >= 2)?;
    let density = |x: f64| {
        let below = normal.cdf(x);
        1.0 - below.powi(power) - (1.0 - below).powi(power)
    };
    let step = 2.0 * HALF_WIDTH / STEPS as f64;
    let weight = |i: usize| match i {
        0 | STEPS => 1.0,
        i if i % 2 == 1 => 4.0,
        _ => 2.0,
    };
    let sum: f64 = (0..=STEPS).map(|i| weight(i) * density(-HALF_WIDTH + i as f64 * step)).sum();
    Some(sum * step / 3.0)
}
