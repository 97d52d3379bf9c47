//! Names of files, folders and columns, taken apart: which of their words speak of a place.

use crate::exports::vocabulary::{Holds, has_word};

/// Words that speak of units, or of files and their making, and of no place.
const NO_PLACE: [&str; 57] = [
    "tmp",
    "degrees",
    "deg",
    "c",
    "f",
    "point",
    "data",
    "daten",
    "datalog",
    "log",
    "logs",
    "logging",
    "logger",
    "loggers",
    "logged",
    "export",
    "exports",
    "exported",
    "download",
    "downloads",
    "downloaded",
    "raw",
    "csv",
    "txt",
    "tsv",
    "xls",
    "xlsx",
    "json",
    "zip",
    "gz",
    "parquet",
    "file",
    "files",
    "record",
    "records",
    "recording",
    "recordings",
    "measured",
    "measurement",
    "measurements",
    "mean",
    "average",
    "avg",
    "copy",
    "air",
    "indoor",
    "indoors",
    "inside",
    "kopie",
    "final",
    "all",
    "old",
    "new",
    "backup",
    "archive",
    "sheet",
    "tabelle",
];
/// Words of folders in which things lie that were fetched together.
const OF_FETCHING: [&str; 13] = [
    "week", "month", "day", "visit", "round", "batch", "part", "usb", "sd", "card", "series", "run", "winter",
];
/// Words that number channels and devices.
const LABELS: [&str; 16] = [
    "t", "ch", "chan", "channel", "probe", "sensor", "device", "input", "port", "tc", "ntc", "pt", "node",
    "unit", "id", "no",
];
/// Words that say that nobody knows, or wrote down, where a logger stood.
const NOWHERE: [&str; 26] = [
    "unknown",
    "unspecified",
    "unnamed",
    "untitled",
    "unassigned",
    "unplaced",
    "unlabelled",
    "unlabeled",
    "undefined",
    "unused",
    "spare",
    "spares",
    "test",
    "testing",
    "lost",
    "misc",
    "miscellaneous",
    "other",
    "others",
    "tbd",
    "dummy",
    "extra",
    "unbekannt",
    "inconnu",
    "desconocido",
    "sconosciuto",
];
/// Words that may stand beside them and name no place either.
const BESIDE_NOWHERE: [&str; 7] = ["location", "place", "position", "site", "where", "name", "room"];
const MONTHS: [&str; 23] = [
    "jan",
    "feb",
    "mar",
    "apr",
    "may",
    "jun",
    "jul",
    "aug",
    "sep",
    "sept",
    "oct",
    "nov",
    "dec",
    "january",
    "february",
    "march",
    "april",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
];

/// The words of a name: what stands between marks, and `LivingRoom` as two; brackets and what follows them left out.
pub(super) fn words(name: &str) -> Vec<String> {
    let bare = name.split(['(', '[']).find(|part| !part.trim().is_empty()).unwrap_or(name);
    let mut words = Vec::new();
    for piece in bare.split(|c: char| !(c.is_alphanumeric() || c == '°' || c == '\'')) {
        let mut word = String::new();
        for c in piece.chars() {
            if c.is_uppercase() && word.chars().last().is_some_and(char::is_lowercase) {
                words.push(std::mem::take(&mut word));
            }
            word.push(c);
        }
        words.push(word);
    }
    words.retain(|w| !w.is_empty());
    without_dates(words)
}

/// `2024-03-01`, `20240301`, `march 2024`: a year takes the numbers and the month beside it along.
fn without_dates(words: Vec<String>) -> Vec<String> {
    let is_year = |w: &String| w.len() == 4 && w.parse().is_ok_and(|y: u32| (1990..2100).contains(&y));
    let of_date = |w: &String| {
        (w.len() <= 2 && w.bytes().all(|b| b.is_ascii_digit())) || MONTHS.contains(&w.to_lowercase().as_str())
    };
    let long = |w: &String| {
        let digits = w.bytes().take_while(u8::is_ascii_digit).count();
        digits >= 8 && (w.starts_with("19") || w.starts_with("20"))
    };
    let mut out = vec![false; words.len()];
    for (at, word) in words.iter().enumerate() {
        if is_year(word) {
            out[at] = true;
            (at + 1..words.len()).take(2).take_while(|i| of_date(&words[*i])).for_each(|i| out[i] = true);
            (0..at).rev().take(2).take_while(|i| of_date(&words[*i])).for_each(|i| out[i] = true);
        }
        out[at] |= long(word);
    }
    words.into_iter().zip(out).filter(|(_, out)| !out).map(|(word, _)| word).collect()
}

/// What a column can hold that tells of no place.
const MEASURED: [Holds; 5] =
    [Holds::Temperature, Holds::Humidity, Holds::HumidityInShort, Holds::DewPoint, Holds::Value];

/// Whether a word, in small letters, speaks of what is measured, of files and of their making.
fn is_no_place(word: &str) -> bool {
    NO_PLACE.contains(&word) || has_word(word, &MEASURED)
}

