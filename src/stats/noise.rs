//! What sensor error alone does to a spread.

use statrs::distribution::{ContinuousCDF, Normal};

use super::quantiles::{quantile, sorted_quantile};
use super::random::Random;

/// The expected range of `n` independent standard normal values (the control-chart constant d₂); `None` below 2.
///
/// d₂(n) = ∫ 1 − Φ(x)ⁿ − (1 − Φ(x))ⁿ dx, by Simpson's rule over −9…9.
///
/// # Source
/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1 (table for n = 2…10).
///
/// # Example
/// ```
/// use evenrooms::stats::expected_range_factor;
/// let two = expected_range_factor(2).unwrap();
/// assert!((two - 2.0 / std::f64::consts::PI.sqrt()).abs() < 1e-9);
/// ```
pub fn expected_range_factor(n: usize) -> Option<f64> {
    const HALF_WIDTH: f64 = 9.0;
    const STEPS: usize = 720;
    let normal = Normal::standard();
    let power = i32::try_from(n).ok().filter(|n| *n >= 2)?;
    let density = |x: f64| {
        let below = normal.cdf(x);
        1.0 - below.powi(power) - (1.0 - below).powi(power)
    };
    let step = 2.0 * HALF_WIDTH / STEPS as f64;
    let weight = |i: usize| match i {
        0 | STEPS => 1.0,
        i if i % 2 == 1 => 4.0,
        _ => 2.0,
    };
    let sum: f64 = (0..=STEPS).map(|i| weight(i) * density(-HALF_WIDTH + i as f64 * step)).sum();
    Some(sum * step / 3.0)
}

/// How many times the sensors' errors are drawn.
const DRAWS: usize = 400;
const SEED: u64 = 0x7365_6e73_6f72;

/// What sensor error does to a quantile of the range: how far the true one may lie below and above the one seen, 95 %.
///
/// `rows`: one after another the values of all sensors at some instants, NaN where missing. `deviations`: standard
/// deviation of each sensor's error, which is the same at all instants. Errors are drawn anew and put on top of the values
/// seen; what they do there, they are taken to have done already, the other way round. Errors make a range larger more
/// often than smaller, so that the first distance is the larger one; neither is negative.
///
/// # Source
/// Basic (reflected) bootstrap: A. C. Davison, D. V. Hinkley, Bootstrap Methods and their Application (1997), 5.2.1 (from
/// memory), of a drawn sensor error.
pub fn range_error<const N: usize>(rows: &[f64], deviations: &[f64], ps: [f64; N]) -> [(f64, f64); N] {
    let mut random = Random::new(SEED);
    let ranges = |errors: &[f64]| -> Vec<f64> {
        let range = |row: &[f64]| {
            let present = row.iter().zip(errors).map(|(x, e)| x + e).filter(|x| !x.is_nan());
            let (low, high) =
                present.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
            high - low
        };
        rows.chunks(deviations.len().max(1)).map(range).collect()
    };
    let quantiles = |mut ranges: Vec<f64>| {
        ranges.sort_unstable_by(f64::total_cmp);
        ps.map(|p| sorted_quantile(&ranges, p).unwrap_or(0.0))
    };
    let seen = quantiles(ranges(&vec![0.0; deviations.len()]));
    let mut moved = vec![Vec::with_capacity(DRAWS); N];
    for _ in 0..DRAWS {
        let errors: Vec<f64> = deviations.iter().map(|s| s * random.normal()).collect();
        let drawn = quantiles(ranges(&errors));
        moved.iter_mut().enumerate().for_each(|(k, moved)| moved.push(drawn[k] - seen[k]));
    }
    let mut parts = [(0.0, 0.0); N];
    for (part, moved) in parts.iter_mut().zip(moved) {
        let end = |p| quantile(moved.clone(), p).unwrap_or(0.0);
        *part = (end(0.975).max(0.0), (-end(0.025)).max(0.0));
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_far_apart_rooms_move_by_the_error_of_their_difference() {
        let [(below, above)] = range_error(&[10.0, 20.0], &[0.3, 0.4], [0.5]);
        assert!((below - 0.98).abs() < 0.1 && (above - 0.98).abs() < 0.1, "1.96 × 0.5: {below} {above}");
    }

    #[test]
    fn equal_rooms_can_only_be_closer_than_they_seem() {
        let [(below, above)] = range_error(&[20.0; 6], &[0.2; 6], [0.5]);
        assert!(below > 0.5 && above < 1e-9, "{below} {above}");
    }

    #[test]
    fn perfect_sensors_move_nothing() {
        assert_eq!(range_error(&[20.0, 21.0, 20.0, f64::NAN], &[0.0, 0.0], [0.5, 0.95]), [(0.0, 0.0); 2]);
    }
}
