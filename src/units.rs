//! Temperatures, differences of temperatures and lengths of time, each with its unit.
//!
//! Everything inside is °C, K and hours. Fahrenheit exists only where it is read or shown, so this
//! is the only room with °F arithmetic. `Celsius - Celsius = KelvinDiff`; two temperatures cannot be added.

use std::fmt;
use std::ops::{Add, Sub};

/// A temperature on the Celsius scale.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Celsius(f64);

impl Celsius {
    /// A temperature from its number in °C.
    pub const fn new(degc: f64) -> Self {
        Self(degc)
    }

    /// A temperature from its number in °F.
    ///
    /// # Example
    /// ```
    /// # use evenrooms::units::Celsius;
    /// assert_eq!(Celsius::from_degf(68.0).degc(), 20.0);
    /// assert_eq!((Celsius::from_degf(65.0).degc() * 1000.0).round(), 18333.0); // not 18
    /// ```
    pub const fn from_degf(degf: f64) -> Self {
        Self((degf - 32.0) * 5.0 / 9.0)
    }

    /// The number in °C.
    pub const fn degc(self) -> f64 {
        self.0
    }

    /// The number in °F.
    pub fn degf(self) -> f64 {
        self.0 * 9.0 / 5.0 + 32.0
    }
}

impl Sub for Celsius {
    type Output = KelvinDiff;
    fn sub(self, other: Self) -> KelvinDiff {
        KelvinDiff(self.0 - other.0)
    }
}

impl Add<KelvinDiff> for Celsius {
    type Output = Celsius;
    fn add(self, by: KelvinDiff) -> Celsius {
        Celsius(self.0 + by.0)
    }
}

impl Sub<KelvinDiff> for Celsius {
    type Output = Celsius;
    fn sub(self, by: KelvinDiff) -> Celsius {
        Celsius(self.0 - by.0)
    }
}

/// A difference of two temperatures, in K.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct KelvinDiff(f64);

impl KelvinDiff {
    /// A difference from its number in K.
    pub const fn new(k: f64) -> Self {
        Self(k)
    }

    /// A difference from its number in Fahrenheit degrees (4 °F of difference are 2.22 K).
    pub fn from_degf(degf: f64) -> Self {
        Self(degf * 5.0 / 9.0)
    }

    /// The number in K.
    pub const fn k(self) -> f64 {
        self.0
    }

    /// The number in Fahrenheit degrees.
    pub fn degf(self) -> f64 {
        self.0 * 9.0 / 5.0
    }
}

/// A rate of change of temperature, in K per hour.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct KelvinPerHour(f64);

impl KelvinPerHour {
    /// A rate from its number in K/h.
    pub const fn new(k_per_h: f64) -> Self {
        Self(k_per_h)
    }

    /// The number in K/h.
    pub const fn k_per_h(self) -> f64 {
        self.0
    }
}

/// The unit in which temperatures are written in an export, or shown to a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TemperatureUnit {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

/// A number that one decimal shows as 0 has no sign.
fn without_minus_zero(x: f64) -> f64 {
    if x.abs() < 0.05 { 0.0 } else { x }
}

impl TemperatureUnit {
    /// The unit that a short text names (`°C`, `degF`, `F`, `℃` …), if it names one.
    pub fn parse(text: &str) -> Option<Self> {
        let plain: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && !matches!(c, '°' | 'º' | '˚' | '\u{fffd}' | '.'))
            .flat_map(char::to_lowercase)
            .collect();
        match plain.as_str() {
            "c" | "degc" | "℃" | "celsius" | "degreescelsius" | "degcelsius" => Some(Self::Celsius),
            "f" | "degf" | "℉" | "fahrenheit" | "degreesfahrenheit" | "degfahrenheit" => {
                Some(Self::Fahrenheit)
            }
            _ => None,
        }
    }

    /// The temperature that a bare number in this unit stands for.
    pub fn temperature(self, number: f64) -> Celsius {
        match self {
            Self::Celsius => Celsius::new(number),
            Self::Fahrenheit => Celsius::from_degf(number),
        }
    }

    /// A temperature as a person reads it, to one decimal: `20.0 °C` or `68.0 °F`.
    pub fn show(self, t: Celsius) -> String {
        match self {
            Self::Celsius => format!("{:.1} °C", without_minus_zero(t.degc())),
            Self::Fahrenheit => format!("{:.1} °F", without_minus_zero(t.degf())),
        }
    }

    /// A difference as a person reads it, to one decimal: `2.2 K` or `4.0 °F`.
    pub fn show_difference(self, d: KelvinDiff) -> String {
        match self {
            Self::Celsius => format!("{:.1} K", without_minus_zero(d.k())),
            Self::Fahrenheit => format!("{:.1} °F", without_minus_zero(d.degf())),
        }
    }

    /// How a difference in this unit is marked.
    pub const fn difference_sign(self) -> &'static str {
        match self {
            Self::Celsius => "K",
            Self::Fahrenheit => "°F",
        }
    }

    /// The number that stands for this temperature in this unit.
    pub fn number(self, t: Celsius) -> f64 {
        match self {
            Self::Celsius => t.degc(),
            Self::Fahrenheit => t.degf(),
        }
    }

    /// The number that stands for this difference in this unit.
    pub fn difference_number(self, d: KelvinDiff) -> f64 {
        match self {
            Self::Celsius => d.k(),
            Self::Fahrenheit => d.degf(),
        }
    }
}

