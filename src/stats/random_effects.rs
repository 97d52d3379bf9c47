//! Effects that differ from home to home: their mean, how much homes differ, and where a new home would lie.
//!
//! Settled here, and why:
//! - **The mean's interval is never narrower than that of the known errors**: where homes happen to agree better than their
//!   errors let them, Hartung and Knapp's error would be smaller than that of a mean of homes that do not differ at all.
//! - **The prediction is made of τ² and the error of DerSimonian and Laird**, with two degrees of freedom fewer than homes:
//!   mean and between-home variance were both estimated.

use super::student::t_quantile;

/// A random-effects mean of independent estimates with known variances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RandomEffects {
    /// Number of estimates.
    pub number: usize,
    /// The mean, each estimate weighted by the inverse of its variance and the variance between homes.
    pub mean: f64,
    /// Standard error of the mean where the variance between homes were known (DerSimonian and Laird).
    pub error: f64,
    /// Standard error of the mean by how the estimates scatter (Hartung and Knapp), as it comes.
    pub scatter_error: f64,
    /// Variance between homes, τ².
    pub between_variance: f64,
    /// Cochran's Q.
    pub q: f64,
}

impl RandomEffects {
    /// Of estimates, each with its variance; `None` for fewer than two, and where a variance is not above 0 or a number not finite.
    ///
    /// # Source
    /// R. DerSimonian, N. Laird, "Meta-analysis in clinical trials", Controlled Clinical Trials 7 (1986); J. Hartung, G. Knapp,
    /// Statistics in Medicine 20 (2001).
    pub fn of(estimates: &[(f64, f64)]) -> Option<Self> {
        let fit = |(x, v): &(f64, f64)| x.is_finite() && v.is_finite() && *v > 0.0;
        if estimates.len() < 2 || !estimates.iter().all(fit) {
            return None;
        }
        let fixed = Weighted::of(estimates, 0.0);
        let free = (estimates.len() - 1) as f64;
        let squares: f64 = estimates.iter().map(|(_, v)| 1.0 / (v * v)).sum();
        let denominator = fixed.weights - squares / fixed.weights;
        let between_variance = ((fixed.q - free) / denominator).max(0.0);
        let random = Weighted::of(estimates, between_variance);
        let told = Self {
            number: estimates.len(),
            mean: random.mean,
            error: (1.0 / random.weights).sqrt(),
            scatter_error: (random.q / (free * random.weights)).sqrt(),
            between_variance,
            q: fixed.q,
        };
        let numbers = [told.mean, told.error, told.scatter_error, told.between_variance];
        numbers.iter().all(|x| x.is_finite()).then_some(told)
    }

    /// Standard deviation between homes, τ.
    pub fn between_deviation(&self) -> f64 {
        self.between_variance.sqrt()
    }

    /// The interval of the mean that holds it with this `confidence`, with Student's t of one degree of freedom fewer than
    /// homes and the larger of both errors.
    pub fn interval(&self, confidence: f64) -> Option<(f64, f64)> {
        let t = t_quantile((1.0 + confidence) / 2.0, self.number as f64 - 1.0)?;
        let half = t * self.scatter_error.max(self.error);
        Some((self.mean - half, self.mean + half))
    }

    /// The interval that holds the true value of one more home with this `confidence`; `None` for fewer than three homes.
    ///
    /// # Source
    /// J. P. T. Higgins, S. G. Thompson, D. J. Spiegelhalter, Journal of the Royal Statistical Society A 172 (2009): t with
    /// k − 2 degrees of freedom, √(τ² + SE²).
    pub fn prediction(&self, confidence: f64) -> Option<(f64, f64)> {
        let t = t_quantile((1.0 + confidence) / 2.0, self.number as f64 - 2.0)?;
        let half = t * (self.between_variance + self.error * self.error).sqrt();
        Some((self.mean - half, self.mean + half))
    }
}

/// A mean with weights, and how far the estimates are from it.
struct Weighted {
    weights: f64,
    mean: f64,
    q: f64,
}

impl Weighted {
    fn of(estimates: &[(f64, f64)], between: f64) -> Self {
        let weight = |v: f64| 1.0 / (v + between);
        let weights: f64 = estimates.iter().map(|(_, v)| weight(*v)).sum();
        let mean = estimates.iter().map(|(x, v)| x * weight(*v)).sum::<f64>() / weights;
        let q = estimates.iter().map(|(x, v)| weight(*v) * (x - mean) * (x - mean)).sum();
        Self { weights, mean, q }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn homes_that_agree_better_than_their_errors_have_no_narrower_interval_for_it() {
        let same = RandomEffects::of(&[(1.0, 0.04); 5]).unwrap();
        assert_eq!((same.between_variance, same.scatter_error), (0.0, 0.0));
        // t(0.975, 4) = 2.776445; the error is the root of 0.04 / 5.
        let (low, high) = same.interval(0.95).unwrap();
        assert!((high - low - 2.0 * 2.776445 * 0.008_f64.sqrt()).abs() < 1e-6);
        let (low, high) = same.prediction(0.95).unwrap();
        assert!((high - low - 2.0 * 3.182446 * 0.008_f64.sqrt()).abs() < 1e-6);
    }

    #[test]
    fn what_cannot_be_weighed_has_no_mean() {
        assert_eq!(RandomEffects::of(&[(1.0, 0.1)]), None);
        assert_eq!(RandomEffects::of(&[(1.0, 0.1), (2.0, 0.0)]), None);
        assert_eq!(RandomEffects::of(&[(1.0, 0.1), (f64::NAN, 0.1)]), None);
        assert_eq!(RandomEffects::of(&[(1.0, 0.1), (2.0, f64::INFINITY)]), None);
        let two = RandomEffects::of(&[(1.0, 0.1), (2.0, 0.1)]).unwrap();
        assert!(two.interval(0.95).is_some() && two.prediction(0.95).is_none());
    }
}
