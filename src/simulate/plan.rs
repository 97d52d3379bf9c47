//! What to simulate: the building, and for each home its course and its loggers.

use chrono::NaiveDate;

use super::alder_row;
use super::building::{TROUBLES, Trouble};
use super::downloads::Downloads;
use super::faults::{FAULTS, Fault, FaultKind};
use super::lived_in;
use super::loggers::Logger;
use super::mixed::Beside;
use super::random::Random;
use super::writers::{DIALECTS, Dialect, Habit};
use crate::clock::Zone;
use crate::site::Purpose;
use crate::units::TemperatureUnit;

/// Rooms of a home that is drawn.
const ROOMS: usize = super::building::ROOMS.len();

/// A room as the roster has it: name, use, heated.
pub(super) type NamedRoom = (&'static str, Purpose, bool);

/// What to simulate.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Everything that is drawn comes from here.
    pub seed: u64,
    /// Number of homes.
    pub homes: usize,
    /// Length of the record.
    pub days: usize,
    /// Sampling interval of the loggers, in seconds.
    pub interval_s: i64,
    /// First local day.
    pub start: NaiveDate,
    /// Time zone of the site.
    pub zone: Zone,
    /// Where the homes come from.
    pub homes_from: Homes,
}

/// Where the homes of a building come from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Homes {
    /// Drawn from the seed.
    Drawn {
        /// Share of homes with something wrong.
        troubles: f64,
        /// Share of loggers with a fault.
        faults: f64,
    },
    /// Drawn too, with what real buildings have beside: homes of other kinds, coarse and slow loggers, loggers that
    /// lay in a box, several downloads, copies, and faults of any size.
    Mixed {
        /// Share of usual homes with something wrong.
        troubles: f64,
        /// Share of loggers with a fault.
        faults: f64,
        /// A summer without heating; else a winter.
        summer: bool,
        /// How much warmer the weather is than that of the season, K.
        warmer_k: f64,
    },
    /// Drawn too, by a physics of their own: homes of five to seven rooms that are lived in, with heat pumps that cycle,
    /// and faults of loggers of any size, from the start or from a date on. Loggers read once to three times the plan's
    /// interval.
    LivedIn {
        /// Share of homes with something wrong.
        troubles: f64,
        /// Share of loggers with a fault.
        faults: f64,
    },
    /// The scenario of the sample data: what is wrong where is laid down by hand.
    AlderRow,
}

impl Homes {
    /// How much warmer the weather is than usual, K.
    pub(super) fn warmer_k(self) -> f64 {
        match self {
            Homes::Mixed { warmer_k, .. } => warmer_k,
            _ => 0.0,
        }
    }

    /// The shares of homes that are lived in; `None` for others.
    pub(super) fn lived_in(self) -> Option<lived_in::Shares> {
        match self {
            Homes::LivedIn { troubles, faults } => Some(lived_in::Shares { troubles, faults }),
            _ => None,
        }
    }
}

/// What is laid down for one home before anything is computed.
#[derive(Clone, Debug)]
pub(super) struct HomePlan {
    pub(super) name: String,
    pub(super) trouble: Trouble,
    /// Hours from the start after which nothing is wrong any more.
    pub(super) mended_h: Option<f64>,
    pub(super) zone: Zone,
    pub(super) dialect: Dialect,
    /// One file for the whole home, a column per room.
    pub(super) wide: bool,
    pub(super) loggers: Vec<Logger>,
    pub(super) beside: Beside,
    /// Its rooms, in roster order.
    pub(super) rooms: Vec<NamedRoom>,
}

impl Plan {
    /// What is laid down for a home.
    pub(super) fn home(&self, home: usize) -> HomePlan {
        match self.homes_from {
            Homes::AlderRow => alder_row::home(self, home),
            Homes::Drawn { troubles, faults } => self.drawn(home, troubles, faults),
            Homes::Mixed { troubles, faults, summer, .. } => self.mixed(home, troubles, faults, summer),
            Homes::LivedIn { troubles, faults } => {
                lived_in::home_plan(self, home, lived_in::Shares { troubles, faults })
            }
        }
    }

    /// The name of a home: floor and door.
    pub(super) fn home_name(home: usize) -> String {
        format!("{}{}", home / 4 + 1, ['A', 'B', 'C', 'D'][home % 4])
    }

    fn drawn(&self, home: usize, troubles: f64, faults: f64) -> HomePlan {
        let name = Self::home_name(home);
        let mut random = Random::of(self.seed, &[home as u64, 0x10]);
        let trouble = match random.happens(troubles) {
            true => TROUBLES[1 + random.below(TROUBLES.len() - 1)],
            false => Trouble::None,
        };
        let dialect = random.pick(&DIALECTS);
        let standard_s = self.zone.offset_s(self.start_utc());
        let clock = match random.unit() {
            x if x < 0.2 => Habit::Fixed(standard_s),
            x if x < 0.3 => Habit::Fixed(0),
            _ => Habit::Civil(self.zone),
        };
        let mut loggers: Vec<Logger> = (0..ROOMS)
            .map(|r| Logger::drawn(&format!("{name}-{}", r + 1), r, self.interval_s, &mut random))
            .collect();
        for logger in &mut loggers {
            logger.clock = clock;
            self.draw_habits(logger, &mut random);
        }
        self.draw_faults(&mut loggers, faults, dialect.unit(), &mut random);
        let beside = Beside::default();
        let rooms = super::building::ROOMS.to_vec();
        HomePlan {
            name,
            trouble,
            mended_h: None,
            zone: self.zone,
            dialect,
            wide: false,
            loggers,
            beside,
            rooms,
        }
    }

    /// How a logger's clock runs, and how its memory is read out.
    pub(super) fn draw_habits(&self, logger: &mut Logger, random: &mut Random) {
        let hours = self.days as f64 * 24.0;
        match random.unit() {
            // A clock that is known to be ahead is told from one read-out only: two would say two things of one row.
            x if x < 0.15 => logger.clock_fast_s = random.between(-240.0, 240.0) as i64,
            x if x < 0.30 => {
                let until_h = hours * random.between(0.4, 0.7);
                let from_h = (until_h - random.between(2.0, 72.0)).max(0.0);
                logger.downloads = Downloads::Overlapping { until_h, from_h, conflict: random.happens(0.1) };
            }
            _ => {}
        }
    }

    fn draw_faults(&self, loggers: &mut [Logger], share: f64, unit: TemperatureUnit, random: &mut Random) {
        for at in 0..loggers.len() {
            if loggers[at].fault.is_none() && random.happens(share) {
                let kind = loop {
                    let kind = FAULTS[random.below(FAULTS.len())];
                    // Where °F are written as °F, nothing is wrong.
                    if kind != FaultKind::FahrenheitAsCelsius || unit == TemperatureUnit::Celsius {
                        break kind;
                    }
                };
                let fault = Fault::new(kind, self.days, random);
                loggers[at].fault = Some(fault);
                if kind == FaultKind::Swapped {
                    let other = (at + 1) % loggers.len();
                    swap(loggers, at, other, fault);
                }
            }
        }
    }
}

/// Two loggers stand in each other's rooms.
pub(super) fn swap(loggers: &mut [Logger], one: usize, other: usize, fault: Fault) {
    (loggers[one].stands_in, loggers[other].stands_in) = (loggers[other].room, loggers[one].room);
    loggers[one].fault = Some(fault);
    loggers[other].fault = Some(fault);
}
