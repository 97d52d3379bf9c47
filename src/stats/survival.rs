//! Times to an event of which some were cut off before it came.

use super::student::{normal_quantile, normal_share};

/// Room for float noise where a survival is compared with a share.
const NOISE: f64 = 1e-12;

/// One step of the curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// When.
    pub time: f64,
    /// How many had neither met the event nor been cut off before.
    pub at_risk: usize,
    /// How many met it now.
    pub events: usize,
    /// Share for whom it has not come by now.
    pub survival: f64,
    /// Greenwood's sum Σ d/(n (n − d)): the variance of the logarithm of the survival; infinite at a survival of 0.
    pub greenwood: f64,
}

impl Step {
    /// Standard error of the survival; `None` at a survival of 0.
    pub fn error(&self) -> Option<f64> {
        self.greenwood.is_finite().then(|| self.survival * self.greenwood.sqrt())
    }

    /// The interval of the survival, on the scale of log(−log S), its half-width there `widening` times that of independent
    /// times; `None` at a survival of 0.
    pub fn interval(&self, confidence: f64, widening: f64) -> Option<(f64, f64)> {
        let log = libm::log(self.survival);
        if !self.greenwood.is_finite() || log >= 0.0 {
            return None;
        }
        let half = widening * normal_quantile((1.0 + confidence) / 2.0) * self.greenwood.sqrt() / log;
        let power = |sign: f64| libm::pow(self.survival, libm::exp(sign * half));
        Some((power(-1.0), power(1.0)))
    }
}

impl Step {
    /// How sure it is, between 0 and 1, that no more than a share `left` is left by now: where it is c, an end of the
    /// one-sided [`Step::interval`] of confidence c lies at `left`. `None` at a survival of 0.
    pub fn confidence(&self, left: f64, widening: f64) -> Option<f64> {
        let log = libm::log(self.survival);
        let apart = libm::log(-log) - libm::log(-libm::log(left));
        let known = self.greenwood.is_finite() && log < 0.0;
        known.then(|| normal_share(apart * -log / (widening * self.greenwood.sqrt())))
    }
}

/// The survival curve of Kaplan and Meier.
///
/// # Source
/// E. L. Kaplan, P. Meier, "Nonparametric estimation from incomplete observations", Journal of the American
/// Statistical Association 53 (1958); variance: M. Greenwood (1926).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KaplanMeier {
    steps: Vec<Step>,
}

impl KaplanMeier {
    /// The curve of some times, each with whether the event came then (`false`: cut off then).
    ///
    /// Of an event and a cut at the same time the event comes first.
    pub fn new(times: &[(f64, bool)]) -> Self {
        let mut sorted = times.to_vec();
        sorted.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        let (mut survival, mut greenwood, mut steps) = (1.0, 0.0, Vec::new());
        let mut i = 0;
        while i < sorted.len() {
            let time = sorted[i].0;
            let same = sorted[i..].iter().take_while(|t| t.0.total_cmp(&time).is_eq()).count();
            let events = sorted[i..i + same].iter().filter(|t| t.1).count();
            let at_risk = sorted.len() - i;
            if events > 0 {
                let (d, n) = (events as f64, at_risk as f64);
                survival *= 1.0 - d / n;
                greenwood += d / (n * (n - d));
                steps.push(Step { time, at_risk, events, survival, greenwood });
            }
            i += same;
        }
        Self { steps }
    }

    /// Steps at which the event came, in order of time.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The earliest time by which the event has come for a share `p`; `None` when the curve does not go so low.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        self.steps.iter().find(|s| s.survival <= 1.0 - p + NOISE).map(|s| s.time)
    }

    /// Where the ends of the survival's interval reach the same share: the interval of [`KaplanMeier::quantile`].
    ///
    /// An end is `None` when its curve does not go so low. At a survival of 0, which has no interval, the lower curve is
    /// 0 and the upper stays where it was.
    ///
    /// # Source
    /// R. Brookmeyer, J. Crowley, "A confidence interval for the median survival time", Biometrics 38 (1982), on the
    /// scale of log(−log S).
    pub fn quantile_interval(&self, p: f64, confidence: f64, widening: f64) -> (Option<f64>, Option<f64>) {
        let line = 1.0 - p + NOISE;
        let low = |s: &Step| s.interval(confidence, widening).map_or(s.survival <= line, |i| i.0 <= line);
        let high = |s: &Step| s.interval(confidence, widening).is_some_and(|i| i.1 <= line);
        let first = |reached: &dyn Fn(&Step) -> bool| self.steps.iter().find(|s| reached(s)).map(|s| s.time);
        (first(&low), first(&high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_reached_has_no_median() {
        let curve = KaplanMeier::new(&[(6.0, false), (6.0, false)]);
        assert_eq!((curve.quantile(0.5), curve.quantile_interval(0.5, 0.95, 1.0)), (None, (None, None)));
    }

    #[test]
    fn confidence_is_that_of_the_interval_that_ends_there() {
        let curve = KaplanMeier::new(&[(1.0, true), (2.0, true), (2.5, false), (3.0, true), (4.0, true)]);
        for (step, widening) in curve.steps()[..3].iter().zip([1.0, 1.5, 2.0]) {
            let (low, high) = step.interval(0.9, widening).unwrap();
            assert!((step.confidence(high, widening).unwrap() - 0.95).abs() < 1e-9);
            assert!((step.confidence(low, widening).unwrap() - 0.05).abs() < 1e-9);
            assert!((step.confidence(step.survival, widening).unwrap() - 0.5).abs() < 1e-9);
        }
        assert_eq!(curve.steps()[3].confidence(0.5, 1.0), None);
    }

    #[test]
    fn without_cuts_the_curve_is_the_share_left() {
        let curve = KaplanMeier::new(&[(1.0, true), (2.0, true), (3.0, true), (4.0, true)]);
        let left: Vec<f64> = curve.steps().iter().map(|s| s.survival).collect();
        assert_eq!(left, [0.75, 0.5, 0.25, 0.0]);
        assert_eq!(curve.quantile(0.5), Some(2.0));
        assert_eq!(curve.steps()[3].interval(0.95, 1.0), None);
    }
}
