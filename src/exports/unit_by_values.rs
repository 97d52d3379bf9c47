//! Which unit the values of a series can be in.

use super::series::Series;
use crate::error::Trouble;
use crate::texts::name;
use crate::units::TemperatureUnit;

/// What a series measures: it decides which values are plausible.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Room,
    Outdoor,
}

pub(super) fn median(series: &Series) -> Option<f64> {
    let mut values: Vec<f64> = series.values.iter().copied().filter(|x| !x.is_nan()).collect();
    let middle = values.len() / 2;
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// What to write for the weather file.
pub(super) const WRITE_IT: &str =
    "write unit = \"°C\" or unit = \"°F\" between the braces of `outdoor` in [site] of the site file";

/// A median room temperature lies in 5…30 °C, and in 50…86 °F. Between 30 and 50 it may be a hot room in °C, or one near
/// freezing in °F, and below 5 one that freezes in either.
///
/// Outdoors the two meet: a mild day in °C is a cold one in °F. Only where no place is so warm in °C it is told.
pub(super) fn told_by_values(series: &Series, role: Role) -> Result<TemperatureUnit, Trouble> {
    let Some(median) = median(series) else { return Ok(TemperatureUnit::Celsius) };
    let room = role == Role::Room;
    let fahrenheit = if room { 50.0..100.0 } else { 45.0..100.0 };
    if room && (5.0..30.0).contains(&median) {
        Ok(TemperatureUnit::Celsius)
    } else if fahrenheit.contains(&median) {
        Ok(TemperatureUnit::Fahrenheit)
    } else {
        Err(Trouble::new(
            format!(
                "no unit is stated for column \"{}\", and its values (median {median:.1}) {}",
                name(&series.name),
                if room { "do not tell it" } else { "may be weather in °C or in °F" }
            ),
            if room {
                "state `unit` (°C or °F) in the roster, or in `outdoor` for the weather file"
            } else {
                WRITE_IT
            },
        ))
    }
}
