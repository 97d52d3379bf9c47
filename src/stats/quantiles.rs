//! Quantiles by linear interpolation between order statistics.

/// The quantile `p` (0 to 1) of values sorted in rising order; `None` for no values.
///
/// # Source
/// R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996), definition 7.
pub fn sorted_quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let at = p.clamp(0.0, 1.0) * last as f64;
    let (low, share) = (at.floor() as usize, at.fract());
    let high = (low + 1).min(last);
    Some(sorted[low] + (sorted[high] - sorted[low]) * share)
}

/// The quantile `p` of values in any order; `None` for no values.
pub fn quantile(mut values: Vec<f64>, p: f64) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    sorted_quantile(&values, p)
}

/// The median of values in any order; `None` for no values.
pub fn median(values: Vec<f64>) -> Option<f64> {
    quantile(values, 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_values_have_quantiles_too() {
        assert_eq!(sorted_quantile(&[], 0.5), None);
        assert_eq!(sorted_quantile(&[20.0], 0.95), Some(20.0));
        assert_eq!(median(vec![3.0, 1.0, 2.0, 10.0]), Some(2.5));
    }
}
