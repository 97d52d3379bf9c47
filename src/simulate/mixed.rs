//! What real buildings have beside troubles and faults: homes of other kinds, coarse and slow loggers, and records that
//! people handled. Drawn only for [`super::Homes::Mixed`].

use serde::Serialize;

use super::building::{ROOMS, TROUBLES, Trouble};
use super::faults::{Fault, FaultKind, MIXED_FAULTS};
use super::loggers::{Logger, Reading};
use super::plan::{HomePlan, Plan, swap};
use super::random::Random;
use super::writers::{DIALECTS, Habit};
use crate::site::Purpose;
use crate::units::TemperatureUnit;

/// What kind of home it is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum HomeKind {
    /// Heated, with a setback.
    #[default]
    Usual,
    /// Massive, and heated evenly: it moves slowly.
    Steady,
    /// Not heated at all.
    Unheated,
    /// The heat fails, and it falls below freezing.
    Frost,
    /// A boiler stands in a cupboard of its own.
    Cupboard,
    /// A summer without heating.
    Summer,
    /// A summer under the roof.
    Hot,
}

/// The room of [`HomeKind::Cupboard`] in which the boiler stands, by its place among the rooms.
pub(super) const CUPBOARD: usize = 4;

impl HomeKind {
    /// Whether it is as homes are elsewhere.
    pub fn is_usual(&self) -> bool {
        *self == HomeKind::Usual
    }

    /// Rooms as the roster has them: name, use, heated.
    pub(super) fn rooms(self) -> [(&'static str, Purpose, bool); 6] {
        let mut rooms = ROOMS;
        match self {
            HomeKind::Unheated => rooms.iter_mut().for_each(|r| r.2 = false),
            HomeKind::Cupboard => rooms[CUPBOARD] = ("boiler cupboard", Purpose::Other, false),
            _ => {}
        }
        rooms
    }
}

/// Where all loggers lie together, and when, in hours from the start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Together {
    pub(super) from_h: f64,
    pub(super) to_h: f64,
    /// Mean of the air there.
    pub(super) degc: f64,
    /// How far the day moves it.
    pub(super) swing_k: f64,
}

impl Together {
    /// The air there; `None` at other times.
    pub(super) fn degc(&self, hours: f64) -> Option<f64> {
        let here = (self.from_h..self.to_h).contains(&hours);
        here.then(|| self.degc + self.swing_k * libm::sin(std::f64::consts::TAU * hours / 24.0))
    }
}

/// One logger's readings under the name of another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Copied {
    pub(super) of: usize,
    pub(super) to: usize,
    pub(super) shift_h: f64,
    pub(super) shift_k: f64,
}

impl Copied {
    pub(super) fn apply(&self, recorded: &mut [Vec<Reading>]) {
        let moved = |r: &Reading| Reading {
            clock_ms: r.clock_ms + (self.shift_h * 3_600_000.0) as i64,
            degc: r.degc.map(|x| x + self.shift_k),
            ..*r
        };
        recorded[self.to] = recorded[self.of].iter().map(moved).collect();
    }
}

/// A file that no row of the roster names, with the first rows of a logger.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stray {
    pub(super) of: usize,
    /// Share of its rows.
    pub(super) share: f64,
}

/// What a home has beside its trouble and its faults; nothing unless it is asked for.
#[derive(Clone, Debug, Default)]
pub(super) struct Beside {
    pub(super) kind: HomeKind,
    pub(super) together: Option<Together>,
    pub(super) copied: Option<Copied>,
    pub(super) stray: Option<Stray>,
}

/// Accuracy and resolution of loggers, K: coarse ones too.
const MAKES: [(f64, f64); 9] = [
    (0.2, 0.01),
    (0.3, 0.01),
    (0.3, 0.1),
    (0.5, 0.1),
    (0.5, 0.0625),
    (0.5, 0.5),
    (0.5, 0.5),
    (1.0, 1.0),
    (1.0, 1.0),
];

/// Sampling intervals, s.
const INTERVALS_S: [i64; 7] = [300, 300, 600, 600, 900, 1800, 3600];

/// Kinds of homes in a winter and in a summer, the more likely ones several times.
const WINTER: [HomeKind; 10] = {
    use HomeKind::{Cupboard, Frost, Steady, Unheated, Usual};
    [Usual, Usual, Usual, Usual, Steady, Steady, Unheated, Frost, Frost, Cupboard]
};
const SUMMER: [HomeKind; 6] = {
    use HomeKind::{Hot, Steady, Summer};
    [Hot, Hot, Hot, Steady, Summer, Summer]
};

