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

#[cfg(test)]
mod tests {
    use super::*;

    /// With one degree of freedom the quantile is tan π(p − 1/2), with two (2p − 1)/√(2p(1 − p)).
    #[test]
    fn quantiles_of_one_and_two_degrees_are_known_exactly() {
        for p in [0.6, 0.9, 0.95, 0.975, 0.995] {
            let one = (std::f64::consts::PI * (p - 0.5)).tan();
            let two = (2.0 * p - 1.0) / (2.0 * p * (1.0 - p)).sqrt();
            for (degrees, want) in [(1.0, one), (2.0, two)] {
                let found = t_quantile(p, degrees).unwrap();
                assert!((found / want - 1.0).abs() < 1e-11, "{p}, {degrees}: {found}, not {want}");
            }
        }
        assert_eq!(t_quantile(0.975, 0.0), None);
        for degrees in [4.0, 9.0, 27.5, 300.0] {
            let above = t_tail(t_quantile(0.975, degrees).unwrap(), degrees).unwrap();
            assert!((above - 0.025).abs() < 1e-13, "{degrees}: {above}");
        }
    }

    #[test]
    fn the_density_at_0_and_1_is_that_of_any_table() {
        assert!((normal_density(0.0) - 0.398_942_280_4).abs() < 1e-10);
        assert!((normal_density(-1.0) - 0.241_970_724_5).abs() < 1e-10);
        assert!((normal_share(1.0) - 0.841_344_746_1).abs() < 1e-10);
    }
}
