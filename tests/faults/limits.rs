//! Inputs that are far larger than they should be, threads that the system does not give, and panics: each ends in an error
//! or a note, in memory that is bounded.

use std::fmt::Write;
use std::fs::File;
use std::process::{Command, Output};

use crate::stand::{AUDIT, Stand, assert_no_mixture, both, said};

/// Runs with so many megabytes of address space, all of one heap.
fn bounded(stand: &Stand, megabytes: u64, args: &[&str]) -> Output {
    let mut command = Command::new("sh");
    command.current_dir(stand.path("")).env("MALLOC_ARENA_MAX", "1");
    let limit = format!("ulimit -v {} && exec \"$0\" \"$@\"", megabytes << 10);
    command.args(["-c", &limit, env!("CARGO_BIN_EXE_evenrooms")]).args(args).args([
        "--quiet",
        "--threads",
        "2",
    ]);
    command.output().unwrap()
}

/// What a run takes beside its inputs; the program itself is in it, 70 and more of it as it is built for tests, and grows with each
/// command.
const BESIDE_MB: u64 = 240;

fn with_head(stand: &Stand, head: &str, length: u64) {
    stand.write("exports/living.csv", head.as_bytes());
    let file = File::options().write(true).open(stand.path("exports/living.csv")).unwrap();
    file.set_len(length).unwrap();
}

#[test]
fn a_sparse_file_of_two_gigabytes_is_refused_in_little_memory() {
    let stand = Stand::new();
    let good = String::from_utf8(std::fs::read(stand.path("exports/living.csv")).unwrap()).unwrap();
    for (head, length) in [("", 2_u64 << 30), (good.as_str(), 2 << 30), ("", 3 << 30)] {
        with_head(&stand, head, length);
        for (args, code) in [(&AUDIT[..], 1), (&["inspect", "exports/living.csv"], 2)] {
            let output = bounded(&stand, BESIDE_MB, args);
            assert_eq!(output.status.code(), Some(code), "{args:?}: {}", said(&output));
        }
        let output = bounded(&stand, BESIDE_MB, &["draft", "exports", "--out", "drafted"]);
        assert!(output.status.code().is_some_and(|code| code < 3), "{}", said(&output));
        let _ = std::fs::remove_dir_all(stand.path("drafted"));
    }
}

#[test]
fn zeros_behind_a_good_export_that_is_no_larger_than_others_are_passed_over() {
    let stand = Stand::new();
    let good = String::from_utf8(std::fs::read(stand.path("exports/living.csv")).unwrap()).unwrap();
    with_head(&stand, &good, 1 << 20);
    let output = stand.run(&AUDIT);
    assert!(output.status.code().is_some_and(|code| code < 2), "{}", said(&output));
}

/// Six rooms whose records hold ten days from one date on and ten from another.
fn torn(stand: &Stand, [first, second]: [&str; 2]) -> usize {
    let rooms = ["living", "bedroom", "hall", "kitchen", "bath", "study"];
    let mut roster = "home,room,use,heated,logger,file\n".to_owned();
    for (number, room) in rooms.iter().enumerate() {
        writeln!(roster, "1A,{room},other,yes,L-{number},{room}.csv").unwrap();
        let row = |month: &str, n: usize| {
            let (day, hour, minute) = (1 + n / 144, n / 6 % 24, n % 6 * 10);
            let tenths = (n + number) % 7;
            format!("{month}-{day:02} {hour:02}:{minute:02},{:.1}\n", 20.5 + tenths as f64 / 10.0)
        };
        let rows: String = [first, second].iter().flat_map(|m| (0..1440).map(|n| row(m, n))).collect();
        stand.write(&format!("exports/{room}.csv"), format!("time,temperature (°C)\n{rows}").as_bytes());
    }
    stand.write("roster.csv", roster.as_bytes());
    rooms.len()
}

