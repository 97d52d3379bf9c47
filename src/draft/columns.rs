//! Several columns of one export that would all be the same room: only one of them is its temperature.

use super::Candidate;

/// Words of columns that hold something else than what a room's air measured.
const SOMETHING_ELSE: [&str; 22] = [
    "setpoint", "setpt", "set", "target", "dew", "dewpoint", "wet", "wetbulb", "min", "minimum", "lowest",
    "max", "maximum", "highest", "serial", "battery", "index", "feels", "apparent", "surface", "coil",
    "supply",
];

/// Takes out columns whose name speaks of something else where another column of the same file is the same room's, and asks
/// for a decision where several are left; says what was left out, and why.
pub(super) fn settle(candidates: &mut Vec<Candidate<'_>>) -> Vec<(String, String)> {
    let mut left_out = Vec::new();
    let mut at = 0;
    while at < candidates.len() {
        let new = &candidates[at];
        let rival = |other: &Candidate<'_>| same_place(other, new) && !speaks_of_something_else(other);
        if speaks_of_something_else(new) && candidates.iter().any(rival) {
            let column = new.column.unwrap_or_default();
            left_out.push((
                format!("{} (column {column})", new.file),
                "its name speaks of something else than the room's temperature, which another column has"
                    .to_owned(),
            ));
            candidates.remove(at);
        } else {
            at += 1;
        }
    }
    for at in 0..candidates.len() {
        let others =
            candidates.iter().enumerate().filter(|(o, other)| *o != at && same_place(other, &candidates[at]));
        if others.count() > 0 {
            let note = "decide: column (keep the row with the room's temperature, remove the others)";
            candidates[at].notes.push(note.to_owned());
        }
    }
    left_out
}

fn same_place(one: &Candidate<'_>, other: &Candidate<'_>) -> bool {
    one.column.is_some()
        && one.file == other.file
        && (&one.home, &one.logger) == (&other.home, &other.logger)
        && bare_room(one) == bare_room(other)
}

/// The room without the words that speak of something else: "living set" is the living room's.
fn bare_room(candidate: &Candidate<'_>) -> String {
    let room = candidate.room.as_deref().unwrap_or_default().to_lowercase();
    room.split(' ').filter(|word| !SOMETHING_ELSE.contains(word)).collect::<Vec<_>>().join(" ")
}

fn speaks_of_something_else(candidate: &Candidate<'_>) -> bool {
    let name = candidate.column.unwrap_or_default().to_lowercase();
    name.split(|c: char| !c.is_alphanumeric()).any(|word| SOMETHING_ELSE.contains(&word))
}
