//! Home, room and use, guessed from the names of files and columns.

use crate::site::Purpose;

/// What a room is used for, and whether it is likely to have its own heating.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Use {
    pub(super) purpose: Purpose,
    /// `None`: a person must say.
    pub(super) heated: Option<bool>,
    pub(super) outdoors: bool,
}

/// What a name says.
pub(super) struct Place {
    pub(super) home: Option<String>,
    pub(super) room: Option<String>,
    pub(super) logger: String,
    pub(super) guess: Option<Use>,
}

const WORDS: [(&[&str], Purpose, Option<bool>); 6] = [
    (&["living", "lounge", "sitting", "common", "family"], Purpose::Living, Some(true)),
    (&["bedroom", "bed", "bdrm", "br", "nursery", "sleeping"], Purpose::Bedroom, Some(true)),
    (&["kitchen", "kitch", "kit"], Purpose::Kitchen, Some(false)),
    (&["bathroom", "bath", "shower", "wc", "toilet"], Purpose::Bathroom, Some(false)),
    (&["hall", "hallway", "corridor", "entry", "landing", "stairs"], Purpose::Hall, None),
    (
        &["office", "study", "laundry", "dining", "storage", "utility", "closet", "attic", "den", "playroom"],
        Purpose::Other,
        None,
    ),
];
const OUTDOORS: [&str; 6] = ["outdoor", "outdoors", "outside", "weather", "out", "ambient"];

/// Words of a name, letters and digits apart from everything else: `2A_bed-1` has `2A`, `bed`, `1`.
fn words(name: &str) -> Vec<&str> {
    name.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect()
}

/// The use that a name speaks of; `bedroom1` speaks of a bedroom too.
pub(super) fn use_of(name: &str) -> Option<Use> {
    let lower = name.to_lowercase();
    let words: Vec<&str> =
        words(&lower).into_iter().map(|w| w.trim_end_matches(|c: char| c.is_ascii_digit())).collect();
    if words.iter().any(|w| OUTDOORS.contains(w)) {
        return Some(Use { purpose: Purpose::Other, heated: Some(false), outdoors: true });
    }
    let known = WORDS.iter().find(|(names, _, _)| words.iter().any(|w| names.contains(w)));
    known.map(|(_, purpose, heated)| Use { purpose: *purpose, heated: *heated, outdoors: false })
}

/// Home and room from the path of a file, the column where the file has several, and what its preamble says of a place.
pub(super) fn place(file: &str, column: Option<&str>, logger: Option<&str>, before: &[String]) -> Place {
    let (path, part) = file.split_once('#').map_or((file, None), |(path, part)| (path, Some(part)));
    let (folder, name) = path.rsplit_once('/').map_or((None, path), |(folder, name)| (Some(folder), name));
    let stem = name.split('.').next().unwrap_or(name);
    let part_stem = part.map(|p| p.rsplit('/').next().unwrap_or(p)).map(|p| p.split('.').next().unwrap_or(p));
    let of_folder = folder.and_then(|f| f.rsplit('/').next()).map(str::to_owned);
    let of_stem = home_in(stem).filter(|_| of_folder.is_none());
    let said = before.iter().find_map(|line| said_place(line));
    let speaking = [column, part_stem, Some(stem), logger, said]
        .into_iter()
        .flatten()
        .find_map(|text| use_of(text).map(|u| (text, u)));
    let room = match (speaking, column, logger) {
        (Some((text, _)), _, _) => Some(room_name(text, of_stem.as_deref())),
        (None, Some(column), _) => Some(room_name(column, None)),
        (None, None, Some(logger)) => Some(logger.to_owned()),
        (None, None, None) => None,
    };
    let home = of_folder.or(of_stem).or_else(|| part_stem.and_then(home_in));
    Place { home, room, logger: part_stem.unwrap_or(stem).to_owned(), guess: speaking.map(|(_, u)| u) }
}

/// The home that a name starts with, `12_bath`, or names with digits and a letter, `bath 3B`.
fn home_in(name: &str) -> Option<String> {
    let mut words = words(name).into_iter().enumerate().filter(|(_, w)| is_home(w));
    words.find(|(i, w)| *i == 0 || w.chars().any(char::is_alphabetic)).map(|(_, w)| w.to_owned())
}

/// The value of a preamble line about a place, `Placed in;1B, living`.
fn said_place(line: &str) -> Option<&str> {
    let (key, value) = line.split_once([';', ':', ',', '\t', '='])?;
    let key = key.to_lowercase();
    let about = ["place", "room", "location", "position", "name", "title"].iter().any(|w| key.contains(w));
    Some(value.trim().trim_matches('"')).filter(|v| about && !v.is_empty())
}

/// A short word of digits and letters, digits first: `3B`, `12`, `204`.
fn is_home(word: &str) -> bool {
    word.len() <= 4 && word.starts_with(|c: char| c.is_ascii_digit())
}

/// The name without the home's, a unit in brackets, or separators.
fn room_name(text: &str, home: Option<&str>) -> String {
    let bare = text.split(['(', '[']).next().unwrap_or(text);
    let kept: Vec<&str> = bare
        .split(['_', '-', ' ', ','])
        .filter(|w| {
            !w.is_empty()
                && Some(*w) != home
                && !(w.len() < 4 && is_home(w) && w.chars().any(char::is_alphabetic))
        })
        .collect();
    let units = ["degc", "degf", "c", "f", "temp", "temperature", "°c", "°f"];
    let named: Vec<&str> =
        kept.iter().copied().filter(|w| !units.contains(&w.to_lowercase().as_str())).collect();
    if named.is_empty() { bare.trim().to_owned() } else { named.join(" ") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_speak_of_homes_and_rooms() {
        let p = place("2A/bedroom 1.csv", None, None, &[]);
        assert_eq!((p.home.as_deref(), p.room.as_deref()), (Some("2A"), Some("bedroom 1")));
        let p = place("3B_bath.txt", None, None, &[]);
        assert_eq!((p.home.as_deref(), p.room.as_deref()), (Some("3B"), Some("bath")));
        assert_eq!(p.guess.and_then(|g| g.heated), Some(false));
        let p = place("rooms.csv", Some("living room (°C)"), None, &[]);
        assert_eq!((p.home, p.room.as_deref()), (None, Some("living room")));
        let p = place("17.csv", None, None, &["Placed in;1B, living".to_owned()]);
        assert_eq!((p.home.as_deref(), p.room.as_deref()), (Some("17"), Some("living")));
        assert!(use_of("T_out").is_some_and(|u| u.outdoors));
        assert_eq!(place("20148812.csv", None, None, &[]).room, None);
    }
}
