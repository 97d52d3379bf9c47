//! People through the day: they leave, come back, move about, sleep, shower, cook, air, shut doors, and turn thermostats.
//!
//! Each person is a Markov chain whose chances follow the hour and the weekday; so is each door. Nothing repeats from
//! day to day but habits.

use super::super::plan::NamedRoom;
use super::super::random::Random;
use super::rooms::{Openings, PerRoom};
use crate::site::Purpose;

/// Where a person is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Whereabouts {
    Away,
    Asleep,
    Awake(usize),
}

/// Someone who lives here.
#[derive(Clone, Copy, Debug)]
pub(super) struct Person {
    sleeps_in: usize,
    /// Hours of the day.
    wakes_h: f64,
    retires_h: f64,
    /// When they leave on working days, and when they come back; `None`: no such work.
    work_h: Option<(f64, f64)>,
    /// How likely they shower after getting up, and before going to bed.
    showers: (f64, f64),
    /// How likely they air their bedroom in the morning.
    airs: f64,
}

/// How a home is lived in.
#[derive(Clone, Debug)]
pub(super) struct Habits {
    pub(super) people: Vec<Person>,
    /// The share of time for which each door is left open.
    pub(super) open: PerRoom<f64>,
    /// Doors that are shut while somebody sleeps behind them.
    shut_asleep: PerRoom<bool>,
    /// Doors that are never open.
    pub(super) never_open: PerRoom<bool>,
    /// Windows that stand ajar at night.
    ajar: PerRoom<bool>,
    /// What the stove adds to the air under its hood, W.
    cooks_w: f64,
    /// A shower: between its water and the air, W/K, and the water that it gives to the air, g/s.
    shower_w_k: f64,
    shower_g_s: f64,
    dinner_h: f64,
    /// How often a thermostat is turned by hand, per day.
    turned_per_day: f64,
    /// When all are away for days, in hours from the start.
    pub(super) absent_h: Option<(f64, f64)>,
    kitchen: usize,
    bathroom: usize,
}

/// Minutes between two thoughts of a person.
const PACE_MIN: usize = 10;
/// How likely a window that was opened is forgotten, and how far it then stands open.
const FORGOTTEN: f64 = 0.015;
const AJAR: f64 = 0.12;
/// How likely it is, each ten minutes that somebody is up, that a door is opened or shut as it is liked.
const DOOR_MOVES: f64 = 0.08;

impl Habits {
    /// Draws the people of a home with these rooms.
    pub(super) fn drawn(rooms: &[NamedRoom], hours: f64, random: &mut Random) -> Self {
        let of = |purpose: Purpose| rooms.iter().position(|r| r.1 == purpose);
        let bedrooms: Vec<usize> = (0..rooms.len()).filter(|r| rooms[*r].1 == Purpose::Bedroom).collect();
        let mut people = Vec::new();
        for (n, room) in bedrooms.iter().enumerate() {
            let sleepers =
                if n == 0 { 1 + usize::from(random.happens(0.6)) } else { usize::from(random.happens(0.7)) };
            people.extend((0..sleepers).map(|_| Person::drawn(*room, random)));
        }
        let open_home = random.between(0.3, 1.0);
        let from_h = random.between(0.1, 0.7) * hours;
        let absent_h = random.happens(0.08).then_some((from_h, from_h + random.between(24.0, 96.0)));
        Self {
            people,
            // A room without heating is kept warm through its door, and people know it.
            open: std::array::from_fn(|r| {
                let warmed = rooms.get(r).is_some_and(|room| !room.2);
                (open_home * random.between(0.5, 1.4)).clamp(if warmed { 0.7 } else { 0.0 }, 1.0)
            }),
            shut_asleep: std::array::from_fn(|r| bedrooms.contains(&r) && random.happens(0.45)),
            never_open: [false; 8],
            ajar: std::array::from_fn(|r| bedrooms.contains(&r) && random.happens(0.03)),
            cooks_w: random.between(250.0, 650.0),
            shower_w_k: random.between(25.0, 55.0),
            shower_g_s: random.between(0.15, 0.4),
            dinner_h: random.between(17.0, 20.0),
            turned_per_day: if random.happens(0.4) { random.between(0.05, 0.4) } else { 0.0 },
            absent_h,
            kitchen: of(Purpose::Kitchen).unwrap_or_default(),
            bathroom: of(Purpose::Bathroom).unwrap_or_default(),
        }
    }
}