fn without_figures(word: &str) -> &str {
    word.trim_end_matches(|c: char| c.is_ascii_digit())
}

/// A number of a device: many figures, whatever stands before them.
fn is_serial(word: &str) -> bool {
    let figures = word.bytes().filter(u8::is_ascii_digit).count();
    figures >= 5 || (figures >= 3 && word.len() >= 8)
}

/// A short word of digits and letters, digits first: `3B`, `12`, `204`; not `1st` or `5min`.
pub(super) fn is_home(word: &str) -> bool {
    let letters = word.trim_start_matches(|c: char| c.is_ascii_digit()).to_lowercase();
    word.len() <= 4
        && word.starts_with(|c: char| c.is_ascii_digit())
        && !["st", "nd", "rd", "th", "min", "h", "hr", "s", "day"].contains(&letters.as_str())
}

/// What a name says of a place, in its own words; `None` where nothing but quantities, dates, numbers or words of files
/// stand in it.
pub(super) fn place_words(name: &str, home: Option<&str>) -> Option<String> {
    let all = words(name);
    let speaks = |w: &String| {
        let lower = w.to_lowercase();
        let of_home = Some(w.as_str()) == home || (is_home(w) && w.chars().any(char::is_alphabetic));
        !of_home && !is_no_place(&lower) && !is_no_place(without_figures(&lower)) && !is_serial(w)
    };
    let kept: Vec<String> = all.into_iter().filter(speaks).collect();
    let label = |w: &String| {
        let lower = w.to_lowercase();
        let letters = without_figures(&lower);
        letters.chars().count() <= 1 || LABELS.contains(&letters) || letters == "room"
    };
    (!kept.iter().all(label)).then(|| kept.join(" "))
}

/// Whether a name says that nobody knows where a logger stood; a spare room is one.
pub(super) fn says_nowhere(name: &str) -> bool {
    let all: Vec<String> =
        words(name).iter().map(|w| without_figures(&w.to_lowercase()).to_owned()).collect();
    let among = |list: &[&str], w: &String| list.contains(&w.as_str());
    let empty = |w: &String| {
        w.chars().count() <= 1
            || among(&NOWHERE, w)
            || among(&BESIDE_NOWHERE, w)
            || among(&LABELS, w)
            || is_no_place(w)
    };
    let spare_room = all.iter().any(|w| w == "spare") && all.iter().any(|w| w == "room");
    all.iter().any(|w| among(&NOWHERE, w)) && all.iter().all(empty) && !spare_room
}

/// The label of a column, where it has one: `T1`, `probe A`.
pub(super) fn label(name: &str) -> Option<String> {
    let kept: Vec<String> = words(name).into_iter().filter(|w| !is_no_place(&w.to_lowercase())).collect();
    let says = kept.iter().any(|w| w.chars().any(char::is_alphanumeric)) && !kept.iter().all(|w| w == "room");
    says.then(|| kept.join(" "))
}

/// Whether a folder is named after a date, or after how its files came there.
pub(super) fn is_of_fetching(folder: &str) -> bool {
    let speaks = |w: &String| {
        let lower = w.to_lowercase();
        let letters = without_figures(&lower);
        !is_no_place(letters) && !OF_FETCHING.contains(&letters) && !MONTHS.contains(&letters)
    };
    let rest: Vec<String> = words(folder).into_iter().filter(speaks).collect();
    // "week 3" leaves a number that is no home.
    rest.is_empty()
        || (rest.iter().all(|w| w.bytes().all(|b| b.is_ascii_digit())) && rest.len() < words(folder).len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_units_and_dates_are_no_places() {
        for name in [
            "Celsius(°C)",
            "Celsius(\u{fffd}C)",
            "Temperature",
            "Temp °F",
            "T1",
            "Température (°C)",
            "Wartość",
            "Luftfuktighet (%)",
            "2024-03-01",
            "20240301_export",
            "204417",
            "SN20148812",
            "Sheet1",
            "raw data",
            "probe 2",
            "12",
            "Room temp",
        ] {
            assert_eq!(place_words(name, None), None, "{name}");
        }
        let says = |name| place_words(name, None).unwrap_or_default();
        assert_eq!(says("eng2-vestments"), "eng2 vestments");
        assert_eq!(says("living room (°C)"), "living room");
        assert_eq!(says("2024-03-01 under the stairs"), "under the stairs");
        assert_eq!(says("LivingRoomTemp"), "Living Room");
        assert_eq!(label("T1").as_deref(), Some("T1"));
        assert_eq!(label("Temperature (°C)"), None);
    }

    #[test]
    fn folders_of_dates_and_downloads_are_no_homes() {
        for folder in
            ["2024-03", "downloads", "raw data", "2023_12_10", "week 3", "March 2024", "Exports", "csv"]
        {
            assert!(is_of_fetching(folder), "{folder}");
        }
        for folder in ["2B", "hall_a", "12", "Smith", "flat 3"] {
            assert!(!is_of_fetching(folder), "{folder}");
        }
    }
}
