//! Exports that are no plain files inside the folder of exports.
#![cfg(target_os = "linux")]

use std::fs;
use std::os::unix::fs::symlink;
use std::process::Command;

use crate::wild::bombs::{day, gzip_bomb};
use crate::wild::limits::{Place, run};

#[test]
fn a_link_out_of_the_folder_is_refused() {
    let place = Place::new("out.csv", "");
    fs::write(place.path("elsewhere.csv"), day()).unwrap();
    symlink(place.path("elsewhere.csv"), place.path("exports/out.csv")).unwrap();
    place.names_it("out.csv", "leads out of the exports folder");
    let place = Place::new("sub/elsewhere.csv", "");
    fs::write(place.path("elsewhere.csv"), day()).unwrap();
    symlink(place.path("."), place.path("exports/sub")).unwrap();
    place.names_it("sub/elsewhere.csv", "leads out of the exports folder");
}

#[test]
fn a_name_that_leads_out_of_the_folder_is_refused() {
    for name in ["../elsewhere.csv", "sub/../../elsewhere.csv", "/dev/zero", "/dev/stdin", "/etc/passwd"] {
        let place = Place::new(name, "");
        fs::create_dir(place.path("exports/sub")).unwrap();
        fs::write(place.path("elsewhere.csv"), day()).unwrap();
        place.names_it(name, "leads out of the exports folder");
    }
}

#[test]
fn a_link_inside_the_folder_is_followed() {
    let place = Place::new("in.csv", "");
    fs::write(place.path("exports/real.csv"), day()).unwrap();
    symlink("real.csv", place.path("exports/in.csv")).unwrap();
    place.reads_it();
}

#[test]
fn links_to_nowhere_and_in_a_circle_are_named() {
    for (target, words) in [("nowhere.csv", "no such file"), ("odd.csv", "could not be read")] {
        let place = Place::new("odd.csv", "");
        symlink(target, place.path("exports/odd.csv")).unwrap();
        place.names_it("odd.csv", words);
    }
}

#[test]
fn folders_pipes_and_devices_are_named() {
    let place = Place::new("folder.csv", "");
    fs::create_dir(place.path("exports/folder.csv")).unwrap();
    place.names_it("folder.csv", "expected a file");
    let place = Place::new("pipe.csv", "");
    pipe(&place, "exports/pipe.csv");
    place.names_it("pipe.csv", "expected a file");
    let place = Place::new("zero.csv", "");
    symlink("/dev/zero", place.path("exports/zero.csv")).unwrap();
    place.names_it("zero.csv", "leads out of the exports folder");
}

/// A pipe without a writer: who opens it to read waits for ever.
fn pipe(place: &Place, name: &str) {
    assert!(Command::new("mkfifo").arg(place.path(name)).status().unwrap().success());
}

#[test]

fn inspect_names_pipes_and_devices() {
    let place = Place::new("pipe.csv", "");
    pipe(&place, "pipe.csv");
    for name in ["pipe.csv", "/dev/zero"] {
        let ran = run(place.path("").as_path(), &format!("inspect {name}"));
        assert!(matches!(ran.code, Some(1 | 2)) && ran.said.contains(name), "{:?}: {}", ran.code, ran.said);
    }
}

#[test]
fn a_draft_passes_over_what_is_no_export() {
    let place = Place::new("good.csv", "");
    pipe(&place, "exports/pipe.csv");
    symlink("/dev/zero", place.path("exports/zero.csv")).unwrap();
    symlink("..", place.path("exports/up")).unwrap();
    fs::write(place.path("exports/zeros.csv.gz"), gzip_bomb(1024)).unwrap();
    let ran = run(place.path("").as_path(), "draft exports --out drafted");
    assert_eq!(ran.code, Some(1), "one could not be read: {}", ran.said);
    let roster = fs::read_to_string(place.path("drafted/roster.csv")).unwrap();
    assert!(
        roster.contains("good.csv") && !roster.contains("pipe.csv") && !roster.contains("zero"),
        "{roster}"
    );
}
