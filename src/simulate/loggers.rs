//! Loggers: what they make of the true temperature.

use super::building::Design;
use super::downloads::Downloads;
use super::faults::{Fault, FaultKind};
use super::mixed::Together;
use super::random::Random;
use super::thermal::{RUN_UP_DAYS, STEP_S};
use super::weather::Weather;
use super::writers::Habit;

/// A logger in a room.
#[derive(Clone, Debug)]
pub(super) struct Logger {
    pub(super) name: String,
    pub(super) room: usize,
    /// Its number in the home: its noise is drawn by it.
    pub(super) serial: u64,
    pub(super) interval_s: i64,
    /// Stated accuracy, 95 % half-width, K.
    pub(super) accuracy_k: f64,
    /// True error that does not change, K.
    pub(super) offset_k: f64,
    /// The steps in which it shows its readings, K.
    pub(super) resolution_k: f64,
    /// True time constant of its case where it stands, minutes.
    pub(super) lag_min: f64,
    /// The time constant of its data sheet, minutes.
    pub(super) stated_lag_min: f64,
    pub(super) noise_k: f64,
    /// Seconds after each whole interval.
    pub(super) phase_s: i64,
    /// Share of rows that are never written.
    pub(super) drops: f64,
    /// How its clock was set.
    pub(super) clock: Habit,
    /// Seconds its clock is ahead at the end; it was right at the start, and the roster says so.
    pub(super) clock_fast_s: i64,
    pub(super) downloads: Downloads,
    pub(super) fault: Option<Fault>,
    /// The room it truly stands in.
    pub(super) stands_in: usize,
    /// The room in which it stands from the date of its fault on, where that is another.
    pub(super) later_in: Option<usize>,
    /// When it was put there and taken away, in hours from the start, as the roster says.
    pub(super) placed: (Option<f64>, Option<f64>),
    /// When somebody holds it, in hours from the start.
    pub(super) hands: Vec<(f64, f64)>,
    /// When it records nothing.
    pub(super) off: Vec<(f64, f64)>,
    /// When it was started again after a download: its rows from then on stand in a file of their own.
    pub(super) visits_h: Vec<f64>,
}

/// A reading as it was stored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    /// True milliseconds from the start of the record.
    pub(super) true_ms: i64,
    /// Milliseconds from the start by the logger's clock, before its habit.
    pub(super) clock_ms: i64,
    /// °C, in steps of its resolution; `None` where a row was written without a value.
    pub(super) degc: Option<f64>,
    /// Relative humidity, %, where the logger has such a sensor.
    pub(super) humidity: Option<f64>,
}

/// What is around a logger.
#[derive(Clone, Copy, Debug)]
pub(super) struct Around<'a> {
    /// True air temperature once a minute.
    pub(super) air: &'a [f32],
    pub(super) weather: &'a Weather,
    pub(super) design: &'a Design,
    /// Where and when all loggers lie side by side.
    pub(super) together: Option<Together>,
}

/// Accuracy and resolution of common loggers, K.
const MAKES: [(f64, f64); 8] =
    [(0.2, 0.01), (0.2, 0.0625), (0.3, 0.01), (0.3, 0.1), (0.3, 0.1), (0.5, 0.1), (0.5, 0.0625), (0.5, 0.5)];

impl Logger {
    pub(super) fn drawn(name: &str, room: usize, interval_s: i64, random: &mut Random) -> Self {
        let (accuracy_k, resolution_k) = random.pick(&MAKES);
        let noise_k = random.between(0.01, 0.04);
        let mut logger = Self {
            name: name.to_owned(),
            room,
            serial: room as u64,
            interval_s,
            accuracy_k,
            offset_k: random.normal() * offset_deviation(accuracy_k, resolution_k, noise_k),
            resolution_k,
            lag_min: random.between(3.0, 12.0),
            stated_lag_min: 0.0,
            noise_k,
            phase_s: random.below(interval_s as usize) as i64,
            drops: 0.0008,
            clock: Habit::Fixed(0),
            clock_fast_s: 0,
            downloads: Downloads::Once,
            fault: None,
            stands_in: room,
            later_in: None,
            placed: (None, None),
            hands: Vec::new(),
            off: Vec::new(),
            visits_h: Vec::new(),
        };
        logger.state_lag(random);
        logger
    }

