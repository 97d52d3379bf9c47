//! A home that is lived in through time: sky, people, heat pumps and openings drive what its rooms do.

use super::super::random::Random;
use super::super::thermal::RUN_UP_DAYS;
use super::heat_pump::Running;
use super::home::Home;
use super::people::{Doings, Household, When};
use super::rooms::{Heat, MOST_ROOMS, Outside, PerRoom, State};
use super::vapour::Vapour;
use super::weather::Sky;

/// What rooms did, once a minute from the start of the record; one series per room.
#[derive(Clone, Debug)]
pub(in crate::simulate) struct Course {
    /// Air, °C.
    pub(in crate::simulate) rooms: Vec<Vec<f32>>,
    /// What each room's heat pump gives, as a share of its rated heat.
    pub(in crate::simulate) heat: Vec<Vec<f32>>,
    /// Relative humidity, %.
    pub(in crate::simulate) humidity: Vec<Vec<f32>>,
}

/// Days and hours of a record.
#[derive(Clone, Copy, Debug)]
pub(in crate::simulate) struct Calendar {
    pub(in crate::simulate) days: usize,
    /// Weekday of the first day of the run-up; 0 is a Monday.
    pub(in crate::simulate) first_weekday: usize,
    /// The minute, with the run-up, from which civil time runs an hour ahead.
    pub(in crate::simulate) summer_from: usize,
}

/// Steps in a minute: thermostats and open windows are quicker than one.
const STEPS: usize = 2;
const STEP_S: f64 = 60.0 / STEPS as f64;
/// Share of the sun on glass that becomes heat, and of that what warms the floor it falls on rather than the air.
const THROUGH_GLASS: f64 = 0.55;
const ON_FABRIC: f64 = 0.6;
/// Ground under a home.
const GROUND_DEGC: f64 = 11.0;
/// How neighbours wander: deviation, and how long it lasts.
const NEIGHBOURS_K: f64 = 0.5;
const NEIGHBOURS_H: f64 = 50.0;
/// How much lower a home is set whose people are away for days, K.
const ABSENT_K: f64 = 4.0;

impl Course {
    /// Lives through a record, after days in which the fabric forgets where it began.
    pub(super) fn solve(home: &Home, sky: &Sky, calendar: Calendar, random: &mut Random) -> Self {
        let rooms = home.rooms.len();
        let minutes = calendar.days * 1440;
        let mut course = Self {
            rooms: vec![Vec::with_capacity(minutes); rooms],
            heat: vec![Vec::with_capacity(minutes); rooms],
            humidity: vec![Vec::with_capacity(minutes); rooms],
        };
        let mut house = Living::new(home);
        let mut household = Household::new(&home.habits, rooms);
        let mut neighbours = 0.0;
        let keep = libm::exp(-1.0 / NEIGHBOURS_H);
        for minute in 0..minutes + RUN_UP_DAYS * 1440 {
            let hours = minute as f64 / 60.0;
            if minute.is_multiple_of(60) {
                neighbours =
                    neighbours * keep + random.normal() * NEIGHBOURS_K * libm::sqrt(1.0 - keep * keep);
            }
            let outside = Outside {
                outdoors: sky.degc(hours),
                neighbours: home.neighbours_degc + neighbours,
                ground: GROUND_DEGC,
            };
            let record_h = hours - (RUN_UP_DAYS * 24) as f64;
            let when = When {
                civil: if minute >= calendar.summer_from { minute + 60 } else { minute },
                first_weekday: calendar.first_weekday,
                outdoor: outside.outdoors,
                absent: home.habits.absent_h.is_some_and(|(from, to)| (from..to).contains(&record_h)),
            };
            let doings = household.minute(&when, random);
            house.minute(&when, record_h, &outside, &doings, sky);
            if record_h >= 0.0 {
                (0..rooms).for_each(|r| {
                    course.rooms[r].push(house.state.air[r] as f32);
                    course.heat[r].push(house.gave[r] as f32);
                    course.humidity[r].push(house.vapour.humidity_percent(r, house.state.air[r]) as f32);
                });
            }
        }
        course
    }
}

/// A home now.
struct Living<'h> {
    home: &'h Home,
    state: State,
    units: PerRoom<Running>,
    /// What units gave in the last minute, as a share of their rated heat.
    gave: PerRoom<f64>,
    vapour: Vapour,
    /// Heat that came in and went out since the beginning, J.
    came_j: f64,
    lost_j: f64,
}

impl<'h> Living<'h> {
    fn new(home: &'h Home) -> Self {
        let air = home.setpoints.map(|(day, _)| day - 1.0);
        Self {
            home,
            state: State { air, fabric: air.map(|degc| degc - 1.0) },
            units: air.map(Running::off),
            gave: [0.0; MOST_ROOMS],
            vapour: Vapour::default(),
            came_j: 0.0,
            lost_j: 0.0,
        }
    }

