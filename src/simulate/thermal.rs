//! A home through time: weather, sun, people, heat pumps and doors drive its network.

use super::building::{Design, ROOMS};
use super::network::{Network, Step};
use super::weather::{FACADES, Weather};

/// Step of the solution, in seconds.
pub(super) const STEP_S: usize = 60;
/// Days before the record starts, for the walls to forget where they began.
pub(super) const RUN_UP_DAYS: usize = 5;

/// True air temperatures of a home: one value per room and minute, from the start of the record.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueTemperatures {
    /// One series per room, in °C.
    pub rooms: Vec<Vec<f32>>,
}

/// Width of the band over which a heat pump goes from full to none, K.
const CONTROL_BAND_K: f64 = 1.0;
/// Setback hours of all homes: from 22:00 to 06:00 local standard time.
pub(super) const SETBACK_FROM_H: usize = 22;
pub(super) const SETBACK_TO_H: usize = 6;

/// What a home is like, and from which minute of the record on it is like something else.
#[derive(Clone, Copy, Debug)]
pub(super) struct Course<'a> {
    first: &'a Design,
    then: Option<(usize, &'a Design)>,
}

impl<'a> Course<'a> {
    /// A home that stays as it is.
    #[cfg(test)]
    pub(super) fn of(first: &'a Design) -> Self {
        Self { first, then: None }
    }

    /// A home that changes, or not.
    pub(super) fn new(first: &'a Design, then: Option<(usize, &'a Design)>) -> Self {
        Self { first, then }
    }

    /// The design that holds in a minute counted with the run-up, and its number.
    fn at(&self, minute: usize) -> (usize, &'a Design) {
        match self.then {
            Some((from, design)) if minute >= from + RUN_UP_DAYS * 1440 => (1, design),
            _ => (0, self.first),
        }
    }
}

/// Solves a home for some days, with steps of `step_s` seconds; values are kept once a minute.
///
/// `summer_from` is the minute from which civil time, and with it all habits, runs an hour ahead.
pub(super) fn solve(
    course: Course<'_>,
    weather: &Weather,
    days: usize,
    step_s: usize,
    summer_from: usize,
) -> TrueTemperatures {
    let mut house = House::new(course.first, step_s as f64, summer_from);
    let steps = (days + RUN_UP_DAYS) * 86_400 / step_s;
    let start = RUN_UP_DAYS * 86_400 / step_s;
    let keep_every = STEP_S / step_s;
    let mut rooms = vec![Vec::with_capacity(days * 86_400 / STEP_S); ROOMS.len()];
    for i in 0..steps {
        if i >= start && (i - start).is_multiple_of(keep_every) {
            rooms.iter_mut().zip(&house.now).for_each(|(room, t)| room.push(*t as f32));
        }
        house.step(course.at(i * step_s / 60), weather, i * step_s);
    }
    TrueTemperatures { rooms }
}

/// Sets of shut doors that six rooms can have.
const SETS: usize = 64;

struct House {
    /// One solution per design and set of shut doors, made when it is first met.
    steps: Vec<Option<(Network, Step)>>,
    step_s: f64,
    summer_from: usize,
    now: Vec<f64>,
    next: Vec<f64>,
    inflow: Vec<f64>,
    sources: Vec<f64>,
}

impl House {
    fn new(design: &Design, step_s: f64, summer_from: usize) -> Self {
        let nodes = design.network([false; 6]).nodes();
        Self {
            steps: vec![None; 2 * SETS],
            step_s,
            summer_from,
            now: vec![19.0; nodes],
            next: vec![0.0; nodes],
            inflow: vec![0.0; nodes],
            sources: vec![0.0; nodes],
        }
    }

    /// One step: the heat pumps' output is taken as the mean of what they give for the air before and after it.
    fn step(&mut self, (number, design): (usize, &Design), weather: &Weather, second: usize) {
        // Habits go by whole minutes, so that a finer step sees the same day.
        let minute = second / 60;
        let civil = if minute >= self.summer_from { minute + 60 } else { minute };
        let shut = doors(design, civil);
        let code = number * SETS + shut.iter().enumerate().map(|(i, s)| usize::from(*s) << i).sum::<usize>();
        if self.steps[code].is_none() {
            let network = design.network(shut);
            let step = network.step(self.step_s);
            self.steps[code] = Some((network, step));
        }
        let Some((network, step)) = &self.steps[code] else { return };
        let middle_h = (second as f64 + self.step_s / 2.0) / 3600.0;
        let outside = [weather.degc(middle_h), design.neighbours_degc];
        let gains = gains(design, weather.sun(minute as f64 / 60.0), civil);
        let before = heating(design, &self.now, outside[0], minute, civil);
        let mut heat = before;
        for _ in 0..2 {
            for room in 0..ROOMS.len() {
                self.sources[room] = gains[room] + heat[room] * 0.85;
                self.sources[6 + room] = heat[room] * 0.15;
            }
            network.inflow(&outside, &self.sources, &mut self.inflow);
            step.next(&self.now, &self.inflow, &mut self.next);
            let after = heating(design, &self.next, outside[0], minute, civil);
            heat = std::array::from_fn(|r| (before[r] + after[r]) / 2.0);
        }
        std::mem::swap(&mut self.now, &mut self.next);
    }
}

