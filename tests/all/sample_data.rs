//! The sample is what its maker makes: nobody edits it by hand.

use std::collections::BTreeMap;
use std::fs;

use crate::program::{files_in, sample_folder};
use crate::sample_maker;

/// With `EVENROOMS_WRITE_SAMPLE` set, the sample is written instead of compared.
#[test]
fn the_sample_is_what_its_maker_makes() {
    let made: BTreeMap<String, Vec<u8>> = sample_maker::files().into_iter().collect();
    if std::env::var_os("EVENROOMS_WRITE_SAMPLE").is_some() {
        write(&made);
    }
    let there = files_in(&sample_folder());
    let hint = "run the tests with EVENROOMS_WRITE_SAMPLE=1 to write it anew";
    assert!(made.keys().eq(there.keys()), "{:?} made, {:?} there; {hint}", made.keys(), there.keys());
    for (name, bytes) in &made {
        // Not assert_eq!: nobody wants to read the bytes.
        assert!(there[name] == *bytes, "sample_data/{name} differs; {hint}");
    }
}

fn write(made: &BTreeMap<String, Vec<u8>>) {
    let folder = sample_folder();
    for name in files_in(&folder).keys().filter(|name| !made.contains_key(*name)) {
        fs::remove_file(folder.join(name)).unwrap();
    }
    for (name, bytes) in made {
        let path = folder.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
}