impl Plan {
    pub(super) fn mixed(&self, home: usize, troubles: f64, faults: f64, summer: bool) -> HomePlan {
        let mut random = Random::of(self.seed, &[home as u64, 0x30]);
        let kind = if summer { random.pick(&SUMMER) } else { random.pick(&WINTER) };
        let trouble = match kind.is_usual() && random.happens(troubles) {
            true => TROUBLES[1 + random.below(TROUBLES.len() - 1)],
            false => Trouble::None,
        };
        let (name, dialect) = (Self::home_name(home), random.pick(&DIALECTS));
        let clock = match random.unit() {
            x if x < 0.4 => Habit::Fixed(self.zone.offset_s(self.start_utc())),
            x if x < 0.6 => Habit::Fixed(0),
            _ => Habit::Civil(self.zone),
        };
        let interval_s = random.pick(&INTERVALS_S);
        let mut loggers: Vec<Logger> = (0..ROOMS.len())
            .map(|room| {
                let of_home = random.happens(0.8);
                let interval_s = if of_home { interval_s } else { random.pick(&INTERVALS_S) };
                let mut logger =
                    Logger::drawn(&format!("{name}-{}", room + 1), room, interval_s, &mut random);
                logger.make(random.pick(&MAKES), &mut random);
                logger.clock = clock;
                logger
            })
            .collect();
        let mut beside = Beside { kind, ..Beside::default() };
        self.draw_handling(&mut beside, &mut loggers, &mut random);
        draw_copies(&mut beside, &mut loggers, &mut random);
        let kinds = faults_of(dialect.unit());
        self.draw_mixed_faults(&mut loggers, beside.copied, (faults, &kinds), &mut random);
        let rooms = kind.rooms().to_vec();
        HomePlan {
            name,
            trouble,
            mended_h: None,
            zone: self.zone,
            dialect,
            wide: false,
            loggers,
            beside,
            rooms,
        }
    }

    fn hours(&self) -> f64 {
        self.days as f64 * 24.0
    }

    /// How people carried, read out and forgot the loggers of a home.
    fn draw_handling(&self, beside: &mut Beside, loggers: &mut [Logger], random: &mut Random) {
        let length = self.hours();
        if random.happens(0.2) {
            let long = libm::exp(random.between(libm::log(3.0), libm::log(120.0)));
            let at_end = random.happens(0.25);
            let (from_h, to_h) = if at_end { (length - long.min(48.0), length) } else { (0.0, long) };
            let (degc, swing_k) = (random.between(12.0, 23.0), random.between(0.2, 2.0));
            beside.together = Some(Together { from_h, to_h, degc, swing_k });
            if !at_end {
                loggers.iter_mut().filter(|_| random.happens(0.6)).for_each(|l| l.hands.push((to_h, to_h)));
            }
        }
        if random.happens(0.2) {
            self.draw_visits(loggers, random);
        }
        if random.happens(0.15) {
            self.draw_late(loggers, random);
        }
        for logger in loggers {
            if random.happens(0.06) {
                logger.hands.push((0.0, 0.0));
            }
            for hand in &mut logger.hands {
                hand.1 = hand.0 + random.between(4.0, 25.0) / 60.0;
            }
        }
    }

    /// People come, read the loggers out, and start them again: soon, or on their next visit.
    fn draw_visits(&self, loggers: &mut [Logger], random: &mut Random) {
        let visits = 1 + random.below(3);
        for visit in 0..visits {
            let share = (visit as f64 + random.between(0.3, 0.9)) / (visits as f64 + 0.4);
            let at_h = share * self.hours();
            let long = random.happens(0.2);
            for logger in loggers.iter_mut() {
                let forgotten = long || random.happens(0.04);
                let hours = if forgotten { random.between(24.0, 144.0) } else { random.between(0.05, 3.0) };
                let again_h = (at_h + hours).min(self.hours() - 24.0).max(at_h);
                logger.visits_h.push(again_h);
                logger.off.push((at_h, again_h));
                if random.happens(0.5) {
                    logger.hands.push((again_h, again_h));
                }
            }
        }
    }

