//! Home, room and use, guessed from the names of files and columns.

use super::words::{is_home, is_of_fetching, label, place_words, says_nowhere, words};
use crate::site::Purpose;

/// What a room is used for, and whether it is likely to have its own heating.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Use {
    pub(super) purpose: Purpose,
    /// `None`: a person must say.
    pub(super) heated: Option<bool>,
    pub(super) outdoors: bool,
}

/// What is known of a series by its names.
#[derive(Clone, Copy, Default)]
pub(super) struct Names<'a> {
    pub(super) file: &'a str,
    /// The column, or the quantity, where the file has several.
    pub(super) column: Option<&'a str>,
    /// Whether that is a quantity, of which several may be measured in one room.
    pub(super) is_quantity: bool,
    /// The logger that the file names.
    pub(super) logger: Option<&'a str>,
    /// Lines before the data.
    pub(super) before: &'a [String],
    /// What stands above the numbers of the rows.
    pub(super) above_numbers: Option<&'a str>,
}

/// Where a home was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Read {
    Folder,
    Name,
}

/// A folder after which a room is named.
pub(super) struct RoomFolder {
    pub(super) name: String,
    /// The words of the file that say that nobody knows the room.
    pub(super) nowhere: Option<String>,
}

impl RoomFolder {
    fn of(name: &str, nowhere: &Option<String>) -> Self {
        Self { name: name.to_owned(), nowhere: nowhere.clone() }
    }
}

/// What a name says.
pub(super) struct Place {
    pub(super) home: Option<(String, Read)>,
    pub(super) room: Option<String>,
    /// The folder after which the room is named, where nothing else speaks of one; and what else says that nobody knows it.
    pub(super) room_folder: Option<RoomFolder>,
    /// The words that say that nobody knows the room.
    pub(super) nowhere: Option<String>,
    pub(super) logger: String,
    pub(super) guess: Option<Use>,
    /// The text that spoke of the room.
    pub(super) said: Option<String>,
}

const WORDS: [(&[&str], Purpose, Option<bool>); 7] = [
    (
        &[
            "living",
            "lounge",
            "sitting",
            "common",
            "family",
            "wohnzimmer",
            "salon",
            "séjour",
            "soggiorno",
            "stue",
        ],
        Purpose::Living,
        Some(true),
    ),
    (
        &[
            "bedroom",
            "bed",
            "bdrm",
            "br",
            "nursery",
            "sleeping",
            "schlafzimmer",
            "kinderzimmer",
            "chambre",
            "dormitorio",
            "slaapkamer",
        ],
        Purpose::Bedroom,
        Some(true),
    ),
    (
        &["kitchen", "kitch", "kit", "küche", "kueche", "cuisine", "cocina", "cucina", "keuken"],
        Purpose::Kitchen,
        Some(false),
    ),
    (
        &["bathroom", "bath", "shower", "wc", "toilet", "bad", "badezimmer", "baño", "bagno", "badkamer"],
        Purpose::Bathroom,
        Some(false),
    ),
    (
        &["hall", "hallway", "corridor", "entry", "landing", "stairs", "flur", "couloir", "pasillo"],
        Purpose::Hall,
        None,
    ),
    (
        &["attic", "basement", "cellar", "garage", "crawl", "keller", "cave", "loft"],
        Purpose::Other,
        Some(false),
    ),
    (
        &["office", "study", "laundry", "dining", "storage", "utility", "closet", "den", "playroom"],
        Purpose::Other,
        None,
    ),
];
const OUTDOORS: [&str; 18] = [
    "outdoor",
    "outdoors",
    "outside",
    "weather",
    "out",
    "ambient",
    "exterior",
    "external",
    "outer",
    "aussen",
    "außen",
    "dehors",
    "extérieur",
    "esterno",
    "wetter",
    "météo",
    "buiten",
    "airport",
];

/// The use that a name speaks of, and the word for it; `bedroom1` and `livingroom` speak of their rooms too.
pub(super) fn use_of(name: &str) -> Option<(Use, String)> {
    let words: Vec<String> = words(name).iter().map(|w| w.to_lowercase()).collect();
    let bare = || words.iter().map(|w| w.trim_end_matches(|c: char| c.is_ascii_digit()));
    if let Some(word) = bare().find(|w| OUTDOORS.contains(w)) {
        let guess = Use { purpose: Purpose::Other, heated: Some(false), outdoors: true };
        return Some((guess, word.to_owned()));
    }
    let is = |word: &str, name: &str| word == name || (name.len() >= 6 && word.starts_with(name));
    WORDS.iter().find_map(|(names, purpose, heated)| {
        let word = bare().find(|w| names.iter().any(|n| is(w, n)))?;
        Some((Use { purpose: *purpose, heated: *heated, outdoors: false }, word.to_owned()))
    })
}

