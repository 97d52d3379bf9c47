//! The audit of the sample, run as a person would: what it finds, its exit codes, and what it never overwrites.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Stdio;

use crate::program::{SampleAudit, audit_sample, command, files_in, run, sample_folder};
use crate::small_site::{ROSTER, SITE, SmallSite};

/// What somebody must act on, as (home, room, rule); the planted problems and nothing else.
const TO_ACT_ON: [(&str, &str, &str); 20] = [
    ("1B", "", "home-uneven"),
    ("1B", "bedroom 2", "falls-behind-in-cold"),
    ("1B", "bedroom 2", "room-cold"),
    ("1B", "bedroom 2", "room-uneven"),
    ("1B", "bedroom 2", "slow-recovery"),
    ("2A", "", "home-uneven"),
    ("2A", "bathroom", "room-cold"),
    ("2A", "bathroom", "room-uneven"),
    ("2B", "", "no-heat"),
    ("2B", "bathroom", "room-cold"),
    ("2B", "bedroom 1", "room-cold"),
    ("2B", "bedroom 2", "room-cold"),
    ("2B", "hall", "room-cold"),
    ("2B", "kitchen", "room-cold"),
    ("2B", "kitchen", "stuck"),
    ("2B", "living", "room-cold"),
    ("3A", "", "home-uneven"),
    ("3A", "bedroom 2", "room-overheated"),
    ("3A", "bedroom 2", "room-uneven"),
    ("3B", "hall", "thin-coverage"),
];

/// What is doubted without a visit, as (home, room, rule): each has its fault in `sample_data/truth.json`.
const DOUBTED: [(&str, &str, &str); 9] = [
    ("1B", "bathroom", "logger-handled"),
    ("2A", "kitchen", "spikes"),
    // The sun reached it beside the others too.
    ("2A", "living", "not-side-by-side"),
    ("2A", "living", "sun-on-logger"),
    ("2B", "kitchen", "thin-coverage"),
    ("3A", "bedroom 1", "clock-suspect"),
    ("3A", "kitchen", "sensor-shifted"),
    ("3B", "", "partial-record"),
    ("3B", "hall", "record-fades"),
];

#[test]
fn planted_problems_are_found_and_the_good_home_has_none() {
    let audit = SampleAudit::get();
    let findings = audit.csv("findings.csv");
    let place = |f: &'_ BTreeMap<String, String>| (f["home"].clone(), f["room"].clone(), f["rule"].clone());
    let acts: BTreeSet<_> = findings.iter().filter(|f| f["severity"] == "act").map(place).collect();
    // The rule asks for what the band asks for: it falls short where rooms are cold.
    let (shortfalls, acts): (BTreeSet<_>, BTreeSet<_>) =
        acts.into_iter().partition(|(.., rule)| rule.starts_with("heat-rule-shortfall"));
    let rooms = |of: &BTreeSet<(String, String, String)>, rule: &str| -> BTreeSet<(String, String)> {
        of.iter().filter(|(.., r)| r == rule).map(|(home, room, _)| (home.clone(), room.clone())).collect()
    };
    assert_eq!(rooms(&shortfalls, "heat-rule-shortfall"), rooms(&acts, "room-cold"));
    let planted: BTreeSet<_> =
        TO_ACT_ON.iter().map(|(a, b, c)| ((*a).to_owned(), (*b).to_owned(), (*c).to_owned())).collect();
    assert_eq!(acts, planted);
    let of_record = |f: &&BTreeMap<String, String>| {
        f["severity"] == "watch" && !["room-", "home-", "heat-"].iter().any(|of| f["rule"].starts_with(of))
    };
    let doubted: BTreeSet<_> = findings.iter().filter(of_record).map(place).collect();
    let faults: BTreeSet<_> =
        DOUBTED.iter().map(|(a, b, c)| ((*a).to_owned(), (*b).to_owned(), (*c).to_owned())).collect();
    assert_eq!(doubted, faults);
    // The sun on one logger and a jump of another look like warm rooms: no crew is sent before that is settled.
    for (home, room) in [("2A", "living"), ("3A", "kitchen")] {
        let warm = |f: &&BTreeMap<String, String>| {
            f["home"] == home && f["room"] == room && f["rule"] == "room-overheated"
        };
        let warm: Vec<_> = findings.iter().filter(warm).collect();
        assert!(!warm.is_empty() && warm.iter().all(|f| f["severity"] == "watch"), "{home} {room}");
        assert!(warm.iter().all(|f| f["shows"].contains("Settle first")));
    }
    assert!(findings.iter().all(|f| f["home"] != "1A"), "1A is warm and even");
    assert!(findings.iter().all(|f| f["severity"] != "urgent"));
}

