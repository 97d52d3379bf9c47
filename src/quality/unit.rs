//! Readings in °F that were taken for °C, or the other way round.

use super::episodes::{Episode, Logger, Seen};
use crate::clock::{Span, UtcTime};
use crate::stats::median;
use crate::units::{Celsius, TemperatureUnit};

/// No room is warmer for most of a record, °C.
const NO_ROOM_DEGC: f64 = 50.0;
/// What a home is, °C, where no other room says.
const HOME_DEGC: (f64, f64) = (5.0, 35.0);
/// In a home that is colder, °C, a room may be as warm by a boiler as °F would make it.
const WARM_DEGC: f64 = 12.0;
/// How far from the others a room is as read, and how near in the other unit, K.
const FAR_K: f64 = 12.0;
const NEAR_K: f64 = 5.0;

/// For each logger of a home whether its readings are in the other unit: they are far from the other rooms as read, and
/// near them in the other unit; or no room could be so for most of a record, and a home could in the other unit.
///
/// # Source
/// Own definition.
pub(super) fn wrong(loggers: &[Logger<'_>]) -> Vec<Option<Episode>> {
    let medians: Vec<Option<f64>> =
        loggers.iter().map(|l| about_median(l.flagged.readings().degc())).collect();
    let possible = |x: &f64| *x < NO_ROOM_DEGC;
    let one = |(at, (logger, own)): (usize, (&Logger<'_>, &Option<f64>))| {
        let own = (*own)?;
        let others = medians.iter().enumerate().filter(|(o, _)| *o != at && loggers[*o].room != logger.room);
        let others = median(others.filter_map(|(_, m)| *m).filter(possible).collect());
        let (read, as_other) = in_other_unit(own);
        let home = HOME_DEGC.0..=HOME_DEGC.1;
        let wrong = match others {
            Some(others) => {
                let warm = others > WARM_DEGC || read == TemperatureUnit::Fahrenheit;
                let written = read == TemperatureUnit::Celsius
                    || written_in_fahrenheit(logger.flagged.readings().degc());
                warm && written && (own - others).abs() > FAR_K && (as_other - others).abs() < NEAR_K
            }
            None => false,
        } || (own > NO_ROOM_DEGC && home.contains(&as_other));
        let times = logger.flagged.readings().times_ms();
        let span = Span { from: UtcTime::from_ms(*times.first()?), to: UtcTime::from_ms(*times.last()? + 1) };
        let seen = Seen::WrongUnit { read, median_degc: own, other_degc: as_other, others_degc: others };
        wrong.then_some(Episode { span, seen })
    };
    loggers.iter().zip(&medians).enumerate().map(one).collect()
}

/// The unit that a number was read in and the temperature in the other, of the two ways the one that is a room's.
fn in_other_unit(degc: f64) -> (TemperatureUnit, f64) {
    let read = if degc > HOME_DEGC.0 { TemperatureUnit::Celsius } else { TemperatureUnit::Fahrenheit };
    let other = match read {
        TemperatureUnit::Celsius => Celsius::from_degf(degc).degc(),
        TemperatureUnit::Fahrenheit => Celsius::new(degc).degf(),
    };
    (read, other)
}

/// Whether the numbers were written in °F: they have few decimals there, and not in °C.
fn written_in_fahrenheit(degc: &[f64]) -> bool {
    let every = degc.len().div_ceil(SAMPLED).max(1);
    let sampled: Vec<f64> = degc.iter().copied().step_by(every).filter(|x| !x.is_nan()).collect();
    let share = |of: fn(f64) -> f64| {
        let round = |x: &&f64| (of(**x) * 100.0 - (of(**x) * 100.0).round()).abs() < 1e-6;
        sampled.iter().filter(round).count() as f64 / sampled.len().max(1) as f64
    };
    share(|x| Celsius::new(x).degf()) > 0.9 && share(|x| x) < 0.5
}

/// So many readings tell about where the middle one lies.
const SAMPLED: usize = 501;

fn about_median(degc: &[f64]) -> Option<f64> {
    let every = degc.len().div_ceil(SAMPLED).max(1);
    median(degc.iter().copied().step_by(every).filter(|x| !x.is_nan()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exports::Readings;
    use crate::quality::Flagged;
    use crate::site::QualityLimits;

    fn wrong_of(rooms: &[fn(f64) -> f64]) -> Vec<bool> {
        let flagged: Vec<Flagged> = rooms
            .iter()
            .map(|of| {
                let series: Vec<(i64, Option<f64>)> =
                    (0..600).map(|i| (i * 300_000, Some(of(21.0 + (i % 9) as f64 * 0.1)))).collect();
                Flagged::new(Readings::from_series(&series), &QualityLimits::default())
            })
            .collect();
        let loggers: Vec<Logger<'_>> = flagged
            .iter()
            .enumerate()
            .map(|(room, flagged)| Logger { room, flagged, placed: Span::ALWAYS })
            .collect();
        wrong(&loggers).into_iter().map(|w| w.is_some()).collect()
    }

    #[test]
    fn degrees_fahrenheit_read_as_celsius_are_told_and_the_reverse() {
        assert_eq!(wrong_of(&[|x| x, |x| x * 1.8 + 32.0, |x| x]), [false, true, false]);
        assert_eq!(wrong_of(&[|x| x, |x| (x - 32.0) / 1.8, |x| x]), [false, true, false]);
        assert_eq!(wrong_of(&[|x| x * 1.8 + 32.0, |x| x * 1.8 + 33.0]), [true, true], "a whole home");
    }

    #[test]
    fn a_boiler_cupboard_and_a_frozen_room_are_no_other_unit() {
        assert_eq!(wrong_of(&[|x| x, |x| x + 24.0, |x| x]), [false; 3]);
        assert_eq!(wrong_of(&[|x| x - 18.0, |x| x - 25.0, |x| x - 23.0]), [false; 3]);
        assert_eq!(wrong_of(&[|x| x - 25.0]), [false]);
    }
}
