//! Faults of the loggers in homes that are lived in: of each kind with a size, from too small to matter to glaring.

use super::super::faults::{Fault, FaultKind};
use super::super::loggers::Logger;
use super::super::mixed::Copied;
use super::super::plan::swap;
use super::super::random::Random;
use super::home::Home;
use crate::units::TemperatureUnit;

/// Kinds that are drawn, those of sizes twice: a share of each size must be met often enough.
const KINDS: [FaultKind; 26] = {
    use FaultKind as F;
    [
        F::ClockHourOff,
        F::ClockHourOff,
        F::ClockSetLater,
        F::ClockSetLater,
        F::HalfDayOff,
        F::WrongZone,
        F::Swapped,
        F::SwappedLater,
        F::MovedToRoom,
        F::CopyOfAnother,
        F::StepOffset,
        F::StepOffset,
        F::StepOffset,
        F::SlowDrift,
        F::SlowDrift,
        F::SlowDrift,
        F::BesideHeater,
        F::BesideHeater,
        F::InSun,
        F::InSun,
        F::Stuck,
        F::SpikeBurst,
        F::InBag,
        F::MovedOutdoors,
        F::FahrenheitAsCelsius,
        F::BatteryDying,
    ]
};

/// Evenly spread over the logarithm.
fn spread(low: f64, high: f64, random: &mut Random) -> f64 {
    libm::exp(random.between(libm::log(low), libm::log(high)))
}

/// Draws when and how strong a fault of a kind is in a record of some hours.
fn drawn(kind: FaultKind, hours: f64, random: &mut Random) -> Fault {
    let sign = random.pick(&[-1.0, 1.0]);
    let later = (random.between(0.12, 0.85) * hours, hours);
    let whole = (0.0, hours);
    let part = |lasts: f64, random: &mut Random| {
        let lasts = lasts.min(hours * 0.8);
        let from = random.between(0.05, 0.95) * (hours - lasts);
        (from, from + lasts)
    };
    let ((from_h, to_h), size) = match kind {
        FaultKind::ClockHourOff => (whole, sign),
        FaultKind::ClockSetLater => (later, sign),
        FaultKind::HalfDayOff => (whole, 12.0 * sign),
        FaultKind::WrongZone => {
            (whole, random.pick(&[-8.0, -7.0, -6.0, -3.0, -2.0, 2.0, 3.0, 5.0, 6.0, 7.0]))
        }
        FaultKind::StepOffset => (later, sign * spread(0.3, 3.0, random)),
        FaultKind::SlowDrift => (whole, sign * spread(0.3, 3.0, random)),
        FaultKind::BesideHeater => (whole, spread(0.7, 14.0, random)),
        FaultKind::InSun => (whole, spread(1.0, 15.0, random)),
        FaultKind::Stuck => {
            let lasts = spread(8.0, 150.0, random);
            (part(lasts, random), 0.0)
        }
        FaultKind::SpikeBurst => {
            let lasts = random.between(6.0, 48.0);
            (part(lasts, random), spread(2.0, 15.0, random))
        }
        FaultKind::InBag => {
            let lasts = spread(0.5, 9.0, random);
            (random.pick(&[(0.0, lasts), (hours - lasts, hours)]), sign * spread(2.0, 10.0, random))
        }
        FaultKind::MovedOutdoors => {
            let lasts = spread(3.0, 96.0, random);
            (part(lasts, random), 0.0)
        }
        FaultKind::SwappedLater | FaultKind::MovedToRoom => (later, 0.0),
        FaultKind::BatteryDying => ((random.between(0.3, 0.7) * hours, hours), 0.0),
        _ => (whole, 0.0),
    };
    Fault { kind, from_h, to_h, size }
}

/// Gives loggers their faults; tells of a file that was copied, of which a home has one at most.
pub(super) fn give(
    loggers: &mut [Logger],
    home: &Home,
    (share, hours): (f64, f64),
    unit: TemperatureUnit,
    random: &mut Random,
) -> Option<Copied> {
    let mut copied: Option<Copied> = None;
    let is_free = |l: &[Logger], copied: Option<Copied>, at: usize| {
        l[at].fault.is_none() && copied.is_none_or(|c| c.of != at && c.to != at)
    };
    for at in 0..loggers.len() {
        let (happens, kind) = (random.happens(share), random.pick(&KINDS));
        if !happens || !is_free(loggers, copied, at) {
            continue;
        }
        let fault = drawn(kind, hours, random);
        let other = (at + 1 + random.below(loggers.len() - 1)) % loggers.len();
        let pair = is_free(loggers, copied, other);
        match kind {
            // Where nothing would be wrong, or nothing would come of it, nothing happens.
            FaultKind::FahrenheitAsCelsius if unit == TemperatureUnit::Fahrenheit => {}
            FaultKind::BesideHeater if home.units[at].is_none() => {}
            FaultKind::InSun if !home.has_sun(at) => {}
            FaultKind::Swapped if pair => swap(loggers, at, other, fault),
            FaultKind::SwappedLater if pair => {
                for (one, its) in [(at, other), (other, at)] {
                    later(&mut loggers[one], fault);
                    loggers[one].later_in = Some(its);
                }
            }
            FaultKind::CopyOfAnother if pair && copied.is_none() => {
                copied = Some(copy(loggers, at, other, fault, random));
            }
            FaultKind::Swapped | FaultKind::SwappedLater | FaultKind::CopyOfAnother => {}
            FaultKind::MovedToRoom => {
                loggers[at].fault = Some(fault);
                loggers[at].later_in = Some(other);
            }
            // A clock is set while it records, or when it is started again after it was read out.
            FaultKind::ClockSetLater if random.happens(0.5) => later(&mut loggers[at], fault),
            _ => {
                loggers[at].fault = Some(fault);
                if kind == FaultKind::ClockSetLater {
                    loggers[at].downloads = super::super::downloads::Downloads::Once;
                }
            }
        }
    }
    copied
}

/// A fault that begins when the logger is read out and started again.
fn later(logger: &mut Logger, fault: Fault) {
    logger.fault = Some(fault);
    logger.downloads = super::super::downloads::Downloads::Once;
    logger.visits_h = vec![fault.from_h];
}

/// The file of a logger under the name of another: as it is, moved in time, or moved in level.
fn copy(loggers: &mut [Logger], to: usize, of: usize, fault: Fault, random: &mut Random) -> Copied {
    let (shift_h, shift_k) = match random.below(4) {
        0 => (random.pick(&[-24.0, -1.0, 1.0, 24.0]), 0.0),
        1 => (0.0, random.pick(&[-1.0, 1.0]) * random.between(0.2, 2.0)),
        _ => (0.0, 0.0),
    };
    let mut copy = loggers[of].clone();
    (copy.name, copy.room) = (loggers[to].name.clone(), to);
    let size = if shift_k.abs() > 0.0 { shift_k } else { shift_h };
    copy.fault = Some(Fault { size, ..fault });
    loggers[to] = copy;
    Copied { of, to, shift_h, shift_k }
}