impl fmt::Display for TemperatureUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        })
    }
}

/// Why a text is no quantity of the wanted kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum QuantityError {
    /// A number without a unit.
    Bare,
    /// No number, or a unit of another kind.
    Unreadable,
}

/// Splits `"68 °F"` into its number and the text of its unit.
fn number_and_unit(text: &str) -> Result<(f64, &str), QuantityError> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | '−')))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let number: f64 = number.replace('−', "-").parse().map_err(|_| QuantityError::Unreadable)?;
    match unit.trim() {
        "" => Err(QuantityError::Bare),
        unit => Ok((number, unit)),
    }
}

/// A temperature written with its unit, `"68 °F"` or `"20 °C"`.
///
/// # Errors
/// [`QuantityError::Bare`] for a number without a unit, else [`QuantityError::Unreadable`].
pub fn parse_temperature(text: &str) -> Result<Celsius, QuantityError> {
    let (number, unit) = number_and_unit(text)?;
    let unit = TemperatureUnit::parse(unit).ok_or(QuantityError::Unreadable)?;
    Ok(unit.temperature(number))
}

/// A difference of temperatures written with its unit: `"2.2 K"`, or `"4 °F"` (four Fahrenheit degrees).
///
/// # Errors
/// As [`parse_temperature`].
pub fn parse_difference(text: &str) -> Result<KelvinDiff, QuantityError> {
    let (number, unit) = number_and_unit(text)?;
    match TemperatureUnit::parse(unit) {
        Some(TemperatureUnit::Fahrenheit) => Ok(KelvinDiff::from_degf(number)),
        Some(TemperatureUnit::Celsius) => Ok(KelvinDiff::new(number)),
        None if unit.eq_ignore_ascii_case("k") => Ok(KelvinDiff::new(number)),
        None => Err(QuantityError::Unreadable),
    }
}

/// A rate of change written with its unit: `"30 K/h"` or `"54 °F/h"`.
///
/// # Errors
/// As [`parse_temperature`].
pub fn parse_rate(text: &str) -> Result<KelvinPerHour, QuantityError> {
    let Some((difference, per)) = text.rsplit_once('/') else {
        return Err(number_and_unit(text).err().unwrap_or(QuantityError::Unreadable));
    };
    match per.trim() {
        "h" | "hour" => Ok(KelvinPerHour::new(parse_difference(difference)?.k())),
        _ => Err(QuantityError::Unreadable),
    }
}

/// A length written with its unit, `"0.9 m"`, `"90 cm"`, `"3 ft"` or `"36 in"`; the answer is in m.
///
/// # Errors
/// As [`parse_temperature`]; a length that is not above 0 is unreadable.
pub fn parse_length_m(text: &str) -> Result<f64, QuantityError> {
    let (number, unit) = number_and_unit(text)?;
    let unit_m = match unit {
        "m" => 1.0,
        "cm" => 0.01,
        "ft" => 0.3048,
        "in" => 0.0254,
        _ => return Err(QuantityError::Unreadable),
    };
    if number > 0.0 { Ok(number * unit_m) } else { Err(QuantityError::Unreadable) }
}

