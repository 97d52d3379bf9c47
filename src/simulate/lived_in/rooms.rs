//! Heat between rooms that each have two capacities: a quick one (air with furniture) and a slow one (fabric).
//!
//! What flows in a step is reckoned once from the temperatures at its beginning and booked on both sides, so that no
//! heat is lost between rooms whatever the step. Air through doors and windows is driven by the difference in
//! temperature itself.

/// Rooms that a home has at most.
pub(super) const MOST_ROOMS: usize = 8;

/// Something of each room; places beyond the last room stay as they are.
pub(super) type PerRoom<T> = [T; MOST_ROOMS];

/// Air through an open door of 0.85 m by 2 m at 1 K between its sides, W/K.
///
/// # Source
/// Buoyant exchange through a tall opening, flow = Cd/3 · width · √(g · height³ · ΔT / T) with Cd = 0.6: Brown and Solvason
/// (1962), from memory. It grows with the root of the difference.
pub(super) const DOORWAY_W_K: f64 = 105.0;
/// The same of a casement of 0.6 m by 1 m.
pub(super) const WINDOW_W_K: f64 = 27.0;
/// A shut door: leaf and gaps, W/K.
const SHUT_DOOR_W_K: f64 = 2.5;
/// Below this difference a doorway does not calm down further: people walk through it, K.
const STIRRED_K: f64 = 0.05;
/// Share of the smaller capacity that may flow in a step through one opening for each K, so that no step overshoots.
const MOST_SHARE: f64 = 0.2;

/// What a room is made of.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Room {
    /// Capacity of air and furniture, J/K.
    pub(super) air_j_k: f64,
    /// Capacity of walls, floor and ceiling, J/K.
    pub(super) fabric_j_k: f64,
    /// Between the two, W/K.
    pub(super) air_to_fabric: f64,
    /// Windows and leaks, W/K.
    pub(super) air_to_outdoors: f64,
    /// Outer walls and roof, W/K.
    pub(super) fabric_to_outdoors: f64,
    /// Party walls and floors, W/K.
    pub(super) fabric_to_neighbours: f64,
    /// Floor on the ground, W/K.
    pub(super) fabric_to_ground: f64,
    /// Its window when it is wide open, at 1 K, W/K.
    pub(super) window: f64,
}

/// An opening between two rooms, with the door of one of them in it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Doorway {
    pub(super) between: (usize, usize),
    /// Whose door it is.
    pub(super) door_of: usize,
    /// Wide open, at 1 K, W/K.
    pub(super) open: f64,
}

/// Rooms, what lies between them, and what is in contact with them.
#[derive(Clone, Debug, Default)]
pub(super) struct House {
    pub(super) rooms: Vec<Room>,
    pub(super) doorways: Vec<Doorway>,
    /// Walls between rooms: fabric to fabric, W/K.
    pub(super) walls: Vec<(usize, usize, f64)>,
}

/// Temperatures around a home, °C.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outside {
    pub(super) outdoors: f64,
    pub(super) neighbours: f64,
    pub(super) ground: f64,
}

/// How far doors and windows stand open, 0 to 1.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Openings {
    pub(super) door: PerRoom<f64>,
    pub(super) window: PerRoom<f64>,
}

/// Heat that enters rooms, W.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Heat {
    pub(super) air: PerRoom<f64>,
    pub(super) fabric: PerRoom<f64>,
}

/// Temperatures of a home, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct State {
    pub(super) air: PerRoom<f64>,
    pub(super) fabric: PerRoom<f64>,
}

impl House {
    /// Moves a home one step on; gives what it loses to the outside meanwhile, W.
    pub(super) fn step(
        &self,
        state: &mut State,
        around: (&Outside, &Openings),
        heat: &Heat,
        step_s: f64,
    ) -> f64 {
        let (outside, openings) = around;
        let (mut into_air, mut into_fabric) = (heat.air, heat.fabric);
        let mut lost = 0.0;
        for (r, room) in self.rooms.iter().enumerate() {
            let (air, fabric) = (state.air[r], state.fabric[r]);
            let inward = room.air_to_fabric * (air - fabric);
            let from_air = (room.air_to_outdoors
                + self.through_window(r, openings.window[r], air - outside.outdoors, step_s))
                * (air - outside.outdoors);
            let from_fabric = room.fabric_to_outdoors * (fabric - outside.outdoors)
                + room.fabric_to_neighbours * (fabric - outside.neighbours)
                + room.fabric_to_ground * (fabric - outside.ground);
            into_air[r] -= inward + from_air;
            into_fabric[r] += inward - from_fabric;
            lost += from_air + from_fabric;
        }
        for doorway in &self.doorways {
            let (a, b) = doorway.between;
            let flow = self.through_door(doorway, state, openings, step_s) * (state.air[a] - state.air[b]);
            into_air[a] -= flow;
            into_air[b] += flow;
        }
        for (a, b, w_k) in &self.walls {
            let flow = w_k * (state.fabric[*a] - state.fabric[*b]);
            into_fabric[*a] -= flow;
            into_fabric[*b] += flow;
        }
        for (r, room) in self.rooms.iter().enumerate() {
            state.air[r] += into_air[r] * step_s / room.air_j_k;
            state.fabric[r] += into_fabric[r] * step_s / room.fabric_j_k;
        }
        lost
    }

    /// What flows through a doorway for each K between its sides, W/K.
    pub(super) fn through_door(
        &self,
        doorway: &Doorway,
        state: &State,
        openings: &Openings,
        step_s: f64,
    ) -> f64 {
        let (a, b) = doorway.between;
        let apart = (state.air[a] - state.air[b]).abs();
        let open = openings.door[doorway.door_of];
        let flow = SHUT_DOOR_W_K + open * doorway.open * libm::sqrt(apart + STIRRED_K);
        flow.min(MOST_SHARE * self.rooms[a].air_j_k.min(self.rooms[b].air_j_k) / step_s)
    }

