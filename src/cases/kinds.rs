//! What can have happened, a static each: what a person calls it, what else it may be, what to do first and what to bring.

use crate::findings::About;

/// A kind of case.
#[derive(Debug)]
pub struct CaseKind {
    /// The name in tables.
    pub id: &'static str,
    /// A few words for a list: `no heat`, `too cold`.
    pub words: &'static str,
    /// What is seen, in one sentence.
    pub shows: &'static str,
    /// What else could look like this, both ways.
    pub could_also_be: &'static str,
    /// The first step, for the cause.
    pub next_step: &'static str,
    /// What to bring.
    pub bring: &'static str,
    /// About the building or the record.
    pub about: About,
    /// Where the first step is done.
    pub done: Done,
}

/// Where the first step of a case is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Done {
    /// In the home.
    There,
    /// In the roster or the site file.
    AtDesk,
    /// There is nothing to do.
    Nowhere,
}

impl CaseKind {
    /// Whether it is a time without heat, with a beginning and an end.
    pub fn is_outage(&self) -> bool {
        [&BUILDING_COLD, &NO_HEAT, &NO_HEAT_IN_ROOM].contains(&self)
    }

    /// Whether rooms lay far below what is usual for a while, without heat or with too little of it.
    pub fn is_for_a_while(&self) -> bool {
        self.is_outage() || [&HELD_LOW, &FALLS_BEHIND].contains(&self)
    }

    /// Whether a room, or the home, is too cold, at whatever time of the day.
    pub fn is_cold(&self) -> bool {
        self.is_outage()
            || [&NEAR_FREEZING, &TOO_COLD, &FALLS_BEHIND, &SET_LOW, &CUT_OFF, &SLOW_TO_RETURN].contains(&self)
    }

    /// Whether a room is too warm.
    pub fn is_warm(&self) -> bool {
        [&OVERHEATS, &SET_HIGH].contains(&self)
    }
}

/// Two are the same where they are the same static.
impl PartialEq for CaseKind {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self, other)
    }
}

macro_rules! kinds {
    ($($name:ident = $kind:expr;)+) => {
        $(
            #[doc = concat!("The kind `", stringify!($name), "`; what it means stands in its fields.")]
            pub(super) static $name: CaseKind = $kind;
        )+
        /// Every kind, those about the building first.
        pub static KINDS: &[&CaseKind] = &[$(&$name),+];
    };
}