    fn minute(&mut self, when: &When, record_h: f64, outside: &Outside, doings: &Doings, sky: &Sky) {
        let home = self.home;
        let free = free_heat(home, (doings, &self.state), sky, record_h + (RUN_UP_DAYS * 24) as f64);
        let setpoints = setpoints(home, when, doings);
        self.gave = [0.0; MOST_ROOMS];
        for _ in 0..STEPS {
            let mut heat = free;
            for (r, unit) in home.units.iter().enumerate() {
                let Some(unit) = unit else { continue };
                if home.wrong.no_heat_h[r].is_some_and(|(from, to)| (from..to).contains(&record_h)) {
                    continue;
                }
                let step_min = STEP_S / 60.0;
                let (air, outdoors) = (self.state.air[r], outside.outdoors);
                let w = unit.gives_w(&mut self.units[r], air, setpoints[r], outdoors, step_min);
                heat.air[r] += w;
                self.gave[r] += w / unit.rated_w / STEPS as f64;
            }
            let lost_w = home.house.step(&mut self.state, (outside, &doings.openings), &heat, STEP_S);
            self.came_j += heat.air.iter().chain(&heat.fabric).sum::<f64>() * STEP_S;
            self.lost_j += lost_w * STEP_S;
        }
        let outdoors_g_m3 =
            Vapour::outdoors_g_m3(outside.outdoors, sky.day_mean(record_h + 24.0 * RUN_UP_DAYS as f64));
        self.vapour.minute(home, &self.state, doings, outdoors_g_m3, outside.outdoors);
    }
}

/// Drops of a shower, °C: they warm no room beyond that.
const SHOWER_DEGC: f64 = 36.0;

/// Sun, people and appliances, W.
fn free_heat(home: &Home, (doings, state): (&Doings, &State), sky: &Sky, hours: f64) -> Heat {
    let mut heat = Heat::default();
    for r in 0..home.rooms.len() {
        let sun = home.glass_m2[r] * home.blinds * THROUGH_GLASS * sky.sun(hours, home.facade[r]).1;
        let shower = doings.shower_w_k[r] * (SHOWER_DEGC - state.air[r]).max(0.0);
        heat.air[r] = doings.heat_w[r] + home.always_w[r] + shower + sun * (1.0 - ON_FABRIC);
        heat.fabric[r] = sun * ON_FABRIC;
    }
    heat
}

/// What thermostats are set to now, °C.
fn setpoints(home: &Home, when: &When, doings: &Doings) -> PerRoom<f64> {
    let (from, to) = home.night;
    let night = !(to..from).contains(&when.of_day());
    std::array::from_fn(|r| {
        let (day, low) = home.setpoints[r];
        let programme = if night { low } else { day };
        if when.absent { programme.min(day - ABSENT_K) } else { programme + doings.turned_k[r] }
    })
}

#[cfg(test)]
mod tests {
    use super::super::super::building::Trouble;
    use super::*;

    const DAYS: usize = 14;
    const CALENDAR: Calendar = Calendar { days: DAYS, first_weekday: 2, summer_from: usize::MAX };

    fn lived(seed: u64, trouble: Trouble, change: impl Fn(&mut Home)) -> (Home, Course) {
        let mut home = Home::drawn(trouble, DAYS as f64 * 24.0, &mut Random::of(seed, &[1]));
        change(&mut home);
        // Spring: days of about 5 to 12 °C.
        let sky = Sky::new(seed, 90, DAYS + RUN_UP_DAYS + 1);
        let course = Course::solve(&home, &sky, CALENDAR, &mut Random::of(seed, &[2]));
        (home, course)
    }

    #[test]
    fn what_a_lived_in_home_is_given_it_loses_or_stores() {
        for (seed, trouble) in [(1, Trouble::None), (2, Trouble::ClosedDoor), (3, Trouble::HeatFailure)] {
            let home = Home::drawn(trouble, 240.0, &mut Random::of(seed, &[1]));
            let sky = Sky::new(seed, 5, 12);
            let mut random = Random::of(seed, &[2]);
            let stored = |state: &State| -> f64 {
                let rooms = home.house.rooms.iter().enumerate();
                rooms.map(|(r, room)| room.air_j_k * state.air[r] + room.fabric_j_k * state.fabric[r]).sum()
            };
            let (mut living, mut household) =
                (Living::new(&home), Household::new(&home.habits, home.rooms.len()));
            let before = stored(&living.state);
            for minute in 0..10 * 1440 {
                let outdoors = sky.degc(minute as f64 / 60.0);
                let when = When { civil: minute, first_weekday: 0, outdoor: outdoors, absent: false };
                let doings = household.minute(&when, &mut random);
                let outside = Outside { outdoors, neighbours: 20.0, ground: GROUND_DEGC };
                living.minute(&when, minute as f64 / 60.0, &outside, &doings, &sky);
            }
            let more = stored(&living.state) - before;
            let brought = living.came_j - living.lost_j;
            assert!((more - brought).abs() < 1e-6 * living.came_j, "{trouble:?}: {more} J, {brought} J");
            // 10 days of 0.3 to 5 kW.
            assert!(living.came_j > 2.6e8 && living.came_j < 4.3e9, "{} J came", living.came_j);
        }
    }