impl Person {
    fn drawn(sleeps_in: usize, random: &mut Random) -> Self {
        let leaves_h = random.between(6.8, 9.0);
        let works = random.happens(0.65);
        Self {
            sleeps_in,
            wakes_h: if works { leaves_h - random.between(0.6, 1.4) } else { random.between(6.0, 9.0) },
            retires_h: random.between(21.3, 24.3),
            work_h: works.then(|| (leaves_h, leaves_h + random.between(6.0, 10.0))),
            showers: (random.between(0.0, 0.9), random.between(0.0, 0.4)),
            airs: random.between(0.0, 1.0) * random.unit(),
        }
    }

    /// Where they are ten minutes later.
    fn next(&self, at: Whereabouts, when: &When, habits: &Habits, random: &mut Random) -> Whereabouts {
        let hour = when.hour();
        let late = if when.is_weekend() { 1.0 } else { 0.0 };
        let (wakes, retires) = (self.wakes_h + late, self.retires_h + 0.7 * late);
        let work = self.work_h.filter(|_| !when.is_weekend());
        match at {
            Whereabouts::Asleep => {
                let chance = match hour {
                    h if h > 12.0 || h < wakes - 0.6 => 0.004,
                    h if h < wakes + 1.0 => 0.22,
                    _ => 0.5,
                };
                if random.happens(chance) { Whereabouts::Awake(habits.bathroom) } else { at }
            }
            Whereabouts::Awake(_) => {
                // After midnight the hour of going to bed is past.
                let tired = hour > retires || hour < (wakes - 0.6).min(4.5);
                if random.happens(if tired { 0.25 } else { 0.001 }) {
                    return Whereabouts::Asleep;
                }
                let goes = match work {
                    Some((leaves, back)) if (leaves..back - 1.0).contains(&hour) => 0.4,
                    _ if (9.0..20.0).contains(&hour) => 0.025,
                    _ => 0.002,
                };
                if random.happens(goes) { Whereabouts::Away } else { self.moves(at, habits, random) }
            }
            Whereabouts::Away => {
                let back = match work {
                    Some((leaves, back)) if (leaves..back).contains(&hour) => 0.004,
                    _ => 0.12,
                };
                if random.happens(back) { Whereabouts::Awake(habits.kitchen) } else { at }
            }
        }
    }

    fn moves(&self, at: Whereabouts, habits: &Habits, random: &mut Random) -> Whereabouts {
        if !random.happens(0.25) {
            return at;
        }
        Whereabouts::Awake(match random.unit() {
            x if x < 0.6 => 0,
            x if x < 0.78 => habits.kitchen,
            x if x < 0.94 => self.sleeps_in,
            _ => habits.bathroom,
        })
    }
}

/// A minute as people see it.
#[derive(Clone, Copy, Debug)]
pub(super) struct When {
    /// Minutes of civil time since the first midnight.
    pub(super) civil: usize,
    /// 0: the first day is a Monday.
    pub(super) first_weekday: usize,
    pub(super) outdoor: f64,
    /// All are away for days.
    pub(super) absent: bool,
}

impl When {
    pub(super) fn of_day(&self) -> usize {
        self.civil % 1440
    }

    fn hour(&self) -> f64 {
        self.of_day() as f64 / 60.0
    }

    fn is_weekend(&self) -> bool {
        (self.civil / 1440 + self.first_weekday) % 7 >= 5
    }
}

/// What people do in a minute.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Doings {
    /// Heat of bodies, lamps, screens and the stove, W.
    pub(super) heat_w: PerRoom<f64>,
    /// Between running warm water and the air, W/K.
    pub(super) shower_w_k: PerRoom<f64>,
    /// Water that they give to the air, g/s.
    pub(super) vapour_g_s: PerRoom<f64>,
    pub(super) openings: Openings,
    /// What they add to the setpoints by hand, K.
    pub(super) turned_k: PerRoom<f64>,
}

/// People of a home as time goes on.
#[derive(Clone, Debug)]
pub(super) struct Household<'h> {
    habits: &'h Habits,
    rooms: usize,
    at: Vec<Whereabouts>,
    door: PerRoom<bool>,
    /// Minutes until which a window stands open, and how far.
    window: PerRoom<(usize, f64)>,
    /// When showers begin and end.
    showers: Vec<(usize, usize)>,
    cooks_until: usize,
    cooked_on: Option<usize>,
    turned_k: PerRoom<f64>,
}

