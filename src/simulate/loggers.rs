//! Loggers: what they make of the true temperature.

use super::building::Design;
use super::faults::{Fault, FaultKind};
use super::random::Random;
use super::thermal::{RUN_UP_DAYS, STEP_S};
use super::weather::Weather;

/// A logger in a room.
#[derive(Clone, Debug)]
pub(super) struct Logger {
    pub(super) name: String,
    pub(super) room: usize,
    /// Stated accuracy, 95 % half-width, K.
    pub(super) accuracy_k: f64,
    /// True error, K.
    pub(super) offset_k: f64,
    /// Time constant of its case, minutes.
    lag_min: f64,
    noise_k: f64,
    /// Seconds after each whole interval.
    phase_s: i64,
    pub(super) fault: Option<Fault>,
    /// The room it truly stands in.
    pub(super) stands_in: usize,
}

/// A reading: true seconds from the start of the record, and °C; `None` where it was recorded without a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    pub(super) at_s: i64,
    pub(super) degc: Option<f64>,
}

impl Logger {
    pub(super) fn new(home: &str, room: usize, serial: usize, interval_s: i64, random: &mut Random) -> Self {
        let accuracy_k = random.pick(&[0.2, 0.3, 0.5]);
        Self {
            name: format!("{home}-{}", serial + 1),
            room,
            accuracy_k,
            // 95 % of errors lie within the stated accuracy.
            offset_k: random.normal() * accuracy_k / 1.96,
            lag_min: random.between(3.0, 12.0),
            noise_k: random.between(0.01, 0.04),
            phase_s: random.below(interval_s as usize) as i64,
            fault: None,
            stands_in: room,
        }
    }

    /// The readings of a record; `air` holds the room's true temperature once a minute.
    pub(super) fn record(
        &self,
        air: &[f32],
        weather: &Weather,
        design: &Design,
        interval_s: i64,
        random: &mut Random,
    ) -> Vec<Reading> {
        let keep = libm::exp(-1.0 / self.lag_min);
        let (mut case, mut minute) = (f64::from(air[0]), 0);
        let mut held: Option<f64> = None;
        let mut readings = Vec::with_capacity(air.len() * STEP_S / interval_s as usize);
        let mut at_s = self.phase_s;
        while (at_s as usize) < air.len() * STEP_S {
            while minute * STEP_S <= at_s as usize {
                case = case * keep + f64::from(air[minute]) * (1.0 - keep);
                minute += 1;
            }
            let hours = at_s as f64 / 3600.0;
            let mut degc = case + self.offset_k + random.normal() * self.noise_k;
            let mut lost = random.happens(0.0008);
            if let Some(fault) = self.fault {
                let outdoor = weather.degc(hours + (RUN_UP_DAYS * 24) as f64);
                let heating = degc < design.setpoints[self.room].0;
                degc += fault.added_k(hours, degc, outdoor, heating, random);
                lost |= fault.loses(hours, random);
                held = fault.holds(hours).then(|| held.unwrap_or(degc));
                degc = held.unwrap_or(degc);
            }
            if !lost {
                readings.push(Reading { at_s, degc: (!random.happens(0.0002)).then_some(degc) });
            }
            at_s += interval_s;
        }
        readings
    }

    /// Seconds that its clock shows too much, beside its habit.
    pub(super) fn clock_error_s(&self) -> i64 {
        match self.fault {
            Some(Fault { kind: FaultKind::ClockHourOff | FaultKind::WrongZone, size, .. }) => {
                (size * 3600.0) as i64
            }
            _ => 0,
        }
    }
}
