//! Weather for homes that are lived in: air masses that follow each other with fronts between them, spells of clear and
//! of cloudy sky, and a day that is as wide as the sky is clear.

use std::f64::consts::TAU;

use super::super::random::Random;
use super::super::weather::{FACADES, Weather};

/// Outdoors, hour by hour; hour 0 is local midnight of the first day of the run-up.
#[derive(Clone, Debug)]
pub(in crate::simulate) struct Sky {
    seed: u64,
    degc: Vec<f64>,
    /// W/m² on walls to the north, east, south and west: straight from the sun, and in all.
    direct: Vec<[f64; FACADES]>,
    total: Vec<[f64; FACADES]>,
}

/// An air mass while it stays.
struct AirMass {
    /// Against the season, K.
    degc: f64,
    /// How likely the sky is clear in it.
    clear: f64,
    /// Hours until the next front.
    left_h: f64,
    /// Hours in which its front passes.
    front_h: f64,
}

impl AirMass {
    /// Cold air comes quickly behind its front and is clear; mild air comes slowly and is cloudy.
    fn drawn(before_k: f64, random: &mut Random) -> Self {
        let degc = random.normal() * MASS_K;
        let colder = degc < before_k;
        Self {
            degc,
            clear: if colder { random.between(0.35, 0.9) } else { random.between(0.05, 0.5) },
            left_h: 18.0 - 60.0 * libm::log(random.unit().max(1e-9)),
            front_h: if colder { random.between(2.0, 6.0) } else { random.between(8.0, 20.0) },
        }
    }
}

/// Deviation of air masses from the season.
const MASS_K: f64 = 5.0;
/// Unrest within an air mass: its deviation, and how long it lasts.
const UNREST_K: f64 = 0.8;
const UNREST_H: f64 = 7.0;
/// How far the day swings to either side under a closed and under an open sky.
const SWING_K: (f64, f64) = (0.7, 4.2);
/// Share of hours in which a spell of one sky ends.
const SPELL_ENDS: f64 = 0.07;

impl Sky {
    /// The sky over some days; `first_day` is the day of the year of hour 0.
    pub(in crate::simulate) fn new(seed: u64, first_day: u32, days: usize) -> Self {
        let mut random = Random::of(seed, &[0x5c]);
        let mut sky = Self { seed, degc: Vec::new(), direct: Vec::new(), total: Vec::new() };
        let mut mass = AirMass::drawn(0.0, &mut random);
        let (mut synoptic, mut unrest, mut clear, mut cover) = (mass.degc, 0.0, 0.5, 0.5);
        let keep = libm::exp(-1.0 / UNREST_H);
        for hour in 0..=(days * 24) {
            let (day, of_day) = (f64::from(first_day) + hour as f64 / 24.0, (hour % 24) as f64);
            mass.left_h -= 1.0;
            if mass.left_h < 0.0 {
                mass = AirMass::drawn(synoptic, &mut random);
            }
            synoptic += (mass.degc - synoptic) * (1.0 - libm::exp(-3.0 / mass.front_h));
            unrest = unrest * keep + random.normal() * UNREST_K * libm::sqrt(1.0 - keep * keep);
            if random.happens(SPELL_ENDS) {
                cover = if random.happens(mass.clear) {
                    random.between(0.75, 1.0)
                } else {
                    random.between(0.0, 0.45)
                };
            }
            clear += (cover - clear) * 0.5;
            let season = 9.0 - 12.5 * libm::cos(TAU * (day - 21.0) / 365.0);
            let swing = (SWING_K.0 + (SWING_K.1 - SWING_K.0) * clear) * day_shape(of_day);
            sky.degc.push(season + synoptic + unrest + swing);
            let (direct, total) = on_walls(day, of_day + 0.5, clear);
            sky.direct.push(direct);
            sky.total.push(total);
        }
        sky
    }

    /// What it was drawn from.
    pub(super) fn seed(&self) -> u64 {
        self.seed
    }

    /// The same as the weather of a site.
    pub(in crate::simulate) fn weather(&self) -> Weather {
        Weather::of(self.degc.clone(), self.total.clone())
    }

    /// Outdoor temperature, `hours` after hour 0.
    pub(super) fn degc(&self, hours: f64) -> f64 {
        let (at, share) = place(hours, self.degc.len());
        self.degc[at] + (self.degc[at + 1] - self.degc[at]) * share
    }