impl<'h> Household<'h> {
    /// All asleep, at midnight.
    pub(super) fn new(habits: &'h Habits, rooms: usize) -> Self {
        Self {
            habits,
            rooms,
            at: vec![Whereabouts::Asleep; habits.people.len()],
            door: std::array::from_fn(|r| habits.open[r] > 0.5),
            window: [(0, 0.0); 8],
            showers: Vec::new(),
            cooks_until: 0,
            cooked_on: None,
            turned_k: [0.0; 8],
        }
    }

    /// Goes on to a minute.
    pub(super) fn minute(&mut self, when: &When, random: &mut Random) -> Doings {
        if when.civil.is_multiple_of(PACE_MIN) {
            self.think(when, random);
        }
        // Night and morning programmes undo what was turned by hand.
        if [360, 1320].contains(&when.of_day()) {
            self.turned_k = [0.0; 8];
        }
        self.doings(when)
    }

    fn think(&mut self, when: &When, random: &mut Random) {
        for n in 0..self.at.len() {
            let (person, was) = (self.habits.people[n], self.at[n]);
            self.at[n] = match when.absent {
                true => Whereabouts::Away,
                false => person.next(was, when, self.habits, random),
            };
            let now = self.at[n];
            if was == Whereabouts::Asleep && now != was {
                self.gets_up(&person, when, random);
            }
            if now == Whereabouts::Asleep && now != was && random.happens(person.showers.1) {
                self.shower(when.civil, random);
            }
        }
        let up = self.at.iter().any(|at| matches!(at, Whereabouts::Awake(_)));
        if up {
            self.cook(when, random);
            self.move_doors(random);
            if random.happens(self.habits.turned_per_day * PACE_MIN as f64 / 900.0) {
                let room = random.below(self.rooms);
                self.turned_k[room] = random.pick(&[-1.0, -0.5, 0.5, 1.0, 1.5]);
            }
        }
    }

    fn gets_up(&mut self, person: &Person, when: &When, random: &mut Random) {
        if random.happens(person.showers.0) {
            self.shower(when.civil, random);
        }
        let bitter = if when.outdoor < -6.0 { 0.3 } else { 1.0 };
        if random.happens(person.airs * bitter) {
            let forgotten = random.happens(FORGOTTEN);
            let minutes = if forgotten { 120 + random.below(360) } else { 5 + random.below(16) };
            let open = if forgotten { AJAR } else { random.between(0.4, 1.0) };
            self.window[person.sleeps_in] = (when.civil + minutes, open);
        }
    }

    /// One after the other.
    fn shower(&mut self, now: usize, random: &mut Random) {
        let free = self.showers.last().map_or(0, |(_, end)| end + 3);
        let from = (now + 3 + random.below(20)).max(free);
        self.showers.retain(|(_, end)| *end + 60 > now);
        self.showers.push((from, from + 4 + random.below(11)));
    }

    fn cook(&mut self, when: &When, random: &mut Random) {
        let day = when.civil / 1440;
        let since = when.hour() - self.habits.dinner_h;
        if (0.0..2.5).contains(&since) && self.cooked_on != Some(day) && random.happens(0.3) {
            self.cooked_on = Some(day);
            self.cooks_until = when.civil + 15 + random.below(45);
        } else if (6.0..14.0).contains(&when.hour()) && random.happens(0.03) {
            self.cooks_until = self.cooks_until.max(when.civil + 4 + random.below(16));
        }
    }

    fn move_doors(&mut self, random: &mut Random) {
        for r in 0..self.rooms {
            if random.happens(DOOR_MOVES) {
                self.door[r] = random.happens(self.habits.open[r]);
            }
        }
    }

