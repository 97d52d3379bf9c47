//! Closed and full pipes.

use std::fs::OpenOptions;
use std::process::{Command, Stdio};

use crate::stand::{Stand, both};

fn loud(stand: &Stand, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_evenrooms"));
    command.current_dir(stand.path("")).args(args);
    command
}

const COMMANDS: [&[&str]; 8] = [
    &["audit", "site.toml", "--out", "out"],
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
    &[
        "compare",
        "site.toml",
        "--before",
        "2026-01-05/2026-01-05",
        "--after",
        "2026-01-06/2026-01-06",
        "--out",
        "compared",
    ],
    &["draft", "exports", "--out", "drafted"],
    &["inspect", "exports/living.csv"],
    &["inspect", "exports/living.csv", "--json"],
    &["explain"],
    &["--help"],
];

#[test]
fn a_full_standard_output_ends_with_2_and_the_results_are_whole() {
    let stand = Stand::new();
    for args in COMMANDS {
        let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = loud(&stand, args).stdout(full).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.contains("standard output: could not be written: No space left on device"), "{said}");
    }
    assert!(stand.files("out") == both().0);
}

#[test]
fn a_full_standard_error_changes_nothing() {
    let stand = Stand::new();
    let full = OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = loud(&stand, COMMANDS[0]).stderr(full).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(stand.files("out") == both().0);
}

#[test]
fn a_closed_pipe_is_no_error() {
    let stand = Stand::new();
    for args in COMMANDS {
        let mut child = loud(&stand, args).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code().is_some_and(|code| code < 2), "{args:?}: {said}");
        assert!(!said.contains("panicked"), "{said}");
    }
}