    /// Makes it one of another accuracy and resolution, in K.
    pub(super) fn make(&mut self, (accuracy_k, resolution_k): (f64, f64), random: &mut Random) {
        (self.accuracy_k, self.resolution_k) = (accuracy_k, resolution_k);
        self.offset_k = random.normal() * offset_deviation(accuracy_k, resolution_k, self.noise_k);
    }

    /// Writes the time constant into its data sheet, in whole minutes: where the logger stands it is another, 95 times in
    /// 100 by less than 30 %.
    pub(super) fn state_lag(&mut self, random: &Random) {
        let differs = libm::exp(random.beside(0x1a6).normal() * LAG_DEVIATION);
        self.stated_lag_min = libm::round(self.lag_min / differs).max(1.0);
    }

    /// The fault, if it is of this kind.
    pub(super) fn fault_of(&self, kind: FaultKind) -> Option<&Fault> {
        self.fault.as_ref().filter(|f| f.kind == kind)
    }

    /// Decimals that show its resolution.
    pub(super) fn decimals(&self) -> u32 {
        if self.resolution_k >= 0.5 { 1 } else { 2 }
    }

    /// The readings of a record.
    pub(super) fn record(&self, around: Around<'_>, random: &mut Random) -> Vec<Reading> {
        let keep = libm::exp(-1.0 / self.lag_min);
        let length_s = (around.air.len() * STEP_S) as i64;
        let last_s = length_s - 1 - (length_s - 1 - self.phase_s).rem_euclid(self.interval_s);
        let (mut case, mut minute) = (f64::from(around.air[0]), 0);
        let mut held: Option<f64> = None;
        let mut readings = Vec::with_capacity((length_s / self.interval_s) as usize + 1);
        for clock_s in (self.phase_s..length_s).step_by(self.interval_s as usize) {
            let true_ms = self.true_ms(clock_s, last_s);
            while minute < around.air.len() && (minute * STEP_S) as i64 * 1000 <= true_ms {
                case = case * keep + self.surroundings(around, minute) * (1.0 - keep);
                minute += 1;
            }
            let hours = true_ms as f64 / 3_600_000.0;
            let mut degc = case + self.offset_k + random.normal() * self.noise_k;
            let mut lost = random.happens(self.drops) || is_in(&self.off, hours);
            if let Some(fault) = self.fault {
                degc += self.added_k(&fault, around, hours, degc, random);
                lost |= fault.loses(hours, random);
                held = fault.holds(hours).then(|| held.unwrap_or(degc));
                degc = held.unwrap_or(degc);
            }
            let shown = (!random.happens(0.0002)).then(|| self.rounded(degc));
            if !lost {
                let clock_ms = (clock_s + self.clock_error_s()) * 1000;
                readings.push(Reading { true_ms, clock_ms, degc: shown, humidity: None });
            }
        }
        readings
    }

    fn added_k(&self, fault: &Fault, around: Around<'_>, hours: f64, degc: f64, random: &mut Random) -> f64 {
        let heating = degc < around.design.setpoints[self.room].0;
        fault.added_k(hours, degc, around.weather, heating, random)
    }

    /// Air of the room; before and after, of the box in which all loggers lie, or of the bag they are carried in.
    fn surroundings(&self, around: Around<'_>, minute: usize) -> f64 {
        let hours = minute as f64 / 60.0;
        let before = self.placed.0.is_some_and(|from| hours < from - SETTLES_H);
        if let Some(degc) = around.together.and_then(|together| together.degc(hours)) {
            return degc;
        }
        if is_in(&self.hands, hours) {
            return HAND_DEGC;
        }
        if before || self.placed.1.is_some_and(|to| hours >= to) {
            return 0.4 * around.weather.degc(hours + (RUN_UP_DAYS * 24) as f64) + 0.6 * 24.0;
        }
        f64::from(around.air[minute])
    }

