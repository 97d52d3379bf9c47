//! Published numbers about rooms and homes, from readings to metric rows.

use super::assert_close;
use crate::pipeline::{measure, site, value};

/// 19.5 °C for 3 h, 17.0 for 2 h, 18.5 for 5 h, held against 20 °C: 0.5 × 3 + 3 × 2 + 1.5 × 5 K·h.
///
/// Source: degree-hours as in EN 15251:2007, annex F, method B (from memory); toy numbers derived from the formula.
#[test]
fn ten_cold_hours_have_fifteen_degree_hours() {
    let hourly = [19.5, 19.5, 19.5, 17.0, 17.0, 18.5, 18.5, 18.5, 18.5, 18.5];
    let site = site("step = \"60 min\"", "[band]\nlower = \"20 °C\"\nupper = \"24 °C\"", 1, 0.5);
    let rows = measure(&site, 60, &[hourly.to_vec()]);
    assert_close(value(&rows, "degree_hours_below"), 15.0, 0.0);
    assert_close(value(&rows, "hours_below_band"), 10.0, 0.0);
    assert_close(value(&rows, "longest_below_band"), 10.0, 0.0);
    assert_close(value(&rows, "hours_above_band"), 0.0, 0.0);
}

/// Each period and the change allowed in it, in K and in °F.
const DRIFTS: [(i64, f64, f64); 5] =
    [(15, 1.1, 2.0), (30, 1.7, 3.0), (60, 2.2, 4.0), (120, 2.8, 5.0), (240, 3.3, 6.0)];

/// Hours over the drift limits of a room that is steady, rises evenly by `rise_k` within `minutes`, and is steady again.
fn hours_over_limit(units: &str, minutes: i64, rise_k: f64) -> f64 {
    const BEFORE_MIN: i64 = 6 * 60;
    let degc =
        |minute: i64| 20.0 + rise_k * ((minute - BEFORE_MIN).clamp(0, minutes) as f64 / minutes as f64);
    let ramp: Vec<f64> = (0..=2 * BEFORE_MIN + minutes).step_by(5).map(degc).collect();
    let site = site(&format!("step = \"5 min\"\nunits = \"{units}\""), "", 1, 0.5);
    value(&measure(&site, 5, &[ramp]), "hours_over_drift_limit")
}

/// A change of exactly the limit is allowed; all periods must hold at once, and each ramp here is slow enough for the others.
///
/// Source: ANSI/ASHRAE 55-2017, 5.3.5, limits on temperature drifts and ramps, column in °C (from memory).
#[test]
fn a_ramp_up_to_the_limit_in_kelvin_is_allowed() {
    for (minutes, limit_k, _) in DRIFTS {
        assert_close(hours_over_limit("C", minutes, limit_k), 0.0, 0.0);
        assert_close(hours_over_limit("C", minutes, -limit_k), 0.0, 0.0);
        let window_h = minutes as f64 / 60.0;
        let over = hours_over_limit("C", minutes, limit_k + 0.1);
        assert!(over >= window_h, "{} K in {minutes} min: {over} h over", limit_k + 0.1);
    }
}

/// Source: ANSI/ASHRAE 55-2017, 5.3.5, limits on temperature drifts and ramps, column in °F (from memory).
#[test]
fn a_ramp_up_to_the_limit_in_fahrenheit_is_allowed() {
    let kelvin = |degf: f64| degf * 5.0 / 9.0;
    for (minutes, _, limit_degf) in DRIFTS {
        assert_close(hours_over_limit("F", minutes, kelvin(limit_degf)), 0.0, 0.0);
        let over = hours_over_limit("F", minutes, kelvin(limit_degf + 0.1));
        assert!(over >= minutes as f64 / 60.0, "{} °F in {minutes} min: {over} h over", limit_degf + 0.1);
    }
}

/// 2.0 °F in 15 min is 1.11 K and over the °C column's 1.1 K; 1.7 K in 30 min is 3.06 °F and over the °F column's 3.
///
/// Source: ANSI/ASHRAE 55-2017, 5.3.5: its columns are rounded separately (from memory); the cross-check is derived.
#[test]
fn each_unit_system_is_judged_by_its_own_column() {
    let two_degf_k = 2.0 * 5.0 / 9.0;
    assert!(hours_over_limit("C", 15, two_degf_k) > 0.0);
    assert_close(hours_over_limit("F", 15, two_degf_k), 0.0, 0.0);
    assert!(hours_over_limit("F", 30, 1.7) > 0.0);
    assert_close(hours_over_limit("C", 30, 1.7), 0.0, 0.0);
}

/// Five rooms that truly agree, sensors with a standard deviation of 0.2 °C (so good to ±0.4): a spread of 0.465 °C.
///
/// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1, d2(5) (from memory); 0.2 × d2(5) is derived.
#[test]
fn sensor_error_alone_spreads_five_rooms() {
    let site = site("step = \"60 min\"", "", 5, 0.4);
    let rows = measure(&site, 60, &vec![vec![20.0, 20.1, 20.0]; 5]);
    assert_close(value(&rows, "spread_noise_floor"), 0.465, 0.0005);
}
