//! Things that lasted: what kinds there are, and what a row of the events table holds.

use crate::clock::Span;

/// What kind of event was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EventKind {
    /// A room below its band without a break.
    BelowBand,
    /// A room above its band without a break.
    AboveBand,
    /// The rooms of a home further apart than the limit without a break.
    SpreadOverLimit,
    /// A room on its way back to the target after a scheduled setback.
    Recovery,
    /// The same after a setback that was found in the data.
    RecoveryFound,
    /// A room (or home) below the heat rule's minimum, beyond the sensor accuracy.
    HeatRuleShortfall,
    /// A room certainly below 16 °C for half a day.
    SeriousCold,
    /// A room so cold that pipes may freeze.
    NearFreezing,
    /// A room so hot that it is a danger to people.
    VeryHot,
    /// The heated rooms of a home far below what is usual at that hour, together.
    NoHeat,
    /// The same, while nothing tells that people were at home.
    NoHeatNobody,
    /// One heated room far below it, while the others hold.
    NoHeatInRoom,
    /// The heated rooms of a home as far below it, but held at one level.
    HeldLow,
    /// One heated room held as far below it, while the others hold theirs.
    HeldLowInRoom,
    /// The heated rooms of a home as far below it, with heating that gave all it can.
    FellBehind,
    /// One heated room as far below it, with heating that gave all it can, while the others hold.
    FellBehindInRoom,
}

impl EventKind {
    /// All kinds.
    pub const ALL: [EventKind; 16] = [
        EventKind::BelowBand,
        EventKind::AboveBand,
        EventKind::SpreadOverLimit,
        EventKind::Recovery,
        EventKind::RecoveryFound,
        EventKind::HeatRuleShortfall,
        EventKind::SeriousCold,
        EventKind::NearFreezing,
        EventKind::VeryHot,
        EventKind::NoHeat,
        EventKind::NoHeatNobody,
        EventKind::NoHeatInRoom,
        EventKind::HeldLow,
        EventKind::HeldLowInRoom,
        EventKind::FellBehind,
        EventKind::FellBehindInRoom,
    ];

