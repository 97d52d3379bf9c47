//! Homes as they are drawn from the seed: rooms, walls, doors, heat pumps, habits, and what is wrong with them.

use serde::Serialize;

use super::mixed::{CUPBOARD, HomeKind};
use super::network::Network;
use super::random::Random;
use crate::site::Purpose;

/// Rooms of every home, in roster order.
pub(super) const ROOMS: [(&str, Purpose, bool); 6] = [
    ("living", Purpose::Living, true),
    ("bedroom 1", Purpose::Bedroom, true),
    ("bedroom 2", Purpose::Bedroom, true),
    ("kitchen", Purpose::Kitchen, false),
    ("bathroom", Purpose::Bathroom, false),
    ("hall", Purpose::Hall, false),
];
const LIVING: usize = 0;
const BEDROOM_2: usize = 2;
const KITCHEN: usize = 3;
const BATHROOM: usize = 4;
const HALL: usize = 5;

/// Something true that an audit should see.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Trouble {
    /// Nothing is wrong.
    None,
    /// The heat pump of one room is weak, and its walls are poor; or it is off.
    ColdRoom,
    /// The door of a room without heating is always shut, and it has outside walls.
    ClosedDoor,
    /// The living room is set warm, the bedrooms cool, doors shut.
    UnevenHome,
    /// All heat pumps are too small to recover from setback in time.
    NoRecovery,
    /// No heat for hours to days.
    HeatFailure,
    /// One room is set far too warm.
    Overheating,
}

/// All troubles, and none.
pub(super) const TROUBLES: [Trouble; 7] = [
    Trouble::None,
    Trouble::ColdRoom,
    Trouble::ClosedDoor,
    Trouble::UnevenHome,
    Trouble::NoRecovery,
    Trouble::HeatFailure,
    Trouble::Overheating,
];

/// A home.
#[derive(Clone, Debug)]
pub(super) struct Design {
    pub(super) trouble: Trouble,
    /// Conductances in W/K and capacities in J/K per room.
    rooms: [RoomDesign; 6],
    /// Mean temperature of the neighbours.
    pub(super) neighbours_degc: f64,
    /// Setpoint by day and by night of each heated room, °C.
    pub(super) setpoints: [(f64, f64); 6],
    /// Rated heat of each room's heat pump at 7 °C outdoors, W; 0 in rooms without one.
    pub(super) rated_w: [f64; 6],
    /// Doors that people shut at night.
    pub(super) shut_at_night: [bool; 6],
    /// Doors that are never open.
    pub(super) always_shut: [bool; 6],
    /// Hours from the start during which there is no heat.
    pub(super) no_heat_h: Option<(f64, f64)>,
    /// People who sleep in the bedrooms.
    pub(super) sleepers: [f64; 2],
    /// Facade of each room.
    pub(super) facade: [usize; 6],
    /// Window that lets sun in, m².
    pub(super) window_m2: [f64; 6],
    /// When showers and cooking start, minutes of the day.
    pub(super) shower_minute: usize,
    pub(super) dinner_minute: usize,
    /// How much of the usual heat people and sun bring.
    pub(super) gains_share: f64,
}

#[derive(Clone, Copy, Debug)]
struct RoomDesign {
    air: f64,
    mass: f64,
    inner: f64,
    outdoors: f64,
    neighbours: f64,
    door_open: f64,
}

/// Conductance of a shut door, W/K.
const DOOR_SHUT: f64 = 4.0;
/// Outside temperatures of the network: outdoors, neighbours.
pub(super) const OUTDOORS: usize = 0;
pub(super) const NEIGHBOURS: usize = 1;

impl Design {
    /// Draws a home; `days` is how long it will be watched.
    pub(super) fn new(seed: u64, home: usize, trouble: Trouble, days: usize) -> Self {
        let mut random = Random::of(seed, &[home as u64, 0xd5]);
        let rooms = std::array::from_fn(|r| RoomDesign::new(r, trouble, &mut random));
        let day = random.between(20.8, 22.0);
        let night = day - random.between(2.0, 3.2);
        let mut setpoints = [(day, night); 6];
        let mut rated_w = std::array::from_fn(|r: usize| {
            if ROOMS[r].2 { rooms[r].design_load_w() * random.between(1.7, 2.3) + 500.0 } else { 0.0 }
        });
        // The living room's heat pump carries the rooms that have none.
        rated_w[LIVING] += rooms[KITCHEN..].iter().map(RoomDesign::design_load_w).sum::<f64>() * 1.3;
        let mut shut_at_night = std::array::from_fn(|r| (1..=2).contains(&r) && random.happens(0.5));
        let mut always_shut = [false; 6];
        let mut no_heat_h = None;
        match trouble {
            Trouble::None => {}
            Trouble::ColdRoom => {
                rated_w[BEDROOM_2] *= 0.12;
                always_shut[BEDROOM_2] = true;
            }
            Trouble::ClosedDoor => always_shut[BATHROOM] = true,
            Trouble::UnevenHome => {
                setpoints[LIVING] = (day + 1.6, night + 2.5);
                setpoints[1] = (day - 2.6, night - 1.0);
                setpoints[2] = (day - 2.6, night - 1.0);
                (shut_at_night, always_shut) =
                    ([false, true, true, false, false, false], [false, true, true, false, false, false]);
            }
            Trouble::NoRecovery => rated_w = rated_w.map(|w| w * 0.42),
            Trouble::HeatFailure => {
                let from = random.between(0.2, 0.6) * days as f64 * 24.0;
                no_heat_h = Some((from, from + random.between(48.0, 110.0)));
            }
            Trouble::Overheating => {
                setpoints[BEDROOM_2] = (26.8, 26.0);
                rated_w[BEDROOM_2] *= 1.5;
                always_shut[BEDROOM_2] = true;
            }
        }
        let front = random.below(4);
        Self {
            trouble,
            rooms,
            neighbours_degc: random.between(19.5, 21.5),
            setpoints,
            rated_w,
            shut_at_night,
            always_shut,
            no_heat_h,
            sleepers: [random.pick(&[1.0, 2.0]), random.pick(&[0.0, 1.0, 1.0])],
            facade: [front, (front + 2) % 4, (front + 2) % 4, front, (front + 1) % 4, (front + 1) % 4],
            window_m2: [2.0, 0.9, 0.9, 0.8, 0.3, 0.0].map(|m2| m2 * random.between(0.7, 1.3)),
            shower_minute: 370 + random.below(80),
            dinner_minute: 1040 + random.below(100),
            gains_share: 1.0,
        }
    }

