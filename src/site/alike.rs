//! Names of homes and rooms that look alike: written by mistake, they make two of one.

use std::collections::BTreeMap;

use unicode_security::skeleton;

use super::cells::RosterRow;
use super::sink::Sink;
use super::walk::{At, Section, Wanted};

/// The setting by which a person says that names are different ones.
const DISTINCT: &str = "distinct";

/// The names of `distinct` in `[site]`.
pub(super) fn read_distinct(site: &Section<'_, '_>) -> Vec<String> {
    let wanted = Wanted {
        expected: "a list of names such as [\"1A\", \"1a\"]",
        hint: "names of homes or rooms that look alike and are not the same",
    };
    let names = site.texts(DISTINCT, wanted).unwrap_or_default();
    names.into_iter().map(|At { value, .. }| value).collect()
}

/// Asks about homes, and rooms of one home, whose names look alike.
pub(super) fn ask(rows: &[RosterRow], distinct: &[String], sink: &mut Sink<'_>) {
    let homes = first_lines(rows.iter().map(|row| (row.home.as_str(), row.line)));
    ask_about("home", &homes, distinct, sink);
    let mut rooms: BTreeMap<&str, Vec<(&str, u32)>> = BTreeMap::new();
    for row in rows {
        rooms.entry(&row.home).or_default().push((&row.room, row.line));
    }
    for (home, _) in &homes {
        ask_about("room", &first_lines(rooms[home].iter().copied()), distinct, sink);
    }
}

/// Each name once, with its first line, in their order.
fn first_lines<'r>(names: impl Iterator<Item = (&'r str, u32)>) -> Vec<(&'r str, u32)> {
    let mut seen: BTreeMap<&str, u32> = BTreeMap::new();
    for (name, line) in names {
        seen.entry(name).or_insert(line);
    }
    let mut all: Vec<(&str, u32)> = seen.into_iter().collect();
    all.sort_by_key(|(_, line)| *line);
    all
}

fn ask_about(what: &str, names: &[(&str, u32)], distinct: &[String], sink: &mut Sink<'_>) {
    let is_distinct = |name: &str| distinct.iter().any(|known| known == name);
    let all: Vec<&str> = names.iter().map(|(name, _)| *name).collect();
    let (mut by_look, mut by_digits) = (BTreeMap::new(), BTreeMap::new());
    for (name, line) in names {
        let same_look = *by_look.entry(look(name)).or_insert((*name, *line));
        let same_digits = *by_digits.entry(with_digits(name)).or_insert((*name, *line));
        let other = match (same_look.0 != *name, same_digits.0 != *name) {
            (true, _) => same_look,
            (false, true) if !both_expected(&all, name, same_digits.0) => same_digits,
            _ => continue,
        };
        if is_distinct(name) && is_distinct(other.0) {
            continue;
        }
        let found = format!(
            "{what} \"{name}\", which looks like \"{}\" of line {} ({})",
            other.0,
            other.1,
            difference(name, other.0)
        );
        let hint = format!(
            "if they are one {what}, write both alike; if they are two, say so in [site] of the site file: {DISTINCT} = [{:?}, {:?}]",
            other.0, name
        );
        sink.wrong(Some(*line), &found, &format!("one way to write each {what}"), &hint);
    }
}

/// A name without what nobody sees: case, blanks (but those between digits, which keep numbers apart) and letters of other
/// scripts that look like Latin ones.
fn look(name: &str) -> String {
    let seen = without_spelled(name);
    let letters: Vec<char> = seen.chars().filter(|c| !is_invisible(*c)).collect();
    let mut look = String::new();
    for (at, c) in letters.iter().enumerate() {
        match c.is_whitespace() {
            true => {
                let before = look.chars().last().is_some_and(|c| c.is_ascii_digit());
                let after =
                    letters[at..].iter().find(|c| !c.is_whitespace()).is_some_and(char::is_ascii_digit);
                look.push_str(if before && after { " " } else { "" });
            }
            false => look.push_str(&plain(*c)),
        }
    }
    look
}

/// A letter in lower case, as the Latin letter that it looks like.
fn plain(c: char) -> String {
    if c.is_ascii() {
        return c.to_ascii_lowercase().to_string();
    }
    let looks: Vec<char> = skeleton(c.encode_utf8(&mut [0; 4])).collect();
    match looks.as_slice() {
        // A large I stands for all of its kind as the l that it looks like.
        ['l'] if c.is_uppercase() => "i".to_owned(),
        [one] if one.is_ascii() => one.to_ascii_lowercase().to_string(),
        _ => skeleton(&c.to_lowercase().collect::<String>()).collect(),
    }
}

