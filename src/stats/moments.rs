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

#[cfg(test)]
mod tests {
    use super::*;

    /// Deviations −1.5, −0.5, 0.5 and 1.5: squares 5, products 1.25 at a lag of one and −1.5 at two.
    #[test]
    fn four_values_that_rise_are_alike_by_a_quarter() {
        let values = [1.0, 2.0, 3.0, 4.0];
        let alike = [0, 1, 2, 9].map(|lag| autocorrelation(&values, lag).unwrap());
        assert!(alike.iter().zip([1.0, 0.25, -0.3, 0.0]).all(|(got, want)| (got - want).abs() < 1e-12));
        assert_eq!((autocorrelation(&[2.0; 3], 1), autocorrelation(&[], 0)), (None, None));
    }

    #[test]
    fn one_value_has_a_mean_and_no_deviation() {
        assert_eq!(mean_and_deviation(&[21.0]), Some((21.0, None)));
        assert_eq!(mean_and_deviation(&[20.0, 22.0]), Some((21.0, Some(2.0_f64.sqrt()))));
        assert_eq!((mean(&[]), standard_deviation(&[])), (None, None));
    }
}
