//! Aligned values as their table holds them: in single precision, and what loggers write to the bit.
//!
//! The metrics judge what the table holds, so that nobody who computes them again from it finds other numbers. A value
//! between two readings moves by no more than 0.000 002 K. One that lies just at a limit then does so, where double precision
//! would leave it a last digit above or below: 20 °C halfway between 19.9 and 20.1 °C is not below 20 °C.

use crate::units::Celsius;

/// Loggers write no more than thousandths of a °C or of a percent, and hundredths of a °F.
const PER_DEGC: f64 = 1000.0;
const PER_PERCENT: f64 = 1000.0;
const PER_DEGF: f64 = 100.0;

/// Makes of each temperature in °C what single precision keeps of it; NaN stays NaN.
///
/// Of the numbers that single precision does not tell apart, the one that a logger writes is taken, in °C or else in °F. What
/// was kept once stays as it is.
pub(super) fn keep_temperatures(degc: &mut [f64]) {
    for x in degc {
        let single = *x as f32;
        let near = f64::from(single);
        // What single precision does not tell apart lies no further apart than this; most values are far from any decimal.
        let reach = near.abs().max(1.0) / (1 << 23) as f64;
        let (thousandths, hundredths) = (near * PER_DEGC, Celsius::new(near).degf() * PER_DEGF);
        let is_near = |number: f64, per_k: f64| (number - to_whole(number)).abs() <= reach * per_k;
        let is_written = is_near(thousandths, PER_DEGC) | is_near(hundredths, 2.0 * PER_DEGF);
        *x = if is_written { written(single, thousandths, hundredths) } else { near };
    }
}

/// The temperature that a logger writes and single precision holds as this one, in °C or else in °F; this one where there is
/// none. It is given with its thousandths of a °C and hundredths of a °F.
fn written(single: f32, thousandths: f64, hundredths: f64) -> f64 {
    let in_degc = to_whole(thousandths) / PER_DEGC;
    let in_degf = Celsius::from_degf(to_whole(hundredths) / PER_DEGF).degc();
    if is_held_as(in_degc, single) {
        in_degc
    } else if is_held_as(in_degf, single) {
        in_degf
    } else {
        f64::from(single)
    }
}

/// The same of relative humidities in %.
pub(super) fn keep_percents(percent: &mut [f64]) {
    for x in percent {
        let single = *x as f32;
        let written = to_whole(f64::from(single) * PER_PERCENT) / PER_PERCENT;
        *x = if is_held_as(written, single) { written } else { f64::from(single) };
    }
}

fn is_held_as(x: f64, single: f32) -> bool {
    (x as f32).to_bits() == single.to_bits()
}

/// The nearest whole number, of numbers far below 2⁵¹: above it double precision has no fractions.
fn to_whole(x: f64) -> f64 {
    const FRACTIONLESS: f64 = 1.5 * (1_u64 << 52) as f64;
    (x + FRACTIONLESS) - FRACTIONLESS
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(degc: f64) -> f64 {
        let mut one = [degc];
        keep_temperatures(&mut one);
        one[0]
    }

    #[test]
    fn what_a_logger_writes_is_kept_to_the_bit() {
        for i in -40_000..60_000 {
            let degc = f64::from(i) / 1000.0;
            assert_eq!(kept(degc).to_bits(), degc.to_bits(), "{degc} °C");
            let degc = Celsius::from_degf(f64::from(i) / 100.0).degc();
            assert!((kept(degc) - degc).abs() < 1e-12, "{degc} °C");
            let (sixteenth, percent) = (f64::from(i) / 16.0, &mut [f64::from(i) / 1000.0]);
            assert_eq!(kept(sixteenth), sixteenth);
            keep_percents(percent);
            assert_eq!(percent[0], f64::from(i) / 1000.0);
        }
        let limit = Celsius::from_degf(75.0).degc();
        assert_eq!(kept(limit), limit, "a whole °F is no thousandth of a °C");
    }

    #[test]
    fn a_look_at_all_numbers_gives_what_a_look_at_near_ones_gives() {
        for i in 0..2_000_000_u32 {
            let single = f32::from_bits(16.0_f32.to_bits() + i * 13) * if i % 5 == 0 { -4.0 } else { 1.0 };
            let near = f64::from(single);
            let all = written(single, near * PER_DEGC, Celsius::new(near).degf() * PER_DEGF);
            assert_eq!(kept(near).to_bits(), all.to_bits());
        }
    }

    #[test]
    fn what_lies_between_readings_moves_less_than_any_logger_resolves() {
        for i in 0..100_000 {
            let degc = -20.0 + f64::from(i) / 1234.567;
            let once = kept(degc);
            assert!((once - degc).abs() < 4e-6, "{degc}");
            assert!((once - degc).abs() < 2e-6 || degc.abs() > 32.0, "{degc}");
            assert_eq!(kept(once).to_bits(), once.to_bits());
            assert_eq!(kept(f64::from(once as f32)).to_bits(), once.to_bits(), "read back from the table");
        }
    }

    #[test]
    fn a_value_at_a_limit_lies_at_it_whatever_rounding_made_of_it() {
        for (x0, x1, share, limit) in
            [(19.9, 20.1, 0.5, 20.0), (20.3, 19.7, 0.5, 20.0), (19.6, 21.1, 1.0 / 3.0, 20.1)]
        {
            assert_eq!(kept(x0 + (x1 - x0) * share), limit);
        }
    }

    #[test]
    fn no_value_stays_none_and_what_no_room_has_passes() {
        assert!(kept(f64::NAN).is_nan());
        assert_eq!(kept(-0.0).to_bits(), (-0.0_f64).to_bits());
        assert_eq!(kept(1e30), f64::from(1e30_f32));
    }
}