/// Home and room from the path of a file, the column where the file has several, and what else names its place.
pub(super) fn place(names: Names<'_>) -> Place {
    let (path, part) =
        names.file.split_once('#').map_or((names.file, None), |(path, part)| (path, Some(part)));
    let (folder, name) = path.rsplit_once('/').map_or((None, path), |(folder, name)| (Some(folder), name));
    let stem = stem(name);
    let part_stem = part.map(|p| self::stem(p.rsplit('/').next().unwrap_or(p)));
    let folders: Vec<&str> = speaking_folders(folder);
    let said = names.before.iter().find_map(|line| said_place(line));
    let of_said = said.and_then(home_in).map(|(home, _)| home);
    // Beside a label, the name of a wide file says more only where it speaks of a use.
    let labels = names.column.and_then(label).is_some();
    let of_use = |text: &&str| use_of(text).is_some();
    let whole = Some(stem).filter(|s| !labels || of_use(s));
    let of_the_room = |column: &&str| !names.is_quantity || of_use(column) || !of_use(&stem);
    let texts = [
        names.column.filter(of_the_room),
        names.logger,
        part_stem,
        said.filter(of_use),
        whole,
        names.above_numbers,
        said,
    ];
    let of_stem = home_in(stem).map(|(home, _)| home);
    let home_of_texts = of_said.clone().or(of_stem.clone());
    // A column of its own that names no room is not named after its file.
    let of_column = names.column.filter(|c| says_nowhere(c));
    let found =
        texts.into_iter().flatten().filter(|t| of_column.is_none() && !says_nowhere(t)).find_map(|text| {
            let room = place_words(text, home_of_texts.as_deref())?;
            Some((text, room))
        });
    // A folder is a room where nothing in it speaks of one.
    let of_folder = || {
        let innermost = folders.last().filter(|f| of_column.is_none() && use_of(f).is_some())?;
        Some((*innermost, place_words(innermost, None)?))
    };
    let from_folder = found.is_none() && of_folder().is_some();
    let spoken = found.or_else(of_folder);
    let folders = if from_folder { &folders[..folders.len() - 1] } else { &folders[..] };
    let home = folders
        .last()
        .map(|f| ((*f).to_owned(), Read::Folder))
        .or_else(|| of_said.map(|h| (h, Read::Name)))
        .or_else(|| of_stem.map(|h| (h, Read::Name)))
        .or_else(|| Some((home_in(part_stem?)?.0, Read::Name)));
    let labelled = || names.column.and_then(label).or_else(|| names.logger.map(str::to_owned));
    let guess = spoken.as_ref().and_then(|(text, _)| use_of(text));
    let nowhere = of_column.or_else(|| texts.into_iter().flatten().find(|text| says_nowhere(text)));
    let said_nowhere = nowhere.map(|text| words(text).join(" "));
    let room_folder = spoken.as_ref().filter(|_| from_folder).map(|s| RoomFolder::of(s.0, &said_nowhere));
    let nowhere = nowhere.filter(|_| spoken.is_none());
    let room = spoken.map(|(_, room)| room).or_else(|| labelled().filter(|_| nowhere.is_none()));
    Place {
        home,
        room,
        room_folder,
        nowhere: nowhere.and(said_nowhere),
        logger: part_stem.unwrap_or(stem).to_owned(),
        said: guess.as_ref().map(|(_, word)| word.clone()),
        guess: guess.map(|(guess, _)| guess),
    }
}

fn stem(name: &str) -> &str {
    name.split('.').next().unwrap_or(name)
}

/// The folders on the way that are not named after dates or downloads.
fn speaking_folders(folder: Option<&str>) -> Vec<&str> {
    let all: Vec<&str> = folder.map(|f| f.split('/').collect()).unwrap_or_default();
    let of_month = |at: usize| {
        at > 0
            && is_of_fetching(all[at - 1])
            && all[at].len() <= 2
            && all[at].bytes().all(|b| b.is_ascii_digit())
    };
    all.iter().enumerate().filter(|(at, f)| !is_of_fetching(f) && !of_month(*at)).map(|(_, f)| *f).collect()
}