    /// When a row was truly written whose time by the logger's clock is this: the clock ran evenly ahead.
    pub(super) fn true_ms(&self, clock_s: i64, last_s: i64) -> i64 {
        let share = (clock_s - self.phase_s) as f64 / (last_s - self.phase_s).max(1) as f64;
        clock_s * 1000 - libm::round(self.clock_fast_s as f64 * 1000.0 * share) as i64
    }

    pub(super) fn rounded(&self, degc: f64) -> f64 {
        libm::round(degc / self.resolution_k) * self.resolution_k
    }

    /// Seconds that its clock shows too much all the time, beside its habit.
    fn clock_error_s(&self) -> i64 {
        let wrong = [FaultKind::ClockHourOff, FaultKind::WrongZone, FaultKind::OtherTime];
        self.fault.filter(|f| wrong.contains(&f.kind)).map_or(0, |f| (f.size * 3600.0) as i64)
    }
}

/// Hours that a logger has stood in its room before the roster says so: its case must follow first.
const SETTLES_H: f64 = 1.0;

/// Deviation of the logarithm of true over stated time constants.
const LAG_DEVIATION: f64 = 0.15;

/// Deviation of the constant errors of loggers whose errors, with noise and rounding, lie within the accuracy 95 times in 100.
fn offset_deviation(accuracy_k: f64, resolution_k: f64, noise_k: f64) -> f64 {
    let all = (accuracy_k / 1.96).powi(2);
    libm::sqrt((all - noise_k.powi(2) - resolution_k.powi(2) / 12.0).max(all / 4.0))
}

/// A hand, or a pocket.
const HAND_DEGC: f64 = 31.0;

fn is_in(spans: &[(f64, f64)], hours: f64) -> bool {
    spans.iter().any(|(from, to)| (*from..*to).contains(&hours))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_runs_ahead_evenly_and_is_right_at_the_start() {
        let mut logger = Logger::drawn("L", 0, 300, &mut Random::of(1, &[1]));
        (logger.phase_s, logger.clock_fast_s) = (100, 120);
        let last_s = 86_400;
        assert_eq!(logger.true_ms(100, last_s), 100_000);
        let middle = (100 + last_s) / 2;
        assert_eq!(logger.true_ms(middle, last_s), (middle - 60) * 1000);
    }

    #[test]
    fn a_slow_case_trails_a_rising_room_by_its_time_constant() {
        let mut logger = Logger::drawn("L", 0, 300, &mut Random::of(1, &[2]));
        (logger.offset_k, logger.noise_k, logger.drops, logger.lag_min) = (0.0, 0.0, 0.0, 10.0);
        logger.resolution_k = 0.001;
        let air: Vec<f32> = (0..720).map(|minute| 18.0 + minute as f32 / 60.0 * 0.5).collect();
        let weather = Weather::new(1, 5, 10);
        let design = Design::new(1, 0, super::super::building::Trouble::None, 1);
        let around = Around { air: &air, weather: &weather, design: &design, together: None };
        let readings = logger.record(around, &mut Random::of(1, &[3]));
        let last = readings.iter().rev().find_map(|r| Some((r.true_ms, r.degc?))).unwrap();
        let room = 18.0 + last.0 as f64 / 3_600_000.0 * 0.5;
        let trails = (room - last.1) / 0.5 * 60.0;
        assert!((trails - 10.0).abs() < 1.5, "{trails} min behind");
    }

    #[test]
    fn errors_stay_within_the_stated_accuracy_95_times_in_100() {
        let mut random = Random::of(5, &[5]);
        let within = (0..4000).filter(|_| {
            let logger = Logger::drawn("L", 0, 300, &mut random);
            let error = logger.rounded(20.03 + logger.offset_k + random.normal() * logger.noise_k) - 20.03;
            error.abs() <= logger.accuracy_k
        });
        let share = within.count() as f64 / 4000.0;
        assert!((0.93..0.97).contains(&share), "{share}");
    }
}
