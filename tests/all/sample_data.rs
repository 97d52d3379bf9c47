//! The sample is what `evenrooms simulate --scenario alder-row` makes: nobody edits it by hand.

use crate::program::{files_in, run, sample_folder};

#[test]
fn the_sample_is_what_the_simulator_makes() {
    let folder = tempfile::tempdir().unwrap();
    let ran = run(folder.path(), &["simulate", "--scenario", "alder-row", "--out", "made"]);
    assert_eq!(ran.code, Some(0), "{}", ran.stderr);
    let (made, there) = (files_in(&folder.path().join("made")), files_in(&sample_folder()));
    let hint = "remove sample_data and run `cargo run -- simulate --scenario alder-row --out sample_data`";
    assert!(made.keys().eq(there.keys()), "{:?} made, {:?} there; {hint}", made.keys(), there.keys());
    for (name, bytes) in &made {
        // Not assert_eq!: nobody wants to read the bytes.
        assert!(there[name] == *bytes, "sample_data/{name} differs; {hint}");
    }
}