/// Nobody can tell which half is right, and the years between cost neither memory nor time.
#[test]
fn a_record_that_is_torn_at_any_date_costs_no_more_than_its_rows() {
    let stand = Stand::new();
    let loggers = || String::from_utf8(stand.files("out")["loggers.csv"].clone()).unwrap();
    for halves in [["2015-03", "2026-02"], ["2026-02", "2036-05"], ["1995-07", "2098-12"]] {
        let rooms = torn(&stand, halves);
        let output = bounded(&stand, BESIDE_MB, &AUDIT);
        assert_eq!(output.status.code(), Some(1), "{halves:?}: {}", said(&output));
        let report = String::from_utf8(stand.files("out")["report.html"].clone()).unwrap();
        assert!(report.contains("the record is torn"), "{halves:?}");
        assert_eq!(loggers().matches(",2880,0,2880,").count(), rooms, "{halves:?}: {}", loggers());
    }
    // Before the years in which loggers record, rows are no readings whatever stands beside them.
    let rooms = torn(&stand, ["1970-06", "2026-02"]);
    bounded(&stand, BESIDE_MB, &AUDIT);
    assert_eq!(loggers().matches(",2880,1440,1440,2026-02-01").count(), rooms, "{}", loggers());
    // The roster settles it.
    let rooms = torn(&stand, ["2015-03", "2026-02"]);
    let roster = String::from_utf8(std::fs::read(stand.path("roster.csv")).unwrap()).unwrap();
    let dated = roster.replace(".csv\n", ".csv,2020-01-01\n").replace(",file\n", ",file,from\n");
    stand.write("roster.csv", dated.as_bytes());
    bounded(&stand, BESIDE_MB, &AUDIT);
    assert_eq!(loggers().matches(",2880,1440,1440,2026-02-01").count(), rooms, "{}", loggers());
}

/// Half of the record was written by a clock that started again at 2000, the other half in 2026.
#[test]
fn a_record_that_a_reset_clock_tore_costs_no_more_than_its_rows() {
    let stand = Stand::new();
    let rooms = torn(&stand, ["2000-01", "2026-01"]);
    let output = bounded(&stand, BESIDE_MB, &AUDIT);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let loggers = String::from_utf8(stand.files("out")["loggers.csv"].clone()).unwrap();
    assert_eq!(loggers.matches(",2880,1440,1440,2026-01-01").count(), rooms, "{loggers}");
    let more: [&[&str]; 2] = [
        &[
            "complaint",
            "site.toml",
            "--home",
            "1A",
            "--from",
            "2026-01-05",
            "--to",
            "2026-01-06",
            "--out",
            "sheet",
        ],
        &["audit", "site.toml", "--from-aligned", "out", "--out", "again"],
    ];
    for args in more {
        let output = bounded(&stand, BESIDE_MB, args);
        assert!(output.status.code().is_some_and(|code| code < 2), "{args:?}: {}", said(&output));
    }
}

#[test]
fn a_record_of_two_winters_is_kept_whole() {
    let stand = Stand::new();
    let good = String::from_utf8(std::fs::read(stand.path("exports/living.csv")).unwrap()).unwrap();
    let (header, rows) = good.split_once('\n').unwrap();
    let earlier = rows.replace("2026-", "2025-");
    stand.write("exports/living.csv", format!("{header}\n{earlier}{rows}").as_bytes());
    stand.done(&AUDIT);
    let loggers = String::from_utf8(stand.files("out")["loggers.csv"].clone()).unwrap();
    assert!(loggers.contains(",576,576,0,2025-01-05"), "{loggers}");
}

/// Of 8 MB, so that it takes little time: what counts is the memory for each row beside what any run takes.
#[test]
fn an_export_of_which_every_row_is_set_aside_costs_no_more_than_one_of_readings() {
    let stand = Stand::new();
    let good = std::fs::read(stand.path("exports/living.csv")).unwrap();
    const MEGABYTES: usize = 8;
    const ANY_RUN_MB: u64 = 120;
    let rows = (MEGABYTES << 20) / 22;
    let same_time: String = (0..rows).map(|n| format!("2026-01-06 23:50,2{}.5\n", n % 7)).collect();
    let no_time = "2026-13-06 23:50,20.5\n".repeat(rows);
    for (what, text) in [("the same time", same_time), ("no time", no_time)] {
        stand.write("exports/living.csv", &[&good[..], text.as_bytes()].concat());
        let output = bounded(&stand, MEGABYTES as u64 * 5 / 2 + ANY_RUN_MB, &AUDIT);
        assert_eq!(output.status.code(), Some(1), "{what}: {}", said(&output));
        let loggers = String::from_utf8(stand.files("out")["loggers.csv"].clone()).unwrap();
        let books = format!("living.csv,{},", 288 + rows);
        assert!(loggers.contains(&books), "{what}: {loggers}");
        assert_no_mixture(&stand.files("out"), what);
    }
}

