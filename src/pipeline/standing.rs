//! Which records stand, so that other rooms may be held against theirs.
//!
//! Settled here, and why:
//! - **A record that is doubted** has a jump, a drift or heat on its logger beside the other rooms, stands in another room, or more
//!   than a tenth of its values are suspect. Whether its room is warm or cold doubts nothing: that is what is asked. The sun on a logger and a
//!   clock that is off move a mean over days too little; what lay off in a side-by-side check is known from exports only, and
//!   leaves the findings that rest on it doubted.

use super::beside::{self, Placed};
use crate::grid::{AlignedHome, AlignedRoom};
use crate::metrics::MOST_SUSPECT;
use crate::quality::peer_check::Doubts;
use crate::site::{Home, Placement, Room, Site};

/// For each room of a home whether its record is doubted; `doubts`: of each logger, with the name of its room.
pub(super) fn doubted<'a>(
    home: &Home,
    aligned: &AlignedHome,
    doubts: impl Iterator<Item = (&'a str, &'a Doubts)>,
) -> Vec<bool> {
    let speaks = |d: &Doubts| {
        let level = d.shift.is_some() || d.drift_k.is_some() || d.heat.is_some();
        level || d.restless.is_some() || d.in_room.is_some()
    };
    let against: Vec<&str> = doubts.filter(|(_, d)| speaks(d)).map(|(room, _)| room).collect();
    let of_room = |(room, values): (&Room, &AlignedRoom)| {
        against.contains(&room.name.as_str()) || mostly_suspect(values)
    };
    home.rooms.iter().zip(aligned.rooms()).map(of_room).collect()
}

/// The same of a home whose loggers are not known: the values say of each other what they said before.
pub(super) fn doubted_anew(site: &Site, home: &Home, aligned: &AlignedHome) -> Vec<bool> {
    let rooms = beside::Rooms::of(site, aligned);
    let of_room = |(room, it): (usize, &Room)| -> Vec<Placed> {
        let has_steam = it.has_steam();
        let placed = |p: &Placement| Placed {
            room,
            has_steam,
            span: p.span,
            ends: None,
            stated: false,
            resolution: None,
        };
        it.placements.iter().map(placed).collect()
    };
    let placed: Vec<Placed> = home.rooms.iter().enumerate().flat_map(of_room).collect();
    let doubts = beside::doubts(&rooms.side_by_side(), aligned, &placed, &[]);
    let with_room = placed.iter().zip(&doubts).map(|(p, doubts)| (home.rooms[p.room].name.as_str(), doubts));
    doubted(home, aligned, with_room)
}

fn mostly_suspect(room: &AlignedRoom) -> bool {
    let present = |values: &[f64]| values.iter().filter(|x| !x.is_nan()).count() as f64;
    let suspect = room.suspect().iter().map(|range| present(&room.degc()[range.clone()])).sum::<f64>();
    suspect > 0.0 && suspect > MOST_SUSPECT / 100.0 * present(room.degc())
}
