//! A heat pump in a room: a thermostat that switches it, an output that follows the demand, ice that stops it.

use super::super::random::Random;

/// What a heat pump is like.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unit {
    /// Heat at 7 °C outdoors, W.
    pub(super) rated_w: f64,
    /// How much of it is lost with every K colder, as a share.
    pub(super) fades: f64,
    /// Share of the rated heat below which it cannot run: it switches off and on instead.
    pub(super) least_share: f64,
    /// Between switching on and off, K.
    pub(super) deadband_k: f64,
    /// How much too warm its own sensor reads, K.
    pub(super) reads_k: f64,
    /// How far its sensor trails the air, min.
    pub(super) trails_min: f64,
    /// Minutes for which it stays on, and off, at least.
    pub(super) least_min: (f64, f64),
    /// Minutes of full output after which ice must be thawed, and how long that takes.
    pub(super) ice_min: (f64, f64),
}

/// What a heat pump does now.
#[derive(Clone, Copy, Debug)]
pub(super) struct Running {
    on: bool,
    /// Minutes since it was switched.
    since_min: f64,
    /// What its sensor reads, °C.
    reads_degc: f64,
    ice_min: f64,
    thaws_min: f64,
}

/// Below the upper edge of its deadband by so much a heat pump gives all it can, K.
const FULL_BELOW_K: f64 = 0.8;
/// Outdoors below this ice grows on its outdoor side, °C.
pub(super) const ICE_DEGC: f64 = 3.0;
/// Colder air than this is dry: ice grows more slowly, °C.
const DRY_DEGC: f64 = -6.0;
const DRY_SHARE: f64 = 0.45;
/// Least and most of the rated heat that cold and mild air leave.
const LEFT: (f64, f64) = (0.35, 1.1);

impl Unit {
    /// Draws one of so much heat at 7 °C.
    pub(super) fn drawn(rated_w: f64, random: &mut Random) -> Self {
        Self {
            rated_w,
            fades: random.between(0.014, 0.026),
            least_share: random.between(0.22, 0.4),
            deadband_k: random.between(0.4, 0.9),
            reads_k: (random.normal() * 0.3).clamp(-0.7, 0.7),
            trails_min: random.between(2.0, 5.0),
            least_min: (random.between(4.0, 8.0), random.between(3.0, 7.0)),
            ice_min: (random.between(40.0, 90.0), random.between(4.0, 9.0)),
        }
    }

    /// The most it can give at an outdoor temperature, W.
    pub(super) fn most_w(&self, outdoor: f64) -> f64 {
        self.rated_w * (1.0 + self.fades * (outdoor - 7.0)).clamp(LEFT.0, LEFT.1)
    }

    /// What it gives for a step of some minutes, W.
    pub(super) fn gives_w(
        &self,
        now: &mut Running,
        air: f64,
        setpoint: f64,
        outdoor: f64,
        step_min: f64,
    ) -> f64 {
        now.reads_degc += (air + self.reads_k - now.reads_degc) * (step_min / self.trails_min).min(1.0);
        now.since_min += step_min;
        let upper = setpoint + self.deadband_k / 2.0;
        let (least_on, least_off) = self.least_min;
        let switches = match now.on {
            true => now.reads_degc > upper && now.since_min >= least_on,
            false => now.reads_degc < upper - self.deadband_k && now.since_min >= least_off,
        };
        if switches {
            (now.on, now.since_min) = (!now.on, 0.0);
        }
        if now.thaws_min > 0.0 {
            now.thaws_min -= step_min;
            return 0.0;
        }
        if !now.on {
            return 0.0;
        }
        let share = ((upper - now.reads_degc) / FULL_BELOW_K).clamp(self.least_share, 1.0);
        if outdoor < ICE_DEGC {
            let grows = if outdoor < DRY_DEGC { DRY_SHARE } else { 1.0 };
            now.ice_min += step_min * share * grows;
        }
        if now.ice_min >= self.ice_min.0 {
            (now.ice_min, now.thaws_min) = (0.0, self.ice_min.1);
        }
        (self.rated_w * share).min(self.most_w(outdoor))
    }
}

impl Running {
    /// Switched off in a room at some °C.
    pub(super) fn off(degc: f64) -> Self {
        Self { on: false, since_min: 60.0, reads_degc: degc, ice_min: 0.0, thaws_min: 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A room of 1.5e5 J/K that loses 40 W/K, held at 21 °C for some hours; its air once a step, and what was given.
    fn held(unit: &Unit, outdoor: f64, hours: usize) -> Vec<(f64, f64)> {
        let (mut air, mut now) = (21.0, Running::off(21.0));
        let mut step = || {
            let w = unit.gives_w(&mut now, air, 21.0, outdoor, 0.5);
            air += (w - 40.0 * (air - outdoor)) * 30.0 / 1.5e5;
            (air, w)
        };
        (0..hours * 120).map(|_| step()).collect()
    }

    fn unit() -> Unit {
        Unit { reads_k: 0.0, ..Unit::drawn(2500.0, &mut Random::of(1, &[1])) }
    }

    #[test]
    fn in_mild_weather_it_cycles_within_tens_of_minutes_around_its_setpoint() {
        let course = held(&unit(), 12.0, 48);
        let late = &course[course.len() / 2..];
        let starts = late.windows(2).filter(|w| w[0].1 <= 0.0 && w[1].1 > 0.0).count();
        let period_min = 24.0 * 60.0 / starts as f64;
        assert!((8.0..=45.0).contains(&period_min), "every {period_min} min");
        let low = late.iter().map(|x| x.0).fold(f64::MAX, f64::min);
        let high = late.iter().map(|x| x.0).fold(f64::MIN, f64::max);
        assert!(low > 20.0 && high < 22.6 && high - low > 0.2, "{low} to {high}");
    }

    #[test]
    fn ice_stops_it_for_minutes_and_only_in_the_cold() {
        // So small a least output that it never switches off of itself: 40 W/K at 22 K and at 17 K is more.
        let steady = Unit { least_share: 0.15, ..unit() };
        let day = |outdoor: f64| held(&steady, outdoor, 48).split_off(48 * 60);
        let cold = day(-1.0);
        let stops: Vec<usize> = cold
            .chunk_by(|a, b| (a.1 > 0.0) == (b.1 > 0.0))
            .filter(|run| run[0].1 <= 0.0)
            .map(<[_]>::len)
            .collect();
        assert!((5..25).contains(&stops.len()), "{stops:?}");
        assert!(stops.iter().all(|half_minutes| (7..=20).contains(half_minutes)), "{stops:?}");
        assert!(day(4.0).iter().all(|(_, w)| *w > 0.0), "it stopped without ice");
    }

    #[test]
    fn it_gives_less_the_colder_it_is_and_falls_behind() {
        let unit = unit();
        assert!(unit.most_w(-15.0) < 0.75 * unit.most_w(7.0));
        let small = Unit { rated_w: 1200.0, ..unit };
        let air = held(&small, -15.0, 48).last().map(|x| x.0).unwrap();
        assert!(air < 20.0, "{air}");
    }
}