#[test]
fn an_open_quote_over_a_hundred_megabytes_is_set_aside_in_bounded_memory() {
    let stand = Stand::new();
    let good = std::fs::read(stand.path("exports/living.csv")).unwrap();
    let open = [&good[..], b"\"", &b"x".repeat(100 << 20)].concat();
    stand.write("exports/living.csv", &open);
    let output = bounded(&stand, 100 + BESIDE_MB, &AUDIT);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let loggers = String::from_utf8(stand.files("out")["loggers.csv"].clone()).unwrap();
    assert!(loggers.contains("living.csv,289,288,1,"), "{loggers}");
    assert_no_mixture(&stand.files("out"), "an open quote");
}

#[test]
fn a_roster_of_a_hundred_thousand_rows_is_read_or_refused_in_bounded_memory() {
    let stand = Stand::new();
    let mut roster = "home,room,use,heated,logger,file\n".to_owned();
    for n in 0..100_000 {
        writeln!(roster, "H{},room {},other,no,L-{n},nowhere/{n}.csv", n / 6, n % 6).unwrap();
    }
    stand.write("roster.csv", roster.as_bytes());
    let output = bounded(&stand, BESIDE_MB, &AUDIT);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("none of the roster's exports is there"), "{}", said(&output));
    stand.write("roster.csv", roster.replace(",no,", ",perhaps,").as_bytes());
    let output = bounded(&stand, BESIDE_MB, &AUDIT);
    assert_eq!(output.status.code(), Some(2), "{}", &said(&output)[..2000]);
}

#[test]
fn threads_that_the_system_does_not_give_are_an_error() {
    let stand = Stand::new();
    let mut command = Command::new("sh");
    command.current_dir(stand.path("")).env("MALLOC_ARENA_MAX", "1");
    let limit = "ulimit -v 300000 && exec \"$0\" \"$@\"";
    command.args(["-c", limit, env!("CARGO_BIN_EXE_evenrooms")]).args(AUDIT).args(["--threads", "400"]);
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("--threads: 400 threads could not be started"), "{}", said(&output));
    assert!(!said(&output).contains("panicked") && !said(&output).contains("bug"), "{}", said(&output));
}

#[test]
fn more_threads_than_any_machine_has_are_refused() {
    let stand = Stand::new();
    let run = |n: &str| {
        Command::new(env!("CARGO_BIN_EXE_evenrooms")).args(["explain", "mean", "--threads", n]).output()
    };
    for wrong in ["0", "513", "65536"] {
        let output = run(wrong).unwrap();
        assert_eq!(output.status.code(), Some(2), "{wrong}");
        assert!(said(&output).contains("1..=512"), "{}", said(&output));
    }
    assert_eq!(run("512").unwrap().status.code(), Some(0));
    drop(stand);
}

/// A bug of ours is told as one, with the exit code of what was not done, and leaves the old results whole.
#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_panic_is_told_as_a_bug_and_leaves_the_old_results() {
    let (stand, both) = (Stand::new(), both());
    // At steps before, in and after the publication, until a run has no more of them.
    for step in (5..).step_by(11) {
        stand.lay("out", &both.0);
        stand.second();
        let output = stand.run_with(&format!("panic {step}"), &AUDIT);
        if output.status.code() == Some(0) {
            assert!(step > 90, "only {step} steps");
            break;
        }
        assert_eq!(output.status.code(), Some(2), "step {step}: {}", said(&output));
        assert!(said(&output).contains("this is a bug in evenrooms"), "{}", said(&output));
        stand.settle("out");
        crate::stand::assert_one_of(&stand.files("out"), both, &format!("a panic at step {step}"));
    }
}

#[test]
fn a_full_disk_and_a_damaged_input_are_no_bugs() {
    let stand = Stand::new();
    stand.write("exports/living.csv", b"PK\x03\x04 and no archive behind it");
    let output = stand.run(&AUDIT);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    let full = stand.run_with("full 9", &AUDIT);
    for output in [output, full] {
        assert!(!said(&output).contains("bug in evenrooms"), "{}", said(&output));
    }
}
