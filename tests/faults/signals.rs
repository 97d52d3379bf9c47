//! Signals: the run cleans up and ends with the code that shells expect.

use std::process::{Child, Command};
use std::thread::sleep;
use std::time::{Duration, Instant};

use crate::stand::{AUDIT, Stand, both};

fn send(child: &Child, signal: &str) {
    let sent = Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
}

/// A run that waits at a step, and where it waits is seen in the folder.
fn waiting(stand: &Stand, step: u64) -> Child {
    let mut command = stand.command(&AUDIT);
    let child = command.env("EVENROOMS_FAULT", format!("hold {step}")).spawn().unwrap();
    let begun = Instant::now();
    while !stand.files("out").keys().any(|way| way.ends_with("/new/aligned.parquet")) {
        assert!(begun.elapsed() < Duration::from_secs(60), "the run does not get going");
        sleep(Duration::from_millis(10));
    }
    child
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn signals_clean_up_and_have_their_codes() {
    let (stand, both) = (Stand::new(), both());
    for (signal, code) in [("-INT", 130), ("-TERM", 143), ("-HUP", 129)] {
        stand.lay("out", &both.0);
        stand.second();
        // While the tables are made.
        let mut child = waiting(&stand, 30);
        send(&child, signal);
        assert_eq!(child.wait().unwrap().code(), Some(code), "{signal}");
        assert!(stand.files("out") == both.0, "{signal}: {:?}", stand.files("out").keys());
    }
    stand.done(&AUDIT);
    assert!(stand.files("out") == both.1);
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_new_folder_of_a_run_that_was_stopped_goes_too() {
    let stand = Stand::new();
    let mut child = waiting(&stand, 30);
    send(&child, "-INT");
    assert_eq!(child.wait().unwrap().code(), Some(130));
    assert!(!stand.path("out").exists());
}

/// A signal while files move lets them all move first; a second one does not, and the next run settles that.
#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_signal_does_not_cut_through_a_publication() {
    let (stand, both) = (Stand::new(), both());
    let moving = {
        // The step that takes the provenance away is the first after the journal.
        let mut at = 0;
        for step in (30..200).step_by(3) {
            stand.lay("out", &both.0);
            stand.second();
            if stand.run_with(&format!("die {step}"), &AUDIT).status.code().is_none()
                && !stand.files("out").contains_key("provenance.json")
            {
                at = step;
                break;
            }
        }
        at
    };
    assert!(moving > 0);
    for twice in [false, true] {
        stand.lay("out", &both.0);
        stand.second();
        let mut child = waiting(&stand, moving + 3);
        let begun = Instant::now();
        while stand.files("out").contains_key("provenance.json") {
            assert!(begun.elapsed() < Duration::from_secs(60), "nothing moves");
            sleep(Duration::from_millis(10));
        }
        send(&child, "-TERM");
        if twice {
            sleep(Duration::from_millis(300));
            send(&child, "-TERM");
        }
        assert_eq!(child.wait().unwrap().code(), Some(143));
        if twice {
            assert!(begun.elapsed() < Duration::from_secs(9), "the second signal had to wait");
            stand.settle("out");
            assert!(stand.files("out") == both.0);
        } else {
            assert!(stand.files("out") == both.1, "{:?}", stand.files("out").keys());
        }
    }
}