/// The home that a name starts with, `12_bath`, or names with digits and a letter, `bath 3B`; and whether it is a number only.
///
/// A name of nothing but a number is that of a logger.
pub(super) fn home_in(name: &str) -> Option<(String, bool)> {
    let all = words(name);
    let mut homes = all.iter().enumerate().filter(|(_, w)| is_home(w));
    let (_, word) = homes.find(|(i, w)| *i == 0 || w.chars().any(char::is_alphabetic))?;
    let number = word.bytes().all(|b| b.is_ascii_digit());
    (!number || all.len() > 1).then(|| (word.clone(), number))
}

/// The value of a preamble line about a place, `Placed in;1B, living`.
fn said_place(line: &str) -> Option<&str> {
    let marks = [';', ':', ',', '\t', '='];
    let mark = line.chars().find(|c| marks.contains(c))?;
    let (key, value) = line.split_once(mark)?;
    // More cells are the headers of columns, or a row.
    if value.trim_end_matches(mark).contains(mark) && mark != ':' {
        return None;
    }
    let value = value.trim_end_matches(mark);
    let key = key.to_lowercase();
    let about = ["place", "room", "location", "position", "name", "title"].iter().any(|w| key.contains(w));
    Some(value.trim().trim_matches('"')).filter(|v| about && !v.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(file: &'static str) -> Place {
        place(Names { file, ..Names::default() })
    }

    fn home(place: &Place) -> Option<&str> {
        place.home.as_ref().map(|(home, _)| home.as_str())
    }

    #[test]
    fn names_speak_of_homes_and_rooms() {
        let p = of("2A/bedroom 1.csv");
        assert_eq!((home(&p), p.room.as_deref()), (Some("2A"), Some("bedroom 1")));
        let p = of("3B_bath.txt");
        assert_eq!((home(&p), p.room.as_deref()), (Some("3B"), Some("bath")));
        assert_eq!(p.guess.and_then(|g| g.heated), Some(false));
        let p = place(Names { file: "rooms.csv", column: Some("living room (°C)"), ..Names::default() });
        assert_eq!((home(&p), p.room.as_deref()), (None, Some("living room")));
        let before = ["Placed in;1B, living".to_owned()];
        let p = place(Names { file: "17.csv", before: &before, ..Names::default() });
        assert_eq!((home(&p), p.room.as_deref()), (Some("1B"), Some("living")), "17 is the logger's number");
        assert!(use_of("T_out").is_some_and(|(u, _)| u.outdoors));
        assert_eq!(of("20148812.csv").room, None);
    }

    #[test]
    fn folders_of_rooms_and_downloads_are_told_from_homes() {
        let p = of("2024-03/downloads/eng3-organ.csv");
        assert_eq!((home(&p), p.room.as_deref()), (None, Some("eng3 organ")));
        let p = of("4D/living room/2024/03/204417.csv");
        assert_eq!((home(&p), p.room.as_deref()), (Some("4D"), Some("living room")));
        let p = of("hall_a/eng3-organ.csv");
        assert_eq!((home(&p), p.room.as_deref()), (Some("hall_a"), Some("eng3 organ")));
    }

    #[test]
    fn a_label_names_a_room_where_nothing_else_speaks() {
        let wide = |file| place(Names { file, column: Some("T1 (°C)"), ..Names::default() }).room;
        assert_eq!(wide("export.csv").as_deref(), Some("T1"));
        assert_eq!(wide("1A/living.csv").as_deref(), Some("living"));
        let above = place(Names { file: "0042.csv", above_numbers: Some("Club room"), ..Names::default() });
        assert_eq!(above.room.as_deref(), Some("Club room"));
    }

    #[test]
    fn a_name_that_says_that_nobody_knows_is_no_room() {
        for file in ["unknown_location.csv", "Unknown 2.csv", "3B/spare.csv", "test logger.txt", "misc.csv"] {
            let p = of(file);
            assert!(p.room.is_none() && p.nowhere.is_some(), "{file}: {:?}", p.room);
        }
        for file in
            ["3B/spare room.csv", "spare bedroom.csv", "lost property office.csv", "kitchen/spare.csv"]
        {
            let p = of(file);
            assert!(p.room.is_some() && p.nowhere.is_none(), "{file}");
        }
        let header = ["unknown_location,Time,Celsius".to_owned()];
        let named = Names { file: "unknown_location.csv", before: &header, ..Names::default() };
        assert_eq!(place(named).room, None, "a header says nothing of a place");
        let wide =
            |column| place(Names { file: "rooms of 3B.csv", column: Some(column), ..Names::default() });
        assert!(wide("spare (°C)").nowhere.is_some() && wide("spare (°C)").room.is_none());
    }
}
