//! An invented building with known truth: homes as thermal networks, loggers on top, and faults by plan.
//!
//! It is the instrument that measures the audit, and the maker of demo data. Each home is drawn from the seed and its
//! own number, so that it does not depend on how many homes there are or in which order they are made.

mod alder_row;
mod building;
mod downloads;
mod faults;
mod humidity;
mod lived_in;
mod loggers;
mod mixed;
mod network;
mod plan;
mod random;
mod site_files;
mod thermal;
mod truth;
mod weather;
mod writers;

pub use alder_row::{SEED as ALDER_ROW_SEED, plan as alder_row};
pub use building::Trouble;
pub use faults::{FAULTS, FaultKind};
pub use mixed::HomeKind;
pub use plan::{Homes, Plan};
pub use thermal::TrueTemperatures;
pub use truth::{TrueEvent, TrueFault, TrueHome, TrueLogger, TrueStray, truth_json};
pub use writers::{DIALECTS, Dialect, Habit, Written, write, write_wide};

use chrono::Datelike;

use crate::clock::{HOUR_MS, TimeOfDay, UtcTime};
use building::Design;
use building::ROOMS;
use lived_in::Sky;
use loggers::{Around, Reading};
use plan::HomePlan;
use random::Random;
use thermal::{Course, RUN_UP_DAYS, STEP_S};
use truth::Laid;
use weather::Weather;

/// A simulated site, ready to make its homes.
#[derive(Clone, Debug)]
pub struct Simulation {
    plan: Plan,
    weather: Weather,
    /// The same with what homes that are lived in need of it.
    sky: Option<Sky>,
    start: UtcTime,
    summer_from: usize,
}

/// One home: its files, its rows of the roster, and its truth.
#[derive(Clone, Debug)]
pub struct SimulatedHome {
    /// Exports, by name from the exports folder.
    pub files: Vec<(String, Vec<u8>)>,
    /// Rows of the roster.
    pub roster: String,
    /// What is true of it.
    pub truth: TrueHome,
    /// True air temperatures, once a minute from the start.
    pub temperatures: TrueTemperatures,
    /// What each logger stored, one series per logger: the true instant of each row, and °C where it has a value.
    pub stored: Vec<Vec<(UtcTime, Option<f64>)>>,
}

impl Plan {
    /// The first instant of the record.
    pub(crate) fn start_utc(&self) -> UtcTime {
        self.zone.on(self.start, TimeOfDay::new(0, 0).expect("midnight is a time of day"))
    }
}

impl Simulation {
    /// Draws the weather of a plan.
    pub fn new(plan: Plan) -> Self {
        let start = plan.start_utc();
        let first_day = plan.start.ordinal() + 365 - RUN_UP_DAYS as u32;
        let warmer_k = plan.homes_from.warmer_k();
        let days = plan.days + RUN_UP_DAYS + 1;
        let sky = plan.homes_from.lived_in().map(|_| Sky::new(plan.seed, first_day, days));
        let drawn = || Weather::new(plan.seed, first_day, days).warmer(warmer_k);
        let weather = sky.as_ref().map_or_else(drawn, Sky::weather);
        let offset = plan.zone.offset_s(start);
        let minute = |hours: i64| (hours as usize + RUN_UP_DAYS * 24) * 60;
        let change =
            (0..plan.days as i64 * 24).find(|h| plan.zone.offset_s(start.plus_ms(h * HOUR_MS)) > offset);
        Self { summer_from: change.map_or(usize::MAX, minute), plan, weather, sky, start }
    }

    /// The same homes and loggers under the weather of another seed: what would have been seen had other weeks been watched.
    #[must_use]
    pub fn under_weather_of(&self, seed: u64) -> Self {
        let other = Self::new(Plan { seed, ..self.plan.clone() });
        Self { weather: other.weather, sky: other.sky, ..self.clone() }
    }

    /// The plan.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// First instant of the record.
    pub fn start(&self) -> UtcTime {
        self.start
    }

