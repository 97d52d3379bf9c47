//! What loggers make of a home that is lived in. What warms a logger, the sun or a heater beside it, warms its case.

use super::super::faults::{Fault, FaultKind};
use super::super::loggers::{Logger, Reading};
use super::super::random::Random;
use super::super::thermal::RUN_UP_DAYS;
use super::course::Course;
use super::home::Home;
use super::weather::Sky;

/// What is around the loggers of a home.
#[derive(Clone, Copy, Debug)]
pub(super) struct Around<'a> {
    pub(super) home: &'a Home,
    pub(super) course: &'a Course,
    pub(super) sky: &'a Sky,
}

/// Sun straight on a facade under a clear winter sky, W/m².
const FULL_SUN_W_M2: f64 = 550.0;

/// The room in which a logger stands after some hours.
pub(super) fn room_of(logger: &Logger, hours: f64) -> usize {
    let moved = logger.fault.filter(|fault| hours >= fault.from_h);
    moved.and(logger.later_in).unwrap_or(logger.stands_in)
}

/// The readings of a record.
pub(super) fn record(logger: &Logger, around: Around<'_>, random: &mut Random) -> Vec<Reading> {
    let keep = libm::exp(-1.0 / logger.lag_min);
    let minutes = around.course.rooms[0].len();
    let length_s = minutes as i64 * 60;
    let last_s = length_s - 1 - (length_s - 1 - logger.phase_s).rem_euclid(logger.interval_s);
    let patch = Patch::drawn(around.home.facade[logger.stands_in], &mut random.beside(0x5a));
    let (mut case, mut minute) = (f64::from(around.course.rooms[logger.stands_in][0]), 0);
    let mut held: Option<f64> = None;
    let mut readings = Vec::with_capacity((length_s / logger.interval_s) as usize + 1);
    for clock_s in (logger.phase_s..length_s).step_by(logger.interval_s as usize) {
        let true_ms = logger.true_ms(clock_s, last_s);
        while minute < minutes && minute as i64 * 60_000 <= true_ms {
            case = case * keep + surroundings(logger, around, minute, &patch) * (1.0 - keep);
            minute += 1;
        }
        let hours = true_ms as f64 / 3_600_000.0;
        let mut degc = case + logger.offset_k + random.normal() * logger.noise_k;
        let mut lost = random.happens(logger.drops);
        let mut clock_ms = clock_s * 1000;
        if let Some(fault) = &logger.fault {
            degc += sensor_k(fault, hours, random);
            lost |= fault.loses(hours, random);
            held = fault.holds(hours).then(|| held.unwrap_or(degc));
            degc = held.unwrap_or(degc);
            clock_ms += clock_error_ms(fault, hours);
        }
        let shown = (!random.happens(0.0002)).then(|| logger.rounded(degc));
        if !lost {
            readings.push(Reading { true_ms, clock_ms, degc: shown, humidity: None });
        }
    }
    readings
}

/// What a logger's case comes to in a minute, if it stays, °C.
fn surroundings(logger: &Logger, around: Around<'_>, minute: usize, patch: &Patch) -> f64 {
    let hours = minute as f64 / 60.0;
    let room = room_of(logger, hours);
    let air = f64::from(around.course.rooms[room][minute]);
    let Some(fault) = logger.fault.filter(|f| (f.from_h..f.to_h).contains(&hours)) else { return air };
    let sky_h = hours + (RUN_UP_DAYS * 24) as f64;
    match fault.kind {
        FaultKind::MovedOutdoors => around.sky.degc(sky_h),
        FaultKind::BesideHeater => air + fault.size * f64::from(around.course.heat[room][minute]),
        FaultKind::InSun => {
            let sun = around.sky.sun(sky_h, around.home.facade[room]).0 / FULL_SUN_W_M2;
            air + fault.size * sun.min(1.0) * patch.share(hours % 24.0)
        }
        FaultKind::InBag => {
            let share = (hours - fault.from_h) / (fault.to_h - fault.from_h);
            // At the start it comes to the room's temperature; at the end it leaves it.
            air + fault.size * if fault.from_h > 0.0 { (4.0 * share).min(1.0) } else { 1.0 - share }
        }
        _ => air,
    }
}