    fn doings(&self, when: &When) -> Doings {
        let habits = self.habits;
        let mut doings = Doings { turned_k: self.turned_k, ..Doings::default() };
        let mut sleeps = [false; 8];
        for (person, at) in habits.people.iter().zip(&self.at) {
            let (room, heat_w, vapour) = match at {
                Whereabouts::Away => continue,
                Whereabouts::Asleep => (person.sleeps_in, 60.0, 0.011),
                // With a lamp, and a screen in the living room.
                Whereabouts::Awake(room) => (*room, if *room == 0 { 150.0 } else { 95.0 }, 0.018),
            };
            sleeps[room] |= *at == Whereabouts::Asleep;
            doings.heat_w[room] += heat_w;
            doings.vapour_g_s[room] += vapour;
        }
        if when.civil < self.cooks_until {
            doings.heat_w[habits.kitchen] += habits.cooks_w;
            doings.vapour_g_s[habits.kitchen] += habits.cooks_w * 2.5e-4;
        }
        let showers = self.showers.iter().any(|(from, to)| (*from..*to).contains(&when.civil));
        if showers {
            doings.shower_w_k[habits.bathroom] = habits.shower_w_k;
            doings.vapour_g_s[habits.bathroom] += habits.shower_g_s;
        }
        for (r, sleeps) in sleeps.into_iter().enumerate().take(self.rooms) {
            let shut = habits.never_open[r]
                || (sleeps && habits.shut_asleep[r])
                || (showers && r == habits.bathroom);
            // The hall's place stands for an opening that has no door.
            let open = r + 1 == self.rooms || (self.door[r] && !shut);
            doings.openings.door[r] = f64::from(u8::from(open));
            let (until, wide) = self.window[r];
            doings.openings.window[r] = match when.civil < until {
                true => wide,
                false if sleeps && habits.ajar[r] => AJAR / 2.0,
                false => 0.0,
            };
        }
        doings
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOMS: [NamedRoom; 5] = [
        ("living", Purpose::Living, true),
        ("bedroom 1", Purpose::Bedroom, true),
        ("kitchen", Purpose::Kitchen, false),
        ("bathroom", Purpose::Bathroom, false),
        ("hall", Purpose::Hall, false),
    ];

    /// Per home of many: each minute of four weeks, by the number of people at home asleep and what they do.
    fn lived(seed: u64) -> (Habits, Vec<(When, Doings)>) {
        let mut random = Random::of(seed, &[7]);
        let mut habits = Habits::drawn(&ROOMS, 672.0, &mut random);
        habits.absent_h = None;
        let own = habits.clone();
        let mut household = Household::new(&own, ROOMS.len());
        let mut minute = |civil: usize| {
            let when = When { civil, first_weekday: 0, outdoor: 0.0, absent: false };
            (when, household.minute(&when, &mut random))
        };
        let all = (0..28 * 1440).map(&mut minute).collect();
        (habits, all)
    }

    #[test]
    fn people_sleep_at_night_cook_in_the_evening_and_air_for_minutes() {
        let (mut night, mut evening, mut airings) = (0.0, 0.0, Vec::new());
        let homes = 20;
        for seed in 0..homes {
            let (habits, all) = lived(seed);
            let people = habits.people.len() as f64;
            let of_hours = |from: usize, to: usize| {
                all.iter().filter(move |(w, _)| (from * 60..to * 60).contains(&w.of_day()))
            };
            let asleep = of_hours(2, 5).filter(|(_, d)| d.heat_w[1] >= 60.0 * people - 1.0).count();
            night += asleep as f64 / of_hours(2, 5).count() as f64 / homes as f64;
            evening += of_hours(17, 22).filter(|(_, d)| d.heat_w[2] >= habits.cooks_w).count() as f64
                / 28.0
                / homes as f64;
            let open = all.chunk_by(|a, b| (a.1.openings.window[1] > 0.3) == (b.1.openings.window[1] > 0.3));
            airings.extend(open.filter(|run| run[0].1.openings.window[1] > 0.3).map(<[_]>::len));
        }
        assert!(night > 0.85, "{night} of the time from two to five all are asleep");
        assert!((15.0..60.0).contains(&evening), "{evening} min of cooking in an evening");
        assert!(airings.len() > 50 && airings.iter().all(|min| *min <= 41), "{airings:?}");
    }

    #[test]
    fn doors_follow_habits_and_a_door_that_is_never_open_is_not() {
        let (mut habits, _) = lived(3);
        habits.open = [0.25; 8];
        (habits.shut_asleep, habits.never_open[2]) = ([false; 8], true);
        let mut random = Random::of(4, &[4]);
        let mut household = Household::new(&habits, ROOMS.len());
        let mut open = [0.0; 8];
        let minutes = 60 * 1440;
        for civil in 0..minutes {
            let when = When { civil, first_weekday: 0, outdoor: 0.0, absent: false };
            let doings = household.minute(&when, &mut random);
            (0..8).for_each(|r| open[r] += doings.openings.door[r] / minutes as f64);
        }
        assert!((0.15..0.35).contains(&open[0]) && (0.15..0.35).contains(&open[1]), "{open:?}");
        assert!(open[2] <= 0.0 && open[4] >= 1.0 - 1e-9, "{open:?}");
    }
}
