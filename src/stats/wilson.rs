//! How sure a share is that was counted.

use super::student::normal_quantile;

/// The interval of a share of which `passes` of `number` were counted, that holds it with this `confidence`; both ends from 0 to
/// 1, `None` where nothing was counted.
///
/// # Source
/// E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the American Statistical
/// Association 22 (1927).
///
/// # Example
/// ```
/// let (low, high) = evenrooms::stats::wilson(8, 10, 0.95).unwrap();
/// assert!((low - 0.4901625).abs() < 1e-7 && (high - 0.9433178).abs() < 1e-7);
/// ```
pub fn wilson(passes: u64, number: u64, confidence: f64) -> Option<(f64, f64)> {
    if number == 0 || passes > number {
        return None;
    }
    let (n, z) = (number as f64, normal_quantile((1.0 + confidence) / 2.0));
    let (share, squared) = (passes as f64 / n, z * z);
    let middle = (share + squared / (2.0 * n)) / (1.0 + squared / n);
    let half = z * (share * (1.0 - share) / n + squared / (4.0 * n * n)).sqrt() / (1.0 + squared / n);
    // At the ends both are the same but for rounding.
    let low = if passes == 0 { 0.0 } else { middle - half };
    let high = if passes == number { 1.0 } else { middle + half };
    Some((low, high))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_counted_is_no_share() {
        assert_eq!(wilson(0, 0, 0.95), None);
        assert_eq!(wilson(3, 2, 0.95), None);
    }

    #[test]
    fn eight_of_ten_and_none_and_all() {
        let close = |found: Option<(f64, f64)>, low: f64, high: f64| {
            let (l, h) = found.unwrap();
            assert!((l - low).abs() < 1e-7 && (h - high).abs() < 1e-7, "{l} {h}");
        };
        close(wilson(8, 10, 0.95), 0.490_162_5, 0.943_317_8);
        // At the ends the other one is z²/(n + z²) away.
        let away = 3.841_458_821 / 13.841_458_821;
        close(wilson(0, 10, 0.95), 0.0, away);
        close(wilson(10, 10, 0.95), 1.0 - away, 1.0);
    }
}
