//! What is wrong with homes that are lived in: each with a size that is drawn, from hardly to be felt to glaring.

use super::super::building::Trouble;
use super::super::random::Random;
use super::super::truth::Laid;
use super::home::Home;
use super::rooms::PerRoom;

/// What is wrong with a home, for those who solve it.
#[derive(Clone, Debug, Default)]
pub(super) struct Wrong {
    /// When the heat pump of a room gives nothing, in hours from the start.
    pub(super) no_heat_h: PerRoom<Option<(f64, f64)>>,
    /// What is told of it.
    pub(super) laid: Option<Laid>,
}

impl Home {
    /// Makes something go wrong in a home that is well.
    pub(super) fn go_wrong(&mut self, trouble: Trouble, hours: f64, random: &mut Random) {
        let laid = match trouble {
            Trouble::None => return,
            Trouble::ColdRoom => self.cold_room(hours, random),
            Trouble::ClosedDoor => self.closed_door(random),
            Trouble::UnevenHome => self.uneven(random),
            Trouble::NoRecovery => self.no_recovery(random),
            Trouble::HeatFailure => self.heat_failure(hours, random),
            Trouble::Overheating => self.overheating(random),
        };
        let (room, size, span_h) = laid;
        let (from_h, to_h) = span_h.unwrap_or((0.0, hours));
        let room = room.map(|r: usize| self.rooms[r].0);
        self.wrong.laid = Some(Laid { kind: trouble, room, from_h, to_h, size: Some(size) });
    }

    /// A heated room other than the living room, if there is one.
    fn small_heated(&self, random: &mut Random) -> usize {
        let small: Vec<usize> = (1..self.hall()).filter(|r| self.rooms[*r].2).collect();
        random.pick(&small)
    }

    /// One unit gives too little, or nothing; size: the share of its heat that is missing.
    fn cold_room(&mut self, hours: f64, random: &mut Random) -> Told {
        let room = self.small_heated(random);
        if random.happens(0.7) {
            self.habits.open[room] = random.between(0.0, 0.3);
        }
        if random.happens(0.3) {
            let from_h = if random.happens(0.5) { 0.0 } else { random.between(0.1, 0.6) * hours };
            self.wrong.no_heat_h[room] = Some((if from_h > 0.0 { from_h } else { -1e6 }, 1e6));
            return (Some(room), 1.0, Some((from_h, hours)));
        }
        let missing = random.between(0.4, 0.95);
        let needs_w = self.units[room].map_or(0.0, |u| u.rated_w);
        if let Some(unit) = &mut self.units[room] {
            unit.rated_w = needs_w * (1.0 - missing);
        }
        self.house.rooms[room].air_to_outdoors *= random.between(1.0, 1.6);
        (Some(room), missing, None)
    }

    /// A room without heating whose door is always shut; size: how many times as much it loses as usual.
    fn closed_door(&mut self, random: &mut Random) -> Told {
        let unheated: Vec<usize> = (1..self.hall()).filter(|r| !self.rooms[*r].2).collect();
        // Every layout has a bathroom; where both it and the kitchen are heated, its unit was never put in.
        let room = if unheated.is_empty() { self.hall() - 1 } else { random.pick(&unheated) };
        (self.rooms[room].2, self.units[room]) = (false, None);
        let times = random.between(1.2, 3.5);
        self.habits.never_open[room] = true;
        self.house.doorways.retain(|d| d.between != (0, room));
        let of_room = &mut self.house.rooms[room];
        of_room.air_to_outdoors *= times;
        of_room.fabric_to_outdoors *= times;
        of_room.fabric_to_neighbours *= 0.5;
        (Some(room), times, None)
    }

    /// The living room is set warm and the others cool; size: K between the two.
    fn uneven(&mut self, random: &mut Random) -> Told {
        let apart = random.between(1.5, 6.0);
        let up = apart * random.between(0.2, 0.5);
        for r in 0..self.hall() {
            let by = if r == 0 { up } else { up - apart };
            let (day, night) = self.setpoints[r];
            self.setpoints[r] = (day + by, night + by);
            self.habits.open[r] *= random.between(0.0, 0.5);
        }
        (None, apart, None)
    }

    /// All units are too small to bring it back in time; size: the share of their heat that is missing.
    fn no_recovery(&mut self, random: &mut Random) -> Told {
        let missing = random.between(0.35, 0.7);
        self.units.iter_mut().flatten().for_each(|u| u.rated_w *= 1.0 - missing);
        let drop = random.between(2.0, 3.2);
        self.setpoints.iter_mut().for_each(|(day, night)| *night = *day - drop);
        (None, missing, None)
    }

    /// No heat for hours to days; size: the hours.
    fn heat_failure(&mut self, hours: f64, random: &mut Random) -> Told {
        let lasts_h = libm::exp(random.between(libm::log(5.0), libm::log(110.0)));
        let from_h = random.between(0.15, 0.7) * hours;
        self.wrong.no_heat_h = [Some((from_h, from_h + lasts_h)); 8];
        (None, lasts_h, Some((from_h, (from_h + lasts_h).min(hours))))
    }

    /// A thermostat that reads too low, or is set too high; size: how much, K.
    fn overheating(&mut self, random: &mut Random) -> Told {
        let room = if random.happens(0.3) { 0 } else { self.small_heated(random) };
        let by = random.between(1.5, 6.5);
        match (random.happens(0.5), &mut self.units[room]) {
            (true, Some(unit)) => unit.reads_k -= by,
            _ => {
                let (day, night) = self.setpoints[room];
                self.setpoints[room] = (day + by, night + by);
            }
        }
        if let Some(unit) = &mut self.units[room] {
            unit.rated_w *= 1.3;
        }
        self.habits.open[room] *= random.between(0.0, 0.6);
        (Some(room), by, None)
    }
}

/// The room it is about, its size, and when it is so, in hours from the start; `None`: all the time.
type Told = (Option<usize>, f64, Option<(f64, f64)>);
