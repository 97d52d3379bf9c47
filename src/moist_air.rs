//! Water vapour in air: saturation, dew point, and what becomes of room air at a cold surface.

use crate::units::Celsius;

/// Magnus constants over water: hPa, 1, K.
const MAGNUS: (f64, f64, f64) = (6.112, 17.62, 243.12);

/// Saturation vapour pressure over water.
///
/// # Units
/// hPa.
///
/// # Source
/// Magnus formula for -45 to 60 °C: WMO-No. 8, Guide to Meteorological Instruments and Methods of Observation, annex 4.B,
/// after D. Sonntag (1990); read in secondary pages that quote it.
///
/// # Example
/// ```
/// use evenrooms::{moist_air::saturation_pressure_hpa, units::Celsius};
/// assert!((saturation_pressure_hpa(Celsius::new(0.0)) - 6.112).abs() < 1e-12);
/// ```
pub fn saturation_pressure_hpa(t: Celsius) -> f64 {
    MAGNUS.0 * libm::exp(MAGNUS.1 * t.degc() / (MAGNUS.2 + t.degc()))
}

/// The temperature at which air of this temperature and relative humidity is saturated; `None` for bone-dry air.
///
/// # Source
/// As [`saturation_pressure_hpa`], solved for the temperature.
pub fn dew_point(t: Celsius, humidity_percent: f64) -> Option<Celsius> {
    if humidity_percent <= 0.0 {
        return None;
    }
    let g = libm::log(humidity_percent / 100.0) + MAGNUS.1 * t.degc() / (MAGNUS.2 + t.degc());
    Some(Celsius::new(MAGNUS.2 * g / (MAGNUS.1 - g)))
}

/// The relative humidity that room air has at an inner surface, in %; over 100: water condenses there.
///
/// `factor`: the surface's temperature between outdoors (0) and room (1).
///
/// # Source
/// Surface factor fRsi = (surface - outdoor) / (room - outdoor) as in ISO 13788 (secondary sources); vapour pressure as
/// [`saturation_pressure_hpa`].
pub fn surface_humidity_percent(room: Celsius, humidity_percent: f64, outdoor: Celsius, factor: f64) -> f64 {
    let surface = Celsius::new(outdoor.degc() + factor * (room - outdoor).k());
    humidity_percent * saturation_pressure_hpa(room) / saturation_pressure_hpa(surface)
}