    /// The words in tables.
    pub const fn words(self) -> &'static str {
        match self {
            EventKind::BelowBand => "below band",
            EventKind::AboveBand => "above band",
            EventKind::SpreadOverLimit => "spread over limit",
            EventKind::Recovery => "setback recovery",
            EventKind::RecoveryFound => "setback recovery, found in the data",
            EventKind::HeatRuleShortfall => "heat-rule shortfall",
            EventKind::SeriousCold => "below 16 °C",
            EventKind::NearFreezing => "near freezing",
            EventKind::VeryHot => "very hot",
            EventKind::NoHeat => "no heat",
            EventKind::NoHeatNobody => "no heat, nobody about",
            EventKind::NoHeatInRoom => "no heat in a room",
            EventKind::HeldLow => "held low",
            EventKind::HeldLowInRoom => "a room held low",
            EventKind::FellBehind => "fell behind",
            EventKind::FellBehindInRoom => "a room fell behind",
        }
    }

    /// What its value is.
    pub const fn definition(self) -> &'static str {
        match self {
            EventKind::BelowBand => {
                "an unbroken run of values below the lower limit of the band; the value is the lowest of them"
            }
            EventKind::AboveBand => {
                "an unbroken run of values above the upper limit of the band; the value is the highest of them"
            }
            EventKind::SpreadOverLimit => {
                "an unbroken run of instants with a room-to-room spread over the limit; the value is the largest spread"
            }
            EventKind::Recovery => {
                "a room colder than the line when recovery from a scheduled setback begins, until it reaches the line and stays for 15 min; the value is its temperature at the start, the limit the line (target minus tolerance); censored: it did not reach the line within 6 h, before the next setback or before a hole in the record"
            }
            EventKind::RecoveryFound => {
                "as `setback recovery`, after a setback that the site file does not give and that was found in the data"
            }
            EventKind::HeatRuleShortfall => {
                "a run of values below the heat rule's minimum even with the sensor accuracy added, bridging up to 30 min too close to call; the value is the one furthest under its minimum, the limit that minimum; check the current local text; this is a measurement, no legal finding"
            }
            EventKind::SeriousCold => {
                "12 h or more certainly below 16 °C, even with the sensor accuracy added, holes of up to 2 h and up to 30 min too close to call left out; the value is the lowest"
            }
            EventKind::NearFreezing => {
                "values of 5 °C or less, breaks of up to 2 h bridged; the value is the lowest"
            }
            EventKind::VeryHot => {
                "values of 35 °C or more, breaks of up to 2 h bridged; the value is the highest"
            }
            EventKind::NoHeat => {
                "the heated rooms of a home (of four and more all but one) at least 3 K below their own median for that hour of the day in the five weeks around it (weekends apart from 4 of their days on; records of 7 days and more), together, for 2 h or more, breaks of up to 1 h bridged; from where half of them are last within 0.5 K of it, at most 48 h before, until they are within 1 K again, at most 48 h later; times that touch once they are widened so are one; told where a room gets colder than the band (without one: than 18 °C); the value is the lowest of them, the limit the coldest of them as the fall began; censored: no value comes after it"
            }
            EventKind::NoHeatNobody => {
                "as `no heat`, while kitchen and bathroom showed no sign of people: from the start of the fall to the last instant far below what is usual, 20 h or more, the share of the looks (every 15 min) at which a room was over 0.4 K above its own median of the 2 h before and after is at most a fifth of that share at other times (12 h and more beside it; 500 looks or more), summed over the rooms in which that share is 1 % or more; from two fifths on people were about"
            }
            EventKind::NoHeatInRoom => {
                "as `no heat`, of one heated room, while the median of the others lies less than 1.5 K below what is usual; the value is its lowest, the limit its temperature as the fall began"
            }
            EventKind::HeldLow => {
                "as `no heat`, but held: from the first to the last of its instants at least 3 K below what is usual it is 12 h or more, and of the heated rooms that fell (the median of those hours lies 1.5 K and more below what is usual) each has a median of 16 °C or more. Either nobody seems to have been at home, or nothing tells (`no heat, nobody about`), it is not `fell behind`, and the first of those instants comes within 30 h of its start, and each of the rooms lies within 0.7 K of its own median over those hours at 75 % of the instants, half of the rooms at 90 %, 20 h and more from its start to the last of them. Or half of the rooms, and two or all of them, stand still: from some instant within 36 h of its start on (tried every 1.5 h), for 12 h and more, to the last of those instants, a room lies within 0.3 K of its median over that time at 75 % of the instants with a value, and no more than 0.5 K below it at 95 %. What has no heat goes on falling"
            }
            EventKind::HeldLowInRoom => "as `held low`, of one heated room, while the others hold",
            EventKind::FellBehind => {
                "as `no heat`, and half of the rooms do not stand still (`held low`), but heated with all there was: from the first to the last of its instants at least 3 K below what is usual it is 12 h or more, over which the mean of the heated rooms lies in the median at least a share as far above outdoors as the 90th percentile of the means of 24 h outside of it (7 of them or more, each with 75 % of its instants), over its last third 0.05 less of it; the share is 1 where those means follow the outdoor ones by 0.05 K/K or more (least squares), 0.9 from 0.1 K/K on, 0.8 from 0.2 K/K on: rooms without heat come nearer to outdoors"
            }
            EventKind::FellBehindInRoom => "as `fell behind`, of one heated room, while the others hold",
        }
    }

    /// Unit of value and limit.
    pub const fn unit(self) -> &'static str {
        match self {
            EventKind::SpreadOverLimit => "K",
            EventKind::BelowBand
            | EventKind::AboveBand
            | EventKind::HeatRuleShortfall
            | EventKind::SeriousCold
            | EventKind::NearFreezing
            | EventKind::VeryHot
            | EventKind::NoHeat
            | EventKind::NoHeatNobody
            | EventKind::NoHeatInRoom
            | EventKind::HeldLow
            | EventKind::HeldLowInRoom
            | EventKind::FellBehind
            | EventKind::FellBehindInRoom
            | EventKind::Recovery
            | EventKind::RecoveryFound => "°C",
        }
    }
}

/// Something that lasted: a row of the events table.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// The home.
    pub home: String,
    /// The room; `None` for the home as a whole.
    pub room: Option<String>,
    /// The period in which it was found; one that reaches beyond is cut there.
    pub period: String,
    /// What it was.
    pub kind: EventKind,
    /// From when to when.
    pub span: Span,
    /// The extreme value in it; of a recovery the value at its start.
    pub value: f64,
    /// The limit.
    pub limit: f64,
    /// Whether it was cut off at its start or end, so that it may have lasted longer.
    pub censored: bool,
}
