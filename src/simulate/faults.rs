//! What goes wrong with loggers, by plan: what, where and when.

use serde::Serialize;

use super::random::Random;
use super::thermal::RUN_UP_DAYS;
use super::weather::Weather;

/// A fault of a logger or of its record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum FaultKind {
    /// The value stops changing.
    Stuck,
    /// Single readings far off.
    SpikeBurst,
    /// The sensor drifts away slowly.
    SlowDrift,
    /// The sensor jumps by an offset and stays there.
    StepOffset,
    /// The sun shines on the logger around midday, when there is any.
    InSun,
    /// The logger stands beside a heater.
    BesideHeater,
    /// The logger was put outdoors.
    MovedOutdoors,
    /// The logger lay in a bag or a pocket at the start or the end.
    InBag,
    /// Two loggers of the home stand in each other's rooms from the start: their labels were swapped.
    Swapped,
    /// The clock runs an hour off.
    ClockHourOff,
    /// The clock was set to another time zone.
    WrongZone,
    /// °F were written as °C.
    FahrenheitAsCelsius,
    /// The battery dies: more and more readings are lost.
    BatteryDying,
    /// The value has stood still from the first day on.
    StuckFromStart,
    /// The whole record is of another time.
    OtherTime,
    /// The file of another room, under this one's name: as it is, or moved in time or level.
    CopyOfAnother,
    /// The clock is an hour off from a date on, because somebody set it.
    ClockSetLater,
    /// The clock was set with morning and afternoon mixed up.
    HalfDayOff,
    /// Two loggers of the home were put back in each other's rooms at a date, after they were read out.
    SwappedLater,
    /// The logger was taken into another room at a date.
    MovedToRoom,
}

/// All kinds that are drawn for usual homes.
pub const FAULTS: [FaultKind; 13] = [
    FaultKind::Stuck,
    FaultKind::SpikeBurst,
    FaultKind::SlowDrift,
    FaultKind::StepOffset,
    FaultKind::InSun,
    FaultKind::BesideHeater,
    FaultKind::MovedOutdoors,
    FaultKind::InBag,
    FaultKind::Swapped,
    FaultKind::ClockHourOff,
    FaultKind::WrongZone,
    FaultKind::FahrenheitAsCelsius,
    FaultKind::BatteryDying,
];

/// Kinds that are drawn for mixed homes.
pub(super) const MIXED_FAULTS: [FaultKind; 15] = {
    let mut kinds = [FaultKind::StuckFromStart; 15];
    kinds[0] = FaultKind::OtherTime;
    let mut at = 0;
    while at < FAULTS.len() {
        kinds[at + 2] = FAULTS[at];
        at += 1;
    }
    kinds
};

/// A fault with its time, in hours from the start of the record.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fault {
    pub(super) kind: FaultKind,
    pub(super) from_h: f64,
    pub(super) to_h: f64,
    /// How strong: K, or a number of hours for clocks.
    pub(super) size: f64,
}

impl Fault {
    /// Draws when and how strong a fault of a kind is in a record of some days.
    pub(super) fn new(kind: FaultKind, days: usize, random: &mut Random) -> Self {
        let length = days as f64 * 24.0;
        let lasting = (0.0, length);
        let ((from_h, to_h), size) = match kind {
            FaultKind::Stuck => (part(length, random.between(30.0, 120.0), random), 0.0),
            FaultKind::SpikeBurst => {
                (part(length, random.between(6.0, 48.0), random), random.between(5.0, 14.0))
            }
            FaultKind::SlowDrift => (lasting, random.between(1.5, 3.5)),
            FaultKind::StepOffset => (
                (random.between(0.2, 0.6) * length, length),
                random.pick(&[-1.0, 1.0]) * random.between(2.0, 4.0),
            ),
            FaultKind::InSun => (lasting, random.between(6.0, 14.0)),
            FaultKind::BesideHeater => (lasting, random.between(2.5, 5.0)),
            FaultKind::MovedOutdoors => (part(length, random.between(24.0, 96.0), random), 0.0),
            FaultKind::InBag => {
                let hours = random.between(3.0, 9.0);
                let when = random.pick(&[(0.0, hours), (length - hours, length)]);
                (when, random.pick(&[-1.0, 1.0]) * random.between(5.0, 8.0))
            }
            FaultKind::ClockHourOff => (lasting, random.pick(&[-1.0, 1.0])),
            FaultKind::WrongZone => (lasting, random.pick(&[-2.0, 1.0, 6.0])),
            FaultKind::BatteryDying => ((random.between(0.4, 0.7) * length, length), 0.0),
            FaultKind::OtherTime => (lasting, -24.0 * libm::round(random.between(150.0, 500.0))),
            FaultKind::Swapped
            | FaultKind::FahrenheitAsCelsius
            | FaultKind::StuckFromStart
            | FaultKind::CopyOfAnother => (lasting, 0.0),
            // Not drawn here, but in homes that are lived in.
            FaultKind::ClockSetLater
            | FaultKind::HalfDayOff
            | FaultKind::SwappedLater
            | FaultKind::MovedToRoom => (lasting, 0.0),
        };
        Self { kind, from_h, to_h, size }
    }