/// What is wrong with the sensor itself, K.
fn sensor_k(fault: &Fault, hours: f64, random: &mut Random) -> f64 {
    if !(fault.from_h..fault.to_h).contains(&hours) {
        return 0.0;
    }
    match fault.kind {
        FaultKind::SpikeBurst if random.happens(0.05) => random.pick(&[-1.0, 1.0]) * fault.size,
        FaultKind::SlowDrift => fault.size * hours / fault.to_h,
        FaultKind::StepOffset => fault.size,
        _ => 0.0,
    }
}

/// What the clock shows too much, beside its habit.
fn clock_error_ms(fault: &Fault, hours: f64) -> i64 {
    let wrong = match fault.kind {
        FaultKind::ClockHourOff | FaultKind::WrongZone | FaultKind::HalfDayOff => true,
        FaultKind::ClockSetLater => hours >= fault.from_h,
        _ => false,
    };
    if wrong { (fault.size * 3_600_000.0) as i64 } else { 0 }
}

/// The hours of a day at which sun through a window falls on a logger.
#[derive(Clone, Copy, Debug)]
struct Patch {
    middle_h: f64,
    half_h: f64,
}

impl Patch {
    fn drawn(facade: usize, random: &mut Random) -> Self {
        let (from, to) = [(12.0, 12.0), (8.5, 10.5), (10.5, 14.0), (13.5, 15.5)][facade];
        Self { middle_h: random.between(from, to), half_h: random.between(0.5, 1.4) }
    }

