//! Readings in °F that were taken for °C, or the other way round.

use super::episodes::{Episode, Logger, Seen, Witnesses};
use super::peer_check::means;
use crate::clock::{HOUR_MS, Span, UtcTime};
use crate::stats::{Line, median, quantile};
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
/// What is too hot for a room is so near to the others in the other unit, K: a boiler's cupboard may be too hot, too.
const ABOUT_K: f64 = 8.0;

/// For each logger of a home whether its readings are in the other unit: they are far from the other rooms as read, and
/// near them in the other unit; or no room could be so for most of a record, and a home could in the other unit.
///
/// # Source
/// Own definition.
pub(super) fn wrong(witnesses: &Witnesses<'_>, loggers: &[Logger<'_>]) -> Vec<Option<Episode>> {
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
                let medians = warm && written && (own - others).abs() > FAR_K;
                let in_doubt = !warm || (!written && others > WARM_DEGC);
                (medians && (as_other - others).abs() < NEAR_K)
                    || (in_doubt && follows_in_other_unit(witnesses, logger, read))
            }
            None => false,
        } || (own > NO_ROOM_DEGC
            && home.contains(&as_other)
            && others.is_none_or(|o| (as_other - o).abs() < ABOUT_K));
        let times = logger.flagged.readings().times_ms();
        let span = Span { from: UtcTime::from_ms(*times.first()?), to: UtcTime::from_ms(*times.last()? + 1) };
        let seen = Seen::WrongUnit { read, median_degc: own, other_degc: as_other, others_degc: others };
        wrong.then_some(Episode { span, seen })
    };
    loggers.iter().zip(&medians).enumerate().map(one).collect()
}

/// How far the other rooms must move, K, between the lowest and the highest twentieth of the hours, and how near to them the
/// logger must be throughout in the other unit: what was read as °C, and what was read as °F.
const MOVE_K: [f64; 2] = [2.0, 1.0];
const NEAR_THROUGHOUT_K: [f64; 2] = [NEAR_K, 2.0];
const THROUGHOUT: f64 = 0.9;
/// By how much it must move with them: 1.8 times as far, or as little, where the rooms do so alike.
const TIMES_AS_FAR: [std::ops::RangeInclusive<f64>; 2] = [1.2..=2.4, 0.3..=0.9];

/// Whether a logger goes with the other rooms hour by hour when its readings are taken for the other unit, where the rooms
/// move far enough to tell. In a cold home a boiler may be as warm as °F would make it, but does not cool with the rooms;
/// what was converted from °F twice has no trace of it in its decimals, but freezes in step with a warm home.
fn follows_in_other_unit(witnesses: &Witnesses<'_>, logger: &Logger<'_>, read: TemperatureUnit) -> bool {
    let Some(others) = witnesses.side.others(logger.room) else { return false };
    let per = (HOUR_MS / witnesses.side.step_ms()).max(1) as usize;
    let own = means(witnesses.side.rooms()[logger.room], per);
    let hours: Vec<(f64, f64)> =
        means(others, per).into_iter().zip(own).filter(|(o, x)| !x.is_nan() && !o.is_nan()).collect();
    let others = |share| quantile(hours.iter().map(|(o, _)| *o).collect(), share);
    let far = |of: &dyn Fn(f64) -> f64| hours.iter().map(|(o, x)| (of(*x) - o).abs()).collect();
    let (which, other): (usize, &dyn Fn(f64) -> f64) = match read {
        TemperatureUnit::Celsius => (0, &|x| Celsius::from_degf(x).degc()),
        TemperatureUnit::Fahrenheit => (1, &|x| Celsius::new(x).degf()),
    };
    let moved = others(0.95).zip(others(0.05)).is_some_and(|(high, low)| high - low >= MOVE_K[which]);
    let near = quantile(far(other), THROUGHOUT).is_some_and(|k| k < NEAR_THROUGHOUT_K[which]);
    let as_read = median(far(&|x| x)).is_some_and(|k| k > FAR_K);
    moved
        && near
        && as_read
        && Line::fit(&hours).is_some_and(|line| TIMES_AS_FAR[which].contains(&line.slope))
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
    use crate::quality::peer_check::{PeerCheck, PeerRooms};
    use crate::site::QualityLimits;

    fn wrong_of(rooms: &[fn(f64) -> f64]) -> Vec<bool> {
        wrong_while(rooms, |i| 21.0 + (i % 9) as f64 * 0.1)
    }

    /// Of rooms that make something of one course each.
    fn wrong_while(rooms: &[fn(f64) -> f64], course: fn(usize) -> f64) -> Vec<bool> {
        episodes_while(rooms, course).into_iter().map(|w| w.is_some()).collect()
    }

    fn episodes_while(rooms: &[fn(f64) -> f64], course: fn(usize) -> f64) -> Vec<Option<Episode>> {
        let degc: Vec<Vec<f64>> = rooms.iter().map(|of| (0..600).map(|i| of(course(i))).collect()).collect();
        let flagged: Vec<Flagged> = degc
            .iter()
            .map(|room| {
                let series: Vec<(i64, Option<f64>)> =
                    (0..).zip(room).map(|(i, x)| (i * 300_000, Some(*x))).collect();
                Flagged::new(Readings::from_series(&series), &QualityLimits::default())
            })
            .collect();
        let loggers: Vec<Logger<'_>> = flagged
            .iter()
            .enumerate()
            .map(|(room, flagged)| Logger { room, flagged, placed: Span::ALWAYS })
            .collect();
        let degc: Vec<&[f64]> = degc.iter().map(Vec::as_slice).collect();
        let local_ms: Vec<i64> = (0..600).map(|i| i * 300_000).collect();
        let side =
            PeerCheck::new(PeerRooms { degc: &degc, local_ms: &local_ms, step_ms: 300_000, outdoor: None });
        let witnesses = Witnesses { side: &side, outdoor: None, first: UtcTime::from_ms(0) };
        wrong(&witnesses, &loggers)
    }

    #[test]
    fn in_a_home_that_freezes_degrees_fahrenheit_go_with_the_other_rooms() {
        let warm = |i: usize| 20.0 + 1.5 * (i as f64 / 40.0).sin();
        let twice = |x: f64| ((x - 32.0) / 1.8 * 100.0).round() / 100.0;
        let store = |x: f64| -6.5 - 0.05 * x + 1.0;
        assert_eq!(wrong_while(&[|x| x, twice, |x| x + 0.5], warm), [false, true, false]);
        assert_eq!(wrong_while(&[|x| x, store, |x| x + 0.5], warm), [false; 3]);
        let freezing = |i: usize| -3.0 + 24.0 * (-(i as f64) / 80.0).exp();
        let boiler = |x: f64| 42.0 + 0.02 * x;
        assert_eq!(wrong_while(&[|x| x, |x| x * 1.8 + 33.0, |x| x + 1.0], freezing), [false, true, false]);
        assert_eq!(wrong_while(&[|x| x, boiler, |x| x + 1.0], freezing), [false; 3]);
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

    #[test]
    fn a_whole_record_is_in_the_wrong_unit_to_its_last_reading() {
        let found = episodes_while(&[|x| x, |x| x * 1.8 + 32.0, |x| x], |i| 21.0 + (i % 9) as f64 * 0.1);
        let span = Span { from: UtcTime::from_ms(0), to: UtcTime::from_ms(599 * 300_000 + 1) };
        assert_eq!(found[1].as_ref().map(|episode| episode.span), Some(span));
    }
}
