//! Mean, standard deviation, autocorrelation.

/// The arithmetic mean; `None` for no values.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| {
        let shift = values[0];
        shift + values.iter().map(|x| x - shift).sum::<f64>() / values.len() as f64
    })
}

/// The standard deviation with n − 1, in two passes; `None` for fewer than two values.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let mean = mean(values)?;
    let n = values.len();
    let squares: f64 = values.iter().map(|x| (x - mean).powi(2)).sum();
    (n > 1).then(|| (squares / (n - 1) as f64).sqrt())
}

/// The autocorrelation at a lag: Σ dᵢ dᵢ₊ₖ / Σ dᵢ², with d the deviations from the mean; `None` where all values are equal.
///
/// # Source
/// NIST Statistical Reference Datasets, univariate summary statistics (lag 1).
pub fn autocorrelation(values: &[f64], lag: usize) -> Option<f64> {
    let mean = mean(values)?;
    let product = |k: usize| -> f64 {
        values.iter().zip(values.get(k..).unwrap_or_default()).map(|(a, b)| (a - mean) * (b - mean)).sum()
    };
    let squares = product(0);
    (squares > 0.0).then(|| product(lag) / squares)
}