kinds! {
    BUILDING_COLD = CaseKind {
        id: "building-cold",
        words: "building without heat",
        shows: "more than half of the homes, and at least three, were without heat in the same hours",
        could_also_be: "a cut in the supply, or weather beyond what the heating was made for",
        next_step: "look at the supply of the building and at the weather of those hours before any home is visited",
        bring: "keys of the plant room, contact of the supplier",
        about: About::Building,
        done: Done::There,
    };
    NO_HEAT = CaseKind {
        id: "no-heat",
        words: "no heat",
        shows: "the heated rooms of a home were at least 3 K below what is usual for them at that hour, together, for 2 h or more, while the building was not",
        could_also_be: "heating turned down by people who were away, or windows kept open; not so, if they were at home and cold",
        next_step: "ask the people who live there; look at the heat pumps of this home and their supply (breaker, outdoor unit, fault memory)",
        bring: "meter for the supply, list of fault codes, thermometer",
        about: About::Building,
        done: Done::There,
    };
    NO_HEAT_IN_ROOM = CaseKind {
        id: "no-heat-in-room",
        words: "no heat in one room",
        shows: "one heated room was at least 3 K below what is usual for it at that hour, for 2 h or more, while the others held",
        could_also_be: "a window left open, heating turned off by hand, or a logger moved to a colder place",
        next_step: "ask about the window and the heating; look at this room's heating (supply, fault memory, filter)",
        bring: "list of fault codes, filter, thermometer",
        about: About::Building,
        done: Done::There,
    };
    HELD_LOW = CaseKind {
        id: "held-low",
        words: "held at a low level",
        shows: "heated rooms were at least 3 K below what is usual for them at that hour, and stood still at that level, of 16 °C or more, for half a day and more: there was heat",
        could_also_be: "heating that could give no more in steady weather; no failure, after which rooms go on falling",
        next_step: "ask the people who live there whether they turned it down or were away; else look at setting, schedule and control",
        bring: "remote control, thermometer",
        about: About::Building,
        done: Done::There,
    };
    NEAR_FREEZING = CaseKind {
        id: "near-freezing",
        words: "near freezing",
        shows: "a room was at 5 °C or less",
        could_also_be: "a logger outdoors or in a cold car, or readings in another unit",
        next_step: "look after pipes and people today: water off and drained where pipes may freeze; then find out why",
        bring: "key of the water valve, thermometer",
        about: About::Building,
        done: Done::There,
    };
    TOO_COLD = CaseKind {
        id: "too-cold",
        words: "too cold",
        shows: "a room is too cold, and the record does not tell why: its setting, its output, or how it is used",
        could_also_be: "a window kept open, a heater turned down by choice, or a logger on a cold outside wall or in a draught",
        next_step: "look where the logger stands, then at windows and doors, at the heating's setting and at what it gives",
        bring: "thermometer, remote control, filter",
        about: About::Building,
        done: Done::There,
    };
    FALLS_BEHIND = CaseKind {
        id: "falls-behind-in-cold",
        words: "too cold in cold weather",
        shows: "a heated room is the colder the colder it is outdoors, and surely below what is asked for on the coldest days",
        could_also_be: "a window kept open in cold weather, sun that warms the room on mild days only, or a logger on a cold outside wall",
        next_step: "look at what the heating gives on a cold day: filter, air paths, outdoor unit, refrigerant and defrosting, then its size",
        bring: "thermometer, filter, gauge set, data sheet of the heating",
        about: About::Building,
        done: Done::There,
    };
    SET_LOW = CaseKind {
        id: "set-low",
        words: "set too low",
        shows: "a heated room is too cold by the same in mild and in cold weather: its heating holds, at a low level",
        could_also_be: "a heater turned down by choice, or a logger in a colder place than the thermostat",
        next_step: "compare setting and schedule with what is asked for; look where the thermostat is",
        bring: "thermometer, remote control",
        about: About::Building,
        done: Done::There,
    };
    SET_HIGH = CaseKind {
        id: "set-high",
        words: "set too warm",
        shows: "a heated room is too warm by the same in mild and in cold weather: its heating holds, at a high level",
        could_also_be: "a setting chosen by the people who live there, or a logger in a warmer place than the thermostat",
        next_step: "compare setting and schedule with what is asked for; look where the thermostat is",
        bring: "thermometer, remote control",
        about: About::Building,
        done: Done::There,
    };
    CUT_OFF = CaseKind {
        id: "cut-off",
        words: "cut off from the heat",
        shows: "a room without heating of its own is colder than it should be beside the heated ones",
        could_also_be: "a door or window kept as people like it, or a logger on a cold wall or on the floor",
        next_step: "leave the door as people keep it: does air from the heated rooms reach this one, and is a window open?",
        bring: "thermometer, tape measure for the gap below the door, transfer grille",
        about: About::Building,
        done: Done::There,
    };
    UNEVEN = CaseKind {
        id: "uneven",
        words: "rooms far apart",
        shows: "the rooms of a home are further apart than the limit, and no room alone explains it",
        could_also_be: "rooms kept cool or warm by choice, doors kept shut, or a logger in a bad place",
        next_step: "look first at the coldest and the warmest room, at doors between them, and at where their loggers stand",
        bring: "thermometer",
        about: About::Building,
        done: Done::There,
    };
    SLOW_TO_RETURN = CaseKind {
        id: "slow-to-return",
        words: "slow to warm up in the morning",
        shows: "heated rooms are back at their target too late after the setback",
        could_also_be: "a schedule or setpoint other than the one that was told, or a door or window open at night",
        next_step: "compare schedule and setpoint with what is asked for; if they agree, try a smaller setback and check the output on a cold morning",
        bring: "schedule, remote control, filter",
        about: About::Building,
        done: Done::There,
    };
    OVERHEATS = CaseKind {
        id: "overheats",
        words: "too warm",
        shows: "a room is above its band for too many hours",
        could_also_be: "a setting chosen by the people who live there, or sun or a heat source on the logger",
        next_step: "look whether sun reaches room or logger, then at the heating's setting and where the thermostat is",
        bring: "thermometer, remote control",
        about: About::Building,
        done: Done::There,
    };
    STUCK = CaseKind {
        id: "stuck",
        words: "logger stuck",
        shows: "a logger repeats one value while the room must have moved",
        could_also_be: "a room that truly stands still while the others move",
        next_step: "replace the logger; its stuck time is in no number",
        bring: "logger",
        about: About::Record,
        done: Done::There,
    };
    MOVED = CaseKind {
        id: "moved",
        words: "logger elsewhere",
        shows: "for some time a logger was not in its room",
        could_also_be: "a room with its window open, or a heater of its own",
        next_step: "ask when the logger was moved; then, at the desk, give it rows with `from` and `to` in the roster",
        bring: "label of the room",
        about: About::Record,
        done: Done::There,
    };
    SWAPPED = CaseKind {
        id: "swapped",
        words: "loggers exchanged",
        shows: "from some day on two loggers show each other's rooms",
        could_also_be: "two rooms that changed their use with each other",
        next_step: "look at both labels; then, at the desk, give each logger two rows in the roster",
        bring: "labels of both rooms",
        about: About::Record,
        done: Done::There,
    };
    CLOCK = CaseKind {
        id: "clock",
        words: "clock in doubt",
        shows: "a logger's times do not fit those of the other rooms",
        could_also_be: "a room that is used at other hours",
        next_step: "compare the logger's clock with a watch; then, at the desk, correct `clock` in the roster, or a wrong `time_zone` in the site file",
        bring: "watch, cable of the logger",
        about: About::Record,
        done: Done::There,
    };
    SUN = CaseKind {
        id: "sun",
        words: "sun on the logger",
        shows: "a logger is warmed by the sun at some hours of the day",
        could_also_be: "sun that warms the whole room",
        next_step: "move the logger out of the sun and record again",
        bring: "logger stand",
        about: About::Record,
        done: Done::There,
    };
    HEATER = CaseKind {
        id: "heater",
        words: "heat on the logger",
        shows: "a logger is warmed by something beside it",
        could_also_be: "a heater of this room alone, cooking or a fire that warms the whole room",
        next_step: "move the logger away from heater, oven or electronics and record again",
        bring: "logger stand",
        about: About::Record,
        done: Done::There,
    };
    SENSOR = CaseKind {
        id: "sensor",
        words: "logger reads wrong",
        shows: "a logger's level jumps, drifts, spikes, lies outside of what it can read, or is off beside others",
        could_also_be: "steam, airing or cooking (spikes), or a door shut for good and another use of the room (jumps, drift)",
        next_step: "hold the logger beside another for a day; replace it if they differ",
        bring: "second logger",
        about: About::Record,
        done: Done::There,
    };
    UNIT = CaseKind {
        id: "unit",
        words: "°C or °F in doubt",
        shows: "readings look like °F taken for °C, or the other way round",
        could_also_be: "a room that truly is so cold or so hot",
        next_step: "at the desk, no visit: write °C or °F, as the logger is set, into `unit` of the roster and run again",
        bring: "nothing",
        about: About::Record,
        done: Done::AtDesk,
    };
    HANDLED = CaseKind {
        id: "handled",
        words: "logger handled",
        shows: "a logger was in a hand, a bag or a box at the start or end of its record",
        could_also_be: "people or cooking beside it just then",
        next_step: "nothing: that time is left out; with `from` and `to` in the roster it is said",
        bring: "nothing",
        about: About::Record,
        done: Done::Nowhere,
    };
    FADES = CaseKind {
        id: "fades",
        words: "logger fading",
        shows: "a logger stores fewer and fewer readings",
        could_also_be: "a radio link that gets worse",
        next_step: "replace the battery, or the logger, and record again",
        bring: "battery, logger",
        about: About::Record,
        done: Done::There,
    };
    MISSING = CaseKind {
        id: "missing",
        words: "readings missing",
        shows: "hours or days without a usable value",
        could_also_be: "loggers that were placed later or collected earlier on purpose",
        next_step: "look for the rest of the downloads; else record again",
        bring: "battery, cable of the logger",
        about: About::Record,
        done: Done::AtDesk,
    };
    TOGETHER = CaseKind {
        id: "together",
        words: "loggers together",
        shows: "the loggers of a home lay in one place at the start or the end of their records",
        could_also_be: "rooms with open doors that cool together",
        next_step: "where they lay in one box, write that into the roster or the site file: the finding has the cells",
        bring: "nothing",
        about: About::Record,
        done: Done::AtDesk,
    };
    OTHER_TIME = CaseKind {
        id: "other-time",
        words: "record of another time",
        shows: "the whole record of a logger lies outside the time that is judged",
        could_also_be: "a date that was never set, or set a year off",
        next_step: "take an old download out of the roster and of the exports folder; where its dates are wrong, correct them in the export",
        bring: "nothing",
        about: About::Record,
        done: Done::AtDesk,
    };
    ALIKE = CaseKind {
        id: "alike",
        words: "records alike",
        shows: "two records are one",
        could_also_be: "two files of one logger, one of them older",
        next_step: "at the desk: find out which room each file belongs to, and correct the roster",
        bring: "list of loggers and rooms",
        about: About::Record,
        done: Done::AtDesk,
    };
}

/// The kind of case that a finding about a record belongs to, by its rule.
pub fn of_record(rule: &str) -> &'static CaseKind {
    match rule {
        "stuck" | "may-be-stuck" => &STUCK,
        "logger-elsewhere" | "logger-moved" => &MOVED,
        "loggers-exchanged" => &SWAPPED,
        "clock-suspect" => &CLOCK,
        "out-of-period" => &OTHER_TIME,
        "sun-on-logger" => &SUN,
        "heat-on-logger" => &HEATER,
        "wrong-unit" => &UNIT,
        "logger-handled" => &HANDLED,
        "record-fades" => &FADES,
        "thin-coverage" | "partial-record" | "shorter-record" | "hole" | "not-a-number" | "no-value" => {
            &MISSING
        }
        "loggers-together" => &TOGETHER,
        "same-readings" | "logger-in-two-rooms" => &ALIKE,
        _ => &SENSOR,
    }
}