    /// Some records begin late or end early.
    fn draw_late(&self, loggers: &mut [Logger], random: &mut Random) {
        for _ in 0..1 + random.below(3) {
            let at = random.below(loggers.len());
            let lost = random.between(48.0, 240.0);
            let late = random.happens(0.5);
            loggers[at].off.push(if late { (0.0, lost) } else { (self.hours() - lost, self.hours()) });
        }
    }

    fn draw_mixed_faults(
        &self,
        loggers: &mut [Logger],
        copied: Option<Copied>,
        (share, kinds): (f64, &[FaultKind]),
        random: &mut Random,
    ) {
        let is_free = |l: &[Logger], at: usize| {
            l[at].fault.is_none() && copied.is_none_or(|c| c.of != at && c.to != at)
        };
        for at in 0..loggers.len() {
            let (happens, kind) = (random.happens(share), random.pick(kinds));
            if !happens || !is_free(loggers, at) {
                continue;
            }
            let fault = Fault::of_any_size(kind, self.days, random);
            let other = (at + 1) % loggers.len();
            match kind {
                FaultKind::Swapped if is_free(loggers, other) => swap(loggers, at, other, fault),
                FaultKind::Swapped => {}
                _ => loggers[at].fault = Some(fault),
            }
        }
    }
}

/// Where °F are written as °F, nothing is wrong.
fn faults_of(unit: TemperatureUnit) -> Vec<FaultKind> {
    let fits = |k: &FaultKind| *k != FaultKind::FahrenheitAsCelsius || unit == TemperatureUnit::Celsius;
    MIXED_FAULTS.into_iter().filter(fits).collect()
}

