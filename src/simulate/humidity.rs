//! Relative humidity in rooms: vapour from outdoors, people, showers and cooking, carried away by leaks.

use super::building::{Design, ROOMS};
use super::thermal::{RUN_UP_DAYS, STEP_S, TrueTemperatures, at_night, lasts};
use super::weather::Weather;

/// Share of the air of a home that changes with outdoors, per hour.
const CHANGES_PER_H: f64 = 0.45;
/// How quickly what a room's own vapour adds spreads over the home, per hour.
const SPREADS_PER_H: f64 = 1.6;
/// Relative humidity outdoors, as a share: winter air is near saturation.
const OUTDOOR: f64 = 0.82;

/// Relative humidity of every room once a minute, in %.
///
/// A home has one vapour pressure that follows outdoors with its air change and what people give off; a room adds what
/// its own shower, kitchen or sleepers give, which spreads over the home.
pub(super) fn solve(
    design: &Design,
    weather: &Weather,
    temperatures: &TrueTemperatures,
    summer_from: usize,
) -> Vec<Vec<f32>> {
    let minutes = temperatures.rooms.first().map_or(0, Vec::len);
    let mut rooms = vec![Vec::with_capacity(minutes); ROOMS.len()];
    let outdoor_pa =
        |minute: usize| OUTDOOR * saturation_pa(weather.degc((minute + RUN_UP_DAYS * 1440) as f64 / 60.0));
    let mut home_pa = outdoor_pa(0) + 350.0;
    let mut own_pa = [0.0; 6];
    let step_h = STEP_S as f64 / 3600.0;
    for minute in 0..minutes {
        let since_run_up = minute + RUN_UP_DAYS * 1440;
        let civil = if since_run_up >= summer_from { since_run_up + 60 } else { since_run_up };
        let given = given_pa_per_h(design, civil);
        let shared: f64 = given.iter().sum::<f64>() / ROOMS.len() as f64;
        home_pa += step_h * ((outdoor_pa(minute) - home_pa) * CHANGES_PER_H + shared);
        for (r, room) in rooms.iter_mut().enumerate() {
            own_pa[r] += step_h * (given[r] - own_pa[r] * SPREADS_PER_H);
            let degc = f64::from(temperatures.rooms[r][minute]);
            let share = (home_pa + own_pa[r]) / saturation_pa(degc);
            room.push((100.0 * share).min(99.0) as f32);
        }
    }
    rooms
}

/// How much the vapour pressure in each room would rise if none of it left, Pa/h.
fn given_pa_per_h(design: &Design, civil: usize) -> [f64; 6] {
    let mut given = [110.0, 20.0, 20.0, 90.0, 40.0, 0.0];
    if at_night(civil) {
        given[1] += 150.0 * design.sleepers[0];
        given[2] += 150.0 * design.sleepers[1];
    }
    if lasts(civil, design.shower_minute, 21) {
        given[4] += 3200.0;
    }
    if lasts(civil, design.dinner_minute, 45) {
        given[3] += 900.0;
    }
    given
}

/// Saturation vapour pressure over water.
///
/// # Source
/// O. A. Alduchov & R. E. Eskridge, Improved Magnus form approximation of saturation vapor pressure (1996), from memory.
fn saturation_pa(degc: f64) -> f64 {
    610.94 * libm::exp(17.625 * degc / (degc + 243.04))
}

#[cfg(test)]
mod tests {
    use super::super::building::Trouble;
    use super::super::thermal;
    use super::*;

    #[test]
    fn a_winter_home_is_dry_and_its_bathroom_steams() {
        let weather = Weather::new(3, 5, 20);
        let design = Design::new(3, 0, Trouble::None, 10);
        let temperatures = thermal::solve(thermal::Course::of(&design), &weather, 10, STEP_S, usize::MAX);
        let rooms = solve(&design, &weather, &temperatures, usize::MAX);
        let mean = |r: usize| rooms[r].iter().map(|x| f64::from(*x)).sum::<f64>() / rooms[r].len() as f64;
        let most = |r: usize| rooms[r].iter().copied().fold(0.0, f32::max);
        assert!((15.0..60.0).contains(&mean(0)), "{}", mean(0));
        assert!(most(4) > most(0) + 15.0, "{} {}", most(4), most(0));
        assert!(rooms.iter().flatten().all(|x| (1.0..=99.0).contains(x)));
    }
}
