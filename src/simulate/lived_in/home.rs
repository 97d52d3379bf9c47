//! Homes that are lived in, as they are drawn: rooms, fabric, heat pumps, windows, habits.

use super::super::building::Trouble;
use super::super::plan::NamedRoom;
use super::super::random::Random;
use super::heat_pump::Unit;
use super::people::Habits;
use super::rooms::{DOORWAY_W_K, Doorway, House, PerRoom, Room, WINDOW_W_K};
use super::trouble::Wrong;
use crate::site::Purpose;

/// A kind of room: what is usual of it.
struct Usual {
    name: &'static str,
    purpose: Purpose,
    m2: f64,
    /// To outdoors in all, W/K.
    outdoors: f64,
    /// Glass that lets the sun in, m².
    glass_m2: f64,
    /// How likely it has a heat pump of its own.
    heated: f64,
}

const fn usual(
    name: &'static str,
    purpose: Purpose,
    m2: f64,
    outdoors: f64,
    glass_m2: f64,
    heated: f64,
) -> Usual {
    Usual { name, purpose, m2, outdoors, glass_m2, heated }
}

const LIVING: Usual = usual("living", Purpose::Living, 24.0, 19.0, 2.6, 1.0);
const BEDROOM_1: Usual = usual("bedroom 1", Purpose::Bedroom, 13.5, 9.5, 1.2, 1.0);
const BEDROOM_2: Usual = usual("bedroom 2", Purpose::Bedroom, 11.5, 9.0, 1.0, 1.0);
const BEDROOM_3: Usual = usual("bedroom 3", Purpose::Bedroom, 9.5, 8.0, 0.9, 1.0);
const STUDY: Usual = usual("study", Purpose::Other, 8.5, 7.0, 0.8, 0.85);
const KITCHEN: Usual = usual("kitchen", Purpose::Kitchen, 9.5, 6.0, 0.8, 0.55);
const BATHROOM: Usual = usual("bathroom", Purpose::Bathroom, 5.2, 2.2, 0.25, 0.45);
const HALL: Usual = usual("hall", Purpose::Hall, 7.0, 1.2, 0.0, 0.0);

/// Rooms of homes, the living room first and the hall last.
const LAYOUTS: [&[&Usual]; 5] = [
    &[&LIVING, &BEDROOM_1, &KITCHEN, &BATHROOM, &HALL],
    &[&LIVING, &BEDROOM_1, &BEDROOM_2, &KITCHEN, &BATHROOM, &HALL],
    &[&LIVING, &BEDROOM_1, &BEDROOM_2, &KITCHEN, &BATHROOM, &HALL],
    &[&LIVING, &BEDROOM_1, &STUDY, &KITCHEN, &BATHROOM, &HALL],
    &[&LIVING, &BEDROOM_1, &BEDROOM_2, &BEDROOM_3, &KITCHEN, &BATHROOM, &HALL],
];

/// A home that is lived in.
#[derive(Clone, Debug)]
pub(super) struct Home {
    pub(super) rooms: Vec<NamedRoom>,
    pub(super) house: House,
    pub(super) units: PerRoom<Option<Unit>>,
    /// Setpoints of heated rooms by day and by night, °C.
    pub(super) setpoints: PerRoom<(f64, f64)>,
    /// Minutes of the day at which the night's setpoints begin and end.
    pub(super) night: (usize, usize),
    /// Facade of each room's window, and its glass, m².
    pub(super) facade: PerRoom<usize>,
    pub(super) glass_m2: PerRoom<f64>,
    /// Share of the sun that blinds let through.
    pub(super) blinds: f64,
    /// Appliances that always run, W.
    pub(super) always_w: PerRoom<f64>,
    /// Volume of air, m³.
    pub(super) air_m3: PerRoom<f64>,
    pub(super) neighbours_degc: f64,
    pub(super) habits: Habits,
    pub(super) wrong: Wrong,
}

impl Home {
    /// Draws a home with something wrong, or nothing; `hours` is how long it will be watched.
    pub(super) fn drawn(trouble: Trouble, hours: f64, random: &mut Random) -> Self {
        let layout = LAYOUTS[random.below(LAYOUTS.len())];
        let rooms: Vec<NamedRoom> =
            layout.iter().map(|u| (u.name, u.purpose, random.happens(u.heated))).collect();
        let front = random.below(4);
        let side = [front, (front + 2) % 4, (front + 1) % 4];
        let mut home = Self {
            house: house(layout, &rooms, random),
            units: [None; 8],
            setpoints: setpoints(&rooms, random),
            night: (22 * 60 - 30 * random.below(2), 6 * 60 - 30 * random.below(3)),
            facade: std::array::from_fn(|r| side[if r == 0 { 0 } else { 1 + usize::from(r >= 4) }]),
            glass_m2: std::array::from_fn(|r| {
                layout.get(r).map_or(0.0, |u| u.glass_m2) * random.between(0.6, 1.4)
            }),
            blinds: random.between(0.35, 1.0),
            always_w: std::array::from_fn(|r| match layout.get(r).map(|u| u.purpose) {
                Some(Purpose::Kitchen) => random.between(30.0, 90.0),
                Some(Purpose::Living) => random.between(20.0, 80.0),
                Some(_) => random.between(0.0, 15.0),
                None => 0.0,
            }),
            air_m3: std::array::from_fn(|r| layout.get(r).map_or(1.0, |u| u.m2 * 2.5)),
            neighbours_degc: random.between(19.3, 22.0),
            habits: Habits::drawn(&rooms, hours, random),
            wrong: Wrong::default(),
            rooms,
        };
        home.size_units(random);
        home.go_wrong(trouble, hours, random);
        home
    }