    /// Mean of the last day: an air mass keeps its vapour while the day swings.
    pub(super) fn day_mean(&self, hours: f64) -> f64 {
        let (at, _) = place(hours, self.degc.len());
        let last = &self.degc[at.saturating_sub(23)..=at];
        last.iter().sum::<f64>() / last.len() as f64
    }

    /// Sun on a facade: straight from it, and in all, W/m².
    pub(super) fn sun(&self, hours: f64, facade: usize) -> (f64, f64) {
        let (at, share) = place(hours, self.degc.len());
        let between = |of: &[[f64; FACADES]]| of[at][facade] + (of[at + 1][facade] - of[at][facade]) * share;
        (between(&self.direct), between(&self.total))
    }
}

fn place(hours: f64, length: usize) -> (usize, f64) {
    let at = (hours.max(0.0) as usize).min(length - 2);
    (at, (hours - at as f64).clamp(0.0, 1.0))
}

/// From −1 shortly before sunrise to 1 in the early afternoon: up in nine hours, down in fifteen.
fn day_shape(of_day: f64) -> f64 {
    let since_low = (of_day - 6.0).rem_euclid(24.0);
    let share = if since_low < 9.0 { since_low / 18.0 } else { 0.5 + (since_low - 9.0) / 30.0 };
    -libm::cos(TAU * share)
}

/// Latitude of the invented site.
const LATITUDE: f64 = 42.0 * TAU / 360.0;

/// Sun on vertical walls, W/m²: straight from it, and in all. Direction and height are those of a plain spherical sky.
fn on_walls(day: f64, solar_hour: f64, clear: f64) -> ([f64; FACADES], [f64; FACADES]) {
    let tilt = -0.4092 * libm::cos(TAU * (day + 10.0) / 365.0);
    let turn = TAU * (solar_hour - 12.0) / 24.0;
    let up = libm::sin(LATITUDE) * libm::sin(tilt) + libm::cos(LATITUDE) * libm::cos(tilt) * libm::cos(turn);
    let west = libm::cos(tilt) * libm::sin(turn);
    let south =
        libm::sin(LATITUDE) * libm::cos(tilt) * libm::cos(turn) - libm::cos(LATITUDE) * libm::sin(tilt);
    if up <= 0.03 {
        return ([0.0; FACADES], [0.0; FACADES]);
    }
    let beam = 900.0 * clear * clear * libm::exp(-0.16 / up);
    let diffuse = (55.0 + 60.0 * (1.0 - clear)) * libm::sqrt(up);
    let direct = [-south, -west, south, west].map(|towards: f64| beam * towards.max(0.0));
    (direct, direct.map(|w| w + diffuse))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::{mean, standard_deviation};

    const DAYS: usize = 60;

    #[test]
    fn winters_have_fronts_and_clear_days_are_wide() {
        let (mut means, mut ranges, mut steepest) = (Vec::new(), Vec::new(), 0.0_f64);
        for seed in 0..20 {
            let sky = Sky::new(seed, 5, DAYS);
            for day in sky.degc[..DAYS * 24].chunks_exact(24) {
                let (low, high) = day.iter().fold((f64::MAX, f64::MIN), |(l, h), x| (l.min(*x), h.max(*x)));
                means.push(mean(day).unwrap());
                ranges.push(high - low);
            }
            steepest = sky.degc.windows(4).map(|w| w[0] - w[3]).fold(steepest, f64::max);
        }
        let (centre, spread) = (mean(&means).unwrap(), standard_deviation(&means).unwrap());
        assert!((-8.0..4.0).contains(&centre) && (3.0..7.5).contains(&spread), "{centre} {spread}");
        assert!(steepest > 7.0, "no front passed: {steepest} K in 3 h");
        ranges.sort_by(f64::total_cmp);
        let at = |share: f64| ranges[(share * ranges.len() as f64) as usize];
        assert!(at(0.1) < 6.0 && at(0.9) > 8.0, "{} to {} K a day", at(0.1), at(0.9));
    }

    #[test]
    fn the_sun_goes_from_east_over_south_to_west_and_never_stands_north_in_winter() {
        let at = |hour: f64| on_walls(15.0, hour, 1.0).0;
        assert!(at(9.0)[1] > at(9.0)[3] && at(15.0)[3] > at(15.0)[1]);
        assert!(at(12.0)[2] > 500.0 && at(12.0)[2] > 5.0 * at(12.0)[1]);
        assert!((0..24).all(|hour| at(f64::from(hour))[0] <= 0.0));
        assert!(at(2.0)[2] <= 0.0 && on_walls(15.0, 12.0, 0.1).0[2] < 0.05 * at(12.0)[2]);
    }
}
