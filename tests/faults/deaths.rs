//! Runs that die: at each step, and at any moment.

use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::stand::{
    AUDIT, COMPARE, COMPLAINT, Files, Stand, assert_no_mixture, assert_one_of, both, both_in_turn, both_of,
    said,
};

/// Kills a command at every step it takes on the disk, over results that are there; what follows settles the folder.
fn dies_at_every_step(stand: &Stand, args: &[&str], both: &(Files, Files)) -> u64 {
    for step in 1.. {
        stand.lay("out", &both.0);
        stand.second();
        let output = stand.run_with(&format!("die {step}"), args);
        let what = format!("{} killed at step {step}", args[0]);
        if output.status.code().is_some() {
            assert_eq!(output.status.code(), Some(0), "{what}: {}", said(&output));
            assert!(stand.files("out") == both.1, "{what}: not killed any more, and not done");
            return step - 1;
        }
        assert_no_mixture(&stand.files("out"), &what);
        stand.settle("out");
        assert_one_of(&stand.files("out"), both, &what);
    }
    0
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn an_audit_that_dies_at_any_step_leaves_the_old_results_or_the_new() {
    let steps = dies_at_every_step(&Stand::new(), &AUDIT, both());
    assert!(steps > 100, "only {steps} steps");
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_complaint_sheet_is_the_old_one_or_the_new() {
    let stand = Stand::new();
    let args = COMPLAINT;
    let both = both_in_turn(&stand, &args);
    assert!(dies_at_every_step(&stand, &args, &both) > 20);
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_comparison_is_the_old_one_or_the_new() {
    let stand = Stand::new();
    let args = COMPARE;
    let both = both_of(&stand, &args);
    assert!(dies_at_every_step(&stand, &args, &both) > 20);
}

/// After each death the very same command is done, with nothing left over.
#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn simulate_and_draft_that_died_can_be_done_again() {
    let stand = Stand::new();
    let simulate =
        ["simulate", "--seed", "3", "--homes", "1", "--days", "1", "--interval", "2 h", "--out", "out"];
    let draft = ["draft", "exports", "--out", "out"];
    for args in [&simulate[..], &draft] {
        let _ = std::fs::remove_dir_all(stand.path("out"));
        stand.run(args);
        let whole = stand.files("out");
        assert!(whole.len() > 1 && whole.keys().all(|way| !way.starts_with('.')), "{:?}", whole.keys());
        for step in 1.. {
            let _ = std::fs::remove_dir_all(stand.path("out"));
            let output = stand.run_with(&format!("die {step}"), args);
            let what = format!("{} killed at step {step}", args[0]);
            if output.status.code().is_none() {
                let after = stand.run(args);
                let settled = stand.files("out") == whole;
                assert!(settled, "{what}: {} {:?}", said(&after), stand.files("out").keys());
                if args[0] == "simulate" && after.status.code() != Some(0) {
                    // All was in place when it died: a second building is not written over it.
                    assert!(said(&after).contains("the folder is not empty"), "{what}: {}", said(&after));
                }
            } else {
                assert!(step > 20, "{what}: {}", said(&output));
                break;
            }
        }
    }
}

/// The run that settles what another left may die too, at any of its steps.
#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn settling_that_dies_is_settled_by_the_next_run() {
    let stand = Stand::new();
    let args = COMPLAINT;
    let both = both_in_turn(&stand, &args);
    stand.lay("out", &both.0);
    let (mut deaths, mut first) = (0, 0);
    while first < 60 {
        first += 1;
        stand.lay("out", &both.0);
        stand.second();
        if stand.run_with(&format!("die {first}"), &args).status.code().is_some() {
            break;
        }
        let left = stand.files("out");
        for second in 1.. {
            relay(&stand, &left);
            let output = stand.run_with(&format!("die {second}"), &["audit", "nothing.toml", "--out", "out"]);
            let what = format!("killed at step {first}, then at {second}");
            assert_no_mixture(&stand.files("out"), &what);
            stand.settle("out");
            assert_one_of(&stand.files("out"), &both, &what);
            if output.status.code().is_some() {
                break;
            }
            deaths += 1;
        }
    }
    assert!(deaths > 100, "{deaths}");
}

/// Lays down a folder with empty folders in it.
fn relay(stand: &Stand, left: &Files) {
    stand.lay("out", left);
    for folder in left.keys().filter(|way| way.ends_with('/')) {
        std::fs::create_dir_all(stand.path(&format!("out/{folder}"))).unwrap();
    }
}

#[test]
fn two_hundred_deaths_at_any_moment_leave_no_mixture() {
    let (stand, both) = (Stand::new(), both());
    let mut seed: u64 = std::env::var("EVENROOMS_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(26);
    let mut random = move |below: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % below
    };
    stand.lay("out", &both.0);
    let begun = Instant::now();
    stand.second();
    stand.done(&AUDIT);
    let whole = u64::try_from(begun.elapsed().as_micros()).unwrap();
    let mut killed = 0;
    for number in 0..200 {
        if number % 2 == 0 {
            stand.first()
        } else {
            stand.second()
        }
        let mut child = stand.command(&AUDIT).spawn().unwrap();
        sleep(Duration::from_micros(random(whole + whole / 5)));
        child.kill().unwrap();
        killed += u64::from(child.wait().unwrap().code().is_none());
        let what = format!("random kill {number}");
        assert_no_mixture(&stand.files("out"), &what);
        if random(2) == 0 {
            stand.settle("out");
            assert_one_of(&stand.files("out"), both, &what);
        }
    }
    // Most are; on a machine that grows faster meanwhile fewer.
    assert!(killed > 40, "{killed} of 200 were killed before they ended");
    stand.first();
    stand.done(&AUDIT);
    assert!(stand.files("out") == both.0);
}
