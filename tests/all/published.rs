//! Numbers that others published: inputs as printed, tolerance no looser than the printed digits.
//!
//! A value known from memory says so. Where evenrooms differs on purpose, the test says `DIFFERS:` and why.

mod homes;
mod moist_air;
mod physics;
mod statistics;

use evenrooms::quality::checks::{gap, gross_range, rate_of_change, spike};
use evenrooms::quality::{Flag, roll_up};
use evenrooms::site::{GrossRange, Spike, SpikeMethod};
use evenrooms::stats::{expected_range_factor, mean, median, quantile, standard_deviation};
use evenrooms::units::{Celsius, KelvinDiff, KelvinPerHour, parse_difference, parse_temperature};

const NAN: f64 = f64::NAN;
const MINUTE_MS: i64 = 60_000;

/// So small that no step of a logger is as small.
const NO_RESOLUTION: KelvinDiff = KelvinDiff::new(1e-9);

fn assert_close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "got {got}, want {want} ± {tolerance}");
}

fn numbers(flags: &[Flag]) -> Vec<u8> {
    flags.iter().map(|flag| flag.number()).collect()
}

fn every(minutes: i64, count: usize) -> Vec<i64> {
    (0..).step_by((minutes * MINUTE_MS) as usize).take(count).collect()
}

fn spikes(degc: &[f64], suspect: f64, fail: f64, method: SpikeMethod) -> Vec<u8> {
    let limits = Spike { suspect: KelvinDiff::new(suspect), fail: KelvinDiff::new(fail), method };
    numbers(&spike(&every(15, degc.len()), degc, &limits, None))
}

/// A lone spike drags its good neighbours along, because the mean of *their* neighbours is off.
///
/// Source: ioos_qc 3.0 (commit 9c1853a), `tests/test_qartod.py`, spike test, 25/50.
#[test]
fn a_spike_and_its_neighbours_are_flagged() {
    let degc = [10.0, 12.0, 999.99, 13.0, 15.0, 40.0, 9.0, 9.0];
    assert_eq!(spikes(&degc, 25.0, 50.0, SpikeMethod::Average), [2, 4, 4, 4, 1, 3, 1, 2]);
}

/// Source: ioos_qc 3.0 (commit 9c1853a), `ioos_qc/qartod.py`, body of `spike_test` called with these values.
#[test]
fn the_first_reading_is_not_tested_for_a_spike() {
    assert_eq!(spikes(&[99.0, 20.0, 20.0, 20.0], 1.0, 3.0, SpikeMethod::Average), [2, 4, 1, 2]);
}

/// Source: ioos_qc 3.0 (commit 9c1853a), `tests/test_qartod.py`, spike test with a missing value, 0.5/1, both methods.
#[test]
fn beside_a_missing_value_no_spike_is_tested() {
    let degc = [3.0, 4.99, 5.0, 6.0, 8.0, 6.0, 6.0, 6.75, 6.0, 6.0, 5.3, 6.0, 6.0, 9.0, 5.0, NAN, 4.0, 4.0];
    assert_eq!(
        spikes(&degc, 0.5, 1.0, SpikeMethod::Average),
        [2, 3, 1, 1, 4, 3, 1, 3, 1, 1, 3, 1, 4, 4, 2, 9, 2, 2]
    );
    assert_eq!(
        spikes(&degc, 0.5, 1.0, SpikeMethod::Differential),
        [2, 1, 1, 1, 4, 1, 1, 3, 1, 1, 3, 1, 1, 4, 2, 9, 2, 2]
    );
}

/// Source: ioos_qc 3.0 (commit 9c1853a), `ioos_qc/qartod.py`, body of `gross_range_test` called with these values.
#[test]
fn a_value_equal_to_a_gross_range_limit_passes() {
    let limits = GrossRange {
        fail: (Celsius::new(0.0), Celsius::new(5.0)),
        suspect: (Celsius::new(1.0), Celsius::new(4.0)),
    };
    let degc = [0.0, 5.0, 1.0, 4.0, -0.001, 5.001, 0.5, NAN];
    assert_eq!(numbers(&gross_range(&degc, &limits)), [3, 3, 1, 1, 4, 4, 3, 9]);
}