    /// Makes a drawn home one of another kind; `days` is how long it will be watched.
    pub(super) fn of_kind(mut self, kind: HomeKind, days: usize, random: &mut Random) -> Self {
        match kind {
            HomeKind::Usual => {}
            HomeKind::Steady => {
                let degc = random.between(18.6, 21.5);
                let slow = random.between(4.0, 12.0);
                self.setpoints = [(degc, degc); 6];
                self.gains_share = 0.15;
                self.scale(|r| (r.mass, r.outdoors) = (r.mass * slow, r.outdoors * 0.3));
            }
            HomeKind::Unheated => {
                let sheltered = random.between(0.0, 1.8);
                (self.rated_w, self.gains_share) = ([0.0; 6], 0.2);
                self.scale(|r| r.neighbours *= sheltered);
            }
            HomeKind::Frost => {
                let from = random.between(0.1, 0.6) * days as f64 * 24.0;
                (self.no_heat_h, self.gains_share) = (Some((from, 2.0 * days as f64 * 24.0)), 0.15);
                self.scale(|r| (r.neighbours, r.mass) = (r.neighbours * 0.05, r.mass * 0.6));
            }
            HomeKind::Cupboard => {
                let day = random.between(43.0, 49.0);
                self.setpoints[CUPBOARD] = (day, day - random.between(0.0, 5.0));
                (self.rated_w[CUPBOARD], self.always_shut[CUPBOARD]) = (900.0, true);
            }
            HomeKind::Summer => (self.rated_w, self.neighbours_degc) = ([0.0; 6], random.between(24.0, 27.0)),
            HomeKind::Hot => {
                (self.rated_w, self.neighbours_degc) = ([0.0; 6], random.between(29.0, 33.0));
                (self.gains_share, self.shut_at_night) = (random.between(1.0, 2.2), [true; 6]);
            }
        }
        self
    }

    fn scale(&mut self, by: impl Fn(&mut RoomDesign)) {
        self.rooms.iter_mut().for_each(by);
    }

    /// Air nodes are 0 to 5 in room order, mass nodes 6 to 11; `shut` says which doors are.
    pub(super) fn network(&self, shut: [bool; 6]) -> Network {
        let mut network = Network::default();
        for capacity in self.rooms.iter().map(|r| r.air).chain(self.rooms.iter().map(|r| r.mass)) {
            network.node(capacity);
        }
        for (i, r) in self.rooms.iter().enumerate() {
            network.join(i, 6 + i, r.inner);
            // Windows and leaks join the air with outdoors, walls the mass.
            network.join_outside(i, OUTDOORS, r.outdoors * 0.6);
            network.join_outside(6 + i, OUTDOORS, r.outdoors * 0.4);
            network.join_outside(6 + i, NEIGHBOURS, r.neighbours);
            if i != HALL {
                network.join(i, HALL, if shut[i] { DOOR_SHUT } else { r.door_open });
            }
        }
        network
    }
}

impl RoomDesign {
    fn new(room: usize, trouble: Trouble, random: &mut Random) -> Self {
        let mut about = |typical: f64| typical * random.between(0.85, 1.15);
        let area = about([24.0, 13.0, 11.0, 9.0, 5.5, 6.5][room]);
        let mut outdoors = about([18.0, 9.0, 9.0, 5.0, 1.8, 1.0][room]);
        if (room == BATHROOM && trouble == Trouble::ClosedDoor)
            || (room == BEDROOM_2 && trouble == Trouble::ColdRoom)
        {
            outdoors *= if room == BATHROOM { 2.2 } else { 1.8 };
        }
        let usual = about(area * 0.7);
        let neighbours = if room == BATHROOM && trouble == Trouble::ClosedDoor { 4.0 } else { usual };
        Self {
            air: area * 2.5 * 1200.0 * about(5.0),
            mass: area * about(1.6e5),
            inner: area * about(9.0),
            outdoors,
            neighbours,
            door_open: about([220.0, 130.0, 130.0, 200.0, 110.0, 0.0][room]),
        }
    }

    /// Heat needed at −18 °C outdoors and 21 °C inside, W.
    fn design_load_w(&self) -> f64 {
        self.outdoors * 39.0
    }
}
