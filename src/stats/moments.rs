//! Mean, standard deviation, autocorrelation.

/// Sums kept side by side, so that one addition does not wait for another; also the more exact way.
const LANES: usize = 8;

fn sum(values: &[f64], of: impl Fn(f64) -> f64) -> f64 {
    let mut lanes = [0.0; LANES];
    let (chunks, rest) = values.as_chunks::<LANES>();
    for chunk in chunks {
        for (lane, x) in lanes.iter_mut().zip(chunk) {
            *lane += of(*x);
        }
    }
    lanes.iter().sum::<f64>() + rest.iter().map(|x| of(*x)).sum::<f64>()
}

/// The arithmetic mean; `None` for no values.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| {
        let shift = values[0];
        shift + sum(values, |x| x - shift) / values.len() as f64
    })
}

/// The standard deviation with n − 1, in two passes; `None` for fewer than two values.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    mean_and_deviation(values)?.1
}

/// [`mean`] and [`standard_deviation`]; `None` for no values.
pub fn mean_and_deviation(values: &[f64]) -> Option<(f64, Option<f64>)> {
    let mean = mean(values)?;
    let n = values.len();
    let squares = || sum(values, |x| (x - mean) * (x - mean));
    Some((mean, (n > 1).then(|| (squares() / (n - 1) as f64).sqrt())))
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
