//! Alder Row, the invented building of the sample data: what is wrong where, and when, is laid down here by hand.
//!
//! Six homes over six weeks of winter. All loggers lie side by side first; after three weeks a crew comes and mends one
//! of the homes. Each home is exported in another dialect, and all but the first have something that should be found.

use chrono::NaiveDate;

use super::building::{ROOMS, Trouble};
use super::downloads::Downloads;
use super::faults::{Fault, FaultKind};
use super::loggers::Logger;
use super::mixed::{Beside, Together};
use super::plan::{HomePlan, Homes, Plan};
use super::random::Random;
use super::writers::{Dialect, Habit};
use crate::clock::Zone;

/// The site file, with its comments.
pub(super) const SITE: &str = include_str!("alder_row.toml");

/// The seed of its weather and of all that is not laid down.
pub const SEED: u64 = 11;
const DAYS: usize = 43;
const INTERVAL_S: i64 = 900;

/// All loggers lie side by side: 26 January 12:00 to 28 January 00:00.
pub(super) const SIDE_BY_SIDE_H: (f64, f64) = (12.0, 48.0);
/// Loggers stand in their rooms: 28 January 16:00.
const PLACED_H: f64 = 64.0;
/// A logger of home 1A is replaced: 12 February 12:00.
const REPLACED_H: f64 = 17.5 * 24.0;
/// The crew's visit: 18 February 12:00.
const VISIT_H: f64 = 23.5 * 24.0;
const END_H: f64 = DAYS as f64 * 24.0;

/// The plan of the sample data.
pub fn plan() -> Plan {
    Plan {
        seed: SEED,
        homes: HOMES.len(),
        days: DAYS,
        interval_s: INTERVAL_S,
        start: NaiveDate::from_ymd_opt(2026, 1, 26).expect("a date"),
        zone: Zone::parse("America/Chicago").expect("the zone is in the IANA database"),
        homes_from: Homes::AlderRow,
    }
}

/// One home as it is laid down.
struct Laid {
    name: &'static str,
    first_logger: usize,
    trouble: Trouble,
    mended: bool,
    dialect: Dialect,
    wide: bool,
    /// Hour offset of a clock that keeps one offset; else it follows daylight saving.
    fixed_h: Option<i32>,
    accuracy_k: f64,
    resolution_k: f64,
    /// Faults by room.
    faults: &'static [(usize, Fault)],
}

const LIVING: usize = 0;
const BEDROOM_1: usize = 1;
const BEDROOM_2: usize = 2;
const KITCHEN: usize = 3;
const BATHROOM: usize = 4;
const HALL: usize = 5;

const fn fault(kind: FaultKind, from_h: f64, to_h: f64, size: f64) -> Fault {
    Fault { kind, from_h, to_h, size }
}

const GOOD: Laid = Laid {
    name: "1A",
    first_logger: 101,
    trouble: Trouble::None,
    mended: false,
    dialect: Dialect::CommaIso,
    wide: false,
    fixed_h: None,
    accuracy_k: 0.3,
    resolution_k: 0.01,
    faults: &[],
};

