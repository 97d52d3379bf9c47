//! Many tests at once: p values adjusted so that of what is called found no more than a share is expected to be wrong.

/// The p values adjusted for their number, in their order: the smallest share of false discoveries at which each is one.
///
/// Of m values the one with rank k becomes p · m/k, and no more than the next larger one becomes; 1 at most.
///
/// # Source
/// Y. Benjamini, Y. Hochberg, "Controlling the false discovery rate", Journal of the Royal Statistical Society B 57 (1995).
///
/// # Example
/// ```
/// let adjusted = evenrooms::stats::adjusted_p(&[0.04, 0.01, 0.03]);
/// assert!((adjusted[1] - 0.03).abs() < 1e-12 && (adjusted[0] - 0.04).abs() < 1e-12 && (adjusted[2] - 0.04).abs() < 1e-12);
/// ```
pub fn adjusted_p(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*b].total_cmp(&values[*a]));
    let (count, mut least) = (values.len() as f64, 1.0_f64);
    let mut adjusted = vec![1.0; values.len()];
    for (at, place) in order.into_iter().enumerate() {
        least = least.min(values[place] * count / (count - at as f64));
        adjusted[place] = least;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each by its definition: the least of p · m/k over all that are no smaller.
    fn one_by_one(values: &[f64]) -> Vec<f64> {
        let m = values.len() as f64;
        let rank = |x: f64| values.iter().filter(|v| **v <= x).count() as f64;
        let of = |p: &f64| values.iter().filter(|v| **v >= *p).map(|v| v * m / rank(*v)).fold(1.0, f64::min);
        values.iter().map(of).collect()
    }

    #[test]
    fn values_are_what_their_definition_says() {
        let values: Vec<f64> = (0..40).map(|i| f64::from(i * 7919 % 101) / 130.0).collect();
        for (fast, slow) in adjusted_p(&values).iter().zip(one_by_one(&values)) {
            assert!((fast - slow).abs() < 1e-12, "{fast} {slow}");
        }
        assert_eq!(adjusted_p(&[]), [] as [f64; 0]);
        // One test alone needs no adjustment, and equal ones are adjusted alike.
        assert_eq!(adjusted_p(&[0.2]), [0.2]);
        assert_eq!(adjusted_p(&[0.02, 0.02, 0.5]), [0.03, 0.03, 0.5]);
    }
}
