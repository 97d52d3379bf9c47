//! The table of rooms: what each is used for, so that rooms of several homes and sites can be put together by use.

use super::declared::{HOME, ROOM, SITE, column};
use super::rows::text;
use super::{Cell, Format, Kind, Table};
use crate::site::{Home, Room};

/// Rooms.
pub static ROOMS: Table = Table {
    name: "rooms",
    about: "every room of the roster, in its order: what it is used for, and whether it has heating of its own",
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
    ],
    formats: &[Format::Parquet, Format::Csv],
    sorted_by: &[],
};

/// A row of the rooms table.
pub fn room_cells<'a>(site: &'a str, home: &'a Home, room: &'a Room) -> Vec<Cell<'a>> {
    vec![text(site), text(&home.name), text(&room.name), text(room.purpose.word()), text(room.heated.word())]
}