/// The threshold is printed as 5/15/60 per second, so 5 K in 15 min: 20 K/h.
///
/// Source: ioos_qc 3.0 (commit 9c1853a), `tests/test_qartod.py`, rate of change test on 15-min data.
#[test]
fn the_later_reading_of_a_fast_change_is_flagged() {
    let degc = [
        2.0, 10.0, 2.1, 3.0, 4.0, 5.0, 7.0, 10.0, 0.0, 2.0, 2.2, 2.0, 1.0, 2.0, 3.0, 90.0, 91.0, 92.0, 93.0,
        1.0, 2.0, 3.0, 4.0, 5.0,
    ];
    let limit = KelvinPerHour::new(5.0 / 15.0 / 60.0 * 3600.0);
    assert_eq!(
        numbers(&rate_of_change(&every(15, degc.len()), &degc, limit, NO_RESOLUTION)),
        [1, 3, 3, 1, 1, 1, 1, 1, 3, 1, 1, 1, 1, 1, 1, 3, 1, 1, 1, 3, 1, 1, 1, 1]
    );
}

/// Source: ioos_qc 3.0 (commit 9c1853a), `ioos_qc/qartod.py`, body of `rate_of_change_test` called with these values.
#[test]
fn a_jump_across_a_missing_value_passes_the_rate_of_change() {
    let degc = [20.0, 20.0, NAN, 30.0, 30.0];
    let flags = rate_of_change(&every(15, degc.len()), &degc, KelvinPerHour::new(20.0), NO_RESOLUTION);
    assert_eq!(numbers(&flags), [1, 1, 9, 1, 1]);
}

/// A gap of exactly the limit passes.
///
/// DIFFERS: the first reading is 2 here, not evaluated, because nothing is known about the time before it; the
/// source copies the second reading's flag to it (1 and 4).
///
/// Source: ioos_qc 3.0 (commit 9c1853a), `ioos_qc/qartod.py`, body of `time_gap_test` called with these times, 2 h.
#[test]
fn the_reading_after_a_gap_is_flagged() {
    let flags = |minutes: &[i64]| {
        let times: Vec<i64> = minutes.iter().map(|m| m * MINUTE_MS).collect();
        numbers(&gap(&times, 2 * 60 * MINUTE_MS))
    };
    assert_eq!(flags(&[0, 60, 180, 301]), [2, 1, 1, 4]);
    assert_eq!(flags(&[0, 180, 240]), [2, 4, 1]);
}

/// Source: ioos_qc 3.0 (commit 9c1853a), `ioos_qc/qartod.py`, body of its aggregate called with these flags.
#[test]
fn fail_rolls_up_over_suspect_good_not_evaluated_and_missing() {
    use Flag::{Fail, Good, Missing, NotEvaluated, Suspect};
    let one = [Good, Good, Missing, NotEvaluated, Suspect];
    let other = [NotEvaluated, Fail, Good, Missing, Fail];
    let rolled: Vec<Flag> = one.iter().zip(other).map(|(a, b)| roll_up([*a, b])).collect();
    assert_eq!(numbers(&rolled), [1, 4, 1, 2, 4]);
}

/// By hand: of 5 values, p lies 4 p of the way from the first to the last, so 0.1 lies 0.4 from 15 to 20.
///
/// Source: R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", The American Statistician 50 (1996),
/// definition 7: p(k) = (k − 1)/(n − 1) (from memory).
#[test]
fn quantiles_lie_on_the_line_between_order_statistics() {
    let values = || vec![40.0, 15.0, 50.0, 20.0, 35.0];
    for (p, want) in [(0.0, 15.0), (0.1, 17.0), (0.25, 20.0), (0.5, 35.0), (0.9, 46.0), (1.0, 50.0)] {
        assert_close(quantile(values(), p).unwrap(), want, 1e-12);
    }
}

/// Source: NumPy 2.4 reference, `numpy.percentile`, example (default method "linear", definition 7).
#[test]
fn medians_as_in_the_numpy_reference() {
    assert_close(median(vec![10.0, 7.0, 4.0, 3.0, 2.0, 1.0]).unwrap(), 3.5, 1e-12);
    assert_close(median(vec![10.0, 3.0]).unwrap(), 6.5, 1e-12);
    assert_close(median(vec![10.0, 7.0, 4.0]).unwrap(), 7.0, 1e-12);
}