#[test]
fn rows_that_contradict_each_other_are_named() {
    let audit = SampleAudit::get();
    assert_eq!(audit.ran.code, Some(0));
    for place in ["1B/L-121.csv:2235", "1B/L-121-2.csv:29"] {
        assert!(audit.ran.stderr.contains(place), "{}", audit.ran.stderr);
    }
    assert!(audit.ran.stdout.contains("Alder Row"), "{}", audit.ran.stdout);
}

#[test]
fn unreadable_rows_are_named_and_make_exit_code_1() {
    let folder = tempfile::tempdir().unwrap();
    for (name, mut bytes) in files_in(&sample_folder()) {
        if name == "exports/1A/L-103.csv" {
            let mut lines: Vec<String> =
                String::from_utf8(bytes).unwrap().lines().map(str::to_owned).collect();
            lines[501] = format!("garbled,{}", &lines[501][20..]);
            lines[1801].replace_range(20.., "abc");
            // The download broke off in the middle of the last time.
            bytes = lines.join("\n").into_bytes();
            bytes.truncate(bytes.len() - "2:37,20.00".len());
        }
        let path = folder.path().join("sample").join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
    let site = folder.path().join("sample/site.toml").display().to_string();
    let out = folder.path().join("out").display().to_string();
    let output = command(folder.path(), &["audit", &site, "--out", &out]).output().unwrap();
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{stderr}");
    for place in ["1A/L-103.csv:502", "1A/L-103.csv:1802"] {
        assert!(stderr.contains(place), "{place} is not named:\n{stderr}");
    }
    assert!(stderr.contains("2 rows set aside: bad timestamp"), "{stderr}");
}

#[test]
fn quiet_says_nothing_and_does_the_same() {
    let out = tempfile::tempdir().unwrap();
    let ran = audit_sample(out.path(), &["--quiet"]);
    assert_eq!((ran.code, ran.stdout.as_str(), ran.stderr.as_str()), (Some(0), "", ""));
    assert_same(out.path(), SampleAudit::get().folder());
}

#[test]
fn the_number_of_threads_changes_no_byte() {
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    assert_eq!(audit_sample(one.path(), &["--threads", "1"]).code, Some(0));
    assert_eq!(audit_sample(two.path(), &["--threads", "2"]).code, Some(0));
    assert_same(one.path(), two.path());
}

#[test]
fn a_second_run_into_the_same_folder_gives_the_same() {
    let out = tempfile::tempdir().unwrap();
    audit_sample(out.path(), &[]);
    let first = files_in(out.path());
    assert_eq!(audit_sample(out.path(), &[]).code, Some(0));
    assert!(first == files_in(out.path()));
}

#[test]
fn a_file_that_is_not_ours_is_never_overwritten() {
    let out = tempfile::tempdir().unwrap();
    fs::write(out.path().join("findings.csv"), "my own notes\n").unwrap();
    assert_refused(out.path(), "findings.csv: a file of this name is there that evenrooms did not write");
    assert_eq!(files_in(out.path()).len(), 1, "nothing else was written");
}

#[test]
fn a_result_that_somebody_edited_is_never_overwritten() {
    let out = tempfile::tempdir().unwrap();
    audit_sample(out.path(), &[]);
    let path = out.path().join("findings.csv");
    let edited = fs::read_to_string(&path).unwrap().replace("act", "done");
    fs::write(&path, edited).unwrap();
    assert_refused(out.path(), "findings.csv: it was changed since evenrooms wrote it");
}

#[test]
fn a_strange_provenance_is_never_overwritten() {
    let out = tempfile::tempdir().unwrap();
    fs::write(out.path().join("provenance.json"), "{\"program\": \"another\"}").unwrap();
    assert_refused(out.path(), "provenance.json: it was not written by evenrooms");
}

#[test]
fn without_a_report_the_stale_one_goes_and_nothing_else_changes() {
    let out = tempfile::tempdir().unwrap();
    fs::write(out.path().join("notes.txt"), "mine").unwrap();
    audit_sample(out.path(), &[]);
    let mut with = files_in(out.path());
    assert_eq!(audit_sample(out.path(), &["--no-report"]).code, Some(0));
    let mut without = files_in(out.path());
    assert!(with.remove("report.html").is_some() && with.remove("findings.xlsx").is_some());
    // Provenance lists the outputs, and so does the description of the tables.
    for lists in ["provenance.json", "datapackage.json"] {
        assert!(with.remove(lists) != without.remove(lists), "{lists}");
    }
    assert!(with == without);
}

#[test]
fn a_finding_that_reaches_fail_on_makes_exit_code_3() {
    let out = tempfile::tempdir().unwrap();
    for (severity, code) in [("urgent", 0), ("act", 3), ("note", 3)] {
        assert_eq!(audit_sample(out.path(), &["--fail-on", severity]).code, Some(code), "{severity}");
    }
}

#[test]
fn a_closed_pipe_is_no_error() {
    let out = tempfile::tempdir().unwrap();
    let audit = ["audit", "site.toml", "--out", out.path().to_str().unwrap()];
    for (args, code) in [(&audit[..], 0), (&["explain"], 0), (&["--help"], 0)] {
        let mut command = command(&sample_folder(), args);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let stderr = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{args:?}: {stderr}");
        assert!(!stderr.contains("panicked"), "{stderr}");
    }
    assert!(out.path().join("findings.csv").exists());
}

#[test]
fn a_wrong_command_line_makes_exit_code_2() {
    let folder = sample_folder();
    for args in [&["audit"][..], &["audit", "site.toml"], &["heat"], &["explain", "nothing of the sort"]] {
        assert_eq!(command(&folder, args).output().unwrap().status.code(), Some(2), "{args:?}");
    }
}

fn assert_same(one: &Path, other: &Path) {
    let (one, other) = (files_in(one), files_in(other));
    assert!(one.keys().eq(other.keys()));
    let differ: Vec<&String> = one.keys().filter(|name| one[*name] != other[*name]).collect();
    assert!(differ.is_empty(), "{differ:?} differ");
}

/// The run ends with exit code 2 and these words, and the folder stays as it was.
fn assert_refused(out: &Path, words: &str) {
    let before = files_in(out);
    let ran = audit_sample(out, &[]);
    assert_eq!(ran.code, Some(2));
    assert!(ran.stderr.contains(words), "{}", ran.stderr);
    assert!(ran.stderr.contains("hint: "), "{}", ran.stderr);
    assert!(before == files_in(out), "the folder was touched");
}

#[test]
fn acceptance_sheets_come_where_they_are_asked_for_and_go_with_the_next_run() {
    let small = SmallSite::new(SITE, ROSTER);
    let with = run(small.folder(), &["audit", "site.toml", "--out", "out", "--sheets"]);
    assert_eq!(with.code, Some(0), "{}", with.stderr);
    let sheets = fs::read_to_string(small.out().join("sheets.html")).unwrap();
    assert!(sheets.contains("Checked by, date") && sheets.contains("1A"));
    assert_eq!(small.audit().code, Some(0));
    assert!(!small.out().join("sheets.html").exists());
}