    /// Number of the hall, which is the last room.
    pub(super) fn hall(&self) -> usize {
        self.rooms.len() - 1
    }

    /// Whether a room has a window that the sun comes through straight.
    pub(super) fn has_sun(&self, room: usize) -> bool {
        self.glass_m2[room] > 0.4 && self.facade[room] != 0
    }

    /// A heat pump for each heated room: for its own losses, and for its part of the rooms that have none.
    fn size_units(&mut self, random: &mut Random) {
        let load =
            |r: &Room| (r.air_to_outdoors + r.fabric_to_outdoors) * DESIGN_K + r.fabric_to_ground * GROUND_K;
        let heated = |r: &usize| self.rooms[*r].2;
        let all = 0..self.rooms.len();
        let others: f64 = all.clone().filter(|r| !heated(r)).map(|r| load(&self.house.rooms[r])).sum();
        let number = all.clone().filter(heated).count() as f64;
        // One home in eight has units that are just large enough, and fall behind when it is very cold.
        let margin = if random.happens(0.12) { random.between(0.9, 1.2) } else { random.between(1.3, 2.2) };
        for r in all.filter(heated).collect::<Vec<_>>() {
            let part = if r == 0 { 0.5 } else { 0.5 / (number - 1.0).max(1.0) };
            let own = load(&self.house.rooms[r]) + part * others;
            let rated_w = own * margin * random.between(0.9, 1.15) + random.between(200.0, 500.0);
            self.units[r] = Some(Unit::drawn(rated_w, random));
        }
    }
}

/// What a home is sized for: indoors above outdoors, and above the ground, K.
const DESIGN_K: f64 = 36.0;
const GROUND_K: f64 = 12.0;

/// Rooms, walls and doorways of a layout, with how well it is insulated and where in the building it lies.
fn house(layout: &[&Usual], named: &[NamedRoom], random: &mut Random) -> House {
    let leaky = random.between(0.6, 1.4);
    let party = random.between(0.5, 1.3);
    let ground = if random.happens(0.3) { random.between(0.15, 0.4) } else { 0.0 };
    let roof = if ground <= 0.0 && random.happens(0.3) { random.between(0.1, 0.3) } else { 0.0 };
    let heavy = random.between(0.9e5, 2.4e5);
    let rooms: Vec<Room> = layout
        .iter()
        .zip(named)
        .map(|(u, (_, _, heated))| {
            // Who lays out a heating leaves out rooms that lose little.
            let leaky = if *heated { leaky } else { leaky * random.between(0.4, 0.8) };
            let mut about = |typical: f64| typical * random.between(0.85, 1.15);
            let m2 = about(u.m2);
            Room {
                air_j_k: m2 * 2.5 * 1200.0 * about(4.5),
                fabric_j_k: m2 * about(heavy),
                air_to_fabric: m2 * about(10.0),
                air_to_outdoors: about(u.outdoors * leaky * 0.65),
                fabric_to_outdoors: about(u.outdoors * leaky * 0.35) + m2 * roof,
                fabric_to_neighbours: about(m2 * party) * if ground + roof > 0.0 { 0.6 } else { 1.0 },
                fabric_to_ground: m2 * ground,
                window: if u.glass_m2 > 0.0 { about(WINDOW_W_K) } else { 0.0 },
            }
        })
        .collect();
    let hall = layout.len() - 1;
    let mut doorways: Vec<Doorway> = (0..hall)
        .map(|r| Doorway { between: (r, hall), door_of: r, open: DOORWAY_W_K * random.between(0.85, 1.1) })
        .collect();
    // In some homes the kitchen is open to the living room, without a door: the hall's never shuts.
    if let Some(kitchen) = layout.iter().position(|u| u.name == KITCHEN.name).filter(|_| random.happens(0.3))
    {
        doorways.push(Doorway { between: (0, kitchen), door_of: hall, open: 1.5 * DOORWAY_W_K });
    }
    let mut walls: Vec<(usize, usize, f64)> =
        (0..hall).map(|r| (r, hall, random.between(8.0, 18.0))).collect();
    walls.extend((1..hall).map(|r| (r - 1, r, random.between(5.0, 14.0))));
    House { rooms, doorways, walls }
}

/// Setpoints by day and night: people set about the same in all rooms, in steps of half a degree.
fn setpoints(rooms: &[NamedRoom], random: &mut Random) -> PerRoom<(f64, f64)> {
    let day = random.between(21.2, 22.4);
    let lowers = random.happens(0.75);
    let drop = if lowers { random.between(1.5, 3.0) } else { 0.0 };
    let mut of_rooms = [(day, day - drop); 8];
    for of_room in of_rooms.iter_mut().take(rooms.len()) {
        let own = libm::round((day + random.normal() * 0.25) * 2.0) / 2.0;
        *of_room = (own, own - drop);
    }
    of_rooms
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn homes_differ_in_rooms_and_every_heated_room_has_a_heat_pump() {
        let mut sizes = Vec::new();
        for n in 0..40 {
            let home = Home::drawn(Trouble::None, 500.0, &mut Random::of(3, &[n]));
            for (r, (name, _, heated)) in home.rooms.iter().enumerate() {
                assert_eq!(home.units[r].is_some(), *heated, "{name}");
            }
            assert_eq!(home.rooms[home.hall()].0, "hall");
            sizes.push(home.rooms.len());
        }
        sizes.sort_unstable();
        sizes.dedup();
        assert_eq!(sizes, [5, 6, 7]);
    }
}
