//! Files that several rooms share: one file may hold many loggers, but no reading is of two rooms.

use std::collections::BTreeMap;

use super::{Home, Name};
use crate::clock::Span;

/// A row of the roster, as seen from its file.
#[derive(Clone, Debug, PartialEq)]
pub struct RowOfFile {
    /// Line of the roster.
    pub line: u32,
    /// The room, with its home.
    pub room: String,
    /// The logger.
    pub logger: Name,
    /// Column, where the row names one.
    pub column: Option<String>,
    /// When the logger stood there.
    pub span: Span,
}

/// For each file that rooms share, by its plain name, the rows that name it, in the order of the roster.
pub(super) fn shared_files(homes: &[Home]) -> BTreeMap<String, Vec<RowOfFile>> {
    let mut rooms_of: BTreeMap<String, (usize, bool)> = BTreeMap::new();
    let rooms = || homes.iter().flat_map(|h| h.rooms.iter().map(move |r| (h, r))).enumerate();
    for (place, (_, room)) in rooms() {
        for source in room.placements.iter().flat_map(|p| &p.sources) {
            let (first, shared) = rooms_of.entry(plain_path(source.file.own())).or_insert((place, false));
            *shared |= *first != place;
        }
    }
    let mut shared: BTreeMap<String, Vec<RowOfFile>> = BTreeMap::new();
    for (_, (home, room)) in rooms() {
        for placement in &room.placements {
            for source in placement.sources.iter().filter(|s| rooms_of[&plain_path(s.file.own())].1) {
                shared.entry(plain_path(source.file.own())).or_default().push(RowOfFile {
                    line: source.line.unwrap_or(placement.line),
                    room: format!("{} {}", home.name, room.name),
                    logger: placement.logger.clone(),
                    column: source.column.clone(),
                    span: placement.span,
                });
            }
        }
    }
    shared
}

/// A name of a file without `./` and `x/..` and with `/` between its parts, so that one file has one name.
pub(super) fn plain_path(name: &str) -> String {
    // As files::named takes them.
    let name = &name.replace('\u{a0}', " ");
    let (path, part) = name.split_once('#').map_or((name.as_str(), None), |(path, part)| (path, Some(part)));
    let mut plain: Vec<&str> = Vec::new();
    for step in path.split(['/', '\\']) {
        match step {
            "." => {}
            "" if !plain.is_empty() => {}
            ".." if plain.last().is_some_and(|last| !last.is_empty() && *last != "..") => {
                plain.pop();
            }
            step => plain.push(step),
        }
    }
    plain.join("/") + &part.map_or(String::new(), |part| format!("#{part}"))
}