    fn share(&self, of_day: f64) -> f64 {
        (1.0 - ((of_day - self.middle_h) / self.half_h).powi(2)).max(0.0)
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::super::super::{Homes, Plan, SimulatedHome, Simulation};
    use super::super::{Made, Shares, make};
    use super::*;
    use crate::clock::Zone;
    use crate::stats::mean;

    const DAYS: usize = 14;
    const HOMES: usize = 90;
    const SHARES: Shares = Shares { troubles: 0.3, faults: 0.7 };

    /// A home as it was made, and as the world gets it.
    struct Both {
        made: Made,
        told: SimulatedHome,
        sky: Sky,
    }

    fn homes() -> impl Iterator<Item = Both> {
        let plan = Plan {
            seed: 8,
            homes: HOMES,
            days: DAYS,
            interval_s: 300,
            start: "2026-01-05".parse().unwrap(),
            zone: Zone::parse("America/Chicago").unwrap(),
            homes_from: Homes::LivedIn { troubles: SHARES.troubles, faults: SHARES.faults },
        };
        let simulation = Simulation::new(plan.clone());
        (0..HOMES).map(move |home| {
            let sky = simulation.sky.clone().unwrap();
            let made = make(&plan, home, SHARES, &sky, usize::MAX);
            Both { made, told: simulation.home(home), sky }
        })
    }

    /// Hours and K above the air of a room, of the readings of a time.
    fn above(both: &Both, at: usize, room: usize, (from_h, to_h): (f64, f64)) -> Vec<f64> {
        let rows = both.made.recorded[at].iter().filter(|r| {
            let hours = r.true_ms as f64 / 3_600_000.0;
            hours >= from_h && hours < to_h
        });
        rows.filter_map(|r| Some(r.degc? - f64::from(both.made.rooms[room][(r.true_ms / 60_000) as usize])))
            .collect()
    }

    /// Mean of [`above`] without the logger's own error.
    fn mean_above(both: &Both, at: usize, room: usize, span: (f64, f64)) -> f64 {
        mean(&above(both, at, room, span)).unwrap() - both.made.plan.loggers[at].offset_k
    }

    /// Hours after the start of a fault in which a case has come to it.
    const SETTLES_H: f64 = 2.0;

    fn check(both: &Both, at: usize, fault: &Fault) {
        let logger = &both.made.plan.loggers[at];
        let (from, to) = (fault.from_h, fault.to_h);
        let (before, after) = ((0.0, from), (from + SETTLES_H, to));
        let own = |span| mean_above(both, at, logger.room, span);
        let near = |got: f64, wanted: f64, by: f64| {
            assert!((got - wanted).abs() < by, "{:?} of {}: {got} for {wanted}", fault.kind, logger.name);
        };
        match fault.kind {
            FaultKind::StepOffset => near(own(after) - own(before), fault.size, 0.2),
            FaultKind::SlowDrift => {
                near(own((to - 24.0, to)) - own((0.0, 24.0)), fault.size * 13.0 / 14.0, 0.25)
            }
            FaultKind::SwappedLater | FaultKind::MovedToRoom => {
                near(own(before), 0.0, 0.25);
                near(mean_above(both, at, logger.later_in.unwrap(), after), 0.0, 0.25);
            }
            FaultKind::Swapped => near(mean_above(both, at, logger.stands_in, (0.0, to)), 0.0, 0.25),
            FaultKind::MovedOutdoors if to - from > 6.0 => {
                let degc = |r: &&Reading| {
                    let hours = r.true_ms as f64 / 3_600_000.0;
                    let sky = both.sky.degc(hours + (RUN_UP_DAYS * 24) as f64);
                    (hours > after.0 && hours < to).then(|| r.degc.map(|x| x - sky)).flatten()
                };
                let apart: Vec<f64> = both.made.recorded[at].iter().filter_map(|r| degc(&r)).collect();
                near(mean(&apart).unwrap() - logger.offset_k, 0.0, 0.4);
            }
            FaultKind::Stuck => {
                let rows = above_zero(both, at, (from, to));
                assert!(rows.windows(2).all(|w| (w[0] - w[1]).abs() < 1e-9), "{}", logger.name);
            }
            FaultKind::BesideHeater => {
                let warmed = own((0.0, to));
                assert!(warmed > 0.0 && warmed < 0.8 * fault.size, "{warmed} K for {}", fault.size);
            }
            // An hour or two of clear days.
            FaultKind::InSun => near(own((0.0, to)), 0.04 * fault.size, 0.25 + 0.04 * fault.size),
            FaultKind::ClockHourOff
            | FaultKind::ClockSetLater
            | FaultKind::HalfDayOff
            | FaultKind::WrongZone => {
                for r in &both.made.recorded[at] {
                    let off_h = (r.clock_ms - r.true_ms) as f64 / 3_600_000.0;
                    let off = r.true_ms as f64 / 3_600_000.0 >= from;
                    near(off_h, if off { fault.size } else { 0.0 }, 0.1);
                }
            }
            _ => {}
        }
    }

    fn above_zero(both: &Both, at: usize, (from_h, to_h): (f64, f64)) -> Vec<f64> {
        let hours = |r: &&Reading| (from_h..to_h).contains(&(r.true_ms as f64 / 3_600_000.0));
        both.made.recorded[at].iter().filter(hours).filter_map(|r| r.degc).collect()
    }

    #[test]
    fn records_hold_what_the_truth_tells_of_them() {
        let mut seen: BTreeMap<FaultKind, u32> = BTreeMap::new();
        for both in homes() {
            for (at, truth) in both.told.truth.loggers.iter().enumerate() {
                let logger = &both.made.plan.loggers[at];
                assert_eq!(
                    (&truth.logger, truth.later_in.is_some()),
                    (&logger.name, logger.later_in.is_some())
                );
                let (Some(fault), Some(told)) = (&logger.fault, &truth.fault) else {
                    assert!(logger.fault.is_none() && truth.fault.is_none());
                    let own = mean_above(&both, at, logger.room, (0.0, DAYS as f64 * 24.0));
                    assert!(own.abs() < 0.25, "{}: {own} K from its room", logger.name);
                    continue;
                };
                assert_eq!((told.kind, told.size.to_bits()), (fault.kind, fault.size.to_bits()));
                check(&both, at, fault);
                *seen.entry(fault.kind).or_default() += 1;
            }
        }
        assert!(seen.len() >= 17 && seen.values().all(|n| *n >= 2), "{seen:?}");
    }

    /// What a fault adds to each reading of a minute in the first room of a home, and the share of full heat of its unit.
    fn added(kind: FaultKind, size: f64, facade: usize) -> (Vec<(f64, f64)>, f64) {
        let plan = Plan {
            seed: 8,
            homes: 1,
            days: 12,
            interval_s: 60,
            start: "2026-01-05".parse().unwrap(),
            zone: Zone::parse("America/Chicago").unwrap(),
            homes_from: Homes::LivedIn { troubles: 0.0, faults: 0.0 },
        };
        let sky = Sky::new(8, 5, 12 + RUN_UP_DAYS + 1);
        let (of_home, mut home) = super::super::laid_down(&plan, 0, Shares { troubles: 0.0, faults: 0.0 });
        home.facade[0] = facade;
        let calendar = super::super::Calendar { days: 12, first_weekday: 0, summer_from: usize::MAX };
        let course = Course::solve(&home, &sky, calendar, &mut Random::of(8, &[1]));
        let mut logger = of_home.loggers[0].clone();
        (logger.interval_s, logger.phase_s, logger.drops, logger.clock_fast_s) = (60, 0, 0.0, 0);
        let around = Around { home: &home, course: &course, sky: &sky };
        let plain = record(&logger, around, &mut Random::of(8, &[2]));
        logger.fault = Some(Fault { kind, from_h: 0.0, to_h: 288.0, size });
        let faulty = record(&logger, around, &mut Random::of(8, &[2]));
        let rows = plain.iter().zip(&faulty);
        let more = |(a, b): (&Reading, &Reading)| Some((a.true_ms as f64 / 3_600_000.0, b.degc? - a.degc?));
        let heat: Vec<f64> = course.heat[0].iter().map(|x| f64::from(*x)).collect();
        (rows.filter_map(more).collect(), mean(&heat).unwrap())
    }

    #[test]
    fn a_heater_beside_a_logger_is_seen_as_its_heat_pump_cycles() {
        let (added, heat) = added(FaultKind::BesideHeater, 4.0, 2);
        let got = mean(&added.iter().map(|x| x.1).collect::<Vec<_>>()).unwrap();
        assert!((got - 4.0 * heat).abs() < 0.1, "{got} K for {} K", 4.0 * heat);
        let high = added.iter().map(|x| x.1).fold(0.0, f64::max);
        let low = added.iter().map(|x| x.1).fold(f64::MAX, f64::min);
        assert!(high > 1.5 * got && low < 0.7 * got, "{low} to {high} K around {got} K");
    }

    #[test]
    fn sun_falls_on_a_logger_in_the_hours_of_its_facade_and_by_no_more_than_its_size() {
        for (facade, from, to) in [(1, 7.0, 13.0), (2, 9.0, 16.5), (3, 12.0, 18.0)] {
            let (added, _) = added(FaultKind::InSun, 9.0, facade);
            let most = added.iter().map(|x| x.1).fold(0.0, f64::max);
            assert!(most > 2.0 && most < 9.1, "facade {facade}: {most} K");
            // A case trails, so that half a degree is still there somewhat later.
            let outside = added.iter().filter(|(hours, _)| !(from..to).contains(&(hours % 24.0)));
            assert!(outside.map(|x| x.1).fold(0.0, f64::max) < 0.5, "facade {facade}");
        }
        let (north, _) = added(FaultKind::InSun, 9.0, 0);
        assert!(north.iter().all(|(_, k)| k.abs() < 0.01));
    }
}
