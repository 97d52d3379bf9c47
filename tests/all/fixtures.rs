//! Exports in many dialects and with many kinds of damage: what must come of each, to the last row.
//!
//! `tests/fixtures` holds one small file per trait, named by it, all of them invented. What they hold was written down
//! when they were made, not by the reader. Files that are no text are made on the way.

mod cells;
mod clocks;
mod damage;
mod damaged_files;
mod damaged_packings;
mod expected;
mod headers;
mod languages;
mod letters;
mod misread;
mod numbers;
mod out_of_reach;
mod packed;
mod packings;
mod shapes;
mod times;
mod trap_table;
mod traps;
mod words_first;

use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use evenrooms::exports::{Files, Opened, Purpose, Reason, open_home};
use evenrooms::site::read_site_file;

use crate::program::files_in;
use expected::{Fixture, ledger_differences};

/// The cells of a roster row that tell how to read an export; empty ones leave it to the export.
#[derive(Clone, Copy)]
struct Roster {
    column: &'static str,
    unit: &'static str,
    clock: &'static str,
    dates: &'static str,
    logger: &'static str,
}

/// A row that tells nothing.
const SILENT: Roster = Roster { column: "", unit: "", clock: "", dates: "", logger: "L-1" };

/// The notes of an export, one after another.
fn notes_of(opened: &Opened) -> String {
    opened.notes.iter().map(|n| format!("note: {n}\n")).collect()
}

/// What an export comes to: counts, notes, and the rows set aside.
fn told(opened: &Opened) -> String {
    let ledger = &opened.ledgers[0];
    let mut text = format!("{} rows seen, {} kept\n{}", ledger.seen, ledger.kept, notes_of(opened));
    // Of an export that was not understood, all rows stand there.
    for row in opened.set_aside.iter().filter(|row| row.reason != Reason::NotUnderstood) {
        let detail = if row.detail.is_empty() { String::new() } else { format!(" ({})", row.detail.told()) };
        let shown: String = row.text.chars().take(50).collect();
        writeln!(text, "line {}: {}{detail}: {shown}", row.line, row.reason.words()).unwrap();
    }
    text
}

const SITE: &str = r#"[site]
name = "Alder Row"
time_zone = "America/Chicago"
roster = "roster.csv"
exports = "exports"
clock = "civil"
"#;

/// Opens one series of an export as the audit does.
fn open(name: &str, roster: Roster, files: &Files) -> Opened {
    open_all(name, &[roster], files).remove(0)
}

/// Opens some series of an export, each of them a room.
fn open_all(name: &str, rows: &[Roster], files: &Files) -> Vec<Opened> {
    let mut roster = "home,room,use,heated,logger,file,column,unit,clock,dates\n".to_owned();
    for (i, Roster { column, unit, clock, dates, logger }) in rows.iter().enumerate() {
        writeln!(roster, "1A,{i},living,yes,{logger},{name},\"{column}\",{unit},{clock},{dates}").unwrap();
    }
    let site = read_site_file("site.toml", SITE).with_roster("roster.csv", roster.as_bytes());
    let site = site.unwrap_or_else(|error| panic!("{error}"));
    open_home(&site, &site.homes[0], files, Purpose::Audit).unwrap().into_iter().flatten().collect()
}

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures").join(name)
}

/// Reads one file of `tests/fixtures`.
fn files_with(folder_name: &str, file: &str) -> Files {
    let bytes = std::fs::read(folder(folder_name).join(file)).map_err(|error| error.to_string());
    Files::from([(file.to_owned(), bytes)])
}

/// Lines of a text in any encoding: what stands behind the last line end is one more.
fn lines_of(bytes: &[u8]) -> u64 {
    let marks: &[&[u8]] = &[b"\xff\xfe", b"\xfe\xff", b"\xef\xbb\xbf"];
    let bytes = marks.iter().find_map(|mark| bytes.strip_prefix(*mark)).unwrap_or(bytes);
    let letters: Vec<u8> = bytes.iter().copied().filter(|b| *b != 0).collect();
    let end = if letters.contains(&b'\n') { b'\n' } else { b'\r' };
    let ends = letters.iter().filter(|b| **b == end).count() as u64;
    ends + u64::from(letters.last().is_some_and(|b| *b != end))
}

/// What a file of the damaged ones comes to; every line is accounted for if any is.
fn damaged(file: &str, roster: Roster) -> String {
    let files = files_with("damage", file);
    let opened = open(file, roster, &files);
    let ledger = &opened.ledgers[0];
    // A file that is no text, or several, has no lines.
    if ledger.lines() > 0 || !opened.notes.iter().any(|n| n.unreadable) {
        let lines = lines_of(files[file].as_ref().unwrap());
        assert_eq!(ledger_differences(ledger, lines), [] as [String; 0]);
    }
    told(&opened)
}

fn all() -> impl Iterator<Item = &'static Fixture> {
    [letters::TABLE, cells::TABLE, headers::TABLE, times::TABLE, clocks::TABLE, numbers::TABLE, shapes::TABLE]
        .into_iter()
        .flatten()
}

/// Everything that differs for these series.
fn differences<'a>(fixtures: impl Iterator<Item = &'a Fixture>) -> String {
    let mut text = String::new();
    for fixture in fixtures {
        let files = files_with("dialects", fixture.file);
        let lines = lines_of(files[fixture.file].as_ref().unwrap());
        let opened = open(fixture.file, fixture.roster, &files);
        for difference in fixture.differences(&opened, lines) {
            writeln!(text, "{} {}: {difference}", fixture.file, fixture.roster.column).unwrap();
        }
    }
    text
}

#[test]
fn every_dialect_is_read_to_the_last_row() {
    let found = differences(all());
    assert!(found.is_empty(), "\n{found}");
}

/// A file in which a column names the loggers holds as many series as it names.
#[test]
fn a_long_file_serves_several_rooms() {
    let table = || shapes::TABLE.iter().filter(|f| f.file == "long-with-logger-names.csv");
    let rows: Vec<Roster> = table().map(|f| f.roster).collect();
    let opened =
        open_all("long-with-logger-names.csv", &rows, &files_with("dialects", "long-with-logger-names.csv"));
    for (fixture, opened) in table().zip(&opened) {
        assert_eq!(opened.readings.len(), fixture.kept, "{}", told(opened));
    }
    assert_eq!(opened.len(), 3);
}

#[test]
fn the_folder_of_dialects_is_the_table() {
    let there: BTreeSet<String> = files_in(&folder("dialects")).into_keys().collect();
    let table: BTreeSet<String> = all().chain(trap_table::TABLE).map(|f| f.file.to_owned()).collect();
    assert_eq!(there, table);
}

/// Each damaged file is named by a test, and each test names one that is there.
#[test]
fn the_folder_of_damage_is_the_tests() {
    let sources = [
        include_str!("fixtures/damage.rs"),
        include_str!("fixtures/damaged_files.rs"),
        include_str!("fixtures/misread.rs"),
    ];
    let texts = sources.iter().flat_map(|source| source.split('"').skip(1).step_by(2));
    let tested: BTreeSet<String> = texts.filter(|text| text.ends_with(".csv")).map(str::to_owned).collect();
    let there: BTreeSet<String> = files_in(&folder("damage")).into_keys().collect();
    assert_eq!(there, tested);
}
