//! Homes that are lived in: a second physics, written from what homes do and not from what an audit finds.
//!
//! It shares with the first one the seeded random numbers, the loggers, and all that writes files; nothing of what moves
//! heat. An audit whose limits grew with one physics is held against the other.

mod course;
mod faults;
mod heat_pump;
mod home;
mod people;
mod records;
mod rooms;
mod trouble;
mod vapour;
mod weather;

use chrono::Datelike;

use super::building::{TROUBLES, Trouble};
use super::faults::FaultKind;
use super::loggers::{Logger, Reading};
use super::mixed::Beside;
use super::plan::{HomePlan, Plan};
use super::random::Random;
use super::thermal::RUN_UP_DAYS;
use super::truth::Laid;
use super::writers::{DIALECTS, Dialect, Habit};
use course::{Calendar, Course};
use home::Home;
use records::Around;
pub(super) use weather::Sky;

/// A home that was lived in while loggers recorded.
#[derive(Debug)]
pub(super) struct Made {
    pub(super) plan: HomePlan,
    pub(super) laid: Option<Laid>,
    pub(super) rooms: Vec<Vec<f32>>,
    pub(super) recorded: Vec<Vec<Reading>>,
}

/// Share of homes with something wrong, and of loggers with a fault.
#[derive(Clone, Copy, Debug)]
pub(super) struct Shares {
    pub(super) troubles: f64,
    pub(super) faults: f64,
}

/// Lays down a home, with what it is made of.
fn laid_down(plan: &Plan, number: usize, shares: Shares) -> (HomePlan, Home) {
    let mut random = Random::of(plan.seed, &[number as u64, 0x50]);
    let trouble = match random.happens(shares.troubles) {
        true => TROUBLES[1 + random.below(TROUBLES.len() - 1)],
        false => Trouble::None,
    };
    let hours = plan.days as f64 * 24.0;
    let home = Home::drawn(trouble, hours, &mut random);
    let (name, dialect) = (Plan::home_name(number), random.pick(&DIALECTS));
    let clock = match random.unit() {
        x if x < 0.2 => Habit::Fixed(plan.zone.offset_s(plan.start_utc())),
        x if x < 0.35 => Habit::Fixed(0),
        _ => Habit::Civil(plan.zone),
    };
    let interval_s = plan.interval_s * (1 + random.below(3) as i64);
    let mut loggers: Vec<Logger> = (0..home.rooms.len())
        .map(|r| {
            let mut logger = Logger::drawn(&format!("{name}-{}", r + 1), r, interval_s, &mut random);
            logger.clock = clock;
            plan.draw_habits(&mut logger, &mut random);
            logger
        })
        .collect();
    let copied = faults::give(&mut loggers, &home, (shares.faults, hours), dialect.unit(), &mut random);
    let plan = HomePlan {
        name,
        trouble,
        mended_h: None,
        zone: plan.zone,
        dialect,
        wide: false,
        loggers,
        beside: Beside { copied, ..Beside::default() },
        rooms: home.rooms.clone(),
    };
    (plan, home)
}

/// What is laid down for a home.
pub(super) fn home_plan(plan: &Plan, number: usize, shares: Shares) -> HomePlan {
    laid_down(plan, number, shares).0
}

/// Makes a home.
pub(super) fn make(plan: &Plan, number: usize, shares: Shares, sky: &Sky, summer_from: usize) -> Made {
    let (mut of_home, home) = laid_down(plan, number, shares);
    let first = plan.start.weekday().num_days_from_monday() as usize;
    let calendar =
        Calendar { days: plan.days, first_weekday: (first + 7 - RUN_UP_DAYS % 7) % 7, summer_from };
    // Under another sky people live other days.
    let mut random = Random::of(plan.seed, &[number as u64, 0x51, sky.seed()]);
    let course = Course::solve(&home, sky, calendar, &mut random);
    let around = Around { home: &home, course: &course, sky };
    let mut recorded: Vec<Vec<Reading>> = of_home
        .loggers
        .iter()
        .map(|logger| {
            let path = [number as u64, 0x52, logger.room as u64, logger.serial];
            let mut readings = records::record(logger, around, &mut Random::of(plan.seed, &path));
            if of_home.dialect == Dialect::EpochHumidity {
                add_humidity(logger, &course, &mut readings);
            }
            readings
        })
        .collect();
    if let Some(copied) = &of_home.beside.copied {
        copied.apply(&mut recorded);
    }
    of_home.loggers.iter_mut().for_each(|logger| size_by_rooms(logger, &course));
    Made { plan: of_home, laid: home.wrong.laid.clone(), rooms: course.rooms, recorded }
}

/// Humidity of the air where the logger stands goes beside each temperature.
fn add_humidity(logger: &Logger, course: &Course, readings: &mut [Reading]) {
    for reading in readings.iter_mut().filter(|r| r.degc.is_some()) {
        let room = records::room_of(logger, reading.true_ms as f64 / 3_600_000.0);
        let minute = (reading.true_ms / 60_000) as usize;
        reading.humidity = course.humidity[room].get(minute).map(|x| f64::from(*x));
    }
}

/// The size of a fault that puts a logger into another room: how far the two rooms are apart (root mean square), K.
fn size_by_rooms(logger: &mut Logger, course: &Course) {
    let kinds = [FaultKind::Swapped, FaultKind::SwappedLater, FaultKind::MovedToRoom];
    let own = &course.rooms[logger.room];
    let elsewhere = logger.later_in.unwrap_or(logger.stands_in);
    if let Some(fault) = logger.fault.as_mut().filter(|f| kinds.contains(&f.kind)) {
        let from = (fault.from_h * 60.0) as usize;
        let apart = own.iter().zip(&course.rooms[elsewhere]).skip(from);
        let (n, sum) = apart.fold((0.0, 0.0), |(n, sum), (a, b)| (n + 1.0, sum + f64::from(a - b).powi(2)));
        fault.size = libm::sqrt(sum / f64::max(n, 1.0));
    }
}
