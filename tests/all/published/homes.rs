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

const RECOVERY: &str = "[recovery]\ntolerance = \"0.5 K\"\n[[setback]]\nfrom = \"22:00\"\nto = \"06:00\"\noccupied_target = \"20.5 °C\"";

/// A room at 16 °C at 06:00 that warms towards 30 °C with this time constant, read every minute of a day.
fn warm_up(tau_h: f64) -> Vec<f64> {
    let degc = |minute: i64| {
        let since_h = (minute - 6 * 60).max(0) as f64 / 60.0;
        30.0 - 14.0 * (-since_h / tau_h).exp()
    };
    (0..24 * 60).map(degc).collect()
}

/// From 16 to 20 °C towards 30 °C: 13.459 h with a time constant of 40 h, so a quarter of that with 10 h. The first is
/// longer than the 6 h for which a recovery is followed: it is cut off there, and has no median.
///
/// Source: first-order warm-up, t = τ ln((T∞ − T₀)/(T∞ − T)), derived; 13.459 h as in the list of published facts.
#[test]
fn a_first_order_room_recovers_when_its_time_constant_says() {
    let site = site("step = \"1 min\"", RECOVERY, 1, 0.5);
    let quick = measure(&site, 1, &[warm_up(10.0)]);
    assert_close(value(&quick, "recovery_median"), 13.459 / 4.0, 0.0005 / 4.0);
    assert_close(value(&quick, "recoveries_cut_off"), 0.0, 0.0);
    let slow = measure(&site, 1, &[warm_up(40.0)]);
    assert_close(value(&slow, "recoveries_cut_off"), 1.0, 0.0);
    assert!(slow.iter().all(|row| row.metric.id != "recovery_median"));
}

/// A room cooling freely from 21 °C towards 12 °C outdoors reaches 16 °C after 3 ln(9/4) = 2.4328 h with a time constant
/// of 3 h and after 1.6219 h with 2 h. Mirrored (42 − T) it warms, and reaches 26 °C then.
///
/// Source: R. K. Nagle, E. B. Saff, A. D. Snider, Fundamentals of Differential Equations, 9th ed., 3.3, exercise 6; numbers
/// derived.
#[test]
fn a_cooling_exercise_in_the_mirror_is_a_recovery() {
    let more = RECOVERY.replace("20.5 °C", "26.5 °C");
    let site = site("step = \"1 min\"", &more, 1, 0.5);
    for (tau_h, want_h) in [(3.0, 2.4328), (2.0, 1.6219)] {
        let cooling = |m: i64| 12.0 + 9.0 * (-((m - 360).max(0) as f64) / 60.0 / tau_h).exp();
        let mirrored: Vec<f64> = (0..24 * 60).map(|m| 42.0 - cooling(m)).collect();
        assert_close(value(&measure(&site, 1, &[mirrored]), "recovery_median"), want_h, 0.00005);
    }
}