    /// As [`Fault::new`], from hardly to be seen to glaring.
    pub(super) fn of_any_size(kind: FaultKind, days: usize, random: &mut Random) -> Self {
        let length = days as f64 * 24.0;
        let usual = Self::new(kind, days, random);
        let sign = random.pick(&[-1.0, 1.0]);
        let lasting = (usual.from_h, usual.to_h);
        let spread = |low: f64, high: f64, random: &mut Random| {
            libm::exp(random.between(libm::log(low), libm::log(high)))
        };
        let ((from_h, to_h), size) = match kind {
            FaultKind::Stuck => (part(length, spread(8.0, 300.0, random), random), 0.0),
            FaultKind::StuckFromStart => {
                ((0.0, if random.happens(0.5) { length } else { length * 0.5 }), 0.0)
            }
            FaultKind::SpikeBurst => {
                (part(length, spread(4.0, 96.0, random), random), spread(2.0, 25.0, random))
            }
            FaultKind::SlowDrift => (lasting, sign * spread(0.6, 6.0, random)),
            FaultKind::StepOffset => (lasting, sign * spread(0.6, 8.0, random)),
            FaultKind::InSun => (lasting, spread(3.0, 25.0, random)),
            FaultKind::BesideHeater => (lasting, spread(1.0, 12.0, random)),
            FaultKind::MovedOutdoors => (part(length, spread(2.0, 300.0, random), random), 0.0),
            FaultKind::InBag => {
                let hours = spread(0.5, 14.0, random);
                let when = random.pick(&[(0.0, hours), (length - hours, length)]);
                (when, sign * spread(2.0, 10.0, random))
            }
            FaultKind::ClockHourOff => (lasting, sign * random.pick(&[1.0, 1.0, 2.0, 3.0])),
            FaultKind::WrongZone => (lasting, random.pick(&[-7.0, -2.0, 1.0, 5.0, 6.0])),
            _ => (lasting, usual.size),
        };
        Self { kind, from_h, to_h, size }
    }

    fn at(&self, hours: f64) -> bool {
        (self.from_h..self.to_h).contains(&hours)
    }

    /// What the fault adds to a reading, K, in a room at `degc`; `heating`: its heat pump runs.
    pub(super) fn added_k(
        &self,
        hours: f64,
        degc: f64,
        weather: &Weather,
        heating: bool,
        random: &mut Random,
    ) -> f64 {
        if !self.at(hours) {
            return 0.0;
        }
        let hour_of_weather = hours + (RUN_UP_DAYS * 24) as f64;
        match self.kind {
            FaultKind::SpikeBurst if random.happens(0.05) => random.pick(&[-1.0, 1.0]) * self.size,
            FaultKind::SlowDrift => self.size * hours / self.to_h,
            FaultKind::StepOffset => self.size,
            FaultKind::InSun => {
                self.size * beam(hours % 24.0) * (weather.sun(hour_of_weather)[2] / FULL_SUN_W_M2).min(1.0)
            }
            FaultKind::BesideHeater if heating => self.size,
            FaultKind::MovedOutdoors => weather.degc(hour_of_weather) - degc,
            FaultKind::InBag => {
                let share = (hours - self.from_h) / (self.to_h - self.from_h);
                // At the start the logger comes to the room's temperature; at the end it leaves it.
                self.size * if self.from_h > 0.0 { (4.0 * share).min(1.0) } else { 1.0 - share }
            }
            _ => 0.0,
        }
    }

    /// Whether a reading is lost.
    pub(super) fn loses(&self, hours: f64, random: &mut Random) -> bool {
        let share = (hours - self.from_h) / (self.to_h - self.from_h);
        self.kind == FaultKind::BatteryDying && self.at(hours) && random.happens((1.2 * share).min(1.0))
    }

    /// Whether the value stands still.
    pub(super) fn holds(&self, hours: f64) -> bool {
        matches!(self.kind, FaultKind::Stuck | FaultKind::StuckFromStart) && self.at(hours)
    }
}

fn part(length: f64, hours: f64, random: &mut Random) -> (f64, f64) {
    let hours = hours.min(length * 0.8);
    let from = random.between(0.1, 0.9) * (length - hours);
    (from, from + hours)
}

/// Sun on a south wall under a clear winter sky.
const FULL_SUN_W_M2: f64 = 600.0;

/// A beam that passes over the logger from 11 to 14 o'clock.
fn beam(of_day: f64) -> f64 {
    (1.0 - ((of_day - 12.5) / 1.5).powi(2)).max(0.0)
}
