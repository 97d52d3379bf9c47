//! Events, faults and false alarms: what was there, what was found, and what was found that was not there.

use std::collections::BTreeMap;

use evenrooms::findings::Finding;
use evenrooms::simulate::{FaultKind, Trouble};

use super::case::Case;
use super::found::Found;

/// What was found and what was not.
#[derive(Debug, Default)]
pub(crate) struct Events {
    pub(crate) events: BTreeMap<Trouble, Found>,
    pub(crate) faults: BTreeMap<FaultKind, Found>,
    /// Homes with nothing wrong, and those of them that somebody is sent to.
    pub(crate) good_homes: Found,
    /// Loggers with nothing wrong, and those of them that are doubted.
    pub(crate) good_loggers: Found,
    /// Homes with sound loggers that somebody is sent to, and those of them that have something wrong.
    pub(crate) visits: Found,
}

/// Rules that see a trouble, and the room they should name.
fn expected(trouble: Trouble) -> (&'static [&'static str], Option<&'static str>) {
    match trouble {
        Trouble::None => (&[], None),
        Trouble::ColdRoom => (&["room-cold"], Some("bedroom 2")),
        Trouble::ClosedDoor => (&["room-cold"], Some("bathroom")),
        Trouble::UnevenHome => (&["home-uneven"], None),
        Trouble::NoRecovery => (&["slow-recovery"], None),
        Trouble::HeatFailure => (&["room-cold"], None),
        Trouble::Overheating => (&["room-overheated"], Some("bedroom 2")),
    }
}

impl Events {
    pub(crate) fn add(&mut self, case: &Case<'_>) {
        let trouble = case.trouble();
        let visited = case.acts().next().is_some();
        if trouble != Trouble::None {
            let (rules, room) = expected(trouble);
            let right =
                |f: &Finding| rules.contains(&f.rule) && (room.is_none() || f.room.as_deref() == room);
            self.events.entry(trouble).or_default().add(case.acts().any(right));
        }
        if !case.any_fault() {
            if trouble == Trouble::None {
                self.good_homes.add(visited);
            }
            if visited {
                self.visits.add(trouble != Trouble::None);
            }
        }
        for logger in case.loggers() {
            let doubted = case.doubts().any(|f| f.room.as_deref() == Some(logger.room));
            match &logger.fault {
                Some(fault) => self.faults.entry(fault.kind).or_default().add(doubted),
                None => self.good_loggers.add(doubted),
            }
        }
    }
}
