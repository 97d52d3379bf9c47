//! Published numbers about water vapour in air.

use evenrooms::moist_air::{dew_point, saturation_pressure_hpa, surface_humidity_percent};
use evenrooms::units::Celsius;

use super::assert_close;

/// Saturation pressure over water in Pa.
///
/// DIFFERS: the table follows other equations than Magnus; the two are 0.3 % apart at 25 °C, so 0.5 % is allowed.
///
/// Source: ASHRAE Handbook Fundamentals (2017), chapter 1, table 3, as quoted in the tests of PsychroLib.
#[test]
fn saturation_pressures_are_near_those_of_the_ashrae_table() {
    for (degc, pa) in [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)] {
        assert_close(saturation_pressure_hpa(Celsius::new(degc)) * 100.0, pa, 0.005 * pa);
    }
}

/// DIFFERS: 21.3094 °C by the ASHRAE equations; Magnus gives 0.0025 K less.
///
/// Source: dew point of air at 25 °C and 80 %, as in the tests of PsychroLib.
#[test]
fn air_at_25_degc_and_80_percent_has_its_dew_point_at_21_3_degc() {
    assert_close(dew_point(Celsius::new(25.0), 80.0).unwrap().degc(), 21.31, 0.005);
}

/// Dew points in °C by temperature and relative humidity.
///
/// Source: Magnus formula with 6.112, 17.62 and 243.12 (WMO-No. 8, annex 4.B), derived by hand from the formula.
#[test]
fn dew_points_follow_the_magnus_formula() {
    for (degc, percent, dew) in [
        (20.0, 50.0, 9.2552),
        (25.0, 80.0, 21.3069),
        (21.0, 40.0, 6.8765),
        (20.0, 60.0, 11.9955),
        (22.0, 30.0, 3.6150),
    ] {
        assert_close(dew_point(Celsius::new(degc), percent).unwrap().degc(), dew, 5e-5);
    }
    for (degc, hpa) in [(0.0, 6.112), (5.0, 8.71743), (20.0, 23.32596), (25.0, 31.60057)] {
        assert_close(saturation_pressure_hpa(Celsius::new(degc)), hpa, 5e-6);
    }
    assert!(dew_point(Celsius::new(20.0), 0.0).is_none());
}

/// At 20 °C and 50 % the air at a surface of 12.6 °C is at the mould criterion of 80 %; -5 °C outdoors.
///
/// Source: DIN 4108-2 (from memory): surface of at least 12.6 °C, surface factor 0.70 in its two digits.
#[test]
fn the_surface_of_12_6_degc_is_where_mould_can_grow() {
    let (room, outdoor) = (Celsius::new(20.0), Celsius::new(-5.0));
    let at = |surface: f64| surface_humidity_percent(room, 50.0, outdoor, (surface + 5.0) / 25.0);
    assert!(at(12.65) < 80.0 && at(12.55) > 80.0);
    assert_close((12.617_f64 + 5.0) / 25.0, 0.70, 0.005);
}

/// Surface humidity at a surface factor of 0.75 and 0 °C outdoors.
///
/// Source: surface factor of dwellings, BRE IP 1/06 (from memory); humidities derived from the Magnus formula.
#[test]
fn at_the_usual_surface_factor_sixty_percent_is_too_damp_in_frost() {
    let at = |percent| surface_humidity_percent(Celsius::new(20.0), percent, Celsius::new(0.0), 0.75);
    assert_close(at(50.0), 68.54, 5e-3);
    assert_close(at(60.0), 82.25, 5e-3);
}