/// Minute of the day.
fn of_day(minute: usize) -> usize {
    minute % 1440
}

pub(super) fn at_night(minute: usize) -> bool {
    !(SETBACK_TO_H * 60..SETBACK_FROM_H * 60).contains(&of_day(minute))
}

/// Whether a minute lies in a part of the day.
pub(super) fn lasts(minute: usize, from: usize, minutes: usize) -> bool {
    (from..from + minutes).contains(&of_day(minute))
}

fn doors(design: &Design, minute: usize) -> [bool; 6] {
    let night = at_night(minute);
    std::array::from_fn(|r| design.always_shut[r] || (night && design.shut_at_night[r]))
}

/// What the heat pumps give, W: less the colder it is outdoors.
fn heating(design: &Design, air: &[f64], outdoor: f64, minute: usize, civil: usize) -> [f64; 6] {
    let since_start_h = minute as f64 / 60.0 - (RUN_UP_DAYS * 24) as f64;
    if design.no_heat_h.is_some_and(|(from, to)| (from..to).contains(&since_start_h)) {
        return [0.0; 6];
    }
    let night = at_night(civil);
    let capacity = (1.0 + 0.017 * (outdoor - 7.0)).clamp(0.45, 1.1);
    std::array::from_fn(|r| {
        let (day, low) = design.setpoints[r];
        let setpoint = if night { low } else { day };
        let demand = (setpoint + CONTROL_BAND_K / 2.0 - air[r]) / CONTROL_BAND_K;
        design.rated_w[r] * capacity * demand.clamp(0.0, 1.0)
    })
}

/// Sun, people, showers and cooking, W.
fn gains(design: &Design, sun: [f64; FACADES], minute: usize) -> [f64; 6] {
    let always = [60.0, 15.0, 15.0, 50.0, 10.0, 10.0];
    let mut gains: [f64; 6] =
        std::array::from_fn(|r| sun[design.facade[r]] * design.window_m2[r] * 0.5 + always[r]);
    if at_night(minute) {
        gains[1] += 75.0 * design.sleepers[0];
        gains[2] += 75.0 * design.sleepers[1];
    }
    if lasts(minute, 17 * 60, 5 * 60) {
        gains[0] += 180.0;
    }
    if lasts(minute, design.shower_minute, 21) {
        gains[4] += 420.0;
    }
    if lasts(minute, design.dinner_minute, 45) {
        gains[3] += 1100.0;
    }
    gains.map(|w| w * design.gains_share)
}

#[cfg(test)]
mod tests {
    use super::super::building::TROUBLES;
    use super::*;

    #[test]
    fn half_the_step_changes_next_to_nothing() {
        for (home, trouble) in TROUBLES.into_iter().enumerate() {
            let weather = Weather::new(5, 5, 10);
            let design = Design::new(5, home, trouble, 4);
            let (coarse, fine) = (
                solve(Course::of(&design), &weather, 4, STEP_S, usize::MAX),
                solve(Course::of(&design), &weather, 4, STEP_S / 2, usize::MAX),
            );
            for (a, b) in coarse.rooms.iter().zip(&fine.rooms) {
                let largest = a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
                assert!(largest < 0.02, "{trouble:?}: {largest} K");
            }
        }
    }

    #[test]
    fn the_energy_balance_of_a_run_closes() {
        let weather = Weather::new(3, 5, 10);
        let design = Design::new(3, 0, TROUBLES[0], 5);
        let mut house = House::new(&design, 60.0, usize::MAX);
        let network = design.network([false; 6]);
        let start = network.stored_j(&house.now);
        let (mut brought, mut moved, mut mean) = (0.0, 0.0, vec![0.0; network.nodes()]);
        for minute in 0..(5 * 1440) {
            let before = house.now.clone();
            house.step((0, &design), &weather, minute * 60);
            let shut = doors(&design, minute);
            let network = design.network(shut);
            let outside = [weather.degc((minute as f64 + 0.5) / 60.0), design.neighbours_degc];
            network.mean_step(60.0).next(&before, &house.inflow, &mut mean);
            let (sources, losses) = (house.sources.iter().sum::<f64>(), network.losses_w(&mean, &outside));
            brought += (sources - losses) * 60.0;
            moved += sources * 60.0;
        }
        let stored = network.stored_j(&house.now) - start;
        assert!(
            (stored - brought).abs() < 1e-6 * moved,
            "{stored} J stored, {brought} J brought, {moved} J moved"
        );
    }

    #[test]
    fn a_good_home_is_warm_and_a_failed_one_is_not() {
        let weather = Weather::new(7, 5, 20);
        let good = solve(
            Course::of(&Design::new(7, 1, super::super::building::Trouble::None, 14)),
            &weather,
            14,
            STEP_S,
            usize::MAX,
        );
        for room in &good.rooms {
            let mean = room.iter().map(|t| f64::from(*t)).sum::<f64>() / room.len() as f64;
            assert!((18.5..23.5).contains(&mean), "{mean}");
        }
        let cold = solve(
            Course::of(&Design::new(7, 1, super::super::building::Trouble::HeatFailure, 14)),
            &weather,
            14,
            STEP_S,
            usize::MAX,
        );
        assert!(cold.rooms[0].iter().copied().fold(99.0, f32::min) < 16.5);
    }
}
