//! Times at which rooms lay far below what is usual for them, and what their heating can have done meanwhile.

use super::event::EventKind;
use crate::clock::Span;

/// What the heating did while rooms lay far below what is usual.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heating {
    /// Nothing tells that there was any.
    None,
    /// Nothing tells that there was any, nor that people were at home (`people`).
    NoneAndNobody,
    /// It held them at that level: it was turned down, or gave little (`held_low`).
    HeldLow,
    /// It gave as much as on the coldest of the other days, and could not keep up with the weather (`at_its_limit`).
    AtItsLimit,
}

impl Heating {
    /// The words in results.
    pub const fn words(self) -> &'static str {
        match self {
            Heating::None => "none seen",
            Heating::NoneAndNobody => "none seen, and no sign of people",
            Heating::HeldLow => "held low",
            Heating::AtItsLimit => "at its limit",
        }
    }

    /// Whether nothing tells that there was any.
    pub const fn is_none(self) -> bool {
        matches!(self, Heating::None | Heating::NoneAndNobody)
    }

    /// The event that a home, or a `room` alone, has had.
    pub(super) fn event(self, room: bool) -> EventKind {
        match (self, room) {
            (Heating::None, false) => EventKind::NoHeat,
            (Heating::NoneAndNobody, false) => EventKind::NoHeatNobody,
            (Heating::None | Heating::NoneAndNobody, true) => EventKind::NoHeatInRoom,
            (Heating::HeldLow, false) => EventKind::HeldLow,
            (Heating::HeldLow, true) => EventKind::HeldLowInRoom,
            (Heating::AtItsLimit, false) => EventKind::FellBehind,
            (Heating::AtItsLimit, true) => EventKind::FellBehindInRoom,
        }
    }

    /// What it did in the time that an event of these kinds tells of; `None` for all other kinds.
    pub(super) fn told_by(kind: EventKind) -> Option<Self> {
        match kind {
            EventKind::NoHeat | EventKind::NoHeatInRoom => Some(Heating::None),
            EventKind::NoHeatNobody => Some(Heating::NoneAndNobody),
            EventKind::HeldLow | EventKind::HeldLowInRoom => Some(Heating::HeldLow),
            EventKind::FellBehind | EventKind::FellBehindInRoom => Some(Heating::AtItsLimit),
            _ => None,
        }
    }
}

/// A time at which rooms lay far below what is usual for them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FarBelow {
    /// The room that was alone; `None`: the heated rooms of the home together.
    pub room: Option<usize>,
    /// From the start of the fall until warm again.
    pub span: Span,
    /// Whether it goes on to the last value of the record.
    pub goes_on: bool,
    /// What the heating did meanwhile.
    pub heating: Heating,
}