/// A length of time written with its unit: `"5 min"`, `"6 h"`, `"30 s"`, `"2 d"`; the answer is in seconds.
///
/// # Errors
/// As [`parse_temperature`]; a length that is not a whole number of seconds is unreadable.
pub fn parse_duration_s(text: &str) -> Result<i64, QuantityError> {
    let (number, unit) = number_and_unit(text)?;
    let unit_s = match unit {
        "s" | "sec" | "second" | "seconds" => 1.0,
        "min" | "minute" | "minutes" => 60.0,
        "h" | "hour" | "hours" => 3600.0,
        "d" | "day" | "days" => 86400.0,
        _ => return Err(QuantityError::Unreadable),
    };
    let seconds = number * unit_s;
    if seconds.fract().abs() > 1e-6 || seconds.abs() > 1e12 {
        return Err(QuantityError::Unreadable);
    }
    Ok(seconds.round() as i64)
}

/// A length of time as a person reads it: `5 min`, `1.5 h`, `2 d`.
pub fn show_duration(seconds: f64) -> String {
    let (number, unit) = match seconds.abs() {
        s if s < 60.0 => (seconds, "s"),
        s if s < 3600.0 => (seconds / 60.0, "min"),
        s if s < 2.0 * 86400.0 => (seconds / 3600.0, "h"),
        _ => (seconds / 86400.0, "d"),
    };
    let text = format!("{number:.1}");
    format!("{} {unit}", text.strip_suffix(".0").unwrap_or(&text))
}

/// How good the readings of a logger or a room are, as 95 % half-widths.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Against the true temperature of the air: for limits of law and comfort.
    pub absolute: KelvinDiff,
    /// Against the other loggers of the home: for differences between rooms.
    pub relative: KelvinDiff,
}

impl Accuracy {
    /// What a data sheet states: nothing is known of how alike two loggers are, so that both are the same.
    pub const fn stated(k: KelvinDiff) -> Self {
        Self { absolute: k, relative: k }
    }

    /// The wider of two, each by itself.
    pub fn wider(self, other: Self) -> Self {
        let wider = |a: KelvinDiff, b: KelvinDiff| if a.k() >= b.k() { a } else { b };
        Self {
            absolute: wider(self.absolute, other.absolute),
            relative: wider(self.relative, other.relative),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_carry_their_unit() {
        assert_eq!(parse_temperature("68 °F"), Ok(Celsius::new(20.0)));
        assert_eq!(parse_temperature("-18 °C"), Ok(Celsius::new(-18.0)));
        assert_eq!(parse_temperature("68"), Err(QuantityError::Bare));
        assert_eq!(parse_temperature("2 K"), Err(QuantityError::Unreadable));
        assert_eq!(parse_difference("2.2 K"), Ok(KelvinDiff::new(2.2)));
        assert_eq!(parse_difference("9 °F"), Ok(KelvinDiff::new(5.0)));
        assert_eq!(parse_rate("30 K/h"), Ok(KelvinPerHour::new(30.0)));
        assert_eq!(parse_rate("30"), Err(QuantityError::Bare));
        assert_eq!(parse_duration_s("5 min"), Ok(300));
        assert_eq!(parse_duration_s("1.5 h"), Ok(5400));
        assert_eq!(parse_duration_s("5"), Err(QuantityError::Bare));
        assert_eq!(parse_length_m("3 ft"), Ok(0.9144000000000001));
        assert_eq!(parse_length_m("0 m"), Err(QuantityError::Unreadable));
    }

    #[test]
    fn units_are_known_in_many_spellings() {
        for text in ["°C", "C", "degC", "deg C", "℃", "\u{fffd}C", "Celsius"] {
            assert_eq!(TemperatureUnit::parse(text), Some(TemperatureUnit::Celsius), "{text}");
        }
        for text in ["°F", "f", "deg. F", "℉", "Fahrenheit"] {
            assert_eq!(TemperatureUnit::parse(text), Some(TemperatureUnit::Fahrenheit), "{text}");
        }
        assert_eq!(TemperatureUnit::parse("%"), None);
    }

    #[test]
    fn durations_read_well() {
        assert_eq!(show_duration(300.0), "5 min");
        assert_eq!(show_duration(5400.0), "1.5 h");
        assert_eq!(show_duration(86400.0 * 3.0), "3 d");
    }
}
