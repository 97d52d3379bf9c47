//! Two runs into one folder.

use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::stand::{AUDIT, Stand, both, said};

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn the_second_run_into_a_folder_says_so_and_stops() {
    let (stand, both) = (Stand::new(), both());
    stand.lay("out", &both.0);
    stand.second();
    let mut first = stand.command(&AUDIT).env("EVENROOMS_FAULT", "hold 30").spawn().unwrap();
    let begun = Instant::now();
    while !stand.path("out/.evenrooms-lock").exists() {
        assert!(begun.elapsed() < Duration::from_secs(60), "the run does not get going");
        sleep(Duration::from_millis(5));
    }
    let draft = ["draft", "exports", "--out", "out"];
    let simulate = ["simulate", "--seed", "1", "--homes", "1", "--days", "1", "--out", "out"];
    for args in [&AUDIT[..], &draft, &simulate] {
        let second = stand.run(args);
        assert_eq!(second.status.code(), Some(2), "{}", said(&second));
        assert!(said(&second).contains("another run of evenrooms writes its results into this folder"));
        assert!(said(&second).contains("hint: wait until it has ended"), "{}", said(&second));
    }
    assert_eq!(first.wait().unwrap().code(), Some(0));
    assert!(stand.files("out") == both.1, "{:?}", stand.files("out").keys());
}

#[test]
fn many_runs_at_once_leave_one_whole_set() {
    let (stand, both) = (Stand::new(), both());
    stand.second();
    for _ in 0..5 {
        let runs: Vec<_> = (0..4)
            .map(|_| stand.command(&AUDIT).stderr(std::process::Stdio::null()).spawn().unwrap())
            .collect();
        let codes: Vec<_> = runs.into_iter().map(|mut run| run.wait().unwrap().code()).collect();
        assert!(
            codes.iter().all(|code| matches!(code, Some(0 | 2))) && codes.contains(&Some(0)),
            "{codes:?}"
        );
        assert!(stand.files("out") == both.1, "{:?}", stand.files("out").keys());
    }
}
