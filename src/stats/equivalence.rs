//! Two one-sided tests: is a mean surely within a margin?

use super::student::t_tail;

/// What two one-sided tests said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoOneSided {
    /// t against the lower margin.
    pub t_low: f64,
    /// t against the upper margin.
    pub t_high: f64,
    /// The larger of the two p values: small means surely within.
    pub p: f64,
}

/// Tests a mean with a standard error against −margin and +margin; `None` without freedom or without an error.
///
/// At 5 % it says the same as a 90 % interval that lies inside the margins.
///
/// # Source
/// D. J. Schuirmann, "A comparison of the two one-sided tests procedure and the power approach…", Journal of
/// Pharmacokinetics and Biopharmaceutics 15 (1987).
pub fn two_one_sided(mean: f64, error: f64, degrees: f64, margin: f64) -> Option<TwoOneSided> {
    if error <= 0.0 {
        return None;
    }
    let (t_low, t_high) = ((mean + margin) / error, (mean - margin) / error);
    let p = t_tail(t_low, degrees)?.max(t_tail(-t_high, degrees)?);
    Some(TwoOneSided { t_low, t_high, p })
}