const HOMES: [Laid; 6] = [
    GOOD,
    Laid {
        name: "1B",
        first_logger: 121,
        trouble: Trouble::ColdRoom,
        mended: true,
        dialect: Dialect::SemicolonDayFirst,
        resolution_k: 0.0625,
        faults: &[(BATHROOM, fault(FaultKind::InBag, END_H - 6.0, END_H, 6.0))],
        ..GOOD
    },
    Laid {
        name: "2A",
        first_logger: 131,
        trouble: Trouble::ClosedDoor,
        dialect: Dialect::TabMonthFirst,
        resolution_k: 0.1,
        faults: &[
            (LIVING, fault(FaultKind::InSun, 0.0, END_H, 9.0)),
            (KITCHEN, fault(FaultKind::SpikeBurst, 620.0, 650.0, 9.0)),
        ],
        ..GOOD
    },
    Laid {
        name: "2B",
        first_logger: 141,
        trouble: Trouble::HeatFailure,
        wide: true,
        faults: &[(KITCHEN, fault(FaultKind::Stuck, 700.0, 820.0, 0.0))],
        ..GOOD
    },
    Laid {
        name: "3A",
        first_logger: 151,
        trouble: Trouble::Overheating,
        dialect: Dialect::EpochHumidity,
        faults: &[
            (BEDROOM_1, fault(FaultKind::ClockHourOff, 0.0, END_H, -1.0)),
            (KITCHEN, fault(FaultKind::StepOffset, 500.0, END_H, 2.5)),
        ],
        ..GOOD
    },
    Laid {
        name: "3B",
        first_logger: 161,
        trouble: Trouble::NoRecovery,
        dialect: Dialect::WideBlanks,
        fixed_h: Some(-6),
        resolution_k: 0.1,
        faults: &[(HALL, fault(FaultKind::BatteryDying, 300.0, END_H, 0.0))],
        ..GOOD
    },
];

/// Lays down one home.
pub(super) fn home(plan: &Plan, home: usize) -> HomePlan {
    let laid = &HOMES[home % HOMES.len()];
    let mut random = Random::of(plan.seed, &[home as u64, 0x10]);
    let mut loggers: Vec<Logger> =
        (0..ROOMS.len()).map(|room| logger(laid, plan, room, room, &mut random)).collect();
    match laid.name {
        "1A" => {
            let mut second = logger(laid, plan, BEDROOM_1, 18, &mut random);
            second.placed.0 = Some(REPLACED_H);
            loggers[BEDROOM_1].placed.1 = Some(REPLACED_H);
            loggers.insert(BEDROOM_1 + 1, second);
        }
        "1B" => {
            loggers[LIVING].downloads =
                Downloads::Overlapping { until_h: VISIT_H, from_h: VISIT_H - 12.0, conflict: true };
            loggers[BEDROOM_2].downloads =
                Downloads::Overlapping { until_h: VISIT_H, from_h: VISIT_H - 12.0, conflict: false };
        }
        "3B" => loggers[BATHROOM].clock_fast_s = 150,
        _ => {}
    }
    let mended_h = laid.mended.then_some(VISIT_H);
    let (trouble, dialect, wide) = (laid.trouble, laid.dialect, laid.wide);
    let (name, beside) = (laid.name.to_owned(), Beside::default());
    let rooms = ROOMS.to_vec();
    HomePlan { name, trouble, mended_h, zone: plan.zone, dialect, wide, loggers, beside, rooms }
}

fn logger(laid: &Laid, plan: &Plan, room: usize, number: usize, random: &mut Random) -> Logger {
    let name = format!("L-{}", laid.first_logger + number);
    let mut logger = Logger::drawn(&name, room, plan.interval_s, random);
    logger.serial = number as u64;
    (logger.accuracy_k, logger.resolution_k) = (laid.accuracy_k, laid.resolution_k);
    logger.offset_k = random.between(-0.12, 0.12);
    logger.lag_min = random.between(2.0, 5.0);
    logger.state_lag(random);
    logger.clock = laid.fixed_h.map_or(Habit::Civil(plan.zone), |h| Habit::Fixed(h * 3600));
    logger.placed.0 = Some(PLACED_H);
    logger.fault = laid.faults.iter().find(|(r, _)| *r == room).map(|(_, fault)| *fault);
    if laid.wide {
        (logger.phase_s, logger.drops) = (0, 0.0);
    }
    logger
}

impl Plan {
    /// Where and when all loggers lie side by side, as the site file says.
    pub(super) fn side_by_side(&self) -> Option<Together> {
        let (from_h, to_h) = SIDE_BY_SIDE_H;
        (self.homes_from == Homes::AlderRow).then_some(Together { from_h, to_h, degc: 20.9, swing_k: 0.5 })
    }
}
