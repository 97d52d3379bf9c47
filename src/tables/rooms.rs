//! The table of rooms: what the roster says of each, so that rooms can be told apart by use, heating, floor and line.

use super::declared::{HOME, ROOM, SITE, column, optional, with_unit};
use super::rows::{maybe_number, maybe_text, owned, text};
use super::{Cell, Format, Kind, Table};
use crate::site::{Home, Placement, Room};

/// Rooms.
pub static ROOMS: Table = Table {
    name: "rooms",
    about: "every room of the roster, in its order: what it is used for, whether it has heating of its own, and which loggers stood there; a room that nobody measured too",
    columns: &[
        SITE,
        HOME,
        ROOM,
        column(
            "use",
            Kind::Word,
            "what it is used for, as in the roster: living, bedroom, kitchen, bathroom, hall or other",
        ),
        column("heated", Kind::Word, "whether it has heating of its own: yes, no or unknown"),
        optional("floor", Kind::Word, "the home's floor; empty where the roster does not say"),
        optional(
            "line",
            Kind::Word,
            "the home's line of homes above each other; empty where the roster does not say",
        ),
        with_unit(
            optional(
                "height_m",
                Kind::Number,
                "height of its loggers above the floor; empty where the roster states none, or several that differ",
            ),
            "m",
        ),
        optional(
            "loggers",
            Kind::Text,
            "the loggers that stood there, joined by `; `; empty: the room was not measured",
        ),
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

/// A row of the rooms table.
pub fn room_cells<'a>(site: &'a str, home: &'a Home, room: &'a Room) -> Vec<Cell<'a>> {
    let mut loggers: Vec<&str> = room.placements.iter().map(|p| p.logger.told()).collect();
    loggers.dedup();
    vec![
        text(site),
        text(&home.name),
        text(&room.name),
        text(room.purpose.word()),
        text(room.heated.word()),
        maybe_text(home.floor.as_deref()),
        maybe_text(home.line.as_deref()),
        maybe_number(height_m(&room.placements)),
        owned(loggers.join("; ")),
    ]
}

/// The height that all placements which state one have.
fn height_m(placements: &[Placement]) -> Option<f64> {
    let mut stated = placements.iter().filter_map(|p| p.height_m);
    let first = stated.next()?;
    stated.all(|height| height.total_cmp(&first).is_eq()).then_some(first)
}