    /// Around the setpoint as its sensor reads it.
    #[test]
    fn rooms_keep_their_setpoint_in_mild_weather() {
        const READS_K: f64 = 0.4;
        let mut checked = 0;
        for seed in 0..8 {
            let (home, course) = lived(seed, Trouble::None, |home| {
                home.habits.people.clear();
                // Nothing but its heat pump keeps it warm.
                (home.blinds, home.always_w, home.neighbours_degc) = (0.0, [0.0; MOST_ROOMS], 18.0);
                home.setpoints = [(21.5, 21.5); MOST_ROOMS];
                // Also where units are drawn too small for cold days, those of spring are none.
                for unit in home.units.iter_mut().flatten() {
                    (unit.reads_k, unit.rated_w) = (READS_K, 1.4 * unit.rated_w);
                }
            });
            for (r, unit) in home.units.iter().enumerate() {
                let Some(unit) = unit else { continue };
                // Below: the droop up to its full output. Above: what its least output adds while it must stay on.
                let (must_min, air_j_k) = (unit.least_min.0 + unit.trails_min, home.house.rooms[r].air_j_k);
                let rides_up_k = unit.least_share * unit.rated_w * must_min * 60.0 / air_j_k;
                let (low, high) = (unit.deadband_k / 2.0 + 0.8, unit.deadband_k / 2.0 + rides_up_k.min(1.5));
                let above = |t: &f32| f64::from(*t) - (21.5 - READS_K);
                let inside = course.rooms[r].iter().filter(|t| (-low..=high).contains(&above(t))).count();
                let share = inside as f64 / course.rooms[r].len() as f64;
                let name = home.rooms[r].0;
                assert!(share > 0.97, "seed {seed}, {name}: {share} within -{low} to {high} K");
                checked += 1;
            }
        }
        assert!(checked >= 20, "{checked} rooms");
    }

    #[test]
    fn a_shower_warms_and_moistens_the_bathroom_for_an_hour() {
        let (mut rises, mut warms, mut gone) = (Vec::new(), Vec::new(), Vec::new());
        for seed in 0..6 {
            let (home, course) = lived(seed, Trouble::None, |_| {});
            let bathroom = home.hall() - 1;
            for (degc, humid) in
                course.rooms[bathroom].chunks(1440).zip(course.humidity[bathroom].chunks(1440))
            {
                let peak = (60..1300).max_by(|a, b| humid[*a].total_cmp(&humid[*b])).unwrap();
                let before = humid[peak - 60..peak].iter().copied().fold(f32::MAX, f32::min);
                if humid[peak] - before > 15.0 {
                    rises.push(f64::from(humid[peak] - before));
                    warms.push(f64::from(
                        degc[peak] - degc[peak - 60..peak].iter().copied().fold(f32::MAX, f32::min),
                    ));
                    gone.push(f64::from((humid[peak] - humid[peak + 60]) / (humid[peak] - before)));
                }
            }
        }
        let median = |values: Vec<f64>| crate::stats::quantile(values, 0.5).unwrap();
        assert!(rises.len() > 20, "{} showers", rises.len());
        let (rise, warm, gone) = (median(rises), median(warms), median(gone));
        assert!(rise > 20.0 && (1.0..7.0).contains(&warm), "{rise} %, {warm} K");
        assert!(gone > 0.5, "{gone} of it is gone after an hour");
    }

    #[test]
    fn what_is_wrong_shows_in_the_room_it_is_wrong_in() {
        let span = |course: &Course, room: usize, from_h: f64, to_h: f64| -> Vec<f64> {
            course.rooms[room][(from_h * 60.0) as usize..(to_h * 60.0) as usize]
                .iter()
                .map(|x| f64::from(*x))
                .collect()
        };
        let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
        for seed in 0..8 {
            let (home, course) = lived(seed, Trouble::HeatFailure, |_| {});
            let laid = home.wrong.laid.clone().unwrap();
            let during =
                course.heat[0][(laid.from_h * 60.0) as usize + 1..(laid.to_h * 60.0) as usize - 1].iter();
            assert!(during.copied().fold(0.0, f32::max) <= 0.0, "seed {seed}");
            assert!(
                (laid.to_h - laid.from_h - laid.size.unwrap()).abs() < 1e-6
                    || laid.to_h >= 14.0 * 24.0 - 1e-6
            );
            let (home, course) = lived(seed, Trouble::Overheating, |home| home.habits.people.clear());
            let laid = home.wrong.laid.clone().unwrap();
            let room = home.rooms.iter().position(|r| Some(r.0) == laid.room).unwrap();
            let (_, usual) = lived(seed, Trouble::None, |home| home.habits.people.clear());
            let warmer = mean(&span(&course, room, 0.0, 336.0)) - mean(&span(&usual, room, 0.0, 336.0));
            let by = laid.size.unwrap();
            assert!(warmer > 0.35 * by && warmer < 1.3 * by, "seed {seed}: {warmer} K for {by}");
        }
    }
}