    /// What flows through a window for each K between room and outdoors, W/K.
    pub(super) fn through_window(&self, room: usize, open: f64, apart_k: f64, step_s: f64) -> f64 {
        let room = &self.rooms[room];
        (open * room.window * libm::sqrt(apart_k.abs())).min(MOST_SHARE * room.air_j_k / step_s)
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::random::Random;
    use super::*;

    const SHUT: Openings = Openings { door: [0.0; MOST_ROOMS], window: [0.0; MOST_ROOMS] };

    fn alone() -> House {
        let room = Room {
            air_j_k: 1.0e5,
            fabric_j_k: 4.0e6,
            air_to_fabric: 100.0,
            air_to_outdoors: 10.0,
            fabric_to_outdoors: 10.0,
            ..Room::default()
        };
        House { rooms: vec![room], ..House::default() }
    }

    fn at(degc: f64) -> State {
        State { air: [degc; MOST_ROOMS], fabric: [degc; MOST_ROOMS] }
    }

    const OUTSIDE: Outside = Outside { outdoors: 0.0, neighbours: 20.0, ground: 9.0 };

    /// By hand: dT/dt = A T with A = ((−1.1e-3, 1e-3), (2.5e-5, −2.75e-5)) 1/s; trace −1.1275e-3, determinant 5.25e-9,
    /// so the slow root is −4.6762e-6 1/s: 59.40 h.
    #[test]
    fn without_heat_a_room_cools_at_the_rate_of_its_two_capacities() {
        let (house, mut state) = (alone(), at(20.0));
        let hours = |state: &mut State, hours: usize| {
            (0..hours * 120).for_each(|_| {
                house.step(state, (&OUTSIDE, &SHUT), &Heat::default(), 30.0);
            });
        };
        hours(&mut state, 5);
        let early = state.fabric[0];
        hours(&mut state, 50);
        let time_constant_h = 50.0 / libm::log(early / state.fabric[0]);
        assert!((time_constant_h - 59.40).abs() < 0.06, "{time_constant_h} h");
    }

    /// By hand, the quick root: −1.12282e-3 1/s. With the fabric held at 10 °C by a huge capacity, the air goes to
    /// 100 · 10 / 110 = 9.0909 °C with 1e5 / 110 = 909.1 s.
    #[test]
    fn the_air_alone_follows_within_a_quarter_of_an_hour() {
        let mut house = alone();
        house.rooms[0].fabric_j_k = 1.0e15;
        let mut state = at(10.0);
        state.air[0] = 20.0;
        (0..909).for_each(|_| {
            house.step(&mut state, (&OUTSIDE, &SHUT), &Heat::default(), 1.0);
        });
        let expected = 9.0909 + (20.0 - 9.0909) / std::f64::consts::E;
        assert!((state.air[0] - expected).abs() < 0.01, "{} for {expected}", state.air[0]);
    }

    #[test]
    fn what_comes_in_goes_out_or_is_stored() {
        let mut random = Random::of(1, &[0x5e]);
        let mut house = alone();
        for _ in 1..5 {
            let room = Room {
                air_j_k: random.between(6e4, 2e5),
                fabric_j_k: random.between(1e6, 4e6),
                fabric_to_neighbours: random.between(2.0, 9.0),
                fabric_to_ground: random.between(1.0, 5.0),
                window: WINDOW_W_K,
                ..house.rooms[0]
            };
            house.rooms.push(room);
        }
        house.doorways = (0..4).map(|r| Doorway { between: (r, 4), door_of: r, open: DOORWAY_W_K }).collect();
        house.walls = vec![(0, 1, 20.0), (2, 4, 15.0)];
        let stored = |state: &State| -> f64 {
            let of =
                |(r, room): (usize, &Room)| room.air_j_k * state.air[r] + room.fabric_j_k * state.fabric[r];
            house.rooms.iter().enumerate().map(of).sum()
        };
        let mut state = at(18.0);
        let (before, mut brought, mut moved) = (stored(&state), 0.0, 0.0);
        for i in 0..5000_usize {
            let mut openings = SHUT;
            openings.door[i % 4] = random.unit();
            openings.window[i % 5] = random.unit();
            let mut heat = Heat::default();
            (heat.air[i % 5], heat.fabric[i % 3]) = (random.between(0.0, 2500.0), 300.0);
            let was = state;
            let lost = house.step(&mut state, (&OUTSIDE, &openings), &heat, 30.0);
            assert!((lost - outward(&house, &was, &openings)).abs() < 1e-6, "{lost} W");
            let came = heat.air.iter().chain(&heat.fabric).sum::<f64>();
            brought += (came - lost) * 30.0;
            moved += came * 30.0;
        }
        let more = stored(&state) - before;
        assert!((more - brought).abs() < 1e-9 * moved, "{more} J stored, {brought} J brought");
        assert!(more.abs() > 0.01 * moved, "nothing was stored: {more} J");
    }

    /// What a home loses, from each of its contacts by itself.
    fn outward(house: &House, state: &State, openings: &Openings) -> f64 {
        let of = |(r, room): (usize, &Room)| {
            let window = openings.window[r] * room.window * libm::sqrt(state.air[r].abs());
            (room.air_to_outdoors + window) * state.air[r]
                + room.fabric_to_outdoors * state.fabric[r]
                + room.fabric_to_neighbours * (state.fabric[r] - 20.0)
                + room.fabric_to_ground * (state.fabric[r] - 9.0)
        };
        house.rooms.iter().enumerate().map(of).sum()
    }
}