/// Source: pandas 3.1 reference, `pandas.DataFrame.quantile`, example (default interpolation "linear", definition 7).
#[test]
fn quantiles_as_in_the_pandas_reference() {
    let (a, b) = (|| vec![1.0, 2.0, 3.0, 4.0], || vec![1.0, 10.0, 100.0, 100.0]);
    for (p, of_a, of_b) in [(0.1, 1.3, 3.7), (0.5, 2.5, 55.0)] {
        assert_close(quantile(a(), p).unwrap(), of_a, 1e-12);
        assert_close(quantile(b(), p).unwrap(), of_b, 1e-12);
    }
}

/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1, d2 for n = 2…10 (from memory).
#[test]
#[expect(clippy::approx_constant, reason = "the first of them is 2/√π, as printed")]
fn expected_ranges_are_the_control_chart_constants() {
    let printed = [1.128379, 1.692569, 2.058751, 2.325929, 2.534413, 2.704357, 2.847201, 2.970026, 3.077505];
    for (n, want) in (2..).zip(printed) {
        assert_close(expected_range_factor(n).unwrap(), want, 1e-6);
    }
}

/// Source: d2(2) = 2/√π, derived: the range of two standard normal values is the size of a normal one of variance 2.
#[test]
fn the_expected_range_of_two_is_known_exactly() {
    assert_close(expected_range_factor(2).unwrap(), 2.0 / std::f64::consts::PI.sqrt(), 1e-9);
}

/// Source: NIST Statistical Reference Datasets, univariate summary statistics, NumAcc1 (exact).
#[test]
fn three_large_numbers_keep_their_deviation() {
    let values = [10_000_001.0, 10_000_003.0, 10_000_002.0];
    assert_close(mean(&values).unwrap(), 10_000_002.0, 0.0);
    assert_close(standard_deviation(&values).unwrap(), 1.0, 0.0);
}

/// 1001 values: B.2, then 500 times B.1 and B.3. The numbers themselves are rounded to the last bit of an `f64`,
/// which for NumAcc4 is 2e-9: the deviation is held to 1e-8 of itself, the mean to that bit.
///
/// Source: NIST Statistical Reference Datasets, univariate summary statistics, NumAcc2, NumAcc3 and NumAcc4.
#[test]
fn a_small_deviation_on_a_large_mean_is_kept() {
    for base in [1.0, 1_000_000.0, 10_000_000.0] {
        let pair = [base + 0.1, base + 0.3];
        let values: Vec<f64> =
            std::iter::once(base + 0.2).chain(pair.into_iter().cycle().take(1000)).collect();
        assert_close(mean(&values).unwrap(), base + 0.2, base * f64::EPSILON);
        assert_close(standard_deviation(&values).unwrap(), 0.1, 0.1 * 1e-8);
    }
}

/// Source: legal minimum heat in °F (New York City, Chicago, Massachusetts, New Jersey and others) and its °C, derived.
#[test]
fn legal_minimums_in_fahrenheit_are_not_rounded() {
    let printed = [
        ("68 °F", 20.000),
        ("66 °F", 18.889),
        ("65 °F", 18.333),
        ("64 °F", 17.778),
        ("62 °F", 16.667),
        ("60 °F", 15.556),
        ("55 °F", 12.778),
        ("70 °F", 21.111),
        ("72 °F", 22.222),
        ("78 °F", 25.556),
    ];
    for (text, want) in printed {
        assert_close(parse_temperature(text).unwrap().degc(), want, 0.0005);
    }
    assert!(parse_temperature("67.9 °F").unwrap() < parse_temperature("20 °C").unwrap());
}

/// A difference has no zero point: 5 °F apart is 2.78 K apart, never −15 °C.
///
/// Source: Municipal code of Stone Park, Illinois (two habitable rooms not over 5 °F apart), and its K, derived.
#[test]
fn a_difference_in_fahrenheit_is_no_temperature() {
    assert_close(parse_difference("5 °F").unwrap().k(), 2.78, 0.005);
    assert_close(KelvinDiff::new(2.2).degf(), 3.96, 0.005);
}