/// The look of a name in which O is 0, and I and l are 1.
fn with_digits(name: &str) -> String {
    let digit = |c| match c {
        'O' | 'o' => '0',
        'I' | 'l' => '1',
        other => other,
    };
    look(&without_spelled(name).chars().map(digit).collect::<String>())
}

/// Whether two names that differ by a letter and a digit are expected beside each other: both stand in rows of their like,
/// `1H` and `1I` as well as `11` and `12`.
fn both_expected(all: &[&str], a: &str, b: &str) -> bool {
    let letters = |name: &str| name.chars().collect::<Vec<char>>();
    let (a, b) = (letters(a), letters(b));
    let like = |name: &[char], at: usize, fits: fn(char) -> bool| {
        all.iter().map(|other| letters(other)).any(|other| {
            let same = |i: usize| i == at || name[i] == other[i];
            other.len() == name.len() && (0..name.len()).all(same) && fits(other[at])
        })
    };
    let letter = |c: char| c.is_ascii_alphabetic() && !"OoIl".contains(c);
    let digit = |c: char| c.is_ascii_digit() && !"01".contains(c);
    let stands_in_rows = |at: usize| {
        let (of_letter, of_digit) = if a[at].is_ascii_digit() { (&b, &a) } else { (&a, &b) };
        like(of_letter, at, letter) && like(of_digit, at, digit)
    };
    a.len() == b.len() && (0..a.len()).filter(|at| a[*at] != b[*at]).all(stands_in_rows)
}

fn is_invisible(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2060}'..='\u{2064}' | '\u{feff}' | '\u{fe00}'..='\u{fe0f}')
}

/// A name without invisible characters that were spelled out when its cell was read.
fn without_spelled(name: &str) -> String {
    let mut rest = name;
    let mut seen = String::new();
    while let Some((before, after)) = rest.split_once("\\u{") {
        seen.push_str(before);
        rest = after.split_once('}').map_or(after, |(_, after)| after);
    }
    seen + rest
}

/// By what two names differ, in words.
fn difference(a: &str, b: &str) -> String {
    let no_blanks = |name: &str| name.split_whitespace().collect::<String>();
    let foreign = |name: &str| {
        let letters = name.chars().filter(|c| !c.is_ascii() && plain(*c).is_ascii());
        let told: Vec<String> =
            letters.map(|c| format!("U+{:04X} that looks like {}", u32::from(c), plain(c))).collect();
        told
    };
    let mut told = foreign(a);
    told.extend(foreign(b));
    told.dedup();
    if no_blanks(a) == no_blanks(b) {
        "they differ by blanks only".to_owned()
    } else if a.to_lowercase() == b.to_lowercase() {
        "they differ by case only".to_owned()
    } else if look(a) != look(b) {
        "O or 0, l or 1 or I".to_owned()
    } else if !told.is_empty() {
        told.join(", ")
    } else {
        "they differ by blanks, case or what nobody sees".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether the second of two names is asked about, among others.
    fn asked(a: &str, b: &str, others: &[&str]) -> bool {
        let names: Vec<(&str, u32)> =
            (2..).zip([a, b].iter().chain(others)).map(|(n, name)| (*name, n)).collect();
        let mut sink = Sink::of("roster.csv");
        ask_about("home", &names, &[], &mut sink);
        sink.any()
    }

    #[test]
    fn names_that_look_alike_are_asked_about() {
        for (a, b) in [
            ("1A", "1a"),
            ("bed room", "Bedroom"),
            ("bed  room", "bed room"),
            ("1A", "1А"),
            ("Bad", "Βad"),
            ("Nora", "Nоra"),
            ("café", "cafe\u{301}"),
            ("1A", "1A\\u{200b}"),
            ("10", "1O"),
            ("l2", "12"),
            ("bed 1", "bed I"),
            ("ІB", "IB"),
        ] {
            assert!(asked(a, b, &[]), "{a} {b}");
            assert!(asked(b, a, &[]), "{b} {a}");
        }
    }

    #[test]
    fn names_that_differ_are_not_asked_about() {
        for (a, b) in [
            ("1A", "1B"),
            ("1 12", "11 2"),
            ("bed 1", "bed 2"),
            ("Küche", "Kuche"),
            ("barn", "bam"),
            ("Зал", "Кухня"),
        ] {
            assert!(!asked(a, b, &[]), "{a} {b}");
        }
        assert!(asked("1I", "11", &["1H"]));
        assert!(!asked("1I", "11", &["1H", "12"]), "both stand in rows of their like");
    }
}
