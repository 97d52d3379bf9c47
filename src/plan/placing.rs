//! Where a logger stands well, and how that is known.

/// Height above the floor at which a logger stands where the roster names none, in m: the head of somebody who sits.
///
/// # Source
/// ISO 7726:1998, table 5 (seated 0.1, 0.6 and 1.1 m; standing 0.1, 1.1 and 1.7 m), and ASHRAE 55, from memory.
pub const HEIGHT_M: f64 = 1.1;
/// Lowest height that still is about a person, in m: the waist of somebody who sits. Source: as [`HEIGHT_M`].
pub const HEIGHT_FROM_M: f64 = 0.6;
/// Highest, in m: the head of somebody who stands. Source: as [`HEIGHT_M`].
pub const HEIGHT_TO_M: f64 = 1.7;

/// A word about where to place a logger.
#[derive(Debug)]
pub struct Advice {
    /// What to do.
    pub what: &'static str,
    /// Why, or how it is known.
    pub known: &'static str,
}

const PRACTICE: &str = "common practice, no published source";

/// What to see to in every room, the height first.
pub static ADVICE: &[Advice] = &[
    Advice {
        what: "About 1.1 m above the floor, the same in all rooms; anything from 0.6 m to 1.7 m will do if all stand alike. Write the height into the roster.",
        known: "head of somebody who sits; waist seated to head standing: ISO 7726:1998 table 5 and ASHRAE 55, from memory",
    },
    Advice {
        what: "Well inside the room, 1 m from outside walls and windows. Where it must be a wall, an inside wall, with a gap behind the logger.",
        known: "centre of the room, or 1 m in from the centre of a wall: ASHRAE 55-2017, 7.3, from memory",
    },
    Advice { what: "Where no sun comes at any hour of the day, low winter sun too.", known: PRACTICE },
    Advice {
        what: "Out of the air that a heat pump, a fan or a vent blows, and not above or below it.",
        known: PRACTICE,
    },
    Advice {
        what: "Away from whatever is warm or cold by itself: stove, oven, fridge, television, lamps, pipes, an outside door.",
        known: PRACTICE,
    },
    Advice {
        what: "In bathrooms and kitchens out of the steam; not in a cupboard, behind a curtain or under a bed.",
        known: PRACTICE,
    },
    Advice {
        what: "Out of reach of small children and pets, and where nobody will carry it away; say what it is for and when it is collected.",
        known: PRACTICE,
    },
    Advice {
        what: "All loggers set to one clock, one interval (10 min or shorter) and room for the whole time; note the clock they follow (`clock`).",
        known: "an hourly logger has no ramps and hardly a recovery; a full memory ends a record",
    },
];
