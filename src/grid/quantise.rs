//! Aligned values quantised as their table holds them: in single precision, and what loggers write to the bit.
//!
//! The metrics judge what the table holds, so that nobody who computes them again from it finds other numbers. A value
//! between two readings moves by no more than 0.000 002 K. One that lies just at a limit then does so, where double precision
//! would leave it a last digit above or below: 20 °C halfway between 19.9 and 20.1 °C is not below 20 °C.
//!
//! Settled here, and why:
//! - **Aligned values** are no finer than their table, which is in single precision; decimals that loggers write
//!   (thousandths of a °C, hundredths of a °F) are kept exactly. The line between two readings moves by less than 0.000
//!   002 K. A value that lies just at a limit lies at it, and not on the side to which double precision happens to round:
//!   without this the sample had excursions of 0.000 000 000 000 01 K. An aligned table read back therefore gives the
//!   same metrics to the byte; it also holds the accuracies, and `weather.parquet` the weather. One `provenance.json`,
//!   read once, vouches for both.

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
    let (blocks, rest) = degc.as_chunks_mut::<BLOCK>();
    for block in blocks {
        let near = block.map(|x| f64::from(x as f32));
        let mut any_written = false;
        for x in near {
            any_written |= may_be_written(x);
        }
        *block = if any_written { near.map(kept) } else { near };
    }
    rest.iter_mut().for_each(|x| *x = kept(f64::from(*x as f32)));
}

/// Values looked at together: most are far from any decimal, and then nothing more is asked.
const BLOCK: usize = 8;

/// Whether a number of single precision may be one that a logger writes.
fn may_be_written(near: f64) -> bool {
    // What single precision does not tell apart lies no further apart than this.
    let reach = near.abs().max(1.0) / (1 << 23) as f64;
    let is_near = |number: f64, per_k: f64| (number - to_whole(number)).abs() <= reach * per_k;
    let [thousandths, hundredths] = parts(near);
    is_near(thousandths, PER_DEGC) | is_near(hundredths, 2.0 * PER_DEGF)
}

/// Thousandths of a °C, and hundredths of a °F.
fn parts(near: f64) -> [f64; 2] {
    [near * PER_DEGC, Celsius::new(near).degf() * PER_DEGF]
}

/// The temperature that a logger writes and single precision holds as this number of it, in °C or else in °F; the number
/// itself where there is none.
fn kept(near: f64) -> f64 {
    let [thousandths, hundredths] = parts(near);
    let in_degc = to_whole(thousandths) / PER_DEGC;
    let in_degf = Celsius::from_degf(to_whole(hundredths) / PER_DEGF).degc();
    let single = near as f32;
    if is_held_as(in_degc, single) {
        in_degc
    } else if is_held_as(in_degf, single) {
        in_degf
    } else {
        near
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

    fn keep(degc: f64) -> f64 {
        let mut one = [degc];
        keep_temperatures(&mut one);
        one[0]
    }

    #[test]
    fn what_a_logger_writes_is_kept_to_the_bit() {
        for i in -40_000..60_000 {
            let degc = f64::from(i) / 1000.0;
            assert_eq!(keep(degc).to_bits(), degc.to_bits(), "{degc} °C");
            let degc = Celsius::from_degf(f64::from(i) / 100.0).degc();
            assert!((keep(degc) - degc).abs() < 1e-12, "{degc} °C");
            let (sixteenth, percent) = (f64::from(i) / 16.0, &mut [f64::from(i) / 1000.0]);
            assert_eq!(keep(sixteenth).to_bits(), sixteenth.to_bits());
            keep_percents(percent);
            assert_eq!(percent[0].to_bits(), (f64::from(i) / 1000.0).to_bits());
        }
        let limit = Celsius::from_degf(75.0).degc();
        assert_eq!(keep(limit).to_bits(), limit.to_bits(), "a whole °F is no thousandth of a °C");
    }

    #[test]
    fn a_look_at_blocks_gives_what_a_look_at_each_number_gives() {
        let single = |i: u32| {
            f32::from_bits(16.0_f32.to_bits() + i * 13) * if i.is_multiple_of(5) { -4.0 } else { 1.0 }
        };
        let all: Vec<f64> = (0..1_000_003).map(|i| f64::from(single(i))).collect();
        let mut together = all.clone();
        keep_temperatures(&mut together);
        assert!(all.iter().zip(&together).all(|(x, y)| kept(*x).to_bits() == y.to_bits()));
    }

    #[test]
    fn what_lies_between_readings_moves_less_than_any_logger_resolves() {
        for i in 0..100_000 {
            let degc = -20.0 + f64::from(i) / 1234.567;
            let once = keep(degc);
            assert!((once - degc).abs() < 4e-6, "{degc}");
            assert!((once - degc).abs() < 2e-6 || degc.abs() > 32.0, "{degc}");
            assert_eq!(keep(once).to_bits(), once.to_bits());
            assert_eq!(keep(f64::from(once as f32)).to_bits(), once.to_bits(), "read back from the table");
        }
    }

    #[test]
    fn a_value_at_a_limit_lies_at_it_whatever_rounding_made_of_it() {
        for (x0, x1, share, limit) in
            [(19.9, 20.1, 0.5, 20.0), (20.3, 19.7, 0.5, 20.0), (19.6, 21.1, 1.0 / 3.0, 20.1)]
        {
            assert_eq!(keep(x0 + (x1 - x0) * share).to_bits(), f64::to_bits(limit));
        }
    }

    #[test]
    fn no_value_stays_none_and_what_no_room_has_passes() {
        assert!(keep(f64::NAN).is_nan());
        assert_eq!(keep(-0.0).to_bits(), (-0.0_f64).to_bits());
        assert_eq!(keep(1e30).to_bits(), f64::from(1e30_f32).to_bits());
    }
}
