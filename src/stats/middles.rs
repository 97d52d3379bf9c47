//! How sure a median of few values is, whatever their distribution.

use super::quantiles::median;

/// The median with its interval between two of the values: the narrowest such that each end is missed with 2.5 % at most; of five
/// values their ends, which are missed with 3.1 %. `None` for fewer than five values.
///
/// # Source
/// Sign test: W. J. Conover, Practical Nonparametric Statistics (from memory).
///
/// # Example
/// ```
/// let nights = [41.0, 38.0, 44.0, 40.0, 47.0, 39.0, 43.0, 42.0, 46.0, 45.0];
/// assert_eq!(evenrooms::stats::median_interval(&nights), Some((42.5, 39.0, 46.0)));
/// ```
pub fn median_interval(values: &[f64]) -> Option<(f64, f64, f64)> {
    let n = values.len();
    if n < 5 {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    // The share of all ways in which no more than k values lie below the median.
    let mut chance = libm::pow(0.5, n as f64);
    let (mut below, mut outside) = (chance, 0);
    for k in 1..n / 2 {
        chance *= (n - k + 1) as f64 / k as f64;
        below += chance;
        if below > 0.025 {
            break;
        }
        outside = k;
    }
    Some((median(values.to_vec())?, sorted[outside], sorted[n - 1 - outside]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_values_give_their_ends_and_fewer_nothing() {
        assert_eq!(median_interval(&[1.0, 2.0, 3.0, 4.0]), None);
        assert_eq!(median_interval(&[5.0, 2.0, 3.0, 4.0, 1.0]), Some((3.0, 1.0, 5.0)));
        assert_eq!(median_interval(&[6.0, 5.0, 2.0, 3.0, 4.0, 1.0]), Some((3.5, 1.0, 6.0)));
    }
}
