//! What sensor error alone does to a spread.

use std::borrow::Cow;
use std::sync::LazyLock;

use statrs::distribution::{ContinuousCDF, Normal};

use super::quantiles::{quantile, quantiles};
use super::random::Random;
use super::sorting_network::{higher, lower};

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
/// Draws that are looked at together: few enough for the processor to keep their lowest and highest values at hand.
const TOGETHER: usize = 8;
/// Sensors that most homes have no more of.
const COMMON_SENSORS: usize = 8;
const SEED: u64 = 0x7365_6e73_6f72;

/// What sensor error does to a quantile of the range: how far the true one may lie below the one seen, 97.5 %.
///
/// `rows`: one after another the values of all sensors at some instants, NaN where missing. `deviations`: standard
/// deviation of each sensor's error, which is the same at all instants. Errors are drawn anew and put on top of the values
/// seen; what they do there, they are taken to have done already, the other way round. Errors make a range larger more
/// often than smaller; the distance is never negative. How far the true range may lie above cannot be told so: errors on top of the
/// errors that there are bring more rooms to the ends than there were.
///
/// # Source
/// Basic (reflected) bootstrap: A. C. Davison, D. V. Hinkley, Bootstrap Methods and their Application (1997), 5.2.1 (from
/// memory), of a drawn sensor error.
pub fn range_error<const N: usize>(rows: &[f64], deviations: &[f64], ps: [f64; N]) -> [f64; N] {
    let normals = normals(DRAWS * deviations.len());
    let drawn = |draw: usize, sensor: usize| normals[draw * deviations.len() + sensor];
    let mut found = [const { Vec::new() }; N];
    // The first draw is without any error: what was seen.
    for first in (0..=DRAWS).step_by(TOGETHER) {
        let error = |sensor: usize, draw: usize| match draw {
            1..=DRAWS => deviations[sensor] * drawn(draw - 1, sensor),
            _ => 0.0,
        };
        let errors_of = |sensor| std::array::from_fn(|k| error(sensor, first + k));
        let errors: Vec<[f64; TOGETHER]> = (0..deviations.len()).map(errors_of).collect();
        for ranges in ranges(rows, &errors).iter().take(DRAWS + 1 - first) {
            let quantiles = quantiles(ranges, ps).into_iter().flatten();
            found.iter_mut().zip(quantiles).for_each(|(found, quantile)| found.push(quantile));
        }
    }
    found.map(|quantiles| {
        let Some((seen, drawn)) = quantiles.split_first() else { return 0.0 };
        let moved: Vec<f64> = drawn.iter().map(|drawn| drawn - seen).collect();
        quantile(moved, 0.975).unwrap_or(0.0).max(0.0)
    })
}

/// For each of some drawn errors of the sensors the range at each row.
fn ranges(rows: &[f64], errors: &[[f64; TOGETHER]]) -> [Vec<f64>; TOGETHER] {
    let of_rows: Vec<[f64; TOGETHER]> =
        rows.chunks(errors.len().max(1)).map(|row| ranges_of(row, errors)).collect();
    std::array::from_fn(|draw| of_rows.iter().map(|ranges| ranges[draw]).collect())
}

/// The ranges at a row.
fn ranges_of(row: &[f64], errors: &[[f64; TOGETHER]]) -> [f64; TOGETHER] {
    let (mut low, mut high) = ([f64::INFINITY; TOGETHER], [f64::NEG_INFINITY; TOGETHER]);
    for (seen, errors) in row.iter().zip(errors) {
        for k in 0..TOGETHER {
            let x = seen + errors[k];
            (low[k], high[k]) = (lower(low[k], x), higher(high[k], x));
        }
    }
    let mut ranges = [0.0; TOGETHER];
    for k in 0..TOGETHER {
        ranges[k] = high[k] - low[k];
    }
    ranges
}

/// The first standard normal numbers of the stream: always the same, so that most are made once for all homes.
fn normals(count: usize) -> Cow<'static, [f64]> {
    static MADE: LazyLock<Vec<f64>> = LazyLock::new(|| made(DRAWS * COMMON_SENSORS));
    fn made(count: usize) -> Vec<f64> {
        let mut random = Random::new(SEED);
        (0..count).map(|_| random.normal()).collect()
    }
    match count <= DRAWS * COMMON_SENSORS {
        true => Cow::Borrowed(&MADE[..count]),
        false => Cow::Owned(made(count)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::sorted_quantile;

    /// Each draw by itself, its ranges sorted.
    fn one_by_one<const N: usize>(rows: &[f64], deviations: &[f64], ps: [f64; N]) -> [f64; N] {
        let mut random = Random::new(SEED);
        let quantiles = |errors: &[f64]| {
            let range = |row: &[f64]| {
                let present = row.iter().zip(errors).map(|(x, e)| x + e).filter(|x| !x.is_nan());
                let (low, high) = present
                    .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
                high - low
            };
            let mut ranges: Vec<f64> = rows.chunks(deviations.len()).map(range).collect();
            ranges.sort_unstable_by(f64::total_cmp);
            ps.map(|p| sorted_quantile(&ranges, p).unwrap())
        };
        let seen = quantiles(&vec![0.0; deviations.len()]);
        let draws = (0..DRAWS).map(|_| {
            let errors: Vec<f64> = deviations.iter().map(|s| s * random.normal()).collect();
            quantiles(&errors)
        });
        let draws: Vec<[f64; N]> = draws.collect();
        std::array::from_fn(|k| {
            quantile(draws.iter().map(|d| d[k] - seen[k]).collect(), 0.975).unwrap().max(0.0)
        })
    }

    #[test]
    fn many_draws_at_a_time_give_what_each_gives_by_itself() {
        for sensors in [2, 6, 9] {
            let value = |i: usize| if i % 23 == 5 { f64::NAN } else { 20.0 + (i * 7919 % 211) as f64 / 50.0 };
            let rows: Vec<f64> = (0..sensors * 37).map(value).collect();
            let deviations: Vec<f64> = (0..sensors).map(|s| 0.1 + 0.05 * s as f64).collect();
            let bits = |ends: [f64; 2]| ends.map(f64::to_bits);
            let ps = [0.5, 0.95];
            assert_eq!(bits(range_error(&rows, &deviations, ps)), bits(one_by_one(&rows, &deviations, ps)));
        }
    }

    #[test]
    fn two_far_apart_rooms_move_by_the_error_of_their_difference() {
        let [below] = range_error(&[10.0, 20.0], &[0.3, 0.4], [0.5]);
        assert!((below - 0.98).abs() < 0.1, "1.96 × 0.5: {below}");
    }

    #[test]
    fn equal_rooms_can_only_be_closer_than_they_seem() {
        let [below] = range_error(&[20.0; 6], &[0.2; 6], [0.5]);
        assert!(below > 0.5, "{below}");
    }

    #[test]
    fn perfect_sensors_move_nothing() {
        let moved = range_error(&[20.0, 21.0, 20.0, f64::NAN], &[0.0, 0.0], [0.5, 0.95]);
        assert!(moved.iter().all(|k| k.abs() < 1e-12), "{moved:?}");
    }

    /// d₂ of two is 2/√π, of three 3/√π.
    #[test]
    fn the_expected_range_of_two_and_three_values_is_known_exactly() {
        let root = std::f64::consts::PI.sqrt();
        assert!((expected_range_factor(2).unwrap() - 2.0 / root).abs() < 1e-9);
        assert!((expected_range_factor(3).unwrap() - 3.0 / root).abs() < 1e-9);
        assert_eq!(expected_range_factor(1), None);
    }
}
