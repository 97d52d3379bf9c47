//! Names and cells that would act: on a terminal, in a page, in a spreadsheet, in a drafted file.

use std::fs;

use evenrooms::texts::unguarded;

use crate::program::{Ran, files_in, run};
use crate::small_site::{ROSTER, SITE, SmallSite, two_days};

/// What acts in place of being seen, but for the line ends that are ours.
fn acts(c: char) -> bool {
    (c.is_control() && c != '\n')
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn nothing_acts(place: &str, text: &str) {
    let at = text.find(acts);
    assert!(at.is_none(), "{place}: {:?}", at.map(|at| text[at..].chars().take(40).collect::<String>()));
}

const HOSTILE: &str = "home,room,use,heated,logger,file
\"4B\u{1b}[31m\u{202e}\",\"living\nroom\",living,yes,\"L\u{7}-1\",\"liv\ning.csv\"
\"4B\u{1b}[31m\u{202e}\",bedroom,bedroom,yes,L-2,bedroom.csv
";

#[cfg(unix)]
#[test]
fn names_and_cells_that_act_are_spelled_out_and_the_audit_goes_on() {
    let small = SmallSite::new(&SITE.replace("Alder Row", "Alder\\u001b Row\\u202e"), HOSTILE);
    let bad = String::from_utf8(two_days()).unwrap() + "2026-01-07 00:00,\u{1b}]0;owned\u{7}\u{202e}\n";
    small.write("exports/liv\ning.csv", bad.as_bytes());
    small.write("exports/extra\u{1b}[2J\nnote: all is well.csv", &two_days());
    let ran = small.audit();
    assert_eq!(ran.code, Some(1), "{}", ran.stderr);
    nothing_acts("stdout", &ran.stdout);
    nothing_acts("stderr", &ran.stderr);
    assert!(ran.stderr.contains("liv\\ning.csv:290"), "{}", ran.stderr);
    assert!(!ran.stderr.lines().any(|line| line.starts_with("note: all is well")), "{}", ran.stderr);
    assert!(ran.stdout.contains("4B\\u{1b}[31m\\u{202e}"), "{}", ran.stdout);
    for (name, bytes) in files_in(&small.out()) {
        if name.ends_with(".html") || name.ends_with(".csv") || name.ends_with(".json") {
            nothing_acts(&name, &String::from_utf8(bytes).unwrap());
        }
    }
    let metrics = fs::read_to_string(small.out().join("metrics.csv")).unwrap();
    assert!(metrics.contains("living\\nroom"), "the room was read in spite of its file's name");
}

#[test]
fn mistakes_tell_hostile_cells_without_letting_them_act() {
    let ran =
        SmallSite::new(SITE, &ROSTER.replace("bedroom,bedroom", "bedroom,\u{1b}[2Jbed\u{202e}")).refused();
    nothing_acts("stderr", &ran);
    assert!(ran.contains("\\u{1b}[2Jbed"), "{ran}");
    let ran = SmallSite::new(&SITE.replace("America/Chicago", "\\u001b[2J"), ROSTER).refused();
    nothing_acts("stderr", &ran);
}

#[test]
fn cells_that_a_spreadsheet_would_run_are_guarded_and_read_back() {
    let roster = "home,room,use,heated,logger,file\n'=1+1,@sum,living,yes,-L1,living.csv\n'=1+1,'quoted,bedroom,yes,+2,bedroom.csv\n";
    let small = SmallSite::new(SITE, roster);
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    assert!(ran.stdout.contains("=1+1") && !ran.stdout.contains("'=1+1"), "{}", ran.stdout);
    let (mut homes, mut rooms, mut negative) = (Vec::new(), Vec::new(), false);
    for table in ["metrics.csv", "loggers.csv", "events.csv", "findings.csv"] {
        let mut reader = csv::Reader::from_path(small.out().join(table)).unwrap();
        let header = reader.headers().unwrap().clone();
        for row in reader.records().map(Result::unwrap) {
            for (column, cell) in header.iter().zip(row.iter()) {
                let number = cell.parse::<f64>().is_ok();
                negative |= number && cell.starts_with('-');
                assert!(
                    number || !cell.starts_with(['=', '+', '-', '@', '\t', '\r']),
                    "{table} {column}: {cell}"
                );
                match column {
                    "home" => homes.push(unguarded(cell).to_owned()),
                    "room" => rooms.push(unguarded(cell).to_owned()),
                    _ => {}
                }
            }
        }
    }
    assert!(negative, "numbers below 0 are numbers");
    let told = |names: &[String], name: &str| names.iter().any(|n| n == name);
    assert!(told(&homes, "=1+1") && told(&rooms, "@sum") && told(&rooms, "'quoted"), "{homes:?} {rooms:?}");
    let package = fs::read_to_string(small.out().join("datapackage.json")).unwrap();
    assert!(package.contains("has one apostrophe put before it") && package.contains("to read it back"));
}

fn draft(small: &SmallSite, out: &str) -> Ran {
    run(
        small.folder(),
        &["draft", "exports", "--out", out, "--time-zone", "America/Chicago", "--clock", "civil"],
    )
}

#[cfg(unix)]
#[test]
fn no_name_leaves_a_comment_of_a_drafted_file() {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("exports/x\n[evil]\ny = 1\n#.csv", b"nothing that could be read");
    small.write("exports/out\n[worse]\nz = 1\n#doors.csv", &two_days());
    let ran = draft(&small, "drafted");
    nothing_acts("stdout", &ran.stdout);
    let text = fs::read_to_string(small.folder().join("drafted/site.toml")).unwrap();
    let table: toml::Table = text.parse().unwrap_or_else(|error| panic!("{error}\n{text}"));
    assert!(!table.contains_key("evil") && !table.contains_key("worse"), "{text}");
    assert!(text.contains("x\\n[evil]\\ny = 1"), "it is told: {text}");
}

#[test]
fn a_drafted_roster_is_guarded_and_read_as_it_was() {
    let small = SmallSite::new(SITE, ROSTER);
    small.write("exports/=living.csv", &two_days());
    small.remove("exports/living.csv");
    let ran = draft(&small, "drafted");
    assert!(matches!(ran.code, Some(0 | 1)), "{}", ran.stderr);
    let roster = fs::read_to_string(small.folder().join("drafted/roster.csv")).unwrap();
    assert!(roster.contains(",'=living.csv,"), "{roster}");
    let rows: Vec<&str> = roster.lines().filter(|line| line.contains("=living.csv")).collect();
    small.write(
        "roster.csv",
        format!("home,room,use,heated,logger,file\n1A,living,living,yes,L-1,{}\n", "'=living.csv").as_bytes(),
    );
    assert_eq!(rows.len(), 1, "{roster}");
    let ran = small.audit();
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
}

#[test]
fn results_are_not_written_among_the_exports() {
    let small = SmallSite::new(SITE, ROSTER);
    let kept = files_in(small.folder());
    let commands: [&[&str]; 3] = [
        &["audit", "site.toml"],
        &["compare", "site.toml", "--before", "2026-01-05/2026-01-05", "--after", "2026-01-06/2026-01-06"],
        &["complaint", "site.toml", "--home", "1A", "--from", "2026-01-05", "--to", "2026-01-06"],
    ];
    for command in commands {
        for out in ["exports", "exports/", "exports/out", "out/../exports/new"] {
            let ran = run(small.folder(), &[command, &["--out", out]].concat());
            assert_eq!(ran.code, Some(2), "{out}: {}", ran.stdout);
            assert!(
                ran.stderr.contains("where results would go") && ran.stderr.contains("hint: "),
                "{}",
                ran.stderr
            );
        }
    }
    assert!(kept == files_in(small.folder()), "nothing was written");
}

#[test]
fn where_everything_lies_in_one_folder_results_have_their_own() {
    let small = SmallSite::new(&SITE.replace("exports = \"exports\"", "exports = \".\""), ROSTER);
    for name in ["living.csv", "bedroom.csv"] {
        fs::rename(small.folder().join("exports").join(name), small.folder().join(name)).unwrap();
    }
    let ran = run(small.folder(), &["audit", "site.toml", "--out", "."]);
    assert_eq!(ran.code, Some(2), "{}", ran.stdout);
    for _ in 0..2 {
        let ran = small.audit();
        assert_eq!(ran.code, Some(0), "{}", ran.stderr);
        assert!(!ran.stderr.contains("does not name"), "results are no exports: {}", ran.stderr);
    }
}