    /// Makes one home.
    pub fn home(&self, home: usize) -> SimulatedHome {
        let (plan, laid, temperatures, recorded) = match (self.plan.homes_from.lived_in(), &self.sky) {
            (Some(shares), Some(sky)) => {
                let made = lived_in::make(&self.plan, home, shares, sky, self.summer_from);
                (made.plan, made.laid, TrueTemperatures { rooms: made.rooms }, made.recorded)
            }
            _ => self.drawn(home),
        };
        let exported = downloads::export(&plan, self.start, &recorded);
        let truth = TrueHome::new(&plan, laid.as_ref(), &recorded, self.start, self.plan.days);
        let stored =
            |series: &Vec<Reading>| series.iter().map(|r| (self.start.plus_ms(r.true_ms), r.degc)).collect();
        SimulatedHome {
            files: exported.files,
            roster: exported.roster,
            truth,
            stored: recorded.iter().map(stored).collect(),
            temperatures,
        }
    }

    /// A home by the first physics: what was laid down for it, what is wrong, how warm it was, what loggers stored.
    fn drawn(&self, home: usize) -> (HomePlan, Option<Laid>, TrueTemperatures, Vec<Vec<Reading>>) {
        let plan = self.plan.home(home);
        let mut of_kind = Random::of(self.plan.seed, &[home as u64, 0xd6]);
        let design = Design::new(self.plan.seed, home, plan.trouble, self.plan.days).of_kind(
            plan.beside.kind,
            self.plan.days,
            &mut of_kind,
        );
        let mended = plan
            .mended_h
            .map(|h| ((h * 60.0) as usize, Design::new(self.plan.seed, home, Trouble::None, self.plan.days)));
        let course = Course::new(&design, mended.as_ref().map(|(minute, design)| (*minute, design)));
        let temperatures = thermal::solve(course, &self.weather, self.plan.days, STEP_S, self.summer_from);
        let mut recorded: Vec<Vec<Reading>> = plan
            .loggers
            .iter()
            .map(|logger| {
                let around = Around {
                    air: &temperatures.rooms[logger.stands_in],
                    weather: &self.weather,
                    design: &design,
                    together: plan.beside.together.or(self.plan.side_by_side()),
                };
                let mut stream =
                    Random::of(self.plan.seed, &[home as u64, 0x20, logger.room as u64, logger.serial]);
                logger.record(around, &mut stream)
            })
            .collect();
        if let Some(copied) = &plan.beside.copied {
            copied.apply(&mut recorded);
        }
        if plan.dialect == Dialect::EpochHumidity {
            let humidity = humidity::solve(&design, &self.weather, &temperatures, self.summer_from);
            for (logger, readings) in plan.loggers.iter().zip(&mut recorded) {
                add_humidity(readings, &humidity[logger.stands_in]);
            }
        }
        let end_h = plan.mended_h.unwrap_or(self.plan.days as f64 * 24.0);
        (plan, laid(&design, end_h), temperatures, recorded)
    }
}

/// What is wrong with a home, where something is, up to some hours from the start.
fn laid(design: &Design, end_h: f64) -> Option<Laid> {
    let room = match design.trouble {
        Trouble::None => return None,
        Trouble::ColdRoom | Trouble::Overheating => Some(ROOMS[2].0),
        Trouble::ClosedDoor => Some(ROOMS[4].0),
        Trouble::UnevenHome | Trouble::NoRecovery | Trouble::HeatFailure => None,
    };
    let (from_h, to_h) = design.no_heat_h.unwrap_or((0.0, end_h));
    Some(Laid { kind: design.trouble, room, from_h, to_h, size: None })
}

/// Humidity of the room's air, once a minute, goes beside each temperature.
fn add_humidity(readings: &mut [Reading], of_room: &[f32]) {
    for reading in readings.iter_mut().filter(|r| r.degc.is_some()) {
        reading.humidity = of_room.get((reading.true_ms / 60_000) as usize).map(|x| f64::from(*x));
    }
}
