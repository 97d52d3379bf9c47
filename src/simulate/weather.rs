//! Outdoor temperature and sun, hour by hour.

use std::f64::consts::TAU;

use super::random::Random;

/// Facades in the order in which sun is kept.
pub(super) const FACADES: usize = 4;

/// The weather of a site; hour 0 is local midnight of the first day of the run-up.
#[derive(Clone, Debug)]
pub(super) struct Weather {
    degc: Vec<f64>,
    /// W/m² on a vertical wall to the north, east, south and west.
    sun_w_m2: Vec<[f64; FACADES]>,
}

/// Latitude of the invented site.
const LATITUDE_DEG: f64 = 42.0;

impl Weather {
    /// Weather for some days; `first_day` is the day of the year of hour 0.
    ///
    /// Temperature: a season, fronts that pass over days (a first-order autoregressive process), and a daily swing that
    /// is larger under a clear sky.
    pub(super) fn new(seed: u64, first_day: u32, days: usize) -> Self {
        let mut random = Random::of(seed, &[0x57]);
        let (mut front, mut cloud) = (random.normal() * FRONT_K, random.normal());
        let (mut degc, mut sun) = (Vec::new(), Vec::new());
        let keep_front = libm::exp(-1.0 / FRONT_H);
        let keep_cloud = libm::exp(-1.0 / 18.0);
        for hour in 0..=(days * 24) {
            let day = f64::from(first_day) + hour as f64 / 24.0;
            let of_day = (hour % 24) as f64;
            front =
                front * keep_front + random.normal() * FRONT_K * libm::sqrt(1.0 - keep_front * keep_front);
            cloud = cloud * keep_cloud + random.normal() * libm::sqrt(1.0 - keep_cloud * keep_cloud);
            let clear = 0.55 + 0.45 * libm::tanh(cloud);
            let season = 8.5 - 12.5 * libm::cos(TAU * (day - 20.0) / 365.0);
            let swing = (1.5 + 3.0 * clear) * libm::cos(TAU * (of_day - 15.0) / 24.0);
            degc.push(season + front + swing);
            sun.push(sun_on_walls(day, of_day + 0.5, clear));
        }
        Self { degc, sun_w_m2: sun }
    }

    /// Weather by the hour, from elsewhere: °C, and W/m² on each facade.
    pub(super) fn of(degc: Vec<f64>, sun_w_m2: Vec<[f64; FACADES]>) -> Self {
        Self { degc, sun_w_m2 }
    }

    /// The same weather, so much warmer.
    pub(super) fn warmer(mut self, k: f64) -> Self {
        self.degc.iter_mut().for_each(|x| *x += k);
        self
    }

    /// Outdoor temperature, `hours` after hour 0.
    pub(super) fn degc(&self, hours: f64) -> f64 {
        let at = (hours.max(0.0) as usize).min(self.degc.len() - 2);
        self.degc[at] + (self.degc[at + 1] - self.degc[at]) * (hours - at as f64).clamp(0.0, 1.0)
    }

    /// Sun on the four facades, `hours` after hour 0.
    pub(super) fn sun(&self, hours: f64) -> [f64; FACADES] {
        self.sun_w_m2[(hours.max(0.0) as usize).min(self.sun_w_m2.len() - 1)]
    }

    /// Hourly temperatures.
    pub(super) fn hourly(&self) -> &[f64] {
        &self.degc
    }
}

/// Deviation of the fronts, and how long they last.
const FRONT_K: f64 = 4.5;
const FRONT_H: f64 = 55.0;

/// Direct and diffuse sun on vertical walls, from the sun's height and direction.
fn sun_on_walls(day: f64, solar_hour: f64, clear: f64) -> [f64; FACADES] {
    let rad = TAU / 360.0;
    let declination = -23.44 * rad * libm::cos(TAU * (day + 10.0) / 365.0);
    let (latitude, angle) = (LATITUDE_DEG * rad, (solar_hour - 12.0) * 15.0 * rad);
    let sin_height = libm::sin(latitude) * libm::sin(declination)
        + libm::cos(latitude) * libm::cos(declination) * libm::cos(angle);
    if sin_height <= 0.02 {
        return [0.0; FACADES];
    }
    let east = -libm::cos(declination) * libm::sin(angle);
    let south = sin_height * libm::tan(latitude) - libm::sin(declination) / libm::cos(latitude);
    let direct = 850.0 * clear * libm::exp(-0.14 / sin_height);
    let diffuse = (40.0 + 60.0 * clear) * sin_height;
    [-south, east, south, -east].map(|towards| direct * towards.max(0.0) + diffuse)
}