/// A logger's file under another name: in the folder only, or in place of another room's.
fn draw_copies(beside: &mut Beside, loggers: &mut [Logger], random: &mut Random) {
    let of = random.below(loggers.len());
    match random.unit() {
        x if x < 0.07 => {
            let share = if random.happens(0.5) { 1.0 } else { random.between(0.2, 0.9) };
            beside.stray = Some(Stray { of, share });
        }
        x if x < 0.16 => {
            let to = (of + 1 + random.below(loggers.len() - 1)) % loggers.len();
            let (shift_h, shift_k) = match random.below(3) {
                0 => (0.0, 0.0),
                1 => (random.pick(&[-24.0, -2.0, -1.0, 1.0, 1.0, 24.0]), 0.0),
                _ => (0.0, random.pick(&[-1.0, 1.0]) * f64::from(1 + random.below(8) as u32) * 0.25),
            };
            let mut copy = loggers[of].clone();
            (copy.name, copy.room) = (loggers[to].name.clone(), to);
            let size = if shift_k.abs() > 0.0 { shift_k } else { shift_h };
            copy.fault = Some(Fault { kind: FaultKind::CopyOfAnother, from_h: 0.0, to_h: f64::MAX, size });
            loggers[to] = copy;
            beside.copied = Some(Copied { of, to, shift_h, shift_k });
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Homes, SimulatedHome, Simulation};
    use super::*;
    use crate::clock::{UtcTime, Zone};

    const DAYS: usize = 12;

    fn plan(seed: u64, summer: bool) -> Plan {
        Plan {
            seed,
            homes: 40,
            days: DAYS,
            interval_s: 300,
            start: if summer { "2026-07-06" } else { "2026-01-05" }.parse().unwrap(),
            zone: Zone::parse("America/Chicago").unwrap(),
            homes_from: Homes::Mixed {
                troubles: 0.0,
                faults: 0.0,
                summer,
                warmer_k: if summer { 7.0 } else { -5.0 },
            },
        }
    }

    /// The first home that is so, with what was laid down for it.
    fn first(plan: Plan, is: impl Fn(&HomePlan) -> bool) -> (HomePlan, SimulatedHome, Simulation) {
        let at = (0..plan.homes).find(|home| is(&plan.home(*home))).expect("a home that is so");
        let laid = plan.home(at);
        let simulation = Simulation::new(plan);
        (laid, simulation.home(at), simulation)
    }

    /// Lowest and highest temperature of a room in the second half of the record.
    fn range(made: &SimulatedHome, room: usize) -> (f32, f32) {
        let series = &made.temperatures.rooms[room];
        let late = &series[series.len() / 2..];
        (late.iter().copied().fold(f32::MAX, f32::min), late.iter().copied().fold(f32::MIN, f32::max))
    }

    fn of_kind(kind: HomeKind) -> SimulatedHome {
        let summer = matches!(kind, HomeKind::Summer | HomeKind::Hot);
        first(plan(3, summer), |home| home.beside.kind == kind).1
    }

    #[test]
    fn homes_of_each_kind_are_as_their_name_says() {
        let (steady, frost, unheated) =
            (of_kind(HomeKind::Steady), of_kind(HomeKind::Frost), of_kind(HomeKind::Unheated));
        for room in 0..6 {
            let (low, high) = range(&steady, room);
            assert!(high - low < 2.0, "steady: {low} to {high}");
            let (low, high) = range(&unheated, room);
            assert!(high < 15.0, "unheated: {low} to {high}");
            let (low, high) = range(&frost, room);
            assert!(low < 0.0, "frost: {low} to {high}");
        }
        let (low, high) = range(&of_kind(HomeKind::Cupboard), CUPBOARD);
        assert!(low > 36.0 && high < 52.0 && high > 40.0, "cupboard: {low} to {high}");
        let hot = of_kind(HomeKind::Hot);
        let highest = (0..6).map(|room| range(&hot, room).1).fold(0.0, f32::max);
        assert!(highest > 35.0, "hot: up to {highest}");
    }

    #[test]
    fn loggers_that_lie_together_read_alike_and_then_no_more() {
        let starts = |home: &HomePlan| home.beside.together.is_some_and(|t| t.from_h < 1.0 && t.to_h > 12.0);
        let (laid, made, simulation) =
            first(plan(4, false), |home| starts(home) && home.beside.copied.is_none());
        let together = laid.beside.together.unwrap();
        let until = simulation.start().plus_ms((together.to_h * 3_600_000.0) as i64);
        let settled = simulation.start().plus_ms(3 * 3_600_000);
        for (logger, stored) in laid.loggers.iter().zip(&made.stored) {
            let own =
                |t: UtcTime| together.degc((t.ms() - simulation.start().ms()) as f64 / 3_600_000.0).unwrap();
            let off = stored
                .iter()
                .filter(|(t, _)| *t > settled && *t < until)
                .filter_map(|(t, degc)| Some(((*degc)? - own(*t)).abs()))
                .fold(0.0, f64::max);
            assert!(off < 2.0 * logger.accuracy_k + 0.5, "{}: {off} K", logger.name);
        }
        assert!(made.truth.together_utc.is_some());
    }

    #[test]
    fn a_copy_has_the_readings_of_the_other_room_moved() {
        let (laid, made, _) =
            first(plan(5, false), |home| home.beside.copied.is_some_and(|c| c.shift_k.abs() > 0.0));
        let copied = laid.beside.copied.unwrap();
        let (of, to) = (&made.stored[copied.of], &made.stored[copied.to]);
        assert_eq!(of.len(), to.len());
        for ((t, own), (at, copy)) in of.iter().zip(to) {
            assert_eq!(t, at);
            assert_eq!(own.is_some(), copy.is_some());
            let moved = own.zip(*copy).map_or(copied.shift_k, |(own, copy)| copy - own);
            assert!((moved - copied.shift_k).abs() < 1e-9, "{moved}");
        }
        assert_eq!(made.truth.loggers[copied.to].copy_of.as_ref(), Some(&laid.loggers[copied.of].name));
    }

    #[test]
    fn each_visit_starts_a_file_and_nothing_is_recorded_before_the_restart() {
        let (laid, made, simulation) = first(plan(6, false), |home| {
            home.beside.copied.is_none() && home.loggers.iter().all(|l| !l.visits_h.is_empty())
        });
        for (logger, stored) in laid.loggers.iter().zip(&made.stored) {
            let own = |(name, _): &&(String, Vec<u8>)| name.contains(&logger.name);
            assert!(made.files.iter().filter(own).count() > 1, "{}", logger.name);
            for (from, to) in &logger.off {
                let hours = |t: UtcTime| (t.ms() - simulation.start().ms()) as f64 / 3_600_000.0;
                assert!(stored.iter().all(|(t, _)| !(*from..*to).contains(&hours(*t))), "{}", logger.name);
            }
        }
    }

    #[test]
    fn a_stray_file_is_in_no_row_of_the_roster() {
        let (_, made, _) = first(plan(7, false), |home| home.beside.stray.is_some());
        let stray = made.truth.stray.as_ref().unwrap();
        assert!(made.files.iter().any(|(name, bytes)| *name == stray.file && !bytes.is_empty()));
        assert!(!made.roster.contains(&stray.file));
    }
}
