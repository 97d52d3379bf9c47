//! No space, no permission: the run ends with 2, says why, and what stood there stands.

use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::process::Command;

use crate::stand::{AUDIT, Stand, assert_no_mixture, assert_one_of, both, said};

/// What goes wrong from a step on is told, and undone at once or by the next run.
fn goes_wrong(kind: &str, steps: impl Iterator<Item = u64>, words: &str) -> u64 {
    let (stand, both) = (Stand::new(), both());
    let mut wrong = 0;
    for step in steps {
        stand.lay("out", &both.0);
        stand.second();
        let output = stand.run_with(&format!("{kind} {step}"), &AUDIT);
        let (what, said) = (format!("{kind} from step {step}"), said(&output));
        assert_no_mixture(&stand.files("out"), &what);
        if output.status.code() == Some(0) {
            assert!(stand.files("out").len() >= both.1.len());
            stand.settle("out");
            assert!(stand.files("out") == both.1, "{what}: done, and not all new");
            continue;
        }
        wrong += 1;
        assert_eq!(output.status.code(), Some(2), "{what}: {said}");
        assert!(said.contains(words) && said.contains("hint: ") && !said.contains("bug"), "{what}: {said}");
        if kind != "deny" {
            // Removing and moving back takes no space: it is undone at once.
            assert!(stand.files("out") == both.0, "{what}: {:?}", stand.files("out").keys());
        }
        stand.settle("out");
        assert_one_of(&stand.files("out"), both, &what);
    }
    wrong
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_full_disk_at_any_step_leaves_the_old_results() {
    let wrong = goes_wrong("full", (1..200).step_by(3), "no storage space");
    assert!(wrong >= 20, "{wrong}");
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn a_disk_that_refuses_everything_from_a_step_on_leaves_no_mixture() {
    let wrong = goes_wrong("deny", (1..200).step_by(6), "permission denied");
    assert!(wrong >= 10, "{wrong}");
}

#[test]
#[cfg_attr(not(debug_assertions), ignore = "only a debug build has steps that can fail")]
fn results_that_cannot_be_written_through_are_not_published() {
    assert_eq!(goes_wrong("unsynced", 1..2, "no storage space"), 1);
}

/// Ten sizes that no file may grow over, as the system has it.
#[test]
fn a_limit_of_the_size_of_files_leaves_the_old_results() {
    let (stand, both) = (Stand::new(), both());
    stand.lay("out", &both.0);
    stand.second();
    let largest = both.1.values().map(Vec::len).max().unwrap();
    for tenth in 0..10 {
        let blocks = largest * tenth / 10 / 1024;
        let script = format!("ulimit -f {blocks} && exec \"$0\" audit site.toml --out out");
        let mut bash = Command::new("bash");
        bash.current_dir(stand.path("")).args(["-c", &script, env!("CARGO_BIN_EXE_evenrooms")]);
        let output = bash.output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{blocks}: {}", said(&output));
        assert!(said(&output).contains("could not be written"), "{blocks}: {}", said(&output));
        assert!(!said(&output).contains("bug"), "{}", said(&output));
        assert!(stand.files("out") == both.0, "{blocks} blocks: {:?}", stand.files("out").keys());
    }
    stand.done(&AUDIT);
    assert!(stand.files("out") == both.1);
}

#[test]
fn a_disk_of_its_own_that_is_full_leaves_the_old_results() {
    let (stand, both) = (Stand::new(), both());
    fs::create_dir(stand.path("disk")).unwrap();
    let kilobytes = both.0.values().map(|bytes| bytes.len() / 4096 * 4 + 4).sum::<usize>() + 80;
    let mount = Command::new("mount")
        .args(["-t", "tmpfs", "-o", &format!("size={kilobytes}k"), "tmpfs"])
        .arg(stand.path("disk"))
        .output();
    if !mount.is_ok_and(|output| output.status.success()) {
        skipped("this place may not mount a small disk");
        return;
    }
    stand.lay("disk/out", &both.0);
    stand.second();
    let output = stand.run(&["audit", "site.toml", "--out", "disk/out"]);
    let after = stand.files("disk/out");
    assert!(Command::new("umount").arg(stand.path("disk")).status().unwrap().success());
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("No space left on device"), "{}", said(&output));
    assert!(after == both.0, "{:?}", after.keys());
}

#[test]
fn folders_that_cannot_be_written_are_told() {
    let (stand, both) = (Stand::new(), both());
    stand.second();
    // Nobody, not even root, makes folders there.
    let output = stand.run(&["audit", "site.toml", "--out", "/proc/results"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("/proc/results: could not be made"), "{}", said(&output));
    stand.write("a-file", b"mine");
    let output = stand.run(&["audit", "site.toml", "--out", "a-file"]);
    assert!(said(&output).contains("it is a file, and the results need a folder"), "{}", said(&output));

    stand.lay("out", &both.0);
    let mode = |mode: u32| fs::set_permissions(stand.path("out"), fs::Permissions::from_mode(mode)).unwrap();
    mode(0o555);
    if fs::write(stand.path("out/probe"), "").is_ok() {
        fs::remove_file(stand.path("out/probe")).unwrap();
        mode(0o755);
        skipped("whoever runs this may write into a read-only folder (root)");
        return;
    }
    let output = stand.run(&AUDIT);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("could not be written"), "{}", said(&output));
    mode(0o755);
    assert!(stand.files("out") == both.0);
}

#[expect(clippy::print_stderr, reason = "a test that is skipped says so")]
fn skipped(why: &str) {
    eprintln!("skipped: {why}");
}
